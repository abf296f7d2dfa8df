//! `setting speed`: how fast a wheel runs, with which pulleys, and whether its marking allows it.

use super::answer::{Answer, exact};
use crate::cli::typed;
use crate::error::{Code, Error, Result};
use crate::quantity::typed::Mark;
use crate::quantity::{AngularSpeed, Length, Speed, stated};
use crate::setting::{
    Allowed, Marking, Pulleys, Unlimited, motor_pulley, spindle_pulley, surface_speed, turning_for,
};
use clap::{ArgGroup, Args};

/// Speed of a wheel from its turns or pulleys, refused above what is marked on it
#[derive(Args)]
#[command(
    group = ArgGroup::new("turned").args(["rpm", "pulleys", "want"]),
    after_help = "\
Examples:
  heelclear setting speed --wheel-diameter 150 --rpm 2850 --marked 35m/s
  heelclear setting speed --wheel-diameter 150 --motor 2850 --marked 35m/s \\
      --pulleys 90:75 --pulleys 75:90
  heelclear setting speed --wheel-diameter 6in --motor 1725 --want 5500ft/min --spindle-pulley 2in
  heelclear setting speed --wheel-diameter 110 --full-diameter 150 --marked 4450rpm

A pair that is too fast ends with exit status 1, beside others that do; where none does, with 2.
What is marked on a wheel holds for its full size. Where the maker or local rules allow less, they
go first. Ring-test a wheel before you mount it, run it behind its guard, stand aside when it starts."
)]
pub(super) struct WheelSpeed {
    /// Diameter of the wheel as it is now
    #[arg(long, value_name = "LENGTH", value_parser = typed::diameter, allow_negative_numbers = true)]
    wheel_diameter: Length,
    /// Turns a minute of the wheel
    #[arg(long, value_name = "RPM", value_parser = typed::turning, allow_negative_numbers = true)]
    rpm: Option<AngularSpeed>,
    /// Turns a minute of the motor
    #[arg(long, value_name = "RPM", value_parser = typed::turning, allow_negative_numbers = true)]
    motor: Option<AngularSpeed>,
    /// Diameters of a pair of pulleys, motor first; once for each pair that there is
    #[arg(long, value_name = "MOTOR:SPINDLE", value_parser = typed::pulleys, requires = "motor", allow_negative_numbers = true)]
    pulleys: Vec<Pulleys>,
    /// The speed that is wanted, in m/s, ft/min or rpm
    #[arg(long, value_name = "SPEED", value_parser = typed::mark, allow_negative_numbers = true)]
    want: Option<Mark>,
    /// Pulley on the motor, for the one on the spindle
    #[arg(long, value_name = "LENGTH", value_parser = typed::diameter, requires_all = ["motor", "want"], conflicts_with = "spindle_pulley", allow_negative_numbers = true)]
    motor_pulley: Option<Length>,
    /// Pulley on the spindle, for the one on the motor
    #[arg(long, value_name = "LENGTH", value_parser = typed::diameter, requires_all = ["motor", "want"], allow_negative_numbers = true)]
    spindle_pulley: Option<Length>,
    /// The greatest speed that is marked on the wheel, in m/s, ft/min or rpm; twice where two are
    #[arg(long, value_name = "SPEED", value_parser = typed::mark, allow_negative_numbers = true)]
    marked: Vec<Mark>,
    /// Diameter of the wheel when it was new; that of now when absent
    #[arg(long, value_name = "LENGTH", value_parser = typed::diameter, allow_negative_numbers = true)]
    full_diameter: Option<Length>,
}

