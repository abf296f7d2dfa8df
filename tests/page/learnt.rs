//! What finished grinds teach of a grinder: shown, kept on its card, and taken off again.

use super::browser::{Browser, PHONE, WIDE};
use super::server::Bench;
use super::shelf::as_measured;
use fantoccini::key::Key;
use heelclear::card::GrinderCard;
use heelclear::inspection::Folder;
use heelclear::inspection::grind::{Asked, learn, set_up, with_corrections};
use heelclear::inspection::simulated::{settings, write_folder};
use heelclear::record::SETUP_FILE;
use heelclear::simulator::{Scenario, built_in};
use serde_json::{Value, json};
use std::fs;
use std::path::Path;

const CARD: &str = "grinders/window.toml";
const LEARNT: &str = "/api/grinders/window.toml/learnt";

/// A worn tool on a grinder whose throw and cam are off by what its card does not say.
fn worn(seed: u64) -> Scenario {
    let mut tool = built_in("worn-four-flutes").unwrap();
    tool.seed = seed;
    for fixture in &mut tool.grinder.as_mut().unwrap().fixture {
        fixture.trace_motion = false;
        fixture.state_cam = true;
        fixture.throw_error = -0.06;
        fixture.cam_error_deg = 1.5;
    }
    tool.diameters_read()
}

/// A tool that was ground from its set-up and measured again.
fn ground(folder: &Path, number: u64) {
    let mut tool = worn(number);
    let dir = folder.join(format!("VB-25-after-{number}"));
    write_folder(&tool, &dir).unwrap();
    let card = GrinderCard::parse(&tool.grinder_card().unwrap(), "grinder.toml").unwrap();
    let setup = set_up(&Folder::open(&dir).unwrap(), &card, &Asked::default()).unwrap();
    fs::remove_dir_all(&dir).unwrap();
    for cut in &setup.cuts {
        tool = tool.grind(&settings(&tool, cut).unwrap()).unwrap().tool;
    }
    tool.setup = Some(SETUP_FILE.to_owned());
    tool.taken = format!("2026-03-0{number}T13:20:00Z");
    write_folder(&tool, &dir).unwrap();
    as_measured(&dir);
    fs::write(dir.join(SETUP_FILE), setup.to_json().unwrap()).unwrap();
}

/// A folder with the card of a grinder and grinds on it.
pub fn shop(folder: &Path, grinds: u64) {
    fs::create_dir_all(folder.join("grinders")).unwrap();
    fs::write(folder.join(CARD), worn(1).grinder_card().unwrap()).unwrap();
    // Set-ups are of the first of the month.
    (2..2 + grinds).for_each(|number| ground(folder, number));
}

fn card(folder: &Path) -> GrinderCard {
    let text = fs::read_to_string(folder.join(CARD)).unwrap();
    GrinderCard::parse(&text, CARD).unwrap()
}

fn json_of(answer: &str) -> Value {
    let (_, body) = answer.split_once("\r\n\r\n").unwrap();
    serde_json::from_str(body).unwrap()
}

fn look(bench: &Bench) -> Value {
    let (status, answer) = bench.ask("GET", LEARNT, &[], "");
    assert_eq!(status, 200, "{answer}");
    json_of(&answer)
}

fn say(bench: &Bench, what: &str, changes: &Value) -> (u16, Value) {
    let body = json!({ "what": what, "changes": changes }).to_string();
    let (status, answer) = bench.post(LEARNT, &body);
    (status, json_of(&answer))
}

