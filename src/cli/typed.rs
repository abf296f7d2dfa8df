//! Quantities of a command line, held to what makes sense. What is read stands in `quantity::typed`.

use crate::card::keys;
pub(super) use crate::quantity::typed::Read;
use crate::quantity::typed::{self, Bare};
use crate::quantity::{Angle, AngularSpeed, Length};
use crate::setting::Pulleys;

/// No tool and no wheel is smaller.
const LEAST_DIAMETER_MM: f64 = 0.01;

/// The diameter of a tool, a wheel or a pulley.
pub(super) fn diameter(text: &str) -> Read<Length> {
    let length = positive(text)?;
    match length.mm() >= LEAST_DIAMETER_MM {
        true => Ok(length),
        false => Err(format!("expected a diameter from {LEAST_DIAMETER_MM} mm")),
    }
}

/// A length above nothing.
pub(super) fn positive(text: &str) -> Read<Length> {
    let length = signed(text)?;
    match length > Length::ZERO {
        true => Ok(length),
        false => Err("expected a length above 0".to_owned()),
    }
}

/// A length from nothing on.
pub(super) fn from_zero(text: &str) -> Read<Length> {
    not_below(signed(text)?)
}

/// A length from nothing on, in micrometres where no unit stands behind it.
pub(super) fn um_from_zero(text: &str) -> Read<Length> {
    not_below(sensible(typed::length_in(text, Bare::Um)?)?)
}

/// A length of either sign.
pub(super) fn signed(text: &str) -> Read<Length> {
    sensible(typed::length(text)?)
}

/// The same as [`sensible`] for each of a list; `count` is how many are expected, where that is known.
pub(super) fn list(text: &str, bare: Bare, count: Option<usize>) -> Read<Vec<Length>> {
    let read = typed::lengths(text, bare, count)?;
    read.into_iter().map(sensible).collect()
}

/// What a lathe or a grinder of a tool shop can hold.
fn sensible(length: Length) -> Read<Length> {
    let most = keys::DIAMETER.most;
    match length.mm().abs() < most {
        true => Ok(length),
        false => Err(format!("expected less than {most} mm")),
    }
}

fn not_below(length: Length) -> Read<Length> {
    match length >= Length::ZERO {
        true => Ok(length),
        false => Err("expected a length from 0".to_owned()),
    }
}

/// An angle from `least` to `most` degrees.
pub(super) fn angle(text: &str, least: f64, most: f64) -> Read<Angle> {
    within(typed::angle(text)?, least, most)
}

/// A relief angle.
pub(super) fn relief(text: &str) -> Read<Angle> {
    angle(text, 0.01, 60.0)
}

/// An arc of the turn.
pub(super) fn arc(text: &str) -> Read<Angle> {
    angle(text, 0.1, 360.0)
}

/// The angle of a side to the axis, also as a taper.
pub(super) fn taper(text: &str) -> Read<Angle> {
    within(typed::taper(text)?, -45.0, 45.0)
}

fn within(angle: Angle, least: f64, most: f64) -> Read<Angle> {
    // Read in radians and told in degrees, an end of the range may miss itself by a rounding.
    match (least - 1e-9..=most + 1e-9).contains(&angle.deg()) {
        true => Ok(angle),
        false => Err(format!("expected an angle from {least} to {most} degrees")),
    }
}

/// Turns a minute of a motor or a wheel.
pub(super) fn turning(text: &str) -> Read<AngularSpeed> {
    const MOST_RPM: f64 = 300_000.0;
    let turning = typed::turning(text)?;
    match turning > AngularSpeed::ZERO && turning.rpm() <= MOST_RPM {
        true => Ok(turning),
        false => Err(format!(
            "expected turns a minute above 0 and up to {MOST_RPM}"
        )),
    }
}

/// A speed with its unit, of a surface or of a wheel.
pub(super) fn mark(text: &str) -> Read<typed::Mark> {
    // The fastest wheels that are made stay below (common practice, no source).
    const MOST_M_PER_S: f64 = 300.0;
    let mark = typed::mark(text)?;
    let usable = match mark {
        typed::Mark::Surface(speed) => 0.0 < speed.m_per_s() && speed.m_per_s() <= MOST_M_PER_S,
        typed::Mark::Turning(turning) => {
            return self::turning(&format!("{}rpm", turning.rpm())).map(|_| mark);
        }
    };
    match usable {
        true => Ok(mark),
        false => Err(format!(
            "expected a speed above 0 and up to {MOST_M_PER_S} m/s"
        )),
    }
}

/// A pair of pulleys, that of the motor first.
pub(super) fn pulleys(text: &str) -> Read<Pulleys> {
    let Some((motor, spindle)) = text.split_once(':') else {
        return Err(
            "expected the diameters on motor and spindle, such as 90:75 or 4in:3in".to_owned(),
        );
    };
    Ok(Pulleys {
        motor: diameter(motor)?,
        spindle: diameter(spindle)?,
    })
}
