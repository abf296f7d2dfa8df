//! Which way the encoder grows, and which way the tool cuts.

use super::base::{clearance_alone, seat, tool};
use super::{Scenario, beyond, honest};
use crate::hand::Hand;
use crate::land::Fall;
use crate::world::{Inspection, Sense};
use rand_pcg::Pcg64;

/// Lands that rise towards the heel and stand above the edge there: read backwards they clear.
fn rising(rng: &mut Pcg64, flutes: usize) -> Inspection {
    let mut i = tool(rng, 20.0, flutes, 40.0, Fall::Spiral { relief_deg: -3.0 });
    clearance_alone(&mut i);
    i
}

/// A flat so wide that its heel stands as high as its edge and 15 µm higher.
fn dragging(rng: &mut Pcg64, flutes: usize) -> Inspection {
    let mut i = tool(rng, 20.0, flutes, 18.6, Fall::Flat { relief_deg: 9.0 });
    clearance_alone(&mut i);
    i
}

/// The encoder turned round, with nothing proven and the card as before.
fn inverted(mut i: Inspection) -> Inspection {
    i.bench.grows_cutting = !i.bench.grows_cutting;
    i.stated.sense = Sense::Relative {
        cutting: !i.bench.grows_cutting,
    };
    i
}

const WORDS: &[&str] = &["sense", "wrong way", "other way", "turns the"];

pub const ALL: &[Scenario] = &[
    honest("right-hand tool, sense proven", |rng| seat(rng, 2)).decided(),
    honest("left-hand tool on the same bench", |rng| {
        let mut i = seat(rng, 2);
        i.stated.hand = "left";
        i.bench.grows_cutting = false;
        i
    })
    .decided(),
    honest("heel first, four flutes", |rng| {
        let mut i = seat(rng, 4);
        i.hand = Hand::turning(-4.0, 40.0);
        i
    })
    .decided(),
    honest("heel first, encoder the other way", |rng| {
        let mut i = seat(rng, 4);
        i.hand = Hand::turning(-4.0, 40.0);
        i.bench.grows_cutting = false;
        i.stated.sense = Sense::Physical {
            clockwise: false,
            proven: true,
        };
        i
    })
    .decided(),
    honest("a rising land, sense proven", |rng| rising(rng, 2)),
    honest("a flat whose heel drags, sense proven", |rng| {
        dragging(rng, 2)
    }),
    beyond("a rising land, sense the wrong way round", WORDS, |rng| {
        inverted(rising(rng, 2))
    }),
    beyond(
        "a rising land, four flutes, sense the wrong way round",
        WORDS,
        |rng| inverted(rising(rng, 4)),
    ),
    beyond(
        "a flat whose heel drags, sense the wrong way round",
        WORDS,
        |rng| inverted(dragging(rng, 2)),
    ),
    beyond("a good flat, sense the wrong way round", WORDS, |rng| {
        inverted(seat(rng, 2))
    }),
    beyond(
        "a left-hand tool, told for a right-hand one",
        WORDS,
        |rng| {
            let mut i = rising(rng, 2);
            i.stated.hand = "right";
            i.bench.grows_cutting = false;
            i.stated.sense = Sense::Physical {
                clockwise: true,
                proven: false,
            };
            i
        },
    ),
];