/// What the command prints of these folders.
fn printed(folder: &Path, grinds: &[&str]) -> String {
    let mut command = assert_cmd::Command::cargo_bin("heelclear").unwrap();
    command.current_dir(folder).args(["setting", "learn"]);
    let output = command.args(grinds).output().unwrap();
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn the_page_tells_what_the_command_tells_and_keeps_what_it_keeps() {
    let folder = tempfile::tempdir().unwrap();
    shop(folder.path(), 3);
    let bench = Bench::open(folder.path());
    let told = look(&bench);
    let names = ["VB-25-after-4", "VB-25-after-3", "VB-25-after-2"];
    let lesson = &told["lessons"][0];
    let from: Vec<&str> = lesson["grinds"]
        .as_array()
        .unwrap()
        .iter()
        .map(|it| it["folder"].as_str().unwrap())
        .collect();
    assert_eq!(from, names);
    let printed = printed(folder.path(), &names);
    for row in lesson["rows"].as_array().unwrap() {
        let word = |name: &str| row[name].as_str().unwrap();
        let line = format!(
            "  {}, u {}: {}\n",
            word("error"),
            word("uncertainty"),
            word("known")
        );
        assert!(printed.contains(&line), "{line}{printed}");
    }
    let kept = lesson["rows"].as_array().unwrap().iter();
    let kept = kept.filter(|row| row["kept"] == true).count();
    assert_eq!(told["keep"].as_array().unwrap().len(), kept);
    assert!(kept > 0 && printed.contains("told from zero"), "{printed}");
    assert_eq!(told["forget"], json!([]));
    assert_eq!(told["is_kept"], false);

    let before = card(folder.path());
    // Something else than what was said is not done.
    assert_eq!(say(&bench, "keep", &json!(["throw opens +9.9 %"])).0, 400);
    assert_eq!(card(folder.path()), before);
    let (status, answer) = say(&bench, "keep", &told["keep"]);
    assert_eq!((status, &answer["count"]), (200, &json!(kept)), "{answer}");
    let folders = names.map(|name| Folder::open(&folder.path().join(name)).unwrap());
    let after = card(folder.path());
    let on = after.corrections[0].on;
    let lessons = learn(&folders, on).unwrap();
    assert_eq!(
        after,
        with_corrections(before.clone(), &lessons[0].corrections)
    );
    // What is kept again takes the place of itself.
    let told = look(&bench);
    assert_eq!(told["is_kept"], true);
    assert!(
        told["keep"][0].as_str().unwrap().contains("in place of"),
        "{told}"
    );
    assert_eq!(told["forget"].as_array().unwrap().len(), kept);
    assert_eq!(say(&bench, "forget", &json!([])).0, 400);
    assert_eq!(card(folder.path()), after);
    assert_eq!(say(&bench, "forget", &told["forget"]).0, 200);
    assert_eq!(card(folder.path()), before);
}

/// A change of one file of an inspection.
fn changed(folder: &Path, name: &str, file: &str, from: &str, to: &str) {
    let path = folder.join(name).join(file);
    let text = fs::read_to_string(&path).unwrap();
    assert!(text.contains(from), "{text}");
    fs::write(path, text.replacen(from, to, 1)).unwrap();
}

fn copied(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let target = to.join(path.file_name().unwrap());
        if path.is_dir() {
            copied(&path, &target);
        } else {
            fs::copy(&path, target).unwrap();
        }
    }
}

#[test]
fn what_teaches_nothing_is_left_out_with_its_reason() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path();
    shop(folder, 1);
    let taught = |bench: &Bench| look(bench)["lessons"].clone();
    let bench = Bench::open(folder);
    let alone = taught(&bench);
    let base = folder.join("VB-25-after-2");
    let copy = |name: &str| copied(&base, &folder.join(name));
    for name in [
        "again",
        "bare",
        "broken",
        "early",
        "elsewhere",
        "made-up",
        "unmeasured",
    ] {
        copy(name);
    }
    changed(
        folder,
        "bare",
        "inspection.toml",
        "setup = \"setup.json\"\n",
        "",
    );
    fs::write(folder.join("broken/setup.json"), "{}").unwrap();
    changed(
        folder,
        "early",
        "inspection.toml",
        "after-grind",
        "before-grind",
    );
    let name = card(folder).name;
    changed(
        folder,
        "elsewhere",
        SETUP_FILE,
        &json!(name).to_string(),
        "\"grinder in the yard\"",
    );
    fs::write(folder.join("made-up/simulated.txt"), "simulated").unwrap();
    let text = fs::read_to_string(folder.join("unmeasured/setup.json")).unwrap();
    let mut setup: Value = serde_json::from_str(&text).unwrap();
    let predicted = setup["predicted"].as_array_mut().unwrap();
    predicted.retain(|it| it["name"] == "heel-clearance");
    assert!(!predicted.is_empty());
    fs::write(folder.join("unmeasured/setup.json"), setup.to_string()).unwrap();
    changed(
        folder,
        "unmeasured",
        "inspection.toml",
        "taken = 2026-03-02",
        "taken = 2026-03-03",
    );

    let told = look(&bench);
    let left = told["left_out"].as_array().unwrap();
    let why = |name: &str| {
        let one = left.iter().find(|it| it["folders"][0] == name);
        let one = one.unwrap_or_else(|| panic!("{name} is not left out: {told}"));
        one["why"].as_str().unwrap().to_owned()
    };
    for (name, word) in [
        ("bare", "read no `setup`"),
        ("early", "before-grind"),
        ("elsewhere", "ground on `grinder in the yard`"),
        ("made-up", "simulated gauge"),
        ("unmeasured", "nothing that its set-up predicted"),
    ] {
        assert!(why(name).contains(word), "{name}: {}", why(name));
    }
    assert!(!why("broken").is_empty());
    // One grind that lies there twice counts once, and the others teach as if it were alone.
    let twice = left
        .iter()
        .filter(|it| it["why"].as_str().unwrap().contains("twice"));
    assert_eq!(twice.count(), 1, "{told}");
    assert_eq!(told["lessons"][0]["rows"], alone[0]["rows"]);
    assert_eq!(left.len(), 7, "{told}");
}

