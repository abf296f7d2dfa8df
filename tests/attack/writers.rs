//! Two dozen of it at once on one archive, some of them killed.

use crate::place::{KEPT, NEW, Place, told};
use crate::tally::{Draw, Tally, rounds};
use std::process::Stdio;
use std::time::Duration;

const WRITERS: usize = 24;

#[test]
fn two_dozen_at_once_keep_each_record_once() {
    let mut tally = Tally::of(format!("{WRITERS} writers at once, every third killed"));
    let mut draw = Draw(24);
    for _ in 0..rounds().div_ceil(6) {
        let place = Place::new();
        let running: Vec<_> = (0..WRITERS)
            .map(|writer| {
                let name = NEW[writer % NEW.len()];
                let mut command =
                    place.command(&["archive", "add", name, "--as-judged", "--archive", "a.db"]);
                command.stdout(Stdio::piped()).stderr(Stdio::piped());
                command.spawn().unwrap()
            })
            .collect();
        let mut kept = Vec::new();
        for (writer, mut child) in running.into_iter().enumerate() {
            let killed = writer % 3 == 2;
            if killed {
                std::thread::sleep(Duration::from_micros(draw.below(4_000)));
                let _ = child.kill();
            }
            let output = child.wait_with_output().unwrap();
            let said = told(&output);
            tally.look(&said, output.status.code(), killed);
            match output.status.code() {
                Some(0) => kept.push(NEW[writer % NEW.len()]),
                // A queue may take longer than one waits for it: that is told.
                Some(2) if said.contains("archive-busy") => {}
                Some(_) => tally.wrong.push(said),
                None => {}
            }
        }
        let mut there = place.operators("a.db");
        there.sort();
        let all = there.len();
        there.dedup();
        if all != there.len() {
            tally.wrong.push(format!("a record is there twice: {all}"));
        }
        for name in kept.iter().chain(&KEPT) {
            if !there.iter().any(|it| it == name) {
                tally
                    .lost
                    .push(format!("`{name}` was kept, and is not there"));
            }
        }
        let (status, said) = place.says(&["archive", "check", "--archive", "a.db"]);
        if status != Some(0) {
            tally.wrong.push(said);
        }
        tally.rounds += WRITERS as u64;
    }
    tally.told();
}
