//! Studies of the gauge: the crossed one against its published table, the others against traces
//! whose truth is known.
#![allow(clippy::unwrap_used, clippy::panic)]

use crate::traces::{self, BALL_GAUGE};
use heelclear::card::{GaugeCard, LeanBound};
use heelclear::judge::{Outcome, Random, unit_normal};
use heelclear::numeric::quantile::fisher_above;
use heelclear::quantity::{Angle, Length, Time};
use heelclear::sample::{Marks, Sample};
use heelclear::study::{self, Bar, CrossedTable, Finding, Master, Study};
use heelclear::trace::{MergeSettings, Merged, merge};
use rand::SeedableRng;
use std::f64::consts::TAU;

const SETUP: &str = "runout_mm = 0.010
delay_ms = 0.0
";

fn card() -> String {
    format!("{BALL_GAUGE}{SETUP}")
}

fn gauge() -> GaugeCard {
    GaugeCard::parse(&card(), "gauge.toml").unwrap()
}

#[track_caller]
fn printed(found: f64, published: f64, half_a_unit: f64) {
    let off = (found - published).abs();
    assert!(off <= half_a_unit, "found {found}, published {published}");
}

fn of<'s>(study: &'s Study, quantity: &str) -> &'s Finding {
    let mut findings = study.findings.iter();
    findings.find(|one| one.quantity == quantity).unwrap()
}

/// The crossed study of the measurement systems analysis reference manual, 4th edition: 10 parts,
/// 3 appraisers, 3 trials; its published results in `tests/reference/msa_results.csv`.
fn published() -> CrossedTable {
    let text = include_str!("../reference/msa_crossed_10x3x3.csv");
    study::read_table(text.as_bytes(), "msa").unwrap()
}

#[test]
fn a_crossed_study_has_its_published_table() {
    let found = study::crossed(&published(), None);
    let anova = &found.anova;
    for (source, free, squares, mean) in [
        (anova.parts, 9.0, 88.3619, 9.817_99),
        (anova.operators, 2.0, 3.1673, 1.583_63),
        (anova.interaction, 18.0, 0.3590, 0.019_94),
        (anova.repeatability, 60.0, 2.7589, 0.045_98),
    ] {
        assert_eq!(source.degrees_of_freedom, free);
        printed(source.sum_of_squares, squares, 0.000_05);
        printed(source.mean_square(), mean, 0.000_005);
    }
    printed(anova.interaction_ratio().unwrap(), 0.434, 0.0005);
    printed(anova.interaction_chance().unwrap(), 0.974, 0.0005);
    assert!(anova.is_pooled());

    let variances = &found.variances;
    printed(variances.repeatability.sqrt(), 0.199_933, 5e-7);
    printed(variances.operators.sqrt(), 0.226_838, 1e-6);
    printed(found.spread(), 0.302_373, 2e-6);
    printed(variances.parts.sqrt(), 1.042_327, 1e-6);
    printed(variances.total().sqrt(), 1.085, 0.0005);
    assert_eq!(variances.interaction, 0.0);
    let share = of(&found.study, "gauge, share of the total spread");
    printed(share.value, 27.86, 0.005);
    // The report gives 4 of 4.861 categories.
    let categories = 1.41 * (variances.parts / variances.gauge()).sqrt();
    printed(categories, 4.861, 0.001);
    assert_eq!(of(&found.study, "categories told apart").value, 4.0);
    let kept = anova.variances_if(false);
    printed(kept.repeatability.sqrt(), 0.214_435, 2e-6);
    // 27.9 % lies between 10 and 30: good enough for some uses.
    assert_eq!(found.study.outcome(), Some(Outcome::Undecided));
}

