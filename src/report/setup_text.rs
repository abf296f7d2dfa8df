//! A set-up as text.

use super::figures;
use crate::quantity::Units;
use crate::record::{CutSetup, PredictedFigure, Setup, StandsFacts, Verdict};

/// A set-up in lines for a terminal, what is to be set first.
pub fn setup_text(setup: &Setup, units: Units) -> Vec<String> {
    let verdict = setup.verdict.map_or("", Verdict::as_str);
    let goal = match setup.goal.as_str() {
        "as-it-was" => "relief as it was",
        _ => "relief as the card wants",
    };
    let mut lines = vec![format!("{} {}, {goal}", setup.tool, setup.tool_name)];
    if !setup.why.is_empty() {
        lines.push(format!("{verdict}: no set-up"));
        lines.extend(setup.why.iter().map(|why| format!("  {why}")));
        return lines;
    }
    for cut in &setup.cuts {
        lines.push(String::new());
        lines.extend(of_cut(cut, setup, units));
    }
    if !setup.predicted.is_empty() {
        lines.push(String::new());
        lines.push(format!("what it will leave: {}", will(setup.verdict)));
        lines.extend(setup.predicted.iter().map(|it| of_figure(it, units)));
    }
    for (title, list) in [
        ("not worked out", &setup.lacks),
        ("taken for granted", &setup.assumptions),
    ] {
        if !list.is_empty() {
            lines.push(String::new());
            lines.push(format!("{title}:"));
            lines.extend(list.iter().map(|it| format!("  {it}")));
        }
    }
    lines
}

/// What a predicted verdict means: it is no verdict on a tool.
pub(super) fn will(verdict: Option<Verdict>) -> &'static str {
    match verdict {
        Some(Verdict::Pass) => "inside every limit",
        Some(Verdict::Fail) => "outside a limit",
        Some(Verdict::Undecided) => "not surely inside every limit",
        None => "no limits to keep",
    }
}

/// A value with its unit as a person chose it.
pub(super) fn shown(value: f64, unit: &str, units: Units) -> String {
    let value = units.shown(value, unit);
    let decimals = match (units, unit) {
        // As fine as the micrometre that metric graduations end in.
        (Units::Inch, "mm") => 5,
        (_, "mm") => 3,
        (_, "deg") => 2,
        (_, "m/s") => 1,
        _ => 0,
    };
    // Without a minus before a zero.
    let text = format!("{value:.decimals$}");
    let text = match text.trim_start_matches(['-', '0', '.']) {
        "" => text.trim_start_matches('-').to_owned(),
        _ => text,
    };
    match units.sign(unit) {
        "°" => format!("{text}°"),
        "" => text,
        sign => format!("{text} {sign}"),
    }
}

/// What is ground with what.
fn heading(cut: &CutSetup, setup: &Setup, units: Units) -> String {
    let wheel = setup.wheel.as_ref().map_or(String::new(), |wheel| {
        let diameter = shown(wheel.diameter_mm, "mm", units);
        format!(", wheel `{}` of {diameter}", wheel.name)
    });
    let motion = match cut.motion_traced {
        true => "motion as traced",
        false => "motion by its law",
    };
    format!(
        "{} in-feed for {}: cam `{}` in `{}`, {motion}{wheel}",
        cut.direction,
        list(&cut.features),
        cut.cam,
        cut.fixture
    )
}

