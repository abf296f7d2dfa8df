//! What finished grinds teach, in words: the same for a terminal and for a page.

use super::{LearntError, Lesson};
use crate::card::{Correction, GrinderCard, Setting, Surface};
use crate::setting::Part;

/// What was told of one setting.
#[derive(Clone, Debug, PartialEq)]
pub struct ToldSetting {
    /// Of which.
    pub of: Setting,
    /// What came against what was set: `throw opens +3.1 % against its scale`.
    pub error: String,
    /// Its standard uncertainty.
    pub uncertainty: String,
    /// Whether that is an error, or may be chance.
    pub known: &'static str,
    /// Whether it would be kept on the grinder's card.
    pub kept: bool,
}

impl Lesson {
    /// What it is of: `head, radial`, or `table, for faces`.
    pub fn whose(&self) -> String {
        let of = self.errors.first().map(|it| it.of);
        whose(of, Some(&self.fixture), Some(self.direction))
    }

    /// Every setting that the grinds tell something of.
    pub fn told(&self) -> Vec<ToldSetting> {
        let each = self.errors.iter().map(|it| ToldSetting {
            of: it.of,
            error: error_of(it.of, it.value),
            uncertainty: uncertainty_of(it.of, it.standard_uncertainty),
            known: self.known(it),
            kept: self.corrections.iter().any(|kept| kept.of == it.of),
        });
        each.collect()
    }

    fn known(&self, error: &LearntError) -> &'static str {
        match (error.told, error.part) {
            _ if self.strange => "not to be believed",
            (true, _) => "told from zero",
            (false, Some(Part::Stock)) => {
                "part of what in-feed and wear come to; which of the two it is is not told yet"
            }
            (false, Some(Part::All)) => {
                "part of what all of them come to; which it is is not told yet"
            }
            (false, None) => "not told from zero: not corrected",
        }
    }

    /// What is to be thought of it where scales cannot be so far off.
    pub fn strange(&self) -> Option<&'static str> {
        self.strange.then_some("scales are not so far off: was the tool ground from this set-up, and measured as it was clamped? Nothing is learnt")
    }
}

fn error_of(of: Setting, error: f64) -> String {
    match of {
        Setting::ThrowGain => format!("throw opens {:+.1} % against its scale", error * 100.0),
        Setting::CamAngle => format!("cam stands {error:+.2}° ahead of its scale"),
        Setting::SwivelZero => format!("swivel stands {error:+.2}° over its scale"),
        Setting::Feed => format!("stock comes off {:+.0} % against the feed", error * 100.0),
        Setting::WheelWear => format!("wheel loses {error:.3} mm of its radius in a grind"),
    }
}

fn uncertainty_of(of: Setting, u: f64) -> String {
    match of {
        Setting::ThrowGain => format!("{:.1} %", u * 100.0),
        Setting::CamAngle | Setting::SwivelZero => format!("{u:.2}°"),
        Setting::Feed => format!("{:.0} %", u * 100.0),
        Setting::WheelWear => format!("{u:.3} mm"),
    }
}

/// What a correction says of its setting.
fn said(correction: &Correction) -> String {
    let error = match correction.of {
        Setting::ThrowGain | Setting::Feed => correction.value - 1.0,
        Setting::CamAngle | Setting::SwivelZero | Setting::WheelWear => correction.value,
    };
    let u = uncertainty_of(correction.of, correction.standard_uncertainty);
    format!("{}, u {u}", error_of(correction.of, error))
}

fn whose(of: Option<Setting>, fixture: Option<&str>, direction: Option<Surface>) -> String {
    let direction = direction.map(|way| match (of, way) {
        (Some(Setting::SwivelZero), Surface::Axial) => "for faces",
        (Some(Setting::SwivelZero), Surface::Radial) => "for back tapers",
        (_, way) => way.as_str(),
    });
    let each: Vec<&str> = [fixture, direction].into_iter().flatten().collect();
    each.join(", ")
}

/// A correction of a card: `head, radial: throw opens +3.1 % against its scale, u 0.8 %, from 3 grinds`.
pub fn corrected(correction: &Correction) -> String {
    let (of, fixture) = (Some(correction.of), correction.fixture.as_deref());
    let of = match whose(of, fixture, correction.direction) {
        none if none.is_empty() => none,
        whose => format!("{whose}: "),
    };
    let s = if correction.records == 1 { "" } else { "s" };
    format!(
        "{of}{}, from {} grind{s}",
        said(correction),
        correction.records
    )
}

/// What a card would have of a setting, beside what it has now.
pub fn kept_as(card: &GrinderCard, new: &Correction) -> String {
    let now = card
        .corrections
        .iter()
        .find(|it| (it.of, &it.fixture, it.direction) == (new.of, &new.fixture, new.direction));
    let now = match now {
        Some(now) => format!("in place of: {}, kept on {}", said(now), now.on),
        None => "which the card does not correct yet".to_owned(),
    };
    format!("{}; {now}", corrected(new))
}
