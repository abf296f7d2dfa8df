//! How the tool is being turned, and whether the hand should go slower or may go faster.

use crate::quantity::{Angle, AngularSpeed, Time};
use crate::sample::Seen;

/// Speed is what it was over about this long.
const SMOOTH: Time = Time::from_s(0.25);
/// The pace is told by the speed over about this long: a hand swings faster than it can follow
/// (chosen, no source).
const STEADY: Time = Time::from_s(1.5);
/// So long a hand has to turn before its pace is told, and so long another pace has to hold before
/// it is told instead (chosen, no source).
const HOLDS: Time = Time::from_s(0.7);
/// Two lines farther apart tell nothing of the speed between them.
const BROKEN: Time = Time::from_s(0.6);
/// Readings are counted over this long for their rate.
const COUNTED: Time = Time::from_s(0.5);
/// Slower than this is the trembling of a hand (half a degree a second).
const STILL: AngularSpeed = AngularSpeed::from_rad_per_s(0.5 / 180.0 * std::f64::consts::PI);
/// Who does not get farther than [`MOVES`] in this time stands still; a hand that reaches round
/// pauses for less.
const PAUSES: Time = Time::from_s(1.0);
/// So far it has to go to be turning: half a degree.
const MOVES: Angle = Angle::from_rad(0.5 / 180.0 * std::f64::consts::PI);
/// So far it has to go back to be turning the other way; a hand slips back by less (two and a half
/// degrees; chosen, no source).
const BACK: Angle = Angle::from_rad(2.5 / 180.0 * std::f64::consts::PI);
/// A hand is uneven: it is told to go slower before the mean speed reaches the limit.
const EARLY: f64 = 0.85;
/// Once told to go slower, until it is this much under that.
const CALM: f64 = 0.9;
/// Slower than this share of the limit only takes longer.
const IDLE: f64 = 0.3;
/// Once told that it may go faster, until it is this much over that.
const BRISK: f64 = 1.3;

/// Which way the tool turns.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Direction {
    /// It stands still.
    #[default]
    Still,
    /// The way it cuts: edge first.
    Cutting,
    /// The other way: heel first.
    Backing,
}

/// What the hand should do about its speed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Pace {
    /// Nothing turns, or too little is known.
    #[default]
    Unknown,
    /// Readings would lie farther apart than is wanted.
    Slower,
    /// As it should be.
    Right,
    /// It could go faster; nothing but time is lost.
    Faster,
}

/// Follows the turning of the tool.
#[derive(Clone, Debug)]
pub struct Motion {
    spacing: Angle,
    last: Option<(Time, Angle)>,
    speed: AngularSpeed,
    steady: AngularSpeed,
    began: Option<Angle>,
    window: Option<(Time, u32)>,
    rate_hz: Option<f64>,
    way: Turning,
    pace: Pace,
    /// Another pace than the one told, and since when.
    other: Option<(Pace, Time)>,
}

/// Which way it turns, and since when.
#[derive(Clone, Copy, Debug, Default)]
struct Turning {
    direction: Direction,
    /// Farthest reached that way; where it stands still, where it does.
    farthest: f64,
    /// When it last got farther.
    moved: Option<Time>,
    /// When it began to turn that way.
    since: Option<Time>,
    /// Since when it has stood still, where it does.
    stood: Option<Time>,
}

impl Turning {
    fn take(&mut self, time: Time, angle: Angle) {
        let angle = angle.rad();
        let Some(moved) = self.moved else {
            self.farthest = angle;
            self.moved = Some(time);
            self.stood = Some(time);
            return;
        };
        let sign = match self.direction {
            Direction::Still => 0.0,
            Direction::Cutting => 1.0,
            Direction::Backing => -1.0,
        };
        let by = angle - self.farthest;
        let (direction, least) = match self.direction {
            Direction::Still => (Self::towards(by), MOVES),
            same if by * sign >= 0.0 => (same, MOVES),
            _ => (Self::towards(by), BACK),
        };
        if by.abs() >= least.rad() {
            self.farthest = angle;
            self.moved = Some(time);
            if direction != self.direction {
                self.direction = direction;
                self.since = Some(time);
                self.stood = None;
            }
        } else if time - moved > PAUSES {
            // It may go on either way from here.
            *self = Self {
                farthest: angle,
                moved: Some(time),
                stood: self.stood.or(Some(moved)),
                ..Self::default()
            };
        }
    }