#[test]
fn a_repeatability_has_the_interval_of_its_degrees_of_freedom() {
    let found = study::crossed(&published(), None);
    let [low, high] = of(&found.study, "repeatability").interval.unwrap();
    // Chi-square quantiles of 78 degrees of freedom, NIST/SEMATECH e-handbook 1.3.6.7.4, from
    // memory: 55.466 for 2.5 %, 104.316 for 97.5 %.
    printed(low, 0.199_933 * (78.0f64 / 104.316).sqrt(), 1e-5);
    printed(high, 0.199_933 * (78.0f64 / 55.466).sqrt(), 1e-5);
    // Three operators say little about all of them: the spread may be more than twice as large.
    let [low, high] = of(&found.study, "gauge: all of these").interval.unwrap();
    assert!(low < 0.2 && high > 0.7, "{low} {high}");
}

#[test]
fn values_far_from_zero_give_the_same_table() {
    let mut far = published();
    for value in &mut far.values {
        *value += 1e6;
    }
    let (near, far) = (
        study::crossed(&published(), None),
        study::crossed(&far, None),
    );
    for (near, far) in [
        (near.anova.parts, far.anova.parts),
        (near.anova.operators, far.anova.operators),
        (near.anova.interaction, far.anova.interaction),
        (near.anova.repeatability, far.anova.repeatability),
    ] {
        // 1e6 keeps ten decimals of each value.
        printed(near.sum_of_squares / far.sum_of_squares, 1.0, 1e-7);
    }
}

#[test]
fn a_tolerance_wide_enough_makes_a_gauge_fine_for_it() {
    let share = |width| {
        let found = study::crossed(&published(), Some(width));
        let finding = of(&found.study, "gauge, share of the tolerance").clone();
        (finding.value, finding.outcome)
    };
    let (value, outcome) = share(20.0);
    printed(value, 100.0 * 6.0 * 0.302_373 / 20.0, 0.001);
    assert_eq!(outcome, Some(Outcome::Pass));
    assert_eq!(share(10.0).1, Some(Outcome::Undecided));
    assert_eq!(share(5.0).1, Some(Outcome::Fail));
}

#[test]
fn fishers_tail_has_tabled_values() {
    // The 5 % points of Fisher's distribution, NIST/SEMATECH e-handbook 1.3.6.7.3, from memory.
    for (ratio, above, below) in [(4.965, 1.0, 10.0), (3.885, 2.0, 12.0), (2.711, 5.0, 20.0)] {
        printed(fisher_above(ratio, above, below).unwrap(), 0.05, 0.000_02);
    }
    assert_eq!(fisher_above(f64::NAN, 1.0, 1.0), None);
    assert_eq!(fisher_above(1.0, 0.0, 1.0), None);
}

#[test]
fn a_table_of_a_spreadsheet_is_the_same_table() {
    let own = "# by hand\npart,operator,value_mm\n1,A,0.125\n1,A,0.5\n1,B,0.25\n1,B,1.5\n2,A,2.125\n2,A,2\n2,B,2.5\n2,B,2.25\n";
    let foreign = own.replace(',', ";").replace('.', ",");
    assert_eq!(
        study::read_table(foreign.as_bytes(), "hands.csv").unwrap(),
        study::read_table(own.as_bytes(), "hands.csv").unwrap()
    );
}

#[test]
fn a_table_that_is_not_complete_is_refused_with_its_place() {
    #[track_caller]
    fn check(text: &str, word: &str) {
        let error = study::read_table(text.as_bytes(), "hands.csv").unwrap_err();
        let told = error.to_string();
        assert!(told.contains("hands.csv") && told.contains(word), "{told}");
    }
    check("a,b\n1,2\n", "expected `part`, `operator` and `value_mm`");
    check("part,operator,value_mm\n1,A,0.1\n1,A,0.2\n", "two or more");
    check("part,operator,value_mm\n1,A,x\n2,A,y\n", "line 2");
    let short = "part,operator,value_mm\n1,A,1\n1,A,2\n1,B,1\n1,B,2\n2,A,1\n2,A,2\n2,B,1\n";
    check(short, "read 1 values of part `2` by operator `B`");
    check(
        &short
            .replace("1,A,2\n", "")
            .replace("1,B,2\n", "")
            .replace("2,A,2\n", ""),
        "expected 2",
    );
    let whole = format!("{short}2,B,3\n");
    assert_eq!(
        study::read_table(whole.as_bytes(), "hands.csv")
            .unwrap()
            .trials,
        2
    );
    let inches = whole.replace("value_mm", "value_in");
    let inches = study::read_table(inches.as_bytes(), "hands.csv").unwrap();
    assert_eq!(inches.values[1], 50.8);
}

