//! All figures of a feature, many times over, with everything that is uncertain drawn anew.
//!
//! A trial (JCGM 101, 7.2 to 7.4) draws once for the whole feature what all its teeth share (the
//! clamping, the stylus, the delay, the indicator's error along its travel) and once for each tooth
//! what is its own (scatter, steps, the place of its edge, what the fit leaves open). What the
//! steps from samples to a land do to an error is linear over what is uncertain (merging, going
//! back along the normal, smoothing, the fit's answer), so their effect on every place is worked
//! out beforehand, and normal scatter is drawn from its exact covariance behind them. What is not
//! linear is done anew in each trial: the least and the greatest of the land, the highest and
//! lowest edge, the worst spacing, the curve with its bounds and rivals. The coverage study holds this
//! against inspections that are made and judged anew from the readings on.

mod band;
mod curve;
mod edges;
mod error_path;
mod land;
mod nodes;

use super::bench::Bench;
use super::draw::{Random, unit_normal};
use super::figures::{Figure, Plan, ToothValues, beyond_steps, own_edge_scatter};
use super::part::{Move, Part};
use super::propagate::{Propagated, Tolerance, Trials, Watch, propagate};
use super::reader::Reader;
use super::{Draws, Line, Spread};
use crate::card::{Limit, Limits, Name};
use crate::quantity::Length;
use curve::CurveTrial;
use edges::EdgesTrial;
use error_path::ErrorPath;
use land::LandTrial;
use nodes::Nodes;
use rand::Rng;

/// How many trials to make, and where they start.
#[derive(Clone, Copy, Debug)]
pub struct Effort<'w> {
    /// Where the random numbers start; kept in the record, the same trials can be made again.
    pub seed: u64,
    /// So many trials; `None` for as many as the decisions need, and `Some(0)` for none: what is
    /// known to first order is the answer then, which is enough while a trace still grows.
    pub trials: Option<usize>,
    /// Who wants to know how far they are.
    pub watch: Option<&'w Watch>,
}

impl Default for Effort<'_> {
    fn default() -> Self {
        Self {
            seed: 1,
            trials: None,
            watch: None,
        }
    }
}

/// Trials between two looks at how much the results still move. How much that is shows between
/// blocks, and is told more surely by many small ones than by few large ones, which stop later
/// (`cargo bench --bench verify` tells how many trials were made).
const BLOCK: usize = 500;
/// In two thousand trials an end of an interval of 95 % has fifty beyond it: the J of JCGM 101,
/// 7.9.4 b. Twice as many, since eight blocks tell how much they move.
const FEWEST: usize = 4_000;
/// More than this decide nothing that fewer do not (chosen, no source).
const MOST: usize = 40_000;
/// Ends of an interval may still move by this share of the standard uncertainty (chosen, no
/// source) …
const SETTLED: f64 = 0.1;
/// … and by this one where a verdict hangs on them (chosen, no source).
const SETTLED_AT_LIMIT: f64 = 0.05;
/// A verdict hangs on the ends of an interval where a limit lies so many standard uncertainties
/// from the value: some way to either side of a guard band of 1.645.
const AT_LIMIT: std::ops::Range<f64> = 1.0..2.4;

impl<'w> Effort<'w> {
    fn trials(self) -> Trials<'w> {
        Trials {
            seed: self.seed,
            block: BLOCK,
            fewest: FEWEST,
            most: self.trials.unwrap_or(MOST),
            watch: self.watch,
            ..Trials::default()
        }
    }

    /// Makes trials of figures, and keeps with each what it came out as.
    fn make<R>(
        self,
        figures: &mut [Figure],
        limits: &Limits,
        room: impl Fn() -> R + Sync,
        trial: impl Fn(&mut R, &mut Random, &mut [f64]) + Sync,
    ) {
        let wanted = |figure: &Figure| figure.value.is_some() && figure.budget.is_some();
        let tolerance = |figure: &Figure| match self.trials {
            // Asked for so many, it makes so many.
            Some(_) => Tolerance::Absolute(-1.0),
            None if !wanted(figure) => Tolerance::Any,
            // What nobody judges is told as well as the others' trials tell it.
            None if limits.get(figure.name).is_none() => Tolerance::Any,
            None if hangs(figure, limits.get(figure.name)) => Tolerance::Share(SETTLED_AT_LIMIT),
            None => Tolerance::Share(SETTLED),
        };
        if self.trials == Some(0) || !figures.iter().any(wanted) {
            return;
        }
        let tolerances: Vec<Tolerance> = figures.iter().map(tolerance).collect();
        let Propagated {
            quantities, moving, ..
        } = propagate(&tolerances, self.trials(), room, trial);
        let drawn = quantities.into_iter().zip(moving);
        for (figure, (draws, moving)) in figures.iter_mut().zip(drawn) {
            figure.draws = draws.filter(|_| wanted(figure)).filter(is_whole);
            // Who asks for so many trials takes them as they are.
            figure.unsettled = moving && self.trials.is_none() && figure.draws.is_some();
        }
    }

    /// Makes trials of figures whose lines are all that is known: each line is drawn as it spreads.
    pub(super) fn of_lines(self, figures: &mut [Figure], limits: &Limits) {
        let drawn: Vec<Option<ByLines>> = figures.iter().map(ByLines::of).collect();
        self.make(
            figures,
            limits,
            || (),
            |(), random, out| {
                for (out, drawn) in out.iter_mut().zip(&drawn) {
                    *out = drawn.as_ref().map_or(f64::NAN, |drawn| drawn.draw(random));
                }
            },
        );
    }
}

