//! A grind on the face of a form-relieved tool that was measured: how far its faces go back, and what
//! edges its lands then have.

use super::{faces, setup};
use crate::card::{Name, SharpenedOn, Surface};
use crate::error::Result;
use crate::inspection::folder::Folder;
use crate::inspection::verify::{self, Seen};
use crate::judge::{COVERAGE_95, Effort, ToothJudgement};
use crate::quantity::{Angle, Estimate, Length};
use crate::setting::{FacedTooth, MeasuredFace, measured_face, new_edge};

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
struct Land {
    /// Arcs and drops, by growing arc.
    places: Vec<(Angle, Length)>,
    /// What the drops are counted from: from the axis, or from the highest edge.
    height: Length,
    end: Angle,
    /// Circle on which arcs are told.
    radius: Length,
    surface: Surface,
}

impl Land {
    /// The edge that would stand there; nothing where too little was read.
    fn edge(&self, behind: Angle, indicator: Length) -> Option<Edge> {
        let found = new_edge(&self.places, behind, self.end, indicator)?;
        let height = self.height - found.drop.value;
        let round = match self.surface {
            Surface::Radial => height,
            Surface::Axial => self.radius,
        };
        Some(Edge {
            height,
            relief: Angle::from_rad((found.slope.value / round).atan()),
            relief_u: Angle::from_rad(found.slope.standard_uncertainty / round),
            slope: found.slope.value,
            drop: found.drop,
        })
    }
}

/// A new edge.
struct Edge {
    height: Length,
    relief: Angle,
    relief_u: Angle,
    slope: Length,
    drop: Estimate<Length>,
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
        .map(|(at, tooth)| land(seen, tooth).ok_or_else(|| not_read(at)))
        .collect::<std::result::Result<_, _>>()?;
    let face = measured_face(&teeth, step.unwrap_or(Angle::ZERO))
        .ok_or_else(|| "no teeth were found".to_owned())?;
    let mut ends = lands.iter().zip(&face.off).enumerate();
    if let Some((at, _)) = ends.find(|(_, (land, off))| **off >= land.end) {
        return Err(format!(
            "the wear of all edges takes {:.2}°, more than there is of the land of flute {}",
            face.sure.deg(),
            at + 1
        ));
    }
    let indicator = faces::indicator(folder, &[seen]);
    let edges = lands.iter().zip(&face.off).enumerate();
    let edges: Vec<Edge> = edges
        .map(|(at, (land, off))| land.edge(*off, indicator).ok_or_else(|| not_read(at)))
        .collect::<std::result::Result<_, _>>()?;
    let unsure = Unsure::of(folder, seen, &face, step);
    let radial = seen.feature.surface == Surface::Radial;
    let diameter = radial.then(|| highest(&edges, &unsure)).flatten();
    let relief = edges.iter().map(|edge| Predicted {
        value: edge.relief.deg(),
        standard_uncertainty: unsure.relief(edge).deg(),
    });
    let ends = lands.iter().zip(&face.off);
    let ends = ends.map(|(land, off)| land.end - *off);
    let land_left = ends.reduce(Angle::min).unwrap_or(Angle::ZERO);
    Ok(FeatureFace {
        feature: seen.feature.name.clone(),
        at_edge: seen.feature.diameter / 2.0 * face.sure.rad(),
        diameter,
        relief: relief.collect(),
        land_left,
        least_land: seen.feature.least_land,
        grinds_left: left(folder, seen, &lands, &face),
        face,
    })
}

fn not_read(at: usize) -> String {
    format!(
        "too few readings were taken on the land of flute {} to say what its next edge will be; turn slower",
        at + 1
    )
}

/// The land behind an edge as it was read.
fn land(seen: &Seen, judged: &ToothJudgement) -> Option<Land> {
    let tooth = judged.tooth.as_ref()?;
    let edge = judged.edge_height.unwrap_or(tooth.edge.height);
    let highest = seen.judgement.highest_edge.unwrap_or(edge);
    let circle = match seen.feature.surface {
        Surface::Radial => seen.feature.diameter / 2.0,
        Surface::Axial => Length::ZERO,
    };
    let places = tooth.land.iter().filter(|place| place.arc > Angle::ZERO);
    let places: Vec<(Angle, Length)> = places.map(|place| (place.arc, place.drop)).collect();
    Some(Land {
        height: circle + (tooth.edge.height - highest),
        end: tooth.end,
        places,
        radius: seen.feature.diameter / 2.0,
        surface: seen.feature.surface,
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
    let edge = judged.ok_or_else(|| not_read(at))?.edge.angle;
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
    fn height(&self, edge: &Edge) -> Length {
        let place = edge.slope * self.place.rad();
        // The edge before, from which the drop is counted, was read by the same indicator.
        let read = self.indicator / 3f64.sqrt();
        let of = [place, read, self.axis, edge.drop.standard_uncertainty];
        let of = of.map(|it| it.mm().powi(2));
        Length::from_mm(of.iter().sum::<f64>().sqrt())
    }

    /// Of the relief.
    fn relief(&self, edge: &Edge) -> Angle {
        let axis = self.axis / self.radius;
        Angle::from_rad(axis.hypot(edge.relief_u.rad()))
    }
}

/// The highest of the new edges, as a diameter.
fn highest(edges: &[Edge], unsure: &Unsure) -> Option<Predicted> {
    let of = edges.iter().map(|edge| (edge.height, unsure.height(edge)));
    let (height, u) = of.max_by(|one, other| one.0.total_cmp(&other.0))?;
    Some(Predicted {
        value: (height * 2.0).mm(),
        standard_uncertainty: unsure.diameter.mm().hypot((u * 2.0).mm()),
    })
}

/// Such grinds after this one until a land is as short, or the tool as small, as it may get.
fn left(folder: &Folder, seen: &Seen, lands: &[Land], face: &MeasuredFace) -> u32 {
    let feature = &seen.feature;
    let least_land = feature.least_land.unwrap_or(Angle::ZERO);
    let may = |grinds: u32| {
        let off = |at: usize| {
            face.off
                .get(at)
                .map(|off| *off + face.sure * f64::from(grinds))
        };
        let each = lands.iter().enumerate();
        let each = each.filter_map(|(at, land)| Some((land, off(at)?)));
        let long = each.clone().all(|(land, off)| land.end - off > least_land);
        let large = feature.least_diameter.is_none_or(|least| {
            let limit = faces::indicator(folder, &[seen]);
            let mut edges = each.filter_map(|(land, off)| land.edge(off, limit));
            edges.any(|edge| edge.height * 2.0 >= least)
        });
        long && large
    };
    if face.sure <= Angle::ZERO {
        return 0;
    }
    (1..=FARTHEST).take_while(|grinds| may(*grinds)).count() as u32
}
