//! `ready` as a person meets it: a bench on a real pseudo-terminal, sound or with a fault.
#![cfg(unix)]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stderr
)]

use heelclear::gauge::Instrument;
use heelclear::gauge::serial::SerialInstrument;
use heelclear::simulator::{Scenario, Served, built_in};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};
use serde_json::Value;
use std::fs::{self, Permissions};
use std::io::{Read, Write};
use std::os::unix::fs::PermissionsExt;
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::Command;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

const PROGRAM: &str = env!("CARGO_BIN_EXE_heelclear");

/// A hand that waits before it turns, as a person does who was told to.
fn standing(rest_s: f64) -> Scenario {
    let mut scenario = built_in("counterbore-pass").unwrap();
    scenario.hand.rest_s = rest_s;
    scenario.hand.turns = 2.3;
    scenario.hand.speed_deg_per_s = 200.0;
    scenario.reference[0].turns = None;
    scenario
}

fn ready(place: &Path) -> Command {
    let mut command = Command::new(PROGRAM);
    command.arg("ready").current_dir(place);
    command.args(["--archive", "archive.db", "--json"]);
    command
}

/// Runs it; gives its status and the lines by what they are about.
#[track_caller]
fn lines(command: &mut Command) -> (i32, Vec<Value>) {
    let output = command.output().unwrap();
    let stdout = String::from_utf8(output.stdout).unwrap();
    let stderr = String::from_utf8_lossy(&output.stderr);
    assert!(!stdout.is_empty(), "{stderr}");
    let lines = stdout
        .lines()
        .map(|line| serde_json::from_str(line).unwrap());
    (output.status.code().unwrap(), lines.collect())
}

#[track_caller]
fn line<'a>(lines: &'a [Value], check: &str) -> &'a Value {
    let found = lines.iter().find(|line| line["check"] == check);
    found.unwrap_or_else(|| panic!("no line for {check}: {lines:#?}"))
}

/// The line says how it stands, and these words are in it.
#[track_caller]
fn says(lines: &[Value], check: &str, state: &str, words: &[&str]) {
    let line = line(lines, check);
    assert_eq!(line["state"], state, "{line:#}");
    let text = line.to_string();
    for word in words {
        assert!(text.contains(word), "`{word}` is not in {line:#}");
    }
}

/// What it says of this port, without a card.
fn at_port(port: &str) -> (i32, Vec<Value>) {
    let place = tempfile::tempdir().unwrap();
    lines(ready(place.path()).args(["--port", port]))
}

/// Checks a simulated bench on a pseudo-terminal with its own card, changed by `edit`.
fn served(
    scenario: Scenario,
    edit: impl Fn(String) -> String,
    arguments: &[&str],
) -> (i32, Vec<Value>) {
    let place = tempfile::tempdir().unwrap();
    let card = edit(scenario.gauge_card(None));
    fs::write(place.path().join("gauge.toml"), card).unwrap();
    let bridge = Served::start(scenario, 1.0).unwrap();
    let mut command = ready(place.path());
    command.args([
        "--port",
        &bridge.path(),
        "--gauge",
        "gauge.toml",
        "--seconds",
        "1",
    ]);
    lines(command.args(arguments))
}

#[test]
fn a_sound_bench_is_fine_in_every_line() {
    let (status, lines) = served(standing(2.5), |card| card, &["--turn"]);
    for line in &lines {
        // No known step has proven the scale of this bench, which is nothing to mend.
        let scale = line["check"] == "scale";
        let expected = if scale { "not checked" } else { "fine" };
        assert_eq!(line["state"], expected, "{line:#}");
    }
    assert_eq!(status, 0);
    let order: Vec<&str> = lines
        .iter()
        .map(|line| line["check"].as_str().unwrap())
        .collect();
    let expected = [
        "ports",
        "bridge",
        "indicator",
        "encoder",
        "noise",
        "drift",
        "index",
        "sense",
        "scale",
        "clock",
        "disk",
        "archive",
    ];
    assert_eq!(order, expected);
    says(
        &lines,
        "bridge",
        "fine",
        &["protocol 1", "firmware 0.1.0", "all whole"],
    );
    let figures = |check| &line(&lines, check)["figures"];
    let rate = figures("indicator")["readings_per_s"].as_f64().unwrap();
    assert!((rate - 50.0).abs() < 0.5, "{rate}");
    assert_eq!(figures("index")["counts_between_marks"], 4000.0);
    // The bench has 0.4 µm of noise and steps of 1 µm.
    let noise = figures("noise")["value_mm"].as_f64().unwrap();
    assert!((0.0003..0.0008).contains(&noise), "{noise}");
}

