//! Which way the encoder counts: seen at the page before the first trace, kept, left out, made up for.

use super::browser::{Browser, PHONE, SHOP_PC, WIDE};
use super::server::{Bench, only_inspection};
use super::walk::{begin, opened, record};
use heelclear::card::{GaugeCard, Rotation};
use heelclear::inspection::{Folder, verify};
use heelclear::record::Verdict;
use std::path::Path;
use std::time::{Duration, Instant};

/// A tool that no recipe has: the simulated gauge is then as a new bench, of which nobody knows yet
/// which way its encoder counts.
const OWN_TOOL: &str = r#"{"units":"mm","values":{"id":"VB-91","name":"port counterbore","hand":"HAND","flutes":"3","feature":[{"name":"seat","surface":"radial","diameter_mm":"16","check_distance_mm":"0.5","limits":{"relief_angle_deg":{"min":"6.5","max":"9.5"}}}]}}"#;
const PLAN: &str = r#"{"tool":"VB-91.toml","gauge":null,"stage":"after-grind","steps":[{"feature":null,"z_mm":35,"diameter_mm":12},{"feature":"seat","z_mm":1.5}],"spacing_deg":0.5,"passes":2}"#;

/// Begins with it, up to the connecting of the gauge.
#[track_caller]
pub fn own_tool(bench: &Bench, hand: &str) {
    let card = OWN_TOOL.replace("HAND", hand);
    for (path, body) in [
        ("/api/cards/tool/VB-91.toml", card.as_str()),
        ("/api/begin", PLAN),
        ("/api/caution", "{}"),
    ] {
        let (status, answer) = bench.post(path, body);
        assert_eq!(status, 200, "{path}: {answer}");
    }
}

fn proven_in(folder: &Path) -> Option<Rotation> {
    let gauge = Folder::open(&only_inspection(folder)).unwrap().gauge;
    gauge.encoder.sense_proven.map(|proven| proven.grows)
}

#[test]
fn it_is_seen_before_the_first_trace_and_kept_on_the_card() {
    let Some((folder, bench, page)) = opened(SHOP_PC) else {
        return;
    };
    own_tool(&bench, "right");
    page.until(
        "document.getElementById('proof-first') && !document.getElementById('proof-first').hidden",
    );
    page.press("sim-fast");
    // The hand turns as soon as it is asked to, and what the angle does is shown large.
    page.until("document.getElementById('proof-do').textContent.includes('clockwise now')");
    page.until("Number(document.getElementById('proof-gone').textContent) > 10");
    page.until("document.activeElement.id === 'proof-keep'");
    // Once more, as who doubts would do.
    page.press("proof-again");
    page.until("!document.getElementById('proof-do').textContent.includes('it grows')");
    // With the keyboard alone: what is to be pressed has the focus by itself.
    page.until("document.activeElement.id === 'proof-keep'");
    page.tab_to("proof-keep");
    record(&page, "reference");
    assert_eq!(proven_in(folder.path()), Some(Rotation::Clockwise));
    record(&page, "seat");
    page.until("document.querySelector('.verdict.pass')");
    assert_eq!(
        page.js("return document.getElementById('prove-sense')"),
        serde_json::Value::Null
    );
}

#[test]
fn it_can_be_left_and_made_up_for_at_the_verdict() {
    let Some((folder, bench, page)) = opened(SHOP_PC) else {
        return;
    };
    own_tool(&bench, "left");
    page.press("sim-fast");
    page.press("proof-leave");
    record(&page, "reference");
    record(&page, "seat");
    page.until("document.querySelector('.verdict')");
    page.until("document.getElementById('prove-sense')");
    let inspection = only_inspection(folder.path());
    let before = verify(&Folder::open(&inspection).unwrap()).unwrap();
    let said = before.to_json().unwrap();
    assert!(
        said.contains("never proven") || said.contains("nobody has proven"),
        "{said}"
    );
    page.picture("pc-sense-left");
    page.press("prove-sense");
    page.until("document.getElementById('proof-do').textContent.includes('it grows')");
    page.press("proof-keep");
    // It is judged anew, with what is on the card now.
    page.until("document.querySelector('.verdict.pass')");
    assert!(proven_in(folder.path()).is_some());
    let after = verify(&Folder::open(&inspection).unwrap()).unwrap();
    assert_eq!(after.verdict, Some(Verdict::Pass));
    let written = std::fs::read_to_string(inspection.join("verdict.json")).unwrap();
    assert_eq!(after.to_json().unwrap(), written);
}

