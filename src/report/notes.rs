//! What to do, what weighs most, warnings: running text in two columns.

use super::sheet::{Anchor, Area, BODY, Face, LEADING, SMALL, STRONG, Sheet};
use super::{figures, lettering, rank, sheet, typeface, words};
use crate::quantity::Units;
use crate::quantity::rounded;
use crate::record::{BudgetLine, Characteristic, Record, Verdict};

/// Lines that a column has at most.
const MOST: usize = 16;
const BETWEEN: i32 = 500;
/// Where the bars of what weighs most begin.
const SHARES: i32 = 4300;

enum Line {
    Title(String),
    Subject(Option<Verdict>, String),
    Plain(String),
    Share {
        name: String,
        share: f64,
        brings: String,
    },
    Quiet(String),
}

/// Both columns, ready to be drawn.
pub(super) struct Notes {
    columns: [Vec<Line>; 2],
}

/// What this record has to say, in columns of the width that half the page gives.
pub(super) fn plan(record: &Record, width: i32, units: Units) -> Notes {
    let room = (width - BETWEEN) / 2;
    Notes {
        columns: [
            to_do(record, room, units),
            weights_and_warnings(record, room, units),
        ],
    }
}

fn wrap(text: &str, face: Face, room: i32, most: usize) -> Vec<String> {
    typeface::wrap(&words::printed(text), face.size, face.weight, room, most)
}

fn to_do(record: &Record, room: i32, units: Units) -> Vec<Line> {
    let findings = words::findings(record, units);
    let mut lines = vec![Line::Title("What to do".to_owned())];
    if findings.is_empty() {
        let nothing = match record.verdict {
            Some(_) => "Nothing: every judged figure keeps its limits.",
            None => "Set limits on the tool card, trace the tool and judge again.",
        };
        lines.push(Line::Plain(nothing.to_owned()));
        measured(record, room, &mut lines);
        return lines;
    }
    // One finding may be told at length; several share the room.
    let each = if findings.len() == 1 { 5 } else { 2 };
    for (told, finding) in findings.iter().enumerate() {
        let mut these = Vec::new();
        let subject = wrap(&finding.subject, STRONG, room - 330, 2);
        for (index, line) in subject.into_iter().enumerate() {
            let sign = (index == 0).then_some(finding.verdict);
            these.push(Line::Subject(sign, line));
        }
        these.extend(
            wrap(&finding.why, BODY, room, each)
                .into_iter()
                .map(Line::Plain),
        );
        if let Some(remedy) = finding.remedy {
            let remedy = format!("→ {remedy}");
            these.extend(
                wrap(&remedy, BODY, room, each + 2)
                    .into_iter()
                    .map(Line::Plain),
            );
        }
        let rest = findings.len() - told;
        let keep = usize::from(rest > 1);
        if lines.len() + these.len() + keep > MOST && told > 0 {
            lines.push(Line::Quiet(format!("{rest} more in verdict.json")));
            break;
        }
        lines.extend(these);
    }
    lines.truncate(MOST);
    lines
}

/// How the traces were treated, where there is nothing more pressing to say.
fn measured(record: &Record, room: i32, lines: &mut Vec<Line>) {
    // What a person noted is more to a reader, and takes the room.
    if record.about.history.is_empty() || record.noted.is_some() {
        return;
    }
    lines.push(Line::Title("What was done to the traces".to_owned()));
    for (told, step) in record.about.history.iter().enumerate() {
        let step = wrap(step, BODY, room, 2);
        let rest = record.about.history.len() - told;
        if lines.len() + step.len() + usize::from(rest > 1) > MOST {
            lines.push(Line::Quiet(format!("{rest} more in verdict.json")));
            break;
        }
        lines.extend(step.into_iter().map(Line::Plain));
    }
}

