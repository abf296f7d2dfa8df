//! Ordinary tools on an ordinary bench, which scenarios change.

use crate::bench::Bench;
use crate::brute::Tip;
use crate::hand::Hand;
use crate::land::{Fall, Tooth};
use crate::world::{Inspection, Reference, Sense, Stated, Tool};
use rand::Rng;
use rand_pcg::Pcg64;

/// A counterbore of 20 mm: flat lands of 9°, 12° long, a ball of 1 mm, four turns at 40°/s.
pub fn seat(rng: &mut Pcg64, flutes: usize) -> Inspection {
    tool(rng, 20.0, flutes, 12.0, Fall::Flat { relief_deg: 9.0 })
}

/// A tool in a collet, with a shank to take its runout from. All that budgets hold as uncertain
/// is off by a part of what the cards allow.
pub fn tool(
    rng: &mut Pcg64,
    diameter_mm: f64,
    flutes: usize,
    land_deg: f64,
    fall: Fall,
) -> Inspection {
    let radius_mm = diameter_mm / 2.0;
    let teeth = (0..flutes)
        .map(|n| {
            let at = 360.0 * n as f64 / flutes as f64 + 17.0 + rng.random_range(-0.04..0.04);
            let mut tooth = Tooth::new(at, land_deg, fall.clone());
            tooth.raised_mm = rng.random_range(-0.003..0.0);
            tooth
        })
        .collect();
    let ball = 1.0;
    let lean = within_disc(rng, 0.004 / 100.0);
    let shank = 0.8 * radius_mm;
    let mut inspection = Inspection {
        tool: Tool {
            teeth,
            radius_mm: radius_mm * (1.0 + rng.random_range(-0.001..0.001)),
            axial: false,
            gap_mm: 0.12 * radius_mm,
            cone_deg: 0.0,
            taper_deg: 0.0,
        },
        bench: Bench {
            tip: Tip::Ball {
                radius_mm: ball * (1.0 + rng.random_range(-0.01..0.01)),
            },
            aside_mm: rng.random_range(-0.05..0.05),
            lever_deg: 0.0,
            step_mm: 0.001,
            written_per_mm: 1.0,
            gain_error: 0.0,
            wander_mm: 0.002 * rng.random_range(0.4..1.0),
            play_mm: 0.001 * rng.random_range(0.2..1.0),
            stops_mm: None,
            noise_mm: 0.0005,
            spikes_per_1000: 0.0,
            drift_mm_per_s: 0.0,
            delay_s: rng.random_range(-0.001..0.001),
            two_clocks_s: None,
            readings_per_s: 50.0,
            positions_per_s: 100.0,
            counts_per_rev: 4000.0,
            grows_cutting: true,
            lost_counts: Vec::new(),
            spindle: (0.0, 2.0, 0.0),
            bounce_mm: 0.0,
            wrapped: false,
            deaf_deg: Vec::new(),
        },
        stated: Stated {
            hand: "right",
            flutes,
            diameter_mm,
            check_mm: 0.5,
            land_deg: None,
            feed_mm: None,
            curve: None,
            limits: Vec::new(),
            resolution_mm: 0.001,
            count_mm: None,
            travel_mm: None,
            max_error_mm: 0.002,
            hysteresis_mm: 0.001,
            lever_deg: 0.0,
            tip: Tip::Ball { radius_mm: ball },
            counts_per_rev: 4000.0,
            sense: Sense::Physical {
                clockwise: true,
                proven: true,
            },
            offset_mm: 0.0,
            offset_tolerance_mm: 0.05,
            lean: Some((0.004, 100.0)),
            runout_mm: None,
            delay_ms: None,
            inches: false,
            more: Vec::new(),
        },
        off_axis: within_disc(rng, 0.012),
        lean,
        references: vec![Reference {
            radius_mm: shank,
            z_mm: 30.0,
            flats: Vec::new(),
            lobes: Vec::new(),
            beside: [0.0, 0.0],
            hand: Hand::turning(2.0, 40.0),
        }],
        z_mm: vec![2.0],
        hand: Hand::turning(4.0, 40.0),
    };
    usual_limits(&mut inspection);
    inspection
}

/// Limits that the tool as it stands keeps with room.
pub fn usual_limits(inspection: &mut Inspection) {
    inspection.stated.limits.clear();
    let truth = inspection.truth();
    let first = &truth.teeth[0].figures;
    let drop = first["drop"];
    let clearance = first["heel-clearance"];
    let stated = &mut inspection.stated;
    stated
        .limits
        .push(("drop_mm", "drop", Some(drop - 0.02), Some(drop + 0.02)));
    stated.limits.push((
        "heel_clearance_mm",
        "heel-clearance",
        Some((clearance - 0.02).max(0.0)),
        None,
    ));
    stated
        .limits
        .push(("edge_spread_mm", "edge-spread", None, Some(0.015)));
    stated
        .limits
        .push(("flute_spacing_deg", "flute-spacing", None, Some(0.4)));
}

/// Only the rule that nothing stands above the edge.
pub fn clearance_alone(inspection: &mut Inspection) {
    inspection.stated.limits = vec![("heel_clearance_mm", "heel-clearance", Some(0.0), None)];
}

/// One limit put so that the true values lie this far outside it (negative: inside).
pub fn limit_outside(
    inspection: &mut Inspection,
    key: &'static str,
    name: &'static str,
    least: bool,
    by: f64,
) {
    let truth = inspection.truth();
    let each = truth
        .teeth
        .iter()
        .filter_map(|tooth| tooth.figures.get(name));
    let all: Vec<f64> = each.chain(truth.whole.get(name)).copied().collect();
    let lowest = all.iter().copied().fold(f64::MAX, f64::min);
    let highest = all.iter().copied().fold(f64::MIN, f64::max);
    let limit = if least {
        // No card may ask for less than nothing of these.
        (Some((lowest + by).max(0.0)), None)
    } else {
        (None, Some((highest - by).max(0.0)))
    };
    inspection.stated.limits.retain(|limit| limit.1 != name);
    inspection.stated.limits.push((key, name, limit.0, limit.1));
}

/// The ball, with an error that its card allows.
pub fn ball(inspection: &mut Inspection, radius_mm: f64, rng: &mut Pcg64) {
    inspection.stated.tip = Tip::Ball { radius_mm };
    inspection.bench.tip = Tip::Ball {
        radius_mm: radius_mm * (1.0 + rng.random_range(-0.01..0.01)),
    };
}

/// How the tool is turned, in the feature's trace.
pub fn turned(inspection: &mut Inspection, turns: f64, deg_per_s: f64, readings_per_s: f64) {
    inspection.hand = Hand::turning(turns, deg_per_s);
    inspection.bench.readings_per_s = readings_per_s;
}

/// A place anywhere in a disc.
pub fn within_disc(rng: &mut Pcg64, radius: f64) -> [f64; 2] {
    let size = radius * rng.random_range(0.0f64..1.0).sqrt();
    let towards = rng.random_range(0.0..std::f64::consts::TAU);
    [size * towards.sin(), size * towards.cos()]
}
