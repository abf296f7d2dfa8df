//! What traces show that the cards do not say, as doubts.

use super::doubt::{Doubt, DoubtKind, Leaves};
use super::drift::drift;
use crate::card::GaugeCard;
use crate::quantity::{Angle, Estimate, Length, Speed, Time, told};
use crate::shape::{Lobes, Runout};
use crate::trace::{Agreement, Merged};

/// Beyond this many standard uncertainties chance takes an estimate in one good trace of 1000.
const SURELY: f64 = 3.3;

/// The same where few edges crossed few times tell their own scatter.
const SURELY_WALKED: f64 = 4.5;

/// Waves of a reference of more than this from lowest to highest are no ground round's in a true
/// spindle, and what they do elsewhere on the tool is anyone's guess (common practice, no source).
const WAVED_MOST: Length = Length::from_mm(0.008);

/// What the turns of a trace say of each other against what the gauge card allows. `what` names the
/// trace: "the trace", "the reference at 40 mm".
pub fn doubts_of_turns(
    agreement: &Agreement,
    merged: &Merged,
    gauge: &GaugeCard,
    what: &str,
) -> Vec<Doubt> {
    let step = counts_lost(agreement, gauge, what);
    let moved = something_moved(agreement, gauge, what);
    let drifts = moved
        .is_none()
        .then(|| drifts(agreement, merged, gauge, what))
        .flatten();
    let play = more_play(agreement, gauge, what);
    [step, moved, drifts, play].into_iter().flatten().collect()
}

fn counts_lost(agreement: &Agreement, gauge: &GaugeCard, what: &str) -> Option<Doubt> {
    let count = Angle::TURN / f64::from(gauge.encoder.counts_per_turn.max(1));
    let Some(step) = agreement.turned else {
        return counts_lost_on_the_way(agreement, count, what);
    };
    (step.size.value.abs() > count).then(|| {
        Doubt::about(
DoubtKind::CountsLost,
            format!(
                "in {what} the same edges stand {:.2}° elsewhere from {:.0} s on: the encoder lost counts, or the tool slipped",
                step.size.value.deg(),
                step.after.s()
            ),
            "fasten tool, coupling and encoder, and take the trace again",
        )
    })
}

/// Counts that were lost a few at a time: the same edges stand further on turn after turn.
fn counts_lost_on_the_way(agreement: &Agreement, count: Angle, what: &str) -> Option<Doubt> {
    let walked = agreement.walked?;
    let surely = walked.value.abs() - walked.standard_uncertainty * SURELY_WALKED;
    (surely > count).then(|| {
        Doubt::about(
DoubtKind::CountsLost,
            format!(
                "in {what} the same edges stand {:.2}° further on at its end than at its beginning: the encoder lost counts again and again, or the tool slips",
                walked.value.deg().abs(),
            ),
            "fasten tool, coupling and encoder, and take the trace again",
        )
    })
}

/// What an indicator's own error hides is no reason to doubt.
fn hidden(gauge: &GaugeCard) -> Length {
    gauge.indicator.resolution.max(gauge.indicator.max_error)
}

fn something_moved(agreement: &Agreement, gauge: &GaugeCard, what: &str) -> Option<Doubt> {
    let step = agreement.moved?;
    (step.size.value.abs() > hidden(gauge)).then(|| Doubt {
        apart: Some(step.size.value.abs()),
        ..Doubt::about(
DoubtKind::TurnsDisagree,
            format!(
                "in {what} the same places read {} {} from {:.0} s on: the tool, the indicator or its stand moved",
                told::um(step.size.value.abs(), 1),
                if step.size.value > Length::ZERO { "more" } else { "less" },
                step.after.s()
            ),
            "tighten what holds tool and indicator, and take the traces again",
        )
    })
}

fn drifts(agreement: &Agreement, merged: &Merged, gauge: &GaugeCard, what: &str) -> Option<Doubt> {
    let Estimate {
        value,
        standard_uncertainty,
    } = agreement.drift?;
    let allowed = drift(gauge).map_or(Speed::ZERO, |rectangular| rectangular * 3f64.sqrt());
    let surely = value.abs() - allowed - standard_uncertainty * SURELY;
    let turn = time_of_turn(merged)?;
    (surely > Speed::ZERO && surely * turn > hidden(gauge)).then(|| {
        Doubt::about(
DoubtKind::TurnsDisagree,
            format!(
                "in {what} the same places read {} a minute {}: the indicator drifts, or something gives way",
                told::um((value * Time::from_s(60.0)).abs(), 1),
                if value > Speed::ZERO { "more" } else { "less" }
            ),
            "let gauge and tool come to one temperature, find what gives, and take the traces again",
        )
    })
}

/// How long a turn took on average.
fn time_of_turn(merged: &Merged) -> Option<Time> {
    let speeds = merged.cells.iter().map(|cell| cell.speed.rad_per_s().abs());
    let mean = speeds.sum::<f64>() / merged.cells.len().max(1) as f64;
    // Where both ways were gone alike the mean speed of a place is near none.
    let arc: f64 = merged.passes.iter().map(|pass| pass.arc.rad()).sum();
    let last = merged
        .cells
        .iter()
        .map(|cell| cell.time)
        .reduce(Time::max)?;
    let overall = arc / last.s().max(1e-3);
    let speed = mean.max(overall);
    (speed > 0.0).then(|| Time::from_s(Angle::TURN.rad() / speed))
}

