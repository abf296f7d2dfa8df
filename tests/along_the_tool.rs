//! Figures that take more than one turning trace: back taper, faces, several features in one
//! inspection, tools of either hand and with flutes spaced unevenly on purpose.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use heelclear::gauge::simulated::{Scenario, built_in};
use heelclear::inspection::simulated::write_folder;
use heelclear::inspection::{Folder, verify};
use heelclear::record::{Characteristic, Record, Verdict};
use std::path::Path;

/// A figure may be off its truth by this many of its standard uncertainties.
const FURTHEST: f64 = 4.0;

fn judged_after(scenario: &Scenario, change: impl Fn(&Path)) -> Record {
    let dir = tempfile::tempdir().unwrap();
    write_folder(scenario, dir.path()).unwrap();
    change(dir.path());
    verify(&Folder::open(dir.path()).unwrap()).unwrap()
}

fn judged(scenario: &Scenario) -> Record {
    judged_after(scenario, |_| {})
}

fn named<'a>(record: &'a Record, name: &str) -> Vec<&'a Characteristic> {
    let all = record.characteristics.iter();
    all.filter(|c| c.name == name).collect()
}

fn edit(dir: &Path, file: &str, from: &str, to: &str) {
    let path = dir.join(file);
    let text = std::fs::read_to_string(&path).unwrap();
    let changed = text.replace(from, to);
    assert_ne!(text, changed, "{file} holds no `{from}`");
    std::fs::write(path, changed).unwrap();
}

mod back_taper {
    use super::*;

    /// The ordinary counterbore with a back taper, traced at these distances.
    fn tapered(taper_deg: f64, z_mm: &[f64], seed: u64) -> Scenario {
        let mut scenario = built_in("counterbore-pass").unwrap();
        scenario.seed = seed;
        scenario.feature[0].z_mm = z_mm.to_vec();
        scenario.feature[0].back_taper_deg = taper_deg;
        let limit = toml::toml! { min = 0.25 max = 0.75 };
        let limits = &mut scenario.feature[0].limits;
        limits.insert("back_taper_deg".to_owned(), limit.into());
        scenario
    }

    #[track_caller]
    fn check(scenario: &Scenario, taper_deg: f64, expected: Verdict) {
        let record = judged(scenario);
        let figures = named(&record, "back-taper");
        assert_eq!(figures.len(), 2, "one a flute");
        for (at, figure) in figures.iter().enumerate() {
            let (value, u) = (figure.value.unwrap(), figure.standard_uncertainty.unwrap());
            assert!(
                (value - taper_deg).abs() <= FURTHEST * u,
                "seed {}: {value} ± {u}, true is {taper_deg}",
                scenario.seed
            );
            assert!(u < 0.05, "{u} is too wide to be of use");
            assert_eq!(figure.verdict, Some(expected), "{}", figure.why);
            assert_eq!(figure.flute, Some(at as u32 + 1));
            assert!(
                figure
                    .budget
                    .iter()
                    .any(|line| line.quantity == "distance z")
            );
        }
    }

    #[test]
    fn two_distances_give_it_for_every_flute() {
        for seed in 1..4 {
            check(&tapered(0.5, &[2.0, 14.0], seed), 0.5, Verdict::Pass);
        }
    }

    #[test]
    fn a_feature_without_enough_of_it_fails() {
        check(&tapered(0.05, &[2.0, 14.0], 1), 0.05, Verdict::Fail);
    }

    #[test]
    fn a_straight_line_goes_through_more_than_two_distances_in_any_order() {
        check(&tapered(0.5, &[14.0, 2.0, 8.0], 1), 0.5, Verdict::Pass);
    }

    #[test]
    fn a_leaning_tool_is_no_taper_when_two_references_tell_the_lean() {
        for seed in 1..4 {
            let mut scenario = tapered(0.5, &[2.0, 14.0], seed);
            let mut second = scenario.reference[0].clone();
            second.z_mm += 40.0;
            scenario.reference.push(second);
            scenario.clamping.tilt_deg = 0.06;
            check(&scenario, 0.5, Verdict::Pass);
        }
    }

    #[test]
    fn a_lean_that_nothing_tells_makes_it_uncertain() {
        let one = judged(&tapered(0.5, &[2.0, 14.0], 1));
        let budget = &named(&one, "back-taper")[0].budget;
        let lean = budget.iter().find(|l| l.quantity == "lean of the tool");
        assert!(lean.unwrap().contribution > 0.0);
    }

    #[track_caller]
    fn check_open(record: &Record, words: &str) {
        let figures = named(record, "back-taper");
        assert_eq!(figures.len(), 1);
        assert_eq!(figures[0].value, None);
        assert_eq!(figures[0].verdict, Some(Verdict::Undecided));
        assert!(figures[0].why.contains(words), "{}", figures[0].why);
    }

    #[test]
    fn one_distance_leaves_its_limit_undecided() {
        check_open(&judged(&tapered(0.5, &[2.0], 1)), "only one");
    }

    #[test]
    fn heights_are_not_compared_across_an_indicator_set_anew() {
        let record = judged_after(&tapered(0.5, &[2.0, 14.0], 1), |dir| {
            edit(
                dir,
                "inspection.toml",
                "z_mm = 14.0\n",
                "z_mm = 14.0\nrezeroed = true\n",
            );
        });
        check_open(&record, "rezeroed");
    }

    #[test]
    fn without_knowledge_of_the_runout_it_is_undecided() {
        let mut scenario = tapered(0.5, &[2.0, 14.0], 1);
        scenario.reference.clear();
        let record = judged(&scenario);
        for figure in named(&record, "back-taper") {
            assert_eq!(figure.standard_uncertainty, None);
            assert_eq!(figure.verdict, Some(Verdict::Undecided));
        }
    }

    #[test]
    fn it_is_not_asked_for_where_neither_card_nor_traces_do() {
        let record = judged(&built_in("counterbore-pass").unwrap());
        assert!(named(&record, "back-taper").is_empty());
    }
}
