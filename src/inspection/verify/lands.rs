//! The lands of every feature, judged from one trace each.

use super::bench::bench;
use super::merged::{MergedTrace, placed, zero_of};
use crate::card::{Feature, GaugeCard, Role, Surface};
use crate::error::{Code, Error, Result};
use crate::inspection::folder::Folder;
use crate::judge::{self, Bench, Effort};
use crate::quantity::{Angle, Length};
use crate::record::{JudgedFeature, Reference};
use crate::trace::{Merged, Trace, Turning};

/// A feature's trace must cover this much of the turn, or a whole tooth may be missing.
const WHOLE_TURN: Angle = Angle::from_rad(350.0 / 180.0 * std::f64::consts::PI);

/// A feature's trace as judged, with what it was judged from.
pub(super) struct JudgedTrace<'a, 'm> {
    pub judged: JudgedFeature<'a>,
    /// Nothing where no trace of the feature was taken.
    pub from: Option<(&'m MergedTrace<'a>, Bench)>,
}

/// Every land of every feature; one without a trace is told.
pub(super) fn judge_all<'a, 'm>(
    folder: &'a Folder,
    merged: &'m [MergedTrace<'a>],
    references: &[Reference],
    effort: Effort,
    warnings: &mut Vec<String>,
) -> Result<Vec<JudgedTrace<'a, 'm>>> {
    let mut judged = Vec::new();
    let mut errors = Vec::new();
    for feature in &folder.tool.features {
        let of_feature =
            |each: &&MergedTrace| each.entry.role == Role::Feature(feature.name.clone());
        let mut traced = false;
        for each in merged.iter().filter(of_feature) {
            traced = true;
            let diameter = diameter(folder, feature, each, merged);
            match judge_one(folder, feature, diameter, each, references, effort) {
                Ok(one) => judged.push(one),
                Err(error) => errors.push(placed(folder, error, &each.trace)),
            }
        }
        if !traced {
            warnings.push(format!(
                "feature `{}` is on the tool card but no trace of it over the turning tool was taken: nothing is proven about its lands",
                feature.name
            ));
            let untraced = JudgedFeature {
                feature,
                z: None,
                judgement: None,
                assumptions: Vec::new(),
            };
            judged.push(JudgedTrace {
                judged: untraced,
                from: None,
            });
        }
    }
    for each in merged {
        if let Role::Feature(name) = &each.entry.role {
            errors.extend(unknown(folder, name));
        }
    }
    match Error::all(errors) {
        Some(error) => Err(error),
        None => Ok(judged),
    }
}

/// The features of the tool card: `` `seat` or `pilot` ``.
fn named(folder: &Folder) -> String {
    let features = folder.tool.features.iter();
    let names: Vec<String> = features
        .map(|feature| format!("`{}`", feature.name))
        .collect();
    names.join(" or ")
}

/// An error where the tool card has no such feature.
pub(super) fn unknown(folder: &Folder, name: &str) -> Option<Error> {
    let mut features = folder.tool.features.iter();
    (!features.any(|feature| feature.name == name)).then(|| {
        Error::new(
            Code::CardValue,
            format!(
                "read a trace of feature `{name}`, expected {}",
                named(folder)
            ),
        )
        .in_path(folder.dir.join("inspection.toml"))
        .help("name it as a `[[feature]]` of the tool card does")
    })
}

fn judge_one<'a, 'm>(
    folder: &Folder,
    feature: &'a Feature,
    diameter: Length,
    each: &'m MergedTrace<'a>,
    references: &[Reference],
    effort: Effort,
) -> Result<JudgedTrace<'a, 'm>> {
    whole_turn(&each.trace)?;
    let (bench, mut assumptions) = bench(folder, feature, each.entry.z, references);
    let here = Feature {
        diameter,
        ..feature.clone()
    };
    let judgement = judge::judge(&each.merged, &folder.tool, &here, &bench, effort)?;
    assumptions.extend(granted(&each.merged, &folder.gauge));
    let listed = !folder.tool.spacing.is_empty();
    assumptions.extend(judgement.spacing.iter().filter(|_| listed).map(|spacing| {
        format!(
            "feature `{}`: `spacing_deg` is taken to begin at flute {}, where it fits best",
            feature.name,
            spacing.from + 1
        )
    }));
    Ok(JudgedTrace {
        judged: JudgedFeature {
            feature,
            z: each.entry.z,
            judgement: Some(judgement),
            assumptions,
        },
        from: Some((each, bench)),
    })
}

/// What a trace could have shown of its bench, and was not turned to show.
fn granted(merged: &Merged, gauge: &GaugeCard) -> Vec<String> {
    /// Of less than this little is passed a second time.
    const SECOND_LOOK: Angle = Angle::from_rad(1.5 * std::f64::consts::TAU);
    let arc: Angle = merged.passes.iter().map(|pass| pass.arc).sum();
    let ways = [Turning::Cutting, Turning::Backing];
    let one_way = ways
        .iter()
        .any(|way| merged.passes.iter().all(|pass| pass.turning == *way));
    let once = (arc < SECOND_LOOK).then(|| {
        "most places were read in one turn alone: that the encoder lost no counts and nothing moved is taken for granted; a second turn would show it".to_owned()
    });
    let follows = one_way.then(|| {
        "the tool was turned one way: that the plunger follows the surface, and neither hops nor hangs at the same places in each turn, is taken for granted; a trace turned both ways would show it".to_owned()
    });
    let play = (one_way && gauge.indicator.hysteresis > Length::ZERO).then(|| {
        "the tool was turned one way: the indicator's play is taken to be no more than the gauge card states; a trace turned both ways would show it".to_owned()
    });
    once.into_iter().chain(play).chain(follows).collect()
}

/// Diameter of the edge circle where a trace was taken: the highest edge of all traces that share the
/// indicator's zero has the card's, and the others follow from their readings.
fn diameter(
    folder: &Folder,
    feature: &Feature,
    trace: &MergedTrace,
    merged: &[MergedTrace],
) -> Length {
    if feature.surface == Surface::Axial {
        return feature.diameter;
    }
    let highest = |of: &MergedTrace| {
        let readings = of.merged.cells.iter().map(|cell| cell.reading);
        readings.reduce(Length::max)
    };
    let zero = zero_of(folder, trace.entry);
    let alike = merged.iter().filter(|other| {
        other.entry.role == trace.entry.role && zero_of(folder, other.entry) == zero
    });
    let all = alike.filter_map(highest).reduce(Length::max);
    let below = match (all, highest(trace)) {
        (Some(all), Some(here)) => all - here,
        _ => Length::ZERO,
    };
    let lever = folder.gauge.indicator.lever_angle.rad().cos();
    feature.diameter - below * (2.0 * lever)
}

/// Refuses a trace that does not go all the way round. A turn that was made but lost readings has
/// holes; a turn that was not made has a short arc.
fn whole_turn(trace: &Trace) -> Result<()> {
    let angles = || trace.samples.iter().map(|sample| sample.angle);
    let first = angles().reduce(Angle::min).unwrap_or(Angle::ZERO);
    let last = angles().reduce(Angle::max).unwrap_or(Angle::ZERO);
    if last - first < WHOLE_TURN {
        return Err(Error::new(
            Code::TraceShort,
            format!(
                "the trace covers {:.0}° of the turn, expected a whole one (360°)",
                (last - first).deg()
            ),
        )
        .help("turn the tool through at least one whole turn with the stylus on it"));
    }
    Ok(())
}