fn more_play(agreement: &Agreement, gauge: &GaugeCard, what: &str) -> Option<Doubt> {
    let play = agreement.play?;
    let stated = gauge.indicator.hysteresis;
    let more = play.value - play.standard_uncertainty * SURELY - stated;
    // A play that is hardly known may be a drift or a delay that look like it.
    let known = play.standard_uncertainty <= gauge.indicator.resolution / 2.0;
    (known && more > gauge.indicator.resolution / 2.0).then(|| {
        Doubt::about(
DoubtKind::MorePlay,
            format!(
                "in {what} the two ways read {} apart, and the gauge card states a play of {}",
                told::with_uncertainty_um(play.value, play.standard_uncertainty * 2.0),
                told::um(stated, 1)),
            "find the play with `study reversal` and state it as `hysteresis_mm`, or clean the indicator's guide",
        )
    })
}

/// A known size beside what was read there; both on one zero.
#[derive(Clone, Debug, PartialEq)]
pub struct KnownSize {
    /// What it is, for people: "the reference at 40 mm".
    pub name: String,
    /// On the card.
    pub diameter: Length,
    /// By how much that may be off.
    pub tolerance: Length,
    /// Along the radius, the lever's angle taken out.
    pub read: Length,
}

/// Sizes closer together than this tell no scale: what they disagree by is a zero or a diameter
/// (chosen, no source).
const LEAST_STEP: Length = Length::from_mm(0.3);

/// Whether the indicator reads the step between two known sizes otherwise than the cards say.
pub fn doubt_of_scale(sizes: &[KnownSize], gauge: &GaugeCard) -> Option<Doubt> {
    let pairs = sizes.iter().enumerate().flat_map(|(at, one)| {
        let others = sizes[at + 1..].iter();
        others.map(move |other| (one, other))
    });
    let differ = |(one, other): &(&KnownSize, &KnownSize)| {
        let step = (one.diameter - other.diameter) / 2.0;
        let read = one.read - other.read;
        let allowed = (one.tolerance + other.tolerance) / 2.0 + gauge.indicator.max_error * 2.0;
        step.abs() >= LEAST_STEP && (read - step).abs() > allowed
    };
    let (one, other) = pairs.into_iter().find(differ)?;
    let step = (one.diameter - other.diameter) / 2.0;
    Some(Doubt::about(
        DoubtKind::Scale,
        format!(
            "{} and {} differ by {} in radius by their cards, and read {} apart: the indicator's scale, a lever's angle or a diameter is not as stated",
            one.name,
            other.name,
            told::mm(step.abs(), 3),
            told::mm((one.read - other.read).abs(), 3)
        ),
        "measure both diameters, check the scale on a gauge block with `study step`, and correct the card that is wrong",
    ))
}

/// Readings that span more than the plunger can go are not what the card says.
pub fn beyond_travel(span: Length, travel: Length, resolution: Length) -> Doubt {
    Doubt::about(
        DoubtKind::Scale,
        format!(
            "the readings span {}, and the gauge card states a plunger that travels {}: its count is not worth what the card says ({}), or the travel is",
            told::mm(span, 3),
            told::mm(travel, 3),
            told::mm(resolution, 4)
        ),
        "check the scale on a gauge block with `study step`, and correct the card",
    )
}

/// The doubt that an indicator reads in coarser steps than its card says.
pub fn doubt_of_least_count(trace: &str, step: Length, stated: Length) -> Doubt {
    Doubt::about(
        DoubtKind::LeastCount,
        format!(
            "all readings of `{trace}` are whole steps of {}, and the gauge card states a least count of {}: the indicator is another one, or was switched over, and so its limit of error may be another; the budget takes the coarser step",
            told::mm(step, 4),
            told::mm(stated, 4)
        ),
        "switch the indicator to its finer step and take the traces again, or state its least count as `resolution_mm` with the limit of error that goes with it",
    )
}

/// What a reference shows beside a round that runs out. `name` names it: "the reference at 40 mm".
pub fn doubts_of_reference(runout: &Runout, name: &str) -> Vec<Doubt> {
    let stopped = runout.stopped.map(|stopped| {
        Doubt::about(
DoubtKind::PlungerStop,
            format!(
                "in {name} the readings stand still at their {} over {:.0}° of the turn and move over the rest, as with the plunger at an end of its travel: the runout is not known",
                if stopped.highest { "highest" } else { "lowest" },
                stopped.arc.deg()
            ),
            "set the indicator so that the plunger moves freely all the way round, and take the traces again",
        )
    });
    let waved = waved(&runout.lobes).filter(|_| stopped.is_none());
    let waved = waved.map(|seen| Doubt {
        leaves: Leaves::NoPass,
        ..Doubt::about(
            DoubtKind::NotRound,
            format!("{name} {seen}"),
            "take the reference on another round, or clamp the tool half a turn further on and compare: what stays with the spindle is the spindle's",
        )
    });
    stopped.into_iter().chain(waved).collect()
}

fn waved(lobes: &Lobes) -> Option<String> {
    let swing = lobes.swing();
    (swing > WAVED_MOST).then(|| {
        format!(
            "shows {} waves a turn, {} from lowest to highest: it is not round or the spindle does not run true",
            lobes.most(),
            told::um(swing, 1))
    })
}
