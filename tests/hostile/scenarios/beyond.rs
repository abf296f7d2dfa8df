//! What the cards do not say, what a count is worth, and clocks.

use super::base::{clearance_alone, limit_outside, seat, tool};
use super::{Scenario, beyond, hidden, honest};
use crate::brute::Tip;
use crate::hand::{Hand, Move};
use crate::land::Fall;
use crate::world::{Inspection, Reference};
use rand::Rng;
use rand_pcg::Pcg64;

fn flat(rng: &mut Pcg64, land_deg: f64) -> Inspection {
    let mut i = tool(rng, 20.0, 2, land_deg, Fall::Flat { relief_deg: 9.0 });
    clearance_alone(&mut i);
    i
}

fn lobed(rng: &mut Pcg64, waves: f64) -> Inspection {
    let mut i = seat(rng, 4);
    i.tool.teeth[1].raised_mm = -0.012;
    i.bench.spindle = (0.002, waves, rng.random_range(0.0..std::f64::consts::TAU));
    limit_outside(&mut i, "edge_spread_mm", "edge-spread", false, 0.003);
    i
}

fn ball_of(rng: &mut Pcg64, share: f64) -> Inspection {
    let mut i = seat(rng, 4);
    i.bench.tip = Tip::Ball { radius_mm: share };
    i
}

fn clocks(rng: &mut Pcg64, apart_s: f64) -> Inspection {
    let mut i = seat(rng, 2);
    i.bench.two_clocks_s = Some(apart_s);
    let both = Hand::both_ways(2.0, 40.0);
    i.references[0].hand = both.clone();
    i.hand = both;
    i
}

/// A shank with two diameters, traced both.
fn two_diameters(i: &mut Inspection) {
    let first = i.references[0].clone();
    i.references.push(Reference {
        radius_mm: first.radius_mm - 1.5,
        z_mm: 45.0,
        ..first
    });
}