fn weights_and_warnings(record: &Record, room: i32, units: Units) -> Vec<Line> {
    let mut lines = Vec::new();
    let decides = rank::deciding(record).filter(|c| !c.budget.is_empty());
    let budgeted = record
        .characteristics
        .iter()
        .filter(|c| !c.budget.is_empty());
    if let Some(of) = decides.or_else(|| budgeted.clone().min_by(|a, b| rank::worse(record, a, b)))
    {
        weights(record, of, room, units, &mut lines);
    }
    let warnings = words::warnings(record);
    if warnings.is_empty() {
        if lines.is_empty() && !words::findings(record, units).is_empty() {
            measured(record, room, &mut lines);
        }
        return lines;
    }
    lines.push(Line::Title("Warnings".to_owned()));
    let each = if warnings.len() == 1 { 5 } else { 3 };
    for (told, warning) in warnings.iter().enumerate() {
        let warning = wrap(&format!("• {warning}"), BODY, room, each);
        let rest = warnings.len() - told;
        if lines.len() + warning.len() + usize::from(rest > 1) > MOST {
            lines.push(Line::Quiet(format!("{rest} more in verdict.json")));
            break;
        }
        lines.extend(warning.into_iter().map(Line::Plain));
    }
    lines
}

fn weights(record: &Record, of: &Characteristic, room: i32, units: Units, lines: &mut Vec<Line>) {
    let mut budget: Vec<&BudgetLine> = of
        .budget
        .iter()
        .filter(|l| l.contribution.is_finite())
        .collect();
    budget.sort_by(|a, b| b.contribution.abs().total_cmp(&a.contribution.abs()));
    // Contributions add as squares, so that is how much each of them weighs (JCGM 100, 5.1.2).
    let total: f64 = budget.iter().map(|l| l.contribution * l.contribution).sum();
    if total <= 0.0 {
        return;
    }
    let title = format!(
        "What weighs most in {} ({})",
        figures::name(&of.name),
        words::subject(record, of, units)
    );
    lines.push(Line::Title(typeface::fit(
        &title,
        STRONG.size,
        STRONG.weight,
        room,
    )));
    for line in budget.iter().take(4) {
        let brings = units.shown(line.contribution.abs(), &of.unit);
        lines.push(Line::Share {
            name: line.quantity.clone(),
            share: line.contribution * line.contribution / total,
            brings: format!("{} {}", rounded(brings, brings), units.sign(&of.unit)),
        });
    }
}

impl Notes {
    /// How high they are.
    pub(super) fn height(&self) -> i32 {
        let [left, right] = &self.columns;
        let columns = [left, right].map(|column| column.iter().map(Line::height).sum::<i32>());
        columns[0].max(columns[1])
    }

    /// Draws them.
    pub(super) fn draw(&self, sheet: &mut Sheet, area: Area) {
        let w = (area.w - BETWEEN) / 2;
        for (x, column) in [area.x, area.x + w + BETWEEN]
            .into_iter()
            .zip(&self.columns)
        {
            let mut y = area.y;
            for line in column {
                line.draw(
                    sheet,
                    Area {
                        x,
                        y,
                        w,
                        h: line.height(),
                    },
                );
                y += line.height();
            }
        }
    }
}

impl Line {
    fn height(&self) -> i32 {
        match self {
            Line::Title(_) => LEADING + 110,
            _ => LEADING,
        }
    }

    fn draw(&self, sheet: &mut Sheet, area: Area) {
        let Area { x, y, w, h } = area;
        let base = y + h - 100;
        match self {
            Line::Title(text) => {
                sheet.text((x, base), Anchor::Start, STRONG, text);
            }
            Line::Subject(verdict, text) => {
                if verdict.is_some() {
                    sheet.open(sheet::class(*verdict), None);
                    lettering::sign(sheet, (x + 110, base - 95), 105, *verdict);
                    sheet.close();
                }
                sheet.text((x + 330, base), Anchor::Start, STRONG, text);
            }
            Line::Plain(text) => sheet.text((x, base), Anchor::Start, BODY, text),
            Line::Quiet(text) => sheet.text((x, base), Anchor::Start, SMALL, text),
            Line::Share {
                name,
                share,
                brings,
            } => {
                let (bar, full) = (x + SHARES, w - SHARES - 1900);
                let name = typeface::fit(name, BODY.size, BODY.weight, SHARES - 150);
                sheet.text((x, base), Anchor::Start, BODY, &name);
                let length = (f64::from(full) * share).round() as i32;
                sheet.rect(
                    "share",
                    Area {
                        x: bar,
                        y: base - 175,
                        w: length.max(15),
                        h: 160,
                    },
                );
                let brings = format!("{brings}, {:.0} %", share * 100.0);
                let brings =
                    typeface::fit(&brings, SMALL.size, SMALL.weight, w - SHARES - length - 100);
                sheet.text((bar + length + 100, base), Anchor::Start, SMALL, &brings);
            }
        }
    }
}
