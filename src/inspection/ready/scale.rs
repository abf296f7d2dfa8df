//! When the indicator's scale was last proven on a known step.

use super::{Check, What};
use crate::card::GaugeCard;
use crate::quantity::COVERAGE_FACTOR;
use jiff::Timestamp;

/// What the gauge card keeps of it; a scale that was never proven is nothing to mend before work.
pub(super) fn check(gauge: Option<&GaugeCard>, now: Timestamp) -> Check {
    let Some(card) = gauge else {
        return Check::left(What::Scale, "name the gauge card with `--gauge`");
    };
    let Some(study) = card.studies.step else {
        return Check::left(
            What::Scale,
            "no known step has ever proven it: take a trace at rest on each of two gauge blocks, then `heelclear study step … --keep`",
        );
    };
    let day = study.taken.to_string();
    let day = day.split('T').next().unwrap_or_default();
    let corrected = match study.correction(card.indicator.max_error) {
        Some(_) => "; every reading is divided by it",
        None => "",
    };
    let found = format!(
        "proven on {day}: gain {:.4} ± {:.4} (k = 2){corrected}",
        study.gain,
        study.standard_uncertainty * COVERAGE_FACTOR
    );
    let old = card.studies.outdated(now);
    let old = old.iter().find(|(name, _)| *name == "step");
    if let Some((_, days)) = old {
        let advice = "`heelclear study step … --keep` proves it anew";
        return Check::mend(What::Scale, format!("{found}, {days} days ago"), advice);
    }
    Check::fine(What::Scale, found).with("gain", study.gain)
}