fn of_cut(cut: &CutSetup, setup: &Setup, units: Units) -> Vec<String> {
    let mm = |value: f64| shown(value, "mm", units);
    let row = |label: &str, value: String, more: String| {
        format!("  {label:<12} {value:>11}   {more}")
            .trim_end()
            .to_owned()
    };
    let many = setup.flutes > 1 || cut.features.len() > 1;
    let spot = |spot: &crate::record::SpotFacts| {
        let of = if many {
            format!("`{}` flute {}, ", spot.feature, spot.flute)
        } else {
            String::new()
        };
        format!("{of}{:.1}° behind the edge", spot.behind_deg)
    };
    let free = cut.cam_free_deg.map_or(String::new(), |[from, to]| {
        format!("any from {from:.1}° to {to:.1}° does")
    });
    let learnt = cut.corrections();
    let learnt = (!learnt.is_empty()).then(|| format!("  as learnt: {}", learnt.join("; ")));
    let mut lines = vec![
        heading(cut, setup, units),
        row(
            "throw",
            mm(cut.throw_mm),
            format!("on the scale, graduated in {}", mm(cut.throw_graduation_mm)),
        ),
        row("cam angle", format!("{:.1}°", cut.cam_angle_deg), free),
        row(
            "skim",
            mm(cut.skim_sure_mm),
            format!(
                "after first touch: cleans up 95 times in 100 (computed {}, u {})",
                mm(cut.skim_mm),
                mm(cut.skim_uncertainty_mm)
            ),
        ),
        row("touches", String::new(), spot(&cut.first_touch)),
        row("clean last", String::new(), spot(&cut.last_clean)),
        row(
            "mismatch",
            mm(cut.mismatch_mm),
            "what this cam cannot match of the old lands".to_owned(),
        ),
    ];
    lines.extend(learnt);
    lines.extend(cut.stands.iter().map(|it| stood(it, units)));
    lines
}

/// How the fixture stood in a trace.
fn stood(stands: &StandsFacts, units: Units) -> String {
    let mm = |value: f64| shown(value, "mm", units);
    let cam = match (stands.cam_angle_deg, stands.cam_uncertainty_deg) {
        (Some(cam), Some(u)) => format!(", cam angle {cam:.1}° ± {:.1}°", 2.0 * u),
        _ => String::new(),
    };
    let right = match (stands.right, stands.steady) {
        (true, _) => "as it is to be set",
        (false, true) => "not as it is to be set",
        (false, false) => {
            "not still: throw or cam was moved in it, or the tool runs otherwise there"
        }
    };
    let apart = (stands.throw_mm - stands.stated_mm).abs();
    let stated = match apart > 3.0 * stands.throw_uncertainty_mm + 0.05 * stands.stated_mm {
        true => format!(", where its scale showed {}", mm(stands.stated_mm)),
        false => String::new(),
    };
    format!(
        "  in {} it stood {right}: throw {} ± {} (k = 2){stated}{cam}; the rest moves {} (rms)",
        stands.file,
        mm(stands.throw_mm),
        mm(2.0 * stands.throw_uncertainty_mm),
        mm(stands.misfit_mm),
    )
}

/// `a`, `a and b`, `a, b and c`.
fn list(names: &[String]) -> String {
    let quoted: Vec<String> = names.iter().map(|name| format!("`{name}`")).collect();
    match quoted.split_last() {
        None => String::new(),
        Some((only, [])) => only.clone(),
        Some((last, before)) => format!("{} and {last}", before.join(", ")),
    }
}

fn of_figure(figure: &PredictedFigure, units: Units) -> String {
    let flute = figure
        .flute
        .map_or(String::new(), |flute| format!(" {flute}"));
    let limit = figure.limit.map_or(String::new(), |limit| {
        let end = |value: f64| shown(value, &figure.unit, units);
        match (limit.min, limit.max) {
            (Some(min), Some(max)) => format!("{} to {}", end(min), end(max)),
            (Some(min), None) => format!("{} or more", end(min)),
            (None, Some(max)) => format!("{} or less", end(max)),
            (None, None) => String::new(),
        }
    });
    let [low, high] = figure.interval.map(|end| shown(end, &figure.unit, units));
    let verdict = figure.verdict.map_or("", Verdict::as_str);
    format!(
        "  {:<14} {:<15} {:>10}   {low} to {high}   {limit} {verdict}",
        format!("{}{flute}", figure.feature),
        figures::name(&figure.name),
        shown(figure.value, &figure.unit, units),
    )
    .trim_end()
    .to_owned()
}
