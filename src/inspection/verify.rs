//! From an inspection folder to its record, one call a stage.

use super::beyond_cards::doubt;
use super::capture;
use super::folder::{Folder, Taken};
use super::graduated::Graduated;
use super::sense;
use super::studied::studied;
use crate::card::{Feature, GaugeCard, Name, Role, StylusShape, Surface, TraceEntry};
use crate::error::{Code, Error, Result};
use crate::judge::{self, Axis, Bench, Doubt, Effort, Figure, Plane, axis_from_references};
use crate::quantity::{Angle, Estimate, Length, Time};
use crate::record::{self, Beyond, Judged, JudgedFeature, JudgedFrom, Record, Reference};
use crate::shape::{self, Lobes, Runout};
use crate::trace::csv::Slide;
use crate::trace::{DelaySource, MergeSettings, Merged, Trace, Turning, merge};

/// A feature's trace must cover this much of the turn, or a whole tooth may be missing.
const WHOLE_TURN: Angle = Angle::from_rad(350.0 / 180.0 * std::f64::consts::PI);

/// From the end of one trace to the start of the next (common practice, no source).
const BETWEEN_TRACES: Time = Time::from_s(180.0);

/// Two traces whose clocks stand apart by as much but for this are taken to have one delay.
const SAME_CLOCKS: Time = Time::from_s(0.6);

/// A capture that ended early may lack traces that nobody can tell were wanted.
const CUT_SHORT: &str = "the capture was cut short before its end: traces that were still to be taken are missing, and the last one may be shorter than was wanted; capture again to be sure";

/// Judges an inspection, with as many trials as its decisions need.
///
/// # Errors
/// When cards or traces cannot be read, or a trace does not show what its card says.
pub fn verify(folder: &Folder) -> Result<Record> {
    verify_with(folder, Effort::default())
}

/// The same with trials as `effort` says.
///
/// # Errors
/// As [`verify`].
pub fn verify_with(folder: &Folder, effort: Effort) -> Result<Record> {
    let mut warnings = Vec::new();
    if folder.inspection.interrupted {
        warnings.push(CUT_SHORT.to_owned());
    }
    sense::hint(folder, &mut warnings);
    let folder = &studied(folder, &mut warnings);
    let left = capture::rebuild(&folder.dir, &folder.inspection, &folder.gauge)?;
    warnings.extend(left.iter().flat_map(made_now));
    let mut from = folder.cards.clone();
    let (traces, slides) = read(folder, None, &mut from, &mut warnings)?;
    let graduated = Graduated::of(folder, traces.iter().map(|(_, trace)| trace));
    let folder = &graduated.folder;
    let merged = merge_all(folder, traces)?;
    let references = references(folder, &merged, &mut warnings);
    let mut features = judge_all(folder, &merged, &references, effort, &mut warnings)?;
    doubt(
        folder,
        &merged,
        &references,
        &mut features,
        graduated.doubt.as_ref(),
    );
    let mut beyond = beyond(folder, &features, &merged, &slides, &references, effort)?;
    let mut features: Vec<_> = features.into_iter().map(|each| each.judged).collect();
    sense::settle(folder, &mut features, &mut beyond);
    record::assemble(&Judged {
        tool: &folder.tool,
        gauge: &folder.gauge,
        inspection: &folder.inspection,
        features,
        beyond,
        references,
        history: merged.iter().flat_map(MergedTrace::history).collect(),
        warnings,
        seed: effort.seed,
        trials: effort.trials,
        from: Some(from),
    })
}

/// Judges one trace that is still growing, from its raw log as it stands now, beside the references
/// of its folder. Nothing is written, and what takes several traces of a feature is left out.
///
/// # Errors
/// As [`verify`]; above all `trace-short` before the tool has gone all the way round.
pub fn verify_growing(folder: &Folder, growing: &TraceEntry, effort: Effort) -> Result<Record> {
    let mut warnings = Vec::new();
    let mut folder = studied(folder, &mut warnings);
    folder.inspection.interrupted = false;
    let traces = &mut folder.inspection.traces;
    traces.retain(|entry| entry.role == Role::Reference && entry.source != growing.source);
    traces.push(growing.clone());
    let of_trace = |feature: &Feature| growing.role == Role::Feature(feature.name.clone());
    folder.tool.features.retain(of_trace);
    let unkept = &mut JudgedFrom::default();
    let (traces, _) = read(&folder, Some(growing), unkept, &mut warnings)?;
    let graduated = Graduated::of(&folder, traces.iter().map(|(_, trace)| trace));
    let folder = &graduated.folder;
    let merged = merge_all(folder, traces)?;
    let references = references(folder, &merged, &mut warnings);
    let mut features = judge_all(folder, &merged, &references, effort, &mut warnings)?;
    doubt(
        folder,
        &merged,
        &references,
        &mut features,
        graduated.doubt.as_ref(),
    );
    let mut features: Vec<_> = features.into_iter().map(|each| each.judged).collect();
    sense::settle(folder, &mut features, &mut []);
    record::assemble(&Judged {
        tool: &folder.tool,
        gauge: &folder.gauge,
        inspection: &folder.inspection,
        features,
        beyond: Vec::new(),
        references,
        history: merged.iter().flat_map(MergedTrace::history).collect(),
        warnings,
        seed: effort.seed,
        trials: effort.trials,
        from: None,
    })
}

