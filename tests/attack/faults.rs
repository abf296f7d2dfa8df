//! Each command that writes, on a disk that fails at any of its calls: full, broken, or for good.

use crate::jobs::JOBS;
use crate::place::{Place, told};
use crate::shim::shim;
use crate::tally::{Draw, Tally, rounds};
use std::fs;

/// No room, a fault of the device, a quota, only to be read (`errno` of Linux).
const FAULTS: [(&str, &str); 4] = [
    ("no room", "28"),
    ("broken", "5"),
    ("quota", "122"),
    ("read-only", "30"),
];

#[test]
fn on_a_disk_that_fails_each_command_says_so_and_leaves_what_was_whole() {
    let Some(shim) = shim() else {
        return;
    };
    for (job, seed) in JOBS.iter().zip(1..) {
        let mut tally = Tally::of(format!("disk fails: `{}`", job.name));
        let mut draw = Draw(seed);
        let place = Place::new();
        let count = place.path("count");
        let counted = place
            .command(job.arguments)
            .env("LD_PRELOAD", &shim)
            .env("HC_COUNT", &count)
            .output()
            .unwrap();
        tally.look(&told(&counted), counted.status.code(), false);
        let calls: u64 = fs::read_to_string(count).unwrap().trim().parse().unwrap();
        assert!(calls > 0, "`{}` writes nothing", job.name);
        for _ in 0..rounds() {
            let place = Place::new();
            let (fault, number) = FAULTS[draw.below(4) as usize];
            let at = 1 + draw.below(calls);
            // Once, or for the rest of its work.
            let long = [1, 1_000_000][draw.below(2) as usize];
            let output = place
                .command(job.arguments)
                .env("LD_PRELOAD", &shim)
                .env("HC_FAIL_AT", at.to_string())
                .env("HC_FAIL_FOR", long.to_string())
                .env("HC_FAIL_WITH", number)
                .env("HC_HALF", draw.below(2).to_string())
                .output()
                .unwrap();
            let said = told(&output);
            tally.look(&said, output.status.code(), false);
            let holds = (job.holds)(&place, &String::from_utf8_lossy(&output.stdout));
            let round = |wrong: String| format!("{fault} at call {at} for {long}: {wrong}\n{said}");
            tally.lost.extend(holds.lost.into_iter().map(round));
            tally.wrong.extend(holds.wrong.into_iter().map(round));
            if output.status.code() == Some(2) && !said.contains("error") {
                tally.wrong.push(round("failed without a word".to_owned()));
            }
            // With the disk mended, the same command does it.
            let (status, said) = place.says(job.arguments);
            tally.look(&said, status, false);
            if status == Some(2) && !said.contains("already") {
                tally.wrong.push(round(format!("again: {said}")));
            }
            tally.rounds += 1;
        }
        tally.told();
    }
}
