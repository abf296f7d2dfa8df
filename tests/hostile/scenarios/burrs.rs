//! What stands above an edge behind it.

use super::base::{ball, clearance_alone, limit_outside, seat, tool, turned};
use super::{Scenario, honest};
use crate::hand::Hand;
use crate::land::{Extra, Fall};
use crate::world::Inspection;
use rand::Rng;
use rand_pcg::Pcg64;

/// Four flutes under a small ball, with nothing asked but that all behind an edge clears it.
fn bare(rng: &mut Pcg64, ball_mm: f64, turns: f64, deg_per_s: f64) -> Inspection {
    let mut i = seat(rng, 4);
    ball(&mut i, ball_mm, rng);
    clearance_alone(&mut i);
    turned(&mut i, turns, deg_per_s, 50.0);
    i
}

/// The same with a burr of 0.05 mm, 8 µm above the edge, on one flute.
fn burr(rng: &mut Pcg64, ball_mm: f64, turns: f64, deg_per_s: f64) -> Inspection {
    let i = bare(rng, ball_mm, turns, deg_per_s);
    burred(i, rng, 0.05, 0.008)
}

fn burred(mut i: Inspection, rng: &mut Pcg64, width_mm: f64, above_edge_mm: f64) -> Inspection {
    let flute = rng.random_range(0..i.tool.teeth.len());
    let tooth = &mut i.tool.teeth[flute];
    let end = tooth.land_deg.to_radians() * i.tool.radius_mm;
    let at_mm = rng.random_range(0.7..end - 0.2);
    tooth.extras.push(Extra::Burr {
        at_mm,
        width_mm,
        above_edge_mm,
    });
    i
}

fn ridged(mut i: Inspection, rng: &mut Pcg64, width_mm: f64, above_edge_mm: f64) -> Inspection {
    let flute = rng.random_range(0..i.tool.teeth.len());
    i.tool.teeth[flute].extras.push(Extra::Ridge {
        width_mm,
        above_edge_mm,
    });
    i
}

/// Few readings a turn on two flutes, one of them with a heel that curls up.
fn curled(rng: &mut Pcg64, width_mm: f64, deg_per_s: f64, readings_per_s: f64) -> Inspection {
    let mut i = seat(rng, 2);
    let size = rng.random_range(0.3..0.5);
    ball(&mut i, size, rng);
    clearance_alone(&mut i);
    turned(&mut i, 2.0, deg_per_s, readings_per_s);
    i.tool.teeth[1].extras.push(Extra::Curl {
        width_mm,
        above_edge_mm: 0.004,
    });
    i
}

/// Flats with a groove across them, behind which a pad stands as near to the work as this.
fn padded(rng: &mut Pcg64, clear_mm: f64, noise_mm: f64) -> Inspection {
    let mut i = seat(rng, 4);
    ball(&mut i, 0.5, rng);
    turned(&mut i, 2.0, 40.0, 50.0);
    i.bench.noise_mm = noise_mm;
    clearance_alone(&mut i);
    let end = i.tool.teeth[2].land_deg.to_radians() * i.tool.radius_mm;
    i.tool.teeth[2].extras.extend([
        Extra::Pad {
            width_mm: 0.6,
            under_edge_mm: clear_mm,
        },
        Extra::Nick {
            at_mm: end - 0.9,
            width_mm: 0.6,
            depth_mm: 0.3,
        },
    ]);
    i
}

/// Lands that fall, level off and rise again before they end.
fn cam(rng: &mut Pcg64) -> Inspection {
    let fall = Fall::Cam {
        depth_mm: 0.25,
        fall_deg: 18.0,
        back_from_deg: 30.0,
        heel_drop_mm: 0.12,
    };
    let mut i = tool(rng, 20.0, 4, 50.0, fall);
    ball(&mut i, 0.5, rng);
    clearance_alone(&mut i);
    i
}

