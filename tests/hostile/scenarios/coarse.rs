//! Readings too few for an edge or a land, and holes.

use super::base::{ball, clearance_alone, limit_outside, seat, tool, turned, usual_limits};
use super::{Scenario, honest};
use crate::land::Fall;
use crate::world::Inspection;
use rand_pcg::Pcg64;

fn at(rng: &mut Pcg64, readings_per_s: f64, turns: f64) -> Inspection {
    let mut i = seat(rng, 2);
    turned(&mut i, turns, 40.0, readings_per_s);
    i
}

fn cam(rng: &mut Pcg64) -> Inspection {
    let fall = Fall::Cam {
        depth_mm: 0.25,
        fall_deg: 18.0,
        back_from_deg: 30.0,
        heel_drop_mm: 0.12,
    };
    tool(rng, 20.0, 4, 50.0, fall)
}

/// A hole over so many degrees of each tooth's land.
fn hole(mut i: Inspection, from_deg: f64, to_deg: f64) -> Inspection {
    let teeth = i.tool.teeth.iter();
    i.bench.deaf_deg = teeth
        .map(|tooth| (tooth.at_deg + from_deg, tooth.at_deg + to_deg))
        .collect();
    i
}

pub const ALL: &[Scenario] = &[
    honest("three readings a second", |rng| at(rng, 3.0, 3.0)),
    honest("five readings a second", |rng| at(rng, 5.0, 3.0)),
    honest("eight readings a second, two turns", |rng| {
        at(rng, 8.0, 2.0)
    }),
    honest("twelve readings a second", |rng| at(rng, 12.0, 3.0)),
    honest("twenty-five readings a second", |rng| at(rng, 25.0, 4.0)),
    honest("five readings a second, ten turns", |rng| {
        at(rng, 5.0, 10.0)
    }),
    honest("eight readings a second, drop 10 µm short", |rng| {
        let mut i = at(rng, 8.0, 3.0);
        limit_outside(&mut i, "drop_mm", "drop", true, 0.01);
        i
    }),
    honest("eight readings a second, heel drags by 8 µm", |rng| {
        let mut i = tool(rng, 20.0, 2, 18.3, Fall::Flat { relief_deg: 9.0 });
        clearance_alone(&mut i);
        turned(&mut i, 3.0, 40.0, 8.0);
        i
    }),
    honest("a cam with a hole over its end", |rng| {
        let i = cam(rng);
        hole(i, 40.0, 54.0)
    }),
    honest("a cam with a hole over its end, which drags there", |rng| {
        let mut i = cam(rng);
        for tooth in &mut i.tool.teeth {
            tooth.fall = Fall::Cam {
                depth_mm: 0.25,
                fall_deg: 18.0,
                back_from_deg: 30.0,
                heel_drop_mm: -0.01,
            };
        }
        usual_limits(&mut i);
        limit_outside(&mut i, "heel_clearance_mm", "heel-clearance", true, 0.01);
        hole(i, 40.0, 54.0)
    }),
    honest("a cam with a hole over its dwell", |rng| {
        let i = cam(rng);
        hole(i, 15.0, 30.0)
    }),
    honest("a hole over every edge", |rng| {
        let i = seat(rng, 4);
        hole(i, -3.0, 2.0)
    }),
    honest("400 counts a turn", |rng| {
        let mut i = at(rng, 50.0, 4.0);
        i.bench.counts_per_rev = 400.0;
        i.stated.counts_per_rev = 400.0;
        i
    }),
    honest("steps of 10 µm", |rng| {
        let mut i = at(rng, 50.0, 4.0);
        i.bench.step_mm = 0.01;
        i.stated.resolution_mm = 0.01;
        i.stated.max_error_mm = 0.02;
        i
    }),
    honest("a small ball at a fast hand", |rng| {
        let mut i = at(rng, 50.0, 4.0);
        ball(&mut i, 0.2, rng);
        turned(&mut i, 4.0, 150.0, 50.0);
        i
    }),
];
