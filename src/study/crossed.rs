//! A crossed study: how much of what differs between readings is the gauge, and how much the parts.

use super::finding::{deviation_factors, within};
use super::{Anova, CrossedTable, Finding, Study, Variances};
use crate::judge::Outcome;

/// Share of the gauge in the total spread up to which it is fine, and above which it is not, in
/// per cent (measurement systems analysis reference manual, 4th edition, from memory).
const SHARE: [f64; 2] = [10.0, 30.0];

/// Categories that a gauge must tell apart (same source, from memory).
const CATEGORIES_LEAST: f64 = 5.0;

/// Standard deviations that a spread counts for against a tolerance (same source, from memory).
const DEVIATIONS: f64 = 6.0;

/// What a crossed study gives.
#[derive(Clone, Debug, PartialEq)]
pub struct Crossed {
    /// The table of sums of squares.
    pub anova: Anova,
    /// The components of variance.
    pub variances: Variances,
    /// What is fine and what is not.
    pub study: Study,
}

impl Crossed {
    /// Standard deviation of the gauge: one reading by any operator, in the table's unit.
    pub fn spread(&self) -> f64 {
        self.variances.gauge().sqrt()
    }
}

/// Takes a table apart and holds the gauge's share to the usual bounds. With a tolerance, given
/// as its whole width in the table's unit, the spread is held to that too.
pub fn crossed(table: &CrossedTable, tolerance: Option<f64>) -> Crossed {
    let anova = Anova::new(table);
    let variances = anova.variances();
    let unit = table.unit.as_str();
    let spread = |quantity, variance: f64, free: f64| {
        let value = variance.sqrt();
        Finding {
            quantity,
            value,
            interval: deviation_factors(free.floor()).map(|factors| factors.map(|by| by * value)),
            unit,
            allowed: None,
            outcome: None,
            advice: "",
        }
    };
    let mut findings = vec![share(&variances), categories(&variances)];
    if let Some(width) = tolerance {
        let of = 100.0 * DEVIATIONS * variances.gauge().sqrt() / width;
        findings.push(Finding {
            quantity: "gauge, share of the tolerance",
            value: of,
            interval: None,
            unit: "%",
            allowed: Some(SHARE[0]),
            outcome: Some(banded(of)),
            advice: SPREAD_ADVICE,
        });
    }
    findings.push(spread(
        "repeatability",
        variances.repeatability,
        variances.repeatability_freedom,
    ));
    findings.push(bare("between operators", variances.operators.sqrt(), unit));
    if !anova.is_pooled() {
        findings.push(bare(
            "operators by parts",
            variances.interaction.sqrt(),
            unit,
        ));
    }
    findings.push(spread(
        "gauge: all of these",
        variances.gauge(),
        variances.gauge_freedom,
    ));
    findings.push(bare("between parts", variances.parts.sqrt(), unit));
    findings.push(bare("total", variances.total().sqrt(), unit));
    let interaction = match anova.interaction_chance() {
        Some(chance) if anova.is_pooled() => format!(
            "chance gives a greater interaction in {:.0} of 100 such studies: it was pooled with the repeatability",
            chance * 100.0
        ),
        Some(chance) => format!(
            "chance gives a greater interaction in {:.1} of 100 such studies only: operators differ \
             on some parts more than on others",
            chance * 100.0
        ),
        None => "no two trials differ: read finer, or this study says nothing".to_owned(),
    };
    let counted = format!(
        "{} parts, {} operators, {} trials; parts, operators and trials are taken as drawn by chance",
        table.parts.len(),
        table.operators.len(),
        table.trials
    );
    Crossed {
        anova,
        variances,
        study: Study {
            name: "crossed",
            findings,
            kept: None,
            lasted: None,
            notes: vec![counted, interaction],
        },
    }
}

const SPREAD_ADVICE: &str = "if trials scatter most, clean, clamp and touch the same way every time; if operators differ most, \
     agree on one way to clamp, turn and read, then repeat the study";

fn share(variances: &Variances) -> Finding {
    let value = 100.0 * (variances.gauge() / variances.total()).sqrt();
    Finding {
        quantity: "gauge, share of the total spread",
        value,
        interval: None,
        unit: "%",
        allowed: Some(SHARE[0]),
        outcome: Some(banded(value)),
        advice: SPREAD_ADVICE,
    }
}

fn categories(variances: &Variances) -> Finding {
    // The manual prints 1.41 for the root of 2.
    let value = 1.41 * (variances.parts / variances.gauge()).sqrt();
    Finding {
        quantity: "categories told apart",
        value: value.floor().max(1.0),
        interval: None,
        unit: "",
        allowed: None,
        outcome: Some(if value.floor() >= CATEGORIES_LEAST {
            Outcome::Pass
        } else {
            Outcome::Undecided
        }),
        advice: "fewer than five: parts as alike as these cannot be sorted by this gauge; choose \
                 parts that span what comes to the bench, or a better gauge",
    }
}

/// Fine up to 10 %, not fine above 30 %; between, it depends on what it is used for.
fn banded(per_cent: f64) -> Outcome {
    match within([per_cent; 2], SHARE[0]) {
        Outcome::Pass => Outcome::Pass,
        _ => match within([per_cent; 2], SHARE[1]) {
            Outcome::Pass => Outcome::Undecided,
            worse => worse,
        },
    }
}

fn bare(quantity: &'static str, value: f64, unit: &'static str) -> Finding {
    Finding {
        quantity,
        value,
        interval: None,
        unit,
        allowed: None,
        outcome: None,
        advice: "",
    }
}
