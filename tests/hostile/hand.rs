//! How the tool is turned by hand: where it stands at every moment.

use rand::Rng;
use rand_pcg::Pcg64;

/// One thing that the hand does; turns are positive the way the tool cuts.
#[derive(Clone, Copy, Debug)]
pub enum Move {
    Turn { deg: f64, deg_per_s: f64 },
    Rest { s: f64 },
}

/// The hand.
#[derive(Clone, Debug)]
pub struct Hand {
    pub moves: Vec<Move>,
    /// How far the speed wanders, as a share.
    pub unevenness: f64,
    /// Small steps back during a turn, about so many a turn.
    pub nudges: f64,
}

impl Hand {
    /// Rests, turns this often at this speed the way the tool cuts (or back), rests.
    pub fn turning(turns: f64, deg_per_s: f64) -> Self {
        Self {
            moves: vec![
                Move::Rest { s: 0.3 },
                Move::Turn {
                    deg: 360.0 * turns + 8.0 * turns.signum(),
                    deg_per_s,
                },
                Move::Rest { s: 0.3 },
            ],
            unevenness: 0.15,
            nudges: 0.0,
        }
    }

    /// So often one way, and the same back.
    pub fn both_ways(turns: f64, deg_per_s: f64) -> Self {
        let mut hand = Self::turning(turns, deg_per_s);
        hand.moves.push(Move::Turn {
            deg: -360.0 * turns - 8.0 * turns.signum(),
            deg_per_s,
        });
        hand.moves.push(Move::Rest { s: 0.3 });
        hand
    }
}

/// Where the tool stood, every [`Path::TICK_S`] seconds, in radians the way it cuts.
pub struct Path(Vec<f64>);

impl Path {
    pub const TICK_S: f64 = 0.0005;

    pub fn of(hand: &Hand, start_deg: f64, rng: &mut Pcg64) -> Self {
        let mut places = vec![start_deg];
        let mut at = start_deg;
        for step in &hand.moves {
            match *step {
                Move::Rest { s } => {
                    places.extend(std::iter::repeat_n(at, (s / Self::TICK_S) as usize));
                }
                Move::Turn { deg, deg_per_s } => {
                    let end = at + deg;
                    let waves: [(f64, f64, f64); 3] = std::array::from_fn(|_| {
                        (
                            rng.random_range(0.3..3.0),
                            rng.random_range(0.0..6.3),
                            rng.random_range(0.4..1.0),
                        )
                    });
                    let mut time = 0.0;
                    let mut back_left = 0usize;
                    while (end - at) * deg.signum() > 0.0 {
                        time += Self::TICK_S;
                        let wave: f64 = waves
                            .iter()
                            .map(|(rate, phase, size)| size * (rate * time + phase).sin())
                            .sum();
                        let mut speed = deg_per_s * (1.0 + hand.unevenness * wave).max(0.1);
                        let ticks_a_turn = 360.0 / deg_per_s / Self::TICK_S;
                        if back_left == 0 && rng.random::<f64>() < hand.nudges / ticks_a_turn {
                            back_left = rng.random_range(100..600);
                        }
                        if back_left > 0 {
                            back_left -= 1;
                            speed *= -0.6;
                        }
                        at += speed * Self::TICK_S * deg.signum();
                        places.push(at);
                    }
                }
            }
        }
        for place in &mut places {
            *place = place.to_radians();
        }
        Self(places)
    }

    pub fn ticks(&self) -> &[f64] {
        &self.0
    }

    /// How long it took.
    pub fn lasts_s(&self) -> f64 {
        (self.0.len() - 1) as f64 * Self::TICK_S
    }

    pub fn at(&self, time_s: f64) -> f64 {
        let tick = (time_s / Self::TICK_S).clamp(0.0, (self.0.len() - 1) as f64);
        let below = tick.floor() as usize;
        let above = (below + 1).min(self.0.len() - 1);
        self.0[below] + (tick - below as f64) * (self.0[above] - self.0[below])
    }
}