/// Whether the verdict on a figure hangs on where exactly its interval ends.
fn hangs(figure: &Figure, limit: Option<Limit>) -> bool {
    let (Some(limit), Some(value), Some(budget)) = (limit, figure.value, &figure.budget) else {
        return false;
    };
    let bounds = [limit.min, limit.max].into_iter().flatten();
    let away = |bound: f64| (value - bound).abs() / budget.combined();
    bounds.map(away).any(|away| AT_LIMIT.contains(&away))
}

/// A figure that could not be had in every hundredth trial says nothing by its distribution.
fn is_whole(draws: &Draws) -> bool {
    draws.failed() * 100 <= draws.sorted().len()
}

/// A figure as the sum of what its lines bring.
struct ByLines {
    about: f64,
    floor: f64,
    lines: Vec<(f64, Spread)>,
}

impl ByLines {
    fn of(figure: &Figure) -> Option<Self> {
        Self::with(figure, |_| true)
    }

    /// The same with only those lines that are asked for.
    fn with(figure: &Figure, asked: impl Fn(&Line) -> bool) -> Option<Self> {
        let lines = figure.budget.as_ref()?.lines().iter();
        let lines = lines.filter(|line| asked(line));
        Some(Self {
            about: figure.drawn_about.or(figure.value)?,
            floor: figure.floor(),
            lines: lines
                .map(|line| (line.contribution(), line.spread))
                .collect(),
        })
    }

    fn draw(&self, random: &mut Random) -> f64 {
        self.draw_about(self.about, random)
    }

    /// What the lines add to a value that was drawn otherwise.
    fn draw_about(&self, value: f64, random: &mut Random) -> f64 {
        let lines = self.lines.iter();
        let off: f64 = lines.map(|(size, spread)| size * spread.draw(random)).sum();
        (value + off).max(self.floor)
    }
}

/// What is drawn anew for each trial, and room to work in.
struct Room {
    /// In standard uncertainties, by source.
    sources: Vec<f64>,
    /// In mm, by place of the indicator's travel.
    errors: Vec<f64>,
    normals: Vec<f64>,
    nodes: Vec<f64>,
    /// By tooth.
    drawn: Vec<Drawn>,
}

/// What one tooth is off by in a trial.
#[derive(Clone, Copy, Default)]
struct Drawn {
    /// What the indicator's error makes of the edge's height and of its arc.
    indicator_mm: f64,
    indicator_rad: f64,
    /// The edge's step, and that of the land beside it.
    edge_step_mm: f64,
    land_step_mm: f64,
    /// The edge's height altogether: error, step and scatter.
    edge_mm: f64,
    /// The edge's arc, from scatter.
    edge_rad: f64,
    /// The edge's arc, from the encoder's steps.
    step_rad: f64,
    /// What a carried edge is lower for being placed too far back.
    carried_mm: f64,
    /// From 0 to 1 alike: which curve of its family a land has, and which family.
    chance: f64,
    family: f64,
}

impl Drawn {
    /// By how much the edge was found too far back, in radians.
    fn turned(&self) -> f64 {
        self.edge_rad + self.step_rad + self.indicator_rad
    }
}

/// One tooth.
struct ToothTrial {
    /// Which errors of the indicator the edge has, and what they make of its height (mm per mm) and
    /// of its arc (radians per mm).
    edge_errors: Vec<(usize, f64, f64)>,
    /// Half-widths of what the indicator's steps leave open of the edge and of the land, in mm.
    edge_step_mm: f64,
    land_step_mm: f64,
    height_mm: f64,
    arc_rad: f64,
    step_rad: f64,
    carried: f64,
    land: Option<LandTrial>,
    curve: Option<CurveTrial>,
}