/// One reading every 10 ms, with noise and drift.
fn at_rest(noise_um: f64, drift_um: f64, count: u32) -> Vec<(Time, Length)> {
    let mut random = Random::seed_from_u64(5);
    (0..count)
        .map(|at| {
            let share = f64::from(at) / f64::from(count - 1);
            let reading = drift_um * share + noise_um * unit_normal(&mut random);
            (Time::from_s(f64::from(at) * 0.01), Length::from_um(reading))
        })
        .collect()
}

#[test]
fn noise_and_drift_at_rest_are_found_and_parted() {
    let found = study::rest(&at_rest(0.8, 2.0, 3000), &gauge()).unwrap();
    let noise = of(&found, "noise");
    printed(noise.value, 0.0008, 0.000_03);
    let [low, high] = noise.interval.unwrap();
    assert!(low < 0.0008 && 0.0008 < high, "{low} {high}");
    let drift = of(&found, "drift during the trace");
    let [low, high] = drift.interval.unwrap();
    assert!(low < 0.002 && 0.002 < high, "{low} {high}");
    assert_eq!(found.outcome(), Some(Outcome::Pass));

    let bad = study::rest(&at_rest(3.0, 9.0, 3000), &gauge()).unwrap();
    for finding in &bad.findings {
        assert_eq!(finding.outcome, Some(Outcome::Fail), "{}", finding.quantity);
        assert!(finding.advice.len() > 20);
    }
    // 1.7 µm against 1.73 µm in 60 readings proves nothing.
    let close = study::rest(&at_rest(1.7, 0.0, 60), &gauge()).unwrap();
    assert_eq!(of(&close, "noise").outcome, Some(Outcome::Undecided));
    assert!(study::rest(&at_rest(1.0, 0.0, 10), &gauge()).is_err());
}

#[test]
fn readings_that_never_change_hide_less_than_a_step() {
    let still: Vec<(Time, Length)> = (0..100)
        .map(|at| (Time::from_s(f64::from(at)), Length::from_um(5.0)))
        .collect();
    let found = study::rest(&still, &gauge()).unwrap();
    printed(of(&found, "noise").value, 0.001 / 12f64.sqrt(), 1e-12);
    printed(of(&found, "drift during the trace").value, 0.0, 1e-15);
    assert_eq!(found.outcome(), Some(Outcome::Pass));
}

/// How a round is turned in a test.
struct Turned {
    /// Turns, one after another; a negative number goes back.
    turns: &'static [f64],
    noise_um: f64,
    /// Each turn reads more than the others by this, at random.
    between_um: f64,
    /// The cutting way reads so much more.
    hysteresis_um: f64,
    eccentricity_um: f64,
    /// Three lobes of this height.
    lobes_um: f64,
}

const STEADY: Turned = Turned {
    turns: &[5.0],
    noise_um: 0.3,
    between_um: 0.0,
    hysteresis_um: 0.0,
    eccentricity_um: 4.0,
    lobes_um: 0.0,
};

fn merged(turned: &Turned) -> Merged {
    let mut random = Random::seed_from_u64(11);
    let mut samples = Vec::new();
    let (mut angle, mut time) = (0.1, 0.0);
    for run in turned.turns {
        let steps = (run.abs() * 800.0) as usize;
        let mut off = 0.0;
        for step in 0..steps {
            if step % 800 == 0 {
                off = turned.between_um * unit_normal(&mut random);
            }
            angle += run.signum() * TAU / 800.0;
            time += 0.005;
            let round =
                turned.eccentricity_um * angle.cos() + turned.lobes_um * (3.0 * angle).sin();
            let way = turned.hysteresis_um / 2.0 * run.signum();
            let reading = round + way + off + turned.noise_um * unit_normal(&mut random);
            samples.push(Sample {
                time: Time::from_s(time),
                angle: Angle::from_rad(angle),
                reading: Length::from_um(reading),
                marks: Marks::default(),
            });
        }
    }
    merge(&traces::bare(samples), &MergeSettings::of(&gauge())).unwrap()
}

