//! A disk that never answers, here a pipe into which nobody writes: it is told of, and holds up nobody
//! who asks for something else.

use super::browser::{Browser, SHOP_PC};
use super::server::{Bench, Served};
use heelclear::inspection::simulated::write_folder;
use heelclear::page::Limits;
use heelclear::simulator::built_in;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::Command;
use std::time::Duration;

const HANGS: Duration = Duration::from_secs(60);

fn served(folder: &Path) -> Bench {
    Bench::with(Served {
        limits: Limits {
            disk: Duration::from_secs(1),
            file: Duration::from_millis(500),
            ..Limits::default()
        },
        ..Served::of(folder)
    })
}

/// A pipe in place of whatever is there.
fn pipe(path: &Path) {
    let _ = std::fs::remove_file(path);
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    assert!(Command::new("mkfifo").arg(path).status().unwrap().success());
}

/// The page is served and told how things stand.
#[track_caller]
fn goes_on(bench: &Bench, stream: &mut TcpStream) {
    for path in ["/", "/api/here", "/assets/main.js", "/manual/undecided"] {
        assert_eq!(bench.ask("GET", path, &[], "").0, 200, "{path}");
    }
    assert!(bench.stands().contains("inspection"));
    let (mut told, mut some) = (String::new(), [0; 4096]);
    while !told.contains("event: alive") {
        let count = stream.read(&mut some).unwrap();
        assert!(count > 0, "{told}");
        told += &String::from_utf8_lossy(&some[..count]);
    }
}

/// Asks for this, with others served meanwhile, and gives what is answered in the end.
#[track_caller]
fn asked(bench: &Bench, method: &str, path: &str, body: &str) -> (u16, String) {
    let mut stream = TcpStream::connect(bench.address).unwrap();
    stream.set_read_timeout(Some(HANGS)).unwrap();
    let request = bench.begun("GET", "/api/stream") + "\r\n";
    stream.write_all(request.as_bytes()).unwrap();
    std::thread::scope(|scope| {
        let asking = scope.spawn(|| match method {
            "POST" => bench.post(path, body),
            _ => bench.ask(method, path, &[], body),
        });
        goes_on(bench, &mut stream);
        asking.join().unwrap()
    })
}

/// It is refused in words that name the file: late, or for what it is.
#[track_caller]
fn is_told(answer: &(u16, String), file: &str) {
    let (status, text) = answer;
    assert!((400..600).contains(status), "{text}");
    assert!(text.contains(file), "{file}: {text}");
}

fn inspection(folder: &Path, name: &str) {
    write_folder(&built_in("counterbore-pass").unwrap(), &folder.join(name)).unwrap();
}