/// A feature, prepared for trials.
pub(super) struct Chain {
    path: ErrorPath,
    spreads: Vec<Spread>,
    teeth: Vec<Option<ToothTrial>>,
    edges: EdgesTrial,
}

impl Chain {
    pub fn of(
        part: &Part,
        bench: &Bench,
        plan: &Plan,
        base: &[Option<ToothValues>],
        moves: &[Move],
        readers: &[Option<Reader>],
    ) -> Self {
        let drops = part.drops(plan);
        let limit = bench.gauge.indicator.max_error;
        let each = readers.iter().enumerate();
        let lands: Vec<Option<Nodes>> = each
            .map(|(index, reader)| {
                let moved = moves
                    .iter()
                    .map(|each| (each.drops[index].as_slice(), each.source.spread));
                let moved: Vec<_> = moved.collect();
                Nodes::of(reader.as_ref()?, &drops[index], &moved, limit)
            })
            .collect();
        let mut travels: Vec<Length> = Vec::new();
        for (reader, land) in readers.iter().zip(&lands) {
            let Some(reader) = reader else { continue };
            travels.extend(reader.edge_readings().map(|reading| reading.travel));
            travels.extend(land.iter().flat_map(|land| land::travels(reader, land)));
            travels.extend(reader.fit_travels());
        }
        let path = ErrorPath::over(&bench.gauge.indicator, travels);
        let each = readers.iter().zip(lands).enumerate();
        let trials = each.map(|(index, (reader, land))| {
            let reader = reader.as_ref()?;
            Some(ToothTrial {
                edge_errors: reader
                    .edge_readings()
                    .map(|reading| (path.index(reading.travel), reading.height, reading.angle))
                    .collect(),
                edge_step_mm: half_width(reader.edge_rounding()),
                land_step_mm: half_width(
                    reader
                        .plan
                        .least
                        .as_ref()
                        .map_or(Length::ZERO, |least| reader.land_rounding(least)),
                ),
                height_mm: own_edge_scatter(reader.tooth, part.fit_of(index)).mm(),
                arc_rad: beyond_steps(reader.tooth).rad(),
                step_rad: reader.tooth.edge.steps.rad(),
                carried: reader.slope_of_carried_edge().mm(),
                land: land.map(|land| LandTrial::of(reader, land, &path)),
                curve: CurveTrial::of(reader, &path),
            })
        });
        Self {
            teeth: trials.collect(),
            spreads: moves.iter().map(|each| each.source.spread).collect(),
            edges: EdgesTrial::of(part, plan, base, moves),
            path,
        }
    }

    /// Makes trials, and keeps with each figure what it came out as.
    pub fn draw(&self, figures: &mut [Figure], effort: Effort, limits: &Limits) {
        let slots: Vec<Option<Slot>> = figures.iter().map(|figure| self.slot(figure)).collect();
        effort.make(
            figures,
            limits,
            || self.room(),
            |room, random, out| self.trial(&slots, room, random, out),
        );
        for figure in figures {
            let found = match figure.name {
                Name::EdgeSpread => self.edges.found_spread(),
                Name::FluteSpacing => self.edges.found_spacing(),
                _ => continue,
            };
            figure.draws = figure
                .draws
                .take()
                .map(|draws| draws.open_to(found, figure.floor()));
        }
    }

    fn room(&self) -> Room {
        let teeth = || self.teeth.iter().flatten();
        let nodes = teeth().map(|tooth| tooth.land.as_ref().map_or(0, LandTrial::nodes));
        let nodes = nodes.max().unwrap_or(0);
        let curves = teeth().map(|tooth| tooth.curve.as_ref().map_or(0, CurveTrial::normals));
        Room {
            sources: vec![0.0; self.spreads.len()],
            errors: vec![0.0; self.path.len()],
            normals: vec![0.0; nodes.max(curves.max().unwrap_or(0))],
            nodes: vec![0.0; nodes],
            drawn: vec![Drawn::default(); self.teeth.len()],
        }
    }

    fn trial(&self, slots: &[Option<Slot>], room: &mut Room, random: &mut Random, out: &mut [f64]) {
        self.shared(room, random);
        // By tooth the figures come one after the other, so each land is drawn once.
        let mut tooth_drawn = None;
        let mut figures = OfTooth::default();
        for (slot, out) in slots.iter().zip(out) {
            let Some(slot) = slot else { continue };
            if let Some(tooth) = slot.tooth
                && tooth_drawn != Some(tooth)
            {
                figures = self.tooth(tooth, room, random);
                tooth_drawn = Some(tooth);
            }
            let found = slot.lines.about;
            let value = match slot.name {
                _ if !slot.chained => found,
                Name::HeelClearance => found + figures.clearance_mm,
                Name::TotalRelief => found + figures.total_mm,
                Name::ReliefAngle => figures.relief_deg,
                Name::Drop => figures.drop_mm,
                Name::FlatEquivalentRelief => figures.flat_equivalent_deg,
                Name::EdgeSpread => {
                    let own =
                        |tooth: usize| room.drawn[tooth].edge_mm + room.drawn[tooth].carried_mm;
                    self.edges.spread(own, &room.sources)
                }
                Name::FluteSpacing => {
                    let own = |tooth: usize| room.drawn[tooth].turned();
                    self.edges.spacing(own, &room.sources)
                }
                _ => f64::NAN,
            };
            *out = slot.lines.draw_about(value, random);
        }
    }