impl WheelSpeed {
    pub(super) fn answer(&self) -> Result<Answer> {
        let allowed = self.allowed()?;
        let answer = match (self.rpm, self.want) {
            (Some(turning), _) => self.at(turning, allowed)?,
            (None, Some(want)) => self.wanted(want, allowed)?,
            (None, None) if !self.pulleys.is_empty() => self.with_pulleys(allowed)?,
            (None, None) if allowed.is_some() => Answer::of("speed"),
            (None, None) => {
                return Err(Error::new(
                    Code::Usage,
                    "read neither how fast the wheel turns nor what is marked on it",
                )
                .help("`--rpm`, or `--motor` with `--pulleys`, or `--want`; `--marked` alone gives the most that is allowed"));
            }
        };
        let answer = answer.mm("wheel_diameter_mm", self.wheel_diameter);
        Ok(match allowed {
            Some(allowed) => answer
                .line(format!("{} at most for this wheel at {}", most(allowed), exact(self.wheel_diameter)))
                .with("allowed_rpm", stated(allowed.turning.rpm()))
                .with("allowed_m_per_s", stated(allowed.speed.m_per_s())),
            None => answer
                .line("not held to what is marked on the wheel: name it with `--marked` before you run it")
                .with("allowed_rpm", None::<f64>)
                .with("allowed_m_per_s", None::<f64>),
        })
    }

    /// The most that the marking allows; nothing where none was named.
    fn allowed(&self) -> Result<Option<Allowed>> {
        if self.marked.is_empty() {
            return match self.full_diameter {
                Some(full) if full < self.wheel_diameter => Err(self.larger_than_new(full)),
                _ => Ok(None),
            };
        }
        let mut marking = Marking {
            full_diameter: self.full_diameter,
            ..Marking::default()
        };
        // Of two of a kind the lower holds.
        for mark in &self.marked {
            match *mark {
                Mark::Surface(speed) => {
                    marking.speed = Some(marking.speed.map_or(speed, |it| it.min(speed)));
                }
                Mark::Turning(turning) => {
                    marking.turning = Some(marking.turning.map_or(turning, |it| it.min(turning)));
                }
            }
        }
        let allowed = marking.allows(self.wheel_diameter);
        allowed.map(Some).map_err(|why| match why {
            Unlimited::LargerThanNew => {
                self.larger_than_new(self.full_diameter.unwrap_or(Length::ZERO))
            }
            Unlimited::NothingMarked | Unlimited::NoNumber => Error::new(
                Code::Usage,
                "read a marking that is no speed, expected one above 0",
            ),
        })
    }

    fn larger_than_new(&self, full: Length) -> Error {
        let message = format!(
            "read a wheel of {}, expected at most {}, its size when new",
            exact(self.wheel_diameter),
            exact(full)
        );
        Error::new(Code::Usage, message).help("check `--wheel-diameter` and `--full-diameter`")
    }

    /// The wheel at these turns.
    fn at(&self, turning: AngularSpeed, allowed: Option<Allowed>) -> Result<Answer> {
        self.hold(turning, allowed)?;
        let speed = surface_speed(self.wheel_diameter, turning);
        Ok(Answer::of("speed")
            .line(format!("{} of the wheel", told(turning, speed)))
            .with("rpm", stated(turning.rpm()))
            .with("m_per_s", stated(speed.m_per_s())))
    }

    /// The pulley that brings what is wanted.
    fn wanted(&self, want: Mark, allowed: Option<Allowed>) -> Result<Answer> {
        let turning = match want {
            Mark::Turning(turning) => Some(turning),
            Mark::Surface(speed) => turning_for(self.wheel_diameter, speed),
        };
        let turning = turning.ok_or_else(|| Error::new(Code::Usage, "read no diameter"))?;
        let answer = self.at(turning, allowed)?;
        let Some(motor) = self.motor else {
            return Ok(answer);
        };
        let other = match (self.motor_pulley, self.spindle_pulley) {
            (Some(here), _) => spindle_pulley(motor, turning, here).map(|it| (it, "spindle")),
            (None, Some(here)) => motor_pulley(motor, turning, here).map(|it| (it, "motor")),
            (None, None) => None,
        };
        Ok(match other {
            Some((pulley, on)) => answer
                .line(format!("{:.1} mm ({:.2} in) pulley on the {on}; the belt's slip, which turns the wheel slower, is not counted", pulley.mm(), pulley.inches()))
                .mm(&format!("{on}_pulley_mm"), pulley),
            None => answer
                .line(format!("{:.3} times the spindle's pulley has to be the motor's", turning / motor))
                .with("pulley_ratio", stated(turning / motor)),
        })
    }

