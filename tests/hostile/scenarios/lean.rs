//! A tool that leans, and runout that the cards do not bound.

use super::base::{clearance_alone, limit_outside, seat, tool, within_disc};
use super::{Scenario, honest};
use crate::hand::Hand;
use crate::land::Fall;
use crate::world::{Inspection, Reference};
use rand::Rng;
use rand_pcg::Pcg64;

/// One flute with a long land that comes back at its end; the tool is true at the holder, and off by
/// so much at its tip 60 mm away.
fn long_land(
    rng: &mut Pcg64,
    off_at_tip_mm: f64,
    stated: Option<(f64, f64)>,
    heel_drop_mm: f64,
) -> Inspection {
    let fall = Fall::Cam {
        depth_mm: 0.1,
        fall_deg: 90.0,
        back_from_deg: 140.0,
        heel_drop_mm,
    };
    let mut i = tool(rng, 12.0, 1, 250.0, fall);
    i.references[0].z_mm = 62.0;
    let towards: f64 = rng.random_range(0.0..std::f64::consts::TAU);
    let way = [towards.sin(), towards.cos()];
    i.off_axis = way.map(|share| share * off_at_tip_mm * 62.0 / 60.0);
    i.lean = way.map(|share| -share * off_at_tip_mm / 60.0);
    i.stated.lean = stated;
    i.stated.check_mm = 5.0;
    clearance_alone(&mut i);
    i
}

fn clearance(i: &mut Inspection, outside_mm: f64) {
    limit_outside(i, "heel_clearance_mm", "heel-clearance", true, outside_mm);
}

/// Four even edges on a tool that leans.
fn even_edges(
    rng: &mut Pcg64,
    lean_mm: f64,
    stated: Option<(f64, f64)>,
    allowed_mm: f64,
) -> Inspection {
    let mut i = seat(rng, 4);
    i.references[0].z_mm = 62.0;
    let way = within_disc(rng, lean_mm);
    i.lean = way.map(|way| way / 60.0);
    i.stated.lean = stated;
    for tooth in &mut i.tool.teeth {
        tooth.raised_mm = 0.0;
    }
    limit_outside(&mut i, "edge_spread_mm", "edge-spread", false, -allowed_mm);
    i
}

fn second_reference(i: &mut Inspection, z_mm: f64) {
    let first = i.references[0].clone();
    i.references.push(Reference { z_mm, ..first });
}

pub const ALL: &[Scenario] = &[
    honest("6 µm out at the tip, lean unknown, drags by 3 µm", |rng| {
        long_land(rng, 0.006, None, -0.003)
    }),
    honest("6 µm out at the tip, lean told, drags by 3 µm", |rng| {
        long_land(rng, 0.006, Some((0.012, 100.0)), -0.003)
    }),
    honest(
        "6 µm out at the tip, two references, drags by 3 µm",
        |rng| {
            let mut i = long_land(rng, 0.006, None, -0.003);
            second_reference(&mut i, 22.0);
            i
        },
    ),
    honest("6 µm out at the tip, lean told, clears by 40 µm", |rng| {
        long_land(rng, 0.006, Some((0.012, 100.0)), 0.04)
    })
    .decided(),
    honest(
        "6 µm out at the tip, two references, clears by 40 µm",
        |rng| {
            let mut i = long_land(rng, 0.006, None, 0.04);
            second_reference(&mut i, 22.0);
            i
        },
    )
    .decided(),
    honest("four even edges, leaning by 8 µm, lean unknown", |rng| {
        even_edges(rng, 0.008, None, 0.004)
    }),
    honest("four even edges, leaning by 8 µm, told", |rng| {
        even_edges(rng, 0.008, Some((0.0134, 100.0)), 0.004)
    }),
    honest(
        "uneven by 6 µm too much, leaning by 8 µm, lean unknown",
        |rng| {
            let mut i = even_edges(rng, 0.008, None, 0.0);
            i.tool.teeth[1].raised_mm = -0.012;
            limit_outside(&mut i, "edge_spread_mm", "edge-spread", false, 0.006);
            i
        },
    ),
    honest(
        "a short tool beside its reference, lean on the card",
        |rng| {
            let mut i = seat(rng, 4);
            i.references[0].z_mm = 8.0;
            i
        },
    )
    .decided(),
    honest("no reference, runout bounded by 10 µm", |rng| {
        let mut i = seat(rng, 2);
        i.references.clear();
        i.stated.runout_mm = Some(0.01);
        i.off_axis = within_disc(rng, 0.01);
        i.lean = [0.0; 2];
        i.tool.teeth[1].raised_mm = -0.02;
        limit_outside(&mut i, "edge_spread_mm", "edge-spread", false, 0.003);
        i
    }),
    honest("no reference, nothing told of runout", |rng| {
        let mut i = seat(rng, 2);
        i.references.clear();
        i.off_axis = within_disc(rng, 0.02);
        i.tool.teeth[1].raised_mm = -0.02;
        limit_outside(&mut i, "edge_spread_mm", "edge-spread", false, 0.003);
        i
    }),
    honest("runout of 0.1 mm, heel 3 µm short", |rng| {
        let mut i = tool(rng, 20.0, 2, 15.0, Fall::Flat { relief_deg: 9.0 });
        i.off_axis = [0.06, 0.08];
        i.references[0].hand = Hand::turning(3.0, 40.0);
        clearance(&mut i, 0.003);
        i
    }),
    honest("shank with driving flats", |rng| {
        let mut i = seat(rng, 4);
        i.references[0].flats = vec![(20.0, 0.6), (200.0, 0.6)];
        i
    })
    .decided(),
];