    fn towards(by: f64) -> Direction {
        if by > 0.0 {
            Direction::Cutting
        } else {
            Direction::Backing
        }
    }
}

impl Motion {
    /// Nothing seen yet, with this angle between two readings wanted.
    pub fn new(spacing: Angle) -> Self {
        let still = AngularSpeed::from_rad_per_s(0.0);
        Self {
            spacing: spacing.abs(),
            last: None,
            speed: still,
            steady: still,
            began: None,
            window: None,
            rate_hz: None,
            way: Turning::default(),
            pace: Pace::Unknown,
            other: None,
        }
    }

    /// A line came.
    pub fn take(&mut self, seen: &Seen) {
        if !seen.time.s().is_finite() {
            return;
        }
        if seen.reading.is_some() {
            self.count(seen.time);
        }
        let Some(angle) = seen.angle.filter(|angle| angle.rad().is_finite()) else {
            return;
        };
        self.began.get_or_insert(angle);
        let Some((time, before)) = self.last else {
            self.last = Some((seen.time, angle));
            self.way.take(seen.time, angle);
            return;
        };
        let passed = seen.time - time;
        if passed > BROKEN {
            self.speed = AngularSpeed::from_rad_per_s(0.0);
            self.last = Some((seen.time, angle));
            self.way = Turning::default();
            self.way.take(seen.time, angle);
        } else if passed > Time::ZERO {
            let now = (angle - before).rad() / passed.s();
            let weight = 1.0 - (-passed.s() / SMOOTH.s()).exp();
            let speed = self.speed.rad_per_s();
            self.speed = AngularSpeed::from_rad_per_s(speed + (now - speed) * weight);
            self.last = Some((seen.time, angle));
            self.way.take(seen.time, angle);
            self.follow(seen.time, passed, now.abs());
        }
        // A line that is earlier than the one before came late: it tells nothing of the speed.
        self.tell(seen.time);
    }

    /// The mean speed, by which the pace is told. A short pause of the hand changes nothing: the
    /// readings before and after it lie as close as they do.
    fn follow(&mut self, time: Time, passed: Time, now: f64) {
        let Some(since) = self.way.since else {
            self.steady = AngularSpeed::from_rad_per_s(0.0);
            return;
        };
        if self.speed.rad_per_s().abs() < STILL.rad_per_s() {
            return;
        }
        let turned_for = (time - since).s().max(passed.s());
        // At first it is the mean of all that there is.
        let weight = (1.0 - (-passed.s() / STEADY.s()).exp()).max(passed.s() / turned_for);
        let steady = self.steady.rad_per_s();
        self.steady = AngularSpeed::from_rad_per_s(steady + (now - steady) * weight.min(1.0));
    }

    fn count(&mut self, time: Time) {
        let (from, count) = self.window.get_or_insert((time, 0));
        let passed = time - *from;
        if passed >= COUNTED {
            self.rate_hz = Some(f64::from(*count) / passed.s()).filter(|rate| *rate > 0.0);
            self.window = Some((time, 1));
        } else if passed < Time::ZERO {
            self.window = Some((time, 1));
        } else {
            *count += 1;
        }
    }

    /// Tells another pace once it has held for a while.
    fn tell(&mut self, time: Time) {
        let now = self.pace_now(time);
        if now == self.pace {
            self.other = None;
            return;
        }
        let since = match self.other {
            Some((other, since)) if other == now => since,
            _ => time,
        };
        self.other = Some((now, since));
        if now == Pace::Unknown || self.pace == Pace::Unknown || time - since >= HOLDS {
            self.pace = now;
            self.other = None;
        }
    }

    fn pace_now(&self, time: Time) -> Pace {
        let turns = self.way.since.is_some_and(|since| time - since >= HOLDS);
        let Some(fastest) = self.fastest().filter(|_| turns) else {
            return match self.way.since {
                // It has only just turned back: what was told holds for a moment more.
                Some(_) => self.pace,
                None => Pace::Unknown,
            };
        };
        let (speed, fastest) = (self.steady.rad_per_s(), fastest.rad_per_s());
        let idle = match self.pace {
            Pace::Faster => IDLE * BRISK,
            _ => IDLE,
        };
        if speed > fastest * self.early() {
            Pace::Slower
        } else if speed < fastest * idle {
            Pace::Faster
        } else {
            Pace::Right
        }
    }