pub const ALL: &[Scenario] = &[
    beyond(
        "land told too short, the heel drags behind it",
        &["land"],
        |rng| {
            let mut i = flat(rng, 20.0);
            i.stated.land_deg = Some(12.0);
            i
        },
    ),
    beyond("land told too short, drags by 6 µm", &["land"], |rng| {
        let mut i = flat(rng, 18.2);
        i.stated.land_deg = Some(14.0);
        i
    }),
    honest("land told too short, and all behind it clears", |rng| {
        let mut i = flat(rng, 14.0);
        i.stated.land_deg = Some(11.0);
        i
    })
    .decided(),
    beyond(
        "plunger on its stop over the land",
        &["stop", "stand still", "stood still", "travel"],
        |rng| {
            let mut i = flat(rng, 12.0);
            i.references[0].radius_mm = 10.0;
            i.bench.stops_mm = Some([0.45, 13.0]);
            i
        },
    ),
    beyond(
        "plunger on its upper stop over the edges",
        &["stop", "stand still", "stood still", "travel"],
        |rng| {
            let mut i = flat(rng, 17.5);
            i.bench.stops_mm = Some([-13.0, 0.47]);
            limit_outside(&mut i, "heel_clearance_mm", "heel-clearance", true, 0.005);
            i
        },
    ),
    beyond(
        "plunger on its stop over most of the reference",
        &["stop", "stand still", "stood still", "travel"],
        |rng| {
            let mut i = seat(rng, 2);
            i.off_axis = [0.0, 0.012];
            i.references[0].radius_mm = 8.0;
            i.bench.stops_mm = Some([-1.492, 13.0]);
            limit_outside(&mut i, "edge_spread_mm", "edge-spread", false, 0.004);
            i
        },
    ),
    beyond(
        "spindle of 2 µm with two waves",
        &["lobe", "round", "wave"],
        |rng| lobed(rng, 2.0),
    ),
    beyond(
        "spindle of 2 µm with three waves",
        &["lobe", "round", "wave"],
        |rng| lobed(rng, 3.0),
    ),
    beyond(
        "spindle of 2 µm with five waves",
        &["lobe", "round", "wave"],
        |rng| lobed(rng, 5.0),
    ),
    beyond(
        "oval shank with flats",
        &["lobe", "round", "wave", "oval"],
        |rng| {
            let mut i = seat(rng, 4);
            i.tool.teeth[1].raised_mm = -0.012;
            i.references[0].lobes =
                vec![(2.0, 0.004, rng.random_range(0.0..std::f64::consts::TAU))];
            i.references[0].flats = vec![(20.0, 0.6), (200.0, 0.6)];
            limit_outside(&mut i, "edge_spread_mm", "edge-spread", false, 0.003);
            i
        },
    ),
    beyond(
        "ball a fifth smaller than told",
        &["ball", "stylus", "smaller"],
        |rng| ball_of(rng, 0.8),
    ),
    beyond("ball a tenth larger than told", &["ball", "edge"], |rng| {
        ball_of(rng, 1.1)
    }),
    beyond(
        "twelve counts lost in the middle",
        &["count", "lost", "slip"],
        |rng| {
            let mut i = seat(rng, 4);
            i.bench.lost_counts = vec![(0.5, 12.0)];
            i
        },
    ),
    beyond(
        "counts lost four times",
        &["count", "lost", "slip"],
        |rng| {
            let mut i = seat(rng, 2);
            i.bench.lost_counts = vec![(0.3, 4.0), (0.45, 4.0), (0.6, 4.0), (0.8, 4.0)];
            i
        },
    ),
    beyond(
        "lever at 30° where the card says 20°, two diameters",
        &["scale", "lever", "diameter", "step"],
        |rng| {
            let mut i = seat(rng, 4);
            two_diameters(&mut i);
            i.stated.lever_deg = 20.0;
            i.bench.lever_deg = 30.0;
            i
        },
    ),
    beyond(
        "counts of inches taken for millimetres, two diameters",
        &["scale", "inch", "diameter", "step"],
        |rng| {
            let mut i = flat(rng, 12.0);
            two_diameters(&mut i);
            i.bench.step_mm = 0.00127;
            i.bench.written_per_mm = 1.0 / 1.27;
            i
        },
    ),
    hidden("gain 2 % too great, drop 1 µm too great", |rng| {
        let mut i = seat(rng, 4);
        i.bench.gain_error = 0.02;
        i
    }),
    beyond(
        "4 µm of play where 1 is told, both ways",
        &["play", "ways", "hysteresis", "reversal"],
        |rng| {
            let mut i = seat(rng, 4);
            i.bench.play_mm = 0.005;
            i.hand = Hand::both_ways(2.0, 40.0);
            i
        },
    ),
    beyond("drift of 0.5 µm/s", &["drift"], |rng| {
        let mut i = seat(rng, 4);
        i.bench.drift_mm_per_s = 0.0005;
        i
    }),
    beyond(
        "plunger that hops by 6 µm behind the edge",
        &["ways", "turns", "repeat", "bounce", "above"],
        |rng| {
            let mut i = seat(rng, 4);
            i.bench.bounce_mm = 0.006;
            i
        },
    ),
    honest("two clocks, 0.2 s apart", |rng| clocks(rng, 0.2)).decided(),
    honest("two clocks, 3.5 s apart", |rng| clocks(rng, 3.5)),
    honest("two clocks, −2 s apart", |rng| clocks(rng, -2.0)),
    honest("two clocks, 0.15 s apart, turned one way", |rng| {
        let mut i = clocks(rng, 0.15);
        i.hand.moves = vec![
            Move::Rest { s: 0.3 },
            Move::Turn {
                deg: 700.0,
                deg_per_s: 25.0,
            },
            Move::Turn {
                deg: 740.0,
                deg_per_s: 70.0,
            },
            Move::Rest { s: 0.3 },
        ];
        i
    }),
    honest("angles written wrapped", |rng| {
        let mut i = seat(rng, 2);
        i.bench.wrapped = true;
        i
    })
    .decided(),
    honest("an inch shop", |rng| {
        let mut i = seat(rng, 2);
        i.stated.inches = true;
        i.bench.step_mm = 0.00127;
        i.stated.resolution_mm = 0.00127;
        i
    })
    .decided(),
];
