//! From what the stages found to the record.

use super::characteristic::{bounds, characteristic, flute_number, runout};
use super::finite::{drawn_from_numbers, drawn_places};
use super::judged_from::JudgedFrom;
use super::reference::Reference;
use super::schema::*;
use crate::card::{
    Feature, GaugeCard, Identity, InspectionCard, Limits, Name, SharpenedOn, StylusShape, ToolCard,
};
use crate::error::Result;
use crate::judge::{
    self, FeatureJudgement, Figure, Leaves, Outcome, ToothJudgement, drift_assumption,
};
use crate::quantity::{Angle, Length, stated, told};
use crate::setting::Measured;
use crate::shape::{self, Tooth};
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Everything that a record is made of.
pub struct Judged<'a> {
    /// The tool card.
    pub tool: &'a ToolCard,
    /// The gauge card.
    pub gauge: &'a GaugeCard,
    /// What was done.
    pub inspection: &'a InspectionCard,
    /// Whether the readings come from a simulated gauge.
    pub simulated: bool,
    /// Every feature of the tool card, once for each of its traces.
    pub features: Vec<JudgedFeature<'a>>,
    /// What belongs to a feature beyond its single turning traces.
    pub beyond: Vec<Beyond<'a>>,
    /// The reference traces.
    pub references: Vec<Reference>,
    /// What was done to each trace.
    pub history: Vec<String>,
    /// What was seen that a person should know.
    pub warnings: Vec<String>,
    /// Where the random numbers of its trials started.
    pub seed: u64,
    /// How many trials a person asked for.
    pub trials: Option<usize>,
    /// The cards and traces; nothing where a trace still grows.
    pub from: Option<JudgedFrom>,
}

/// A feature with what one of its traces told.
pub struct JudgedFeature<'a> {
    /// As the card has it.
    pub feature: &'a Feature,
    /// Where along the tool the trace was taken.
    pub z: Option<Length>,
    /// `None` when no trace was taken.
    pub judgement: Option<FeatureJudgement>,
    /// What was taken for granted, a sentence each.
    pub assumptions: Vec<String>,
}

/// What several traces of a feature, or one over table travel, told.
pub struct Beyond<'a> {
    /// As the card has it.
    pub feature: &'a Feature,
    /// Each with the place of its trace along the tool, where it has one.
    pub figures: Vec<(Option<Length>, Figure)>,
    /// What was seen about them that the cards do not say.
    pub doubts: Vec<judge::Doubt>,
    /// What was taken for granted, a sentence each.
    pub assumptions: Vec<String>,
}

/// Lands and sections are thinned to this many places for drawing.
const DRAWN_PLACES: usize = 240;

/// Makes the record.
///
/// # Errors
/// `card-value` when the confidence on the tool card is no probability.
pub fn assemble(judged: &Judged) -> Result<Record> {
    let confidence = judged.tool.confidence;
    let mut characteristics = Vec::new();
    for each in &judged.features {
        characteristics.extend(of_feature(each, judged.tool.flutes, confidence)?);
    }
    for each in &judged.beyond {
        for (z, figure) in &each.figures {
            let of = Measured {
                feature: each.feature,
                flutes: judged.tool.flutes,
                judgement: None,
            };
            characteristics.push(characteristic(figure, of, *z, confidence)?);
        }
    }
    characteristics.extend(judged.references.iter().map(runout));
    let outcomes = characteristics
        .iter()
        .filter_map(|characteristic| characteristic.verdict)
        .map(Outcome::from);
    let verdict = Outcome::of_all(outcomes).map(Verdict::from);
    let mut warnings = judged.warnings.clone();
    for each in &judged.features {
        warnings.extend(each.judgement.iter().flat_map(|j| j.warnings.clone()));
    }
    warnings.extend(judged.tool.features.iter().filter_map(ground_away));
    warnings.extend(overdue(judged));
    let mut record = Record {
        schema: SCHEMA.to_owned(),
        tool: judged.tool.id.clone(),
        verdict,
        characteristics,
        flutes: judged
            .features
            .iter()
            .flat_map(flutes)
            .filter_map(drawn_from_numbers)
            .collect(),
        judged_from: judged.from.as_ref().map(|from| from.digest().to_string()),
        warnings,
        doubts: doubts(judged),
        about: about(judged),
        noted: None,
        features: judged.features.iter().map(facts).collect(),
        lengths: Vec::new(),
        settings: Vec::new(),
    };
    record.read_lengths();
    Ok(record)
}