    /// How fast it turns, growing the way the tool cuts; smoothed over a quarter of a second.
    pub fn speed(&self) -> AngularSpeed {
        self.speed
    }

    /// How fast it turns either way, steady enough to be followed by the eye: the pace is told by
    /// it.
    pub fn steady(&self) -> AngularSpeed {
        self.steady
    }

    /// Which way it turns. A hand that slips back a little turns the same way still.
    pub fn direction(&self) -> Direction {
        self.way.direction
    }

    /// How long it has stood still, by the device's clock; nothing while it turns.
    pub fn stands_for(&self) -> Option<Time> {
        let (now, _) = self.last?;
        Some(now - self.way.stood?)
    }

    /// How far it is from where it was first seen, growing the way the tool cuts.
    pub fn turned(&self) -> Angle {
        match (self.began, self.last) {
            (Some(began), Some((_, angle))) => angle - began,
            _ => Angle::ZERO,
        }
    }

    /// Readings a second, by the device's own clock; nothing before half a second has passed.
    pub fn rate_hz(&self) -> Option<f64> {
        self.rate_hz
    }

    /// The speed at which readings lie as far apart as is wanted: the wanted spacing times their
    /// rate. Nothing while the rate is not known.
    pub fn fastest(&self) -> Option<AngularSpeed> {
        let rate = self.rate_hz?;
        Some(AngularSpeed::from_rad_per_s(self.spacing.rad() * rate))
    }

    /// The speeds between which the pace is right, for a hand that was told nothing yet. Nothing
    /// while the rate is not known.
    pub fn wanted(&self) -> Option<(AngularSpeed, AngularSpeed)> {
        let fastest = self.fastest()?.rad_per_s();
        let share = |share: f64| AngularSpeed::from_rad_per_s(fastest * share);
        Some((share(IDLE), share(EARLY)))
    }

    /// The speed by which the pace is told: what is above it is too fast, and who was told to go
    /// slower has to fall below it. It lies under the [fastest](Self::fastest), so that a hand that
    /// keeps to it has something to spare.
    pub fn most(&self) -> Option<AngularSpeed> {
        let fastest = self.fastest()?.rad_per_s();
        Some(AngularSpeed::from_rad_per_s(fastest * self.early()))
    }

    fn early(&self) -> f64 {
        match self.pace {
            Pace::Slower => EARLY * CALM,
            _ => EARLY,
        }
    }

