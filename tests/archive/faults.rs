//! Killed, out of room, read-only, locked, two at once: nothing reported as kept is lost, nothing
//! is there by half, and trying again works.

use crate::bench::{Bench, PROGRAM, Said};
use rusqlite::Connection;
use std::collections::BTreeSet;
use std::fs::{self, File, Permissions};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

/// Small folders that differ in a card alone.
fn many(bench: &Bench, count: usize) -> Vec<String> {
    let base = bench.inspection("base", 1);
    let trace = fs::read_to_string(base.join("traces/seat.csv")).unwrap();
    let few: Vec<&str> = trace.lines().take(40).collect();
    let card = fs::read_to_string(base.join("inspection.toml")).unwrap();
    let name = |number: usize| format!("i{number:03}");
    for number in 0..count {
        let folder = bench.path(&name(number));
        fs::create_dir_all(folder.join("traces")).unwrap();
        for file in ["tool.toml", "gauge.toml"] {
            fs::copy(base.join(file), folder.join(file)).unwrap();
        }
        let card = card.replace("bench 2", &format!("hand {number}"));
        fs::write(folder.join("inspection.toml"), card).unwrap();
        for file in ["seat.csv", "shank.csv"] {
            fs::write(folder.join("traces").join(file), few.join("\n") + "\n").unwrap();
        }
    }
    (0..count).map(name).collect()
}

fn add(bench: &Bench, folders: &[String]) -> Command {
    let mut command = Command::new(PROGRAM);
    command
        .args(["archive", "add", "--json", "--archive"])
        .arg(bench.db());
    command.args(folders).current_dir(bench.path("."));
    command
}

/// The operators of all records, each of which was of one folder.
fn operators(bench: &Bench) -> Vec<String> {
    let listed = bench
        .archive(&["list", "--limit", "0", "--json", "--replaced"])
        .ended(0)
        .json();
    let name = |record: &serde_json::Value| record["operator"].as_str().unwrap().to_owned();
    listed.iter().map(name).collect()
}

/// Kills are many where somebody asks for it: `HEELCLEAR_KILLS=500 cargo test --test archive`.
fn kills() -> u64 {
    let asked = std::env::var("HEELCLEAR_KILLS").ok();
    asked.and_then(|kills| kills.parse().ok()).unwrap_or(24)
}

#[test]
fn killed_at_any_instant_it_keeps_what_it_reported_and_nothing_by_half() {
    let kills = kills();
    let folders = 150;
    let mut bench = Bench::new();
    let mut names = many(&bench, folders);
    let mut reported = BTreeSet::new();
    let mut killed_within = 0;
    for kill in 0..kills {
        if reported.len() == folders {
            // All are in: from the beginning again.
            bench = Bench::new();
            names = many(&bench, folders);
            reported.clear();
        }
        let out = bench.path("out.json");
        let mut child = add(&bench, &names)
            .stdout(File::create(&out).unwrap())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        // From before the file is there to after the last commit, and not twice the same.
        std::thread::sleep(Duration::from_micros(2_000 + kill * 7_919 % 160_000));
        killed_within += u64::from(child.try_wait().unwrap().is_none());
        child.kill().unwrap();
        child.wait().unwrap();
        let said = fs::read_to_string(&out).unwrap();
        let (whole, _) = said.split_at(said.rfind('\n').map_or(0, |end| end + 1));
        for line in whole.lines() {
            let line: serde_json::Value = serde_json::from_str(line).unwrap();
            let folder = line["folder"].as_str().unwrap();
            let number: usize = folder[1..].parse().unwrap();
            reported.insert(format!("hand {number}"));
        }
        if !bench.db().exists() {
            assert!(reported.is_empty());
            continue;
        }
        bench.archive(&["check"]).ended(0).says("whole: ");
        let there = operators(&bench);
        let distinct: BTreeSet<String> = there.iter().cloned().collect();
        assert_eq!(distinct.len(), there.len(), "a folder is there twice");
        assert!(
            distinct.is_superset(&reported),
            "a reported one is lost, kill {kill}"
        );
    }
    assert!(
        killed_within > 0,
        "every run had ended before it was killed"
    );
    assert!(add(&bench, &names).output().unwrap().status.success());
    assert_eq!(operators(&bench).len(), folders);
    bench
        .archive(&["check"])
        .ended(0)
        .says("whole: 150 records");
}

