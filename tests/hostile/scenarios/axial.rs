//! End faces and shoulders, touched along the axis.

use super::base::{clearance_alone, limit_outside, tool, usual_limits, within_disc};
use super::{Scenario, honest};
use crate::brute::Tip;
use crate::land::{Extra, Fall};
use crate::world::{Inspection, Sense};
use rand::Rng;
use rand_pcg::Pcg64;

/// A face on a circle of 20 mm. Its clamping is off centre by so much and leans as the card allows.
fn face(rng: &mut Pcg64, flutes: usize, land_deg: f64, cone_deg: f64, off_mm: f64) -> Inspection {
    let mut i = tool(rng, 20.0, flutes, land_deg, Fall::Flat { relief_deg: 6.0 });
    i.tool.axial = true;
    i.tool.radius_mm = 10.0;
    i.tool.gap_mm = 1.0;
    i.tool.cone_deg = cone_deg;
    let towards: f64 = rng.random_range(0.0..std::f64::consts::TAU);
    i.off_axis = [off_mm * towards.sin(), off_mm * towards.cos()];
    i.lean = within_disc(rng, 0.004 / 100.0);
    // The card counts more than 90 where the rim stands forward.
    let told = format!("face_deg = {:?}", 90.0 + cone_deg);
    i.stated.more.push(("tool", "feature", told));
    usual_limits(&mut i);
    i
}

fn untold(mut i: Inspection) -> Inspection {
    i.stated.more.retain(|more| more.0 != "tool");
    i
}

pub const ALL: &[Scenario] = &[
    honest("square end face, two flutes, 2 µm off centre", |rng| {
        face(rng, 2, 60.0, 0.0, 0.002)
    })
    .decided(),
    honest(
        "square end face, four flutes, 15 µm off centre, spacing",
        |rng| face(rng, 4, 40.0, 0.0, 0.015),
    ),
    honest(
        "face 31° off square, one flute, 5 µm off centre, 3 µm of drag",
        |rng| {
            let mut i = face(rng, 1, 240.0, 31.0, 0.005);
            i.tool.teeth[0].fall = Fall::Cam {
                depth_mm: 0.1,
                fall_deg: 90.0,
                back_from_deg: 120.0,
                heel_drop_mm: -0.003,
            };
            clearance_alone(&mut i);
            i
        },
    ),
    honest("the same, angle not told", |rng| {
        let mut i = face(rng, 1, 240.0, 31.0, 0.005);
        i.tool.teeth[0].fall = Fall::Cam {
            depth_mm: 0.1,
            fall_deg: 90.0,
            back_from_deg: 120.0,
            heel_drop_mm: -0.003,
        };
        clearance_alone(&mut i);
        untold(i)
    }),
    honest("the same, clearing by 40 µm", |rng| {
        let mut i = face(rng, 1, 240.0, 31.0, 0.005);
        i.tool.teeth[0].fall = Fall::Cam {
            depth_mm: 0.1,
            fall_deg: 90.0,
            back_from_deg: 120.0,
            heel_drop_mm: 0.04,
        };
        i.stated.check_mm = 5.0;
        clearance_alone(&mut i);
        i
    }),
    honest(
        "face 31° off square, two flutes, even edges, 10 µm off centre",
        |rng| {
            let mut i = face(rng, 2, 60.0, 31.0, 0.01);
            for tooth in &mut i.tool.teeth {
                tooth.raised_mm = 0.0;
            }
            limit_outside(&mut i, "edge_spread_mm", "edge-spread", false, -0.004);
            i
        },
    ),
    honest(
        "square face that swashes by 6 µm, only a runout bound",
        |rng| {
            let mut i = face(rng, 2, 60.0, 0.0, 0.001);
            i.references.clear();
            i.stated.runout_mm = Some(0.002);
            i.stated.lean = None;
            i.lean = [0.006 / 20.0, 0.0];
            i.tool.teeth[1].raised_mm = -0.012;
            limit_outside(&mut i, "edge_spread_mm", "edge-spread", false, 0.003);
            i
        },
    ),
    honest(
        "end face fed at 0.1, heel 4 µm under the rise of the work",
        |rng| {
            let mut i = face(rng, 2, 60.0, 0.0, 0.002);
            i.tool
                .teeth
                .iter_mut()
                .for_each(|tooth| tooth.fall = Fall::Spiral { relief_deg: 0.25 });
            i.stated.feed_mm = Some(0.1);
            i.stated.limits.clear();
            limit_outside(&mut i, "heel_clearance_mm", "heel-clearance", true, 0.004);
            i
        },
    ),
    honest("flat tip on an end face", |rng| {
        let mut i = face(rng, 2, 60.0, 0.0, 0.002);
        i.stated.tip = Tip::Flat { half_width_mm: 0.5 };
        i.bench.tip = Tip::Flat { half_width_mm: 0.5 };
        i
    }),
    honest("burr on an end face", |rng| {
        let mut i = face(rng, 2, 40.0, 0.0, 0.002);
        i.tool.teeth[0].extras.push(Extra::Burr {
            at_mm: 3.0,
            width_mm: 0.1,
            above_edge_mm: 0.008,
        });
        clearance_alone(&mut i);
        i
    }),
    honest("left-hand end face", |rng| {
        let mut i = face(rng, 2, 60.0, 0.0, 0.002);
        i.stated.hand = "left";
        i.bench.grows_cutting = false;
        i.stated.sense = Sense::Physical {
            clockwise: true,
            proven: true,
        };
        i
    })
    .decided(),
];
