//! Lays the screen out: large where there is room, a few lines where there is not.

use super::{Shown, dial, lands, turn, words};
use crate::inspection::live::{CAUTIONS, Dialled, Phase, Weight};
use crate::quantity::Length;
use crate::record::Verdict;
use crate::report::{Units, deciding, headline};
use ratatui::Frame;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Color, Modifier, Style};
use ratatui::text::{Line, Span};
use ratatui::widgets::{Paragraph, Wrap};
use tui_big_text::{BigText, PixelSize};

/// The window that everything fits into; a smaller one gets the lines that matter most.
pub(super) const ROOMY: (u16, u16) = (80, 24);
/// Below this nothing can be read.
const SMALLEST: (u16, u16) = (30, 6);

const BOLD: Style = Style::new().add_modifier(Modifier::BOLD);
const TURNED: Style = BOLD.add_modifier(Modifier::REVERSED);

/// Draws the whole screen.
pub fn draw(frame: &mut Frame<'_>, shown: &Shown<'_>) {
    let area = frame.area();
    if area.width < SMALLEST.0 || area.height < SMALLEST.1 {
        frame.render_widget(Paragraph::new("make the window larger"), area);
    } else if area.width < ROOMY.0 || area.height < ROOMY.1 {
        small(frame, area, shown);
    } else {
        roomy(frame, area, shown);
    }
}

fn roomy(frame: &mut Frame<'_>, area: Rect, shown: &Shown<'_>) {
    let more = area.height - ROOMY.1;
    let large = more >= 14 && area.width >= 100;
    let rows = Layout::vertical([
        Constraint::Length(1),
        Constraint::Length(1),
        Constraint::Length(1),
        Constraint::Length(if large { 8 } else { 4 }),
        Constraint::Length(1),
        Constraint::Length(1),
        Constraint::Length(1),
        Constraint::Length(1),
        Constraint::Min(7),
        Constraint::Length(if more >= 6 { 5 } else { 3 }),
        Constraint::Length(if more >= 10 { 4 } else { 1 }),
        Constraint::Length(1),
    ]);
    let rows = rows.split(area);
    frame.render_widget(title(shown, area.width), rows[0]);
    frame.render_widget(steps(shown, area.width), rows[1]);
    frame.render_widget(instruction(shown), rows[2]);
    let columns = match large {
        true => [Constraint::Length(62), Constraint::Min(20)],
        false => [Constraint::Length(56), Constraint::Min(20)],
    };
    let [left, right] = Layout::horizontal(columns).areas(rows[3]);
    let size = match large {
        true => [PixelSize::Full, PixelSize::HalfWidth],
        false => [PixelSize::HalfHeight, PixelSize::Quadrant],
    };
    big(frame, left, &reading(shown), size[0]);
    big(frame, right, &angle(shown), size[1]);
    let [left, right] = Layout::horizontal(columns).areas(rows[4]);
    frame.render_widget(Paragraph::new(reading_caption(shown)), left);
    frame.render_widget(Paragraph::new("degrees"), right);
    let width = usize::from(area.width);
    frame.render_widget(Paragraph::new(turn::bar(shown, width)), rows[5]);
    frame.render_widget(Paragraph::new(turn::pointer(shown, width)), rows[6]);
    frame.render_widget(Paragraph::new(turn::state(shown)), rows[7]);
    picture(frame, rows[8], shown);
    let remedy = match more {
        0..6 => Remedy::OneLine(area.width),
        _ => Remedy::Whole,
    };
    frame.render_widget(verdict(shown, remedy), rows[9]);
    told(frame, rows[10], shown);
    frame.render_widget(keys(shown), rows[11]);
}

/// Without pictures: what to do, reading, turn, verdict, keys.
fn small(frame: &mut Frame<'_>, area: Rect, shown: &Shown<'_>) {
    let width = usize::from(area.width);
    let figures = format!(
        "{} {}   {}°",
        reading(shown),
        sign(shown.units),
        angle(shown)
    );
    let mut lines: Vec<Paragraph<'_>> = vec![
        instruction(shown),
        Paragraph::new(Line::styled(figures, BOLD)),
        Paragraph::new(turn::bar(shown, width)),
        Paragraph::new(turn::state(shown)),
        verdict(shown, Remedy::None),
        keys(shown),
    ];
    let mut at = 0;
    if usize::from(area.height) > lines.len() {
        lines.insert(at, title(shown, area.width));
        at += 1;
    }
    if usize::from(area.height) > lines.len() {
        lines.insert(at, steps(shown, area.width));
        at += 1;
    }
    // A long sentence may take a second line where there is one to spare.
    let spare = usize::from(area.height) > lines.len();
    let rows = (0..lines.len()).map(|row| match row == at && spare {
        true => Constraint::Length(2),
        false => Constraint::Length(1),
    });
    let rows = Layout::vertical(rows).split(area);
    for (line, row) in lines.into_iter().zip(rows.iter()) {
        frame.render_widget(line, *row);
    }
}