#[test]
fn a_full_disk_is_told_keeps_what_was_kept_and_later_goes_on() {
    let bench = Bench::new();
    let names = many(&bench, 10);
    assert!(add(&bench, &names[..2]).output().unwrap().status.success());
    let mut traces = String::new();
    // Numbers that do not pack well, so that a few folders need more room than there is.
    for number in 0_u64..6_000 {
        let reading = number.wrapping_mul(0x9e37_79b9_7f4a_7c15) >> 40;
        traces += &format!("{number},0.5,{reading}\n");
    }
    for name in &names {
        fs::write(
            bench.path(name).join("traces/seat.csv"),
            format!("a,b,{name}\n{traces}"),
        )
        .unwrap();
    }
    let limited = "trap '' XFSZ; ulimit -f 100; exec \"$0\" archive add --archive \"$@\"";
    let ran = Command::new("sh")
        .args(["-c", limited, PROGRAM])
        .arg(bench.db())
        .args(&names)
        .current_dir(bench.path("."))
        .output();
    let said = Said::of(ran.unwrap()).ended(2);
    said.says("error[disk]").says("room").says("add them again");
    bench.archive(&["check"]).ended(0).says("whole: 2 records");
    assert!(add(&bench, &names).output().unwrap().status.success());
    bench.archive(&["check"]).ended(0).says("whole: 12 records");
}

/// A command that runs in a place of its own, where it may put a small disk; `None`, and told,
/// where the system does not let it.
fn with_own_disks() -> Option<Vec<&'static str>> {
    for own in [&["unshare", "-m"][..], &["unshare", "-r", "-m"]] {
        let test = "mount -t tmpfs -o size=64k none /mnt";
        let mut command = Command::new(own[0]);
        let tried = command.args(&own[1..]).args(["sh", "-c", test]).output();
        if tried.is_ok_and(|output| output.status.success()) {
            return Some(own.to_vec());
        }
    }
    println!("not run: the system lets nobody mount a small disk");
    None
}

#[test]
fn a_disk_that_is_really_full_keeps_what_was_kept_and_later_goes_on() {
    let Some(own) = with_own_disks() else {
        return;
    };
    let bench = Bench::new();
    let names = many(&bench, 40);
    // Bytes that do not pack, so that a few folders fill the disk.
    for (number, name) in names.iter().enumerate() {
        let mut state = number as u64 + 1;
        let bytes: Vec<u8> = (0..30_000)
            .map(|_| {
                state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1);
                (state >> 56) as u8
            })
            .collect();
        fs::write(bench.path(name).join("photo.jpg"), bytes).unwrap();
    }
    fs::create_dir(bench.path("disk")).unwrap();
    // The disk is gone when the shell ends, so all of it happens in one.
    let script = r#"
        set -u
        archive() { "$PROGRAM" archive "$@" --archive disk/archive.db; }
        mount -t tmpfs -o size=1100k none disk || exit 90
        archive add i00* || exit 91
        archive add i01* || exit 91
        archive add i0* && exit 92
        archive check || exit 93
        archive list --limit 0 --json | grep -c '"number"'
        archive backup disk/copy.db && exit 94
        mount -o remount,size=20m disk || exit 95
        archive add i0* || exit 96
        archive check || exit 97
        archive list --limit 0 --json | grep -c '"number"'
    "#;
    let mut command = Command::new(own[0]);
    command.args(&own[1..]).args(["sh", "-c", script]);
    command.env("PROGRAM", PROGRAM).current_dir(bench.path("."));
    let said = Said::of(command.output().unwrap()).ended(0);
    let counts: Vec<usize> = said
        .stdout
        .lines()
        .filter_map(|it| it.parse().ok())
        .collect();
    assert_eq!(counts, [20, 40]);
    said.says("error[disk]")
        .says("room")
        .says("whole: 40 records");
}

