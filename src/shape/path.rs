//! Where the stylus' centre passes over the tool, in the tool's own frame.

use super::place::{PathPoint, Place};
use super::play::{Lag, without_play};
use super::{Clamping, Tip};
use crate::card::Surface;
use crate::quantity::{Angle, AngularSpeed, Length, Time};
use crate::trace::{Cell, Merged, ToothSpan};
use std::f64::consts::TAU;

/// The path over one tooth, in order of growing arc.
pub(super) fn path(
    merged: &Merged,
    span: ToothSpan,
    datum: Length,
    clamping: &Clamping,
    step_uncertainty: Angle,
) -> Vec<PathPoint> {
    let cells = &merged.cells;
    let mount = Mount::new(datum, clamping);
    let mut previous = f64::NEG_INFINITY;
    let mut turns = 0.0;
    let mut points = Vec::with_capacity(span.cells);
    for i in 0..span.cells {
        let index = (span.first + i) % cells.len();
        let cell = &cells[index];
        let angle = cell.angle.rad();
        if angle + turns < previous {
            turns += TAU;
        }
        previous = angle + turns;
        points.push(PathPoint {
            place: mount.place(previous, cell.reading, (cell.speed, cell.time), clamping),
            scatter: cell.standard_error.mm() * mount.lever * mount.across_edge,
            steps: step_uncertainty.rad() * left_of_steps(cell),
            cell: index,
        });
    }
    let lag = Lag::of(clamping.play * (mount.lever * mount.across_edge));
    without_play(&mut points, merged, lag);
    points
}

/// The marks of an encoder stand where they should within half of this part of a count to either side
/// (common practice, no source).
const UNEVEN_MARKS: f64 = 0.25;

/// What share of the encoder's step is left of a place that several readings were taken at: each was
/// taken anywhere in its count, but how even the counts are is common to them.
fn left_of_steps(cell: &Cell) -> f64 {
    let readings = f64::from(cell.samples.max(1));
    readings.sqrt().recip().hypot(UNEVEN_MARKS).min(1.0)
}

/// What is the same for every cell of a trace.
pub(super) struct Mount {
    /// Reading at the highest edge; mm.
    datum: f64,
    /// Where the centre stands above the spindle's axis at that reading; mm.
    centre_at_datum: f64,
    /// What one unit of reading is along the surface's normal.
    lever: f64,
    /// Whether the spindle adds waves.
    waved: bool,
    /// What one unit of height is in the section across an edge that falls away outwards: only there
    /// is a ball as round as it is.
    across_edge: f64,
}

impl Mount {
    pub fn new(datum: Length, clamping: &Clamping) -> Self {
        let ball = match clamping.tip {
            Tip::Ball(radius) => radius.mm(),
            Tip::Flat(_) | Tip::Point => 0.0,
        };
        let centre_at_datum = match clamping.surface {
            // The highest reading is where axis, corner and centre lie on one line, which is not
            // along the probe when its line misses the axis.
            Surface::Radial => {
                let reach = clamping.radius.mm() + ball;
                let across = clamping.probe_offset.mm();
                (reach * reach - across * across).max(0.0).sqrt()
            }
            Surface::Axial => ball,
        };
        Self {
            datum: datum.mm(),
            centre_at_datum,
            lever: clamping.lever_angle.rad().cos(),
            waved: !clamping.lobes.is_none(),
            across_edge: clamping.across_edge(),
        }
    }

    /// No lower reading puts the centre at a height or above.
    pub fn reading_below(&self, height: f64, clamping: &Clamping) -> Length {
        let (swing, aside) = match clamping.surface {
            Surface::Radial => {
                let off = clamping.eccentricity.size().mm();
                (off, off + clamping.probe_offset.mm().abs())
            }
            Surface::Axial => {
                // Along the slant of a face that is not square the eccentricity lifts it too; the
                // small second order is held by the same again.
                let slant = 2.0 * clamping.eccentricity.size().mm() * clamping.face_fall.abs();
                (clamping.swash.size().mm() + slant, 0.0)
            }
        };
        let up = (height * height - aside * aside)
            .max(0.0)
            .sqrt()
            .copysign(height);
        let up = match clamping.surface {
            Surface::Radial if aside > 0.0 => up,
            Surface::Radial => height,
            Surface::Axial => {
                self.centre_at_datum + (height - self.centre_at_datum) / self.across_edge.max(0.01)
            }
        };
        Length::from_mm(self.datum + (up - swing - self.centre_at_datum) / self.lever.max(0.01))
    }

    /// Where the centre stood at an angle and a reading, which were taken at a speed and a time.
    pub fn place(
        &self,
        angle: f64,
        reading: Length,
        (speed, time): (AngularSpeed, Time),
        clamping: &Clamping,
    ) -> Place {
        let angle = angle - speed.rad_per_s() * clamping.delay.s();
        let reading = (reading - clamping.drift * time).mm();
        let above_datum = (reading - self.datum) * self.lever;
        let along = self.centre_at_datum + above_datum;
        let (sin, cos) = angle.sin_cos();
        match clamping.surface {
            Surface::Radial => {
                let along = if self.waved {
                    along - clamping.lobes.added(arc(angle)).mm()
                } else {
                    along
                };
                // The whole path is moved by the eccentricity, which is exact; adding a cosine to
                // the readings would be right to first order only.
                let (x, y) = (clamping.eccentricity.x.mm(), clamping.eccentricity.y.mm());
                let up = along - (x * cos + y * sin);
                let across = -clamping.probe_offset.mm() - (y * cos - x * sin);
                Place {
                    arc: angle + across.atan2(up),
                    height: up.hypot(across),
                }
            }
            Surface::Axial => {
                // The probe keeps its place while the tool moves under it: it meets another angle of
                // the tool, and another radius, where a face that is not square has another height.
                let (x, y) = (clamping.eccentricity.x.mm(), clamping.eccentricity.y.mm());
                let circle = clamping.radius.mm();
                let (out, across) = (circle - (x * cos + y * sin), x * sin - y * cos);
                let (x, y) = (clamping.swash.x.mm(), clamping.swash.y.mm());
                let outwards = out.hypot(across) - circle;
                let moved = outwards * clamping.face_fall - (x * cos + y * sin);
                Place {
                    arc: angle + across.atan2(out),
                    height: self.centre_at_datum + (above_datum + moved) * self.across_edge,
                }
            }
        }
    }
}

/// An arc behind an edge as the rest of the program names it.
pub(super) fn arc(radians: f64) -> Angle {
    Angle::from_rad(radians)
}
