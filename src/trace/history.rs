//! What a merge did to a trace, in sentences for the record.

use super::grid::Look;
use super::passes::Motion;
use super::{Cell, Delay, DelaySource, Hole, Turning};
use crate::quantity::{Angle, COVERAGE_FACTOR, with_uncertainty};
use crate::sample::{Mark, Marks};

/// How the tool was turned.
pub(super) fn motion(motion: &Motion) -> String {
    let arc = |way: Turning| -> Angle {
        let these = motion.passes.iter().filter(|pass| pass.turning == way);
        these
            .map(|pass| pass.arc)
            .fold(Angle::ZERO, |sum, arc| sum + arc)
    };
    format!(
        "found {}: {:.0}° turned the cutting way and {:.0}° the backing way",
        counted(motion.passes.len(), "pass", "passes"),
        arc(Turning::Cutting).deg(),
        arc(Turning::Backing).deg(),
    )
}

/// How the delay is known.
pub(super) fn delay(delay: &Delay) -> String {
    let (value, u) = (delay.estimate.value, delay.estimate.standard_uncertainty);
    let value = with_uncertainty(value.ms(), u.ms() * COVERAGE_FACTOR);
    match delay.source {
        DelaySource::Stated => format!("took out the stated delay of the indicator: {value} ms"),
        DelaySource::OneClock => {
            format!("took the indicator as read with the encoder, on one clock: {value} ms")
        }
        DelaySource::Found => {
            format!("found the delay of the indicator from the changes of speed: {value} ms")
        }
        DelaySource::Shown => {
            format!("took the delay of the indicator that the trace of a feature shows: {value} ms")
        }
        DelaySource::Unknown => format!(
            "could not find the delay of the indicator, since every place was passed at one speed; \
             took {value} ms; turn the tool both ways, or state `delay_ms`"
        ),
    }
}

/// What was left out, and why.
pub(super) fn doubts(marks: &[Marks], looks: &[Look], odd: &[bool]) -> String {
    let count = |mark: Mark| marks.iter().filter(|marks| marks.has(mark)).count();
    let single = count(Mark::Spike);
    let disagreeing = looks.iter().zip(odd).filter(|(_, odd)| **odd);
    let disagreeing: usize = disagreeing.map(|(look, _)| look.samples as usize).sum();
    let reasons = [
        (single, "stand out from their neighbours"),
        (disagreeing, "disagree with the other passes"),
        (count(Mark::Nudge), "belong to a nudge"),
        (count(Mark::AngleInDoubt), "have an angle in doubt"),
        (count(Mark::AfterReplug), "came right after a replug"),
        (count(Mark::Unusable), "have no time of their own"),
    ];
    let told: Vec<String> = reasons
        .iter()
        .filter(|(count, _)| *count > 0)
        .map(|(count, reason)| format!("{count} {reason}"))
        .collect();
    let all = counted(marks.len(), "sample", "samples");
    if told.is_empty() {
        return format!("used all of {all}");
    }
    format!("of {all}, left out those marked: {}", told.join(", "))
}

/// What became of the rest.
pub(super) fn grid(
    cells: &[Cell],
    (of, apart): (usize, Angle),
    repeated: bool,
    holes: &[Hole],
) -> Vec<String> {
    let mut told = vec![format!(
        "merged into {} of {} places, {:.3}° apart",
        cells.len(),
        of,
        apart.deg(),
    )];
    if !repeated {
        told.push(
            "no place was read twice the same way, so how well it repeats could not be seen; \
             took it to be no better than the noise"
                .to_owned(),
        );
    }
    if !holes.is_empty() {
        let arc: Angle = holes.iter().map(|hole| hole.width).sum();
        told.push(format!(
            "nothing was read in {}, {:.1}° of the turn",
            counted(holes.len(), "arc", "arcs"),
            arc.deg(),
        ));
    }
    told
}

fn counted(count: usize, one: &str, more: &str) -> String {
    match count {
        1 => format!("1 {one}"),
        count => format!("{count} {more}"),
    }
}