#[test]
fn what_differs_between_turns_is_found() {
    let turns = Turned {
        turns: &[20.0],
        between_um: 1.0,
        ..STEADY
    };
    let found = study::repeat(&merged(&turns), &gauge()).unwrap();
    let [low, high] = of(&found, "repeatability between passes").interval.unwrap();
    // The turns differ by 1 µm and each reading by 0.3 µm.
    let truth = 0.001f64.hypot(0.0003);
    assert!(low < truth && truth < high, "{low} {high}");
    // A pass or two say nothing.
    let few = Turned {
        turns: &[2.0],
        ..STEADY
    };
    let error = study::repeat(&merged(&few), &gauge()).unwrap_err();
    assert!(error.to_string().contains("expected 3 or more"), "{error}");
}

#[test]
fn hysteresis_is_found_from_both_ways_and_held_to_the_card() {
    let both = |hysteresis_um| Turned {
        turns: &[3.0, -3.0],
        hysteresis_um,
        ..STEADY
    };
    let of_card = |hysteresis_um| study::reversal(&merged(&both(hysteresis_um)), &gauge()).unwrap();
    let small = of_card(0.6);
    printed(small.findings[0].value, 0.0006, 0.000_05);
    assert_eq!(small.outcome(), Some(Outcome::Pass));
    assert_eq!(of_card(1.8).outcome(), Some(Outcome::Fail));
    assert!(study::reversal(&merged(&STEADY), &gauge()).is_err());
}

#[test]
fn a_test_bar_tells_how_far_the_holder_lets_a_tool_lean() {
    let bar = |apart| Bar {
        apart: Length::from_mm(apart),
        path_radius: Some(Length::from_mm(11.0)),
    };
    let off = |eccentricity_um| {
        merged(&Turned {
            eccentricity_um,
            ..STEADY
        })
    };
    let found = study::lean(&off(4.0), &off(10.0), &bar(80.0), &gauge()).unwrap();
    let growth = of(&found, "growth of the eccentricity");
    printed(growth.value, 0.006, 0.000_05);
    let [low, high] = growth.interval.unwrap();
    assert!(low < 0.006 && high > 0.006, "{low} {high}");
    assert!(high < 0.010, "{high} is of no use");
    assert_eq!(found.kept, Some(Length::from_mm(high)));
    assert_eq!(
        found.outcome(),
        None,
        "the card states nothing to hold it to"
    );
    // Held to a card: 5 µm over 100 mm are 4 µm over 80.
    let mut stated = gauge();
    stated.setup.lean = Some(LeanBound {
        growth: Length::from_um(5.0),
        over: Length::from_mm(100.0),
    });
    let outcome = |near, far| {
        let found = study::lean(&off(near), &off(far), &bar(80.0), &stated);
        found.unwrap().outcome()
    };
    assert_eq!(outcome(4.0, 30.0), Some(Outcome::Fail));
    assert_eq!(outcome(4.0, 8.0), Some(Outcome::Undecided));
    let error = study::lean(&off(4.0), &off(8.0), &bar(5.0), &stated).unwrap_err();
    assert!(error.to_string().contains("expected 10 mm"), "{error}");
}

