//! Where edges stand: flat and pointed tips, margins, worn and rounded edges, many flutes.

use super::base::{ball, clearance_alone, limit_outside, seat, tool, turned, usual_limits};
use super::{Scenario, honest};
use crate::brute::Tip;
use crate::land::Fall;
use crate::world::Inspection;
use rand::Rng;
use rand_pcg::Pcg64;

fn with_flat(mut i: Inspection, rng: &mut Pcg64) -> Inspection {
    i.stated.tip = Tip::Flat { half_width_mm: 0.5 };
    i.bench.tip = Tip::Flat {
        half_width_mm: 0.5 * (1.0 + rng.random_range(-0.01..0.01)),
    };
    i
}

fn flat(rng: &mut Pcg64) -> Inspection {
    let i = seat(rng, 4);
    with_flat(i, rng)
}

fn point(rng: &mut Pcg64) -> Inspection {
    let mut i = seat(rng, 4);
    i.stated.tip = Tip::Point;
    i.bench.tip = Tip::Point;
    turned(&mut i, 6.0, 30.0, 100.0);
    i
}

fn even(i: &mut Inspection) {
    for tooth in &mut i.tool.teeth {
        tooth.raised_mm = 0.0;
    }
}

fn behind_margin(rng: &mut Pcg64, width_mm: f64, readings_per_s: f64) -> Inspection {
    let mut i = seat(rng, 4);
    ball(&mut i, 0.5, rng);
    for tooth in &mut i.tool.teeth {
        tooth.margin_mm = width_mm;
    }
    i.stated.check_mm = 0.7;
    usual_limits(&mut i);
    turned(&mut i, 4.0, 40.0, readings_per_s);
    i
}

fn wear(i: &mut Inspection, least: bool, by: f64) {
    limit_outside(i, "wear_land_mm", "wear-land", least, by);
}

fn rounded(rng: &mut Pcg64, radius_mm: f64) -> Inspection {
    let mut i = seat(rng, 4);
    ball(&mut i, 0.5, rng);
    for tooth in &mut i.tool.teeth {
        tooth.rounding_mm = radius_mm;
    }
    usual_limits(&mut i);
    i
}

fn many(rng: &mut Pcg64, diameter_mm: f64, flutes: usize, turns: f64) -> Inspection {
    let mut i = tool(
        rng,
        diameter_mm,
        flutes,
        110.0 / flutes as f64,
        Fall::Flat { relief_deg: 9.0 },
    );
    turned(&mut i, turns, 40.0, 50.0);
    i
}

pub const ALL: &[Scenario] = &[
    honest("flat tip, four edges", flat).decided(),
    honest("flat tip, even edges, spread at most 5 µm", |rng| {
        let mut i = flat(rng);
        even(&mut i);
        limit_outside(&mut i, "edge_spread_mm", "edge-spread", false, -0.005);
        i
    }),
    honest("flat tip, spread 5 µm too great", |rng| {
        let mut i = flat(rng);
        i.tool.teeth[1].raised_mm = -0.012;
        limit_outside(&mut i, "edge_spread_mm", "edge-spread", false, 0.005);
        i
    }),
    honest("flat tip, total relief 3 µm short", |rng| {
        let i = tool(rng, 20.0, 4, 25.0, Fall::Spiral { relief_deg: 6.0 });
        let mut i = with_flat(i, rng);
        limit_outside(&mut i, "total_relief_mm", "total-relief", true, 0.003);
        i
    }),
    honest("point, four edges", point).decided(),
    honest("point, drop 10 µm short", |rng| {
        let mut i = point(rng);
        limit_outside(&mut i, "drop_mm", "drop", true, 0.01);
        i
    }),
    honest("margin of 0.3, ball 0.5, 100 readings a second", |rng| {
        behind_margin(rng, 0.3, 100.0)
    })
    .decided(),
    honest("margin of 0.3, ball 0.5, 50 readings a second", |rng| {
        behind_margin(rng, 0.3, 50.0)
    }),
    honest("margin of 0.3, ball 0.5, 20 readings a second", |rng| {
        behind_margin(rng, 0.3, 20.0)
    }),
    honest(
        "margin of 0.3, 20 readings a second, drop 15 µm short",
        |rng| {
            let mut i = behind_margin(rng, 0.3, 20.0);
            limit_outside(&mut i, "drop_mm", "drop", true, 0.015);
            i
        },
    ),
    honest(
        "margin of 0.3, 100 readings a second, drop 6 µm short",
        |rng| {
            let mut i = behind_margin(rng, 0.3, 100.0);
            limit_outside(&mut i, "drop_mm", "drop", true, 0.006);
            i
        },
    ),
    honest("margin of 0.25 wide, at most 0.45 allowed", |rng| {
        let mut i = behind_margin(rng, 0.25, 100.0);
        wear(&mut i, false, -0.2);
        i
    })
    .decided(),
    honest("margin of 0.25 wide, at most 0.17 allowed", |rng| {
        let mut i = behind_margin(rng, 0.25, 100.0);
        wear(&mut i, false, 0.08);
        i
    }),
    honest("worn edge, 0.4 wide, ball 0.3", |rng| {
        let mut i = behind_margin(rng, 0.4, 50.0);
        ball(&mut i, 0.3, rng);
        i
    }),
    honest("edges rounded by 10 µm", |rng| rounded(rng, 0.01)),
    honest("edges rounded by 30 µm", |rng| rounded(rng, 0.03)),
    honest("edges rounded by 30 µm, drop 6 µm short", |rng| {
        let mut i = rounded(rng, 0.03);
        limit_outside(&mut i, "drop_mm", "drop", true, 0.006);
        i
    }),
    honest("12 flutes on 40 mm, two turns", |rng| {
        many(rng, 40.0, 12, 2.0)
    }),
    honest("12 flutes on 40 mm, eight turns", |rng| {
        many(rng, 40.0, 12, 8.0)
    })
    .decided(),
    honest("12 flutes on 40 mm, spread 6 µm too great", |rng| {
        let mut i = many(rng, 40.0, 12, 8.0);
        i.tool.teeth[4].raised_mm = -0.02;
        limit_outside(&mut i, "edge_spread_mm", "edge-spread", false, 0.006);
        i
    }),
    honest("24 flutes on 80 mm", |rng| many(rng, 80.0, 24, 6.0)),
    honest("24 flutes on 80 mm, one heel 5 µm high", |rng| {
        let mut i = many(rng, 80.0, 24, 6.0);
        clearance_alone(&mut i);
        i.tool.teeth[7].land_deg = 9.0;
        i.tool.teeth[7].fall = Fall::Cam {
            depth_mm: 0.1,
            fall_deg: 3.0,
            back_from_deg: 5.0,
            heel_drop_mm: -0.005,
        };
        i
    }),
    honest("facets, primary 0.8 wide", |rng| {
        tool(
            rng,
            20.0,
            4,
            18.0,
            Fall::Facets {
                relief_deg: 7.0,
                width_mm: 0.8,
                second_deg: 16.0,
            },
        )
    })
    .decided(),
    honest("hollow lands", |rng| {
        tool(
            rng,
            20.0,
            4,
            12.0,
            Fall::Arc {
                relief_deg: 9.0,
                radius_mm: -60.0,
            },
        )
    }),
    honest("flat, heel 3 µm short of its clearance", |rng| {
        let mut i = tool(rng, 20.0, 2, 15.0, Fall::Flat { relief_deg: 9.0 });
        limit_outside(&mut i, "heel_clearance_mm", "heel-clearance", true, 0.003);
        i
    }),
];