fn chatter(mut i: Inspection, rng: &mut Pcg64, size_mm: f64) -> Inspection {
    for tooth in &mut i.tool.teeth {
        let phase = rng.random_range(0.0..std::f64::consts::TAU);
        tooth.extras.push(Extra::Chatter {
            wave_mm: 0.6,
            size_mm,
            phase,
        });
    }
    i
}

pub const ALL: &[Scenario] = &[
    honest("burr, ball 0.1, four turns at 20°/s", |rng| {
        burr(rng, 0.1, 4.0, 20.0)
    }),
    honest("burr, ball 0.1, two turns at 60°/s", |rng| {
        burr(rng, 0.1, 2.0, 60.0)
    }),
    honest("burr, ball 0.2, ten turns at 40°/s", |rng| {
        burr(rng, 0.2, 10.0, 40.0)
    }),
    honest("burr, ball 0.3, two turns at 20°/s", |rng| {
        burr(rng, 0.3, 2.0, 20.0)
    }),
    honest("burr, ball 0.3, two turns at 40°/s", |rng| {
        burr(rng, 0.3, 2.0, 40.0)
    }),
    honest("burr, ball 0.3, four turns at 60°/s", |rng| {
        burr(rng, 0.3, 4.0, 60.0)
    }),
    honest("burr, ball 0.5, two turns at 10°/s", |rng| {
        burr(rng, 0.5, 2.0, 10.0)
    }),
    honest("burr, ball 0.5, four turns at 40°/s", |rng| {
        burr(rng, 0.5, 4.0, 40.0)
    }),
    honest("burr, ball 0.5, ten turns at 60°/s", |rng| {
        burr(rng, 0.5, 10.0, 60.0)
    }),
    honest("burr, ball 0.3, both ways at 30°/s", |rng| {
        let mut i = burr(rng, 0.3, 2.0, 30.0);
        i.hand = Hand::both_ways(2.0, 30.0);
        i
    }),
    honest("burr and spikes, ball 0.3, four turns at 30°/s", |rng| {
        let mut i = burr(rng, 0.3, 4.0, 30.0);
        i.bench.spikes_per_1000 = 2.0;
        i
    }),
    honest("burr, ball 0.3, 400 counts a turn", |rng| {
        let mut i = burr(rng, 0.3, 4.0, 20.0);
        i.bench.counts_per_rev = 400.0;
        i.stated.counts_per_rev = 400.0;
        i
    }),
    honest("burr 20 µm high and 0.2 wide, ball 0.5", |rng| {
        let i = bare(rng, 0.5, 4.0, 40.0);
        burred(i, rng, 0.2, 0.02)
    }),
    honest(
        "burr 4 µm above the edge, ball 0.3, four turns at 20°/s",
        |rng| {
            let i = bare(rng, 0.3, 4.0, 20.0);
            burred(i, rng, 0.1, 0.004)
        },
    ),
    honest("burr under the edge by 20 µm, which may pass", |rng| {
        let i = bare(rng, 0.3, 4.0, 20.0);
        burred(i, rng, 0.1, -0.02)
    }),
    honest("no burr, ball 0.1, two turns at 20°/s", |rng| {
        bare(rng, 0.1, 2.0, 20.0)
    })
    .decided(),
    honest("no burr, ball 0.3, two turns at 20°/s", |rng| {
        bare(rng, 0.3, 2.0, 20.0)
    })
    .decided(),
    honest("no burr, ball 0.3, two turns at 40°/s", |rng| {
        bare(rng, 0.3, 2.0, 40.0)
    })
    .decided(),
    honest("no burr, ball 0.5, ten turns at 60°/s", |rng| {
        bare(rng, 0.5, 10.0, 60.0)
    })
    .decided(),
    honest("no burr but spikes, ball 0.5, four turns at 40°/s", |rng| {
        let mut i = bare(rng, 0.5, 4.0, 40.0);
        i.bench.spikes_per_1000 = 2.0;
        i
    })
    .decided(),
    honest("ridge of 0.2 mm at the heel, 8 µm high, ball 0.2", |rng| {
        let i = bare(rng, 0.2, 4.0, 40.0);
        ridged(i, rng, 0.2, 0.008)
    }),
    honest("ridge of 0.2 mm at the heel, 8 µm high, ball 1", |rng| {
        let i = bare(rng, 1.0, 4.0, 40.0);
        ridged(i, rng, 0.2, 0.008)
    }),
    honest(
        "heel of 0.2 mm curled up by 4 µm, 20°/s, 20 a second",
        |rng| curled(rng, 0.2, 20.0, 20.0),
    ),
    honest(
        "heel of 0.3 mm curled up by 4 µm, 60°/s, 50 a second",
        |rng| curled(rng, 0.3, 60.0, 50.0),
    ),
    honest("ridge of 0.1 mm, 4 µm high, 50°/s, two turns", |rng| {
        let mut i = seat(rng, 2);
        ball(&mut i, 0.5, rng);
        clearance_alone(&mut i);
        turned(&mut i, 2.0, 50.0, 50.0);
        i.tool.teeth[0].extras.push(Extra::Ridge {
            width_mm: 0.1,
            above_edge_mm: 0.004,
        });
        i
    }),
    honest(
        "pad behind a groove, 5 µm under the limit, noise of 3 µm",
        |rng| {
            let mut i = padded(rng, 0.015, 0.003);
            limit_outside(&mut i, "heel_clearance_mm", "heel-clearance", true, 0.005);
            i
        },
    ),
    honest("pad behind a groove, 40 µm clear, noise of 3 µm", |rng| {
        padded(rng, 0.04, 0.003)
    }),
    honest("a land of 16° with a burr 0.3 mm before its end", |rng| {
        let mut i = tool(rng, 20.0, 4, 16.0, Fall::Flat { relief_deg: 9.0 });
        ball(&mut i, 0.3, rng);
        clearance_alone(&mut i);
        turned(&mut i, 4.0, 30.0, 50.0);
        let end = 16f64.to_radians() * 10.0;
        i.tool.teeth[1].extras.push(Extra::Burr {
            at_mm: end - 0.3,
            width_mm: 0.1,
            above_edge_mm: 0.008,
        });
        i
    }),
    honest("a land of 16° without", |rng| {
        let mut i = tool(rng, 20.0, 4, 16.0, Fall::Flat { relief_deg: 9.0 });
        ball(&mut i, 0.3, rng);
        clearance_alone(&mut i);
        turned(&mut i, 4.0, 30.0, 50.0);
        i
    })
    .decided(),
    honest("burr at the heel of a cam, 8 µm high", |rng| {
        let i = cam(rng);
        ridged(i, rng, 0.1, 0.008)
    }),
    honest(
        "burr at the heel of a cam that clears by 60 µm, limit at 70",
        |rng| {
            let mut i = cam(rng);
            for tooth in &mut i.tool.teeth {
                tooth.extras.push(Extra::Ridge {
                    width_mm: 0.3,
                    above_edge_mm: -0.06,
                });
            }
            limit_outside(&mut i, "heel_clearance_mm", "heel-clearance", true, 0.01);
            i
        },
    ),
    honest("a cam without a burr", cam).decided(),
    honest("chatter of 2 µm", |rng| {
        let i = bare(rng, 0.5, 4.0, 30.0);
        chatter(i, rng, 0.002)
    })
    .decided(),
    honest("chatter of 2 µm and a burr", |rng| {
        let i = burr(rng, 0.3, 4.0, 20.0);
        chatter(i, rng, 0.002)
    }),
    honest("nick of 30 µm, 0.1 wide, total relief asked for", |rng| {
        let mut i = bare(rng, 0.3, 4.0, 30.0);
        i.tool.teeth[2].extras.push(Extra::Nick {
            at_mm: 1.2,
            width_mm: 0.1,
            depth_mm: 0.03,
        });
        i
    }),
];
