//! A trace from its file to one height a place, on synthetic tools turned by a synthetic hand.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use heelclear::card::Role;
use heelclear::quantity::{Angle, Length, Time};
use heelclear::sample::{Marks, Sample};
use heelclear::trace::{MergeSettings, Merged, Trace, merge};
use rand::{Rng, SeedableRng};

/// A tool as a stylus without width would read it, and the hand that turns it.
#[derive(Clone, Debug)]
struct Bench {
    teeth: u32,
    /// Arc of each land, in degrees.
    land_deg: f64,
    /// Relief angle of the spiral lands, in degrees.
    relief_deg: f64,
    /// Where the first edge is.
    edge_deg: f64,
    rate_hz: f64,
    noise_um: f64,
    resolution_um: f64,
    hysteresis_um: f64,
    delay_ms: f64,
    counts_per_turn: u32,
    /// Angle to turn to, in degrees, and the usual speed on the way there.
    moves: Vec<(f64, f64)>,
    /// Seconds of rest after each move.
    rest_s: f64,
    /// How much the speed swings about the usual one, 0 to 1.
    uneven: f64,
    seed: u64,
}

impl Default for Bench {
    fn default() -> Self {
        Self {
            teeth: 2,
            land_deg: 60.0,
            relief_deg: 7.0,
            edge_deg: 40.0,
            rate_hz: 100.0,
            noise_um: 0.5,
            resolution_um: 1.0,
            hysteresis_um: 0.0,
            delay_ms: 0.0,
            counts_per_turn: 4000,
            moves: vec![(-1100.0, 30.0)],
            rest_s: 0.3,
            uneven: 0.5,
            seed: 1,
        }
    }
}

/// Radius of the edges, in mm.
const R: f64 = 10.0;

impl Bench {
    /// The height in mm at an angle in degrees: land from each edge on, then a gap 1 mm deep, with
    /// a face that rises within 0.6 degrees.
    fn height(&self, deg: f64) -> f64 {
        let pitch = 360.0 / f64::from(self.teeth);
        let behind = (deg - self.edge_deg).rem_euclid(pitch);
        let land = |arc: f64| -R * self.relief_deg.to_radians().tan() * arc.to_radians();
        if behind <= self.land_deg {
            return land(behind);
        }
        let heel = land(self.land_deg);
        let fall = heel - (behind - self.land_deg) * 0.2;
        let rise = (heel - 1.0) * (pitch - behind) / 0.6;
        fall.max(rise).max(heel - 1.0)
    }

    fn samples(&self) -> Vec<Sample> {
        let mut rng = rand_pcg::Pcg64::seed_from_u64(self.seed);
        let fine = 1.0e-3_f64.min(0.1 / self.rate_hz);
        // The path of the hand: time, angle.
        let (mut t, mut at) = (0.0_f64, 0.0_f64);
        let mut path = vec![(0.0, 0.0)];
        for &(target, usual) in &self.moves {
            let way = f64::signum(target - at);
            while (target - at) * way > 0.0 {
                let swing = (2.1 * t).sin() * 0.6 + (5.3 * t + 1.0).sin() * 0.4;
                at += way * usual * (1.0 + self.uneven * swing) * fine;
                t += fine;
                path.push((t, at));
            }
            t += self.rest_s;
            path.push((t, at));
        }
        let angle_at = |t: f64| {
            let next = path
                .partition_point(|(time, _)| *time < t)
                .clamp(1, path.len() - 1);
            let ((t0, a0), (t1, a1)) = (path[next - 1], path[next]);
            a0 + (a1 - a0) * ((t - t0) / (t1 - t0)).clamp(0.0, 1.0)
        };
        let count = (t * self.rate_hz) as usize;
        let step = 360.0 / f64::from(self.counts_per_turn);
        let mut samples = Vec::with_capacity(count);
        let mut way = 1.0;
        for i in 0..count {
            let now = i as f64 / self.rate_hz;
            let (angle, then) = (angle_at(now), angle_at(now - self.delay_ms / 1000.0));
            let moved = then - angle_at(now - self.delay_ms / 1000.0 - 0.02);
            if moved != 0.0 {
                way = moved.signum();
            }
            let noise = self.noise_um / 1000.0 * normal(&mut rng);
            let exact = self.height(then) + noise + way * self.hysteresis_um / 2000.0;
            let least = self.resolution_um / 1000.0;
            let reading = if least > 0.0 {
                (exact / least).round() * least
            } else {
                exact
            };
            samples.push(Sample {
                time: Time::from_s(now),
                angle: Angle::from_deg((angle / step).round() * step),
                reading: Length::from_mm(reading),
                marks: Marks::NONE,
            });
        }
        samples
    }

