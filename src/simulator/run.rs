//! One trace as it happens: the hand turns, the tip rests, the instruments are read.

use super::fixture::Moving;
use super::hand::Motion;
use super::indicator::Indicator;
use super::outline::{self, Outline};
use super::probe::{Rest, Setting};
use super::scenario::{Grows, Hand, Positive, Round, Scenario, Surface};
use super::target::Target;
use rand::SeedableRng;
use rand_pcg::Pcg64;
use std::collections::VecDeque;
use std::f64::consts::{FRAC_PI_2, PI, TAU};
use std::sync::Arc;

/// What is traced: a reference round or a feature, and where.
#[derive(Clone, Debug, PartialEq)]
pub struct Pose {
    /// The trace's name, of which its file is made.
    pub name: String,
    /// Distance from the tool's front as the card says, in mm.
    pub z_mm: f64,
    /// The same as it really is.
    pub true_z_mm: f64,
    /// Whether the indicator is set anew before it.
    pub rezeroed: bool,
    /// Height of the tip at which the indicator shows nothing, in mm.
    pub zero_mm: f64,
    /// What is there.
    pub target: Target,
}

/// One reading of both instruments.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Since the start of the trace, in seconds.
    pub time_s: f64,
    /// The encoder's count, in the encoder's own sense.
    pub count: i64,
    /// The indicator in steps of its least count; absent where only the encoder was read.
    pub steps: Option<i64>,
    /// Marks of the encoder's index passed so far, and the count at the last.
    pub index: (u16, i64),
    /// Whether the last of them was passed against the encoder's own sense.
    pub backwards: bool,
}

/// A trace to be taken: its name, stated and true distance from the tool's front, what it shows, the
/// highest place there and the direction of the probe.
type Planned = (String, (f64, f64), Target, f64, Surface);

/// Reading of the highest place after the indicator is set, in mm: well within its travel.
const SET_AT_MM: f64 = 0.4;
/// Heights farther apart than this are not within one setting of the indicator.
const TRAVEL_MM: f64 = 2.0;
/// The tip is followed in steps of the turn no longer than this.
const FINEST_DEG: f64 = 0.05;

/// A trace being taken; ends when the hand lets go.
pub struct Run {
    motion: Motion,
    indicator: Indicator,
    rest: Arc<Rest>,
    zero_mm: f64,
    drift_mm_per_s: f64,
    counts_per_radian: f64,
    counts_per_turn: i64,
    dt_s: f64,
    steps_per_reading: u64,
    tick: u64,
    since_start_s: f64,
    /// Angles of the last moments, as far back as one instrument is behind the other.
    recent: VecDeque<f64>,
    late_by: usize,
    /// How far the late one is from the oldest of them towards the next, 0 to 1.
    late_share: f64,
    indicator_is_late: bool,
    index: (u16, i64),
    backwards: bool,
    turn: Option<i64>,
    /// The count that stands for 0 since the counter last began.
    counted_from: i64,
    two_clocks: bool,
}

impl Scenario {
    /// The traces of the recipe in the order taken, with the settings of the indicator.
    pub fn poses(&self) -> Vec<Pose> {
        let rounds = self.reference.iter().enumerate().map(|(i, round)| {
            let name = match i {
                0 => "shank".to_owned(),
                _ => format!("shank-{}", i + 1),
            };
            let highest = round.diameter_mm / 2.0;
            (
                name,
                (round.z_mm, round.z_mm),
                Target::Reference(i),
                highest,
                Surface::Radial,
            )
        });
        let features = self.feature.iter().enumerate().flat_map(|(i, feature)| {
            feature.z_mm.iter().enumerate().map(move |(j, &z)| {
                let name = match j {
                    0 => feature.name.clone(),
                    _ => format!("{}-{}", feature.name, j + 1),
                };
                let highest = match feature.surface {
                    Surface::Radial => feature.diameter_mm / 2.0,
                    Surface::Axial => 0.0,
                };
                (
                    name,
                    (z, feature.true_z_mm(j)),
                    Target::Feature(i),
                    highest,
                    feature.surface,
                )
            })
        });
        let locked = rounds.chain(features);
        let engaged = self.engaged_poses();
        let mut set: Option<(f64, Surface)> = None;
        locked
            .chain(engaged)
            .map(|(name, (z_mm, true_z_mm), target, highest, surface)| {
                let kept = set.filter(|(at, before)| {
                    *before == surface && (highest - SET_AT_MM - at).abs() < TRAVEL_MM
                });
                // An indicator at the wheel's place is another setting.
                let kept = kept.filter(|_| !target.is_engaged());
                let (zero_mm, _) = kept.unwrap_or((highest - SET_AT_MM, surface));
                let rezeroed = set.is_some() && kept.is_none();
                set = Some((zero_mm, surface));
                Pose {
                    name,
                    z_mm,
                    true_z_mm,
                    rezeroed,
                    zero_mm,
                    target,
                }
            })
            .collect()
    }

