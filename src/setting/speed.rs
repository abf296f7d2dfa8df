//! The speed of a wheel's surface, the pulleys that turn it, and the most that its marking allows.

use crate::quantity::{AngularSpeed, Length, Speed};

/// Speed of the surface of a round: `pi D n`.
///
/// First principles; shops of a century ago ran emery wheels at 5000 to 6000 ft/min (P. Lobben,
/// Machinists' and Draftsmen's Handbook, 1910, p. 321).
///
/// ```
/// use heelclear::quantity::{AngularSpeed, Length};
/// use heelclear::setting::surface_speed;
/// let speed = surface_speed(Length::from_mm(150.0), AngularSpeed::from_rpm(3000.0));
/// assert_eq!(format!("{:.2} m/s, {:.0} ft/min", speed.m_per_s(), speed.ft_per_min()), "23.56 m/s, 4638 ft/min");
/// ```
pub fn surface_speed(diameter: Length, turning: AngularSpeed) -> Speed {
    Speed::from_mm_per_s(diameter.mm() / 2.0 * turning.rad_per_s())
}

/// How fast a round turns whose surface has this speed; `None` without a diameter.
pub fn turning_for(diameter: Length, speed: Speed) -> Option<AngularSpeed> {
    (diameter > Length::ZERO)
        .then(|| AngularSpeed::from_rad_per_s(speed.mm_per_s() / (diameter.mm() / 2.0)))
}

/// A pair of pulleys between motor and spindle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pulleys {
    /// Diameter of the one on the motor, where the belt runs.
    pub motor: Length,
    /// Diameter of the one on the spindle.
    pub spindle: Length,
}

impl Pulleys {
    /// How fast the spindle turns for a motor that turns so fast: diameters times turns are the same
    /// on both (P. Lobben, as above). A belt that slips turns it slower. `None` without a diameter.
    ///
    /// ```
    /// use heelclear::quantity::{AngularSpeed, Length};
    /// use heelclear::setting::Pulleys;
    /// let pulleys = Pulleys { motor: Length::from_mm(90.0), spindle: Length::from_mm(75.0) };
    /// let spindle = pulleys.spindle_turns(AngularSpeed::from_rpm(2850.0));
    /// assert_eq!(spindle.map(|it| format!("{:.0}", it.rpm())), Some("3420".to_owned()));
    /// ```
    pub fn spindle_turns(&self, motor: AngularSpeed) -> Option<AngularSpeed> {
        let both = self.motor > Length::ZERO && self.spindle > Length::ZERO;
        both.then(|| motor * (self.motor / self.spindle))
    }
}

/// The pulley on the motor that turns the spindle so fast; `None` for a motor that stands.
pub fn motor_pulley(
    motor: AngularSpeed,
    wanted: AngularSpeed,
    spindle_pulley: Length,
) -> Option<Length> {
    let turns = motor > AngularSpeed::ZERO && wanted > AngularSpeed::ZERO;
    turns.then(|| spindle_pulley * (wanted / motor))
}

/// The pulley on the spindle that it turns so fast with; `None` for a spindle that stands.
pub fn spindle_pulley(
    motor: AngularSpeed,
    wanted: AngularSpeed,
    motor_pulley: Length,
) -> Option<Length> {
    let turns = motor > AngularSpeed::ZERO && wanted > AngularSpeed::ZERO;
    turns.then(|| motor_pulley * (motor / wanted))
}

/// What is marked on a wheel, and how large it was new: what is marked holds for that.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Marking {
    /// Diameter of the new wheel. Unknown, it is taken to be that of today, which allows no more.
    pub full_diameter: Option<Length>,
    /// Greatest speed of the surface.
    pub speed: Option<Speed>,
    /// Greatest turns of the wheel at full size.
    pub turning: Option<AngularSpeed>,
}

/// The most that a wheel may do at the diameter that it has now.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Allowed {
    /// Of its surface: that of the new wheel, and the same for as long as it lasts.
    pub speed: Speed,
    /// Of its turns: they may rise as it wears, until its surface is that fast.
    pub turning: AngularSpeed,
}

/// Why it cannot be said how fast a wheel may turn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unlimited {
    /// Nothing is marked on it. That allows nothing.
    NothingMarked,
    /// It is larger than it was new.
    LargerThanNew,
    /// A diameter or a speed that is none.
    NoNumber,
}

impl Marking {
    /// The most that the wheel may do with this diameter. Turns may rise as a wheel wears, but its
    /// surface never gets faster than that of the full-size wheel (ANSI B7.1-2000, 7.1.1, in our own
    /// words). Of a speed and turns that are both marked the lower holds.
    ///
    /// # Errors
    /// Where there is nothing to hold the wheel to.
    ///
    /// ```
    /// use heelclear::quantity::{AngularSpeed, Length};
    /// use heelclear::setting::Marking;
    /// let marking = Marking {
    ///     full_diameter: Some(Length::from_mm(200.0)),
    ///     turning: Some(AngularSpeed::from_rpm(3000.0)),
    ///     ..Marking::default()
    /// };
    /// let worn = marking.allows(Length::from_mm(150.0));
    /// assert_eq!(worn.map(|it| format!("{:.0}", it.turning.rpm())), Ok("4000".to_owned()));
    /// ```
    pub fn allows(&self, diameter: Length) -> Result<Allowed, Unlimited> {
        let full = self.full_diameter.unwrap_or(diameter);
        let by_turns = self.turning.map(|turning| surface_speed(full, turning));
        let marked = [self.speed, by_turns].into_iter().flatten();
        let speed = marked.reduce(Speed::min).ok_or(Unlimited::NothingMarked)?;
        let usable = |length: Length| length > Length::ZERO && length.is_finite();
        // `min` passes over what is no number, so each is looked at.
        let finite = self.speed.is_none_or(Speed::is_finite)
            && self.turning.is_none_or(AngularSpeed::is_finite);
        if !usable(diameter) || !usable(full) || !finite || speed <= Speed::ZERO {
            return Err(Unlimited::NoNumber);
        }
        if diameter > full * (1.0 + 1e-9) {
            return Err(Unlimited::LargerThanNew);
        }
        let turning = turning_for(diameter, speed).ok_or(Unlimited::NoNumber)?;
        Ok(Allowed { speed, turning })
    }
}