#[test]
fn a_figure_that_is_not_as_the_card_has_it_is_told_with_what_to_do() {
    let mut noisy = standing(1e6);
    noisy.bench.noise_mm = 0.02;
    let slower = |card: String| card + "[link]\nreadings_per_s = 100\n";
    let (status, lines) = served(noisy, slower, &[]);
    assert_eq!(status, 1);
    says(
        &lines,
        "indicator",
        "mend",
        &["50.0 readings", "the card says 100"],
    );
    says(&lines, "noise", "mend", &["µm", "shakes the bench"]);
    says(&lines, "index", "not checked", &["--turn"]);
}

#[test]
fn an_index_that_comes_at_another_count_names_what_the_card_should_say() {
    let lines_for_counts = |card: String| card.replace("4000", "1000");
    let (status, lines) = served(standing(2.5), lines_for_counts, &["--turn"]);
    assert_eq!(status, 1);
    says(&lines, "index", "mend", &["`counts_per_rev = 4000`"]);
}

#[test]
fn a_tool_that_is_turned_meanwhile_leaves_the_noise_unsettled() {
    let (status, lines) = served(standing(0.0), |card| card, &[]);
    assert_eq!(status, 3);
    says(
        &lines,
        "noise",
        "not settled",
        &["the tool was turned by", "leave tool and table"],
    );
}

#[test]
fn damaged_and_lost_lines_are_counted() {
    let mut scenario = standing(1e6);
    scenario.faults.bad_crc_per_1000 = 100.0;
    scenario.faults.lost_per_1000 = 100.0;
    let (status, lines) = served(scenario, |card| card, &[]);
    assert_eq!(status, 1);
    says(
        &lines,
        "bridge",
        "mend",
        &["lines damaged", "check the cable"],
    );
}

#[test]
fn a_bridge_that_goes_away_meanwhile_is_told() {
    let mut scenario = standing(1e6);
    scenario.faults.silence_after_s = Some(0.1);
    let (status, lines) = served(scenario, |card| card, &[]);
    assert_eq!(status, 2);
    says(
        &lines,
        "indicator",
        "mend",
        &["no readings came", "silence"],
    );
    says(&lines, "noise", "not checked", &["no readings came"]);
}

#[test]
fn an_absent_port_is_neither_busy_nor_forbidden() {
    let (status, lines) = at_port("/dev/none-such");
    assert_eq!(status, 2);
    says(
        &lines,
        "ports",
        "mend",
        &["port-absent", "there is no such port", "plug"],
    );
    says(
        &lines,
        "bridge",
        "not checked",
        &["the port could not be opened"],
    );
    says(&lines, "disk", "fine", &["free"]);
}

#[test]
fn a_busy_port_names_the_program_that_has_it() {
    let bridge = Served::start(standing(1e6), 1.0).unwrap();
    let mut first = SerialInstrument::new(bridge.path(), 115_200);
    let _open = first.open().unwrap();
    let (status, lines) = at_port(&bridge.path());
    assert_eq!(status, 2);
    let mine = format!("(process {})", std::process::id());
    says(
        &lines,
        "ports",
        "mend",
        &["port-busy", "in use by another program", &mine, "close"],
    );
}

#[test]
fn a_forbidden_port_names_who_may_open_it() {
    let place = tempfile::tempdir().unwrap();
    let bridge = Served::start(standing(1e6), 1.0).unwrap();
    let mut command = ready(place.path());
    command.args(["--port", &bridge.path()]);
    if nix::unistd::geteuid().is_root() {
        // Nothing is forbidden to root: it is tried as somebody who may read the program at most.
        fs::set_permissions(bridge.path(), Permissions::from_mode(0o600)).unwrap();
        fs::set_permissions(place.path(), Permissions::from_mode(0o777)).unwrap();
        command.uid(65_534).gid(65_534);
        if command.output().is_err() {
            eprintln!("not run: nobody else may start the program from where it was built");
            return;
        }
    } else {
        fs::set_permissions(bridge.path(), Permissions::from_mode(0o000)).unwrap();
    }
    let (status, lines) = lines(&mut command);
    assert_eq!(status, 2);
    says(
        &lines,
        "ports",
        "mend",
        &["port-forbidden", "may not open the port", "may open it"],
    );
}

#[test]
fn a_bench_without_a_port_is_not_said_to_be_ready() {
    let place = tempfile::tempdir().unwrap();
    let output = Command::new(PROGRAM)
        .args(["ready", "--archive", "archive.db"])
        .current_dir(place.path())
        .output()
        .unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(!text.contains("READY"), "{text}");
    assert!(text.contains("not checked: bridge, indicator"), "{text}");
    assert!(
        text.lines().all(|line| line.chars().count() <= 80),
        "{text}"
    );
}

