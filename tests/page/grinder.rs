//! The grinder's card as a form: everything that it can say, filled in, changed, taken over, carried.

use super::browser::{Browser, PHONE, SHOP_PC, WIDE};
use super::server::{Bench, only_inspection};
use super::walk::{opened, prove, record};
use heelclear::card::{GrinderCard, MotionIs, SwivelZero, Turns};
use heelclear::inspection::Folder;
use serde_json::{Value, json};
use std::fs;
use std::path::Path;

/// Every key of the card but what finished grinds write, as a form sends it.
fn whole() -> Value {
    json!({
        "name": "grinder by the window",
        "centre_tolerance_mm": "0,05",
        "spindle": {
            "motor_rpm": "2850", "least_rpm": "", "greatest_rpm": "",
            "pulleys": [{ "motor_mm": "90", "spindle_mm": "80" }, { "motor_mm": "80", "spindle_mm": "90" }],
        },
        "wheel": [
            { "name": "white 150", "cuts": "rim", "diameter_mm": "148", "full_diameter_mm": "150", "width_mm": "13", "greatest_m_per_s": "35", "greatest_rpm": "4456" },
            { "name": "cornered", "cuts": "corner", "diameter_mm": "100", "corner_mm": "0.5" },
        ],
        "slide": [{ "name": "cross slide", "direction": "radial", "graduation_mm": "0.005", "play_mm": "0.01" }],
        "swivel": [{ "name": "table", "graduation_deg": "0.1", "zero": "across" }],
        "fixture": [
            { "name": "head", "direction": "radial", "least_throw_mm": "0.1", "greatest_throw_mm": "1.5", "graduation_mm": "0.01", "play_mm": "0.02", "cam_graduation_deg": "1", "turns": "backing" },
            { "name": "head", "direction": "axial", "greatest_throw_mm": "0.8", "graduation_mm": "0.01", "turns": "" },
        ],
        "motion": [
            { "fixture": "head", "cam": "four lobes", "direction": "radial", "throw_mm": "1", "law": "harmonic", "rise_mm": "0.6", "rise_deg": "60", "dwell_deg": "2", "return_deg": "25", "lobes": "4" },
            { "fixture": "head", "cam": "snail", "direction": "axial", "throw_mm": "0.5", "file": "snail.csv" },
        ],
    })
}

const LEARNT: &str = "\n[[correction]]\nof = \"throw-gain\"\nfixture = \"head\"\ndirection = \"radial\"\nvalue = 0.9400000000000001\nstandard_uncertainty = 0.012\nrecords = 3\non = 2026-03-02\n";
const SNAIL: &str = "angle_deg,motion_mm\n0,0\n";

fn post(bench: &Bench, file: &str, body: &Value) -> Value {
    let (status, answer) = bench.post(&format!("/api/cards/grinder/{file}"), &body.to_string());
    assert_eq!(status, 200, "{answer}");
    json_of(&answer)
}

fn json_of(answer: &str) -> Value {
    let (_, body) = answer.split_once("\r\n\r\n").unwrap();
    serde_json::from_str(body).unwrap()
}

fn card_in(folder: &Path, file: &str) -> GrinderCard {
    let text = fs::read_to_string(folder.join(file)).unwrap();
    GrinderCard::parse(&text, file).unwrap()
}

fn bench() -> (tempfile::TempDir, Bench) {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::open(folder.path());
    fs::write(folder.path().join("grinders/snail.csv"), SNAIL).unwrap();
    (folder, bench)
}

