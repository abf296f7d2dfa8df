//! A study in words for people, and as JSON for scripts.

use crate::judge::Outcome;
use crate::study::{self, Anova, Crossed, Finding, Study};
use comfy_table::{CellAlignment, Table, presets};
use serde_json::{Value, json};

/// The study as text for a line so long: what came of it, its figures in columns, then what to do.
pub(super) fn for_people(study: &Study, columns: usize) -> String {
    let mut text = format!("{}: {}\n", study.name, word(study.outcome()));
    let rows = study.findings.iter().map(|finding| {
        let allowed = finding.allowed.map(|most| shown(finding, most));
        [
            finding.quantity.to_owned(),
            shown(finding, finding.value),
            finding
                .interval
                .map_or(String::new(), |ends| interval(finding, ends)),
            allowed.map_or(String::new(), |most| format!("≤ {most}")),
            finding
                .outcome
                .map_or(String::new(), |outcome| word(Some(outcome)).to_owned()),
        ]
    });
    let head = ["", "found", "95 % interval", "allowed", ""];
    text.push_str(&table(head, rows, &[1, 2, 3]));
    for note in &study.notes {
        text.push_str(&hanging("note", note, columns));
    }
    let wanting = study.findings.iter().filter(|finding| {
        let outcome = finding.outcome;
        outcome.is_some_and(|outcome| outcome != Outcome::Pass)
    });
    for finding in wanting {
        text.push_str(&hanging(finding.quantity, finding.advice, columns));
    }
    text
}

/// Columns side by side, of which some stand to the right.
fn table<const N: usize>(
    head: [&str; N],
    rows: impl Iterator<Item = [String; N]>,
    to_the_right: &[usize],
) -> String {
    let mut table = Table::new();
    table.load_style(presets::NOTHING).set_header(head);
    table.add_rows(rows);
    for at in to_the_right {
        if let Some(column) = table.column_mut(*at) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    let lines = table.to_string();
    let lines = lines.lines().map(|line| format!(" {}\n", line.trim_end()));
    lines.collect()
}

fn hanging(lead: &str, words: &str, columns: usize) -> String {
    let options = textwrap::Options::new(columns)
        .initial_indent("  ")
        .subsequent_indent("    ");
    textwrap::fill(&format!("{lead}: {words}"), options) + "\n"
}

const fn word(outcome: Option<Outcome>) -> &'static str {
    match outcome {
        Some(Outcome::Pass) => "fine",
        Some(Outcome::Fail) => "not fine",
        Some(Outcome::Undecided) => "not settled",
        None => "nothing was asked",
    }
}

/// Both ends, lengths in micrometres.
fn interval(finding: &Finding, [low, high]: [f64; 2]) -> String {
    match finding.unit {
        "mm" => format!("{:.2} to {:.2}", low * 1000.0, high * 1000.0),
        _ => format!("{low:.4} to {high:.4}"),
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

/// The analysis of variance, a source a line.
pub(super) fn table_for_people(anova: &Anova) -> String {
    let sources = [
        ("parts", anova.parts),
        ("operators", anova.operators),
        ("operators by parts", anova.interaction),
        ("repeatability", anova.repeatability),
    ];
    let rows = sources.iter().map(|(name, source)| {
        [
            (*name).to_owned(),
            source.degrees_of_freedom.to_string(),
            format!("{:.6}", source.sum_of_squares),
            format!("{:.6}", source.mean_square()),
        ]
    });
    let head = [
        "source",
        "degrees of freedom",
        "sum of squares",
        "mean square",
    ];
    table(head, rows, &[1, 2, 3])
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