/// Watches without a browser until a page would be told this.
#[track_caller]
fn told(bench: &Bench, word: &str) {
    let began = Instant::now();
    let mut last = String::new();
    while began.elapsed() < Duration::from_secs(30) {
        last = bench.stands();
        if last.contains(word) {
            return;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    panic!("`{word}` never came: {last}");
}

/// A gauge card as its owner wrote it, comment and all.
const BENCH_CARD: &str = "schema = 1\n[indicator]\nresolution_mm = 0.001\nmax_error_mm = 0.002\nhysteresis_mm = 0.001\nlever_angle_deg = 0\n[stylus]\nshape = \"ball\"\nradius_mm = 1\n[encoder]\ncounts_per_rev = 4000 # on its plate\ngrows = \"counter-clockwise\"\n[setup]\nprobe_offset_mm = 0\nprobe_offset_tolerance_mm = 0.05\n";

#[cfg(unix)]
#[test]
fn a_card_that_nobody_had_seen_right_is_corrected_on_the_bench_too() {
    use heelclear::simulator::{Served, built_in};
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::open(folder.path());
    let mut scenario = built_in("counterbore-pass").unwrap();
    scenario.hand.rest_s = 2.5;
    scenario.hand.speed_deg_per_s = 90.0;
    let served = Served::start(scenario, 1.0).unwrap();
    let card = folder.path().join("gauges/bench-1.toml");
    std::fs::write(&card, BENCH_CARD).unwrap();
    let tool = OWN_TOOL.replace("HAND", "right");
    let plan = PLAN.replace("\"gauge\":null", "\"gauge\":\"bench-1.toml\"");
    let port = format!(r#"{{"port":"{}"}}"#, served.path());
    for (path, body) in [
        ("/api/cards/tool/VB-91.toml", tool.as_str()),
        ("/api/begin", &plan),
        ("/api/caution", "{}"),
        ("/api/connect", &port),
    ] {
        let (status, answer) = bench.post(path, body);
        assert_eq!(status, 200, "{path}: {answer}");
    }
    let (status, answer) = bench.post("/api/sense/keep", "{}");
    assert_eq!(status, 400, "{answer}");
    assert!(answer.contains("nothing was seen yet"), "{answer}");
    told(&bench, r#""seen":"clockwise""#);
    assert!(bench.stands().contains(r#""stated":"counter-clockwise""#));
    if let Some(page) = Browser::open(&bench.url(), PHONE) {
        page.until("!document.getElementById('proof-other').hidden");
        // Once more is what is suggested first.
        page.until("document.activeElement.id === 'proof-again'");
        let keep = page.js("return document.getElementById('proof-keep').textContent");
        assert_eq!(keep, "It was clockwise: correct the card");
        page.picture("phone-sense-other");
    }
    assert_eq!(bench.post("/api/sense/keep", "{}").0, 200);
    told(&bench, "the card said counter-clockwise");
    told(&bench, r#""phase":"setting""#);
    // All else stays as it was written.
    let kept = std::fs::read_to_string(&card).unwrap();
    let read = GaugeCard::parse(&kept, "bench-1.toml").unwrap().encoder;
    assert_eq!(read.sense_proven.unwrap().grows, Rotation::Clockwise);
    assert!(
        kept.contains("counts_per_rev = 4000 # on its plate\n"),
        "{kept}"
    );
    let copy = only_inspection(folder.path()).join("gauge.toml");
    assert_eq!(std::fs::read_to_string(copy).unwrap(), kept);
}

#[test]
fn a_newcomers_gauge_card_asks_for_the_sense_and_keeps_what_was_seen() {
    let Some((folder, _bench, page)) = opened(SHOP_PC) else {
        return;
    };
    page.press("new-gauge");
    page.fill("card-name", "bench-1");
    page.press("save-card");
    // It is not made up.
    page.until(
        "document.getElementById('f-encoder-grows-objection').textContent.includes('nothing is filled in')",
    );
    page.choose("f-encoder-grows", "clockwise");
    page.fill("f-setup-lean_mm", "0.01");
    page.fill("f-setup-lean_over_mm", "100");
    page.picture("pc-gauge-form");
    page.press("save-card");
    page.press("edit-bench-1.toml");
    page.until("document.getElementById('f-setup-lean_mm').value === '0.01'");
    let file = folder.path().join("gauges/bench-1.toml");
    let text = std::fs::read_to_string(&file).unwrap();
    let seen = "grows = \"clockwise\"\nsense_proven = { grows = \"clockwise\", on = 2026-03-02 }\n";
    std::fs::write(&file, text.replace("grows = \"clockwise\"\n", seen)).unwrap();
    page.press("leave-form");
    page.press("edit-bench-1.toml");
    page.until("document.body.innerText.includes('Seen to grow clockwise on 2026-03-02')");
    page.fill("f-setup-lean_mm", "0.02");
    page.press("save-card");
    page.until("document.activeElement.id === 'edit-bench-1.toml'");
    let proven = || {
        let text = std::fs::read_to_string(&file).unwrap();
        GaugeCard::parse(&text, "bench-1.toml")
            .unwrap()
            .encoder
            .sense_proven
    };
    assert_eq!(proven().unwrap().grows, Rotation::Clockwise);
    // What was seen does not speak for another statement.
    page.press("edit-bench-1.toml");
    page.choose("f-encoder-grows", "counter-clockwise");
    page.press("save-card");
    page.until("document.activeElement.id === 'edit-bench-1.toml'");
    assert_eq!(proven(), None);
}

/// What this is about in four sizes, for a person to look at.
#[test]
fn pictures_of_the_proof_where_they_are_asked_for() {
    if std::env::var_os("HEELCLEAR_PICTURES").is_none() {
        println!("no pictures: HEELCLEAR_PICTURES names no folder");
        return;
    }
    let laptop = (1366, 768);
    for (name, size) in [
        ("pc", SHOP_PC),
        ("phone", PHONE),
        ("laptop", laptop),
        ("wide", WIDE),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let bench = Bench::open(folder.path());
        let Some(page) = Browser::open(&bench.url(), size) else {
            return;
        };
        let take = |view: &str| {
            page.picture(&format!("{name}-{view}"));
            assert_ne!(
                page.js("return document.body.scrollWidth > window.innerWidth"),
                serde_json::Value::Bool(true),
                "{name}-{view}"
            );
        };
        let show = |id: &str| page.js(&format!("document.getElementById('{id}').scrollIntoView()"));
        page.press("new-gauge");
        page.until("document.getElementById('f-encoder-grows')");
        show("f-encoder-counts_per_rev");
        take("sense-gauge-form");
        page.press("leave-form");
        own_tool(&bench, "right");
        page.until("document.getElementById('proof-first')");
        take("sense-connect");
        page.press("sim-hand");
        page.until("Number(document.getElementById('proof-gone').textContent) > 20");
        take("sense-turning");
        page.until("document.getElementById('proof-keep')");
        take("sense-seen");
        page.press("leave");
        page.press("measure-VB-91.toml");
        page.until("document.getElementById('unplaced').textContent !== ''");
        take("sense-plan");
        page.press("back");
        begin(&page, "counterbore-no-reference");
        record(&page, "seat");
        page.press("add-reference");
        show("reference-wanted");
        take("sense-reference");
    }
}
