//! The surface that a wheel leaves on a tool which a fixture moves while it turns.

use super::motion::{Motion, PLACES, read_at};
use crate::quantity::Length;
use std::f64::consts::{FRAC_PI_2, TAU};

/// What of the wheel meets the tool, in the plane in which a land is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Section {
    /// A round of this radius.
    Round(Length),
    /// A straight line: the face of a cup, square to the direction of in-feed.
    Straight,
    /// A point.
    Point,
}

/// The plane in which a land is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Drawn {
    /// Across the axis; the radius is that of the edge.
    Across(Length),
    /// Along the circle of this radius, unrolled.
    Unrolled(Length),
}

impl Drawn {
    /// The plane of an unmoved round that stands so much above the edge; along the axis nothing is
    /// changed by it.
    #[must_use]
    pub(super) fn lifted(self, by: Length) -> Self {
        match self {
            Drawn::Across(radius) => Drawn::Across(radius + by),
            unrolled @ Drawn::Unrolled(_) => unrolled,
        }
    }
}

/// A ground surface over the turn of the cam: how far it lies below the surface that a fixture
/// without any motion would leave, `R0 - r`.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Ground {
    pub below: Vec<f64>,
}

/// No wheel touches farther from the line of centres than this on a land that can be relieved: its
/// slope would be as steep (`W / (R + W) tan a`, below).
const FARTHEST: f64 = 40.0 / 180.0 * std::f64::consts::PI;

impl Ground {
    /// The inner envelope of the wheel over the whole turn, for a gain of the throw.
    ///
    /// To second order it is `g m + (W / (R + W)) (g m')^2 / (2 R)`, which is what the tests hold it to.
    pub fn of(motion: &Motion, gain: f64, section: Section, drawn: Drawn) -> Self {
        let step = TAU / PLACES as f64;
        let deepest: Vec<f64> = motion.towards.iter().map(|height| gain * height).collect();
        let cut = Cut::of(section, drawn);
        let reach = (cut.reach().min(FARTHEST) / step).floor() as usize;
        // The same offsets come again at every place: what depends on them alone is worked out once.
        let offsets: Vec<f64> = (0..=reach).map(|at| at as f64 * step).collect();
        let shapes: Vec<At> = offsets.iter().map(|offset| cut.at(*offset)).collect();
        let below = (0..PLACES)
            .map(|place| {
                let mut most = f64::NEG_INFINITY;
                for (offset, shape) in shapes.iter().enumerate() {
                    for there in [place + offset, place + PLACES - offset] {
                        let moved = deepest.get(there % PLACES).copied().unwrap_or(0.0);
                        most = most.max(cut.below(moved, shape));
                    }
                }
                most
            })
            .collect();
        Self { below }
    }

    /// At an angle of the cam.
    pub fn at(&self, angle: f64) -> f64 {
        read_at(&self.below, angle / TAU * PLACES as f64)
    }
}

/// The geometry of one cut.
enum Cut {
    /// A circle of radius `wheel` that meets a surface of radius `tool`.
    Circle { tool: f64, wheel: f64 },
    /// A line square to the radius.
    Line { tool: f64 },
    /// A circle along an unrolled circle of radius `tool`.
    Unrolled { tool: f64, wheel: f64 },
    /// A point, or a line along the unrolled circle's normal.
    Point,
}

/// What an offset from the line of centres does, apart from the motion.
struct At {
    sin: f64,
    cos: f64,
    /// How far the wheel stands back there, unrolled.
    back: f64,
}

impl Cut {
    fn of(section: Section, drawn: Drawn) -> Self {
        match (section, drawn) {
            (Section::Round(wheel), Drawn::Across(tool)) => Cut::Circle {
                tool: tool.mm(),
                wheel: wheel.mm(),
            },
            (Section::Straight, Drawn::Across(tool)) => Cut::Line { tool: tool.mm() },
            (Section::Round(wheel), Drawn::Unrolled(tool)) => Cut::Unrolled {
                tool: tool.mm(),
                wheel: wheel.mm(),
            },
            // A flat side held along the whole circle would grind everything away: it is tilted until
            // only a line of it touches.
            (Section::Straight, Drawn::Unrolled(_)) | (Section::Point, _) => Cut::Point,
        }
    }