fn doubts(judged: &Judged) -> Vec<Doubt> {
    let of_traces = judged.features.iter().flat_map(|each| {
        let doubts = each.judgement.iter().flat_map(|judged| &judged.doubts);
        doubts.map(|doubt| (each.feature, doubt))
    });
    let beyond = judged.beyond.iter().flat_map(|each| {
        let doubts = each.doubts.iter();
        doubts.map(|doubt| (each.feature, doubt))
    });
    of_traces
        .chain(beyond)
        .map(|(feature, doubt)| told(feature, doubt))
        .collect()
}

fn told(feature: &Feature, doubt: &judge::Doubt) -> Doubt {
    let touches = doubt.touches.iter();
    Doubt {
        kind: doubt.kind.as_str().to_owned(),
        feature: feature.name.clone(),
        flute: doubt.tooth.map(flute_number),
        touches: touches.map(|name| name.as_str().to_owned()).collect(),
        fail_stands: doubt.leaves == Leaves::NoPass,
        seen: doubt.seen.clone(),
        cure: doubt.cure.clone(),
    }
}

/// Said of a feature that is smaller than regrinding may make it.
fn ground_away(feature: &Feature) -> Option<String> {
    let least = feature.least_diameter?;
    (feature.diameter < least).then(|| {
        format!(
            "{}: the card states a diameter of {}, below the smallest allowed of {}: whatever the verdict on its lands, the tool has been ground too far, or one of the two is a slip of the pen",
            feature.name,
            told::exact_mm(feature.diameter),
            told::exact_mm(least)
        )
    })
}

impl From<Outcome> for Verdict {
    fn from(outcome: Outcome) -> Self {
        match outcome {
            Outcome::Pass => Verdict::Pass,
            Outcome::Fail => Verdict::Fail,
            Outcome::Undecided => Verdict::Undecided,
        }
    }
}

impl From<Verdict> for Outcome {
    fn from(verdict: Verdict) -> Self {
        match verdict {
            Verdict::Pass => Outcome::Pass,
            Verdict::Fail => Outcome::Fail,
            Verdict::Undecided => Outcome::Undecided,
        }
    }
}

/// The characteristics of one trace of a feature, in the order in which people read them.
fn of_feature(each: &JudgedFeature, flutes: u32, confidence: f64) -> Result<Vec<Characteristic>> {
    let feature = each.feature;
    let mut figures: Vec<Figure> = match &each.judgement {
        Some(judgement) => judgement.figures.clone(),
        None => Vec::new(),
    };
    for (name, _) in feature.limits.iter() {
        // Those come from other than single turning traces.
        let beyond = matches!(name, Name::BackTaper | Name::FaceAngle);
        if !beyond && !figures.iter().any(|figure| figure.name == name) {
            figures.push(not_measured(name, each.judgement.is_some()));
        }
    }
    figures.sort_by_key(|figure| (figure.tooth.is_none(), figure.tooth, figure.name));
    let of = Measured {
        feature,
        flutes,
        judgement: each.judgement.as_ref(),
    };
    figures
        .iter()
        .map(|figure| characteristic(figure, of, each.z, confidence))
        .collect()
}

/// A limit on the card that nothing was measured for leaves the tool undecided.
fn not_measured(name: Name, traced: bool) -> Figure {
    let why = if traced {
        format!(
            "`{}` has a limit on the card, but these traces do not give it",
            name.as_str()
        )
    } else {
        "no trace of this feature over the turning tool was taken".to_owned()
    };
    Figure::missing(name, None, why)
}

fn flutes(each: &JudgedFeature) -> Vec<Flute> {
    let Some(judgement) = &each.judgement else {
        return Vec::new();
    };
    judgement
        .teeth
        .iter()
        .enumerate()
        .filter_map(|(index, judged)| {
            let tooth = judged.tooth.as_ref()?;
            let height = judged.edge_height.unwrap_or(tooth.edge.height);
            let highest = judgement.highest_edge.unwrap_or(height);
            let edge = match each.feature.surface {
                crate::card::Surface::Radial => each.feature.diameter / 2.0 + (height - highest),
                crate::card::Surface::Axial => height - highest,
            };
            Some(Flute {
                feature: each.feature.name.clone(),
                flute: flute_number(index),
                z_mm: each.z.map(Length::mm),
                edge_deg: tooth.edge.angle.value.deg(),
                land_deg: judged.judged_to.unwrap_or(tooth.end).deg(),
                edge_mm: edge.mm(),
                curve: curve(judged),
                land: land(tooth, tooth.edge.height - height),
                fitted: fitted(judged),
                holes_deg: tooth
                    .holes
                    .iter()
                    .map(|(from, to)| [from.deg(), to.deg()])
                    .collect(),
            })
        })
        .collect()
}

