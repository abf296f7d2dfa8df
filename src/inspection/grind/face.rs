//! A grind on the face of a form-relieved tool that was measured: how far its faces go back, and what
//! edges its lands then have.

use super::{faces, setup};
use crate::card::{Name, SharpenedOn, Surface};
use crate::error::Result;
use crate::fit::Curve;
use crate::inspection::folder::Folder;
use crate::inspection::verify::{self, Seen};
use crate::judge::{COVERAGE_95, Effort, ToothJudgement};
use crate::quantity::{Angle, Estimate, Length};
use crate::setting::{FacedTooth, MeasuredFace, measured_face};

/// What the faces of a worn tool need, or why nothing can be said.
#[derive(Clone, Debug)]
pub struct FacePlan {
    /// Why nothing is set; empty where something is.
    pub why: Vec<String>,
    /// Each feature that is ground on the face.
    pub features: Vec<FeatureFace>,
}

/// The grind on the face of one feature.
#[derive(Clone, Debug)]
pub struct FeatureFace {
    /// Its name.
    pub feature: String,
    /// How far the faces go back.
    pub face: MeasuredFace,
    /// The same along the arc at the edge.
    pub at_edge: Length,
    /// Diameter of the highest new edge; nothing along the axis.
    pub diameter: Option<Predicted>,
    /// Relief at each new edge, in degrees.
    pub relief: Vec<Predicted>,
    /// What is left of the shortest land.
    pub land_left: Angle,
    /// The shortest that it may get, where the card says.
    pub least_land: Option<Angle>,
    /// How many such grinds are left after it.
    pub grinds_left: u32,
}

/// A figure that the grind will leave.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Predicted {
    /// mm, or degrees.
    pub value: f64,
    /// Its standard uncertainty.
    pub standard_uncertainty: f64,
}

impl Predicted {
    /// The 95 % coverage interval.
    pub fn interval(&self) -> [f64; 2] {
        let half = COVERAGE_95 * self.standard_uncertainty;
        [self.value - half, self.value + half]
    }
}

/// Grinds that are counted ahead at most.
const FARTHEST: u32 = 1000;

/// How far the faces of each feature that its card says is ground there go back, in whole steps of the
/// index where one is named.
///
/// # Errors
/// When cards or traces cannot be read.
pub fn face(folder: &Folder, step: Option<Angle>) -> Result<FacePlan> {
    let before = verify::before_grind(folder, Effort::default())?;
    let mut plan = FacePlan {
        why: setup::in_words(&faces::unfit(folder, &before)),
        features: Vec::new(),
    };
    let on_face = |seen: &&Seen| seen.feature.sharpened_on == SharpenedOn::Face;
    let all: Vec<&Seen> = before.features.iter().filter(on_face).collect();
    if all.is_empty() {
        plan.why.push(
            "no feature that was traced is ground on the face: write `sharpened_on = \"face\"` at it on the tool's card"
                .to_owned(),
        );
    }
    if !plan.why.is_empty() {
        return Ok(plan);
    }
    for at in (0..all.len()).filter(|at| faces::is_first(&all, *at)) {
        let seen = all[at];
        match of_feature(folder, seen, step) {
            Ok(found) => plan.features.push(found),
            Err(why) => plan.why.push(format!("`{}`: {why}", seen.feature.name)),
        }
    }
    Ok(plan)
}

/// A land as it was measured, to find new edges on.
struct Land<'a> {
    curve: &'a Curve,
    /// Height of the edge before, from the axis or from the highest one.
    height: Length,
    /// How far the curve begins under it.
    offset: Length,
    end: Angle,
    /// How far it falls in all.
    fall: Length,
    radius: Length,
}

impl Land<'_> {
    fn height_at(&self, behind: Angle) -> Length {
        self.height - self.offset - self.curve.drop(behind)
    }

    /// Relief where an edge would stand.
    fn relief_at(&self, behind: Angle) -> Angle {
        let round = match self.curve.surface() {
            Surface::Radial => self.height_at(behind),
            Surface::Axial => self.radius,
        };
        Angle::from_rad((self.curve.slope(behind) / round).atan())
    }
}