/// A feature's trace as judged, with what it was judged from.
pub(super) struct JudgedTrace<'a, 'm> {
    pub judged: JudgedFeature<'a>,
    /// Nothing where no trace of the feature was taken.
    pub from: Option<(&'m MergedTrace<'a>, Bench)>,
}

/// A trace of a feature over table travel.
struct Slid<'a> {
    entry: &'a TraceEntry,
    feature: &'a str,
    rows: Vec<Slide>,
}

/// A trace with what its merge gave.
pub(super) struct MergedTrace<'a> {
    pub entry: &'a TraceEntry,
    pub trace: Trace,
    pub merged: Merged,
}

impl MergedTrace<'_> {
    fn history(&self) -> Vec<String> {
        let steps = self.trace.history.iter().chain(&self.merged.history);
        steps
            .map(|step| format!("{}: {step}", self.trace.name))
            .collect()
    }
}

/// A trace over the turning tool, with its line of the card.
type Turned<'a> = (&'a TraceEntry, Trace);

/// What is said of a trace file that a capture left to be made.
fn made_now(made: &capture::Made) -> Vec<String> {
    let file = &made.file;
    let now = format!(
        "{file}: made now from the raw log, since the capture ended before it could be written"
    );
    let seen = made.warnings.iter();
    std::iter::once(now)
        .chain(seen.map(|warning| format!("{file}: {warning}")))
        .collect()
}

/// Reads every trace, the growing one from its raw log; all that cannot be read are told together.
/// The files that were read go to `from`.
fn read<'a>(
    folder: &'a Folder,
    growing: Option<&TraceEntry>,
    from: &mut JudgedFrom,
    warnings: &mut Vec<String>,
) -> Result<(Vec<Turned<'a>>, Vec<Slid<'a>>)> {
    let mut traces = Vec::new();
    let mut slides = Vec::new();
    let mut errors = Vec::new();
    for (entry, taken, seen) in take(folder, growing, from) {
        warnings.extend(seen);
        match taken {
            Ok(Taken::Turning(trace)) => traces.push((entry, trace)),
            Ok(Taken::Sliding(rows)) => match &entry.role {
                Role::Feature(feature) => slides.push(Slid {
                    entry,
                    feature,
                    rows,
                }),
                Role::Reference => warnings.push(
                    "a reference over table travel was read: it tells nothing of the runout, and was left out; take the reference over the turning tool"
                        .to_owned(),
                ),
            },
            Err(error) => errors.push(error),
        }
    }
    match Error::all(errors) {
        Some(error) => Err(error),
        None => Ok((traces, slides)),
    }
}

/// Every trace as its files have it, in the order of the card, with what was seen in them. Those of
/// features are read first: they show how far two clocks stand apart, which a round hardly does.
fn take<'a>(
    folder: &'a Folder,
    growing: Option<&TraceEntry>,
    from: &mut JudgedFrom,
) -> Vec<(&'a TraceEntry, Result<Taken>, Vec<String>)> {
    let mut shown = None;
    let mut taken = Vec::new();
    let mut entries: Vec<(usize, &TraceEntry)> =
        folder.inspection.traces.iter().enumerate().collect();
    entries.sort_by_key(|(_, entry)| entry.role == Role::Reference);
    for (place, entry) in entries {
        let (mut files, mut seen) = (JudgedFrom::default(), Vec::new());
        let known = shown.filter(|_| entry.role == Role::Reference);
        let trace = match growing {
            Some(growing) if growing == entry => folder.growing(entry, &mut seen),
            _ => folder.take(entry, known, &mut files, &mut seen),
        };
        if let Ok(Taken::Turning(trace)) = &trace
            && trace.two_clocks
        {
            shown = shown.or(Some(trace.apart));
        }
        taken.push((place, files, (entry, trace, seen)));
    }
    taken.sort_by_key(|(place, ..)| *place);
    taken
        .into_iter()
        .map(|(_, files, each)| {
            from.and(&files);
            each
        })
        .collect()
}

