//! The whole way, from a card that is not there yet to a printed report, with the simulated gauge.

use super::browser::{Browser, PHONE, SHOP_PC, WIDE};
use super::server::{Bench, only_inspection};
use heelclear::card::GaugeCard;
use heelclear::inspection::{Folder, verify};
use serde_json::Value;
use tempfile::TempDir;

/// A bench in a folder of its own, and a browser of this size on it; nothing where there is none.
pub fn opened(size: (u32, u32)) -> Option<(TempDir, Bench, Browser)> {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::open(folder.path());
    let page = Browser::open(&bench.url(), size)?;
    Some((folder, bench, page))
}

/// Begins with a tool that does not exist, up to the stylus on the reference.
pub fn begin(page: &Browser, recipe: &str) {
    page.press(&format!("try-{recipe}"));
    page.press("begin");
    page.press("cautioned");
    page.press("sim-fast");
}

/// Sees which way the encoder counts, with the simulated hand that turns clockwise, and keeps it.
#[track_caller]
pub fn prove(page: &Browser) {
    page.until("document.getElementById('proof-do').textContent.includes('it grows clockwise')");
    page.press("proof-keep");
}

/// Sets the stylus for the step with this name, and waits until it is recorded.
#[track_caller]
pub fn record(page: &Browser, step: &str) {
    page.until(&format!(
        "document.querySelector('#steps [aria-current]').textContent.includes('{step}')"
    ));
    page.press("set");
    page.until(&format!(
        "document.getElementById('do').textContent.includes('Recording {step}')"
    ));
}

#[test]
fn from_no_card_to_a_report_in_the_archive() {
    let Some((folder, _bench, page)) = opened(SHOP_PC) else {
        return;
    };
    page.press("new-tool");
    page.press("save-card");
    // Nothing is filled in: each complaint stands beside its field, and the first has the focus.
    page.until(
        "document.getElementById('f-flutes-objection').textContent.includes('whole number')",
    );
    assert_eq!(page.js("return document.activeElement.id"), "f-id");
    page.fill("f-id", "VB-90");
    page.fill("f-name", "port counterbore");
    page.fill("f-flutes", "3");
    page.fill("f-feature-0-name", "seat");
    page.fill("f-feature-0-diameter_mm", "-16");
    page.fill("f-feature-0-limits-relief_angle_deg-min", "6,5");
    page.fill("f-feature-0-limits-relief_angle_deg-max", "9.5");
    page.press("save-card");
    page.until("document.getElementById('f-feature-0-diameter_mm-objection').textContent.includes('above 0')");
    page.fill("f-feature-0-diameter_mm", "16");
    // What is typed stays when the unit changes, there and back; what is no length is left alone.
    let typed = "return ['f-id', 'f-flutes', 'f-feature-0-diameter_mm', 'f-feature-0-check_distance_mm', 'f-feature-0-limits-relief_angle_deg-min'].map((id) => document.getElementById(id).value).join(' ')";
    page.press("units");
    assert_eq!(page.js(typed), "VB-90 3 0.6299213 0.019685 6,5");
    page.press("units");
    assert_eq!(page.js(typed), "VB-90 3 16 0.5 6,5");
    page.press("save-card");

    // The card that was just made is where the eye and the keyboard are.
    page.until("document.activeElement.id === 'measure-VB-90.toml' && window.scrollY === 0");
    page.press("measure-VB-90.toml");
    // What a lean does follows from the distances, so that they are asked for.
    page.until("document.getElementById('unplaced').textContent.startsWith('Steps 1 and 2 have')");
    page.fill("z-0", "35");
    page.fill("d-0", "12");
    page.fill("z-1", "1.5");
    page.until("document.getElementById('unplaced').textContent === ''");
    page.press("begin");
    // Nothing is opened and nothing moves before the cautions are confirmed.
    page.until("document.body.innerText.includes('Ground edges cut')");
    page.press("cautioned");
    page.press("sim-fast");
    // Nobody has seen yet which way the encoder counts.
    prove(&page);
    record(&page, "reference");
    record(&page, "seat");
    page.until("document.querySelectorAll('#so-far .figure').length > 1");
    page.until("document.querySelector('.verdict.pass')");
    page.until("document.querySelector('img.report').naturalWidth > 100");
    page.press("keep");
    page.until("document.body.innerText.includes('kept as record 1')");
    println!("{}", speed(&page));

    // What the page said is what the folder says.
    let inspection = only_inspection(folder.path());
    let opened = Folder::open(&inspection).unwrap();
    assert!(!opened.inspection.interrupted);
    assert_eq!(opened.inspection.traces.len(), 2);
    let record = verify(&opened).unwrap();
    let written = std::fs::read_to_string(inspection.join("verdict.json")).unwrap();
    assert_eq!(record.to_json().unwrap(), written);
    page.press("another");
    page.until("document.body.innerText.includes('port counterbore')");
}

