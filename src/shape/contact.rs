//! Where the stylus touches: the inverse offset from its centre along the path's normal.

use super::Tip;
use super::place::{Place, Plane};

/// The place on the surface under a stylus whose centre passes `centre` with the slope
/// `slope` (change of height per radian of arc, mm).
///
/// For a ball the surface lies its radius below the centre along the normal of the centre's path
/// (the path is an offset curve of the surface). A flat face is a line that touches its envelope;
/// where that would lie beyond its end, it touches with the end.
pub(super) fn contact(tip: Tip, plane: Plane, centre: Place, slope: f64) -> Place {
    let arm = plane.arm(centre.height);
    match (tip, plane) {
        (Tip::Point, _) => centre,
        (Tip::Ball(radius), Plane::Polar) => {
            let radius = radius.mm();
            let length = arm.hypot(slope);
            let up = centre.height - radius * arm / length;
            let across = radius * slope / length;
            beside(centre, up, across)
        }
        (Tip::Ball(radius), Plane::Unrolled { .. }) => {
            let radius = radius.mm();
            let length = arm.hypot(slope);
            Place {
                arc: centre.arc + radius * slope / length / arm,
                height: centre.height - radius * arm / length,
            }
        }
        (Tip::Flat(half_width), Plane::Polar) => {
            let reach = half_width.mm();
            // The envelope of lines at distance h(arc) from the axis touches at h'(arc) across.
            beside(centre, centre.height, slope.clamp(-reach, reach))
        }
        (Tip::Flat(half_width), Plane::Unrolled { .. }) => {
            // Nothing turns here, so a flat touches with its uphill end as soon as there is a hill.
            let uphill = if slope > 0.0 { 1.0 } else { -1.0 };
            Place {
                arc: centre.arc + uphill * half_width.mm() / arm,
                height: centre.height,
            }
        }
    }
}

/// The polar place that lies `up` along the centre's own radius and `across` it, towards the heel.
fn beside(centre: Place, up: f64, across: f64) -> Place {
    Place {
        arc: centre.arc + across.atan2(up),
        height: up.hypot(across),
    }
}
