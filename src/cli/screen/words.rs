//! What the person is told to do, and which keys do what, by where the capture is.

use super::{Asks, Shown};
use crate::card::Role;
use crate::inspection::capture::NEARLY;
use crate::inspection::live::{Dialled, Pace, Phase, Step, StepState, Way};
use crate::report::Units;

/// Silence is told from here on.
const QUIET_S: f64 = 1.5;

/// Whether nothing has come for so long that it is told.
pub(super) fn is_quiet(shown: &Shown<'_>) -> bool {
    shown.quiet.is_some_and(|quiet| quiet.s() >= QUIET_S)
}

/// What to do now: a sentence that can be read from across the bench, and whether it is urgent.
pub(super) fn instruction(shown: &Shown<'_>) -> (String, bool) {
    let live = shown.live;
    if shown.asks == Asks::DropAgain {
        let text = "Drop this trace and take it again? r once more drops it; wait to keep it.";
        return (text.to_owned(), true);
    }
    if shown.asks == Asks::StopAgain {
        let text = "Stop here? The same key again stops; what was read is kept.";
        return (text.to_owned(), true);
    }
    if live.gone {
        let text = "THE DEVICE WENT AWAY. Plug it in; leave the tool alone. What was read is kept.";
        return (text.to_owned(), true);
    }
    if let Some(quiet) = shown.quiet.filter(|_| is_quiet(shown)) {
        let text = format!(
            "NOTHING COMES FOR {:.0} s. Look at the cable and the indicator.",
            quiet.s()
        );
        return (text, true);
    }
    let step = shown.step().and_then(|at| live.plan.steps.get(at));
    let place = step.map_or_else(String::new, |step| place(step, shown.units));
    match live.phase {
        Phase::Closed => ("Closing the port.".to_owned(), false),
        Phase::Connecting => (
            "Opening the port; a controller takes up to 3 s to answer.".to_owned(),
            false,
        ),
        Phase::Between => match shown.asks {
            Asks::Ending(seconds) => (
                format!(
                    "ALL IS TAKEN. It ends by itself in {seconds} s; r takes the last trace again."
                ),
                false,
            ),
            Asks::Clamping(true) => (
                "IS THE TOOL STILL CLAMPED AS IT WAS, untouched? y goes on with what is kept."
                    .to_owned(),
                true,
            ),
            Asks::Clamping(false) => (
                "NO INDEX MARK ties more to what is kept: n takes everything again, q keeps it."
                    .to_owned(),
                true,
            ),
            _ => ("One moment.".to_owned(), false),
        },
        Phase::Setting if live.zero_in_question => (
            format!("WAS THE INDICATOR ZEROED? z yes, Space no; with the stylus on {place}."),
            true,
        ),
        Phase::Setting => {
            let zero = match step.is_some_and(|step| step.wanted.rezeroed) {
                true => ", zero it anew",
                false => "",
            };
            (
                format!("SET THE STYLUS on {place}{zero}; then press Space."),
                false,
            )
        }
        Phase::Armed if live.way() == Way::Wrong => (other_way(shown), true),
        Phase::Armed => (
            match live.heel_first() {
                true => format!(
                    "TURN THE TOOL slowly, heel first ({}): it is recorded then.",
                    live.heel_turns
                ),
                false => "TURN THE TOOL slowly: it is recorded as soon as it turns.".to_owned(),
            },
            false,
        ),
        Phase::Turning => turning(shown),
    }
}