    /// The traces with a fixture engaged, each with the highest place that the tip may come to.
    fn engaged_poses(&self) -> Vec<Planned> {
        let targets = self.engaged_targets().into_iter();
        let planned = targets.filter_map(|(name, target)| {
            let (engaged, surface) = self.engaged(target)?;
            let (z, radius) = match target.feature().and_then(|at| self.feature.get(at)) {
                Some(feature) => {
                    let z_mm = feature.z_mm.first().copied().unwrap_or(0.0);
                    ((z_mm, feature.true_z_mm(0)), feature.diameter_mm / 2.0)
                }
                None => {
                    let round = self.round_of_motion();
                    ((round.z_mm, round.z_mm), round.diameter_mm / 2.0)
                }
            };
            let stands = match surface {
                Surface::Radial => radius,
                Surface::Axial => 0.0,
            };
            Some((name, z, target, stands + engaged.most(), surface))
        });
        planned.collect()
    }

    /// The fixture as it stands in a trace with it engaged, and the direction that it moves the tool in.
    fn engaged(&self, target: Target) -> Option<(Moving, Surface)> {
        match target {
            Target::Motion(fixture) => {
                let fixture = self.fixtures().get(fixture)?;
                Some((fixture.in_motion(), fixture.direction))
            }
            Target::Residual { fixture, .. } => {
                let fixture = self.fixtures().get(fixture)?;
                Some((fixture.on_feature(), fixture.direction))
            }
            Target::Reference(_) | Target::Feature(_) => None,
        }
    }

    /// What a motion is traced on: the first reference, or a mandrel in the tool's place.
    fn round_of_motion(&self) -> Round {
        let mandrel = || {
            let feature = self.feature.first();
            Round {
                diameter_mm: feature.map_or(10.0, |feature| feature.diameter_mm),
                z_mm: feature.map_or(0.0, |feature| feature.true_z_mm(0)),
                flats: 0,
                flat_depth_mm: 0.0,
                keyway_width_mm: 0.0,
                keyway_depth_mm: 0.0,
                turns: None,
            }
        };
        self.reference.first().cloned().unwrap_or_else(mandrel)
    }

    /// Starts one of the traces; `number` is its place in [`poses`](Self::poses).
    pub fn run(&self, pose: &Pose, number: usize) -> Run {
        self.run_over(Arc::new(self.rest(pose)), pose, number)
    }

    /// Works out where the tip rests in a pose: the slow part of a run, which can be kept.
    pub(super) fn rest(&self, pose: &Pose) -> Rest {
        match self.engaged(pose.target) {
            None => Rest::new(&self.outline(pose), &self.setting(pose)),
            // A face square to the axis of a mandrel moves only as the fixture does.
            Some((engaged, Surface::Axial)) if pose.target.feature().is_none() => {
                Rest::level().moved(|angle| engaged.towards(angle))
            }
            Some((engaged, _)) => Rest::new(&self.outline(pose), &self.setting(pose))
                .moved(|angle| engaged.towards(angle)),
        }
    }