#[test]
fn every_key_that_is_filled_in_is_on_the_card() {
    let (folder, bench) = bench();
    let body = json!({ "units": "mm", "values": whole(), "new": true });
    let answer = post(&bench, "grinder%20by%20the%20window.toml", &body);
    assert_eq!(answer["file"], "grinder-by-the-window.toml", "{answer}");
    let card = card_in(folder.path(), "grinders/grinder-by-the-window.toml");
    assert_eq!(card.centre_tolerance.unwrap().mm(), 0.05);
    assert_eq!(card.spindle.pulleys[1].spindle.mm(), 90.0);
    assert_eq!(card.wheels[0].greatest_rpm, Some(4456.0));
    assert_eq!(card.wheels[1].corner.unwrap().mm(), 0.5);
    assert_eq!(card.swivels[0].zero, SwivelZero::Across);
    assert_eq!(card.fixtures[0].turns, Turns::Backing);
    assert_eq!(card.fixtures[1].turns, Turns::Cutting);
    assert!(matches!(&card.motions[0].is, MotionIs::Law(law) if law.lobes == 4));
    assert!(matches!(&card.motions[1].is, MotionIs::Traced(file) if file == "snail.csv"));
    // The form that opens on it sends the same card back, in inches too.
    let (_, answer) = bench.ask(
        "GET",
        "/api/cards/grinder/grinder-by-the-window.toml",
        &[],
        "",
    );
    let values = json_of(&answer)["values"].clone();
    let body = json!({ "units": "mm", "values": values });
    post(&bench, "grinder-by-the-window.toml", &body);
    assert_eq!(
        card,
        card_in(folder.path(), "grinders/grinder-by-the-window.toml")
    );
    // A new card takes the place of none that is there.
    let body = json!({ "units": "mm", "values": whole(), "new": true });
    let refused = post(&bench, "grinder%20by%20the%20window.toml", &body);
    assert_eq!(refused["objections"][0]["field"], "name", "{refused}");
}

#[test]
fn each_complaint_of_the_reader_stands_at_its_field() {
    let (_folder, bench) = bench();
    #[track_caller]
    fn check(bench: &Bench, change: impl Fn(&mut Value), expected: &[&str]) {
        let mut values = whole();
        change(&mut values);
        let body = json!({ "units": "mm", "values": values, "new": true });
        let answer = post(bench, "x.toml", &body);
        let objections = answer["objections"].as_array().cloned().unwrap_or_default();
        let fields: Vec<&str> = objections
            .iter()
            .filter_map(|it| it["field"].as_str())
            .collect();
        assert_eq!(fields, expected, "{answer}");
        assert!(
            objections
                .iter()
                .all(|it| it["message"].as_str().unwrap().len() > 10)
        );
    }
    check(&bench, |it| it["name"] = json!(""), &["name"]);
    check(
        &bench,
        |it| it["wheel"][1]["corner_mm"] = json!(""),
        &["wheel.1.corner_mm"],
    );
    check(
        &bench,
        |it| it["wheel"][0]["diameter_mm"] = json!("200"),
        &["wheel.0.full_diameter_mm"],
    );
    check(
        &bench,
        |it| it["spindle"]["pulleys"][1]["motor_mm"] = json!("-1"),
        &["spindle.pulleys.1.motor_mm"],
    );
    check(
        &bench,
        |it| it["fixture"][1]["greatest_throw_mm"] = json!(""),
        &["fixture.1.greatest_throw_mm"],
    );
    check(
        &bench,
        |it| it["motion"][0]["fixture"] = json!("another"),
        &["motion.0.fixture"],
    );
    check(
        &bench,
        |it| it["motion"][0]["rise_deg"] = json!("80"),
        &["motion.0.rise_deg"],
    );
    check(
        &bench,
        |it| it["motion"][1]["file"] = json!("none.csv"),
        &["motion.1.file"],
    );
    check(
        &bench,
        |it| it["motion"][1]["file"] = json!("../../none.csv"),
        &["motion.1.file"],
    );
    check(
        &bench,
        |it| it["swivel"][0]["graduation_deg"] = json!("little"),
        &["swivel.0.graduation_deg"],
    );
}

#[test]
fn what_grinds_taught_stays_as_the_file_has_it() {
    let (folder, bench) = bench();
    let body = json!({ "units": "mm", "values": whole(), "new": true });
    post(&bench, "window.toml", &body);
    let path = folder.path().join("grinders/window.toml");
    let learnt = fs::read_to_string(&path).unwrap() + LEARNT;
    fs::write(&path, learnt).unwrap();
    let before = card_in(folder.path(), "grinders/window.toml").corrections;
    assert_eq!(before.len(), 1);
    // A form that was opened before something was learnt knows nothing of it, and wears a wheel.
    let mut values = whole();
    values["wheel"][0]["diameter_mm"] = json!("147");
    post(
        &bench,
        "window.toml",
        &json!({ "units": "mm", "values": values }),
    );
    let card = card_in(folder.path(), "grinders/window.toml");
    assert_eq!(card.wheels[0].diameter.mm(), 147.0);
    assert_eq!(card.corrections, before);
}