    /// Each pair of pulleys, and whether it will do.
    fn with_pulleys(&self, allowed: Option<Allowed>) -> Result<Answer> {
        let motor = self.motor.unwrap_or(AngularSpeed::ZERO);
        let turned = |pair: &Pulleys| Some((*pair, pair.spindle_turns(motor)?));
        let all: Vec<_> = self.pulleys.iter().filter_map(turned).collect();
        let fit = match allowed {
            Some(allowed) => allowed.pairs_that_do(motor, &self.pulleys),
            None => all.clone(),
        };
        if let ([], Some((_, slowest))) = (
            fit.as_slice(),
            all.iter().min_by(|a, b| a.1.total_cmp(&b.1)),
        ) {
            self.hold(*slowest, allowed)?;
        }
        let mut answer = Answer::of("speed");
        let mut pairs = Vec::new();
        for (pair, turning) in &all {
            let speed = surface_speed(self.wheel_diameter, *turning);
            let may = allowed.is_none_or(|allowed| allowed.holds(*turning));
            let verdict = if may { "" } else { ": TOO FAST, do not run it" };
            answer = answer.line(format!(
                "{} with {} on the motor and {} on the spindle{verdict}",
                told(*turning, speed),
                exact(pair.motor),
                exact(pair.spindle)
            ));
            pairs.push(serde_json::json!({
                "motor_mm": stated(pair.motor.mm()),
                "spindle_mm": stated(pair.spindle.mm()),
                "rpm": stated(turning.rpm()),
                "m_per_s": stated(speed.m_per_s()),
                "allowed": allowed.map(|_| may),
            }));
        }
        let answer = answer.with("pulleys", pairs);
        Ok(match fit.len() < all.len() {
            true => answer.fails(),
            false => answer,
        })
    }

    /// Refuses turns that the marking does not allow.
    fn hold(&self, turning: AngularSpeed, allowed: Option<Allowed>) -> Result<()> {
        let Some(allowed) = allowed.filter(|allowed| !allowed.holds(turning)) else {
            return Ok(());
        };
        let message = format!(
            "{} are too fast for this wheel, expected at most {}: do not run it",
            told(turning, surface_speed(self.wheel_diameter, turning)).trim(),
            most(allowed).trim()
        );
        let mut help = String::from("fit a wheel that is marked for it, or turn it slower");
        if let Some(motor) = self.motor {
            help += &format!(
                ": with {:.0} rpm of the motor its pulley may be {:.3} times that on the spindle at most",
                motor.rpm(),
                // Rounded down, so that what is printed still does.
                (allowed.turning / motor * 1000.0).floor() / 1000.0
            );
        }
        Err(Error::new(Code::WheelSpeed, message).help(help))
    }
}

/// What a wheel may do at most, rounded down: what is printed may be set.
fn most(allowed: Allowed) -> String {
    let down = |value: f64, places: f64| (value * places * (1.0 + 1e-9)).floor() / places;
    format!(
        "{:7.0} rpm, {:.1} m/s ({:.0} ft/min)",
        down(allowed.turning.rpm(), 1.0),
        down(allowed.speed.m_per_s(), 10.0),
        down(allowed.speed.ft_per_min(), 1.0)
    )
}

/// Turns and the speed of the surface in both units, numbers below each other.
fn told(turning: AngularSpeed, speed: Speed) -> String {
    format!(
        "{:7.0} rpm, {:.1} m/s ({:.0} ft/min)",
        turning.rpm(),
        speed.m_per_s(),
        speed.ft_per_min()
    )
}