    /// The same as [`run`](Self::run) over a rest worked out before.
    pub(super) fn run_over(&self, rest: Arc<Rest>, pose: &Pose, number: usize) -> Run {
        let hand = self.hand_at(pose);
        let stream = |n: u64| Pcg64::seed_from_u64(self.seed.wrapping_mul(1000).wrapping_add(n));
        let number = number as u64;
        // One indicator for the whole inspection: its scale error is the same in every trace.
        let indicator = Indicator::new(&self.gauge, &self.bench, stream(0));
        let indicator = indicator.with_noise_from(stream(100 + number));
        let two_clocks = self.bench.two_clocks;
        // With two clocks positions come twice as often, and heights fall between them.
        let readings_hz = self.bench.rate_hz * if two_clocks { 4.0 } else { 1.0 };
        let fastest_deg = hand.speed_deg_per_s * (1.0 + 1.5 * hand.unevenness) / readings_hz;
        let steps_per_reading = (fastest_deg / FINEST_DEG).ceil().clamp(1.0, 64.0);
        let dt_s = 1.0 / (readings_hz * steps_per_reading);
        let table_mm = self.bench.table_lean_deg.to_radians().tan() * pose.true_z_mm;
        let drifted_mm = self.bench.drift_mm_per_s * self.bench.trace_every_s * number as f64;
        let late = late(self.bench.delay_ms.abs() / 1000.0 / dt_s);
        Run {
            motion: Motion::new(&hand, stream(200 + number)),
            indicator,
            rest,
            zero_mm: pose.zero_mm - table_mm - drifted_mm,
            drift_mm_per_s: self.bench.drift_mm_per_s,
            counts_per_radian: self.counts_up() * f64::from(self.gauge.counts_per_rev) / TAU,
            counts_per_turn: i64::from(self.gauge.counts_per_rev),
            dt_s,
            steps_per_reading: steps_per_reading as u64,
            tick: 0,
            since_start_s: 0.0,
            recent: VecDeque::new(),
            late_by: late.0,
            late_share: late.1,
            indicator_is_late: self.bench.delay_ms >= 0.0,
            index: (0, 0),
            backwards: false,
            turn: None,
            counted_from: 0,
            two_clocks,
        }
    }

    /// 1 where the encoder counts up while the tool turns to cut, -1 where it counts down.
    fn counts_up(&self) -> f64 {
        let cuts = match self.tool.hand.as_str() {
            "left" => Grows::CounterClockwise,
            _ => Grows::Clockwise,
        };
        let up = match self.gauge.positive {
            Some(positive) => positive == Positive::Cutting,
            None => self.gauge.grows == cuts,
        };
        if up { 1.0 } else { -1.0 }
    }

    fn hand_at(&self, pose: &Pose) -> Hand {
        let turns = match pose.target {
            Target::Reference(i) => self.reference.get(i).and_then(|round| round.turns),
            Target::Feature(_) | Target::Motion(_) | Target::Residual { .. } => None,
        };
        Hand {
            turns: turns.unwrap_or(self.hand.turns),
            ..self.hand
        }
    }

    fn outline(&self, pose: &Pose) -> Outline {
        match pose.target {
            Target::Reference(i) => outline::of_round(&self.reference[i]),
            Target::Motion(_) => outline::of_round(&self.round_of_motion()),
            Target::Feature(i) | Target::Residual { feature: i, .. } => {
                outline::of_feature(&self.feature[i], self.tool.flutes, pose.true_z_mm)
            }
        }
    }

    fn setting(&self, pose: &Pose) -> Setting {
        let (eccentricity_mm, eccentric_at) = self.clamping.eccentricity_at(pose.true_z_mm);
        let (tilt, wobble_at) = self.clamping.tilt();
        let feature = pose.target.feature().and_then(|at| self.feature.get(at));
        let axial = feature.filter(|feature| feature.surface == Surface::Axial);
        let wobble_mm = axial.map_or(0.0, |feature| tilt * feature.true_diameter_mm() / 2.0);
        let face_to_axis = axial.map_or(FRAC_PI_2, |feature| feature.face_deg.to_radians());
        Setting {
            tip: self.gauge.stylus,
            radius_mm: (self.gauge.radius_mm + self.bench.radius_error_mm).max(0.0),
            eccentricity_mm,
            eccentric_at,
            offset_mm: self.gauge.probe_offset_mm + self.bench.probe_offset_error_mm,
            wobble_mm,
            // The side of a square face that the front leans to falls back, the other stands up.
            wobble_at: wobble_at + PI,
            face_to_axis,
            outline_at: self.clamping.first_edge_deg.to_radians(),
        }
    }
}