fn turning(shown: &Shown<'_>) -> (String, bool) {
    if !matches!(shown.live.dial, Dialled::None) {
        return ("RIDE ON THE LAND, and watch the dial.".to_owned(), false);
    }
    let live = shown.live;
    if live.way() == Way::Wrong {
        return (other_way(shown), true);
    }
    let left = live.to_go();
    if live.round.covered(live.plan.passes) >= NEARLY && left.is_none() {
        let text = "THE TURN IS COVERED. More turns sharpen it; e ends this trace.";
        return (text.to_owned(), false);
    }
    let missing = left.as_ref().map(|left| {
        let all = left.all.deg().ceil();
        format!(
            "{:.0}° missing, in the next {all:.0}°",
            left.missing.deg().max(1.0)
        )
    });
    if live.stands() {
        let way = match live.heel_first() {
            true => "heel first",
            false => "the same way",
        };
        let text = match missing {
            Some(missing) => format!("IT STANDS STILL: turn on, {way}; {missing}."),
            None => format!("IT STANDS STILL: turn on, {way}."),
        };
        return (text, true);
    }
    match (live.motion.pace(), missing) {
        (Pace::Slower, _) => (
            "SLOWER: readings lie farther apart than is wanted.".to_owned(),
            true,
        ),
        (_, Some(missing)) => (format!("NEARLY DONE, turn on: {missing}."), false),
        (Pace::Faster, _) => ("KEEP TURNING; it may go faster.".to_owned(), false),
        _ => ("KEEP TURNING, just like this.".to_owned(), false),
    }
}

fn other_way(shown: &Shown<'_>) -> String {
    let turns = shown.live.heel_turns;
    format!("STOP. OTHER WAY: heel first, {turns} seen from the driven end.")
}

/// A step as a person calls it: `the round, 40 mm from the front`.
fn place(step: &Step, units: Units) -> String {
    let what = match &step.wanted.role {
        Role::Reference => match step.wanted.diameter {
            Some(diameter) => format!("the round of {}", units.plain(diameter)),
            None => "a round".to_owned(),
        },
        Role::Feature(name) => format!("`{name}`"),
        Role::Motion(engaged) => format!(
            "a round in the fixture, throw {}",
            units.plain(engaged.throw)
        ),
        Role::Residual(name, engaged) => format!(
            "`{name}` in the fixture, throw {}",
            units.plain(engaged.throw)
        ),
    };
    match step.wanted.z {
        Some(z) => format!("{what}, {} from the front", units.plain(z)),
        None => what,
    }
}

/// The steps, each with how it stands in a word, as many as fit around the one under way.
pub(super) fn steps(shown: &Shown<'_>, width: usize) -> Vec<(String, bool)> {
    let plan = &shown.live.plan;
    let now = shown.step().unwrap_or(0);
    let words: Vec<(String, bool)> = (plan.steps.iter().enumerate())
        .map(|(at, step)| {
            let z = step.wanted.z.map(|z| format!(" {}", shown.units.plain(z)));
            let under_way = shown.live.current == Some(at);
            let state = match &step.state {
                _ if under_way => "now",
                StepState::Taken(_) => "taken",
                StepState::Short(_) => "cut short",
                StepState::Open => "to do",
            };
            let text = format!(
                " {} {}{}: {state} ",
                at + 1,
                step.name(),
                z.unwrap_or_default()
            );
            (text, under_way)
        })
        .collect();
    let mut from = 0;
    let long = |from: usize| {
        words[from..]
            .iter()
            .map(|(text, _)| text.chars().count() + 1)
            .sum::<usize>()
    };
    while from < now && from < words.len() && long(from) > width {
        from += 1;
    }
    words.into_iter().skip(from).collect()
}

/// The keys that do something now.
pub(super) fn keys(shown: &Shown<'_>) -> &'static str {
    match shown.live.phase {
        _ if shown.asks == Asks::Clamping(true) => {
            "y  clamped as it was    n  clamped anew: take all again    q  stop and keep"
        }
        _ if shown.asks == Asks::Clamping(false) => "n  take all again    q  stop and keep",
        _ if shown.is_done() => {
            "Enter  finish    r  take the last again    1-9  take that one again    q  stop"
        }
        Phase::Setting if shown.live.plan.has_traces() => {
            "Space  set    z  set, indicator zeroed anew    1-9  another step    q  stop"
        }
        Phase::Setting => "Space  the stylus is set    1-9  take another step    q  stop and keep",
        Phase::Armed => "r  set the stylus again    1-9  take another step    q  stop and keep",
        Phase::Turning => {
            "e  this is enough    q  stop and keep    r twice  drop it, take it again"
        }
        Phase::Closed | Phase::Connecting | Phase::Between => "q  stop",
    }
}
