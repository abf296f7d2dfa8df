//! One worn tool with its cards, as a folder; and what is really true of it.

use crate::bench::{
    Cam, Dice, Indicator, LEAST_COUNT, Law, MAX_ERROR, PLACES, angle, ground, place, rests,
};
use std::path::Path;

/// What is ground.
#[derive(Clone, Copy, Debug)]
pub struct Kind {
    pub name: &'static str,
    pub flutes: u32,
    pub land_deg: f64,
    /// The law that the old land was ground by, and the one of the fixture.
    pub old: Law,
    pub cam: Law,
    /// How unequal edges and wear are.
    pub uneven_mm: f64,
    pub matches: bool,
}

pub const KINDS: &[Kind] = &[
    kind(
        "one flute, a long land",
        1,
        200.0,
        Law::Harmonic,
        Law::Harmonic,
        0.0,
        true,
    ),
    kind(
        "four flutes",
        4,
        50.0,
        Law::Harmonic,
        Law::Harmonic,
        0.004,
        true,
    ),
    kind(
        "four flutes, constant rise",
        4,
        50.0,
        Law::Constant,
        Law::Constant,
        0.004,
        true,
    ),
    kind(
        "six flutes, unequal wear",
        6,
        32.0,
        Law::Cycloidal,
        Law::Cycloidal,
        0.02,
        true,
    ),
    kind(
        "a cam that cannot match",
        2,
        110.0,
        Law::Constant,
        Law::Cycloidal,
        0.004,
        false,
    ),
];

const fn kind(
    name: &'static str,
    flutes: u32,
    land_deg: f64,
    old: Law,
    cam: Law,
    uneven_mm: f64,
    matches: bool,
) -> Kind {
    Kind {
        name,
        flutes,
        land_deg,
        old,
        cam,
        uneven_mm,
        matches,
    }
}

/// Graduations of the scales.
pub const THROW_STEP: f64 = 0.01;
pub const CAM_STEP: f64 = 0.5;
pub const FEED_STEP: f64 = 0.005;

/// A worn tool.
pub struct World {
    pub kind: Kind,
    pub cam: Cam,
    pub wheel: f64,
    pub edges_deg: Vec<f64>,
    /// The old surface; in gaps far below.
    pub old: Vec<f64>,
    /// Of the highest edge.
    pub radius: f64,
    pub check_mm: f64,
    dice: Dice,
    drop_mm: f64,
}

impl World {
    pub fn new(kind: Kind, seed: u64) -> Self {
        let mut dice = Dice::new(seed * 977 + u64::from(kind.flutes) * 31 + kind.land_deg as u64);
        let pitch = 360.0 / f64::from(kind.flutes);
        let radius = dice.within(6.0, 15.0);
        let wheel = dice.within(40.0, 90.0);
        let rise_deg = (kind.land_deg + 0.1 * pitch).min(0.78 * pitch);
        let cam = |law| Cam {
            law,
            rise_mm: 0.5,
            rise_deg,
            back_deg: 0.18 * pitch,
            lobes: kind.flutes,
        };
        // A relief of some degrees in the middle of the rise.
        let relief = dice.within(3.0, 7.0f64).to_radians().tan();
        let throw = relief * radius * rise_deg.to_radians() / 0.5 / 1.3;
        let old_throw = throw.clamp(0.2, 2.5);
        let begins = dice.within(0.04, 0.1) * rise_deg;
        let cam_deg = dice.within(0.0, pitch);
        let first = cam_deg + begins;
        let edges: Vec<f64> = (0..kind.flutes)
            .map(|k| first + pitch * f64::from(k) + dice.either(0.05))
            // An edge stands where its land begins: at a place.
            .map(|deg| angle(place(deg)).to_degrees())
            .collect();
        let whole = ground(&cam(kind.old).over(old_throw, cam_deg), radius, wheel);
        let mut world = Self {
            kind,
            cam: cam(kind.cam),
            wheel,
            edges_deg: edges.clone(),
            old: vec![radius - 3.0; PLACES],
            radius,
            check_mm: 0.8,
            drop_mm: 0.0,
            dice,
        };
        for edge in edges {
            world.land(edge, &whole);
        }
        let start = place(first);
        let check = place(first + (world.check_mm / radius).to_degrees());
        world.drop_mm = whole[start] - whole[check];
        world.radius = world.old.iter().copied().fold(0.0, f64::max);
        world
    }

    /// A land as it was ground, then worn: lower as a whole, flat behind its edge, the edge rounded.
    fn land(&mut self, edge: f64, whole: &[f64]) {
        let dice = &mut self.dice;
        let lower = dice.within(0.0, self.kind.uneven_mm);
        let wear = dice.within(0.004, 0.02) + dice.within(0.0, self.kind.uneven_mm);
        let rounding = dice.within(0.003, 0.015);
        let level = whole[place(edge)] - wear;
        let count = (self.kind.land_deg / 360.0 * PLACES as f64) as usize;
        for by in 0..count {
            let at = (place(edge) + by) % PLACES;
            let along = angle(by) * self.radius;
            let round = if along < rounding {
                rounding
                    - (rounding.powi(2) - (rounding - along).powi(2))
                        .max(0.0)
                        .sqrt()
            } else {
                0.0
            };
            self.old[at] = whole[at].min(level) - lower - round;
        }
    }

    /// Every place of every land.
    pub fn lands(&self) -> impl Iterator<Item = usize> {
        let count = (self.kind.land_deg / 360.0 * PLACES as f64) as usize;
        let starts: Vec<usize> = self.edges_deg.iter().map(|edge| place(*edge)).collect();
        starts
            .into_iter()
            .flat_map(move |start| (0..count).map(move |by| (start + by) % PLACES))
    }