#[test]
fn a_master_round_shows_the_error_of_the_gauge() {
    let master = Master {
        form: Length::from_um(0.5),
        path_radius: Some(Length::from_mm(11.0)),
    };
    let good = study::round(&merged(&STEADY), &master, &gauge()).unwrap();
    assert_eq!(good.outcome(), Some(Outcome::Pass), "{good:?}");
    let runout = of(&good, "runout, eccentricity");
    printed(runout.value, 0.004, 0.000_05);
    let lobed = Turned {
        lobes_um: 6.0,
        ..STEADY
    };
    let bad = study::round(&merged(&lobed), &master, &gauge()).unwrap();
    assert_eq!(
        of(&bad, "form about the round").outcome,
        Some(Outcome::Fail)
    );
    // A sine of 6 µm has a root mean square of 6 µm over √2.
    printed(
        of(&bad, "error, root mean square").value,
        0.006 / 2f64.sqrt(),
        0.000_1,
    );
}

mod command {
    use assert_cmd::Command;

    fn run(arguments: &[&str]) -> (i32, String, String) {
        let mut command = Command::cargo_bin("heelclear").unwrap();
        let output = command.args(arguments).output().unwrap();
        (
            output.status.code().unwrap(),
            String::from_utf8(output.stdout).unwrap(),
            String::from_utf8(output.stderr).unwrap(),
        )
    }