#[test]
fn a_card_of_an_earlier_inspection_is_offered_with_its_motions() {
    let (folder, bench) = bench();
    let earlier = folder.path().join("VB-31-2026-03-02");
    heelclear_simulated(&earlier);
    fs::write(earlier.join("other-snail.csv"), SNAIL).unwrap();
    let path = earlier.join("grinder.toml");
    let text = fs::read_to_string(&path).unwrap();
    let card = GrinderCard::parse(&text, "grinder.toml").unwrap();
    let fixture = &card.fixtures[0].name;
    let more = format!(
        "\n[[motion]]\nfixture = \"{fixture}\"\ncam = \"snail\"\ndirection = \"radial\"\nthrow_mm = 0.5\nfile = \"other-snail.csv\"\n"
    );
    fs::write(&path, text + &more).unwrap();
    let known = || json_of(&bench.ask("GET", "/api/start", &[], "").1);
    let offered = known()["grinders_elsewhere"].clone();
    assert_eq!(offered[0]["inspection"], "VB-31-2026-03-02", "{offered}");
    // It can go with a new inspection as it is, and nothing else can be named so.
    let begin = |grinder: Value| {
        let mut plan = json!({ "recipe": "counterbore-pass", "gauge": null, "stage": "before-grind", "steps": [{ "feature": "seat", "z_mm": 2 }], "spacing_deg": 0.5, "passes": 2 });
        plan.as_object_mut()
            .unwrap()
            .extend(grinder.as_object().unwrap().clone());
        bench.post("/api/begin", &plan.to_string()).0
    };
    let of = |inspection: &str| begin(json!({ "grinder_of": { "inspection": inspection } }));
    assert_eq!(of("VB-31-2026-03-02"), 200);
    assert_eq!(of("VB-32"), 404);
    assert_eq!(of("../up"), 400);
    assert_eq!(
        begin(json!({ "grinder": "../VB-31-2026-03-02/grinder.toml" })),
        400
    );
    assert_eq!(begin(json!({ "grinder": "none.toml" })), 404);
    assert_eq!(begin(json!({})), 200);
    let asked = "/api/grinder?inspection=VB-31-2026-03-02";
    let values = json_of(&bench.ask("GET", asked, &[], "").1)["values"].clone();
    let body = json!({ "units": "mm", "values": values, "new": true, "from": { "inspection": "VB-31-2026-03-02" } });
    let answer = post(&bench, "taken.toml", &body);
    assert_eq!(answer["file"], "taken.toml", "{answer}");
    assert_eq!(
        card_in(folder.path(), "grinders/taken.toml"),
        card_in(&earlier, "grinder.toml")
    );
    let copied = fs::read_to_string(folder.path().join("grinders/other-snail.csv"));
    assert_eq!(copied.unwrap(), SNAIL);
    // What is among the folder's own is offered no more.
    assert_eq!(known()["grinders_elsewhere"], json!([]));
    assert_eq!(known()["grinders"].as_array().unwrap().len(), 1);
    let (status, _) = bench.ask("GET", "/api/grinder?inspection=..%2F..", &[], "");
    assert_eq!(status, 400);
}

/// The inspection of a worn tool that does not exist, with the card of its grinder.
fn heelclear_simulated(folder: &Path) {
    use heelclear::inspection::simulated::write_folder;
    let worn = heelclear::simulator::built_in("worn-four-flutes").unwrap();
    write_folder(&worn, folder).unwrap();
}

