//! A tooth as points: its land from a recipe, what was added to it, and the gap behind it.

/// How a land falls.
#[derive(Clone, Debug)]
pub enum Fall {
    Flat {
        relief_deg: f64,
    },
    /// A circle; a negative radius is hollow.
    Arc {
        relief_deg: f64,
        radius_mm: f64,
    },
    /// Falls in proportion to the angle.
    Spiral {
        relief_deg: f64,
    },
    /// The same relief angle everywhere.
    Log {
        relief_deg: f64,
    },
    /// Falls by a half wave, stays, and comes back to `heel_drop_mm` at the end.
    Cam {
        depth_mm: f64,
        fall_deg: f64,
        back_from_deg: f64,
        heel_drop_mm: f64,
    },
    /// A flat of this width, and a flat behind it.
    Facets {
        relief_deg: f64,
        width_mm: f64,
        second_deg: f64,
    },
}

/// Something on a land that no recipe means to be there; `at_mm` behind the edge along its circle.
#[derive(Clone, Debug)]
pub enum Extra {
    /// A burr whose top stands this much above the edge.
    Burr {
        at_mm: f64,
        width_mm: f64,
        above_edge_mm: f64,
    },
    /// A burr at the very end of the land.
    Ridge { width_mm: f64, above_edge_mm: f64 },
    /// The end of the land, bent up evenly until its corner stands this much above the edge.
    Curl { width_mm: f64, above_edge_mm: f64 },
    /// The end of the land, this far below the edge.
    Pad { width_mm: f64, under_edge_mm: f64 },
    Nick {
        at_mm: f64,
        width_mm: f64,
        depth_mm: f64,
    },
    Chatter {
        wave_mm: f64,
        size_mm: f64,
        phase: f64,
    },
}

/// One tooth.
#[derive(Clone, Debug)]
pub struct Tooth {
    /// Where its edge stands, against the motion.
    pub at_deg: f64,
    /// Above the nominal radius, or the nominal height of a face.
    pub raised_mm: f64,
    pub land_deg: f64,
    pub fall: Fall,
    /// A cylinder behind the edge: made so, or worn.
    pub margin_mm: f64,
    /// The radius of the edge's rounding.
    pub rounding_mm: f64,
    pub extras: Vec<Extra>,
    /// The wall behind the heel, from the radius: 0 is straight down.
    pub heel_wall_deg: f64,
    /// The face before the edge leans back by this: a positive rake undercuts the edge.
    pub rake_deg: f64,
}

impl Tooth {
    pub fn new(at_deg: f64, land_deg: f64, fall: Fall) -> Self {
        Self {
            at_deg,
            raised_mm: 0.0,
            land_deg,
            fall,
            margin_mm: 0.0,
            rounding_mm: 0.0,
            extras: Vec::new(),
            heel_wall_deg: 40.0,
            rake_deg: 8.0,
        }
    }
}

/// What is under the tooth: an edge circle, and whether it is unrolled.
#[derive(Clone, Copy, Debug)]
pub struct Ground {
    pub radius_mm: f64,
    pub axial: bool,
    pub gap_mm: f64,
}

/// A tooth's points as `(height, angle)`, and which of them are its land.
#[derive(Clone, Debug)]
pub struct Made {
    pub points: Vec<[f64; 2]>,
    /// The first point of the land, behind any rounding, to its last.
    pub land: std::ops::Range<usize>,
    /// Where the rounding is highest: the edge.
    pub edge: usize,
}

/// Points along the land lie this far apart, and on what is small.
const STEP_MM: f64 = 0.002;
const FINE_MM: f64 = 0.0005;