fn title<'a>(shown: &Shown<'a>, width: u16) -> Paragraph<'a> {
    let kept = match shown.live.phase {
        Phase::Setting | Phase::Armed | Phase::Turning => "every byte goes to the disk first: ",
        _ => "",
    };
    let right = format!("{kept}{} ", shown.folder);
    let left = format!(" {}", shown.tool);
    let used = left.chars().count() + right.chars().count();
    let room = usize::from(width);
    let line = match room.checked_sub(used) {
        Some(blank) => format!("{left}{}{right}", " ".repeat(blank)),
        None => left,
    };
    Paragraph::new(Line::styled(line, TURNED)).style(TURNED)
}

fn steps<'a>(shown: &Shown<'_>, width: u16) -> Paragraph<'a> {
    let words = words::steps(shown, usize::from(width));
    let mut spans = Vec::new();
    for (text, under_way) in words {
        spans.push(Span::styled(
            text,
            if under_way { TURNED } else { Style::new() },
        ));
        spans.push(Span::raw(" "));
    }
    Paragraph::new(Line::from(spans))
}

fn instruction<'a>(shown: &Shown<'_>) -> Paragraph<'a> {
    let (mut text, urgent) = words::instruction(shown);
    if shown.live.phase == Phase::Turning && !urgent {
        text = dial::to_do(shown).unwrap_or(text);
    }
    let style = if urgent { TURNED.fg(Color::Red) } else { BOLD };
    Paragraph::new(Line::styled(format!(" {text}"), style)).wrap(Wrap { trim: false })
}

fn big(frame: &mut Frame<'_>, area: Rect, text: &str, size: PixelSize) {
    let text = BigText::builder()
        .pixel_size(size)
        .lines(vec![Line::from(text.to_owned())])
        .build();
    frame.render_widget(text, area);
}

/// Digits down to the micrometre, or to the ten-thousandth of an inch: seven characters at most.
fn reading(shown: &Shown<'_>) -> String {
    let dialled = shown.live.dial.dial().is_some();
    // While a fixture is set, the dial is what is looked at.
    let large = if dialled {
        dial::value(shown)
    } else {
        shown.live.reading
    };
    let Some(reading) = large else {
        return "-.---".to_owned();
    };
    match shown.units {
        Units::Metric => digits(reading.mm(), 3),
        Units::Inch => digits(reading.inches(), 4),
    }
}

/// A sign and so many decimals, fewer where the number is long.
fn digits(value: f64, decimals: usize) -> String {
    let text = format!("{value:+.decimals$}");
    match text.chars().count() {
        0..=7 => text,
        _ => text.chars().take(7).collect(),
    }
}

fn angle(shown: &Shown<'_>) -> String {
    match shown.live.angle {
        Some(angle) => format!("{:.1}", angle.in_turn().deg()),
        None => "---".to_owned(),
    }
}

const fn sign(units: Units) -> &'static str {
    match units {
        Units::Metric => "mm",
        Units::Inch => "in",
    }
}

fn reading_caption(shown: &Shown<'_>) -> String {
    if shown.live.dial.dial().is_some() {
        let unit = sign(shown.units);
        let read = shown.live.reading.map(|reading| shown.units.plain(reading));
        let read = read.map_or(String::new(), |read| {
            format!("; the indicator shows {read}")
        });
        return format!(" {unit} on the dial, which should stand still{read}");
    }
    let spread = match shown.live.round.extent() {
        Some((least, most)) => {
            let spread: Length = most - least;
            format!("; least to greatest {}", shown.units.plain(spread))
        }
        None => String::new(),
    };
    let readings = match shown.live.progress.readings {
        0 => String::new(),
        count => format!("; {count} readings"),
    };
    format!(" {}{spread}{readings}", sign(shown.units))
}

