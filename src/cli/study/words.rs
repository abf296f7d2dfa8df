//! A study in words for people, and as JSON for scripts.

use crate::judge::Outcome;
use crate::study::{self, Anova, Crossed, Finding, Study};
use serde_json::{Value, json};

pub(super) fn for_people(study: &Study) -> String {
    let mut text = format!("{}: {}\n", study.name, word(study.outcome()));
    for finding in &study.findings {
        let allowed = match (finding.allowed, finding.outcome) {
            (Some(most), _) => format!(
                "at most {}, {}",
                shown(finding, most),
                word(finding.outcome)
            ),
            (None, Some(_)) => word(finding.outcome).to_owned(),
            (None, None) => String::new(),
        };
        let line = format!("  {:<33}{:<28}{allowed}", finding.quantity, value(finding));
        text.push_str(line.trim_end());
        text.push('\n');
    }
    for note in &study.notes {
        text.push_str(&format!("  note: {note}\n"));
    }
    for finding in &study.findings {
        if finding
            .outcome
            .is_some_and(|outcome| outcome != Outcome::Pass)
        {
            text.push_str(&format!("  {}: {}\n", finding.quantity, finding.advice));
        }
    }
    text
}

const fn word(outcome: Option<Outcome>) -> &'static str {
    match outcome {
        Some(Outcome::Pass) => "fine",
        Some(Outcome::Fail) => "not fine",
        Some(Outcome::Undecided) => "not settled",
        None => "nothing was asked",
    }
}

/// A value with its interval, lengths in micrometres.
fn value(finding: &Finding) -> String {
    let alone = shown(finding, finding.value);
    match finding.interval {
        Some([low, high]) if finding.unit == "mm" => {
            format!("{alone} ({:.2} to {:.2})", low * 1000.0, high * 1000.0)
        }
        Some([low, high]) => format!("{alone} ({low:.4} to {high:.4})"),
        None => alone,
    }
}

fn shown(finding: &Finding, value: f64) -> String {
    match finding.unit {
        "mm" => format!("{:.2} µm", value * 1000.0),
        "deg" => format!("{value:.4}°"),
        "%" => format!("{value:.1} %"),
        _ if value.fract() == 0.0 => format!("{value}"),
        _ => format!("{value:.5}"),
    }
}

pub(super) fn table_for_people(anova: &Anova) -> String {
    let mut text = format!(
        "{:<22}{:>6}{:>14}{:>14}\n",
        "source", "free", "sum of squares", "mean square"
    );
    let sources = [
        ("parts", anova.parts),
        ("operators", anova.operators),
        ("operators by parts", anova.interaction),
        ("repeatability", anova.repeatability),
    ];
    for (name, source) in sources {
        text.push_str(&format!(
            "{name:<22}{:>6}{:>14.6}{:>14.6}\n",
            source.degrees_of_freedom,
            source.sum_of_squares,
            source.mean_square()
        ));
    }
    text
}

pub(super) fn for_scripts(study: &Study) -> Value {
    let findings: Vec<Value> = study
        .findings
        .iter()
        .map(|finding| {
            json!({
                "quantity": finding.quantity,
                "value": finding.value,
                "unit": finding.unit,
                "interval": finding.interval,
                "allowed": finding.allowed,
                "verdict": finding.outcome.map(|outcome| word(Some(outcome))),
                "advice": finding.advice,
            })
        })
        .collect();
    json!({
        "study": study.name,
        "verdict": study.outcome().map(|outcome| word(Some(outcome))),
        "findings": findings,
        "notes": study.notes,
    })
}

pub(super) fn crossed_for_scripts(crossed: &Crossed) -> Value {
    let anova = &crossed.anova;
    let source = |source: &study::Source| {
        json!({
            "degrees_of_freedom": source.degrees_of_freedom,
            "sum_of_squares": source.sum_of_squares,
            "mean_square": source.mean_square(),
        })
    };
    let mut object = for_scripts(&crossed.study);
    object["anova"] = json!({
        "parts": source(&anova.parts),
        "operators": source(&anova.operators),
        "interaction": source(&anova.interaction),
        "repeatability": source(&anova.repeatability),
        "interaction_chance": anova.interaction_chance(),
        "pooled": anova.is_pooled(),
    });
    object
}
