//! The narrowest burr and the narrowest land that the readings of a feature would have shown.
//!
//! A burr that stands no higher than the guard's threshold may be chance's. One that just reaches it
//! is told where a reading was taken upon it: it has to be as wide as the readings of all turns
//! lie apart. A ball makes a higher one wider, by `2 sqrt(2 p h)` where it stands `h` above the
//! threshold (to second order, plane geometry); once that is as wide as readings lie apart, no burr
//! is too narrow.

use super::few::{ON_LAND, spacing};
use super::figures::Plan;
use super::guard::{FARTHEST_TOUCH, Guard, Line};
use super::part::Part;
use crate::quantity::{Angle, Length};
use crate::shape::{Clamping, Tip, below_point};

/// What the readings of a feature would have shown behind each of its edges.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Visible {
    /// How far neighbouring readings lie apart at the most, those of all turns together.
    pub apart: Length,
    /// Width of the narrowest burr that would have been seen at `burr_height`.
    pub burr: Length,
    /// Height of the lowest burr that would have been seen, above the edge or above what the limit
    /// of the heel clearance allows.
    pub burr_height: Length,
    /// Height at which every burr would have been seen, however narrow; nothing where the tip may
    /// pass between two readings.
    pub any_burr_height: Option<Length>,
    /// Width of the narrowest land that would have been seen with its curve and its ends.
    pub land: Length,
}

impl Visible {
    /// What is seen behind every edge that was found; nothing where none was.
    pub(super) fn of(part: &Part, plan: &Plan, guard: &Guard) -> Option<Self> {
        let teeth = part.profile.teeth.iter().zip(&plan.teeth).enumerate();
        let each = teeth.filter_map(|(index, (tooth, tooth_plan))| {
            let tooth_plan = tooth_plan.as_ref()?;
            let line = Line::of(part, tooth_plan, index, guard.reach())?;
            let seen = Self {
                apart: part.clamping.radius * apart(guard, &line, tooth_plan.end)?.rad(),
                burr: Length::ZERO,
                burr_height: guard.threshold(&line),
                any_burr_height: None,
                land: spacing(part, tooth.as_ref()?) * ON_LAND as f64,
            };
            Some(seen)
        });
        // Behind every edge: the least of what is seen behind each.
        let least = each.reduce(|one, other| Self {
            apart: one.apart.max(other.apart),
            burr_height: one.burr_height.max(other.burr_height),
            land: one.land.max(other.land),
            ..one
        })?;
        Some(least.under(&part.clamping))
    }

    /// With what the tip makes wider.
    fn under(self, clamping: &Clamping) -> Self {
        let size = clamping.tip.size();
        let half = self.apart / 2.0;
        let (wider, reach) = match clamping.tip {
            Tip::Flat(_) => (size * 2.0, size),
            Tip::Ball(_) => (Length::ZERO, size * FARTHEST_TOUCH),
            Tip::Point => (Length::ZERO, Length::ZERO),
        };
        // A tip that stands between two readings on a burr is lower at both than upon it.
        let across = Angle::from_rad(half / clamping.radius);
        let below = match clamping.tip {
            _ if half > reach => None,
            Tip::Flat(_) => Some(Length::ZERO),
            Tip::Ball(_) | Tip::Point => below_point(clamping, clamping.radius, across),
        };
        Self {
            burr: (self.apart - wider).max(Length::ZERO),
            any_burr_height: below.map(|below| self.burr_height + below),
            ..self
        }
    }
}

/// The widest arc between neighbouring readings from an edge to the end of its land, with the count of
/// the encoder that both are uncertain by.
fn apart(guard: &Guard, line: &Line, end: Angle) -> Option<Angle> {
    let half = end / 2.0 + line.zone;
    let behind = |angle: Angle| (angle - line.edge - end / 2.0).shortest() + end / 2.0;
    let near = guard.within(line.edge + end / 2.0, half);
    let mut arcs: Vec<Angle> = near.iter().map(|near| behind(near.angle)).collect();
    arcs.sort_by(Angle::total_cmp);
    let on_land = arcs.windows(2);
    let on_land = on_land.filter(|pair| pair[1] > Angle::ZERO && pair[0] < end);
    let widest = on_land.map(|pair| pair[1] - pair[0]).reduce(Angle::max)?;
    Some(widest + guard.count)
}