/// What the trace shows, or how to keep one's fingers while the stylus is set.
fn picture(frame: &mut Frame<'_>, area: Rect, shown: &Shown<'_>) {
    let live = shown.live;
    if matches!(
        live.phase,
        Phase::Connecting | Phase::Setting | Phase::Armed
    ) {
        let lines: Vec<Line<'_>> = CAUTIONS
            .iter()
            .map(|text| Line::from(format!("▪ {text}")))
            .collect();
        let cautions = Paragraph::new(lines).wrap(Wrap { trim: false });
        let inside = area.inner(ratatui::layout::Margin::new(2, 0));
        frame.render_widget(cautions, inside);
        return;
    }
    if dial::picture(frame, area, shown) {
        return;
    }
    let step = shown.step().and_then(|at| live.plan.steps.get(at));
    let is_feature = step.is_some_and(|step| step.wanted.role.feature().is_some());
    if let Some(so_far) = shown.so_far.filter(|_| is_feature)
        && lands::lands(frame, area, so_far, shown.units)
    {
        return;
    }
    lands::readings(frame, area, shown, is_feature);
}

/// How much of the remedy there is room for.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Remedy {
    None,
    /// A line of this width.
    OneLine(u16),
    Whole,
}

fn verdict<'a>(shown: &Shown<'_>, room: Remedy) -> Paragraph<'a> {
    let dialled = !matches!(shown.live.dial, Dialled::None);
    let lines = match shown.so_far.map(|so_far| &so_far.record) {
        None if dialled => vec![Line::styled(
            " Nothing is judged while the fixture is set.",
            Style::new().add_modifier(Modifier::DIM),
        )],
        None => vec![Line::styled(
            " No verdict yet: it comes while a feature is traced.",
            Style::new().add_modifier(Modifier::DIM),
        )],
        Some(Err(error)) => vec![Line::from(format!(" No verdict yet: {}", error.message()))],
        Some(Ok(record)) => {
            let word = match record.verdict {
                Some(Verdict::Pass) => " PASS SO FAR ",
                Some(Verdict::Fail) => " FAIL SO FAR ",
                Some(Verdict::Undecided) => " UNDECIDED SO FAR ",
                None => " NOTHING TO JUDGE ",
            };
            let mut lines = vec![Line::from(vec![
                Span::styled(
                    word,
                    lands::tint(record.verdict).add_modifier(Modifier::REVERSED),
                ),
                Span::raw(format!(" {}", headline(record, shown.units))),
            ])];
            let bad = matches!(record.verdict, Some(Verdict::Fail | Verdict::Undecided));
            let worst = deciding(record).filter(|_| bad && room != Remedy::None);
            if let Some(remedy) = worst.and_then(|worst| worst.remedy.as_ref()) {
                let text = format!("→ {remedy}");
                lines.push(Line::from(match room {
                    Remedy::OneLine(width) => shortened(text, usize::from(width)),
                    _ => text,
                }));
            }
            lines
        }
    };
    let paragraph = Paragraph::new(lines);
    match room {
        Remedy::None => paragraph,
        _ => paragraph.wrap(Wrap { trim: true }),
    }
}

/// What was told last, the newest at the bottom; faults stand out by a sign too.
fn told(frame: &mut Frame<'_>, area: Rect, shown: &Shown<'_>) {
    let rows = usize::from(area.height);
    let width = usize::from(area.width);
    let mut lines: Vec<Line<'_>> = (shown.live.told.iter().rev().take(rows))
        .map(|told| match told.weight {
            Weight::Fault => {
                let text = shortened(format!("! {}", told.text), width);
                Line::styled(text, BOLD.fg(Color::Red))
            }
            Weight::Plain => Line::from(shortened(format!("· {}", told.text), width)),
        })
        .collect();
    lines.reverse();
    frame.render_widget(Paragraph::new(lines), area);
}

/// What does not fit ends in dots, so that nobody takes it for the whole.
fn shortened(text: String, width: usize) -> String {
    match text.chars().count() > width {
        true => text
            .chars()
            .take(width.saturating_sub(1))
            .chain(['…'])
            .collect(),
        false => text,
    }
}

fn keys<'a>(shown: &Shown<'_>) -> Paragraph<'a> {
    Paragraph::new(Line::from(format!(" {}", words::keys(shown)))).style(TURNED)
}