/// What studies found of a gauge is in no field of its form, and goes through it in either unit.
#[test]
fn what_studies_found_stays_the_same_in_inches() {
    let Some((folder, _bench, page)) = opened(SHOP_PC) else {
        return;
    };
    let simulated = folder.path().join("bench");
    let tool = heelclear::simulator::built_in("counterbore-pass").unwrap();
    heelclear::inspection::simulated::write_folder(&tool, &simulated).unwrap();
    let text = std::fs::read_to_string(simulated.join("gauge.toml")).unwrap();
    let study = "\n[study.repeat]\ntaken = 2026-03-02T09:14:00Z\nrepeatability_mm = 0.0004\n";
    let card = GaugeCard::parse(&(text + study), "gauge.toml").unwrap();
    let path = folder.path().join("gauges/bench.toml");
    std::fs::write(&path, card.to_toml()).unwrap();
    let found = || {
        let text = std::fs::read_to_string(&path).unwrap();
        let table: toml::Table = toml::from_str(&text).unwrap();
        let repeat = table["study"]["repeat"].as_table().unwrap();
        let inches = repeat
            .get("repeatability_in")
            .map(|it| it.as_float().unwrap() * 25.4);
        inches.unwrap_or_else(|| repeat["repeatability_mm"].as_float().unwrap())
    };
    page.press("units");
    page.reload();
    page.press("edit-bench.toml");
    page.press("save-card");
    page.until("document.activeElement.id === 'edit-bench.toml'");
    assert!((found() - 0.0004).abs() < 1e-12, "{}", found());
    // Opened in inches and saved in millimetres.
    page.press("edit-bench.toml");
    page.until("document.getElementById('save-card')");
    page.press("units");
    page.press("save-card");
    page.until("document.activeElement.id === 'edit-bench.toml'");
    assert!((found() - 0.0004).abs() < 1e-12, "{}", found());
}

/// How fast the page was, as it counted itself: frames, and from a line taken in to its picture.
fn speed(page: &Browser) -> String {
    let told = page.js(
        "const m = window.heelclear.measured;
         const at = (list, share) => { const sorted = [...list].sort((a, b) => a - b); return sorted.length ? sorted[Math.floor(share * (sorted.length - 1))] : null; };
         return { frame_ms: [at(m.frame_ms, 0.5), at(m.frame_ms, 0.95)], latency_ms: [at(m.latency_ms, 0.5), at(m.latency_ms, 0.95)], seen: m.latency_ms.length };",
    );
    assert!(told["seen"].as_u64().unwrap() > 50, "{told}");
    let of = |name: &str, at: usize| told[name][at].as_f64().unwrap();
    format!(
        "a frame takes {:.1} ms (95 % within {:.1}); a line is on the screen {:.0} ms after it was taken in (95 % within {:.0})",
        of("frame_ms", 0),
        of("frame_ms", 1),
        of("latency_ms", 0),
        of("latency_ms", 1)
    )
}

/// As fast as a bridge can send: a thousand readings a second.
#[test]
fn a_thousand_readings_a_second_are_drawn_as_they_come() {
    let Some((_folder, _bench, page)) = opened(SHOP_PC) else {
        return;
    };
    page.press("try-counterbore-pass");
    page.press("begin");
    page.press("cautioned");
    page.until("document.getElementById('sim-fast')");
    page.js(
        "fetch('/api/connect', { method: 'POST', headers: { 'content-type': 'application/json', 'x-heelclear': '1' }, body: JSON.stringify({ faster: 20 }) })",
    );
    record(&page, "reference");
    record(&page, "seat");
    page.until("document.querySelector('.verdict.pass')");
    println!("at 1000 readings a second, {}", speed(&page));
}

#[test]
fn a_tool_that_drags_is_failed_with_its_remedy() {
    let Some((_folder, _bench, page)) = opened(WIDE) else {
        return;
    };
    begin(&page, "counterbore-heel-drag");
    record(&page, "reference");
    record(&page, "seat");
    page.until("document.querySelector('.verdict.fail')");
    page.until("document.querySelector('.remedy')");
    page.picture("wide-fail");
    assert!(page.text().contains("lower the land"), "{}", page.text());
}

#[test]
fn with_the_keyboard_alone() {
    let Some((_folder, _bench, page)) = opened(SHOP_PC) else {
        return;
    };
    for id in [
        "try-counterbore-pass",
        "begin",
        "cautioned",
        "sim-fast",
        "set",
    ] {
        page.tab_to(id);
    }
    page.until("document.getElementById('do').textContent.includes('Recording')");
    page.until("document.getElementById('set')");
    page.until("document.querySelector('#steps [aria-current]').textContent.includes('seat')");
    page.tab_to("set");
    page.until("document.querySelector('.verdict.pass')");
    page.tab_to("to-steps");
    page.until("document.getElementById('step-0')");
}

