//! This computer's clock: whether its time can be, and whether it runs evenly.

use super::{Check, What};
use jiff::{SignedDuration, Timestamp};
use std::time::{Duration, Instant};

/// No copy of this program is older: 2026-01-01T00:00:00Z, in seconds since 1970.
const PROGRAM_SECOND: i64 = 1_767_225_600;
/// Two computers that keep the time agree better.
const AGREE: SignedDuration = SignedDuration::from_mins(5);
/// A clock that is being put right slowly runs off by half a thousandth at most; more is a jump.
const JUMP: f64 = 0.05;
/// Below this nothing can be said of a clock's pace.
const WATCHED: Duration = Duration::from_millis(300);

/// The clocks at the start of the checks.
pub(super) struct Clock {
    start: Look,
}

/// Both clocks, looked at one after the other.
struct Look {
    before: Instant,
    told: Timestamp,
    after: Instant,
}

impl Look {
    fn now() -> Self {
        Self {
            before: Instant::now(),
            told: Timestamp::now(),
            after: Instant::now(),
        }
    }

    /// How long the looking took: a busy computer may do something else in the middle of it.
    fn took(&self) -> f64 {
        (self.after - self.before).as_secs_f64()
    }
}

impl Clock {
    pub(super) fn start() -> Self {
        Self { start: Look::now() }
    }

    /// Holds the time told to the time that ran, and to the newest record of the archive.
    pub(super) fn check(&self, last_record: Option<Timestamp>) -> Check {
        if self.start.after.elapsed() < WATCHED {
            std::thread::sleep(WATCHED);
        }
        let end = Look::now();
        let ran = (end.before - self.start.before).as_secs_f64();
        let told = end.told.duration_since(self.start.told).as_secs_f64();
        let slack = self.start.took() + end.took();
        judged(end.told, told, ran, slack, last_record)
    }
}

fn judged(
    now: Timestamp,
    told_s: f64,
    ran_s: f64,
    slack_s: f64,
    last_record: Option<Timestamp>,
) -> Check {
    let what = What::Clock;
    let set = "set the clock, best by having this computer fetch the time by itself";
    let shown = now.strftime("%Y-%m-%d %H:%M UTC").to_string();
    if now.as_second() < PROGRAM_SECOND {
        let found = format!("it is {shown}, before this program was made");
        return Check::mend(what, found, set);
    }
    if let Some(last) = last_record.filter(|last| last.duration_since(now) > AGREE) {
        let last = last.strftime("%Y-%m-%d %H:%M UTC");
        let found = format!("it is {shown}, but the archive's last record is of {last}");
        return Check::mend(what, found, set);
    }
    let jumped = told_s - ran_s;
    if jumped.abs() > JUMP + slack_s {
        let found = format!("it jumped by {jumped:+.2} s in the {ran_s:.1} s that this took");
        return Check::mend(
            what,
            found,
            "wait until the clock has been set, and look again; a capture dates its traces by it",
        )
        .with("jumped_s", jumped);
    }
    Check::fine(what, format!("{shown}, running evenly")).with("jumped_s", jumped)
}

#[cfg(test)]
mod tests {
    use super::super::State;
    use super::*;

    #[track_caller]
    fn check(now: &str, told_s: f64, last: Option<&str>, state: State, word: &str) {
        let moment = |text: &str| text.parse::<Timestamp>().unwrap_or_default();
        let check = judged(moment(now), told_s, 3.0, 0.001, last.map(moment));
        assert_eq!(check.state, state, "{}", check.found);
        assert!(check.found.contains(word), "{}", check.found);
    }

    #[test]
    fn a_clock_that_cannot_be_right_is_told_with_the_reason() {
        let noon = "2026-03-02T12:00:00Z";
        check(noon, 3.001, None, State::Fine, "running evenly");
        check(
            noon,
            3.001,
            Some("2026-03-02T11:59:00Z"),
            State::Fine,
            "12:00",
        );
        check(
            noon,
            3.001,
            Some("2026-03-02T12:03:00Z"),
            State::Fine,
            "12:00",
        );
        check(
            noon,
            3.001,
            Some("2026-04-02T12:00:00Z"),
            State::Mend,
            "last record",
        );
        check(noon, 63.0, None, State::Mend, "+60.00 s");
        check(noon, -57.0, None, State::Mend, "-60.00 s");
        check(
            "1970-01-01T00:03:00Z",
            3.0,
            None,
            State::Mend,
            "before this program",
        );
    }
}
