//! Grinders whose scales are off: what one grind teaches, the next one is corrected by.

use super::kinds::{KINDS, Kind};
use super::setting;
use super::tally::interval;
use super::whole::{ground, measured};
use heelclear::card::{Correction, GrinderCard, Setting, Surface};
use heelclear::inspection::Folder;
use heelclear::inspection::grind::{Asked, Lesson, learn, set_up, set_up_sheet, with_corrections};
use heelclear::inspection::simulated::{settings, write_folder};
use heelclear::quantity::Length;
use heelclear::record::{SETUP_FILE, Setup, SwivelSetup, Verdict};
use heelclear::simulator::{Grind, Scenario, built_in};
use jiff::civil::date;
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;
use rayon::prelude::*;
use std::path::Path;

/// Grinders of the quick round.
const QUICK: u64 = 2;

/// How the two grinds of one tool came out; nothing where the grinder's ranges reach no set-up.
struct Both {
    seed: u64,
    /// What keeps the second grind from passing.
    short: String,
    first: Option<Verdict>,
    second: Option<Verdict>,
    clean: bool,
}

/// The card states the cam, so that nothing but finished grinds can tell how far its scales are off.
fn off_its_scales(kind: &Kind, seed: u64) -> Scenario {
    let mut tool = kind.worn(seed).diameters_read();
    let mut rng = Pcg64::seed_from_u64(seed ^ 0x6869_6464);
    let grinder = tool.grinder.as_mut().unwrap();
    grinder.wheel.diameter_error_mm = rng.random_range(-5.0..0.0);
    for fixture in &mut grinder.fixture {
        fixture.trace_motion = false;
        fixture.state_cam = true;
        fixture.throw_error = rng.random_range(-0.08..0.08);
        fixture.cam_error_deg = rng.random_range(-2.0..2.0);
    }
    tool
}

/// What the program would set for a tool with what a card says and knows.
fn set_up_for(tool: &Scenario, grinder: &GrinderCard) -> Setup {
    let dir = tempfile::tempdir().unwrap();
    write_folder(tool, dir.path()).unwrap();
    let folder = Folder::open(dir.path()).unwrap();
    set_up(&folder, grinder, &Asked::default()).unwrap()
}

/// The inspection of a ground tool, with the set-up that it was ground from.
fn finished(tool: &mut Scenario, setup: &Setup, taken: &str, dir: &Path) {
    tool.setup = Some(SETUP_FILE.to_owned());
    taken.clone_into(&mut tool.taken);
    write_folder(tool, dir).unwrap();
    let text = serde_json::to_string(setup).unwrap();
    std::fs::write(dir.join(SETUP_FILE), text).unwrap();
}

fn both(kind: &Kind, seed: u64) -> Option<Both> {
    let worn = off_its_scales(kind, seed);
    let card = GrinderCard::parse(&worn.grinder_card().unwrap(), "grinder.toml").unwrap();
    let setup = set_up_for(&worn, &card);
    if setup.cuts.is_empty() {
        return None;
    }
    let (mut tool, _) = ground(worn, &setup, seed);
    let dir = tempfile::tempdir().unwrap();
    finished(&mut tool, &setup, "2026-03-02T13:20:00Z", dir.path());
    let folder = Folder::open(dir.path()).unwrap();
    let first = heelclear::inspection::verify(&folder).unwrap().verdict;
    let lessons = learn(&[folder], date(2026, 3, 2)).unwrap();
    let learnt: Vec<_> = lessons.into_iter().flat_map(|it| it.corrections).collect();
    let card = with_corrections(card, &learnt);

    let worn = tool.worked(&mut Pcg64::seed_from_u64(seed ^ 0x776f_726b));
    let setup = set_up_for(&worn, &card);
    if setup.verdict != Some(Verdict::Pass) {
        return None;
    }
    let (tool, cuts) = ground(worn, &setup, seed + 1_000_000);
    let record = measured(&tool);
    let short = record
        .characteristics
        .iter()
        .filter(|it| it.limit.is_some() && it.verdict != Some(Verdict::Pass));
    let short = short.map(|it| format!("{} {:?}", it.name, it.value));
    let learnt = card.corrections.iter();
    let learnt = learnt.map(|it| format!("{} {:.3}", it.of.as_str(), it.value));
    Some(Both {
        seed,
        short: format!(
            "{}; learnt {}",
            short.collect::<Vec<_>>().join(", "),
            learnt.collect::<Vec<_>>().join(", ")
        ),
        first,
        second: record.verdict,
        clean: cuts.iter().all(|cut| cut.unclean.is_empty()),
    })
}