/// A pseudo-terminal with somebody at its other end who hears what comes and the line's speed, and
/// says something every few milliseconds.
struct Peer {
    path: String,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Peer {
    fn new(mut says: impl FnMut(u32) -> Vec<u8> + Send + 'static) -> Self {
        let crate::pty::Pty {
            mut master,
            near: keep,
            path,
        } = crate::pty::Pty::open();
        let mut raw = tcgetattr(&keep).unwrap();
        raw.make_raw();
        tcsetattr(&keep, OptionalActions::Now, &raw).unwrap();
        rustix::io::ioctl_fionbio(&master, true).unwrap();
        let stop = Arc::new(AtomicBool::new(false));
        let stopped = Arc::clone(&stop);
        let thread = std::thread::spawn(move || {
            let mut buffer = [0; 256];
            while !stopped.load(Ordering::Relaxed) {
                let _ = master.read(&mut buffer);
                let speed = tcgetattr(&keep).unwrap().output_speed();
                let _ = master.write_all(&says(speed));
                std::thread::sleep(Duration::from_millis(20));
            }
        });
        Self {
            path,
            stop,
            thread: Some(thread),
        }
    }
}

impl Drop for Peer {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            thread.join().unwrap();
        }
    }
}

#[test]
fn a_device_that_says_nothing_is_told_to_be_silent() {
    let peer = Peer::new(|_| Vec::new());
    let (status, lines) = at_port(&peer.path);
    assert_eq!(status, 2);
    says(&lines, "ports", "fine", &["opens"]);
    says(
        &lines,
        "bridge",
        "mend",
        &["silence", "nothing came through it", "the power"],
    );
    says(&lines, "noise", "not checked", &["nothing that answers"]);
}

#[test]
fn a_wrong_speed_is_told_with_the_one_that_answers() {
    let place = tempfile::tempdir().unwrap();
    // The worked hello of bridge protocol 1, where the speed is right.
    let hello =
        b"H,0,proto=1,fw=0.1.0,id=ref328p,tick=1000000,quad=4,ind=bits24,max=96,baud=500000*46F8\n";
    let peer = Peer::new(|speed| match speed {
        500_000 => hello.to_vec(),
        _ => vec![0xF8, 0x80, 0x78, 0x0A, 0xE0],
    });
    let (status, lines) =
        lines(ready(place.path()).args(["--port", &peer.path, "--seconds", "0.5"]));
    assert_eq!(status, 2);
    says(
        &lines,
        "bridge",
        "mend",
        &[
            "read something else",
            "at 500000 baud a bridge answers",
            "`baud = 500000`",
        ],
    );
}

/// Runs the program where nothing more can be written; nothing where this user may not do that.
fn on_a_small_disk(arguments: &str) -> Option<(i32, String)> {
    let place = tempfile::tempdir().unwrap();
    let script = format!(
        "mount -t tmpfs -o size=32k none \"$1\" && cd \"$1\" && exec \"$0\" ready --archive archive.db {arguments}"
    );
    let ran = Command::new("unshare")
        .args(["-m", "sh", "-c", &script, PROGRAM])
        .arg(place.path())
        .output();
    let output = ran.ok().filter(|output| !output.stdout.is_empty())?;
    let text = String::from_utf8(output.stdout).unwrap();
    Some((output.status.code().unwrap(), text))
}

#[test]
fn a_full_disk_is_told_with_the_place() {
    let Some((status, text)) = on_a_small_disk("--json") else {
        eprintln!("not run: this user may not mount a small disk");
        return;
    };
    assert_eq!(status, 2, "{text}");
    let lines: Vec<Value> = text
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    says(&lines, "disk", "mend", &["cannot be written", "room"]);
}

#[test]
fn a_folder_that_cannot_be_written_to_is_told() {
    let place = tempfile::tempdir().unwrap();
    let file = place.path().join("file");
    fs::write(&file, "").unwrap();
    // Below a file nothing can be; the nearest folder above can.
    let (status, lines) = lines(ready(place.path()).args(["--folder", "file/inspections"]));
    assert_eq!(status, 0, "{lines:#?}");
    if nix::unistd::geteuid().is_root() {
        eprintln!("not run in full: root may write everywhere");
        return;
    }
    let shut = place.path().join("shut");
    fs::create_dir(&shut).unwrap();
    fs::set_permissions(&shut, Permissions::from_mode(0o500)).unwrap();
    let (status, lines) = self::lines(ready(place.path()).args(["--folder", "shut"]));
    assert_eq!(status, 2);
    says(&lines, "disk", "mend", &["cannot be written", "permission"]);
}