    #[test]
    fn a_crossed_study_prints_its_table_and_what_to_do() {
        let table = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/tests/reference/msa_crossed_10x3x3.csv"
        );
        let (status, stdout, stderr) = run(&["study", "crossed", table]);
        assert_eq!((status, stderr.as_str()), (3, ""));
        for line in [
            "  parts                                9       88.361934     9.817993\n",
            "crossed: not settled\n",
            "  gauge, share of the total spread   27.9 %                    ≤ 10.0 %  not settled\n",
        ] {
            assert!(stdout.contains(line), "{stdout}");
        }
        let (status, stdout, _) = run(&["study", "crossed", table, "--tolerance", "4", "--json"]);
        assert_eq!(status, 1);
        let object: serde_json::Value = serde_json::from_str(&stdout).unwrap();
        assert_eq!(object["anova"]["pooled"], true);
        assert_eq!(object["verdict"], "not fine");
    }

    #[test]
    fn a_trace_at_rest_is_studied_from_files() {
        let dir = tempfile::tempdir().unwrap();
        let gauge = dir.path().join("gauge.toml");
        let trace = dir.path().join("still.csv");
        std::fs::write(&gauge, super::card()).unwrap();
        let mut rows = String::from("time_s,reading_mm\n");
        for at in 0..200 {
            rows.push_str(&format!(
                "{},{}\n",
                f64::from(at) * 0.1,
                f64::from(at % 2) * 0.001
            ));
        }
        std::fs::write(&trace, rows).unwrap();
        let (gauge, trace) = (gauge.to_str().unwrap(), trace.to_str().unwrap());
        let (status, stdout, stderr) = run(&["study", "rest", trace, "--gauge", gauge]);
        assert_eq!(status, 0, "{stdout}{stderr}");
        assert!(stdout.starts_with("rest: fine\n"), "{stdout}");
        // What was found is kept only where that is asked for.
        let card =
            || heelclear::card::GaugeCard::parse(&std::fs::read_to_string(gauge).unwrap(), gauge);
        assert_eq!(card().unwrap().studies.rest, None);
        let (status, _, stderr) = run(&["study", "rest", trace, "--gauge", gauge, "--keep"]);
        assert_eq!(status, 0, "{stderr}");
        let rest = card().unwrap().studies.rest.unwrap();
        super::printed(rest.lasted.s(), 19.9, 1e-9);
        // Nothing drifts, but for what a step of 1 µm hides: 1.96 µm / √12, and the line's own.
        assert!(
            rest.drift.um() > 0.56 && rest.drift.um() < 0.75,
            "{:?}",
            rest.drift
        );
        // Turned traces are wanted by the others.
        let (status, _, stderr) = run(&["study", "repeat", trace, "--gauge", gauge]);
        assert_eq!(status, 2);
        assert!(stderr.contains("error[trace-header]"), "{stderr}");
        let (status, _, stderr) = run(&["study", "rest", "nowhere.csv", "--gauge", gauge]);
        assert_eq!(status, 2);
        assert!(stderr.contains("error[missing-file]"), "{stderr}");
    }

    #[test]
    fn quantities_of_a_study_are_read_in_any_unit() {
        let dir = tempfile::tempdir().unwrap();
        let path = |name: &str| dir.path().join(name).to_str().unwrap().to_owned();
        let gauge = path("gauge.toml");
        std::fs::write(&gauge, super::card()).unwrap();
        let mut traces = Vec::new();
        for (name, height) in [("low.csv", 0.0), ("high.csv", 1.27)] {
            let mut rows = String::from("time_s,reading_mm\n");
            for at in 0..20 {
                rows.push_str(&format!("{},{height}\n", f64::from(at) * 0.1));
            }
            std::fs::write(path(name), rows).unwrap();
            traces.push(path(name));
        }
        let step = |heights: &str, more: &[&str]| {
            let mut words = vec!["study", "step", &traces[0], &traces[1], "--gauge", &gauge];
            words.extend([["--heights", heights].as_slice(), more].concat());
            run(&words)
        };
        for (heights, more) in [
            ("0;0.05in", [].as_slice()),
            ("0 1.27", &["--uncertainty", "0.1um"]),
            ("0,1.27", &["--uncertainty", "0.00001in"]),
            ("1-1/4in,1.3in", &[]),
            ("1,1.05", &["--unit", "in"]),
        ] {
            let (status, stdout, stderr) = step(heights, more);
            assert_eq!(status, 0, "{heights}: {stdout}{stderr}");
        }
        for (heights, more, words) in [
            ("0,1,27", [].as_slice(), "decimals with a point"),
            ("0;1,27", &[], "a point and no comma"),
            ("0 1 2", &[], "3 heights for 2 traces"),
            ("0 1", &["--uncertainty", "-1"], "from 0"),
            ("0 1", &["--uncertainty", "inf"], "expected a length"),
        ] {
            let (status, stdout, stderr) = step(heights, more);
            assert_eq!((status, stdout.as_str()), (2, ""), "{heights}");
            assert!(stderr.contains(words), "`{words}` is not in {stderr}");
        }
        let table = path("hands.csv");
        let text = include_str!("../reference/msa_crossed_10x3x3.csv")
            .replace("trial,value", "trial,value_um");
        std::fs::write(&table, text).unwrap();
        let crossed = |width: &str| run(&["study", "crossed", &table, "--tolerance", width]);
        let (_, plain, _) = crossed("0.004");
        assert_eq!(crossed("4um").1, plain);
        for width in ["0", "nan", "4deg", "-1"] {
            let (status, _, stderr) = crossed(width);
            assert_eq!(status, 2);
            assert!(stderr.contains("the width of a tolerance"), "{stderr}");
        }
        let round = [
            "study",
            "round",
            &traces[0],
            "--gauge",
            &gauge,
            "--diameter",
        ];
        let (status, _, stderr) = run(&[&round[..], &["20cm"]].concat());
        assert_eq!(status, 2);
        assert!(stderr.contains("mm, in and um"), "{stderr}");
    }

    /// A simulated inspection whose gauge card has something added.
    fn inspected(added: &str) -> serde_json::Value {
        let dir = tempfile::tempdir().unwrap();
        let folder = dir.path().join("seat");
        let name = folder.to_str().unwrap();
        // Edge first: the plunger comes out over all of the land, which has the whole play in it.
        let recipe = heelclear::simulator::built_in("counterbore-pass").unwrap();
        heelclear::inspection::simulated::write_folder(&recipe, &folder).unwrap();
        let card = folder.join("gauge.toml");
        let text = std::fs::read_to_string(&card).unwrap();
        std::fs::write(&card, format!("{text}\n{added}")).unwrap();
        let (_, stdout, stderr) = run(&["verify", name, "--json"]);
        serde_json::from_str(&stdout).unwrap_or_else(|_| panic!("{stderr}"))
    }

    fn uncertainty(verdict: &serde_json::Value, name: &str) -> f64 {
        let all = verdict["characteristics"].as_array().unwrap();
        let found = all.iter().find(|one| one["name"] == name).unwrap();
        found["standard_uncertainty"].as_f64().unwrap()
    }

    fn warned(verdict: &serde_json::Value, words: &str) -> bool {
        let all = verdict["warnings"].as_array().unwrap();
        all.iter().any(|one| one.as_str().unwrap().contains(words))
    }

    #[test]
    fn what_a_study_found_widens_a_verdict_and_never_narrows_it() {
        let plain = inspected("");
        let drop = uncertainty(&plain, "drop");
        // A spread of 20 µm over hands is all that is known of a drop ...
        let spread = "[study.crossed]\ntaken = 2020-01-01T00:00:00Z\ndrop_mm = ";
        let wide = inspected(&format!("{spread}0.02"));
        assert!((uncertainty(&wide, "drop") / 0.02 - 1.0).abs() < 0.02);
        assert!(warned(&wide, "the study `crossed` of the gauge was"));
        let as_before = uncertainty(&wide, "relief-angle") / uncertainty(&plain, "relief-angle");
        // Trials leave some chance.
        assert!((as_before - 1.0).abs() < 0.05, "{as_before}");
        // ... and one of a nanometre makes nothing better known than it was.
        let narrow = inspected(&format!("{spread}0.000001"));
        assert_eq!(uncertainty(&narrow, "drop"), drop);
        let worse =
            inspected("[study.reversal]\ntaken = 2026-01-01T00:00:00Z\nhysteresis_mm = 0.02");
        assert!(warned(&worse, "the hysteresis is taken as 20.00 µm"));
        // Play is rectangular over half of itself, to both sides of what is taken out.
        assert!(uncertainty(&worse, "heel-clearance") > 0.02 / 12f64.sqrt());
        let worse =
            inspected("[study.repeat]\ntaken = 2026-01-01T00:00:00Z\nrepeatability_mm = 0.003");
        assert!(uncertainty(&worse, "drop") > drop);
        let error = "[study.round]\ntaken = 2026-01-01T00:00:00Z\nerror_mm = 0.0001";
        let better = inspected(error);
        assert_eq!(uncertainty(&better, "drop"), drop);
    }

    #[test]
    fn a_study_is_kept_in_the_card_beside_what_a_person_wrote() {
        let dir = tempfile::tempdir().unwrap();
        let card = dir.path().join("gauge.toml");
        let written = format!(
            "# the good bench\n{}\n[study]\nvalid_days = 90\n",
            super::card()
        );
        std::fs::write(&card, &written).unwrap();
        let table = dir.path().join("hands.csv");
        let text = include_str!("../reference/msa_crossed_10x3x3.csv")
            .replace("trial,value", "trial,value_um");
        std::fs::write(&table, text).unwrap();
        let (card_name, table) = (card.to_str().unwrap(), table.to_str().unwrap());
        let keep = ["study", "crossed", table, "--gauge", card_name, "--keep"];
        let with = |name| [&keep[..], &[name]].concat();
        assert_eq!(run(&with("drop")).0, 3);
        // Twice gives no second table.
        assert_eq!(run(&with("drop")).0, 3);
        assert_eq!(run(&with("edge-spread")).0, 3);
        let text = std::fs::read_to_string(&card).unwrap();
        assert!(text.starts_with("# the good bench\nschema = 1\n"), "{text}");
        let read = heelclear::card::GaugeCard::parse(&text, "gauge.toml").unwrap();
        assert_eq!(read.studies.valid_days, Some(90));
        for name in [
            heelclear::card::Name::Drop,
            heelclear::card::Name::EdgeSpread,
        ] {
            super::printed(read.studies.spread(name).unwrap(), 0.000_302_373, 2e-9);
        }
        // Micrometres are no degrees.
        let (status, _, stderr) = run(&with("relief-angle"));
        assert_eq!(status, 2);
        assert!(stderr.contains("value_deg"), "{stderr}");
        assert_eq!(std::fs::read_to_string(&card).unwrap(), text);
    }
}
