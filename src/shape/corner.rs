//! The edge as the corner that the stylus rolls over.

use super::Tip;
use super::path::{PathPoint, Place, Plane};

/// A corner of the tool, found from the path of the stylus while it rode on it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Corner {
    pub place: Place,
    /// Standard uncertainty of the arc; radians.
    pub arc_uncertainty: f64,
    /// The part of it that the encoder's steps bring; radians.
    pub arc_steps: f64,
    /// Standard uncertainty of the height; mm.
    pub height_uncertainty: f64,
    /// How the corner answers to the height of each point that it was fitted to.
    pub answers: Vec<Answer>,
}

/// What one point of the path does to the corner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Answer {
    /// Height of the point; mm.
    pub at: f64,
    /// Change of the corner's height with it; mm per mm.
    pub height: f64,
    /// Change of the corner's arc with it; radians per mm.
    pub arc: f64,
}

/// How often the fit is repeated; it converges quadratically, two or three rounds suffice.
const ROUNDS: usize = 12;

/// Fits the corner to path points that were taken while the stylus rode on it.
///
/// A ball's centre then runs on a circle of the ball's radius about the corner; a flat's height
/// over the axis is the corner's projection. `None` when the points do not fix two coordinates.
pub(super) fn fit_corner(
    points: &[PathPoint],
    plane: Plane,
    tip: Tip,
    start: Place,
) -> Option<Corner> {
    if points.len() < 2 {
        return None;
    }
    let local = Local::about(start, plane);
    let (mut x, mut y) = (0.0, start.height);
    let mut normal = Normal::default();
    for _ in 0..ROUNDS {
        normal = Normal::default();
        for point in points {
            let row = local.row(point, tip, x, y)?;
            normal.add(&row);
        }
        let (dx, dy) = normal.solve()?;
        x += dx;
        y += dy;
        if dx.hypot(dy) < 1e-10 {
            break;
        }
    }
    let (var_x, var_y) = normal.variances()?;
    let place = local.place(x, y);
    let arm = plane.arm(place.height);
    let rows = points
        .iter()
        .map(|point| local.row(point, tip, x, y))
        .collect::<Option<Vec<Row>>>()?;
    let scatter = scatter_of(&rows);
    // Of the variance along the arc, what the angles of the points bring.
    let of_angles: f64 = rows.iter().map(|row| normal.by_angle(row).powi(2)).sum();
    let answers = points.iter().zip(&rows).map(|(point, row)| {
        let (along_x, along_y) = normal.answer(row)?;
        Some(Answer {
            at: point.place.height,
            height: along_y,
            arc: along_x / arm,
        })
    });
    Some(Corner {
        answers: answers.collect::<Option<_>>()?,
        place,
        arc_uncertainty: var_x.sqrt() * scatter / arm,
        arc_steps: of_angles.min(var_x).sqrt() * scatter / arm,
        height_uncertainty: var_y.sqrt() * scatter,
    })
}

/// What the points' stated scatter must be multiplied with to be that between neighbours.
///
/// The indicator's error is common to neighbours and has a line of its own in every budget, and so
/// has what makes them stand off a corner together; a difference of neighbours holds neither. The
/// stated scatter is that of the whole trace, and counts as much as a few points.
fn scatter_of(rows: &[Row]) -> f64 {
    const STATED: f64 = 4.0;
    let off = |row: &Row| row.residual * row.weight.sqrt();
    let differences = rows.windows(2).map(|pair| off(&pair[1]) - off(&pair[0]));
    let squares: f64 = differences
        .map(|difference| difference * difference / 2.0)
        .sum();
    let count = rows.len() as f64;
    // Two coordinates are fitted to as many points.
    let squares = squares * count / (count - 2.0).max(1.0);
    ((STATED + squares) / (STATED + count - 1.0)).sqrt()
}

/// Cartesian coordinates near the corner: x along the motion towards the heel, y up.
struct Local {
    origin: f64,
    plane: Plane,
}

/// One weighted residual with its derivatives by the corner's coordinates.
struct Row {
    residual: f64,
    dx: f64,
    dy: f64,
    weight: f64,
    /// What the point's angle alone leaves open of the residual; mm.
    across: f64,
}