#[test]
fn filled_in_with_wheels_fixtures_and_cams() {
    let Some((folder, bench, page)) = opened(SHOP_PC) else {
        return;
    };
    page.press("new-grinder");
    page.fill("f-name", "window");
    page.fill("f-wheel-0-name", "white 150");
    page.fill("f-wheel-0-diameter_mm", "148");
    page.press("more-wheel");
    // What was added is where the eye and the keyboard are.
    page.until("document.activeElement.id === 'f-wheel-1-name'");
    page.fill("f-wheel-1-name", "cornered");
    page.choose("f-wheel-1-cuts", "corner");
    page.press("more-wheel");
    page.press("drop-wheel-2");
    page.until("document.activeElement.id === 'more-wheel'");
    page.press("more-fixture");
    page.press("more-cam-0");
    page.fill("f-motion-0-cam", "four lobes");
    page.fill("f-motion-0-throw_mm", "1");
    page.press("save-card");
    // Complaints of the reader, each at its field; that of a cam's fixture at the fixture.
    page.until("document.getElementById('f-fixture-0-name-objection').textContent.length > 10");
    page.until(
        "document.getElementById('f-wheel-1-diameter_mm-objection').textContent.length > 10",
    );
    page.fill("f-wheel-1-diameter_mm", "100");
    page.fill("f-fixture-0-name", "head");
    page.fill("f-fixture-0-greatest_throw_mm", "1.5");
    page.fill("f-fixture-0-graduation_mm", "0.01");
    page.press("more-way-0");
    page.until("document.getElementById('f-fixture-1-name').value === 'head' && document.getElementById('f-fixture-1-direction').value === 'axial'");
    page.fill("f-fixture-1-greatest_throw_mm", "0.8");
    page.fill("f-fixture-1-graduation_mm", "0.01");
    page.press("more-cam-1");
    page.fill("f-motion-1-cam", "snail");
    page.fill("f-motion-1-throw_mm", "0.5");
    page.choose("f-motion-1-law", "constant");
    page.fill("f-motion-1-rise_mm", "0.4");
    page.fill("f-motion-1-rise_deg", "300");
    page.press("save-card");
    page.until(
        "document.getElementById('f-wheel-1-corner_mm-objection').textContent.includes('dressed')",
    );
    page.until("document.getElementById('f-motion-0-file-objection').textContent.includes('law')");
    page.fill("f-wheel-1-corner_mm", "0.5");
    page.choose("f-motion-0-law", "harmonic");
    page.fill("f-motion-0-rise_mm", "0.6");
    page.fill("f-motion-0-rise_deg", "60");
    page.fill("f-motion-0-lobes", "4");
    // A fixture that is called otherwise keeps its cams.
    page.fill("f-fixture-0-name", "relieving head");
    page.fill("f-fixture-1-name", "relieving head");
    page.press("save-card");
    page.until("document.activeElement.id === 'edit-window.toml'");
    let card = card_in(folder.path(), "grinders/window.toml");
    assert_eq!(card.wheels.len(), 2);
    let of: Vec<_> = card
        .motions
        .iter()
        .map(|it| (it.cam.as_str(), it.direction.as_str(), it.fixture.as_str()))
        .collect();
    assert_eq!(
        of,
        [
            ("four lobes", "radial", "relieving head"),
            ("snail", "axial", "relieving head")
        ]
    );
    changed_in_inches(folder.path(), &page);
    carried(folder.path(), &bench, &page);
}

/// A change in inches leaves every other length, and what was learnt, as it was.
#[track_caller]
fn changed_in_inches(folder: &Path, page: &Browser) {
    let path = folder.join("grinders/window.toml");
    let learnt =
        fs::read_to_string(&path).unwrap() + &LEARNT.replace("\"head\"", "\"relieving head\"");
    fs::write(&path, learnt).unwrap();
    let before = card_in(folder, "grinders/window.toml");
    page.press("units");
    page.press("edit-window.toml");
    page.until("document.getElementById('f-wheel-0-diameter_mm').value === '5.826772'");
    assert!(
        page.text().contains("Learnt from finished grinds"),
        "{}",
        page.text()
    );
    page.press("drop-wheel-1");
    page.press("save-card");
    page.until("document.activeElement.id === 'edit-window.toml'");
    page.press("units");
    let after = card_in(folder, "grinders/window.toml");
    assert_eq!(after.wheels.len(), 1);
    assert_eq!(after.corrections, before.corrections);
    let near = |one: f64, other: f64| (one - other).abs() < 2e-5;
    assert!(near(
        after.wheels[0].diameter.mm(),
        before.wheels[0].diameter.mm()
    ));
    assert!(near(after.motions[0].throw.mm(), 1.0));
    // Taken out with the fixture's other direction are its cams.
    page.press("edit-window.toml");
    page.press("drop-fixture-1");
    page.press("save-card");
    page.until("document.activeElement.id === 'edit-window.toml'");
    assert_eq!(card_in(folder, "grinders/window.toml").motions.len(), 1);
}

