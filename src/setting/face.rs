//! Tools that are ground on the face of the tooth: what a grind costs of land and diameter.

use crate::quantity::{Angle, Length};

/// How much of the land a grind on the face takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FaceStock {
    /// By how far the face goes back, as an angle at the axis.
    Turned(Angle),
    /// What comes off the face at the edge, along the arc.
    AtEdge(Length),
}

/// A form-relieved tool after a grind on its face.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FaceGround {
    /// How far the face went back.
    pub turned: Angle,
    /// By how much the edge stands lower.
    pub comes_down: Length,
    /// Diameter that it leaves.
    pub diameter: Length,
    /// Relief at the new edge.
    pub relief: Angle,
}

/// How far the face goes back, as an angle: `s/(D/2)` for a stock `s` along the arc at the edge.
/// `None` without a diameter.
pub fn face_stock_turns(diameter: Length, stock: FaceStock) -> Option<Angle> {
    match stock {
        FaceStock::Turned(turned) => Some(turned),
        FaceStock::AtEdge(off) => {
            (diameter > Length::ZERO).then(|| Angle::from_rad(off / (diameter / 2.0)))
        }
    }
}

/// What a grind on a radial face leaves of a land that falls by the same for each degree, as a
/// relieving cam of constant rise makes it: the edge comes down by `(D/2) tan a` for each radian, so
/// by `s tan a` for a stock `s` along the arc (first principles; `tests/reference/relieving.csv`).
/// The land itself stays: why such tools are ground on the face (F. D. Jones, Turning and Boring,
/// Industrial Press, 1914, on relieving attachments). Its fall a degree stays too, on a smaller
/// radius, and so the relief grows a little.
///
/// `None` for a stock or a relief below nothing, and where nothing of the tool would be left.
///
/// ```
/// use heelclear::quantity::{Angle, Length};
/// use heelclear::setting::{FaceStock, grind_face};
/// let off = FaceStock::AtEdge(Length::from_mm(0.2));
/// let ground = grind_face(Length::from_mm(80.0), Angle::from_deg(12.0), off);
/// assert_eq!(ground.map(|it| format!("{:.6}", it.comes_down.mm())), Some("0.042511".to_owned()));
/// ```
pub fn grind_face(diameter: Length, relief: Angle, stock: FaceStock) -> Option<FaceGround> {
    let turned = face_stock_turns(diameter, stock)?;
    let usable = turned >= Angle::ZERO
        && turned < Angle::TURN
        && relief >= Angle::ZERO
        && relief < Angle::from_turns(0.25);
    if !usable {
        return None;
    }
    let fall = diameter / 2.0 * relief.rad().tan();
    let comes_down = fall * turned.rad();
    let left = diameter - comes_down * 2.0;
    (left > Length::ZERO).then(|| FaceGround {
        turned,
        comes_down,
        diameter: left,
        relief: Angle::from_rad((fall / (left / 2.0)).atan()),
    })
}

/// How many grinds on the face are left until the land is as short or the tool as small as it may
/// get, for the same angle each time: it is the angle that a fixture indexes by, and a stock along
/// the arc is worth a little more of it on each smaller edge.
///
/// `None` where no grind takes anything, or what is stated makes no tool.
pub fn face_grinds_left(
    diameter: Length,
    least_diameter: Option<Length>,
    relief: Angle,
    land: [Angle; 2],
    each: Angle,
) -> Option<u32> {
    let one = grind_face(diameter, relief, FaceStock::Turned(each))?;
    let [land, least_land] = land;
    if each <= Angle::ZERO || land < Angle::ZERO || least_land < Angle::ZERO {
        return None;
    }
    // A ten-thousandth of a grind is rounding, and no grind.
    let whole = |grinds: f64| (grinds + 1e-4).floor().clamp(0.0, 1e6);
    let by_land = whole((land - least_land) / each);
    let by_size = least_diameter
        .filter(|_| one.comes_down > Length::ZERO)
        .map(|least| whole((diameter - least) / (one.comes_down * 2.0)));
    Some(by_size.map_or(by_land, |by_size| by_land.min(by_size)) as u32)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::card::Surface;
    use crate::fit::Curve;

    /// The edge after the grind is a place of the old land.
    #[test]
    fn the_new_edge_lies_on_the_old_land() {
        let (diameter, relief) = (Length::from_mm(50.0), Angle::from_deg(10.0));
        let turned = Angle::from_deg(3.0);
        let ground = grind_face(diameter, relief, FaceStock::Turned(turned)).unwrap();
        let land = Curve::spiral(Surface::Radial, diameter / 2.0, relief);
        assert!((land.drop(turned) - ground.comes_down).abs() < Length::from_mm(1e-12));
        // So is any place behind it, seen from the new edge.
        let again = Curve::spiral(Surface::Radial, ground.diameter / 2.0, ground.relief);
        let farther = Angle::from_deg(7.0);
        let by_both = ground.comes_down + again.drop(farther);
        assert!((land.drop(turned + farther) - by_both).abs() < Length::from_mm(1e-12));
        assert!(ground.relief > relief);
    }

    #[test]
    fn grinds_are_left_until_land_or_size_ends() {
        #[track_caller]
        fn check(least_mm: Option<f64>, land_deg: [f64; 2], each_deg: f64, left: Option<u32>) {
            let found = face_grinds_left(
                Length::from_mm(50.0),
                least_mm.map(Length::from_mm),
                Angle::from_deg(10.0),
                land_deg.map(Angle::from_deg),
                Angle::from_deg(each_deg),
            );
            assert_eq!(found, left);
        }
        // A degree costs 2 x 0.076937 mm of the diameter.
        check(None, [30.0, 10.0], 1.0, Some(20));
        check(Some(49.0), [30.0, 10.0], 1.0, Some(6));
        check(Some(40.0), [30.0, 10.0], 1.0, Some(20));
        check(None, [10.0, 10.0], 1.0, Some(0));
        check(None, [5.0, 10.0], 1.0, Some(0));
        check(Some(51.0), [30.0, 10.0], 1.0, Some(0));
        check(None, [30.0, 10.0], 0.0, None);
        check(None, [30.0, -1.0], 1.0, None);
    }

    #[test]
    fn what_is_no_grind_leaves_nothing() {
        let (diameter, relief) = (Length::from_mm(50.0), Angle::from_deg(10.0));
        let at_edge = |mm| FaceStock::AtEdge(Length::from_mm(mm));
        assert_eq!(grind_face(diameter, relief, at_edge(-0.1)), None);
        assert_eq!(grind_face(diameter, relief, at_edge(f64::NAN)), None);
        assert_eq!(grind_face(diameter, relief, at_edge(200.0)), None);
        assert_eq!(grind_face(Length::ZERO, relief, at_edge(0.1)), None);
        assert_eq!(
            grind_face(diameter, Angle::from_deg(90.0), at_edge(0.1)),
            None
        );
        let none = grind_face(diameter, relief, at_edge(0.0)).unwrap();
        assert_eq!((none.diameter, none.comes_down), (diameter, Length::ZERO));
    }
}