impl Local {
    fn about(start: Place, plane: Plane) -> Self {
        Self {
            origin: start.arc,
            plane,
        }
    }

    fn place(&self, x: f64, y: f64) -> Place {
        match self.plane {
            Plane::Polar => Place {
                arc: self.origin + x.atan2(y),
                height: x.hypot(y),
            },
            Plane::Unrolled { radius } => Place {
                arc: self.origin + x / radius,
                height: y,
            },
        }
    }

    fn xy(&self, place: Place) -> (f64, f64) {
        let arc = place.arc - self.origin;
        match self.plane {
            Plane::Polar => (place.height * arc.sin(), place.height * arc.cos()),
            Plane::Unrolled { radius } => (arc * radius, place.height),
        }
    }

    fn row(&self, point: &PathPoint, tip: Tip, x: f64, y: f64) -> Option<Row> {
        let (residual, dx, dy) = match tip {
            Tip::Ball(radius) => {
                let (px, py) = self.xy(point.place);
                let (towards_x, towards_y) = (px - x, py - y);
                let distance = towards_x.hypot(towards_y);
                if distance <= 0.0 {
                    return None;
                }
                (
                    distance - radius.mm(),
                    towards_x / distance,
                    towards_y / distance,
                )
            }
            Tip::Flat(_) => {
                let (sin, cos) = (point.place.arc - self.origin).sin_cos();
                (point.place.height - (x * sin + y * cos), sin, cos)
            }
            Tip::Point => return None,
        };
        // A reading's scatter acts along the probe and an angle's across it.
        let across = point.steps * self.plane.arm(point.place.height);
        let variance = (point.scatter * dy).powi(2) + (across * dx).powi(2);
        Some(Row {
            residual,
            dx,
            dy,
            weight: 1.0 / variance.max(SMALLEST_VARIANCE),
            across: across * dx,
        })
    }
}

/// Below a hundredth of a nanometre nothing is weighed any more; ideal data have no scatter. mm²
const SMALLEST_VARIANCE: f64 = 1e-16;

/// Two-by-two normal equations.
#[derive(Default)]
struct Normal {
    xx: f64,
    xy: f64,
    yy: f64,
    rx: f64,
    ry: f64,
}

impl Normal {
    fn add(&mut self, row: &Row) {
        self.xx += row.weight * row.dx * row.dx;
        self.xy += row.weight * row.dx * row.dy;
        self.yy += row.weight * row.dy * row.dy;
        self.rx += row.weight * row.dx * row.residual;
        self.ry += row.weight * row.dy * row.residual;
    }

    fn determinant(&self) -> Option<f64> {
        let determinant = self.xx * self.yy - self.xy * self.xy;
        (determinant > 1e-9 * self.xx * self.yy).then_some(determinant)
    }

    fn solve(&self) -> Option<(f64, f64)> {
        let d = self.determinant()?;
        Some((
            (self.rx * self.yy - self.ry * self.xy) / d,
            (self.ry * self.xx - self.rx * self.xy) / d,
        ))
    }

    /// What both coordinates move by when a point is read higher by one.
    fn answer(&self, row: &Row) -> Option<(f64, f64)> {
        let (x, y) = self.by_residual(row)?;
        Some((row.dy * x, row.dy * y))
    }

    /// What the uncertainty of a point's angle brings to the corner across the probe.
    fn by_angle(&self, row: &Row) -> f64 {
        self.by_residual(row).map_or(0.0, |(x, _)| x * row.across)
    }

    /// What both coordinates move by when the residual of a point grows by one.
    fn by_residual(&self, row: &Row) -> Option<(f64, f64)> {
        let d = self.determinant()?;
        let x = self.yy * row.dx - self.xy * row.dy;
        let y = self.xx * row.dy - self.xy * row.dx;
        Some((row.weight * x / d, row.weight * y / d))
    }

    fn variances(&self) -> Option<(f64, f64)> {
        let d = self.determinant()?;
        Some((self.yy / d, self.xx / d))
    }
}