impl Allowed {
    /// Whether a wheel may turn so fast. What rounding alone puts over it is not held against it.
    pub fn holds(&self, turning: AngularSpeed) -> bool {
        turning.abs() <= self.turning * (1.0 + 1e-9)
    }

    /// The pairs that turn the wheel no faster than it may, by their turns, fastest first.
    pub fn pairs_that_do(
        &self,
        motor: AngularSpeed,
        pairs: &[Pulleys],
    ) -> Vec<(Pulleys, AngularSpeed)> {
        let mut fit: Vec<_> = pairs
            .iter()
            .filter_map(|pair| Some((*pair, pair.spindle_turns(motor)?)))
            .filter(|(_, turning)| self.holds(*turning))
            .collect();
        fit.sort_by(|a, b| b.1.total_cmp(&a.1));
        fit
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn marking(full_mm: f64, m_per_s: Option<f64>, rpm: Option<f64>) -> Marking {
        Marking {
            full_diameter: Some(Length::from_mm(full_mm)),
            speed: m_per_s.map(Speed::from_m_per_s),
            turning: rpm.map(AngularSpeed::from_rpm),
        }
    }

    #[test]
    fn the_lower_of_two_markings_holds() {
        // 3000 turns of 200 mm are 31.4 m/s.
        let both = marking(200.0, Some(35.0), Some(3000.0));
        let allowed = both.allows(Length::from_mm(200.0)).unwrap();
        assert!((allowed.turning.rpm() - 3000.0).abs() < 1e-9);
        let slower = marking(200.0, Some(25.0), Some(3000.0));
        let allowed = slower.allows(Length::from_mm(200.0)).unwrap();
        assert!((allowed.speed.m_per_s() - 25.0).abs() < 1e-12);
    }

    #[test]
    fn turns_rise_with_wear_and_the_surface_does_not() {
        let marking = marking(175.0, None, Some(3600.0));
        let new = marking.allows(Length::from_mm(175.0)).unwrap();
        let worn = marking.allows(Length::from_mm(100.0)).unwrap();
        assert_eq!(new.speed, worn.speed);
        assert!((worn.turning.rpm() - 6300.0).abs() < 1e-9);
        assert!(worn.holds(AngularSpeed::from_rpm(6300.0)));
        assert!(worn.holds(AngularSpeed::from_rpm(-6300.0)));
        assert!(!worn.holds(AngularSpeed::from_rpm(6301.0)));
        assert!(!new.holds(AngularSpeed::from_rpm(6300.0)));
        assert!(!new.holds(AngularSpeed::from_rpm(f64::NAN)));
    }

    /// With the size of the new wheel unknown, its marked turns are the most at any size.
    #[test]
    fn an_unknown_full_size_allows_no_more_turns() {
        let turning = Some(AngularSpeed::from_rpm(3600.0));
        let marking = Marking {
            turning,
            ..Marking::default()
        };
        let allowed = marking.allows(Length::from_mm(100.0)).unwrap();
        assert!((allowed.turning.rpm() - 3600.0).abs() < 1e-9);
    }

    #[test]
    fn what_is_not_marked_allows_nothing() {
        let wheel = Length::from_mm(150.0);
        let none = Marking::default();
        assert_eq!(none.allows(wheel), Err(Unlimited::NothingMarked));
        let small = marking(125.0, Some(35.0), None);
        assert_eq!(small.allows(wheel), Err(Unlimited::LargerThanNew));
        for (speed, rpm) in [
            (Some(f64::NAN), Some(3000.0)),
            (Some(35.0), Some(f64::INFINITY)),
            (Some(-35.0), None),
            (None, Some(0.0)),
        ] {
            let bad = marking(200.0, speed, rpm);
            assert_eq!(bad.allows(wheel), Err(Unlimited::NoNumber));
        }
        let fine = marking(200.0, Some(35.0), None);
        assert_eq!(fine.allows(Length::ZERO), Err(Unlimited::NoNumber));
    }

    #[test]
    fn the_pairs_that_do_are_named_fastest_first() {
        let pair = |motor, spindle| Pulleys {
            motor: Length::from_mm(motor),
            spindle: Length::from_mm(spindle),
        };
        let pairs = [
            pair(60.0, 90.0),
            pair(90.0, 60.0),
            pair(75.0, 75.0),
            pair(75.0, 0.0),
        ];
        let allowed = marking(150.0, Some(25.0), None).allows(Length::from_mm(150.0));
        let motor = AngularSpeed::from_rpm(2850.0);
        let fit = allowed.unwrap().pairs_that_do(motor, &pairs);
        let turns: Vec<f64> = fit
            .iter()
            .map(|(_, turning)| turning.rpm().round())
            .collect();
        assert_eq!(turns, [2850.0, 1900.0]);
        assert_eq!(fit[0].0, pairs[2]);
    }
}