    /// How far from the line of centres the wheel can reach, in radians of the tool.
    fn reach(&self) -> f64 {
        match *self {
            Cut::Circle { tool, wheel } => (wheel / (tool + wheel)).asin() * 0.999,
            Cut::Line { .. } => FRAC_PI_2 * 0.5,
            Cut::Unrolled { tool, wheel } => wheel / tool * 0.999,
            Cut::Point => 0.0,
        }
    }

    fn at(&self, offset: f64) -> At {
        let (sin, cos) = offset.sin_cos();
        let back = match *self {
            Cut::Unrolled { tool, wheel } => {
                wheel - (wheel.powi(2) - (tool * offset).powi(2)).max(0.0).sqrt()
            }
            _ => 0.0,
        };
        At { sin, cos, back }
    }

    /// How far below the unmoved surface a wheel cuts at an offset, when the fixture has moved the tool
    /// so far there.
    fn below(&self, moved: f64, at: &At) -> f64 {
        match *self {
            Cut::Circle { tool, wheel } => {
                let centre = tool + wheel - moved;
                let under = wheel.powi(2) - (centre * at.sin).powi(2);
                if under < 0.0 {
                    return f64::NEG_INFINITY;
                }
                tool - (centre * at.cos - under.sqrt())
            }
            Cut::Line { tool } => tool - (tool - moved) / at.cos,
            Cut::Unrolled { .. } => moved - at.back,
            Cut::Point => moved,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::card::{CamLaw, RiseLaw, Turns};
    use crate::quantity::Angle;

    fn harmonic() -> Motion {
        let law = CamLaw {
            law: RiseLaw::Harmonic,
            rise: Length::from_mm(0.6),
            rise_arc: Angle::from_deg(60.0),
            dwell_arc: Angle::ZERO,
            return_arc: Angle::from_deg(60.0),
            lobes: 3,
        };
        Motion::of_law(&law, Length::from_mm(0.6), Turns::Cutting)
    }

    /// First principles: to second order the envelope is the motion and `(W/(R+W)) m'^2 / (2R)`.
    #[test]
    fn an_envelope_is_its_second_order_formula_where_that_holds() {
        let motion = harmonic();
        let (radius, wheel) = (10.0, 75.0);
        let section = Section::Round(Length::from_mm(wheel));
        let drawn = Drawn::Across(Length::from_mm(radius));
        for gain in [0.05, 0.2] {
            let ground = Ground::of(&motion, gain, section, drawn);
            // In the middle of the rise, where the slope is greatest and hardly changes.
            let angle = Angle::from_deg(30.0).rad();
            let slope = gain * 0.3 * 3.0;
            let expected = gain * 0.3 + wheel / (radius + wheel) * slope.powi(2) / (2.0 * radius);
            let off = (ground.at(angle) - expected).abs();
            let third = slope.powi(2) * gain * 3.0 / radius;
            assert!(off < third.max(5e-5), "{off} {third}");
        }
    }

    /// The design's worked figure, first principles: `W` 75, 0.6 mm harmonic over 60°, D 20.
    #[test]
    fn a_wheel_takes_off_tens_of_micrometres_more_than_a_point_on_a_steep_cam() {
        let motion = harmonic();
        let section = Section::Round(Length::from_mm(75.0));
        let drawn = Drawn::Across(Length::from_mm(10.0));
        let by_wheel = Ground::of(&motion, 1.0, section, drawn);
        let by_point = Ground::of(&motion, 1.0, Section::Point, drawn);
        let more = (0..PLACES).map(|at| by_wheel.below[at] - by_point.below[at]);
        let most = more.fold(0.0, f64::max);
        assert!((0.030..0.045).contains(&most), "{most}");
        assert!(
            by_wheel
                .below
                .iter()
                .zip(&by_point.below)
                .all(|(w, p)| *w >= p - 1e-12)
        );
    }

    #[test]
    fn without_motion_every_wheel_leaves_a_round() {
        for section in [
            Section::Round(Length::from_mm(75.0)),
            Section::Straight,
            Section::Point,
        ] {
            for drawn in [
                Drawn::Across(Length::from_mm(10.0)),
                Drawn::Unrolled(Length::from_mm(8.0)),
            ] {
                let ground = Ground::of(&harmonic(), 0.0, section, drawn);
                assert!(ground.below.iter().all(|below| below.abs() < 1e-12));
            }
        }
    }
}
