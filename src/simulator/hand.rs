//! A hand that turns unevenly, stops, and slips back a little.

use super::scenario::{Hand, Turning};
use rand::Rng;
use rand_pcg::Pcg64;
use std::f64::consts::TAU;

/// Where the tool is while it is turned; angles in radians, growing the way it cuts.
#[derive(Clone, Debug)]
pub(super) struct Motion {
    hand: Hand,
    rng: Pcg64,
    angle: f64,
    direction: f64,
    /// Runs still to come after this one.
    runs_left: u32,
    /// Still to turn in this run.
    left: f64,
    doing: Doing,
    time_s: f64,
    swing: f64,
    swing_at: f64,
    /// The most that it was away from its start.
    farthest: f64,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Doing {
    Turning,
    Pausing { left_s: f64 },
    SlippingBack { left: f64 },
    Done,
}

/// How long a hand rests after it has finished.
const REST_S: f64 = 0.3;

impl Motion {
    pub(super) fn new(hand: &Hand, mut rng: Pcg64) -> Self {
        let direction = match hand.turning {
            Turning::Cutting | Turning::Both => 1.0,
            Turning::Backing => -1.0,
        };
        Self {
            hand: *hand,
            angle: hand.start_deg.to_radians(),
            direction,
            runs_left: u32::from(hand.turning == Turning::Both),
            left: hand.turns * TAU,
            doing: Doing::Pausing {
                left_s: hand.rest_s,
            },
            time_s: 0.0,
            swing: 0.0,
            farthest: 0.0,
            swing_at: rng.random_range(0.0..TAU),
            rng,
        }
    }

    /// The angle now.
    pub(super) fn angle(&self) -> f64 {
        self.angle
    }

    /// The most that the tool was turned away from where it stood at first.
    pub(super) fn farthest(&self) -> f64 {
        self.farthest
    }

    /// Whether the hand has let go.
    pub(super) fn done(&self) -> bool {
        self.doing == Doing::Done
    }

    /// Lets a short time pass.
    pub(super) fn step(&mut self, dt: f64) {
        self.time_s += dt;
        let away = self.angle - self.hand.start_deg.to_radians();
        self.farthest = self.farthest.max(away.abs());
        match self.doing {
            Doing::Done => {}
            Doing::Pausing { left_s } if left_s > dt => {
                self.doing = Doing::Pausing {
                    left_s: left_s - dt,
                };
            }
            Doing::Pausing { .. } if self.left <= 0.0 && self.runs_left == 0 => {
                self.doing = Doing::Done;
            }
            Doing::Pausing { .. } => {
                if self.left <= 0.0 {
                    self.runs_left -= 1;
                    self.direction = -self.direction;
                    self.left = self.hand.turns * TAU;
                }
                self.doing = Doing::Turning;
            }
            Doing::SlippingBack { left } => {
                let by = self.speed(dt) * 0.5 * dt;
                self.angle -= self.direction * by;
                self.left += by;
                self.doing = match left - by {
                    left if left > 0.0 => Doing::SlippingBack { left },
                    _ => Doing::Turning,
                };
            }
            Doing::Turning => self.turn(dt),
        }
    }

    fn turn(&mut self, dt: f64) {
        let by = (self.speed(dt) * dt).min(self.left);
        self.angle += self.direction * by;
        self.left -= by;
        if self.left <= 0.0 {
            self.doing = Doing::Pausing { left_s: REST_S };
        } else if self.happens(self.hand.pauses_per_turn, by) {
            let left_s = self.rng.random_range(0.2..0.9);
            self.doing = Doing::Pausing { left_s };
        } else if self.happens(self.hand.nudges_per_turn, by) {
            let left = self.rng.random_range(0.3f64..2.0).to_radians();
            self.doing = Doing::SlippingBack { left };
        }
    }

    /// Whether something that comes so often in a turn comes within this arc.
    fn happens(&mut self, per_turn: f64, arc: f64) -> bool {
        per_turn > 0.0 && self.rng.random::<f64>() < per_turn * arc / TAU
    }

    /// Speed in radians a second: a slow swing as the hand reaches round, and a wandering part.
    fn speed(&mut self, dt: f64) -> f64 {
        let kick: f64 = self.rng.random_range(-1.0..1.0);
        // A wandering that forgets itself within half a second.
        let keep = (-dt / 0.5).exp();
        self.swing = self.swing * keep + kick * (1.0 - keep * keep).sqrt();
        let reach = (TAU * self.time_s / 1.7 + self.swing_at).sin();
        let uneven = 1.0 + self.hand.unevenness * (0.6 * reach + 0.6 * self.swing);
        self.hand.speed_deg_per_s.to_radians() * uneven.max(0.05)
    }
}