#[test]
fn an_archive_is_opened_and_its_last_records_looked_at() {
    let place = tempfile::tempdir().unwrap();
    let made = |arguments: &[&str]| {
        let output = Command::new(PROGRAM)
            .args(arguments)
            .current_dir(place.path())
            .output()
            .unwrap();
        assert!(output.status.code() != Some(2), "{output:?}");
    };
    made(&["simulate", "counterbore-pass", "--out", "one"]);
    made(&["archive", "add", "one", "--archive", "archive.db"]);
    let (status, before) = lines(&mut ready(place.path()));
    assert_eq!(status, 0, "{before:#?}");
    says(
        &before,
        "archive",
        "fine",
        &["1 record", "schema 3", "whole"],
    );

    // An inspection that was taken after now: one of the two clocks is wrong.
    made(&[
        "simulate",
        "counterbore-pass",
        "--seed",
        "2",
        "--out",
        "two",
    ]);
    let card = place.path().join("two/inspection.toml");
    let text = fs::read_to_string(&card).unwrap();
    fs::write(&card, text.replace("2026-03-02", "2096-03-02")).unwrap();
    made(&["archive", "add", "two", "--archive", "archive.db"]);
    let (status, later) = lines(&mut ready(place.path()));
    assert_eq!(status, 1);
    says(
        &later,
        "clock",
        "mend",
        &["the archive's last record is of 2096-03-02"],
    );

    let store = rusqlite::Connection::open(place.path().join("archive.db")).unwrap();
    store
        .execute("update record set operator = 'x' where number = 2", [])
        .unwrap();
    drop(store);
    let (status, broken) = lines(&mut ready(place.path()));
    assert_eq!(status, 2);
    says(
        &broken,
        "archive",
        "mend",
        &["archive-broken", "it was changed", "archive check"],
    );
}

#[test]
fn a_file_that_is_no_archive_is_told() {
    let place = tempfile::tempdir().unwrap();
    fs::write(place.path().join("archive.db"), "no archive").unwrap();
    let (status, lines) = lines(&mut ready(place.path()));
    assert_eq!(status, 2);
    says(&lines, "archive", "mend", &["archive-broken"]);
}

/// Proves the sense of a bench whose card says this of it; gives the status, the lines, and the card
/// as it is afterwards.
fn proven(said: &str) -> (i32, Vec<Value>, String) {
    let place = tempfile::tempdir().unwrap();
    let scenario = standing(2.5);
    let card = scenario.gauge_card(None);
    let stated = card.lines().filter(|line| line.contains("grows"));
    let stated: Vec<&str> = stated.collect();
    let card = card.replace(&stated.join("\n"), said);
    let path = place.path().join("gauge.toml");
    fs::write(&path, card).unwrap();
    let bridge = Served::start(scenario, 1.0).unwrap();
    let mut command = ready(place.path());
    command.args(["--port", &bridge.path(), "--gauge", "gauge.toml"]);
    let (status, lines) = lines(command.args(["--seconds", "1", "--prove-sense"]));
    (status, lines, fs::read_to_string(path).unwrap())
}

#[test]
fn a_sense_that_is_seen_is_kept_on_the_card() {
    for said in ["grows = \"clockwise\"", "positive = \"cutting\""] {
        let (status, lines, card) = proven(said);
        says(
            &lines,
            "sense",
            "fine",
            &["while the spindle turned clockwise"],
        );
        assert_eq!(status, 0, "{lines:#?}");
        assert!(
            card.contains("\ngrows = \"clockwise\"\nsense_proven = { grows = \"clockwise\", on = "),
            "{card}"
        );
        assert!(!card.contains("positive"), "{card}");
    }
}

#[test]
fn a_sense_that_is_seen_to_be_another_is_told_and_the_card_left_as_it_is() {
    let said = "grows = \"counter-clockwise\"";
    let (status, lines, card) = proven(said);
    says(
        &lines,
        "sense",
        "mend",
        &["it grows clockwise, and the card says", "write `grows = "],
    );
    assert_eq!(status, 1, "{lines:#?}");
    assert!(
        card.contains(said) && !card.contains("sense_proven"),
        "{card}"
    );
}

#[test]
fn a_sense_that_was_never_proven_is_not_settled() {
    let unproven = |card: String| {
        let lines = card
            .lines()
            .filter(|line| !line.starts_with("sense_proven"));
        lines.map(|line| format!("{line}\n")).collect()
    };
    let (status, lines) = served(standing(1e6), unproven, &[]);
    says(&lines, "sense", "not settled", &["--prove-sense"]);
    assert_eq!(status, 3, "{lines:#?}");
}
