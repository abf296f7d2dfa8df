//! What stands nearer to the work than the clearance that was judged.
//!
//! The figures of a tooth speak of its land, which ends where it falls into the gap, or where it
//! breaks off into a groove or up a ridge, and of what a smooth through it follows. Whatever else
//! stands between the edge and the bottom of the gap is metal of the same tooth. It is not fitted, so
//! that nothing proves how high it stands but its readings: they must be as clear of the work as the
//! limit asks, by all that the edge and one of them may be off and that the tip may hide beside it.

use super::doubt::{Doubt, DoubtKind, Leaves};
use super::figures::{Figure, Plan};
use super::guard::{Guard, Line, OWN_MOST};
use super::part::Part;
use crate::card::Name;
use crate::quantity::{Angle, Length, told};
use crate::shape::{Standing, Tip};

/// A reading behind the check distance.
#[derive(Clone, Copy)]
struct Behind {
    standing: Standing,
    arc: Angle,
    /// How far below the work it stands.
    clear: Length,
}

/// Doubts about teeth of which something stands up again, too near to the work to pass.
pub(super) fn stand_again(
    guard: &Guard,
    part: &Part,
    plan: &Plan,
    figures: &[Figure],
) -> Vec<Doubt> {
    let teeth = plan.teeth.iter().enumerate();
    teeth
        .filter_map(|(index, tooth_plan)| {
            let of_tooth = |figure: &&Figure| {
                figure.name == Name::HeelClearance && figure.tooth == Some(index)
            };
            let figure = figures.iter().find(of_tooth)?;
            let u = Length::from_mm(figure.budget.as_ref()?.combined());
            let line = Line::of(part, tooth_plan.as_ref()?, index, guard.reach())?;
            let judged = Length::from_mm(figure.value?);
            let may_pass = judged > line.limit;
            let nearest = may_pass.then(|| nearest(guard, part.clamping.tip, &line, judged, u))?;
            nearest.map(|reading| doubt(index, &reading))
        })
        .collect()
}

/// Of what the clearance that was judged leaves out and that stands too near to the work, the reading
/// that stands nearest to it.
fn nearest(guard: &Guard, tip: Tip, line: &Line, judged: Length, u: Length) -> Option<Behind> {
    let behind = readings_behind(guard, line);
    let chance = guard.chance();
    let needed = u.mm().hypot(guard.scatter().mm()) * OWN_MOST;
    let mut nearest: Option<&Behind> = None;
    for (at, reading) in behind.iter().enumerate() {
        let left_out = judged - reading.clear > chance;
        let hidden = hidden_beside(&behind, at, tip, line);
        let near = reading.clear < line.limit + Length::from_mm(needed) + hidden;
        let nearer = nearest.is_none_or(|nearest| reading.clear < nearest.clear);
        if left_out && near && nearer && !guard.explained(&reading.standing) {
            nearest = Some(reading);
        }
    }
    nearest.copied()
}

/// The readings between the check distance, where no tip reaches back to before it any more, and the
/// bottom of the gap, by growing arc.
fn readings_behind(guard: &Guard, line: &Line) -> Vec<Behind> {
    let from = line.check + line.zone;
    let half = (line.reach - from) / 2.0;
    let mut behind: Vec<Behind> = guard
        .within(line.edge + from + half, half)
        .into_iter()
        .map(|standing| {
            let arc = (standing.angle - line.edge).in_turn();
            Behind {
                clear: line.height - line.standing * arc.rad() - standing.height,
                standing,
                arc,
            }
        })
        .collect();
    behind.retain(|reading| (from..=line.reach).contains(&reading.arc));
    behind.sort_by(|a, b| a.arc.total_cmp(&b.arc));
    behind
}

/// How much higher than a reading something may stand that lies between it and the next ones: the
/// sagitta of a ball over the gap between them, and under another tip as much as it falls to them.
fn hidden_beside(behind: &[Behind], at: usize, tip: Tip, line: &Line) -> Length {
    let here = &behind[at];
    let beside = [at.checked_sub(1), Some(at + 1)];
    let beside = beside.into_iter().flatten().filter_map(|at| behind.get(at));
    let each = beside.map(|other| match tip {
        Tip::Ball(ball) => {
            let apart = line.height.mm() * (other.arc - here.arc).rad();
            Length::from_mm((apart * apart / 8.0 / ball.mm()).min(ball.mm()))
        }
        Tip::Flat(_) | Tip::Point => (other.clear - here.clear).abs(),
    });
    each.fold(Length::ZERO, Length::max)
}

fn doubt(index: usize, reading: &Behind) -> Doubt {
    let stands = if reading.clear < Length::ZERO {
        format!("{} above the edge", told::um(-reading.clear, 1))
    } else {
        format!("only {} clear of the work", told::um(reading.clear, 1))
    };
    Doubt {
        tooth: Some(index),
        touches: vec![Name::HeelClearance, Name::TotalRelief],
        leaves: Leaves::NoPass,
        ..Doubt::about(
            DoubtKind::StandsAgain,
            format!(
                "a reading {:.1}° behind the edge stands {stands}, nearer than the land that was judged: something stands up there that it leaves out",
                reading.arc.deg()
            ),
            "look there for a ridge, a burr or a heel that curls up, and turn once more slowly over it",
        )
    }
}