#[test]
fn a_second_grind_passes_where_the_first_one_taught_what_was_off() {
    /// Of the second grinds that the ranges can reach, so many are to pass.
    const PASS: f64 = 0.9;
    let count = setting("HEELCLEAR_GRINDS").map_or(QUICK, |text| text.parse().unwrap());
    println!(
        "| kind | grinders | reached | first passes | second passes, % (99 % interval) | second clean |"
    );
    println!("|---|---:|---:|---:|---:|---:|");
    let mut wrong = Vec::new();
    for kind in KINDS.iter().filter(|kind| !kind.hopeless && kind.learns) {
        let seeds: Vec<u64> = (1..=count).collect();
        let came: Vec<Both> = seeds
            .into_par_iter()
            .filter_map(|seed| both(kind, seed))
            .collect();
        let passed = |of: &dyn Fn(&Both) -> Option<Verdict>| {
            came.iter()
                .filter(|it| of(it) == Some(Verdict::Pass))
                .count() as u64
        };
        let (first, second) = (passed(&|it| it.first), passed(&|it| it.second));
        let reached = came.len() as u64;
        let [low, high] = interval(second, reached);
        println!(
            "| {} | {count} | {reached} | {first} | {:.1} ({:.1} to {:.1}) | {} |",
            kind.name,
            100.0 * second as f64 / reached.max(1) as f64,
            100.0 * low,
            100.0 * high,
            came.iter().filter(|it| it.clean).count(),
        );
        for each in came.iter().filter(|it| it.second != Some(Verdict::Pass)) {
            println!(
                "    {}, grinder {}: {:?}: {}",
                kind.name, each.seed, each.second, each.short
            );
        }
        if high < PASS {
            wrong.push(format!("{}: {second} of {reached} pass", kind.name));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

fn day() -> jiff::civil::Date {
    date(2026, 9, 14)
}

/// Gain of the throw as grinds teach it, with its uncertainty.
fn gain(folders: &[Folder]) -> (f64, f64) {
    let lessons = learn(folders, day()).unwrap();
    let gain = lessons[0].errors[0];
    (gain.value, gain.standard_uncertainty)
}

#[test]
fn a_grind_made_with_a_correction_teaches_the_same_scale() {
    let kind = KINDS
        .iter()
        .find(|kind| kind.name == "four flutes")
        .unwrap();
    let worn = off_its_scales(kind, 5);
    let truth = worn.grinder.as_ref().unwrap().fixture[0].throw_error;
    let card = GrinderCard::parse(&worn.grinder_card().unwrap(), "grinder.toml").unwrap();
    let setup = set_up_for(&worn, &card);
    let dirs = [tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap()];
    let (mut tool, _) = ground(worn, &setup, 5);
    finished(&mut tool, &setup, "2026-03-02T13:20:00Z", dirs[0].path());
    let open = |at: usize| Folder::open(dirs[at].path()).unwrap();
    let lessons = learn(&[open(0)], day()).unwrap();
    let learnt: Vec<_> = lessons.into_iter().flat_map(|it| it.corrections).collect();
    let card = with_corrections(card, &learnt);
    let mut worn = tool.worked(&mut Pcg64::seed_from_u64(5));
    "2026-09-14T08:05:00Z".clone_into(&mut worn.taken);
    let setup = set_up_for(&worn, &card);
    assert_ne!(setup.cuts[0].corrected, [1.0, 0.0, 1.0]);
    let (mut tool, _) = ground(worn, &setup, 6);
    finished(&mut tool, &setup, "2026-09-14T10:55:00Z", dirs[1].path());

    let each = [gain(&[open(0)]), gain(&[open(1)])];
    let both = gain(&[open(0), open(1)]);
    let turned = gain(&[open(1), open(0)]);
    assert!((both.0 - turned.0).abs() < 1e-9, "{both:?} {turned:?}");
    for (value, u) in each.into_iter().chain([both]) {
        assert!(
            (value - truth).abs() < 4.0 * u,
            "{value} ± {u}, true is {truth}"
        );
    }
    assert!(
        both.1 < each[0].1 && both.1 < each[1].1,
        "{each:?} {both:?}"
    );
    // One grind is one, however often it is named.
    assert!(learn(&[open(0), open(0)], day()).is_err());
}

#[test]
fn what_is_no_finished_grind_of_its_set_up_teaches_nothing() {
    let kind = KINDS
        .iter()
        .find(|kind| kind.name == "four flutes")
        .unwrap();
    let worn = off_its_scales(kind, 3);
    let card = GrinderCard::parse(&worn.grinder_card().unwrap(), "grinder.toml").unwrap();
    let setup = set_up_for(&worn, &card);
    let (mut tool, _) = ground(worn, &setup, 3);
    let dir = tempfile::tempdir().unwrap();
    let taught = |tool: &mut Scenario, setup: &Setup, taken: &str| {
        finished(tool, setup, taken, dir.path());
        learn(&[Folder::open(dir.path()).unwrap()], day())
    };
    let later = "2026-03-02T13:20:00Z";
    assert!(taught(&mut tool, &setup, later).is_ok());
    assert!(taught(&mut tool, &setup, "2026-03-01T13:20:00Z").is_err());
    let mut before = tool.clone();
    "before-grind".clone_into(&mut before.stage);
    assert!(taught(&mut before, &setup, later).is_err());
    let mut grown = tool.clone();
    grown.feature[0].diameter_mm += 0.5;
    grown.feature[0].diameter_error_mm -= 0.5;
    assert!(taught(&mut grown, &setup, later).is_err());
    let other = Setup {
        flutes: setup.flutes + 1,
        ..setup.clone()
    };
    assert!(taught(&mut tool, &other, later).is_err());
    let empty = Setup {
        cuts: Vec::new(),
        ..setup
    };
    assert!(taught(&mut tool, &empty, later).is_err());
}

/// A ground tool of a kind with the set-up that it was ground from, and by what its throw is off.
fn ground_off(throw_error: f64, cam_error_deg: f64) -> (Scenario, Setup) {
    let kind = KINDS
        .iter()
        .find(|kind| kind.name == "four flutes")
        .unwrap();
    let mut worn = off_its_scales(kind, 7);
    let grinder = worn.grinder.as_mut().unwrap();
    grinder.wheel.diameter_error_mm = 0.0;
    for fixture in &mut grinder.fixture {
        fixture.throw_error = throw_error;
        fixture.cam_error_deg = cam_error_deg;
    }
    let card = GrinderCard::parse(&worn.grinder_card().unwrap(), "grinder.toml").unwrap();
    let setup = set_up_for(&worn, &card);
    assert_eq!(setup.cuts.len(), 1, "{:?}", setup.why);
    let (tool, _) = ground(worn, &setup, 7);
    (tool, setup)
}

/// What was predicted of a figure of flute 1.
fn predicted(setup: &Setup, name: &str) -> f64 {
    let mut all = setup.predicted.iter();
    let of = all.find(|it| it.name == name && it.flute == Some(1));
    of.unwrap().value
}

/// Judges a ground tool by a card that allows so much of a figure, beside its set-up.
fn judged(
    tool: &mut Scenario,
    setup: &Setup,
    key: &str,
    limit: [f64; 2],
) -> heelclear::record::Record {
    let limits = &mut tool.feature[0].limits;
    limits.clear();
    let [min, max] = limit.map(toml::Value::Float);
    let ends = [("min".to_owned(), min), ("max".to_owned(), max)];
    limits.insert(
        key.to_owned(),
        toml::Value::Table(ends.into_iter().collect()),
    );
    let dir = tempfile::tempdir().unwrap();
    finished(tool, setup, "2026-03-02T13:20:00Z", dir.path());
    heelclear::inspection::verify(&Folder::open(dir.path()).unwrap()).unwrap()
}

#[test]
fn a_fail_after_a_grind_names_what_to_set_otherwise() {
    let (mut tool, setup) = ground_off(-0.12, 0.0);
    let drop = predicted(&setup, "drop");
    let record = judged(&mut tool, &setup, "drop_mm", [0.96 * drop, 1.2 * drop]);
    assert_eq!(record.verdict, Some(Verdict::Fail));
    assert_eq!(record.settings.len(), 1, "{:?}", record.settings);
    let advice = &record.settings[0];
    assert!(advice.explains, "{advice:?}");
    let fails = advice.figures.iter().filter(|it| it.name == "drop");
    for figure in fails {
        let then = figure.then.unwrap();
        assert!(figure.explained && then > 0.96 * drop, "{figure:?}");
        assert!(
            (then - figure.predicted.unwrap()).abs() < 0.03 * drop,
            "{figure:?}"
        );
    }
    // What to set gives what was meant, as far as one grind tells it.
    let throw = advice
        .set
        .iter()
        .find(|it| it.setting == "throw-gain")
        .unwrap();
    assert!(
        (throw.set - throw.was / throw.came_to).abs() < 1e-9,
        "{throw:?}"
    );
    assert!(throw.set > throw.was && throw.came_to < 1.0, "{throw:?}");
    assert!(advice.why.contains("came out"), "{}", advice.why);
    assert!(
        advice.remedy.contains("on the scale in place of"),
        "{}",
        advice.remedy
    );
    // Its lengths are told in inches too, and so is the text of the report.
    let text = heelclear::report::text(&record, Default::default());
    assert!(text.contains("settings of"), "{text}");
    let inches = record.told_in_inches();
    assert!(
        inches.settings[0].remedy.contains(" in on the scale"),
        "{}",
        inches.settings[0].remedy
    );
    let again = heelclear::record::Record::from_json(&record.to_json().unwrap(), "verdict.json");
    assert_eq!(again.unwrap(), record);
}

#[test]
fn a_fail_that_no_setting_explains_is_said_to_be_one() {
    let (mut tool, setup) = ground_off(0.0, 0.0);
    let drop = predicted(&setup, "drop");
    let record = judged(&mut tool, &setup, "drop_mm", [1.3 * drop, 1.6 * drop]);
    assert_eq!(record.verdict, Some(Verdict::Fail));
    let advice = &record.settings[0];
    assert!(!advice.explains && advice.set.is_empty(), "{advice:?}");
    assert!(
        advice.remedy.starts_with("the settings cannot explain it"),
        "{}",
        advice.remedy
    );
}

#[test]
fn a_grind_without_a_set_up_advises_as_before() {
    let (mut tool, setup) = ground_off(-0.12, 0.0);
    let drop = predicted(&setup, "drop");
    let with = judged(&mut tool, &setup, "drop_mm", [0.96 * drop, 1.2 * drop]);
    tool.setup = None;
    let without = measured(&tool);
    assert!(without.settings.is_empty());
    assert_eq!(without.warnings, with.warnings);
    for (one, other) in without.characteristics.iter().zip(&with.characteristics) {
        assert_eq!((&one.why, &one.remedy), (&other.why, &other.remedy));
    }
    // A set-up of another tool tells nothing, and that is said.
    let other = Setup {
        flutes: setup.flutes + 1,
        ..setup
    };
    let strange = judged(&mut tool, &other, "drop_mm", [0.96 * drop, 1.2 * drop]);
    assert!(strange.settings.is_empty());
    assert!(
        strange.warnings.iter().any(|it| it.contains("set-up")),
        "{:?}",
        strange.warnings
    );
}

fn four_flutes() -> &'static Kind {
    let mut kinds = KINDS.iter();
    kinds.find(|kind| kind.name == "four flutes").unwrap()
}

/// A worn tool on a grinder whose scales are true.
fn on_true_scales(seed: u64) -> Scenario {
    let mut worn = off_its_scales(four_flutes(), seed);
    let grinder = worn.grinder.as_mut().unwrap();
    grinder.wheel.diameter_error_mm = 0.0;
    for fixture in &mut grinder.fixture {
        fixture.throw_error = 0.0;
        fixture.cam_error_deg = 0.0;
    }
    worn
}

/// Ground by a wheel that loses so much of its radius meanwhile.
fn ground_wearing(worn: Scenario, setup: &Setup, wear_mm: f64) -> Scenario {
    setup.cuts.iter().fold(worn, |tool, cut| {
        let set = settings(&tool, cut).unwrap();
        let in_feed = set.in_feed - Length::from_mm(wear_mm);
        tool.grind(&Grind { in_feed, ..set }).unwrap().tool
    })
}

fn card_of(worn: &Scenario) -> GrinderCard {
    GrinderCard::parse(&worn.grinder_card().unwrap(), "grinder.toml").unwrap()
}

/// A worn tool's grind by a wheel that wears, as an inspection afterwards.
fn worn_down(seed: u64, wear_mm: f64) -> (tempfile::TempDir, Folder) {
    let worn = on_true_scales(seed);
    let setup = set_up_for(&worn, &card_of(&worn));
    let mut tool = ground_wearing(worn, &setup, wear_mm);
    let dir = tempfile::tempdir().unwrap();
    finished(&mut tool, &setup, "2026-03-02T13:20:00Z", dir.path());
    let folder = Folder::open(dir.path()).unwrap();
    (dir, folder)
}

/// By how much the stock falls short of an in-feed, as grinds teach it, whichever of feed and wear it is
/// laid to.
fn short_by(lesson: &Lesson, in_feed_mm: f64) -> f64 {
    let of = |of| lesson.errors.iter().find(|it| it.of == of).unwrap().value;
    of(Setting::WheelWear) - of(Setting::Feed) * in_feed_mm
}

#[test]
fn grinds_of_a_wheel_that_wears_teach_what_it_lost() {
    /// So much that lands come clean still.
    const WEAR_MM: f64 = 0.014;
    const IN_FEED_MM: f64 = 0.066;
    // The same tools by the same hand, so that what chance does is the same in both.
    let taught = |wear_mm: f64| {
        let seeds: Vec<u64> = (1..=6).collect();
        let grinds: Vec<_> = seeds
            .into_par_iter()
            .map(|seed| worn_down(seed, wear_mm))
            .collect();
        let folders: Vec<Folder> = grinds.iter().map(|(_, folder)| folder.clone()).collect();
        learn(&folders, day()).unwrap().remove(0)
    };
    let (fresh, worn) = (taught(0.0), taught(WEAR_MM));
    let lost = short_by(&worn, IN_FEED_MM) - short_by(&fresh, IN_FEED_MM);
    // What is likely beforehand holds a part of it back: a diameter is predicted to some hundredths.
    assert!(
        (0.3 * WEAR_MM..1.1 * WEAR_MM).contains(&lost),
        "{lost}: {fresh:#?} {worn:#?}"
    );
    // Grinds of one depth do not tell which of the two it is.
    let of = |of| worn.errors.iter().find(|it| it.of == of).unwrap();
    let told = [Setting::Feed, Setting::WheelWear].map(|it| of(it).told);
    assert_eq!(told, [false, false], "{worn:#?}");
}

#[test]
fn what_the_wheel_loses_is_fed_in_and_teaches_the_same_again() {
    const WEAR_MM: f64 = 0.015;
    let worn = on_true_scales(4);
    let before = set_up_for(&worn, &card_of(&worn));
    let learnt = Correction {
        of: Setting::WheelWear,
        fixture: Some(before.cuts[0].fixture.clone()),
        direction: Some(Surface::Radial),
        value: WEAR_MM,
        standard_uncertainty: 0.002,
        records: 5,
        on: day(),
    };
    let card = with_corrections(card_of(&worn), &[learnt]);
    // As it is written on the card.
    let card = GrinderCard::parse(&card.to_toml(), "grinder.toml").unwrap();
    let after = set_up_for(&worn, &card);
    let (bare, cut) = (&before.cuts[0], &after.cuts[0]);
    let step = cut.step_mm.unwrap() + 1e-9;
    let more = cut.skim_sure_mm - bare.skim_sure_mm;
    assert!((more - WEAR_MM).abs() <= step, "{more}");
    let said = cut.corrections();
    assert!(
        said.iter().any(|it| it.contains("wheel loses 0.015 mm")),
        "{said:?}"
    );
    // What is left is what a wheel that does not wear would have left, and what was predicted.
    let of = |setup: &Setup| {
        let mut figures = setup.predicted.iter();
        figures.find(|it| it.name == "diameter").unwrap().value
    };
    assert!(
        (of(&before) - of(&after)).abs() <= 2.0 * step,
        "{before:?} {after:?}"
    );
    let left = |tool: &Scenario| tool.feature[0].true_diameter_mm();
    let true_wheel = ground_wearing(worn.clone(), &before, 0.0);
    let mut tool = ground_wearing(worn, &after, WEAR_MM);
    assert!((left(&true_wheel) - left(&tool)).abs() <= 2.0 * step + 0.002);

    // The grind that was fed with it shows the same bare wheel as one that was not.
    let dir = tempfile::tempdir().unwrap();
    finished(&mut tool, &after, "2026-03-02T13:20:00Z", dir.path());
    let fed = learn(&[Folder::open(dir.path()).unwrap()], day()).unwrap();
    let (_dir, folder) = worn_down(4, WEAR_MM);
    let unfed = learn(&[folder], day()).unwrap();
    let (fed, unfed) = (short_by(&fed[0], 0.066), short_by(&unfed[0], 0.066));
    assert!((fed - unfed).abs() < 0.003, "{fed} {unfed}");
}

/// The inspection of a chamfer cutter that was ground from a set-up with this swivel; its face stands at
/// 45.06° to the axis.
fn face_ground(mould: &Setup, set_deg: f64, across: bool, dir: &Path) {
    let mut tool = built_in("chamfer-face").unwrap();
    let mut setup = mould.clone();
    setup.tool.clone_from(&tool.tool.id);
    setup.flutes = tool.tool.flutes;
    setup.cuts[0].features = vec!["chamfer".to_owned()];
    setup.swivels = vec![SwivelSetup {
        feature: "chamfer".to_owned(),
        figure: "face-angle".to_owned(),
        swivel: "table".to_owned(),
        set_deg,
        across,
        graduation_deg: 0.05,
        corrected_deg: 0.0,
    }];
    finished(&mut tool, &setup, "2026-03-02T13:20:00Z", dir);
}

#[test]
fn the_zero_of_a_swivel_is_learnt_from_the_faces_that_it_was_set_for() {
    let worn = on_true_scales(1);
    let card = GrinderCard::parse(&worn.grinder_card().unwrap(), "grinder.toml").unwrap();
    let mould = set_up_for(&worn, &card);
    // Set to 45.5° from along the axis it stands 0.44° short; to 44.5° from across it, 0.44° over.
    for (set_deg, across, stands) in [(45.5, false, -0.44), (44.5, true, 0.44)] {
        let dir = tempfile::tempdir().unwrap();
        face_ground(&mould, set_deg, across, dir.path());
        let lessons = learn(&[Folder::open(dir.path()).unwrap()], day()).unwrap();
        assert_eq!(lessons.len(), 1, "{lessons:#?}");
        let error = lessons[0].errors[0];
        assert_eq!(
            (error.of, error.told),
            (Setting::SwivelZero, true),
            "{error:?}"
        );
        let off = (error.value - stands).abs();
        assert!(off < 3.0 * error.standard_uncertainty, "{error:?}");
        assert!(error.standard_uncertainty < 0.15, "{error:?}");
        let kept = &lessons[0].corrections[0];
        assert_eq!((kept.fixture.as_deref(), kept.records), (Some("table"), 1));
    }
    // One that stands where it was set is not told from zero.
    let dir = tempfile::tempdir().unwrap();
    face_ground(&mould, 45.05, false, dir.path());
    let lessons = learn(&[Folder::open(dir.path()).unwrap()], day()).unwrap();
    assert!(lessons[0].corrections.is_empty(), "{lessons:#?}");
}

#[test]
fn the_next_sheet_sets_a_swivel_by_what_was_learnt_of_it() {
    let mut worn = on_true_scales(1);
    let taper: toml::Table = toml::from_str("back_taper_deg = { min = 0.2, max = 0.4 }").unwrap();
    worn.feature[0].limits.extend(taper);
    let dir = tempfile::tempdir().unwrap();
    write_folder(&worn, dir.path()).unwrap();
    let folder = Folder::open(dir.path()).unwrap();
    let text =
        worn.grinder_card().unwrap() + "\n[[swivel]]\nname = \"table\"\ngraduation_deg = 0.05\n";
    let card = GrinderCard::parse(&text, "grinder.toml").unwrap();
    let sheet = |card: &GrinderCard| set_up_sheet(&folder, card, &Asked::default()).unwrap();
    let learnt = |direction| Correction {
        of: Setting::SwivelZero,
        fixture: Some("table".to_owned()),
        direction: Some(direction),
        value: 0.12,
        standard_uncertainty: 0.02,
        records: 2,
        on: day(),
    };
    let bare = sheet(&card);
    assert!(
        (bare.swivels[0].set_deg - 0.3).abs() < 1e-9,
        "{:?}",
        bare.swivels
    );
    // What faces taught of it says nothing of back tapers: a table may be swung the other way for them.
    let of_faces = sheet(&with_corrections(card.clone(), &[learnt(Surface::Axial)]));
    assert_eq!(of_faces.swivels, bare.swivels);
    let corrected = sheet(&with_corrections(card, &[learnt(Surface::Radial)]));
    assert!((corrected.swivels[0].set_deg - 0.18).abs() < 1e-9);
    let mut lines = corrected.lines.iter().filter(|line| line.part == "swivel");
    assert!(lines.any(|line| line.what.contains("table stands +0.12° over its scale")));
}