#[test]
fn two_pages_show_the_same_and_a_reload_changes_nothing() {
    let Some((_folder, bench, mut page)) = opened(SHOP_PC) else {
        return;
    };
    begin(&page, "counterbore-pass");
    record(&page, "reference");
    let first = page.beside(&bench.bare_url());
    page.until("document.getElementById('do').textContent.includes('Recording')");
    page.until("Number(document.getElementById('reading').textContent) > 0");
    page.reload();
    // What was covered before is drawn at once, and not only what comes from now on.
    page.until("document.getElementById('cover').value > 0.05");
    record(&page, "seat");
    page.switch(first);
    page.until("document.getElementById('do').textContent.includes('Recording seat')");
    page.until("document.querySelector('.verdict.pass')");
}

#[test]
fn inches_are_shown_where_they_are_wanted() {
    let Some((_folder, _bench, page)) = opened(SHOP_PC) else {
        return;
    };
    page.press("units");
    begin(&page, "inch-counterbore");
    page.until("document.getElementById('step-0').textContent.includes(' in')");
    record(&page, "reference");
    record(&page, "seat");
    page.until("document.querySelector('.verdict')");
    page.until("document.querySelector('.why .what')");
    let what = page.js("return document.querySelector('.why .what').textContent");
    let inches = |text: &str| text.contains(" in,") || text.contains('°');
    assert!(what.as_str().is_some_and(inches), "{what}");
}

/// Views as pictures in three sizes, for a person to look at.
#[test]
fn pictures_of_every_view_where_they_are_asked_for() {
    if std::env::var_os("HEELCLEAR_PICTURES").is_none() {
        println!("no pictures: HEELCLEAR_PICTURES names no folder");
        return;
    }
    for (name, size) in [("pc", SHOP_PC), ("phone", PHONE), ("wide", WIDE)] {
        let folder = tempfile::tempdir().unwrap();
        let bench = Bench::open(folder.path());
        let Some(page) = Browser::open(&bench.url(), size) else {
            return;
        };
        let take = |view: &str| page.picture(&format!("{name}-{view}"));
        page.until("document.getElementById('try-six-flute-reamer')");
        take("1-start");
        page.press("new-tool");
        page.press("save-card");
        page.until("document.querySelector('[aria-invalid]')");
        take("2-form");
        page.press("leave-form");
        page.press("try-six-flute-reamer");
        page.until("document.getElementById('begin')");
        take("3-plan");
        page.press("begin");
        page.until("document.body.innerText.includes('Ground edges cut')");
        take("4-cautions");
        page.press("cautioned");
        page.until("document.getElementById('sim-fast')");
        take("5-connect");
        page.press("sim-fast");
        page.until("document.getElementById('set')");
        take("6-stylus");
        page.press("set");
        page.until("document.getElementById('cover').value > 0.3");
        take("7-reference");
        page.press("set");
        page.until("document.querySelectorAll('#so-far .figure').length > 1");
        take("8-feature");
        page.until("document.querySelector('.verdict') && document.querySelector('img.report').naturalWidth > 100");
        take("9-verdict");
        assert_ne!(
            page.js("return document.body.scrollWidth > window.innerWidth"),
            Value::Bool(true)
        );
    }
}

#[test]
fn what_an_undecided_asks_for_is_added_and_decides_it() {
    let Some((folder, _bench, page)) = opened(SHOP_PC) else {
        return;
    };
    begin(&page, "counterbore-no-reference");
    record(&page, "seat");
    page.until("document.querySelector('.verdict.undecided')");
    page.press("add-reference");
    // Where it lies is needed, and why is said beside it.
    page.until("document.activeElement.id === 'reference-z'");
    page.press("reference-add");
    page.until(
        "document.getElementById('complaint').textContent.includes('distance from the front')",
    );
    page.fill("reference-z", "40");
    page.picture("pc-add-a-reference");
    page.press("reference-add");
    record(&page, "reference at 40");
    page.until("document.querySelector('.verdict.pass')");
    // Any other trace can be added as well, at the distance that is typed.
    page.press("to-steps");
    page.until("document.getElementById('more-what') && !document.getElementById('more').hidden");
    page.js("document.getElementById('more').open = true; document.getElementById('more-what').value = 'seat'");
    page.fill("more-z", "four");
    page.press("more-add");
    page.until("document.getElementById('complaint').textContent.includes('no number')");
    page.fill("more-z", "4");
    page.picture("pc-add-a-trace");
    page.press("more-add");
    record(&page, "seat at 4");
    page.until("document.querySelector('.verdict.pass')");
    let card = Folder::open(&only_inspection(folder.path()))
        .unwrap()
        .inspection;
    assert_eq!(card.traces.len(), 3);
    assert!(!card.interrupted);
}