/// Merges every trace, those of features first: a round takes their delay.
fn merge_all<'a>(folder: &Folder, traces: Vec<Turned<'a>>) -> Result<Vec<MergedTrace<'a>>> {
    let usual = MergeSettings::of(&folder.gauge);
    let mut shown: Option<Estimate<Time>> = None;
    let mut merged_traces = Vec::new();
    let mut errors = Vec::new();
    let mut placed_traces: Vec<(usize, Turned)> = traces.into_iter().enumerate().collect();
    placed_traces.sort_by_key(|(_, (entry, _))| entry.role == Role::Reference);
    for (place, (entry, trace)) in placed_traces {
        let of_feature = entry.role != Role::Reference;
        // Clocks that were started anew in between stand apart otherwise.
        let alike = |shown: &Estimate<Time>| (shown.value - trace.apart).abs() < SAME_CLOCKS;
        let settings = MergeSettings {
            shown: shown.filter(|shown| !of_feature && alike(shown)),
            resolve: resolve(folder, entry),
            ..usual
        };
        match merge(&trace, &settings) {
            Ok(merged) => {
                if of_feature && trace.two_clocks && merged.delay.source == DelaySource::Found {
                    shown = shown.or(Some(merged.delay.estimate));
                }
                let each = MergedTrace {
                    entry,
                    trace,
                    merged,
                };
                merged_traces.push((place, each));
            }
            Err(error) => errors.push((place, placed(folder, error, &trace))),
        }
    }
    errors.sort_by_key(|(place, _)| *place);
    match Error::all(errors.into_iter().map(|(_, error)| error)) {
        Some(error) => Err(error),
        None => {
            merged_traces.sort_by_key(|(place, _)| *place);
            Ok(merged_traces.into_iter().map(|(_, each)| each).collect())
        }
    }
}

/// How fine the places of a feature's trace are to be: a ball shows nothing narrower than it rolls
/// over a few places of. A round has nothing narrow, nor does a trace show more than it was read at.
fn resolve(folder: &Folder, entry: &TraceEntry) -> Option<Angle> {
    /// This part of a tip's size: a ride over an edge then has six places or more.
    const OF_TIP: f64 = 0.1;
    let Role::Feature(name) = &entry.role else {
        return None;
    };
    let features = &folder.tool.features;
    let feature = features.iter().find(|feature| feature.name == *name)?;
    let tip = folder.gauge.stylus.radius;
    let circle = feature.diameter / 2.0;
    (tip > Length::ZERO && circle > Length::ZERO).then(|| Angle::from_rad(tip * OF_TIP / circle))
}

/// The error with the trace's file, unless it already names one.
fn placed(folder: &Folder, error: Error, trace: &Trace) -> Error {
    if error.place().file.is_some() {
        error
    } else {
        error.in_file(folder.dir.join(&trace.name).display().to_string())
    }
}

/// Runout from every reference trace; one that shows no round is told and left out, which leaves
/// the runout less known and so can only turn a pass into undecided.
fn references(
    folder: &Folder,
    merged: &[MergedTrace],
    warnings: &mut Vec<String>,
) -> Vec<Reference> {
    let ball = match folder.gauge.stylus.shape {
        StylusShape::Ball => folder.gauge.stylus.radius,
        StylusShape::Flat | StylusShape::Point => Length::ZERO,
    };
    let lever = folder.gauge.indicator.lever_angle.rad().cos();
    merged
        .iter()
        .filter(|each| each.entry.role == Role::Reference)
        .filter_map(|each| {
            let path_radius = each.entry.diameter.map(|diameter| diameter / 2.0 + ball);
            if each.merged.delay.source == DelaySource::Unknown {
                warnings.push(format!(
                    "{}: nothing tells how far the two clocks stand apart, and so which way the tool runs out; the runout is not taken from it; turn the tool forwards and back in the trace, or state `delay_ms`",
                    each.trace.name
                ));
                return None;
            }
            match known_runout(&each.merged, path_radius, &folder.gauge) {
                Ok(runout) => Some(Reference {
                    z: each.entry.z,
                    runout: judge::as_read(runout, &folder.gauge.indicator).scaled(lever),
                }),
                Err(error) => {
                    warnings.push(format!(
                        "{}: {}; the runout is not taken from it",
                        each.trace.name,
                        error.message()
                    ));
                    None
                }
            }
        })
        .collect()
}

