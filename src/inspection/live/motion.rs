//! How the tool is being turned, and whether the hand should go slower or may go faster.

use crate::quantity::{Angle, AngularSpeed, Time};
use crate::sample::Seen;

/// Speed is what it was over about this long.
const SMOOTH: Time = Time::from_s(0.25);
/// Two lines farther apart tell nothing of the speed between them.
const BROKEN: Time = Time::from_s(0.6);
/// Readings are counted over this long for their rate.
const COUNTED: Time = Time::from_s(0.5);
/// Slower than this is the trembling of a hand (half a degree a second).
const STILL: AngularSpeed = AngularSpeed::from_rad_per_s(0.5 / 180.0 * std::f64::consts::PI);
/// A hand is uneven: it is told to go slower before the mean speed reaches the limit.
const EARLY: f64 = 0.85;
/// Once told to go slower, until it is this much under that.
const CALM: f64 = 0.9;
/// Slower than this share of the limit only takes longer.
const IDLE: f64 = 0.3;

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
    began: Option<Angle>,
    window: Option<(Time, u32)>,
    rate_hz: Option<f64>,
    pace: Pace,
}

impl Motion {
    /// Nothing seen yet, with this angle between two readings wanted.
    pub fn new(spacing: Angle) -> Self {
        Self {
            spacing: spacing.abs(),
            last: None,
            speed: AngularSpeed::from_rad_per_s(0.0),
            began: None,
            window: None,
            rate_hz: None,
            pace: Pace::Unknown,
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
            return;
        };
        let passed = seen.time - time;
        if passed > BROKEN {
            self.speed = AngularSpeed::from_rad_per_s(0.0);
            self.last = Some((seen.time, angle));
        } else if passed > Time::ZERO {
            let now = (angle - before).rad() / passed.s();
            let weight = 1.0 - (-passed.s() / SMOOTH.s()).exp();
            let speed = self.speed.rad_per_s();
            self.speed = AngularSpeed::from_rad_per_s(speed + (now - speed) * weight);
            self.last = Some((seen.time, angle));
        }
        // A line that is earlier than the one before came late: it tells nothing of the speed.
        self.pace = self.next_pace();
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

    fn next_pace(&self) -> Pace {
        let speed = self.speed.rad_per_s().abs();
        let Some(fastest) = self.fastest().map(|fastest| fastest.rad_per_s()) else {
            return Pace::Unknown;
        };
        let slower_above = fastest * self.early();
        if speed < STILL.rad_per_s() {
            Pace::Unknown
        } else if speed > slower_above {
            Pace::Slower
        } else if speed < fastest * IDLE {
            Pace::Faster
        } else {
            Pace::Right
        }
    }

    /// How fast it turns, growing the way the tool cuts; smoothed over a quarter of a second.
    pub fn speed(&self) -> AngularSpeed {
        self.speed
    }

    /// Which way it turns.
    pub fn direction(&self) -> Direction {
        let speed = self.speed.rad_per_s();
        if speed.abs() < STILL.rad_per_s() {
            Direction::Still
        } else if speed > 0.0 {
            Direction::Cutting
        } else {
            Direction::Backing
        }
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