#[test]
fn a_locked_archive_is_waited_for_then_told_and_reading_goes_on() {
    let bench = Bench::new();
    let names = many(&bench, 2);
    assert!(add(&bench, &names[..1]).output().unwrap().status.success());
    let other = Connection::open(bench.db()).unwrap();
    other.execute_batch("begin immediate").unwrap();
    bench.archive(&["list"]).ended(0);
    let said = Said::of(add(&bench, &names).output().unwrap()).ended(2);
    said.says("error").says("archive-busy").says("try again");
    // One that ends in time is only waited for.
    std::thread::scope(|scope| {
        let adding = scope.spawn(|| add(&bench, &names).output().unwrap());
        std::thread::sleep(Duration::from_millis(500));
        other.execute_batch("rollback").unwrap();
        assert!(adding.join().unwrap().status.success());
    });
    bench.archive(&["check"]).ended(0).says("whole: 2 records");
}

#[test]
fn two_programs_that_add_the_same_folders_make_each_record_once() {
    let bench = Bench::new();
    let names = many(&bench, 130);
    // None of them finds the file there.
    let running: Vec<_> = (0..3)
        .map(|_| {
            let mut command = add(&bench, &names);
            command
                .stdout(Stdio::piped())
                .stderr(Stdio::piped())
                .spawn()
                .unwrap()
        })
        .collect();
    let mut new = 0;
    for child in running {
        let said = Said::of(child.wait_with_output().unwrap()).ended(0);
        new += said
            .json()
            .iter()
            .filter(|line| line["new"] == true)
            .count();
    }
    assert_eq!(new, names.len());
    bench
        .archive(&["check"])
        .ended(0)
        .says("whole: 130 records");
}

/// Runs without the right to write everywhere, which the super-user has whatever the permissions.
fn as_anybody(program: &str) -> Option<Command> {
    let id = Command::new("id").arg("-u").output().ok()?;
    if id.stdout.trim_ascii() != b"0" {
        return Some(Command::new(program));
    }
    let mut command = Command::new("setpriv");
    command.args(["--reuid=65534", "--regid=65534", "--clear-groups"]);
    let works = Command::new("setpriv")
        .args([
            "--reuid=65534",
            "--regid=65534",
            "--clear-groups",
            program,
            "--version",
        ])
        .output();
    if !works.is_ok_and(|output| output.status.success()) {
        println!("not run: no other user may start the program");
        return None;
    }
    command.arg(program);
    Some(command)
}

fn allow(path: &Path, mode: u32) {
    fs::set_permissions(path, Permissions::from_mode(mode)).unwrap();
}

#[test]
fn a_folder_that_may_only_be_read_is_read_and_writing_is_told() {
    let bench = Bench::new();
    let names = many(&bench, 2);
    assert!(add(&bench, &names[..1]).output().unwrap().status.success());
    allow(&bench.path("."), 0o555);
    allow(&bench.db(), 0o444);
    let run = |arguments: &[&str]| {
        let mut command = as_anybody(PROGRAM)?;
        command
            .arg("archive")
            .args(arguments)
            .arg("--archive")
            .arg(bench.db());
        Some(Said::of(
            command.current_dir(bench.path(".")).output().unwrap(),
        ))
    };
    if let Some(said) = run(&["list"]) {
        said.ended(0).says("hand 0");
        run(&["check"]).unwrap().ended(0).says("whole: 1 records");
        run(&["add", &names[1]])
            .unwrap()
            .ended(2)
            .says("error[disk]")
            .says("may write");
        run(&["backup", "copy.db"])
            .unwrap()
            .ended(2)
            .says("error[disk]");
    }
    allow(&bench.path("."), 0o755);
    allow(&bench.db(), 0o644);
    bench.archive(&["add", &names[1]]).ended(0);
}