fn curve(judged: &ToothJudgement) -> Option<Curve> {
    let fit = &judged.choice.as_ref()?.best;
    let parameters: BTreeMap<String, f64> = fit
        .curve
        .parameters()
        .into_iter()
        .map(|(name, value)| (name.to_owned(), value))
        .collect();
    Some(Curve {
        family: fit.curve.family().as_str().to_owned(),
        parameters,
        rms_mm: fit.rms.mm(),
        trusted: fit.trust.is_full(),
        stop: fit.stop.as_str().to_owned(),
        doubts: fit.trust.doubts.iter().map(ToString::to_string).collect(),
    })
}

/// The land as measured, thinned by averaging neighbours; `lower` is what the edge lies lower than
/// its drops were counted from.
fn land(tooth: &Tooth, lower: Length) -> Vec<LandSample> {
    let averaged = shape::averaged(&tooth.land, DRAWN_PLACES);
    averaged
        .into_iter()
        .chain(tooth.heel)
        .map(|place| LandSample {
            arc_deg: drawn_deg(place.arc),
            drop_mm: drawn_mm(place.drop - lower),
            u_mm: drawn_mm(place.scatter),
        })
        .collect()
}

fn fitted(judged: &ToothJudgement) -> Vec<CurveSample> {
    let (Some(choice), Some(end)) = (&judged.choice, judged.judged_to) else {
        return Vec::new();
    };
    let steps = 96;
    (0..=steps)
        .map(|step| {
            let arc = end * (f64::from(step) / f64::from(steps));
            CurveSample {
                arc_deg: drawn_deg(arc),
                drop_mm: drawn_mm(choice.best.curve.drop(arc)),
            }
        })
        .collect()
}

/// A length of a drawing to a thousandth of a nanometre. Nothing is judged by it, and the digits
/// behind would be half of what a record takes in an archive.
fn drawn_mm(length: Length) -> f64 {
    // A nought below zero would be another number, and mean the same.
    (length.mm() * 1e9).round() / 1e9 + 0.0
}

/// An angle of a drawing, as closely: on a circle of 100 mm this is a tenth of a nanometre.
fn drawn_deg(angle: Angle) -> f64 {
    (angle.deg() * 1e7).round() / 1e7 + 0.0
}

fn would_show(judgement: &FeatureJudgement) -> Option<WouldShow> {
    let visible = judgement.visible?;
    let told = WouldShow {
        apart_mm: visible.apart.mm(),
        burr_mm: visible.burr.mm(),
        burr_height_mm: visible.burr_height.mm(),
        any_burr_height_mm: visible.any_burr_height.map(Length::mm),
        land_mm: visible.land.mm(),
    };
    let any = told.any_burr_height_mm;
    let numbers = [
        told.apart_mm,
        told.burr_mm,
        told.burr_height_mm,
        told.land_mm,
    ];
    let all_known = numbers.iter().chain(&any).all(|number| number.is_finite());
    all_known.then_some(told)
}

fn facts(each: &JudgedFeature) -> FeatureFacts {
    let feature = each.feature;
    FeatureFacts {
        feature: feature.name.clone(),
        surface: feature.surface.as_str().to_owned(),
        diameter_mm: feature.diameter.mm(),
        least_diameter_mm: feature.least_diameter.map(Length::mm),
        sharpened_on: (feature.sharpened_on != SharpenedOn::Land)
            .then(|| feature.sharpened_on.as_str().to_owned()),
        least_land_deg: feature.least_land.map(|land| stated(land.deg())),
        check_distance_mm: feature.check_distance.mm(),
        check_deg: (feature.check_distance / (feature.diameter / 2.0)).to_degrees(),
        feed_mm_per_rev: feature.feed.map(Length::mm),
        limits: limits(&feature.limits),
        would_show: each.judgement.as_ref().and_then(would_show),
        section: each.judgement.as_ref().map(section).unwrap_or_default(),
    }
}

fn limits(limits: &Limits) -> BTreeMap<String, Bounds> {
    limits
        .iter()
        .map(|(name, limit)| (name.as_str().to_owned(), bounds(limit)))
        .collect()
}

/// Every tooth's outline, heights counted from the highest edge.
fn section(judgement: &FeatureJudgement) -> Vec<Vec<SectionSample>> {
    let highest = judgement.highest_edge.unwrap_or(Length::ZERO);
    let places: usize = judgement
        .teeth
        .iter()
        .filter_map(|judged| Some(judged.tooth.as_ref()?.outline.len()))
        .sum();
    let step = (places / (4 * DRAWN_PLACES)).max(1);
    judgement
        .teeth
        .iter()
        .filter_map(|judged| judged.tooth.as_ref())
        .map(|tooth| {
            let outline = &tooth.outline;
            let edge = tooth.edge.height;
            outline
                .iter()
                .enumerate()
                // The edge itself is never thinned away.
                .filter(|(i, place)| i % step == 0 || place.height == edge)
                .map(|(_, place)| SectionSample {
                    angle_deg: drawn_deg(place.angle),
                    height_mm: drawn_mm(place.height - highest),
                })
                .collect()
        })
        .map(drawn_places)
        .collect()
}