/// The runout of a reference trace, with what the indicator's play and drift leave open of it.
///
/// Over whole turns a drift is a ramp that begins anew with each of them, so that little of it turns
/// with the tool.
fn known_runout(merged: &Merged, path_radius: Option<Length>, gauge: &GaugeCard) -> Result<Runout> {
    let play = gauge.indicator.play();
    let resolution = gauge.indicator.resolution;
    let without = |play| shape::round_without_play(merged, play);
    let usual = without(play);
    let mut runout = shape::runout(&usual, path_radius, resolution)?;
    let mut others = Vec::new();
    if play > Length::ZERO {
        others.push(without(play + play / 3f64.sqrt()));
    }
    others.extend(judge::drift(gauge).map(|drift| usual.without_drift(drift)));
    for other in others {
        runout = runout.less_known_by(&shape::runout(&other, path_radius, resolution)?);
    }
    Ok(runout)
}

fn judge_all<'a, 'm>(
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
fn unknown(folder: &Folder, name: &str) -> Option<Error> {
    let mut features = folder.tool.features.iter();
    (!features.any(|feature| feature.name == name)).then(|| {
        Error::new(
            Code::CardValue,
            format!(
                "read a trace of feature `{name}`, expected {}",
                named(folder)
            ),
        )
        .in_file(folder.dir.join("inspection.toml").display().to_string())
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

/// What is known of the gauge and of the clamping at a place of the tool, and what of it was taken
/// for granted.
fn bench(
    folder: &Folder,
    feature: &Feature,
    z: Option<Length>,
    references: &[Reference],
) -> (Bench, Vec<String>) {
    let known: Vec<(Option<Length>, Runout)> = references
        .iter()
        .map(|reference| (reference.z, reference.runout.clone()))
        .collect();
    let axis = axis_from_references(&known, &folder.gauge.setup, z)
        .or(folder.gauge.setup.runout.map(Axis::Stated))
        .unwrap_or(Axis::Unknown);
    let mut assumptions = match &axis {
        Axis::Measured { assumptions, .. } => assumptions.clone(),
        Axis::Stated(bound) => vec![format!(
            "the runout is taken as at most {:.1} µm, as the gauge card states",
            bound.um()
        )],
        Axis::Unknown => Vec::new(),
    };
    let bench = Bench {
        gauge: folder.gauge.clone(),
        axis,
        lobes: widest_lobes(references),
    };
    assumptions.extend(still(references, &folder.gauge));
    if feature.surface == Surface::Axial {
        assumptions.extend(bench.stated_swash());
    }
    (bench, assumptions)
}

/// What a reference that hardly moves cannot show: whether it runs true, or the plunger stood still.
fn still(references: &[Reference], gauge: &GaugeCard) -> Option<String> {
    /// Swings over less than so many steps of the indicator show no round that goes up and down.
    const STEPS: f64 = 4.0;
    let swing = |reference: &Reference| reference.runout.axis.size() * 2.0;
    let least = references.iter().map(swing).reduce(Length::min)?;
    (least < gauge.indicator.resolution * STEPS).then(|| {
        format!(
            "a reference moves by no more than {:.1} µm: that it runs true, and the plunger was free and touched it, is taken for granted; with the indicator set a little deeper the trace would read as much more",
            least.um()
        )
    })
}

/// The widest waves of all references.
fn widest_lobes(references: &[Reference]) -> Lobes {
    let lobes = references.iter().map(|reference| reference.runout.lobes);
    let widest = lobes.max_by(|a, b| a.swing().total_cmp(&b.swing()));
    widest.unwrap_or_default()
}

/// What takes more than one turning trace of a feature, or another kind of trace.
fn beyond<'a>(
    folder: &'a Folder,
    judged: &[JudgedTrace<'a, '_>],
    merged: &[MergedTrace],
    slides: &[Slid],
    references: &[Reference],
    effort: Effort,
) -> Result<Vec<Beyond<'a>>> {
    let errors = slides
        .iter()
        .filter_map(|slid| unknown(folder, slid.feature));
    if let Some(error) = Error::all(errors) {
        return Err(error);
    }
    let features = folder.tool.features.iter();
    Ok(features
        .flat_map(|feature| {
            let faces = faces(folder, feature, slides, references, effort);
            taper(folder, feature, judged, merged, effort)
                .into_iter()
                .chain(faces)
        })
        .collect())
}

/// The angle of a face from every trace of it over table travel.
fn faces<'a>(
    folder: &Folder,
    feature: &'a Feature,
    slides: &[Slid],
    references: &[Reference],
    effort: Effort,
) -> Option<Beyond<'a>> {
    let of_feature = slides.iter().filter(|slid| slid.feature == feature.name);
    let mut assumptions = Vec::new();
    let mut doubts = Vec::new();
    let mut figures: Vec<(Option<Length>, Figure)> = of_feature
        .map(|slid| {
            let (bench, taken) = bench(folder, feature, slid.entry.z, references);
            assumptions.extend(taken);
            let mut figure = judge::face_angle(&slid.rows, feature, &bench, effort);
            doubts.extend(lean_in_doubt(std::slice::from_mut(&mut figure), &bench));
            (slid.entry.z, figure)
        })
        .collect();
    if figures.is_empty() && feature.asks_for_travel() {
        figures.push((None, judge::no_face_trace()));
    } else if figures.is_empty() {
        return None;
    } else {
        assumptions.extend(judge::face_assumptions());
    }
    Some(Beyond {
        feature,
        figures,
        doubts,
        assumptions,
    })
}

