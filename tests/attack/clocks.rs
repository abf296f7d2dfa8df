//! A wall clock that jumps by hours and years, forth and back, while each command works.

use crate::jobs::JOBS;
use crate::place::{Place, told};
use crate::shim::shim;
use crate::tally::{Tally, rounds};

#[test]
fn a_clock_that_jumps_changes_nothing_that_is_kept() {
    let Some(shim) = shim() else {
        return;
    };
    let mut tally = Tally::of("the clock jumps");
    for jumps in 1..=rounds().div_ceil(3) {
        for job in &JOBS {
            let place = Place::new();
            let output = place
                .command(job.arguments)
                .env("LD_PRELOAD", &shim)
                .env("HC_CLOCK", jumps.to_string())
                .output()
                .unwrap();
            let said = told(&output);
            tally.look(&said, output.status.code(), false);
            if output.status.code() == Some(2) {
                tally.wrong.push(format!("{}: {said}", job.name));
            }
            // A certificate has the day of its issue on it, which is another one then.
            if job.name != "archive certificate" {
                let holds = (job.holds)(&place, &String::from_utf8_lossy(&output.stdout));
                tally.lost.extend(holds.lost);
                tally.wrong.extend(holds.wrong);
            }
            tally.rounds += 1;
        }
        let place = Place::new();
        let output = place
            .command(&[
                "capture",
                "new",
                "--simulate",
                "counterbore-pass",
                "--faster",
                "60",
            ])
            .env("LD_PRELOAD", &shim)
            .env("HC_CLOCK", jumps.to_string())
            .output()
            .unwrap();
        tally.look(&told(&output), output.status.code(), false);
        let (status, said) = place.says(&["verify", "new"]);
        if status != Some(0) {
            tally
                .wrong
                .push(format!("capture: {}{said}", told(&output)));
        }
        tally.rounds += 1;
    }
    tally.told();
}