/// It goes with an inspection where it is chosen, and the shop's only one is.
#[track_caller]
fn carried(folder: &Path, bench: &Bench, page: &Browser) {
    let tool = r#"{"units":"mm","values":{"id":"VB-92","name":"port counterbore","hand":"right","flutes":"3","feature":[{"name":"seat","surface":"radial","diameter_mm":"16","check_distance_mm":"0.5"}]}}"#;
    assert_eq!(bench.post("/api/cards/tool/VB-92.toml", tool).0, 200);
    page.reload();
    page.press("measure-VB-92.toml");
    page.until("document.getElementById('grinder').selectedOptions[0].textContent === 'window'");
    page.press("begin");
    page.press("cautioned");
    page.press("sim-fast");
    prove(page);
    record(page, "reference");
    let inspection = only_inspection(folder);
    let kept = fs::read(inspection.join("grinder.toml")).unwrap();
    assert_eq!(kept, fs::read(folder.join("grinders/window.toml")).unwrap());
    let opened = Folder::open(&inspection).unwrap();
    assert_eq!(opened.inspection.grinder.as_deref(), Some("grinder.toml"));
    opened.grinder(None).unwrap();
}

#[test]
fn pictures_of_the_grinders_form_where_they_are_asked_for() {
    if std::env::var_os("HEELCLEAR_PICTURES").is_none() {
        println!("no pictures: HEELCLEAR_PICTURES names no folder");
        return;
    }
    const LOW: (u32, u32) = (1024, 600);
    for (name, size, dark) in [
        ("pc", LOW, false),
        ("phone", PHONE, true),
        ("wide", WIDE, false),
    ] {
        let (folder, bench) = bench();
        let mut values = whole();
        values["name"] = json!("window");
        post(
            &bench,
            "window.toml",
            &json!({ "units": "mm", "values": values, "new": true }),
        );
        let path = folder.path().join("grinders/window.toml");
        let learnt = fs::read_to_string(&path).unwrap() + LEARNT;
        fs::write(&path, learnt).unwrap();
        heelclear_simulated(&folder.path().join("VB-31-2026-03-02"));
        let Some(page) = Browser::open(&bench.url(), size) else {
            return;
        };
        if dark {
            page.dark();
        }
        let take = |view: &str| page.picture(&format!("{name}-grinder-{view}"));
        page.until("document.getElementById('h-grinders')");
        page.js("document.getElementById('h-grinders').scrollIntoView({ behavior: 'instant' })");
        take("1-cards");
        page.press("edit-window.toml");
        for (view, id) in [
            ("2-top", "f-name"),
            ("3-wheel", "f-wheel-1"),
            ("4-fixture", "f-fixture-0"),
            ("5-cam", "f-motion-0"),
            ("6-axial", "f-fixture-1"),
        ] {
            page.until(&format!("document.getElementById('{id}')"));
            page.js(&format!(
                "document.getElementById('{id}').scrollIntoView({{ behavior: 'instant' }})"
            ));
            take(view);
        }
        page.fill("f-wheel-0-diameter_mm", "none");
        page.press("save-card");
        page.until("document.querySelector('[aria-invalid]')");
        take("7-objection");
        assert_ne!(
            page.js("return document.body.scrollWidth > window.innerWidth"),
            Value::Bool(true)
        );
    }
}
