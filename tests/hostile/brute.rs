//! A surface as a dense row of points, and a tip that rests on whichever of them is highest.
//!
//! Nothing here knows a formula of a land under a ball: the tip's height is the most of what every
//! point would hold it up to. Blocks of points that cannot reach are passed over, which changes no
//! result.

/// Steps of the turn at which the tip's height is worked out; between them it is interpolated.
pub const STEPS: usize = 72_000;
/// Points in a block, and blocks in a group.
const BLOCK: usize = 16;

/// A place in the section: across the probe's line, and along it.
pub type Point = [f64; 2];

/// The true tip.
#[derive(Clone, Copy, Debug)]
pub enum Tip {
    Ball { radius_mm: f64 },
    Flat { half_width_mm: f64 },
    Point,
}

/// What lies around a run of points.
#[derive(Clone, Copy)]
struct Around {
    centre: Point,
    radius: f64,
}

impl Around {
    fn of(points: impl Iterator<Item = Point> + Clone) -> Self {
        let (mut low, mut high) = ([f64::MAX; 2], [f64::MIN; 2]);
        for point in points.clone() {
            for axis in 0..2 {
                low[axis] = low[axis].min(point[axis]);
                high[axis] = high[axis].max(point[axis]);
            }
        }
        let centre = [0, 1].map(|axis| (low[axis] + high[axis]) / 2.0);
        let far = |point: Point| (point[0] - centre[0]).hypot(point[1] - centre[1]);
        Self {
            centre,
            radius: points.map(far).fold(0.0, f64::max),
        }
    }
}

/// Points with what lies around them, two levels deep.
struct Cloud<'p> {
    points: &'p [Point],
    blocks: Vec<Around>,
    groups: Vec<Around>,
}

impl<'p> Cloud<'p> {
    /// Each block takes in the first point of the next, so that no segment falls between two.
    fn of(points: &'p [Point]) -> Self {
        let after =
            |range: std::ops::Range<usize>, all: usize| range.start..(range.end + 1).min(all);
        let runs = |size: usize| {
            (0..points.len().div_ceil(size)).map(move |n| {
                let range = n * size..((n + 1) * size).min(points.len());
                let range = after(range, points.len());
                Around::of(points[range].iter().copied())
            })
        };
        Self {
            points,
            blocks: runs(BLOCK).collect(),
            groups: runs(BLOCK * BLOCK).collect(),
        }
    }

    /// The highest that any point, moved by `place`, holds up a tip at `at` across the probe's line.
    fn highest(&self, tip: Tip, at: f64, place: impl Fn(Point) -> Point, guess: &mut usize) -> f64 {
        let mut best = f64::MIN;
        let mut found = *guess;
        self.block(*guess / BLOCK, tip, at, &place, &mut best, &mut found);
        for (group, around) in self.groups.iter().enumerate() {
            if reach(tip, at, place(around.centre), around.radius) <= best {
                continue;
            }
            let blocks = group * BLOCK..((group + 1) * BLOCK).min(self.blocks.len());
            for block in blocks {
                let around = self.blocks[block];
                if reach(tip, at, place(around.centre), around.radius) > best {
                    self.block(block, tip, at, &place, &mut best, &mut found);
                }
            }
        }
        *guess = found;
        best
    }

    fn block(
        &self,
        block: usize,
        tip: Tip,
        at: f64,
        place: &impl Fn(Point) -> Point,
        best: &mut f64,
        found: &mut usize,
    ) {
        let last = self.points.len() - 1;
        let mut previous: Option<Point> = None;
        for number in block * BLOCK..=((block + 1) * BLOCK).min(last) {
            let point = place(self.points[number]);
            let held = match tip {
                Tip::Ball { radius_mm } => {
                    let under = radius_mm.powi(2) - (point[0] - at).powi(2);
                    if under < 0.0 {
                        f64::MIN
                    } else {
                        point[1] + under.sqrt()
                    }
                }
                Tip::Flat { half_width_mm } => {
                    across(previous, point, at - half_width_mm, at + half_width_mm)
                }
                Tip::Point => across(previous, point, at, at),
            };
            previous = Some(point);
            if held > *best {
                *best = held;
                *found = number;
            }
        }
    }
}