fn of_feature(
    folder: &Folder,
    seen: &Seen,
    step: Option<Angle>,
) -> std::result::Result<FeatureFace, String> {
    let teeth: Vec<FacedTooth> = (0..seen.judgement.teeth.len())
        .map(|at| faced(folder, seen, at))
        .collect::<std::result::Result<_, _>>()?;
    let lands: Vec<Land> = seen
        .judgement
        .teeth
        .iter()
        .enumerate()
        .map(|(at, tooth)| land(seen, tooth).ok_or_else(|| no_curve(at)))
        .collect::<std::result::Result<_, _>>()?;
    let face = measured_face(&teeth, step.unwrap_or(Angle::ZERO))
        .ok_or_else(|| "no teeth were found".to_owned())?;
    if let Some((at, _)) = lands
        .iter()
        .enumerate()
        .find(|(at, land)| face.off[*at] >= land.end)
    {
        return Err(format!(
            "the wear of all edges takes {:.2}°, more than there is of the land of flute {}",
            face.sure.deg(),
            at + 1
        ));
    }
    let radius = seen.feature.diameter / 2.0;
    let unsure = Unsure::of(folder, seen, &face, step);
    let radial = seen.feature.surface == Surface::Radial;
    let diameter = radial
        .then(|| highest(&lands, &face.off, &unsure))
        .flatten();
    let relief = lands.iter().zip(&face.off).map(|(land, off)| Predicted {
        value: land.relief_at(*off).deg(),
        standard_uncertainty: unsure.relief(land, *off).deg(),
    });
    let ends = lands
        .iter()
        .zip(&face.off)
        .map(|(land, off)| land.end - *off);
    let land_left = ends.reduce(Angle::min).unwrap_or(Angle::ZERO);
    Ok(FeatureFace {
        feature: seen.feature.name.clone(),
        at_edge: radius * face.sure.rad(),
        diameter,
        relief: relief.collect(),
        land_left,
        least_land: seen.feature.least_land,
        grinds_left: left(seen, &lands, &face),
        face,
    })
}

fn no_curve(at: usize) -> String {
    format!(
        "no curve describes the land of flute {} well enough to say what its next edge will be",
        at + 1
    )
}

/// The land behind the wear of an edge: its curve goes on to where the wear began.
fn land<'a>(seen: &Seen, judged: &'a ToothJudgement) -> Option<Land<'a>> {
    let tooth = judged.tooth.as_ref()?;
    let fit = &judged.choice.as_ref()?.best;
    if !fit.trust.is_full() {
        return None;
    }
    let edge = judged.edge_height.unwrap_or(tooth.edge.height);
    let highest = seen.judgement.highest_edge.unwrap_or(edge);
    let radius = seen.feature.diameter / 2.0;
    let circle = match seen.feature.surface {
        Surface::Radial => radius,
        Surface::Axial => Length::ZERO,
    };
    let end = tooth.end;
    Some(Land {
        curve: &fit.curve,
        height: circle + (edge - highest),
        offset: edge - (tooth.edge.height - fit.edge_offset.value),
        end,
        fall: fit.curve.drop(end),
        radius,
    })
}

/// How far an edge stands behind its place, and how wide it is worn.
fn faced(folder: &Folder, seen: &Seen, at: usize) -> std::result::Result<FacedTooth, String> {
    let radius = seen.feature.diameter / 2.0;
    let judged = seen
        .judgement
        .teeth
        .get(at)
        .and_then(|it| it.tooth.as_ref());
    let edge = judged.ok_or_else(|| no_curve(at))?.edge.angle;
    // A place across the axis moves an edge along its arc.
    let axis = Angle::from_rad(seen.axis.unwrap_or(Length::ZERO) / radius);
    let u = edge.standard_uncertainty.rad().hypot(axis.rad());
    let figure = |name: Name| {
        let mut all = seen.judgement.figures.iter();
        let of = all.find(|it| it.name == name && it.tooth == Some(at))?;
        Some((of.value?, of.budget.as_ref()?.combined()))
    };
    let (wear, wear_u) = figure(Name::WearLand).ok_or_else(|| {
        format!(
            "nothing tells how wide the edge of flute {} is worn",
            at + 1
        )
    })?;
    let (round, round_u) = figure(Name::EdgeRadius)
        .filter(|(round, _)| *round > wear)
        .unwrap_or((wear, wear_u));
    let along = |mm: f64| Angle::from_rad(Length::from_mm(mm) / radius);
    Ok(FacedTooth {
        behind_index: Estimate::new(
            behind_index(folder, seen, at, edge.value),
            Angle::from_rad(u),
        ),
        worn: Estimate::new(along(round), along(round_u.max(wear_u))),
    })
}

