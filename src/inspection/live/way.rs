//! Which way the tool is to be turned, and whether it is.

use super::motion::Direction;
use crate::card::Role;

/// Whether the tool turns the way that is safe for its edges.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// It stands still.
    Still,
    /// As it should.
    Right,
    /// Edge first, where the stylus may meet the face of a tooth.
    Wrong,
}

/// Whether a trace of this tool is to be turned heel first: with two teeth or more the stylus meets
/// the face of the next one where it is turned as it cuts, and can chip its edge (common practice,
/// no source). A land that is ridden on in an engaged fixture is turned back and forth.
pub(super) fn heel_first(teeth: u32, role: Option<&Role>) -> bool {
    teeth > 1 && !matches!(role, Some(Role::Residual(..)))
}

pub(super) fn way(direction: Direction, heel_first: bool) -> Way {
    match direction {
        Direction::Still => Way::Still,
        Direction::Cutting if heel_first => Way::Wrong,
        Direction::Cutting | Direction::Backing => Way::Right,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::card::Engaged;
    use crate::card::Surface;
    use crate::quantity::Length;

    #[test]
    fn edge_first_is_wrong_where_there_are_two_teeth_or_more() {
        #[track_caller]
        fn check(direction: Direction, teeth: u32, role: &Role, expected: Way) {
            assert_eq!(way(direction, heel_first(teeth, Some(role))), expected);
        }
        let seat = Role::Feature("seat".to_owned());
        check(Direction::Cutting, 2, &seat, Way::Wrong);
        check(Direction::Cutting, 2, &Role::Reference, Way::Wrong);
        check(Direction::Cutting, 1, &seat, Way::Right);
        check(Direction::Backing, 2, &seat, Way::Right);
        check(Direction::Still, 2, &seat, Way::Still);
        let throw = Length::from_mm(1.0);
        let direction = Surface::Radial;
        let ridden = Role::Residual("seat".to_owned(), Engaged { direction, throw });
        check(Direction::Cutting, 2, &ridden, Way::Right);
    }
}