/// The tooth's points; heights are radii, or heights above the nominal face.
pub fn made(tooth: &Tooth, ground: &Ground) -> Made {
    let radius = ground.radius_mm;
    let edge = if ground.axial { 0.0 } else { radius } + tooth.raised_mm;
    let circle = if ground.axial { radius } else { edge };
    let end = tooth.land_deg.to_radians();
    // Where the land's height at an angle behind the edge is needed on its own.
    let land = outline(tooth, ground, edge);
    let mut angles = Vec::new();
    let mut angle: f64 = 0.0;
    while angle < end {
        angles.push(angle);
        let at_mm = angle * circle;
        let near = at_mm < 0.06
            || end - angle < 0.06 / circle
            || tooth
                .extras
                .iter()
                .any(|extra| extra.is_near(at_mm, end * circle));
        angle += if near { FINE_MM } else { STEP_MM } / circle;
    }
    angles.push(end);
    let mut surface: Vec<[f64; 2]> = angles
        .iter()
        .map(|angle| {
            let bare = interpolated(&land, *angle);
            let at_mm = angle * circle;
            let all = tooth.extras.iter();
            let height = all.fold(bare, |height, extra| {
                extra.on(height, at_mm, end * circle, edge)
            });
            [height, *angle]
        })
        .collect();
    let face = rounded(&mut surface, tooth, circle);
    let highest = face.iter().chain(surface.first()).enumerate();
    let edge_at = highest
        .max_by(|a, b| a.1[0].total_cmp(&b.1[0]))
        .map_or(0, |(at, _)| at);
    let mut points = face_wall(tooth, ground, circle, face.first().unwrap_or(&surface[0]));
    let before = points.len();
    points.extend(&face);
    let first = points.len();
    points.extend(&surface);
    let last = points.len();
    points.extend(heel_wall(tooth, ground, circle, surface[surface.len() - 1]));
    let at = tooth.at_deg.to_radians();
    for point in &mut points {
        point[1] += at;
    }
    Made {
        points,
        land: first..last,
        edge: edge_at + before,
    }
}

impl Extra {
    fn is_near(&self, at_mm: f64, end_mm: f64) -> bool {
        match self {
            Extra::Burr {
                at_mm: place,
                width_mm,
                ..
            }
            | Extra::Nick {
                at_mm: place,
                width_mm,
                ..
            } => (at_mm - place).abs() < *width_mm,
            Extra::Ridge { width_mm, .. }
            | Extra::Curl { width_mm, .. }
            | Extra::Pad { width_mm, .. } => end_mm - at_mm < 2.0 * width_mm,
            Extra::Chatter { .. } => false,
        }
    }

    /// The height with this on it.
    fn on(&self, height: f64, at_mm: f64, end_mm: f64, edge: f64) -> f64 {
        let bulge = |place: f64, width: f64| 1.0 - ((at_mm - place) / (width / 2.0)).powi(2);
        match *self {
            Extra::Burr {
                at_mm: place,
                width_mm,
                above_edge_mm,
            } => burr(height, edge + above_edge_mm, bulge(place, width_mm)),
            Extra::Ridge {
                width_mm,
                above_edge_mm,
            } => burr(
                height,
                edge + above_edge_mm,
                bulge(end_mm - width_mm / 2.0, width_mm),
            ),
            Extra::Pad {
                width_mm,
                under_edge_mm,
            } => {
                let on = end_mm - at_mm < width_mm;
                if on { edge - under_edge_mm } else { height }
            }
            Extra::Curl {
                width_mm,
                above_edge_mm,
            } => {
                let up = (1.0 - (end_mm - at_mm) / width_mm).max(0.0);
                height + up * (edge + above_edge_mm - height)
            }
            Extra::Nick {
                at_mm: place,
                width_mm,
                depth_mm,
            } => height - depth_mm * bulge(place, width_mm).max(0.0),
            Extra::Chatter {
                wave_mm,
                size_mm,
                phase,
            } => height + size_mm * (std::f64::consts::TAU * at_mm / wave_mm + phase).sin(),
        }
    }
}

