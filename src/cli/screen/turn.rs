//! The turn as a bar: what was read how often, where the tool stands, and how fast it goes.

use super::Shown;
use crate::inspection::live::{Direction, Pace, Phase, Way};
use ratatui::style::{Color, Modifier, Style};
use ratatui::text::{Line, Span};

/// Not read, read less often than wanted, read as often as wanted: each looks different without
/// colour too.
const BLANK: char = '·';
const SOME: char = '▒';
const ENOUGH: char = '█';

/// One character for each place of the turn from angle 0 on: the least often read part of it.
pub(super) fn bar(shown: &Shown<'_>, width: usize) -> Line<'static> {
    let passes: Vec<u32> = shown.live.round.passes().collect();
    let wanted = wanted(shown);
    let spans = (0..width).map(|column| {
        let from = column * passes.len() / width.max(1);
        let to = ((column + 1) * passes.len() / width.max(1)).max(from + 1);
        let least = passes.get(from..to.min(passes.len()));
        let least = least
            .and_then(|part| part.iter().min())
            .copied()
            .unwrap_or(0);
        let (sign, colour) = match least {
            0 => (BLANK, Color::DarkGray),
            least if least < wanted => (SOME, Color::Yellow),
            _ => (ENOUGH, Color::Green),
        };
        Span::styled(sign.to_string(), Style::new().fg(colour))
    });
    Line::from(spans.collect::<Vec<_>>())
}

/// Where the tool stands, under the bar, with an arrow that points where to turn; and what is
/// missing at the end of a trace.
pub(super) fn pointer(shown: &Shown<'_>, width: usize) -> Line<'static> {
    let live = shown.live;
    let Some(angle) = live.angle else {
        return Line::from("");
    };
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let column = |turns: f64| ((turns * width as f64) as usize).min(width.saturating_sub(1));
    let mut signs = vec![(' ', bold); width];
    let mut put = |at: usize, sign: char, style: Style| {
        if let Some(place) = signs.get_mut(at) {
            *place = (sign, style);
        }
    };
    let at = column(angle.in_turn().turns());
    let live_phase = matches!(live.phase, Phase::Setting | Phase::Armed | Phase::Turning);
    if live_phase && live.heel_first() {
        // Angles grow the way that it cuts, to the right.
        let style = match live.way() {
            Way::Wrong => bold.fg(Color::Red),
            _ => bold,
        };
        for step in 1..=3 {
            put((at + width - step) % width.max(1), '◀', style);
        }
    }
    // What is missing stands over the arrow: it may be as narrow as a column.
    let left = live.to_go();
    for arc in left.iter().flat_map(|left| &left.arcs) {
        let to = arc.from.turns() + arc.width.turns();
        let columns = column(arc.from.turns())..=column(to.min(1.0));
        columns.for_each(|at| put(at, '◆', bold.fg(Color::Yellow)));
    }
    put(at, '▲', bold);
    let spans = signs.into_iter();
    let spans = spans.map(|(sign, style)| Span::styled(sign.to_string(), style));
    Line::from(spans.collect::<Vec<_>>())
}

/// Which way it turns, in words that come before all others.
fn way(shown: &Shown<'_>) -> Span<'static> {
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let live = shown.live;
    let turned = match live.motion.direction() {
        Direction::Still => return Span::styled("standing", bold),
        Direction::Cutting => "edge first",
        Direction::Backing => "heel first",
    };
    match live.way() {
        Way::Wrong => {
            let style = bold.fg(Color::Red).add_modifier(Modifier::REVERSED);
            Span::styled(format!(" WRONG WAY: {turned} "), style)
        }
        _ if live.heel_first() => Span::styled(format!("✓ {turned}"), bold.fg(Color::Green)),
        _ => Span::styled(turned, bold),
    }
}

/// How much is covered, how fast the hand goes, and what is missing.
pub(super) fn state(shown: &Shown<'_>) -> Line<'static> {
    let live = shown.live;
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let mut spans = Vec::new();
    if live.phase == Phase::Turning || live.plan.is_done() {
        let wanted = wanted(shown);
        // Rounded down: 100 % is said when every place is covered, and not before.
        let percent = |times| (live.round.covered(times) * 100.0).floor();
        let mut text = format!("{} % of the turn", percent(1));
        if wanted > 1 {
            text += &format!(" ({wanted}×: {} %)", percent(wanted));
        }
        spans.push(Span::styled(text, bold));
        spans.push(Span::raw("  "));
    }
    let missing = live.missing_in_trace();
    if missing > 0 {
        let text = format!(" {missing} LINES MISSING ");
        spans.push(Span::styled(text, bold.add_modifier(Modifier::REVERSED)));
        spans.push(Span::raw("  "));
    }
    if live.gone || super::words::is_quiet(shown) {
        // What was seen last is no speed of now.
        spans.push(Span::raw("speed not known"));
        return Line::from(spans);
    }
    let motion = &live.motion;
    spans.push(way(shown));
    let speed = motion.steady().deg_per_s();
    let most = motion.most().map(|most| most.deg_per_s());
    let of = most.map_or_else(String::new, |most| format!(" of {most:.0}"));
    spans.push(Span::raw(format!("  {speed:.0}{of} °/s ")));
    let (word, style) = match motion.pace() {
        Pace::Slower => (
            "SLOWER",
            bold.fg(Color::Red).add_modifier(Modifier::REVERSED),
        ),
        // The wrong way is right at no pace.
        Pace::Right if live.way() == Way::Wrong => ("", bold),
        Pace::Right => ("RIGHT", bold.fg(Color::Green)),
        Pace::Faster => ("MAY GO FASTER", bold),
        Pace::Unknown => ("", bold),
    };
    spans.push(Span::styled(word, style));
    Line::from(spans)
}

/// How often every place is wanted.
fn wanted(shown: &Shown<'_>) -> u32 {
    shown.live.plan.passes.max(1)
}
