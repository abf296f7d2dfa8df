//! Lands of two facets are judged on both angles and on where the second begins.
#![allow(clippy::unwrap_used, clippy::panic)]

use heelclear::inspection::simulated::write_folder;
use heelclear::inspection::{Folder, verify};
use heelclear::record::{Characteristic, Record, Verdict};
use heelclear::simulator::{Relief, Scenario, built_in};

const LIMITS: &str = "primary_width_mm = { min = 0.6, max = 1.2 }\n\
     secondary_angle_deg = { min = 10.0, max = 25.0 }";

fn judged(recipe: &str, limits: &str, change: impl FnOnce(&mut Scenario)) -> Record {
    let folder = tempfile::tempdir().unwrap();
    let mut recipe = built_in(recipe).unwrap();
    let limits: toml::Table = toml::from_str(limits).unwrap();
    recipe.feature[0].limits.extend(limits);
    change(&mut recipe);
    write_folder(&recipe, folder.path()).unwrap();
    verify(&Folder::open(folder.path()).unwrap()).unwrap()
}

fn of<'r>(record: &'r Record, name: &str) -> Vec<&'r Characteristic> {
    let figures = record.characteristics.iter();
    let named: Vec<_> = figures.filter(|it| it.name == name).collect();
    assert!(!named.is_empty(), "no {name}");
    named
}

/// Width of the primary and angle of the secondary in the recipe.
fn facets(recipe: &Scenario) -> (f64, f64) {
    match recipe.feature[0].land.relief {
        Relief::Facets {
            primary_mm,
            secondary_deg,
            ..
        } => (primary_mm, secondary_deg),
        ref other => panic!("{other:?}"),
    }
}

#[test]
fn width_and_second_angle_are_what_the_tool_has() {
    let (width, angle) = facets(&built_in("counterbore-two-facets").unwrap());
    let (mut all, mut held) = (0, 0);
    for seed in 1..=6 {
        let record = judged("counterbore-two-facets", "", |it| it.seed = seed);
        for (name, truth) in [("primary-width", width), ("secondary-angle", angle)] {
            for figure in of(&record, name) {
                let (value, u) = figure.value.zip(figure.standard_uncertainty).unwrap();
                all += 1;
                held += u32::from((value - truth).abs() <= 2.0 * u);
                assert!(
                    (value - truth).abs() < 4.5 * u,
                    "{name}: {value} ± {u}, {truth}"
                );
                // So wide a band would judge nothing.
                assert!(u < truth * 0.1, "{name}: {value} ± {u}");
            }
        }
    }
    assert!(f64::from(held) >= 0.8 * f64::from(all), "{held} of {all}");
}

#[test]
fn each_is_judged_by_its_limits_with_what_to_grind() {
    let recipe = built_in("counterbore-two-facets").unwrap();
    let (width, angle) = facets(&recipe);
    let limits = |width: [f64; 2], angle: [f64; 2]| {
        format!(
            "primary_width_mm = {{ min = {}, max = {} }}\n\
             secondary_angle_deg = {{ min = {}, max = {} }}",
            width[0], width[1], angle[0], angle[1]
        )
    };
    let wide = limits([width * 0.6, width * 1.4], [angle * 0.6, angle * 1.4]);
    let record = judged("counterbore-two-facets", &wide, |_| {});
    for name in ["primary-width", "secondary-angle"] {
        for figure in of(&record, name) {
            assert_eq!(figure.verdict, Some(Verdict::Pass), "{figure:?}");
        }
    }
    let narrow = limits([width * 0.3, width * 0.6], [angle * 1.4, angle * 2.0]);
    let record = judged("counterbore-two-facets", &narrow, |_| {});
    for (name, says) in [
        ("primary-width", "grind the secondary"),
        ("secondary-angle", "set the secondary"),
    ] {
        for figure in of(&record, name) {
            assert_eq!(figure.verdict, Some(Verdict::Fail), "{figure:?}");
            let remedy = figure.remedy.as_deref().unwrap_or_default();
            assert!(remedy.contains(says), "{remedy}");
        }
    }
}

#[test]
fn a_land_of_one_curve_has_none_and_a_card_that_asks_is_told() {
    let record = judged("counterbore-pass", "", |_| {});
    let has = |name: &str| record.characteristics.iter().any(|it| it.name == name);
    assert!(!has("primary-width") && !has("secondary-angle"));
    let record = judged("counterbore-pass", LIMITS, |_| {});
    for name in ["primary-width", "secondary-angle"] {
        for figure in of(&record, name) {
            assert_eq!(figure.verdict, Some(Verdict::Undecided));
            assert_eq!(figure.value, None);
            assert!(figure.why.contains("no second facet"), "{}", figure.why);
        }
    }
}