/// What an unproven lean leaves in doubt, taken from the figures.
fn lean_in_doubt(figures: &mut [Figure], bench: &Bench) -> Option<Doubt> {
    let doubt = judge::unproven_lean(figures, bench)?;
    doubt.apply(figures);
    Some(doubt)
}

/// The back taper of a feature; nothing where it was neither asked for nor traced for.
fn taper<'a>(
    folder: &Folder,
    feature: &'a Feature,
    judged: &[JudgedTrace<'a, '_>],
    merged: &[MergedTrace],
    effort: Effort,
) -> Option<Beyond<'a>> {
    let planes: Vec<Plane> = judged
        .iter()
        .filter(|each| each.judged.feature.name == feature.name)
        .filter_map(|each| {
            let (trace, bench) = each.from.as_ref()?;
            Some(Plane {
                z: trace.entry.z?,
                began: began(merged, trace),
                zero: zero_of(folder, trace.entry),
                merged: &trace.merged,
                judgement: each.judged.judgement.as_ref()?,
                bench,
            })
        })
        .collect();
    let asked = feature.limits.get(Name::BackTaper).is_some();
    let radial = feature.surface == Surface::Radial;
    if !asked && (planes.len() < 2 || !radial) {
        return None;
    }
    let mut figures = judge::back_taper(feature, &planes, effort);
    let bench = planes.first().map(|plane| plane.bench);
    let doubts = bench.and_then(|bench| lean_in_doubt(&mut figures, bench));
    for doubt in planes.iter().flat_map(|plane| &plane.judgement.doubts) {
        doubt.apply_to_taper(&mut figures);
    }
    let valued = figures.iter().any(|figure| figure.value.is_some());
    Some(Beyond {
        feature,
        figures: figures.into_iter().map(|figure| (None, figure)).collect(),
        doubts: doubts.into_iter().collect(),
        assumptions: if valued {
            let studied = folder.gauge.studies.rest.is_some();
            let paused = studied.then(|| {
                format!(
                    "for `back-taper`, {:.0} minutes are taken to pass between the end of one trace and the start of the next, in which the indicator may drift",
                    BETWEEN_TRACES.s() / 60.0
                )
            });
            judge::taper_assumptions()
                .into_iter()
                .chain(paused)
                .collect()
        } else {
            Vec::new()
        },
    })
}

/// When a trace began, since the first one did. A trace has no date of its own, so the time to carry
/// the probe from one to the next is a usual one.
fn began(merged: &[MergedTrace], trace: &MergedTrace) -> Time {
    let lasted = |each: &MergedTrace| {
        let mut times = each.trace.samples.iter().map(|sample| sample.time);
        match (times.clone().next(), times.next_back()) {
            (Some(first), Some(last)) => last - first,
            _ => Time::ZERO,
        }
    };
    let before = merged
        .iter()
        .take_while(|each| !std::ptr::eq(each.entry, trace.entry));
    before.map(|each| lasted(each) + BETWEEN_TRACES).sum()
}

/// Which setting of the indicator's zero a trace was taken with, counted from 0.
pub(super) fn zero_of(folder: &Folder, entry: &TraceEntry) -> usize {
    let traces = &folder.inspection.traces;
    let at = traces.iter().position(|each| each == entry);
    let up_to = traces.iter().take(at.map_or(0, |at| at + 1));
    up_to.filter(|each| each.rezeroed).count()
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
