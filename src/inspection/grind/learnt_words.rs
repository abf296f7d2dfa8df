//! What finished grinds teach, in words: the same for a terminal and for a page.

use super::Lesson;
use crate::card::{Correction, GrinderCard, Setting};
use crate::setting::TAUGHT;

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
    /// Every setting that the grinds tell something of.
    pub fn told(&self) -> Vec<ToldSetting> {
        let each = TAUGHT.iter().zip(self.learnt.each).zip(self.learnt.told);
        each.map(|((of, (error, u)), told)| ToldSetting {
            of: *of,
            error: error_of(*of, error),
            uncertainty: uncertainty_of(*of, u),
            known: self.known(told),
            kept: self.corrections.iter().any(|it| it.of == *of),
        })
        .collect()
    }

    fn known(&self, told: bool) -> &'static str {
        let none_alone = !self.learnt.told.contains(&true);
        match (told, self.learnt.together) {
            _ if self.learnt.strange => "not to be believed",
            (true, _) => "told from zero",
            (false, true) if none_alone => {
                "part of what all of them come to; which it is is not told yet"
            }
            (false, _) => "not told from zero: not corrected",
        }
    }

    /// What is to be thought of it where scales cannot be so far off.
    pub fn strange(&self) -> Option<&'static str> {
        self.learnt.strange.then_some("scales are not so far off: was the tool ground from this set-up, and measured as it was clamped? Nothing is learnt")
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

/// A correction of a card: `head, radial: throw opens +3.1 % against its scale, u 0.8 %, from 3 grinds`.
pub fn corrected(correction: &Correction) -> String {
    let direction = correction.direction.map(|it| it.as_str());
    let whose = [correction.fixture.as_deref(), direction];
    let whose: Vec<&str> = whose.into_iter().flatten().collect();
    let of = match whose.as_slice() {
        [] => String::new(),
        whose => format!("{}: ", whose.join(", ")),
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
