//! Each command that writes, killed at any instant of its work.

use crate::jobs::JOBS;
use crate::place::{Place, told};
use crate::tally::{Draw, Tally, rounds};
use std::process::Stdio;
use std::time::{Duration, Instant};

#[test]
fn killed_at_any_instant_each_command_leaves_what_was_whole() {
    for (job, seed) in JOBS.iter().zip(1..) {
        let mut tally = Tally::of(format!("killed: `{}`", job.name));
        let mut draw = Draw(seed);
        // From before its first byte to after its last.
        let place = Place::new();
        let began = Instant::now();
        place.run(job.arguments);
        let long = began.elapsed().as_micros() as u64;
        for _ in 0..rounds() {
            let place = Place::new();
            let mut command = place.command(job.arguments);
            command.stdout(Stdio::piped()).stderr(Stdio::piped());
            let mut child = command.spawn().unwrap();
            std::thread::sleep(Duration::from_micros(draw.below(long * 11 / 10)));
            child.kill().unwrap();
            let output = child.wait_with_output().unwrap();
            tally.look(&told(&output), output.status.code(), true);
            let holds = (job.holds)(&place, &String::from_utf8_lossy(&output.stdout));
            tally.lost.extend(holds.lost);
            tally.wrong.extend(holds.wrong);
            // Whatever was left, the same command does it then.
            let (status, said) = place.says(job.arguments);
            tally.look(&said, status, false);
            if status == Some(2) && !said.contains("already") {
                tally.wrong.push(format!("again: {said}"));
            }
            tally.rounds += 1;
        }
        tally.told();
    }
}