#[test]
fn cards_that_never_come_are_listed_as_such_beside_all_others() {
    let folder = tempfile::tempdir().unwrap();
    inspection(folder.path(), "whole");
    inspection(folder.path(), "piped");
    inspection(folder.path(), "without-tool");
    inspection(folder.path(), "with-grinder");
    for file in [
        "tools/pipe.toml",
        "gauges/pipe.toml",
        "grinders/pipe.toml",
        "shop.toml",
        "piped/inspection.toml",
        "without-tool/tool.toml",
        "with-grinder/grinder.toml",
    ] {
        pipe(&folder.path().join(file));
    }
    let sound = folder.path().join("whole/tool.toml");
    std::fs::copy(sound, folder.path().join("tools/sound.toml")).unwrap();
    let bench = served(folder.path());
    // More often than there are threads that could hang.
    for _ in 0..3 {
        let (status, answer) = asked(&bench, "GET", "/api/start", "");
        assert_eq!(status, 200, "{answer}");
        let start: serde_json::Value =
            serde_json::from_str(answer.split_once("\r\n\r\n").unwrap().1).unwrap();
        let listed = |kind: &str, file: &str, key: &str| {
            let all = start[kind].as_array().unwrap();
            let found = all.iter().find(|card| card["file"] == file);
            !found.unwrap_or_else(|| panic!("{kind} lack {file}"))[key].is_null()
        };
        assert!(listed("tools", "sound.toml", "said"));
        for kind in ["tools", "gauges", "grinders"] {
            assert!(listed(kind, "pipe.toml", "problem"), "{kind}");
        }
        assert!(!start["shop"]["problem"].is_null(), "{}", start["shop"]);
        let inspections = start["inspections"].to_string();
        assert!(
            inspections.contains("\"folder\":\"whole\""),
            "{inspections}"
        );
    }
    for (path, file) in [
        ("/api/cards/tool/pipe.toml", "pipe.toml"),
        ("/api/cards/gauge/pipe.toml", "pipe.toml"),
        ("/api/cards/shop/shop.toml", "shop.toml"),
        ("/api/grinders/pipe.toml/learnt", "pipe.toml"),
        ("/api/grinder?inspection=with-grinder", "grinder.toml"),
    ] {
        let answer = asked(&bench, "GET", path, "");
        // One that says nothing of what it waits for names what was asked.
        let named = answer.1.contains("the grinder's card");
        is_told(&answer, if named { "grinder" } else { file });
    }
    let plan = r#"{"tool":"TOOL.toml","gauge":"pipe.toml","stage":"after-grind","steps":[{"feature":"seat","z_mm":2}],"spacing_deg":0.5,"passes":2}"#;
    for tool in ["pipe", "sound"] {
        let answer = asked(&bench, "POST", "/api/begin", &plan.replace("TOOL", tool));
        is_told(&answer, "pipe.toml");
    }
    let (status, answer) = asked(&bench, "GET", "/api/archive/unkept", "");
    assert!(
        status == 200 && answer.contains("\"folder\":\"whole\""),
        "{answer}"
    );
    // What can be read is gone on with.
    let answer = bench.post("/api/resume", r#"{"folder":"whole"}"#);
    assert_eq!(answer.0, 200, "{}", answer.1);
    assert!(bench.stands().contains("\"folder\":\"whole\""));
}

#[test]
fn an_inspection_that_never_comes_is_told_and_the_one_under_way_stays() {
    let folder = tempfile::tempdir().unwrap();
    inspection(folder.path(), "whole");
    let bench = served(folder.path());
    assert_eq!(bench.post("/api/resume", r#"{"folder":"whole"}"#).0, 200);
    for file in [
        "tool.toml",
        "gauge.toml",
        "plan.toml",
        "notes.txt",
        "verdict.json",
        "traces/seat.csv",
        "photographs/photograph-01.jpg",
    ] {
        inspection(folder.path(), "piped");
        pipe(&folder.path().join("piped").join(file));
        let (status, answer) = asked(&bench, "POST", "/api/resume", r#"{"folder":"piped"}"#);
        let stands = bench.stands();
        let now = if status == 200 { "piped" } else { "whole" };
        assert!(
            stands.contains(&format!("\"folder\":\"{now}\"")),
            "{file}: {answer}\n{stands}"
        );
        assert!(
            status == 200 || answer.contains("piped") || answer.contains(file),
            "{file}: {answer}"
        );
        asked(&bench, "GET", "/api/inspections/piped/report.svg", "");
        asked(&bench, "GET", "/api/photographs/photograph-01.jpg", "");
        assert_eq!(
            bench.post("/api/resume", r#"{"folder":"whole"}"#).0,
            200,
            "{file}"
        );
        std::fs::remove_dir_all(folder.path().join("piped")).unwrap();
    }
}

#[test]
fn an_archive_that_never_answers_is_told_and_notes_go_on() {
    let folder = tempfile::tempdir().unwrap();
    inspection(folder.path(), "whole");
    for file in ["archive.db", "try-out.db"] {
        pipe(&folder.path().join(file));
    }
    let bench = served(folder.path());
    assert_eq!(bench.post("/api/resume", r#"{"folder":"whole"}"#).0, 200);
    assert_eq!(bench.post("/api/judge", "{}").0, 200);
    while !bench.stands().contains("\"judging\":\"done\"") {
        std::thread::sleep(Duration::from_millis(50));
    }
    for path in [
        "/api/archive/tools?source=bench",
        "/api/archive/tools?source=simulated",
        "/api/archive/record?source=bench&record=a%2F1",
        "/api/records?source=bench&tool=VB-07",
        "/api/archive/sources",
    ] {
        is_told(&asked(&bench, "GET", path, ""), "archive");
    }
    is_told(&asked(&bench, "POST", "/api/keep", "{}"), "");
    let note = r#"{"text":"written while the archive hangs"}"#;
    assert_eq!(bench.post("/api/notes", note).0, 200);
    let kept = std::fs::read_to_string(folder.path().join("whole/notes.txt")).unwrap();
    assert!(kept.contains("while the archive hangs"), "{kept}");
}

#[test]
fn the_start_shows_what_it_waits_for_and_a_tool_is_chosen_all_the_same() {
    let folder = tempfile::tempdir().unwrap();
    inspection(folder.path(), "whole");
    inspection(folder.path(), "piped");
    pipe(&folder.path().join("tools/pipe.toml"));
    pipe(&folder.path().join("piped/inspection.toml"));
    let bench = served(folder.path());
    let Some(page) = Browser::open(&bench.url(), SHOP_PC) else {
        return;
    };
    page.until("document.getElementById('resume-whole')");
    page.until("document.body.innerText.includes('pipe.toml')");
    page.picture("pc-start-waits");
    page.press("resume-whole");
    page.until("document.getElementById('where').textContent.includes('whole')");
}
