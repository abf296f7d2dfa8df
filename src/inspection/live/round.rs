//! The turn as it fills: what was read at each place, least and most, and how often.

use super::super::capture::{Coverage, ToGo};
use crate::quantity::{Angle, Length};

/// One turn of the tool, in places as wide as the spacing that is wanted.
#[derive(Clone, Debug)]
pub struct Round {
    cells: Vec<Cell>,
    coverage: Coverage,
    version: u64,
}

/// One place of the turn.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Cell {
    /// The least and the greatest reading there; nothing before the first.
    pub readings: Option<(Length, Length)>,
    /// Readings there.
    pub count: u32,
    /// Of the round, when it was changed last.
    pub version: u64,
}

impl Round {
    /// Nothing read yet, with this angle between two readings wanted.
    pub fn new(spacing: Angle) -> Self {
        let coverage = Coverage::new(spacing);
        let places = coverage.passes().len();
        Self {
            cells: vec![Cell::default(); places],
            coverage,
            version: 0,
        }
    }

    /// A reading was taken at this angle.
    pub fn take(&mut self, angle: Angle, reading: Length) {
        if !angle.rad().is_finite() || !reading.mm().is_finite() {
            return;
        }
        self.coverage.take(angle);
        let place = self.coverage.place(angle);
        self.version += 1;
        if let Some(cell) = self.cells.get_mut(place) {
            let (least, most) = cell.readings.unwrap_or((reading, reading));
            cell.readings = Some((least.min(reading), most.max(reading)));
            cell.count += 1;
            cell.version = self.version;
        }
    }

    /// The places from angle 0 on. The first begins there, and each is as wide as the others.
    pub fn cells(&self) -> &[Cell] {
        &self.cells
    }

    /// Grows with each reading: who has seen one version needs only the cells changed since.
    pub fn version(&self) -> u64 {
        self.version
    }

    /// The places that were changed after a version, with their numbers.
    pub fn changed_since(&self, version: u64) -> impl Iterator<Item = (usize, &Cell)> {
        let cells = self.cells.iter().enumerate();
        cells.filter(move |(_, cell)| cell.version > version)
    }

    /// How often each place was passed.
    pub fn passes(&self) -> impl ExactSizeIterator<Item = u32> + '_ {
        self.coverage.passes()
    }

    /// Share of the turn, 0 to 1, of which every place was passed at least so often.
    pub fn covered(&self, passes: u32) -> f64 {
        self.coverage.share(passes)
    }

    /// What is still to be passed, as [`Coverage::to_go`] has it.
    pub fn to_go(&self, passes: u32, angle: Angle, growing: bool) -> Option<ToGo> {
        self.coverage.to_go(passes, angle, growing)
    }

    /// The least and the greatest reading of the whole turn.
    pub fn extent(&self) -> Option<(Length, Length)> {
        let readings = self.cells.iter().filter_map(|cell| cell.readings);
        readings.reduce(|all, one| (all.0.min(one.0), all.1.max(one.1)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_keeps_its_least_and_greatest_reading_and_what_changed_is_told_once() {
        let mut round = Round::new(Angle::from_deg(1.0));
        for (deg, um) in [(10.2, 5.0), (10.7, 9.0), (370.5, -2.0), (11.0, 1.0)] {
            round.take(Angle::from_deg(deg), Length::from_um(um));
        }
        let cell = round.cells()[10];
        assert_eq!(cell.count, 3);
        let (least, most) = cell.readings.unwrap_or_default();
        assert!((least.um() + 2.0).abs() < 1e-9 && (most.um() - 9.0).abs() < 1e-9);
        let seen = round.version();
        round.take(Angle::from_deg(200.1), Length::ZERO);
        let changed: Vec<_> = round.changed_since(seen).map(|(place, _)| place).collect();
        assert_eq!(changed, [200]);
    }

    #[test]
    fn near_the_end_it_is_told_where_to_turn_and_how_little_is_missing() {
        let mut round = Round::new(Angle::from_deg(0.5));
        for place in 0..710 {
            let deg = (f64::from(place) + 0.5) * 0.5;
            if place != 100 {
                round.take(Angle::from_deg(deg), Length::ZERO);
            }
        }
        // From 355° on nothing was read; the single place at 50° does not matter.
        let to_go = round.to_go(1, Angle::from_deg(30.0), false);
        let told = to_go
            .map(|to_go| [to_go.missing, to_go.next, to_go.all].map(|angle| angle.deg().round()));
        assert_eq!(told, Some([5.0, 30.0, 35.0]));
        assert_eq!(round.to_go(2, Angle::ZERO, false), None);
        for place in 710..720 {
            round.take(
                Angle::from_deg((f64::from(place) + 0.5) * 0.5),
                Length::ZERO,
            );
        }
        assert_eq!(round.to_go(1, Angle::ZERO, false), None);
    }

    #[test]
    fn what_is_not_a_number_changes_nothing() {
        let mut round = Round::new(Angle::from_deg(1.0));
        round.take(Angle::from_deg(f64::NAN), Length::ZERO);
        round.take(Angle::ZERO, Length::from_mm(f64::INFINITY));
        assert_eq!((round.version(), round.extent()), (0, None));
    }
}