    /// Writes the inspection before the grind.
    pub fn write(&mut self, dir: &Path) {
        std::fs::create_dir_all(dir.join("traces")).unwrap();
        let ball = 0.5;
        let indicator = Indicator::new(&mut self.dice);
        let dice = &mut self.dice;
        let round = vec![self.radius - 1.0; PLACES];
        let set = self.radius - 0.4;
        indicator.trace(&round, set - 1.0, &dir.join("traces/shank.csv"), dice);
        indicator.trace(
            &rests(&self.old, ball),
            set,
            &dir.join("traces/seat.csv"),
            dice,
        );
        let moved = self.cam.over(1.0, 0.0);
        let moved: Vec<f64> = moved.iter().map(|by| by + self.radius - 1.0).collect();
        indicator.trace(&moved, set - 1.0, &dir.join("traces/motion.csv"), dice);
        let write = |name: &str, text: String| std::fs::write(dir.join(name), text).unwrap();
        write("inspection.toml", INSPECTION.to_owned());
        write(
            "tool.toml",
            format!(
                "schema = 1\nid = \"VB-40\"\nname = \"valve seat counterbore\"\nhand = \"right\"\nflutes = {}\n[[feature]]\nname = \"seat\"\nsurface = \"radial\"\ndiameter_mm = {:.4}\ncheck_distance_mm = {}\n[feature.limits]\ndrop_mm = {{ min = {:.5}, max = {:.5} }}\nheel_clearance_mm = {{ min = 0.005 }}\n",
                self.kind.flutes,
                2.0 * self.radius,
                self.check_mm,
                self.drop_mm * 0.75,
                self.drop_mm * 1.4
            ),
        );
        write(
            "gauge.toml",
            format!(
                "schema = 1\n[indicator]\nresolution_mm = {LEAST_COUNT}\nmax_error_mm = {MAX_ERROR}\nhysteresis_mm = 0.0\nlever_angle_deg = 0.0\n[stylus]\nshape = \"ball\"\nradius_mm = {ball}\n[encoder]\ncounts_per_rev = 40000\ngrows = \"clockwise\"\nsense_proven = {{ grows = \"clockwise\", on = 2026-11-01 }}\n[setup]\nlean_mm = 0.0005\nlean_over_mm = 100.0\nprobe_offset_mm = 0.0\nprobe_offset_tolerance_mm = 0.01\ndelay_ms = 0.0\n"
            ),
        );
        write(
            "grinder.toml",
            format!(
                "schema = 1\nname = \"grinder by the window\"\n[[wheel]]\nname = \"white\"\ncuts = \"rim\"\ndiameter_mm = {:.4}\n[[slide]]\nname = \"cross slide\"\ndirection = \"radial\"\ngraduation_mm = {FEED_STEP}\n[[fixture]]\nname = \"relieving head\"\ndirection = \"radial\"\ngreatest_throw_mm = 4.0\ngraduation_mm = {THROW_STEP}\ncam_graduation_deg = {CAM_STEP}\n",
                2.0 * self.wheel
            ),
        );
    }

    /// Grinds with what was printed, every scale read to its graduation.
    pub fn grind(&mut self, throw_mm: f64, cam_deg: f64, skim_mm: f64) -> Ground {
        let throw = throw_mm + self.dice.either(THROW_STEP / 2.0);
        let cam = cam_deg + self.dice.either(CAM_STEP / 2.0);
        let shape = ground(&self.cam.over(throw, cam), self.radius, self.wheel);
        let proud = |at: usize| self.old[at] - shape[at];
        let (mut touch, mut last) = (f64::NEG_INFINITY, f64::INFINITY);
        for at in self.lands() {
            touch = touch.max(proud(at));
            last = last.min(proud(at));
        }
        // A person stops at the first step at which the wheel touches at all.
        let stopped = touch - self.dice.within(0.0, FEED_STEP);
        let level = stopped - skim_mm;
        let surface: Vec<f64> = shape.iter().map(|shape| shape + level).collect();
        Ground {
            clean: level <= last,
            least_mm: stopped - last,
            surface,
        }
    }
}

/// What a grind left.
pub struct Ground {
    pub clean: bool,
    /// The in-feed after the touch that would just have cleaned up.
    pub least_mm: f64,
    pub surface: Vec<f64>,
}

impl Ground {
    /// A figure of the ground tool, by its name in results and the tooth.
    pub fn truth(&self, world: &World, name: &str, tooth: usize) -> Option<f64> {
        let edge = place(world.edges_deg[tooth]);
        let level = self.surface[edge];
        let drop = |by: usize| level - self.surface[(edge + by) % PLACES];
        let exact = world.check_mm / world.radius * PLACES as f64 / std::f64::consts::TAU;
        let check = exact.ceil() as usize;
        let end = (world.kind.land_deg / 360.0 * PLACES as f64) as usize;
        match name {
            "drop" => {
                let part = check as f64 - exact;
                Some(drop(check) * (1.0 - part) + drop(check - 1) * part)
            }
            "heel-clearance" => (check..end).map(drop).reduce(f64::min),
            "total-relief" => (0..end).map(drop).reduce(f64::max),
            _ => None,
        }
    }
}

const INSPECTION: &str = "schema = 1
tool = \"tool.toml\"
gauge = \"gauge.toml\"
grinder = \"grinder.toml\"
taken = 2026-03-02T09:14:00Z
stage = \"before-grind\"
[[trace]]
file = \"traces/shank.csv\"
role = \"reference\"
z_mm = 5.0
[[trace]]
file = \"traces/seat.csv\"
role = \"feature\"
feature = \"seat\"
z_mm = 2.0
rezeroed = true
[[trace]]
file = \"traces/motion.csv\"
role = \"motion\"
throw_mm = 1.0
";
