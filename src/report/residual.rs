//! What a fitted curve leaves of the land as measured, as a strip under its plot.

use super::canvas::{Canvas, LINE, Pen, undrawn};
use super::clip;
use super::sheet::{Anchor, Area, SMALL, Sheet};
use super::typeface;
use crate::error::Result;
use crate::quantity::{Units, rounded};
use crate::record::{CurveSample, Flute};
use plotters::prelude::{ChartBuilder, IntoDrawingArea, PathElement};

/// Between a plot and what is beside it.
const ROOM: i32 = 1400;

/// A strip.
pub(super) struct Residual {
    /// Arc in degrees, and by how much the land lies lower than its curve, in mm; broken at holes.
    runs: Vec<Vec<(f64, f64)>>,
    /// The most of them.
    most_mm: f64,
}

impl Residual {
    /// What is left of a flute's land; nothing where it has no curve.
    pub(super) fn of(flute: &Flute, most_mm: f64) -> Option<Self> {
        let mut runs: Vec<Vec<(f64, f64)>> = vec![Vec::new()];
        let mut before = f64::NEG_INFINITY;
        for place in &flute.land {
            let Some(fitted) = at(&flute.fitted, place.arc_deg) else {
                continue;
            };
            let left = place.drop_mm - fitted;
            if !left.is_finite() || left.abs() > most_mm {
                continue;
            }
            if before.is_finite() && clip::in_hole(flute, before, place.arc_deg) {
                runs.push(Vec::new());
            }
            before = place.arc_deg;
            if let Some(run) = runs.last_mut() {
                run.push((place.arc_deg, left));
            }
        }
        runs.retain(|run| run.len() > 1);
        let sizes = runs.iter().flatten().map(|(_, left)| left.abs());
        let most_mm = sizes.fold(0.0, f64::max);
        (most_mm > 0.0).then_some(Self { runs, most_mm })
    }

    /// Draws it, with how far it reaches to either side.
    pub(super) fn draw(
        &self,
        sheet: &mut Sheet,
        area: Area,
        arcs: [f64; 2],
        units: Units,
        numbered: bool,
    ) -> Result<()> {
        let reach = units.shown(self.most_mm, "mm") * 1.15;
        {
            let root = Canvas::new(sheet, area).into_drawing_area();
            let chart = ChartBuilder::on(&root)
                .build_cartesian_2d(arcs[0]..arcs[1], reach..-reach)
                .map_err(undrawn)?;
            let plot = chart.plotting_area();
            let line = |points: Vec<(f64, f64)>, pen: Pen| {
                plot.draw(&pen.on(PathElement::new(points, LINE)))
                    .map_err(undrawn)
            };
            line(vec![(arcs[0], 0.0), (arcs[1], 0.0)], Pen::Grid)?;
            for run in &self.runs {
                let shown = run
                    .iter()
                    .filter(|(arc, _)| (arcs[0]..=arcs[1]).contains(arc))
                    .map(|(arc, left)| (*arc, units.shown(*left, "mm")));
                line(shown.collect(), Pen::Residual)?;
            }
            let frame = [(arcs[0], -reach), (arcs[0], reach), (arcs[1], reach)];
            line(frame.to_vec(), Pen::Axis)?;
        }
        if numbered {
            let (most, sign) = match units {
                Units::Metric => (self.most_mm * 1e3, "µm"),
                Units::Inch => (units.shown(self.most_mm, "mm"), "in"),
            };
            let text = format!("± {} {sign}", rounded(most, most));
            let at = (area.x - 80, area.y + area.h / 2 + 80);
            // Numbers that no land has would stand on what is beside the plot.
            if typeface::width(&text, SMALL.size, SMALL.weight) < ROOM {
                sheet.text(at, Anchor::End, SMALL, &text);
            }
        }
        Ok(())
    }
}

/// The fitted curve at an arc, by straight lines between its samples.
fn at(fitted: &[CurveSample], arc: f64) -> Option<f64> {
    let after = fitted.partition_point(|sample| sample.arc_deg < arc);
    let (next, before) = (fitted.get(after)?, fitted.get(after.saturating_sub(1))?);
    let span = next.arc_deg - before.arc_deg;
    if span <= 0.0 {
        return (next.arc_deg - arc).abs().le(&1e-9).then_some(next.drop_mm);
    }
    let share = (arc - before.arc_deg) / span;
    Some(before.drop_mm + share * (next.drop_mm - before.drop_mm))
}