    fn trace(&self) -> Trace {
        trace(self.samples())
    }

    fn settings(&self) -> MergeSettings {
        MergeSettings {
            delay: None,
            resolution: Length::from_um(self.resolution_um),
            counts_per_turn: self.counts_per_turn,
            cell_width: None,
        }
    }

    fn merge(&self) -> Merged {
        merge(&self.trace(), &self.settings()).unwrap()
    }

    /// Whether the surface is smooth for some way around, so that a height can be compared.
    fn smooth_at(&self, deg: f64) -> bool {
        let pitch = 360.0 / f64::from(self.teeth);
        let behind = (deg - self.edge_deg).rem_euclid(pitch);
        (0.5..self.land_deg - 0.5).contains(&behind)
    }
}

fn normal(rng: &mut impl Rng) -> f64 {
    let (u, v): (f64, f64) = (1.0 - rng.random::<f64>(), rng.random());
    (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
}

fn trace(samples: Vec<Sample>) -> Trace {
    Trace {
        name: "traces/seat.csv".to_owned(),
        role: Role::Feature("seat".to_owned()),
        z: None,
        rezeroed: false,
        two_clocks: false,
        samples,
        history: Vec::new(),
    }
}

/// Errors of the merged heights on the lands, in µm: root mean square, greatest, and both over the
/// standard errors claimed.
struct Errors {
    rms: f64,
    worst: f64,
    rms_over_claimed: f64,
}

fn errors(bench: &Bench, merged: &Merged) -> Errors {
    let on_lands = merged
        .cells
        .iter()
        .filter(|cell| bench.smooth_at(cell.angle.deg()));
    let pairs: Vec<(f64, f64)> = on_lands
        .map(|cell| {
            let error = cell.reading.um() - bench.height(cell.angle.deg()) * 1000.0;
            (error, cell.standard_error.um())
        })
        .collect();
    assert!(pairs.len() > 50, "{} places on lands", pairs.len());
    let mean =
        |of: &dyn Fn(&(f64, f64)) -> f64| pairs.iter().map(of).sum::<f64>() / pairs.len() as f64;
    Errors {
        rms: mean(&|pair| pair.0 * pair.0).sqrt(),
        worst: pairs.iter().map(|pair| pair.0.abs()).fold(0.0, f64::max),
        rms_over_claimed: mean(&|pair| (pair.0 / pair.1).powi(2)).sqrt(),
    }
}

#[test]
fn merged_heights_are_those_of_the_tool() {
    #[track_caller]
    fn check(bench: Bench, most_rms_um: f64) {
        let merged = bench.merge();
        let errors = errors(&bench, &merged);
        assert!(errors.rms < most_rms_um, "rms {} µm", errors.rms);
        assert!(
            errors.worst < 8.0 * most_rms_um,
            "worst {} µm",
            errors.worst
        );
        assert!(
            errors.rms_over_claimed < 1.4,
            "{} times what is claimed",
            errors.rms_over_claimed
        );
        assert!(
            errors.rms_over_claimed > 0.3,
            "{} times what is claimed",
            errors.rms_over_claimed
        );
        assert_eq!(merged.holes, []);
        assert!(merged.cells.is_sorted_by(|a, b| a.angle < b.angle));
        assert!(
            merged
                .cells
                .iter()
                .all(|cell| cell.angle >= Angle::ZERO && cell.angle < Angle::TURN)
        );
    }
    let bench = Bench::default();
    check(bench.clone(), 0.6);
    check(
        Bench {
            noise_um: 3.0,
            ..bench.clone()
        },
        2.5,
    );
    check(
        Bench {
            moves: vec![(1100.0, 30.0)],
            ..bench.clone()
        },
        0.6,
    );
    check(
        Bench {
            moves: vec![(800.0, 30.0), (-400.0, 40.0)],
            ..bench.clone()
        },
        0.6,
    );
    check(
        Bench {
            teeth: 1,
            land_deg: 320.0,
            ..bench.clone()
        },
        0.7,
    );
    check(
        Bench {
            teeth: 24,
            land_deg: 8.0,
            moves: vec![(-1500.0, 15.0)],
            ..bench.clone()
        },
        0.6,
    );
    check(
        Bench {
            rate_hz: 2000.0,
            ..bench.clone()
        },
        0.6,
    );
    // Pauses and nudges on the way.
    let moves = vec![
        (-200.0, 30.0),
        (-192.0, 20.0),
        (-500.0, 30.0),
        (-495.0, 9.0),
        (-1100.0, 30.0),
    ];
    check(
        Bench {
            moves,
            rest_s: 4.0,
            ..bench
        },
        0.6,
    );
}