/// How far an edge stands behind the place that indexing from the first one gives it.
fn behind_index(folder: &Folder, seen: &Seen, at: usize, edge: Angle) -> Angle {
    let first = seen
        .judgement
        .teeth
        .first()
        .and_then(|it| it.tooth.as_ref());
    let first = first.map_or(Angle::ZERO, |it| it.edge.angle.value);
    let pitch = Angle::TURN / f64::from(folder.tool.flutes.max(1));
    // A spacing that is not meant to be even may begin at any tooth: each tooth is set by itself.
    match folder.tool.spacing.is_empty() {
        true => (edge - first - pitch * at as f64).shortest(),
        false => Angle::ZERO,
    }
}

/// What is not known of what the grind will leave.
struct Unsure {
    /// Of the place of a new edge on its land.
    place: Angle,
    /// Limit of the indicator's error.
    indicator: Length,
    axis: Length,
    /// Of the diameter on the card.
    diameter: Length,
    radius: Length,
}

impl Unsure {
    fn of(folder: &Folder, seen: &Seen, face: &MeasuredFace, step: Option<Angle>) -> Self {
        /// A touch is seen where so much comes off the face (common practice, no source).
        const TOUCH: Length = Length::from_mm(0.003);
        let radius = seen.feature.diameter / 2.0;
        let edges = seen.judgement.teeth.iter();
        let edges = edges.filter_map(|it| Some(it.tooth.as_ref()?.edge.angle.standard_uncertainty));
        let edge = edges.reduce(Angle::max).unwrap_or(Angle::ZERO);
        // An index is set within half a step, and the touch is found within one.
        let step = step.unwrap_or(face.standard_uncertainty) / 3f64.sqrt();
        let place = edge.rad().hypot(step.rad()).hypot(TOUCH / radius);
        Self {
            place: Angle::from_rad(place),
            indicator: faces::indicator(folder, &[seen]),
            axis: seen.axis.unwrap_or(Length::ZERO),
            diameter: setup::card_diameter(seen.feature.diameter),
            radius,
        }
    }

    /// Of the height of a new edge, but for the diameter on the card.
    fn height(&self, land: &Land, off: Angle) -> Length {
        let place = land.curve.slope(off) * self.place.rad();
        // Within its limit an indicator errs by no more over the little that an edge comes down.
        let share = (land.curve.drop(off) / land.fall.max(Length::from_mm(1e-6))).clamp(0.0, 1.0);
        let read = self.indicator * (4.0 * share / 3f64.sqrt());
        let of = [place, read, self.axis].map(|it| it.mm().powi(2));
        Length::from_mm(of.iter().sum::<f64>().sqrt())
    }

    /// Of the relief: an indicator that errs along the fall of the land by a bow tilts it by four times
    /// its limit over the fall at either end, one that errs in proportion by once that.
    fn relief(&self, land: &Land, off: Angle) -> Angle {
        let relief = land.relief_at(off);
        let over = self.indicator / land.fall.max(Length::from_mm(1e-6)) / 3f64.sqrt();
        let read = relief.rad().tan() * over * 17f64.sqrt();
        let axis = self.axis / self.radius;
        let farther = land.relief_at(off + self.place) - relief;
        Angle::from_rad(read.hypot(axis).hypot(farther.rad()))
    }
}

/// The highest of the new edges, as a diameter.
fn highest(lands: &[Land], off: &[Angle], unsure: &Unsure) -> Option<Predicted> {
    let edges = lands.iter().zip(off);
    let edges = edges.map(|(land, off)| (land.height_at(*off), unsure.height(land, *off)));
    let (height, u) = edges.max_by(|one, other| one.0.total_cmp(&other.0))?;
    Some(Predicted {
        value: (height * 2.0).mm(),
        standard_uncertainty: unsure.diameter.mm().hypot((u * 2.0).mm()),
    })
}

/// Such grinds after this one until a land is as short, or the tool as small, as it may get.
fn left(seen: &Seen, lands: &[Land], face: &MeasuredFace) -> u32 {
    let feature = &seen.feature;
    let least_land = feature.least_land.unwrap_or(Angle::ZERO);
    let may = |grinds: u32| {
        let off = |at: usize| {
            face.off
                .get(at)
                .map(|off| *off + face.sure * f64::from(grinds))
        };
        let each = lands.iter().enumerate();
        let mut each = each.filter_map(|(at, land)| Some((land, off(at)?)));
        let long = each.clone().all(|(land, off)| land.end - off > least_land);
        let large = feature
            .least_diameter
            .is_none_or(|least| each.any(|(land, off)| land.height_at(off) * 2.0 >= least));
        long && large
    };
    if face.sure <= Angle::ZERO {
        return 0;
    }
    (1..=FARTHEST).take_while(|grinds| may(*grinds)).count() as u32
}