/// A delay in steps of time: whole steps back, and from there the share of a step forwards.
fn late(steps: f64) -> (usize, f64) {
    /// A share of a step that is none, but for the rounding of numbers.
    const NONE: f64 = 1e-6;
    let back = (steps - NONE).ceil().max(0.0);
    let share = back - steps;
    (back as usize, if share > NONE { share } else { 0.0 })
}

impl Iterator for Run {
    type Item = Reading;

    fn next(&mut self) -> Option<Reading> {
        if self.motion.done() {
            return None;
        }
        for _ in 0..self.steps_per_reading {
            self.motion.step(self.dt_s);
            self.recent.push_back(self.motion.angle());
            while self.recent.len() > self.late_by + 1 {
                self.recent.pop_front();
            }
            let height = self.rest.at(self.indicator_sees());
            self.since_start_s += self.dt_s;
            let drifted = self.drift_mm_per_s * self.since_start_s;
            self.indicator.follow(height - self.zero_mm + drifted);
        }
        // With two clocks every second instant is a position and every fourth a height.
        let read = !self.two_clocks || self.tick.is_multiple_of(4);
        Some(self.reading(read))
    }
}

impl Run {
    /// Goes on without end: when the hand has let go it lies still, as a real bench does.
    pub fn lie_still(&mut self) -> Reading {
        self.reading(true)
    }

    /// Whether the tool was turned by less than half a turn so far: no trace yet.
    pub(super) fn has_hardly_begun(&self) -> bool {
        self.motion.farthest() < TAU / 2.0
    }

    /// Rests on the tool while the hand has not begun to turn.
    pub fn wait(&mut self) -> Reading {
        let height = self.rest.at(self.motion.angle());
        self.indicator.follow(height - self.zero_mm);
        self.reading(true)
    }

    /// Counts from 0 again from where it stands, and says where that was.
    pub fn count_from_here(&mut self) -> i64 {
        let count = self.counted();
        self.counted_from += count;
        self.index = (0, 0);
        self.turn = None;
        count
    }

    fn reading(&mut self, read: bool) -> Reading {
        self.tick += 1;
        let count = self.counted();
        self.pass_index(count + self.counted_from);
        Reading {
            time_s: self.tick as f64 * self.steps_per_reading as f64 * self.dt_s,
            count,
            steps: read.then(|| self.indicator.read()),
            index: self.index,
            backwards: self.backwards,
        }
    }

    fn counted(&self) -> i64 {
        (self.encoder_sees() * self.counts_per_radian).floor() as i64 - self.counted_from
    }

    fn indicator_sees(&self) -> f64 {
        self.seen(self.indicator_is_late)
    }

    fn encoder_sees(&self) -> f64 {
        self.seen(!self.indicator_is_late)
    }

    fn seen(&self, late: bool) -> f64 {
        let now = self.motion.angle();
        if !late {
            return self.recent.back().copied().unwrap_or(now);
        }
        let oldest = self.recent.front().copied().unwrap_or(now);
        let next = self.recent.get(1).copied().unwrap_or(oldest);
        oldest + (next - oldest) * self.late_share
    }

    /// The index stands at every whole turn of the encoder.
    fn pass_index(&mut self, encoder: i64) {
        let turn = encoder.div_euclid(self.counts_per_turn);
        if let Some(before) = self.turn
            && before != turn
        {
            let at = turn.max(before) * self.counts_per_turn - self.counted_from;
            self.index = (self.index.0.wrapping_add(1), at);
            self.backwards = turn < before;
        }
        self.turn = Some(turn);
    }
}
