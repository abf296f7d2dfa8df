//! What a bridge says that does not go with what it said before, and that no flag tells.

use crate::gauge::frame::{Counters, Hello};

/// More counts a second than an encoder on a tool makes that is turned by hand: three times what a
/// bridge counts without loss (30,000 edges a second, `firmware-notes`). Of 4,000 counts a turn it is 25
/// turns a second (chosen, no source).
const FASTEST_A_SECOND: i64 = 100_000;

/// Counts that two lines of one moment may lie apart (chosen, no source).
const AT_ONCE: i64 = 8;

/// What a hello says of the bridge that stays as it is while it measures.
const LASTING: [&str; 4] = ["id", "tick", "quad", "ind"];

/// What was said last.
#[derive(Clone, Debug, Default)]
pub(super) struct Plausible {
    /// Microseconds and count.
    place: Option<(i64, i64)>,
    hello: Option<[Option<Vec<u8>>; LASTING.len()]>,
    counters: Option<Counters>,
    /// Steps that cannot be, told by samples when the counters came last.
    illegal_told: u64,
}

impl Plausible {
    /// Whether the count went further than a tool is turned in that time.
    pub fn jumps(&mut self, us: i64, count: i64) -> bool {
        let Some((before_us, before)) = self.place.replace((us, count)) else {
            return false;
        };
        let most = us.abs_diff(before_us) as i128 * i128::from(FASTEST_A_SECOND) / 1_000_000;
        i128::from(count.abs_diff(before)) > most + i128::from(AT_ONCE)
    }

    /// Whether another bridge says hello, or the same one after it was made to do otherwise.
    pub fn is_another(&mut self, hello: &Hello<'_>) -> bool {
        let said = LASTING.map(|key| hello.get(key).map(<[u8]>::to_vec));
        let before = self.hello.replace(said.clone());
        before.is_some_and(|before| before != said)
    }

    /// Whether the bridge counted steps of the encoder that cannot be, of which no sample told: its
    /// line was lost. `told` is how many samples did so far.
    pub fn hides_steps(&mut self, counters: &Counters, told: u64) -> bool {
        let before = self.counters.replace(*counters);
        let told_before = std::mem::replace(&mut self.illegal_told, told);
        before.is_some_and(|before| {
            let more = counters.illegal_steps.wrapping_sub(before.illegal_steps);
            // Counters that were cleared begin at 0.
            more > 0 && counters.illegal_steps != 0 && told == told_before
        })
    }

    /// The controller started anew, or the device was away: counts and counters begin again.
    pub fn begins_again(&mut self) {
        self.place = None;
        self.counters = None;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_count_that_no_hand_reaches_in_the_time_is_a_jump() {
        let mut said = Plausible::default();
        assert!(!said.jumps(0, 5_000_000));
        // Two lines of one moment, then 50 turns a minute of 4,000 counts each.
        assert!(!said.jumps(0, 5_000_003));
        assert!(!said.jumps(20_000, 5_000_070));
        assert!(said.jumps(22_000, 5_001_070));
        assert!(!said.jumps(24_000, 5_001_077));
        assert!(said.jumps(26_000, i64::MIN));
        assert!(said.jumps(i64::MAX, i64::MAX));
        said.begins_again();
        assert!(!said.jumps(27_000, 0));
    }

    #[test]
    fn a_hello_of_another_bridge_is_told() {
        let hello = |pairs| Hello { seq: 0, pairs };
        let mut said = Plausible::default();
        let first =
            b"proto=1,fw=0.1.0,id=ref328p,tick=1000000,quad=4,ind=bits24,max=96,baud=115200";
        assert!(!said.is_another(&hello(first)));
        // Another rate of the line is set while it goes on.
        let faster =
            b"proto=1,fw=0.1.0,id=ref328p,tick=1000000,quad=4,ind=bits24,max=96,baud=500000";
        assert!(!said.is_another(&hello(faster)));
        let other =
            b"proto=1,fw=0.1.0,id=ref328p,tick=1000000,quad=4,ind=bits52,max=96,baud=500000";
        assert!(said.is_another(&hello(other)));
        assert!(!said.is_another(&hello(other)));
    }

    #[test]
    fn steps_that_no_sample_told_of_are_told_by_the_counters() {
        let counted = |illegal_steps| Counters {
            illegal_steps,
            ..Counters::default()
        };
        let mut said = Plausible::default();
        // Before the first counters nobody listened.
        assert!(!said.hides_steps(&counted(65_535), 0));
        assert!(!said.hides_steps(&counted(65_535), 0));
        assert!(said.hides_steps(&counted(3), 0));
        assert!(!said.hides_steps(&counted(4), 1));
        // Cleared.
        assert!(!said.hides_steps(&counted(0), 1));
    }
}