/// A rounded back that reaches down to the land.
fn burr(height: f64, top: f64, bulge: f64) -> f64 {
    if bulge <= 0.0 {
        height
    } else {
        height.max(height + (top - height) * bulge)
    }
}

/// The bare land as `(height, angle)` from the edge on, from lines and circles.
fn outline(tooth: &Tooth, ground: &Ground, edge: f64) -> Vec<[f64; 2]> {
    let circle = if ground.axial { ground.radius_mm } else { edge };
    let end = tooth.land_deg.to_radians();
    let margin = tooth.margin_mm / circle;
    let mut land = vec![[edge, 0.0]];
    if margin > 0.0 {
        land.push([edge, margin.min(end)]);
    }
    if margin >= end {
        return land;
    }
    let rest = (end - margin) * circle;
    let ahead = rest * 1.2 + 0.1;
    let steps = (ahead / STEP_MM) as usize;
    // Along the motion backwards, and outwards, from where the fall begins.
    let flat: Box<dyn Fn(f64) -> [f64; 2]> = match tooth.fall {
        Fall::Flat { relief_deg } => {
            let (sin, cos) = relief_deg.to_radians().sin_cos();
            Box::new(move |s| [s * cos, -s * sin])
        }
        Fall::Arc {
            relief_deg,
            radius_mm,
        } => {
            let slope = relief_deg.to_radians();
            let centre = [-radius_mm * slope.sin(), -radius_mm * slope.cos()];
            Box::new(move |s| {
                let (sin, cos) = (slope + s / radius_mm).sin_cos();
                [centre[0] + radius_mm * sin, centre[1] + radius_mm * cos]
            })
        }
        Fall::Facets {
            relief_deg,
            width_mm,
            second_deg,
        } => {
            let (sin, cos) = relief_deg.to_radians().sin_cos();
            let corner = [width_mm * cos, -width_mm * sin];
            // The second is told from the motion where it begins.
            let turned = if ground.axial {
                0.0
            } else {
                (corner[0] / (circle + corner[1])).atan()
            };
            let (sin2, cos2) = (second_deg.to_radians() + turned).sin_cos();
            Box::new(move |s| {
                if s < width_mm {
                    [s * cos, -s * sin]
                } else {
                    let on = s - width_mm;
                    [corner[0] + on * cos2, corner[1] - on * sin2]
                }
            })
        }
        _ => {
            for step in 1..=steps {
                let behind = step as f64 * STEP_MM / circle;
                land.push([
                    edge - fall(&tooth.fall, behind, end - margin, circle, ground.axial),
                    margin + behind,
                ]);
            }
            return land;
        }
    };
    for step in 1..=steps {
        let [back, up] = flat(step as f64 * STEP_MM);
        land.push(if ground.axial {
            [edge + up, margin + back / circle]
        } else {
            [back.hypot(circle + up), margin + back.atan2(circle + up)]
        });
    }
    land
}

/// How far the lands that are told by their angle have fallen.
fn fall(fall: &Fall, behind: f64, end: f64, circle: f64, axial: bool) -> f64 {
    match *fall {
        Fall::Spiral { relief_deg } => relief_deg.to_radians().tan() * circle * behind,
        Fall::Log { relief_deg } => {
            let slope = relief_deg.to_radians().tan();
            if axial {
                circle * slope * behind
            } else {
                circle * (1.0 - (-behind * slope).exp())
            }
        }
        Fall::Cam {
            depth_mm,
            fall_deg,
            back_from_deg,
            heel_drop_mm,
        } => {
            let part = |from: f64, to: f64| ((behind - from) / (to - from)).clamp(0.0, 1.0);
            let down = part(0.0, fall_deg.to_radians());
            let back = part(back_from_deg.to_radians(), end);
            // A quarter of a wave down, so that it falls at the edge; half a wave back.
            let down = (down * std::f64::consts::FRAC_PI_2).sin();
            let back = (1.0 - (back * std::f64::consts::PI).cos()) / 2.0;
            depth_mm * down - (depth_mm - heel_drop_mm) * back
        }
        _ => 0.0,
    }
}