fn about(judged: &Judged) -> About {
    let (tool, inspection) = (judged.tool, judged.inspection);
    let mut assumptions = standing_assumptions(judged.gauge);
    let own = judged.features.iter().flat_map(|each| &each.assumptions);
    let beyond = judged.beyond.iter().flat_map(|each| &each.assumptions);
    for assumption in own.chain(beyond) {
        if !assumptions.contains(assumption) {
            assumptions.push(assumption.clone());
        }
    }
    About {
        program: format!("heelclear {}", env!("CARGO_PKG_VERSION")),
        tool_name: tool.name.clone(),
        hand: tool.hand.as_str().to_owned(),
        flutes: tool.flutes,
        taken: inspection.taken.to_string(),
        operator: inspection.operator.clone(),
        customer: inspection.customer.clone(),
        temperature_c: inspection.temperature_c,
        stage: inspection.stage.as_str().to_owned(),
        interrupted: inspection.interrupted,
        simulated: judged.simulated,
        confidence: tool.confidence,
        seed: Some(judged.seed),
        trials: judged.trials.map(|trials| trials as u64),
        gauge: gauge_lines(judged.gauge),
        assumptions,
        history: judged.history.clone(),
    }
}

/// An indicator whose calibration was due before the traces were taken.
fn overdue(judged: &Judged) -> Option<String> {
    let due = judged.gauge.identity.due?;
    let taken = judged.inspection.taken.to_string();
    let taken: Date = taken.get(..10)?.parse().ok()?;
    (taken > due).then(|| {
        format!(
            "the indicator was to be calibrated again by {due}, and the traces were taken on {taken}: whether it still keeps its limit of error is not known"
        )
    })
}

/// What every verdict takes for granted.
fn standing_assumptions(gauge: &GaugeCard) -> Vec<String> {
    vec![
        "contributions to an uncertainty are taken as independent and figures as linear; trials check both".to_owned(),
        "the indicator's error is taken as smooth along its travel: what edge and land share cancels".to_owned(),
        drift_assumption(&gauge.studies),
        scale_assumption(gauge),
    ]
}

/// What is taken for granted of the indicator's scale.
fn scale_assumption(gauge: &GaugeCard) -> String {
    match gauge.studies.step {
        Some(study) => format!(
            "a millimetre is taken to read as on the known steps of {}, and the indicator to show the unit and the lever to stand as then",
            study.taken
        ),
        None => "the indicator's scale is taken as its card says: no known step has proven it; `heelclear study step` does".to_owned(),
    }
}

pub(super) fn gauge_lines(gauge: &GaugeCard) -> Vec<String> {
    let indicator = &gauge.indicator;
    let stylus = match gauge.stylus.shape {
        StylusShape::Ball => format!(
            "ball stylus, radius {}",
            told::exact_mm(gauge.stylus.radius)
        ),
        StylusShape::Flat => format!(
            "flat stylus, half-width {}",
            told::exact_mm(gauge.stylus.radius)
        ),
        StylusShape::Point => "point stylus".to_owned(),
    };
    let step = Angle::TURN / f64::from(gauge.encoder.counts_per_turn.max(1));
    let mut lines = vec![
        format!(
            "indicator {}, limit of error {}, hysteresis {}",
            told::exact_um(indicator.resolution),
            told::exact_um(indicator.max_error),
            told::exact_um(indicator.hysteresis)
        ),
        format!(
            "{stylus}; encoder {} counts a turn ({:.3}°)",
            gauge.encoder.counts_per_turn,
            step.deg()
        ),
    ];
    lines.extend(named(&gauge.identity));
    lines
}

/// `indicator 1234, certificate A-17, due 2027-03-01`.
fn named(identity: &Identity) -> Option<String> {
    let serial = identity
        .serial
        .as_ref()
        .map(|it| format!("indicator no. {it}"));
    let certificate = identity.certificate.as_ref();
    let certificate = certificate.map(|it| format!("certificate {it}"));
    let due = identity.due.map(|it| format!("calibration due {it}"));
    let parts: Vec<String> = [serial, certificate, due].into_iter().flatten().collect();
    (!parts.is_empty()).then(|| parts.join(", "))
}
