//! What it costs to choose the curve of one land of 240 places, for lands of every family.
//!
//! `cargo bench --bench choose`. It fails when any of them costs more than a person would notice
//! over a dozen flutes.
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::panic)]

use heelclear::card::Surface;
use heelclear::fit::{CamFigures, Curve, FitSettings, Land, LandPoint, Law, choose};
use heelclear::quantity::{Angle, Length};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use std::hint::black_box;
use std::time::Instant;

/// Places that a fit is given at the most.
const PLACES: usize = 240;
/// Milliseconds that one choice should cost at the most, and what is put down to a busy machine.
const COST_AIM: f64 = 8.0;
const BUSY: f64 = 2.0;

fn lands() -> Vec<(&'static str, Curve, f64)> {
    let (surface, radius) = (Surface::Radial, Length::from_mm(10.0));
    let deg = Angle::from_deg;
    let cam = Curve::cam(
        surface,
        radius,
        CamFigures {
            law: Law::Harmonic,
            depth: Length::from_mm(0.4),
            fall: deg(18.0),
            lead: deg(3.0),
            heel: Some((deg(36.0), Length::from_mm(0.15))),
            end: deg(60.0),
        },
    );
    let flat = Curve::flat(surface, radius, deg(7.0));
    let arc = Curve::arc(surface, radius, deg(6.0), 0.6);
    let spiral = Curve::spiral(surface, radius, deg(9.0));
    let facets = Curve::facets(surface, radius, deg(7.0), deg(6.0), deg(18.0));
    vec![
        ("flat", flat, 12.0),
        ("arc", arc, 60.0),
        ("spiral", spiral, 50.0),
        (
            "spiral behind a margin",
            spiral.behind_margin(deg(2.5)),
            28.0,
        ),
        ("facets", facets, 24.0),
        ("cam", cam, 60.0),
        ("cam behind a margin", cam.behind_margin(deg(2.5)), 60.0),
        ("nothing known", spiral, 50.0),
    ]
}

fn main() {
    let mut random = Pcg64Mcg::seed_from_u64(8);
    let mut dearest: f64 = 0.0;
    for (name, truth, end_deg) in lands() {
        let end = Angle::from_deg(end_deg);
        let wave = if name == "nothing known" { 4.0 } else { 0.0 };
        let points: Vec<LandPoint> = (1..=PLACES)
            .map(|i| i as f64 / PLACES as f64)
            .map(|share| {
                let noise = random.random_range(-1.0..1.0) + wave * (share * 20.0).sin();
                LandPoint {
                    arc: end * share,
                    drop: truth.drop(end * share) + Length::from_um(noise),
                    standard_uncertainty: Length::from_um(0.6),
                }
            })
            .collect();
        let land = Land {
            points: &points,
            radius: Length::from_mm(10.0),
            surface: Surface::Radial,
            edge: Some(Length::from_um(1.0)),
            end,
        };
        let once = |_| {
            let start = Instant::now();
            let choice = choose(black_box(&land), &FitSettings::default()).unwrap();
            (start.elapsed().as_secs_f64() * 1e3, choice)
        };
        let (cost, choice) = (0..20)
            .map(once)
            .min_by(|one, other| one.0.total_cmp(&other.0))
            .unwrap();
        dearest = dearest.max(cost);
        println!(
            "{name:24} {cost:6.2} ms, {} of {} families, {}",
            choice.best.family(),
            choice.others.len() + 1,
            if choice.best.trust.is_full() {
                "trusted"
            } else {
                "doubted"
            }
        );
    }
    println!("{dearest:.1} ms at the most, {COST_AIM} ms aimed at");
    if dearest >= BUSY * COST_AIM {
        println!("  missed by far; was the machine busy?");
    }
}