fn interpolated(outline: &[[f64; 2]], angle: f64) -> f64 {
    let after = outline
        .partition_point(|point| point[1] < angle)
        .clamp(1, outline.len() - 1);
    let (low, high) = (outline[after - 1], outline[after]);
    let share = (angle - low[1]) / (high[1] - low[1]);
    low[0] + share.clamp(0.0, 1.0) * (high[0] - low[0])
}

/// Takes the corner off the edge: a circle that touches the face and the land. Returns the points
/// of the circle, and leaves the land behind it.
fn rounded(surface: &mut Vec<[f64; 2]>, tooth: &Tooth, circle: f64) -> Vec<[f64; 2]> {
    let radius = tooth.rounding_mm;
    if radius <= 0.0 {
        return Vec::new();
    }
    let edge = surface[0][0];
    let flat = |point: &[f64; 2]| [point[1] * circle, point[0] - edge];
    // The circle's centre lies a radius behind the face and a radius under the land: the lowest
    // place from which no point of the land is nearer than a radius.
    let rake = tooth.rake_deg.to_radians();
    let lean = |down: f64| rake.tan() * down;
    let mut depth = 0.0;
    for _ in 0..60 {
        let x = radius / rake.cos() + lean(depth);
        let near = surface.iter().take(4000).map(&flat);
        let least = near
            .map(|[px, py]| (px - x).hypot(py + depth))
            .fold(f64::MAX, f64::min);
        depth += radius - least;
    }
    let centre = [radius / rake.cos() + lean(depth), -depth];
    let touch = surface
        .iter()
        .take(4000)
        .enumerate()
        .min_by(|a, b| {
            let far =
                |point: &[f64; 2]| (flat(point)[0] - centre[0]).hypot(flat(point)[1] - centre[1]);
            far(a.1).total_cmp(&far(b.1))
        })
        .map_or(0, |(at, _)| at);
    let end = flat(&surface[touch]);
    let to = (end[0] - centre[0]).atan2(end[1] - centre[1]);
    let from = -std::f64::consts::FRAC_PI_2 - rake;
    let steps = ((to - from) * radius / FINE_MM).ceil().max(8.0) as usize;
    let arc: Vec<[f64; 2]> = (0..steps)
        .map(|step| {
            let angle = from + (to - from) * step as f64 / steps as f64;
            let (sin, cos) = angle.sin_cos();
            [
                edge + centre[1] + radius * cos,
                (centre[0] + radius * sin) / circle,
            ]
        })
        .collect();
    surface.drain(..touch);
    arc
}

/// From the floor of the gap up to the edge.
fn face_wall(tooth: &Tooth, ground: &Ground, circle: f64, top: &[f64; 2]) -> Vec<[f64; 2]> {
    let lean = tooth.rake_deg.to_radians().tan();
    let mut wall: Vec<[f64; 2]> = depths(ground.gap_mm)
        .map(|depth| [top[0] - depth, top[1] + lean * depth / circle])
        .collect();
    wall.reverse();
    wall
}

/// From the heel down to the floor of the gap.
fn heel_wall(tooth: &Tooth, ground: &Ground, circle: f64, heel: [f64; 2]) -> Vec<[f64; 2]> {
    let lean = tooth.heel_wall_deg.to_radians().tan();
    depths(ground.gap_mm)
        .map(|depth| [heel[0] - depth, heel[1] + lean * depth / circle])
        .collect()
}

/// Fine at first, then coarser.
fn depths(gap_mm: f64) -> impl Iterator<Item = f64> {
    let mut depth = 0.0;
    std::iter::from_fn(move || {
        if depth >= gap_mm {
            return None;
        }
        depth = (depth + if depth < 0.05 { 0.001 } else { 0.005 }).min(gap_mm);
        Some(depth)
    })
}
