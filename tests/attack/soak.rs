//! A stream that does not end: ten thousand lines a second, nothing lost and no memory that grows.

use crate::place::Place;
use crate::tally::Tally;
use heelclear::quantity::Length;
use heelclear::sample::{Bench, FromBridge};
use std::fs;
use std::process::Stdio;
use std::time::{Duration, Instant};

/// Seconds of the soak.
fn seconds() -> u64 {
    let asked = std::env::var("HEELCLEAR_SOAK").ok();
    asked.and_then(|seconds| seconds.parse().ok()).unwrap_or(12)
}

/// Memory of a process in kB, as the system tells it.
fn memory(process: u32) -> Option<u64> {
    let status = fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

#[test]
fn a_long_stream_is_kept_whole_in_memory_that_does_not_grow() {
    let mut tally = Tally::of(format!("soaked for {} s", seconds()));
    let place = Place::new();
    // Fifty readings a second, two hundred times as fast.
    let recipe = place.run(&["simulate", "counterbore-pass", "--recipe"]);
    fs::write(place.path("recipe.toml"), recipe.stdout).unwrap();
    let rest = (seconds() * 200).to_string();
    let mut command = place.command(&[
        "capture",
        "long",
        "--simulate",
        "recipe.toml",
        "--faster",
        "200",
        "--rest",
        &rest,
        "--plain",
    ]);
    let mut child = command
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let began = Instant::now();
    let mut seen = Vec::new();
    while child.try_wait().unwrap().is_none() && began.elapsed().as_secs() < seconds() {
        seen.extend(memory(child.id()));
        std::thread::sleep(Duration::from_millis(200));
    }
    let _ = child.kill();
    let output = child.wait_with_output().unwrap();
    tally.look(&String::from_utf8_lossy(&output.stderr), None, true);
    let mut stream = FromBridge::new(Bench::new(Length::from_um(1.0), 4000, false));
    let log = fs::read(place.path("long/raw/rest.log")).unwrap_or_default();
    for piece in log.chunks(4096) {
        stream.feed(piece);
        stream.shed();
    }
    let came = stream.tally();
    if came.lost + came.refused + came.repeated > 0 {
        tally.lost.push(format!("{came:?}"));
    }
    println!(
        "{} lines came, memory {:?} kB",
        came.good,
        (seen.get(seen.len() / 3), seen.last())
    );
    tally.rounds = came.good;
    // What the live view needs is there after a third of it.
    if let (Some(third), Some(last)) = (seen.get(seen.len() / 3), seen.last())
        && *last > third + 8 * 1024
    {
        tally
            .wrong
            .push(format!("memory grew from {third} to {last} kB"));
    }
    assert!(came.good > 0, "{}", String::from_utf8_lossy(&output.stderr));
    tally.told();
}
