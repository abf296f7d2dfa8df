//! A last look before a record leaves: nothing in it but numbers, and nothing judged by less.

use super::schema::*;

/// What is said in place of a text that came out of no number.
const UNKNOWN: &str = "not known";
/// Why a figure that came to no number proves nothing.
const NO_NUMBER: &str =
    "the readings come to no number here, so that they prove nothing; take the trace again, slower";

/// The characteristic with nothing but numbers in it. One that is judged by anything else, or by an
/// uncertainty of nothing or less, is undecided.
pub(super) fn numbers_alone(mut one: Characteristic) -> Characteristic {
    let known = |number: &f64| number.is_finite();
    // Nothing is judged by an uncertainty of nothing.
    let judged = matches!(one.verdict, Some(Verdict::Pass | Verdict::Fail));
    let enough = |u: f64| u.is_finite() && (u > 0.0 || !judged);
    let guarded = |guard: &GuardBand| guard.below.is_finite() && guard.above.is_finite();
    let sound = one.value.as_ref().is_none_or(known)
        && one.standard_uncertainty.is_none_or(enough)
        && one.interval.iter().flatten().all(known)
        && one.guard_band.as_ref().is_none_or(guarded);
    if !sound {
        one.value = one.value.filter(known);
        (one.standard_uncertainty, one.interval, one.guard_band) = (None, None, None);
        (one.conformity, one.propagation, one.remedy) = (None, None, None);
        one.verdict = one.verdict.map(|_| Verdict::Undecided);
        one.why = NO_NUMBER.to_owned();
    }
    one.at_deg = one.at_deg.filter(known);
    one.conformity = one.conformity.filter(known);
    one.propagation = one.propagation.filter(|both| {
        let way = |way: &PropagatedWay| {
            let [from, to] = way.interval;
            [way.value, way.standard_uncertainty, from, to]
                .iter()
                .all(known)
        };
        way(&both.first_order) && way(&both.distributions)
    });
    one.budget.retain(|line| line.contribution.is_finite());
    for line in &mut one.budget {
        let known = |numbers: &BudgetNumbers| {
            let estimate = numbers.estimate.unwrap_or(0.0);
            let all = [estimate, numbers.standard_uncertainty, numbers.sensitivity];
            all.iter().all(|number| number.is_finite())
        };
        line.numbers = line.numbers.take().filter(known);
        for text in [
            &mut line.value,
            &mut line.distribution,
            &mut line.sensitivity,
        ] {
            if says_no_number(text) {
                UNKNOWN.clone_into(text);
            }
        }
    }
    one
}

/// The tooth with nothing but numbers in it; nothing where not even its edge is one.
pub(super) fn drawn_from_numbers(mut flute: Flute) -> Option<Flute> {
    let whole = [flute.edge_deg, flute.land_deg, flute.edge_mm];
    if !whole.iter().all(|number| number.is_finite()) {
        return None;
    }
    flute.curve = flute.curve.filter(|curve| curve.rms_mm.is_finite());
    if let Some(curve) = &mut flute.curve {
        curve.parameters.retain(|_, number| number.is_finite());
    }
    flute.land.retain(|place| {
        let numbers = [place.arc_deg, place.drop_mm, place.u_mm];
        numbers.iter().all(|number| number.is_finite())
    });
    let fitted = &mut flute.fitted;
    fitted.retain(|place| place.arc_deg.is_finite() && place.drop_mm.is_finite());
    flute
        .holes_deg
        .retain(|[from, to]| from.is_finite() && to.is_finite());
    Some(flute)
}

/// The places of a section that are numbers.
pub(super) fn drawn_places(mut outline: Vec<SectionSample>) -> Vec<SectionSample> {
    outline.retain(|place| place.angle_deg.is_finite() && place.height_mm.is_finite());
    outline
}

/// Whether a text holds what a float prints that is no number.
fn says_no_number(text: &str) -> bool {
    let mut words = text.split(|letter: char| !letter.is_alphanumeric());
    words.any(|word| matches!(word, "NaN" | "inf"))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn judged(value: f64, u: f64) -> Characteristic {
        Characteristic {
            bound: None,
            feature: None,
            flute: None,
            name: "drop".to_owned(),
            value: Some(value),
            unit: "mm".to_owned(),
            standard_uncertainty: Some(u),
            interval: Some([value - u, value + u]),
            guard_band: Some(GuardBand { below: u, above: u }),
            limit: None,
            verdict: Some(Verdict::Pass),
            at_deg: Some(f64::NAN),
            z_mm: None,
            why: "fine".to_owned(),
            remedy: None,
            budget: vec![BudgetLine {
                quantity: "diameter".to_owned(),
                value: "20 mm".to_owned(),
                distribution: "rectangular ± inf µm".to_owned(),
                sensitivity: "NaN deg/µm".to_owned(),
                contribution: 1.0,
                numbers: None,
            }],
            conformity: Some(f64::NAN),
            propagation: None,
        }
    }

    #[track_caller]
    fn check(value: f64, u: f64, verdict: Verdict, kept: Option<f64>) {
        let left = numbers_alone(judged(value, u));
        assert_eq!((left.verdict, left.value), (Some(verdict), kept));
        assert_eq!(left.interval.is_some(), verdict == Verdict::Pass);
        assert_eq!((left.at_deg, left.conformity), (None, None));
        assert_eq!(left.budget[0].sensitivity, UNKNOWN);
        assert_eq!(left.budget[0].distribution, UNKNOWN);
        assert_eq!(left.budget[0].value, "20 mm");
    }

    #[test]
    fn nothing_is_judged_by_what_is_no_number_or_by_no_uncertainty() {
        check(1.0, 0.1, Verdict::Pass, Some(1.0));
        check(1.0, 0.0, Verdict::Undecided, Some(1.0));
        check(1.0, -0.0, Verdict::Undecided, Some(1.0));
        check(1.0, f64::NAN, Verdict::Undecided, Some(1.0));
        check(f64::INFINITY, 0.1, Verdict::Undecided, None);
        check(f64::NAN, 0.1, Verdict::Undecided, None);
    }
}
