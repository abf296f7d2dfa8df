//! Where the encoder's index stands in a stream's counts: it ties counts of two zeros together.

/// Counts by which an index edge may come early or late: one period of the encoder's lines, and
/// one count that may be under way (bridge protocol 1).
pub(super) const INDEX_WIDTH: i64 = 4 + 1;

/// The count at an index edge, for either direction of passing; nothing where it was not passed.
///
/// The two edges of an index pulse stand apart, so that one direction says nothing of the other.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct IndexPlace {
    /// The count where it was passed counting up.
    pub forwards: Option<i64>,
    /// The count where it was passed counting down.
    pub backwards: Option<i64>,
}

impl IndexPlace {
    /// Whether the index was never passed.
    pub fn is_unknown(&self) -> bool {
        *self == Self::default()
    }

    /// With so many counts added.
    pub fn moved(&self, by: i64) -> Self {
        Self {
            forwards: self.forwards.map(|count| count + by),
            backwards: self.backwards.map(|count| count + by),
        }
    }

    /// What is known here, and where nothing is, what the other knows.
    pub fn or(&self, other: &Self) -> Self {
        Self {
            forwards: self.forwards.or(other.forwards),
            backwards: self.backwards.or(other.backwards),
        }
    }

    /// Counts to be added to this stream so that its index stands where the other has it, by the
    /// shorter way round. Nothing where they were not passed in the same direction, or where the
    /// two directions tell different things.
    pub fn shift_onto(&self, other: &Self, counts_per_turn: u32) -> Option<i64> {
        let per_turn = i64::from(counts_per_turn);
        let nearest = |off: i64| (off + per_turn / 2).rem_euclid(per_turn) - per_turn / 2;
        let way = |mine: Option<i64>, theirs: Option<i64>| Some(nearest(theirs? - mine?));
        let forwards = way(self.forwards, other.forwards);
        let backwards = way(self.backwards, other.backwards);
        match (forwards, backwards) {
            (Some(one), Some(two)) if nearest(one - two).abs() > INDEX_WIDTH => None,
            (one, two) => one.or(two),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn place(forwards: Option<i64>, backwards: Option<i64>) -> IndexPlace {
        IndexPlace {
            forwards,
            backwards,
        }
    }

    #[test]
    fn the_same_direction_ties_by_the_shorter_way_round() {
        #[track_caller]
        fn check(mine: IndexPlace, theirs: IndexPlace, expected: Option<i64>) {
            assert_eq!(mine.shift_onto(&theirs, 4000), expected);
        }
        let none = place(None, None);
        check(place(Some(100), None), place(Some(350), None), Some(250));
        check(place(Some(3900), None), place(Some(100), None), Some(200));
        check(place(Some(100), None), place(Some(8100), None), Some(0));
        check(place(None, Some(-40)), place(Some(7), Some(60)), Some(100));
        check(place(Some(100), None), place(None, Some(100)), None);
        check(none, place(Some(1), Some(1)), None);
        // Both ways, within the width of the index and beyond it.
        check(place(Some(0), Some(4)), place(Some(10), Some(16)), Some(10));
        check(place(Some(0), Some(4)), place(Some(10), Some(90)), None);
    }
}