/// The highest of a segment between two places across.
fn across(from: Option<Point>, to: Point, low: f64, high: f64) -> f64 {
    let mut best = if (low..=high).contains(&to[0]) {
        to[1]
    } else {
        f64::MIN
    };
    let Some(from) = from else { return best };
    for end in [low, high] {
        let share = (end - from[0]) / (to[0] - from[0]);
        if (0.0..=1.0).contains(&share) {
            best = best.max(from[1] + share * (to[1] - from[1]));
        }
    }
    best
}

/// How high nothing in this circle can hold the tip over.
fn reach(tip: Tip, at: f64, centre: Point, radius: f64) -> f64 {
    let aside = ((centre[0] - at).abs() - radius).max(0.0);
    let room = match tip {
        Tip::Ball { radius_mm } => radius_mm,
        Tip::Flat { half_width_mm } => half_width_mm,
        Tip::Point => 0.0,
    };
    if aside > room {
        return f64::MIN;
    }
    let rise = match tip {
        Tip::Ball { radius_mm } => (radius_mm.powi(2) - aside.powi(2)).sqrt(),
        _ => 0.0,
    };
    centre[1] + radius + rise
}

/// Heights of the tip over one turn: step `n` at `n / STEPS` of it, growing the way the tool cuts.
#[derive(Clone)]
pub struct Heights(Vec<f64>);

impl Heights {
    /// Around a section given as `(radius, angle)`, the angle against the motion, shifted by
    /// `off_axis`; the probe comes from above and passes the axis by `aside_mm` towards where the
    /// surface moves to.
    pub fn radial(section: &[[f64; 2]], off_axis: Point, tip: Tip, aside_mm: f64) -> Self {
        let mut points: Vec<Point> = section
            .iter()
            .map(|[radius, angle]| {
                [
                    radius * angle.sin() + off_axis[0],
                    radius * angle.cos() + off_axis[1],
                ]
            })
            .collect();
        points.push(points[0]);
        let cloud = Cloud::of(&points);
        let mut guess = 0;
        let size = if let Tip::Ball { radius_mm } = tip {
            radius_mm
        } else {
            0.0
        };
        Self(
            (0..STEPS)
                .map(|step| {
                    let (sin, cos) = turn(step).sin_cos();
                    let place = |[x, y]: Point| [x * cos - y * sin, x * sin + y * cos];
                    cloud.highest(tip, -aside_mm, place, &mut guess) - size
                })
                .collect(),
        )
    }

    /// Over an end face given as `(height, angle)` on the probe's circle, unrolled.
    pub fn unrolled(face: &[[f64; 2]], circle_mm: f64, tip: Tip) -> Self {
        use std::f64::consts::TAU;
        let once: Vec<Point> = face
            .iter()
            .map(|[height, angle]| [angle * circle_mm, *height])
            .collect();
        let around = TAU * circle_mm;
        let points: Vec<Point> = [-around, 0.0, around]
            .iter()
            .flat_map(|by| once.iter().map(move |[x, y]| [x + by, *y]))
            .collect();
        let cloud = Cloud::of(&points);
        let size = if let Tip::Ball { radius_mm } = tip {
            radius_mm
        } else {
            0.0
        };
        let mut guess = 0;
        Self(
            (0..STEPS)
                .map(|step| {
                    cloud.highest(tip, turn(step) * circle_mm, |point| point, &mut guess) - size
                })
                .collect(),
        )
    }

    /// With every height multiplied.
    pub fn stretched(mut self, factor: f64) -> Self {
        for height in &mut self.0 {
            *height *= factor;
        }
        self
    }

    /// At this angle in radians.
    pub fn at(&self, angle: f64) -> f64 {
        let step = (angle / std::f64::consts::TAU).rem_euclid(1.0) * STEPS as f64;
        let below = (step.floor() as usize).min(STEPS - 1);
        let share = step - below as f64;
        self.0[below] * (1.0 - share) + self.0[(below + 1) % STEPS] * share
    }
}

fn turn(step: usize) -> f64 {
    std::f64::consts::TAU * step as f64 / STEPS as f64
}
