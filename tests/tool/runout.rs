//! Runout against published points and computed rounds.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use crate::traces;
use heelclear::error::Code;
use heelclear::quantity::{Angle, Length, Time};
use heelclear::sample::{Marks, Sample};
use heelclear::shape::{Runout, along_axis, runout};
use heelclear::trace::{MergeSettings, Merged, merge};
use rand::{Rng, SeedableRng};

fn mm(value: f64) -> Length {
    Length::from_mm(value)
}

/// The numeric rows of a reference file.
fn reference(file: &str) -> Vec<Vec<f64>> {
    let path = format!("{}/tests/reference/{file}", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    let rows = text
        .lines()
        .map(|line| line.split(',').map(str::parse).collect());
    rows.filter_map(Result::ok).collect()
}

/// A merged trace of `(angle in degrees, reading in mm)` without noise.
fn merged(places: &[(f64, f64)], cell_deg: f64) -> Merged {
    let places = places
        .iter()
        .map(|(deg, reading)| (Angle::from_deg(*deg), mm(*reading)));
    traces::merged(places, Angle::from_deg(cell_deg), Length::ZERO)
}

#[test]
fn an_eccentric_circle_is_exact_where_its_radius_is_known() {
    // Computed in high precision: tests/reference/limacon.csv, R = 10, e = 0.1 along 0.
    let rows = reference("limacon.csv");
    assert_eq!(rows.len(), 36);
    let exact: Vec<_> = rows.iter().map(|row| (row[0], row[1] - 10.0)).collect();
    let limacon: Vec<_> = rows.iter().map(|row| (row[0], row[2] - 10.0)).collect();

    let found = runout(&merged(&exact, 10.0), Some(mm(10.0)), Length::ZERO).unwrap();
    assert!((found.axis.x - mm(0.1)).abs() < mm(1e-9), "{found:?}");
    assert!(found.axis.y.abs() < mm(1e-9) && found.mean.abs() < mm(1e-9) && found.form < mm(1e-8));
    for (deg, reading) in &exact {
        let added = found.added(Angle::from_deg(*deg), Some(mm(10.0)));
        assert!((added - mm(*reading)).abs() < mm(2e-9));
    }
    // To first order the circle is a limacon, and what is left is e²/2R sin²: 0.5 µm.
    let first_order = runout(&merged(&exact, 10.0), None, Length::ZERO).unwrap();
    assert!((first_order.axis.x - mm(0.1)).abs() < mm(1e-6));
    assert!(
        (first_order.form - mm(0.0005)).abs() < mm(1e-6),
        "{first_order:?}"
    );
    let found = runout(&merged(&limacon, 10.0), None, Length::ZERO).unwrap();
    assert!((found.axis.x - mm(0.1)).abs() < mm(1e-9) && found.form < mm(1e-8));
}

/// A ground round in a spindle: its flaws, and how it was turned.
#[derive(Clone)]
struct Shank {
    x_um: f64,
    y_um: f64,
    /// Middle and half-angle of driving flats, in degrees.
    flats: Vec<(f64, f64)>,
    /// Middle, half-width in degrees and depth in mm of keyways and nicks.
    nicks: Vec<(f64, f64, f64)>,
    /// Height in µm of a shape of three lobes.
    lobes_um: f64,
    noise_um: f64,
    resolution_um: f64,
    seed: u64,
}

impl Default for Shank {
    fn default() -> Self {
        Self {
            x_um: 12.0,
            y_um: -7.0,
            flats: Vec::new(),
            nicks: Vec::new(),
            lobes_um: 0.0,
            noise_um: 0.5,
            resolution_um: 1.0,
            seed: 3,
        }
    }
}

impl Shank {
    const RADIUS: f64 = 8.0;

    fn height(&self, deg: f64) -> f64 {
        let angle = deg.to_radians();
        let apart = |middle: f64| Angle::from_deg(deg - middle).shortest().deg();
        let mut height = self.lobes_um / 1000.0 * (3.0 * angle + 0.4).cos();
        for &(middle, half) in &self.flats {
            if apart(middle).abs() < half {
                let flat = half.to_radians().cos() / apart(middle).to_radians().cos();
                height = height.min(Self::RADIUS * (flat - 1.0));
            }
        }
        for &(middle, half, depth) in &self.nicks {
            if apart(middle).abs() < half {
                height -= depth;
            }
        }
        height + (self.x_um * angle.cos() + self.y_um * angle.sin()) / 1000.0
    }

    fn merged(&self) -> Merged {
        let mut rng = rand_pcg::Pcg64::seed_from_u64(self.seed);
        let mut deg = 0.0;
        let mut samples = Vec::new();
        for i in 0..3000 {
            let time = f64::from(i) * 0.01;
            deg += 0.3 * (1.0 + 0.5 * (1.7 * time).sin());
            let noise: f64 = (0..12).map(|_| rng.random::<f64>()).sum::<f64>() - 6.0;
            let reading = (self.height(deg) * 1000.0 + noise * self.noise_um) / self.resolution_um;
            samples.push(Sample {
                time: Time::from_s(time),
                angle: Angle::from_deg(deg),
                reading: Length::from_um(reading.round() * self.resolution_um),
                marks: Marks::NONE,
            });
        }
        let settings = MergeSettings {
            delay: Some(Time::ZERO),
            ..traces::steps(Length::from_um(self.resolution_um), 0)
        };
        merge(&traces::bare(samples), &settings).unwrap()
    }
}

#[test]
fn runout_of_a_broken_round_is_that_of_its_round_arcs() {
    #[track_caller]
    fn check(shank: Shank, left_out: usize, within_um: f64) -> Runout {
        let found = runout(&shank.merged(), Some(mm(Shank::RADIUS)), Length::ZERO).unwrap();
        let off = (found.axis.x.um() - shank.x_um).hypot(found.axis.y.um() - shank.y_um);
        assert!(off < within_um, "off by {off} µm: {found:#?}");
        let u = found
            .added_uncertainty(Angle::ZERO)
            .um()
            .hypot(found.added_uncertainty(Angle::TURN / 4.0).um());
        assert!(
            off < 4.0 * u && u < 3.0 * within_um,
            "off by {off} µm, claimed {u} µm"
        );
        assert_eq!(found.left_out.len(), left_out, "{:#?}", found.left_out);
        found
    }
    let round = Shank::default();
    let whole = check(round.clone(), 0, 0.2);
    assert!(whole.round_arc > Angle::from_deg(358.0));
    assert!((whole.eccentricity().value.um() - 12.0_f64.hypot(7.0)).abs() < 0.2);
    assert!(
        (whole.direction().deg() - 329.74).abs() < 1.5,
        "{}",
        whole.direction().deg()
    );

    let flats = |flats: &[(f64, f64)]| Shank {
        flats: flats.to_vec(),
        ..round.clone()
    };
    let one = check(flats(&[(30.0, 35.0)]), 1, 0.4);
    assert!(
        (one.left_out[0].width.deg() - 70.0).abs() < 4.0,
        "{:?}",
        one.left_out
    );
    assert!(
        (one.left_out[0].furthest.mm() + 1.447).abs() < 0.02,
        "{:?}",
        one.left_out
    );
    check(flats(&[(10.0, 36.0), (190.0, 36.0)]), 2, 0.4);
    // Forty per cent of the turn, all on one side.
    check(flats(&[(100.0, 72.0)]), 1, 0.8);
    check(flats(&[(20.0, 20.0), (110.0, 20.0), (200.0, 20.0)]), 3, 0.4);
    let nicks = vec![(80.0, 8.0, 0.5), (200.0, 1.5, 0.02), (260.0, 3.0, 0.15)];
    check(
        Shank {
            nicks,
            ..round.clone()
        },
        3,
        0.3,
    );
    // A worn shank: lobes are no runout, but make it less certain where a flat hides part of them.
    check(
        Shank {
            lobes_um: 2.0,
            ..flats(&[(30.0, 35.0)])
        },
        1,
        2.0,
    );
    check(
        Shank {
            noise_um: 3.0,
            ..flats(&[(30.0, 35.0)])
        },
        1,
        1.0,
    );
}

#[test]
fn claimed_uncertainty_covers_what_repeated_traces_show() {
    let flats = vec![(30.0, 40.0)];
    let mut squares = 0.0;
    let seeds = 60;
    for seed in 0..seeds {
        let shank = Shank {
            noise_um: 2.0,
            flats: flats.clone(),
            seed,
            ..Shank::default()
        };
        let found = runout(&shank.merged(), Some(mm(Shank::RADIUS)), Length::ZERO).unwrap();
        squares +=
            ((found.axis.x.um() - shank.x_um) / found.added_uncertainty(Angle::ZERO).um()).powi(2);
        squares += ((found.axis.y.um() - shank.y_um)
            / found.added_uncertainty(Angle::TURN / 4.0).um())
        .powi(2);
    }
    let ratio = (squares / (2.0 * f64::from(seeds as u32))).sqrt();
    assert!(
        (0.4..1.4).contains(&ratio),
        "errors are {ratio} times what is claimed"
    );
}

#[test]
fn what_is_no_round_is_refused() {
    #[track_caller]
    fn check(height: impl Fn(f64) -> f64, from: u32, to: u32) {
        let places: Vec<_> = (from * 2..to * 2).map(|i| f64::from(i) / 2.0).collect();
        let places: Vec<_> = places.into_iter().map(|deg| (deg, height(deg))).collect();
        let error = runout(&merged(&places, 0.5), None, Length::ZERO).unwrap_err();
        assert_eq!(error.code(), Code::Reference);
        assert!(error.advice().is_some());
    }
    check(|deg| -(deg.rem_euclid(30.0)) * 0.02, 0, 360); // a reamer's lands
    check(|deg| -deg * 0.003, 0, 360); // a single-flute land of constant rise
    check(|deg| (deg.to_radians() * 6.0).cos() * 0.4, 0, 360); // a hexagon, nearly
    check(|_| 0.0, 0, 100); // a round, but little of it
    check(|_| 0.0, 0, 1);
    check(
        |deg| if deg < 170.0 { 0.0 } else { -1.0 - deg * 0.01 },
        0,
        360,
    );
    let nothing = runout(&merged(&[], 0.5), None, Length::ZERO).unwrap_err();
    assert_eq!(nothing.code(), Code::Reference);
}

#[test]
fn two_planes_give_the_tilt() {
    let plane = |x_um: f64, y_um: f64| {
        let shank = Shank {
            x_um,
            y_um,
            noise_um: 0.3,
            ..Shank::default()
        };
        runout(&shank.merged(), Some(mm(Shank::RADIUS)), Length::ZERO).unwrap()
    };
    let planes = [(mm(40.0), plane(10.0, 0.0)), (mm(60.0), plane(4.0, 2.0))];
    let at = |z: f64| along_axis(&planes, mm(z)).unwrap();
    assert!((at(50.0).axis.x.um() - 7.0).abs() < 0.2 && (at(50.0).axis.y.um() - 1.0).abs() < 0.2);
    assert!((at(2.0).axis.x.um() - 21.4).abs() < 0.6 && (at(2.0).axis.y.um() + 3.8).abs() < 0.6);
    assert!(at(2.0).added_uncertainty(Angle::ZERO) > at(50.0).added_uncertainty(Angle::ZERO) * 2.0);
    assert_eq!(at(2.0).planes, 2);
    let alone = along_axis(&planes[..1], mm(2.0)).unwrap();
    assert_eq!((alone.axis.x, alone.planes), (planes[0].1.axis.x, 1));
    assert_eq!(along_axis(&[], mm(2.0)), None);
    // A third plane off the line makes the line less certain.
    let mut three = planes.to_vec();
    three.push((mm(80.0), plane(8.0, 4.0)));
    let bent = along_axis(&three, mm(50.0)).unwrap();
    assert!(bent.added_uncertainty(Angle::ZERO) > at(50.0).added_uncertainty(Angle::ZERO) * 3.0);
}
