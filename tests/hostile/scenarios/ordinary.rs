//! Ordinary good tools, which must pass, and ordinary bad ones.

use super::base::{limit_outside, seat, tool};
use super::{Scenario, honest};
use crate::hand::Hand;
use crate::land::Fall;

pub const ALL: &[Scenario] = &[
    honest("two flutes, flat lands", |rng| seat(rng, 2)).decided(),
    honest("four flutes, flat lands", |rng| seat(rng, 4)).decided(),
    honest("four flutes, two turns each way", |rng| {
        let mut i = seat(rng, 4);
        i.hand = Hand::both_ways(2.0, 40.0);
        i
    })
    .decided(),
    honest("two flutes, a turn each way", |rng| {
        let mut i = seat(rng, 2);
        i.hand = Hand::both_ways(1.2, 30.0);
        i
    })
    .decided(),
    honest("six flutes, convex lands", |rng| {
        tool(
            rng,
            16.0,
            6,
            25.0,
            Fall::Arc {
                relief_deg: 8.0,
                radius_mm: 6.0,
            },
        )
    })
    .decided(),
    honest("three flutes, spiral lands", |rng| {
        tool(rng, 25.0, 3, 60.0, Fall::Spiral { relief_deg: 6.0 })
    })
    .decided(),
    honest("three flutes, the same relief everywhere", |rng| {
        tool(rng, 25.0, 3, 60.0, Fall::Log { relief_deg: 6.0 })
    })
    .decided(),
    honest("four flutes, cam that rises again", |rng| {
        let cam = Fall::Cam {
            depth_mm: 0.25,
            fall_deg: 18.0,
            back_from_deg: 30.0,
            heel_drop_mm: 0.12,
        };
        tool(rng, 20.0, 4, 50.0, cam)
    })
    .decided(),
    honest("a flat whose heel drags by 10 µm", |rng| {
        let mut i = tool(rng, 20.0, 2, 17.8, Fall::Flat { relief_deg: 9.0 });
        limit_outside(&mut i, "heel_clearance_mm", "heel-clearance", true, 0.010);
        i
    }),
];