    /// Draws what all teeth share, and what each edge is off by.
    fn shared(&self, room: &mut Room, random: &mut Random) {
        for (size, spread) in room.sources.iter_mut().zip(&self.spreads) {
            *size = spread.draw(random);
        }
        self.path.draw(random, &mut room.errors);
        for (drawn, tooth) in room.drawn.iter_mut().zip(&self.teeth) {
            let Some(tooth) = tooth else { continue };
            let (mut indicator_mm, mut indicator_rad) = (0.0, 0.0);
            for (error, height, arc) in &tooth.edge_errors {
                indicator_mm += height * room.errors[*error];
                indicator_rad += arc * room.errors[*error];
            }
            let mut step = |half_mm: f64| half_mm * (2.0 * random.random::<f64>() - 1.0);
            let (edge_step_mm, land_step_mm) = (step(tooth.edge_step_mm), step(tooth.land_step_mm));
            let edge_rad = tooth.arc_rad * unit_normal(random);
            *drawn = Drawn {
                indicator_mm,
                indicator_rad,
                edge_step_mm,
                land_step_mm,
                edge_mm: indicator_mm + edge_step_mm + tooth.height_mm * unit_normal(random),
                edge_rad,
                step_rad: tooth.step_rad * Spread::Rectangular.draw(random),
                carried_mm: tooth.carried * edge_rad,
                chance: random.random(),
                family: random.random(),
            };
        }
    }

    /// Draws the figures of one tooth.
    fn tooth(&self, index: usize, room: &mut Room, random: &mut Random) -> OfTooth {
        let mut figures = OfTooth::default();
        let Some(tooth) = &self.teeth[index] else {
            return figures;
        };
        let drawn = room.drawn[index];
        if let Some(land) = &tooth.land {
            let normals = &mut room.normals[..land.nodes()];
            normals.fill_with(|| unit_normal(random));
            (figures.clearance_mm, figures.total_mm) = land.draw(&drawn, room);
        }
        if let Some(curve) = &tooth.curve {
            let wider = curve.wider(random);
            let normals = &mut room.normals[..curve.normals()];
            normals.fill_with(|| wider * unit_normal(random));
            let of_curve = curve.draw(&drawn, room);
            figures.relief_deg = of_curve.relief_deg;
            figures.drop_mm = of_curve.drop_mm;
            figures.flat_equivalent_deg = of_curve.flat_equivalent_deg;
        }
        figures
    }

    /// How a figure is drawn; `None` where it has no value or nothing is known of its uncertainty.
    fn slot(&self, figure: &Figure) -> Option<Slot> {
        let tooth = || self.teeth[figure.tooth?].as_ref();
        let land = || tooth()?.land.as_ref();
        let curve = || tooth()?.curve.as_ref();
        let chained = match figure.name {
            Name::HeelClearance | Name::TotalRelief => land().is_some(),
            Name::ReliefAngle => curve().is_some_and(|curve| curve.draws_relief),
            Name::Drop | Name::FlatEquivalentRelief => curve().is_some(),
            Name::EdgeSpread => self.edges.has_spread(),
            Name::FluteSpacing => self.edges.has_spacing(),
            _ => false,
        };
        Some(Slot {
            name: figure.name,
            tooth: figure.tooth,
            chained,
            lines: ByLines::with(figure, |line| !chained || line.apart)?,
        })
    }
}

/// What the figures of a tooth come to in a trial; those of the extremes as what they are off by.
#[derive(Clone, Copy, Default)]
struct OfTooth {
    clearance_mm: f64,
    total_mm: f64,
    relief_deg: f64,
    drop_mm: f64,
    flat_equivalent_deg: f64,
}

/// How a figure is drawn.
struct Slot {
    name: Name,
    tooth: Option<usize>,
    /// Whether by the chain; its lines are then those that are drawn apart.
    chained: bool,
    lines: ByLines,
}

/// Of the rectangular distribution with this standard uncertainty, in mm.
fn half_width(uncertainty: Length) -> f64 {
    uncertainty.mm() * 3f64.sqrt()
}