#[test]
fn another_grinders_card_keeps_nothing_and_no_name_leads_out() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path();
    shop(folder, 1);
    let fixture = card(folder).fixtures[0].name.clone();
    let text = fs::read_to_string(folder.join(CARD)).unwrap();
    let text = text.replace(&format!("\"{fixture}\""), "\"another head\"");
    fs::write(folder.join(CARD), &text).unwrap();
    let bench = Bench::open(folder);
    let told = look(&bench);
    assert!(
        told["refused"]["message"]
            .as_str()
            .unwrap()
            .contains("another head"),
        "{told}"
    );
    let (status, answer) = say(&bench, "keep", &told["keep"]);
    assert_eq!(status, 400);
    assert!(
        answer["error"]["message"]
            .as_str()
            .unwrap()
            .contains(&fixture),
        "{answer}"
    );
    assert_eq!(fs::read_to_string(folder.join(CARD)).unwrap(), text);
    let status = |path: &str| bench.ask("GET", path, &[], "").0;
    assert_eq!(status("/api/grinders/none.toml/learnt"), 404);
    assert_eq!(
        status("/api/grinders/..%2Fgrinders%2Fwindow.toml/learnt"),
        400
    );
    let burn = json!({ "what": "burn", "changes": [] }).to_string();
    assert_eq!(bench.post(LEARNT, &burn).0, 422);
    // A page of somewhere else cannot ask for a change.
    let body = json!({ "what": "forget", "changes": [] }).to_string();
    let from = ["Content-Type: application/json"];
    assert_eq!(bench.ask("POST", LEARNT, &from, &body).0, 403);
}

#[test]
fn kept_and_forgotten_with_the_keyboard_alone() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path();
    shop(folder, 2);
    let bench = Bench::open(folder);
    let Some(page) = Browser::open(&bench.url(), (1024, 600)) else {
        return;
    };
    page.tab_to("learnt-window.toml");
    page.until("document.querySelectorAll('.lesson tbody tr').length === 4");
    page.until("document.getElementById('learnt-keep')");
    // What changes is said before the button.
    let before = "document.getElementById('h-keep').compareDocumentPosition(document.getElementById('learnt-keep')) === Node.DOCUMENT_POSITION_FOLLOWING";
    page.until(before);
    assert!(
        page.text().contains("which the card does not correct yet"),
        "{}",
        page.text()
    );
    assert!(card(folder).corrections.is_empty());
    page.tab_to("learnt-keep");
    page.until("document.getElementById('learnt-said').textContent.includes('Kept')");
    page.until("document.activeElement === document.querySelector('main h2')");
    page.until("!document.getElementById('learnt-keep')");
    let kept = card(folder).corrections.len();
    assert!(kept > 0);
    page.until(&format!(
        "document.querySelectorAll('[aria-labelledby=h-forget] li').length === {kept}"
    ));
    page.tab_to("learnt-forget");
    page.until("document.getElementById('learnt-said').textContent.includes('Took')");
    page.until("!document.getElementById('learnt-forget')");
    assert!(card(folder).corrections.is_empty());
    page.key(Key::Tab);
    page.tab_to("learnt-back");
    page.until("document.activeElement.id === 'learnt-window.toml'");
}

#[test]
fn pictures_of_what_grinds_teach_where_they_are_asked_for() {
    if std::env::var_os("HEELCLEAR_PICTURES").is_none() {
        println!("no pictures: HEELCLEAR_PICTURES names no folder");
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path();
    shop(folder, 3);
    copied(&folder.join("VB-25-after-2"), &folder.join("bare"));
    changed(
        folder,
        "bare",
        "inspection.toml",
        "setup = \"setup.json\"\n",
        "",
    );
    let bench = Bench::open(folder);
    for (name, size, dark) in [
        ("pc", (1024, 600), false),
        ("phone", PHONE, true),
        ("wide", WIDE, false),
    ] {
        let Some(page) = Browser::open(&bench.url(), size) else {
            return;
        };
        if dark {
            page.dark();
        }
        page.until("document.getElementById('h-grinders')");
        page.js("document.getElementById('h-grinders').scrollIntoView({ behavior: 'instant' })");
        page.picture(&format!("{name}-learnt-0-start"));
        page.press("learnt-window.toml");
        page.until("document.querySelector('.lesson')");
        page.picture(&format!("{name}-learnt-1"));
        page.js("document.getElementById('h-keep').scrollIntoView({ behavior: 'instant' })");
        page.picture(&format!("{name}-learnt-2-keep"));
        page.press("learnt-keep");
        page.until("document.getElementById('learnt-forget')");
        page.picture(&format!("{name}-learnt-3-kept"));
        page.js("document.getElementById('h-left').scrollIntoView({ behavior: 'instant' })");
        page.picture(&format!("{name}-learnt-4-left"));
        page.press("learnt-forget");
        page.until("document.getElementById('learnt-said').textContent.includes('Took')");
        assert_ne!(
            page.js("return document.body.scrollWidth > window.innerWidth"),
            Value::Bool(true)
        );
    }
}
