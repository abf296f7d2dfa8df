//! What the program says to grind is what mends the tool, and is said once.
#![allow(clippy::unwrap_used, clippy::panic)]

use heelclear::inspection::simulated::write_folder;
use heelclear::inspection::{Folder, verify};
use heelclear::record::{Characteristic, Record, Verdict};
use heelclear::report::{TextStyle, deciding, text};
use heelclear::simulator::{Scenario, built_in};

/// The built-in counterbore with changes, judged.
fn judged(change: impl FnOnce(&mut Scenario)) -> Record {
    let folder = tempfile::tempdir().unwrap();
    let mut recipe = built_in("counterbore-pass").unwrap();
    change(&mut recipe);
    write_folder(&recipe, folder.path()).unwrap();
    verify(&Folder::open(folder.path()).unwrap()).unwrap()
}

/// A counterbore whose edges are worn round by this much, the second a little lower.
fn worn(margin_mm: f64) -> impl FnOnce(&mut Scenario) {
    move |recipe| {
        let feature = &mut recipe.feature[0];
        feature.land.margin_mm = margin_mm;
        feature.tooth[1].height_mm = -0.02;
        let limit: toml::Table = toml::from_str("wear_land_mm = { max = 0.05 }").unwrap();
        feature.limits.extend(limit);
    }
}

fn failing(record: &Record) -> Vec<&Characteristic> {
    let figures = record.characteristics.iter();
    figures
        .filter(|figure| figure.verdict == Some(Verdict::Fail))
        .collect()
}

/// The numbers before ` mm off flute N`, by flute.
fn stock(remedy: &str) -> Vec<f64> {
    let parts = remedy.split(" mm off flute ");
    let mut numbers: Vec<f64> = parts
        .map(|part| part.rsplit(' ').next().unwrap().parse().unwrap_or(f64::NAN))
        .collect();
    numbers.pop();
    numbers
}

#[test]
fn a_worn_tool_is_told_one_skim_and_nothing_of_its_relief() {
    let record = judged(worn(0.2));
    let fails = failing(&record);
    let names: Vec<&str> = fails.iter().map(|it| it.name.as_str()).collect();
    for name in ["relief-angle", "drop", "edge-spread"] {
        assert!(names.contains(&name), "{name}: {names:?}");
    }
    let first = fails[0].remedy.as_deref().unwrap();
    for figure in &fails {
        assert_eq!(figure.remedy.as_deref(), Some(first), "{}", figure.name);
    }
    assert!(first.contains("one skim"), "{first}");
    // Wear of width w on a flat of relief a takes R (cos(w/R - a)/cos a - 1) off it; evening the
    // 20 µm by which flute 2 is lower is flute 1's alone.
    let (radius, relief) = (10.0_f64, 8.0_f64.to_radians());
    let wear = radius * ((0.2 / radius - relief).cos() / relief.cos() - 1.0);
    let told = stock(first);
    for (told, expected) in told.iter().zip([wear + 0.02, wear]) {
        assert!((told - expected).abs() < 0.003, "{told} {expected}");
    }
    assert_eq!(told.len(), 2);
    let shown = text(&record, TextStyle::default());
    assert_eq!(shown.matches("one skim").count(), 1, "{shown}");
    for absurd in ["more relief", "in place of 0.000"] {
        assert!(!shown.contains(absurd), "{shown}");
    }
}

#[test]
fn relief_that_is_wrong_behind_the_wear_is_changed_from_what_is_set() {
    let record = judged(|recipe| {
        worn(0.15)(recipe);
        recipe.feature[0].land.relief = heelclear::simulator::Relief::Flat { relief_deg: 4.0 };
    });
    let fails = failing(&record);
    let drop = fails.iter().find(|it| it.name == "drop").unwrap();
    let remedy = drop.remedy.as_deref().unwrap();
    // From 4° to the middle of 6° and 10°, not from the 0° of the worn edge, nor from the 3.5° that
    // its drop is worth.
    let change: f64 = remedy.split('°').next().unwrap().parse().unwrap();
    assert!((change - 4.0).abs() < 0.3, "{remedy}");
}

#[test]
fn less_relief_is_never_said_bare_of_an_edge_that_has_too_little() {
    let record = judged(|recipe| {
        worn(0.2)(recipe);
        recipe.feature[0].land.relief = heelclear::simulator::Relief::Flat { relief_deg: 14.0 };
    });
    let fails = failing(&record);
    let below = |it: &&&Characteristic| {
        let least = it.limit.and_then(|limit| limit.min);
        it.value
            .zip(least)
            .is_some_and(|(value, least)| value < least)
    };
    let relief = fails.iter().filter(below);
    let relief: Vec<_> = relief.filter(|it| it.name == "relief-angle").collect();
    assert_eq!(relief.len(), 2);
    for figure in relief {
        let remedy = figure.remedy.as_deref().unwrap();
        assert!(remedy.contains("behind what is worn"), "{remedy}");
        assert!(remedy.contains("clean to its edge"), "{remedy}");
    }
}

#[test]
fn stock_that_no_land_has_is_never_asked_for() {
    let record = judged(|recipe| {
        // Lands of 0.1 mm relief in all, and an edge that is half a millimetre low.
        recipe.feature[0].tooth[1].height_mm = -0.5;
    });
    let spread = failing(&record)
        .into_iter()
        .find(|it| it.name == "edge-spread");
    if let Some(spread) = spread {
        assert_eq!(spread.remedy, None);
    }
}

#[test]
fn reasons_stand_in_the_order_of_flutes_and_the_worst_is_farthest_outside_in_millimetres() {
    let record = judged(|recipe| {
        let feature = &mut recipe.feature[0];
        // Flute 2 drags more, flute 1 a little; a flat wider than its relief allows.
        feature.land.arc_deg = 20.0;
        feature.tooth[1].relief_deg = -1.0;
    });
    let shown = text(&record, TextStyle::default());
    let place = |words: &str| shown.find(words).unwrap_or(usize::MAX);
    assert!(place("seat, flute 1: heel clearance") < place("seat, flute 2: heel clearance"));
    let worst = deciding(&record).unwrap();
    let outside = |figure: &Characteristic| {
        let limit = figure.limit.unwrap();
        limit.min.unwrap_or(f64::NEG_INFINITY) - figure.value.unwrap()
    };
    for figure in failing(&record) {
        if figure.unit == "mm" && figure.limit.unwrap().max.is_none() {
            assert!(outside(worst) >= outside(figure), "{}", figure.name);
        }
    }
}