    /// What the hand should do.
    pub fn pace(&self) -> Pace {
        self.pace
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Length;
    use crate::sample::Marks;

    /// Turned at this speed for two seconds, with readings at this rate.
    fn turned(deg_per_s: f64, rate_hz: f64) -> Motion {
        let mut motion = Motion::new(Angle::from_deg(0.5));
        for i in 0..(2.0 * rate_hz) as u32 {
            let s = f64::from(i) / rate_hz;
            motion.take(&Seen {
                time: Time::from_s(s),
                angle: Some(Angle::from_deg(deg_per_s * s)),
                reading: Some(Length::ZERO),
                marks: Marks::NONE,
            });
        }
        motion
    }

    #[track_caller]
    fn check(deg_per_s: f64, rate_hz: f64, pace: Pace, direction: Direction) {
        let motion = turned(deg_per_s, rate_hz);
        assert_eq!((motion.pace(), motion.direction()), (pace, direction));
        assert!((motion.rate_hz().unwrap_or(0.0) - rate_hz).abs() < 0.05 * rate_hz);
    }

    #[test]
    fn the_pace_follows_from_the_rate_and_the_wanted_spacing() {
        // Half a degree fifty times a second is 25 degrees a second.
        check(20.0, 50.0, Pace::Right, Direction::Cutting);
        check(-20.0, 50.0, Pace::Right, Direction::Backing);
        check(30.0, 50.0, Pace::Slower, Direction::Cutting);
        check(-5.0, 50.0, Pace::Faster, Direction::Backing);
        check(200.0, 1000.0, Pace::Right, Direction::Cutting);
        check(0.0, 50.0, Pace::Unknown, Direction::Still);
    }

    #[test]
    fn the_most_that_is_told_never_contradicts_the_pace() {
        for tenths in 1..600 {
            let speed = f64::from(tenths) / 10.0;
            let motion = turned(speed, 50.0);
            let most = motion.most().map_or(0.0, |most| most.deg_per_s());
            let above = motion.speed().deg_per_s() > most;
            assert_eq!(above, motion.pace() == Pace::Slower, "{speed} of {most}");
        }
    }

    /// What is told of the simulated hand that turns a tool evenly, reading by reading.
    fn told(recipe: &str) -> Vec<(Pace, Direction)> {
        let scenario = crate::simulator::built_in(recipe).unwrap_or_else(|_| unreachable!());
        let mut motion = Motion::new(Angle::from_deg(0.5));
        let counts = f64::from(scenario.gauge.counts_per_rev);
        let poses = scenario.poses();
        let runs = poses.iter().enumerate();
        let told = runs.flat_map(|(number, pose)| scenario.run(pose, number));
        let mut before = 0.0;
        let mut from = 0.0;
        told.map(|reading| {
            // One trace behind the other on one clock.
            if reading.time_s < before {
                from += 1.0;
            }
            from += (reading.time_s - before).max(0.0);
            before = reading.time_s;
            motion.take(&Seen {
                time: Time::from_s(from),
                angle: Some(Angle::from_turns(reading.count as f64 / counts)),
                reading: Some(Length::ZERO),
                marks: Marks::NONE,
            });
            (motion.pace(), motion.direction())
        })
        .collect()
    }

    #[test]
    fn what_is_told_of_an_even_hand_holds_still() {
        let told = told("counterbore-pass");
        assert!(told.len() > 3_000, "{}", told.len());
        let changes = told.windows(2).filter(|two| two[0].0 != two[1].0).count();
        // A hand that pauses and slips back, for more than a minute: each trace begins and ends.
        assert!(changes <= 12, "the pace was told anew {changes} times");
        let turns = told.windows(2).filter(|two| two[0].1 != two[1].1).count();
        assert!(turns <= 6, "the way was told anew {turns} times");
    }

    #[test]
    fn a_hand_that_turns_back_is_seen_within_a_few_degrees_and_one_that_slips_is_not() {
        let mut motion = turned(20.0, 50.0);
        let mut now = 2.0;
        let mut back = |motion: &mut Motion, deg: f64| {
            let from = motion.last.map_or(0.0, |(_, angle)| angle.deg());
            for step in 1..=10 {
                now += 0.02;
                motion.take(&Seen {
                    time: Time::from_s(now),
                    angle: Some(Angle::from_deg(from + deg * f64::from(step) / 10.0)),
                    reading: Some(Length::ZERO),
                    marks: Marks::NONE,
                });
            }
            motion.direction()
        };
        assert_eq!(back(&mut motion, -2.0), Direction::Cutting);
        assert_eq!(back(&mut motion, 2.0), Direction::Cutting);
        assert_eq!(back(&mut motion, -4.0), Direction::Backing);
    }

    #[test]
    fn who_stands_is_told_for_how_long() {
        let mut motion = turned(20.0, 50.0);
        assert_eq!(motion.stands_for(), None);
        for step in 1..200 {
            motion.take(&Seen {
                time: Time::from_s(2.0 + 0.02 * f64::from(step)),
                angle: Some(Angle::from_deg(39.6)),
                reading: Some(Length::ZERO),
                marks: Marks::NONE,
            });
        }
        let stands = motion.stands_for().map_or(0.0, Time::s);
        assert!((3.8..4.1).contains(&stands), "{stands}");
        assert_eq!(motion.pace(), Pace::Unknown);
    }

    #[test]
    fn speed_is_not_carried_over_a_break() {
        let mut motion = turned(20.0, 50.0);
        motion.take(&Seen {
            time: Time::from_s(9.0),
            angle: Some(Angle::from_deg(90.0)),
            reading: None,
            marks: Marks::NONE,
        });
        assert_eq!(motion.direction(), Direction::Still);
    }
}
