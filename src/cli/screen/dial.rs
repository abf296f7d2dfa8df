//! The dial for the hand on a fixture's throw, and what it is to do.

use super::Shown;
use crate::inspection::grind::WantedBy;
use crate::inspection::live::{Dial, Dialled, settable};
use crate::quantity::Length;
use crate::report::Units;
use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::style::{Color, Modifier, Style};
use ratatui::text::{Line, Span};
use ratatui::widgets::{Paragraph, Wrap};

const BOLD: Style = Style::new().add_modifier(Modifier::BOLD);

/// What to do at the fixture now; nothing where no fixture is set.
pub(super) fn to_do(shown: &Shown<'_>) -> Option<String> {
    shown.live.dial.advice(shown.units, str::to_uppercase)
}

/// The value in large digits.
pub(super) fn value(shown: &Shown<'_>) -> Option<Length> {
    shown.live.dial.dial()?.value
}

/// Draws the dial's scale, and how everything stands; whether there was a fixture to set.
pub(super) fn picture(frame: &mut Frame<'_>, area: Rect, shown: &Shown<'_>) -> bool {
    let lines = match &shown.live.dial {
        Dialled::None => return false,
        Dialled::WorkingOut(_) => vec![Line::from(
            " The lands as they read with the fixture locked, and the cam's motion, are gone through.",
        )],
        Dialled::Without(error) => {
            let mut lines = vec![Line::styled(format!(" No dial: {}", error.message()), BOLD)];
            lines.extend(
                error
                    .advice()
                    .map(|advice| Line::from(format!(" {advice}"))),
            );
            lines
        }
        Dialled::Shown(dial) => shown_lines(dial, usize::from(area.width), shown.units),
    };
    frame.render_widget(Paragraph::new(lines).wrap(Wrap { trim: false }), area);
    true
}

fn shown_lines(dial: &Dial, width: usize, units: Units) -> Vec<Line<'static>> {
    let aim = &dial.aim;
    let enough = aim.still_enough();
    let length = |of: Length| settable(of, units);
    let mut lines = vec![scale(dial, enough, width)];
    let moves = dial.moves.map_or_else(
        || " moves: turn over a land".to_owned(),
        |moves| {
            format!(
                " moves {} over the land; {} is still enough",
                length(moves),
                length(enough)
            )
        },
    );
    let still = dial.moves.is_some_and(|moves| moves <= enough);
    lines.push(Line::styled(
        moves,
        if still { BOLD.fg(Color::Green) } else { BOLD },
    ));
    lines.extend(dial.standing.iter().flat_map(|standing| {
        let throw = standing.throw;
        let cam = standing.cam_angle.map(|cam| {
            format!(
                " cam angle {:.1}° ± {:.1}° (k = 2), wanted {:.1}°",
                cam.value.in_turn().deg(),
                2.0 * cam.standard_uncertainty.deg(),
                aim.cam_angle.in_turn().deg()
            )
        });
        let throw = format!(
            " throw {} ± {} (k = 2), wanted {}",
            length(throw.value),
            length(throw.standard_uncertainty * 2.0),
            length(aim.throw)
        );
        std::iter::once(throw).chain(cam).map(Line::from)
    }));
    let by = match dial.wanted {
        WantedBy::Sheet => "as the set-up sheet has it",
        WantedBy::Card => "as the tool card wants",
        WantedBy::Old => "relief as it was",
    };
    lines.push(Line::from(format!(
        " `{}`, cam `{}` in `{}`, {by}; this cam leaves {} of the old land unmatched",
        aim.feature,
        aim.cam,
        aim.fixture,
        length(aim.mismatch)
    )));
    lines
}

/// The dial as a scale whose middle is where it should stand still: ten times what is still enough at
/// either end.
fn scale(dial: &Dial, enough: Length, width: usize) -> Line<'static> {
    let width = width.saturating_sub(2).max(11);
    let middle = width / 2;
    let reach = enough * 10.0;
    let column = |value: Length| {
        let share = (value / reach).clamp(-1.0, 1.0);
        (middle as f64 + share * middle as f64).round() as usize
    };
    let (low, high) = (column(-enough), column(enough));
    let at = dial.value.map(column);
    let spans = (0..width).map(|place| {
        if Some(place) == at {
            Span::styled("█", BOLD.fg(Color::Cyan))
        } else if place == middle {
            Span::styled("│", BOLD)
        } else if (low..=high).contains(&place) {
            Span::styled("▒", Style::new().fg(Color::Green))
        } else {
            Span::styled("·", Style::new().fg(Color::DarkGray))
        }
    });
    let spans: Vec<_> = std::iter::once(Span::raw(" ")).chain(spans).collect();
    Line::from(spans)
}
