//! A world drawn for one inspection: every input is off by what the budgets say that it may be.
//!
//! Only then does coverage mean anything. Each input has random numbers of its own, so that one of
//! them can be left out while all the others stay as they were.

use heelclear::simulator::{ErrorCurve, Scenario, Surface};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;
use std::path::Path;

/// An input that a budget has a line for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Input {
    /// Where the tool's axis lies, as far as no reference shows it.
    Lean,
    ProbeOffset,
    Stylus,
    Diameter,
    Lever,
    Play,
    Delay,
    IndicatorError,
    /// The table's direction and scale, and the places along the tool.
    Table,
    Noise,
}

impl Input {
    pub const ALL: [Self; 10] = [
        Self::Lean,
        Self::ProbeOffset,
        Self::Stylus,
        Self::Diameter,
        Self::Lever,
        Self::Play,
        Self::Delay,
        Self::IndicatorError,
        Self::Table,
        Self::Noise,
    ];

    /// What the lines of a budget for it begin with.
    pub fn lines(self) -> &'static [&'static str] {
        match self {
            Self::Lean => &["runout left", "swash", "lean of the tool"],
            Self::ProbeOffset => &["probe offset"],
            Self::Stylus => &["stylus radius"],
            Self::Diameter => &["diameter"],
            Self::Lever => &["lever angle"],
            Self::Play => &["hysteresis"],
            Self::Delay => &["delay"],
            Self::IndicatorError => &["indicator error"],
            Self::Table => &["distance z", "table travel", "scale of", "probe square"],
            Self::Noise => &["scatter"],
        }
    }
}

// What the budgets take for granted, restated: a budget that took less would be found out here.
const STYLUS_TOLERANCE: f64 = 0.01;
const DIAMETER_TOLERANCE: f64 = 0.005;
const LEVER_TOLERANCE_RAD: f64 = 0.035;
const Z_TOLERANCE_MM: f64 = 0.1;
const TABLE_TOLERANCE_RAD: f64 = 0.02 / 300.0;
const SCALE_TOLERANCE: f64 = 0.002;
const SQUARE_TOLERANCE_DEG: f64 = 0.25;
const STATED_DELAY_MS: f64 = 0.5;
const ONE_CLOCK_DELAY_MS: f64 = 1.0;
/// Two clocks may be apart by anything that the search looks at; so much is usual.
const TWO_CLOCKS_DELAY_MS: f64 = 20.0;

/// The scenario as its seed makes it really be, while its cards stay as they are. Inputs that are
/// left out are at their best estimates.
pub fn drawn(stated: &Scenario, left_out: &[Input]) -> Scenario {
    let mut world = stated.clone();
    let stream = |number: u64| Pcg64::seed_from_u64(stated.seed.wrapping_mul(1000) + 500 + number);
    let mut how_it_lies = stream(99);
    world.clamping.at_deg = how_it_lies.random_range(0.0..360.0);
    world.clamping.first_edge_deg = how_it_lies.random_range(0.0..360.0);
    for (number, input) in Input::ALL.into_iter().enumerate() {
        let mut rng = stream(number as u64);
        if left_out.contains(&input) {
            leave_out(input, stated, &mut world);
        } else {
            draw(input, stated, &mut rng, &mut world);
        }
    }
    world
}

fn leave_out(input: Input, stated: &Scenario, world: &mut Scenario) {
    match input {
        // Half of what the card states is taken out of every drop.
        Input::Play => world.bench.hysteresis_mm = Some(stated.gauge.hysteresis_mm / 2.0),
        Input::IndicatorError => {
            // The card keeps its limit; only a wandering error of no size has none.
            world.bench.error = ErrorCurve::None;
        }
        Input::Noise => world.bench.noise_mm = 0.0,
        _ => {}
    }
}

fn draw(input: Input, stated: &Scenario, rng: &mut Pcg64, world: &mut Scenario) {
    let mut within = |half_width: f64| half_width * rng.random_range(-1.0..=1.0);
    let gauge = &stated.gauge;
    match input {
        Input::Lean => lean(stated, rng, world),
        Input::ProbeOffset => {
            world.bench.probe_offset_error_mm = within(gauge.probe_offset_tolerance_mm);
        }
        Input::Stylus => {
            world.bench.radius_error_mm = within(gauge.radius_mm * STYLUS_TOLERANCE);
        }
        Input::Diameter => {
            for feature in &mut world.feature {
                feature.diameter_error_mm = within(feature.diameter_mm * DIAMETER_TOLERANCE);
            }
        }
        Input::Lever => {
            if gauge.lever_angle_deg != 0.0 {
                world.bench.lever_error_deg = within(LEVER_TOLERANCE_RAD.to_degrees());
            }
        }
        Input::Play => {
            world.bench.hysteresis_mm = Some(gauge.hysteresis_mm * rng.random_range(0.0..=1.0));
        }
        Input::Delay => {
            let tolerance = match (gauge.delay_ms, stated.bench.two_clocks) {
                (Some(_), _) => STATED_DELAY_MS,
                (None, true) => TWO_CLOCKS_DELAY_MS,
                (None, false) => ONE_CLOCK_DELAY_MS,
            };
            world.bench.delay_ms += within(tolerance);
        }
        Input::IndicatorError => world.bench.error = ErrorCurve::Wander,
        Input::Table => {
            world.bench.table_lean_deg = within(TABLE_TOLERANCE_RAD.to_degrees());
            for feature in &mut world.feature {
                feature.z_error_mm = feature
                    .z_mm
                    .iter()
                    .map(|_| within(Z_TOLERANCE_MM))
                    .collect();
            }
            for face in &mut world.face {
                face.scale_error = within(SCALE_TOLERANCE);
                face.lean_deg = within(SQUARE_TOLERANCE_DEG);
            }
        }
        Input::Noise => {}
    }
}

/// A stated bound is a disc in which the axis lies anywhere, and so is one of a swash; a reference
/// leaves a lean open that lies anywhere in the disc that the gauge card states.
fn lean(stated: &Scenario, rng: &mut Pcg64, world: &mut Scenario) {
    let mut anywhere_within = |radius: f64| {
        let size = radius * rng.random_range(0.0f64..=1.0).sqrt();
        (size, rng.random_range(0.0..360.0))
    };
    let gauge = &stated.gauge;
    let clamping = &mut world.clamping;
    if let (Some(bound), true) = (gauge.runout_mm, stated.reference.is_empty()) {
        (clamping.eccentricity_mm, clamping.at_deg) = anywhere_within(bound);
    }
    let axial = stated.feature.iter().find(|f| f.surface == Surface::Axial);
    let swash = gauge
        .swash_mm
        .zip(axial)
        .map(|(swash, feature)| swash / (feature.diameter_mm / 2.0));
    let stated = gauge
        .lean_mm
        .map(|lean| lean / gauge.lean_over_mm.unwrap_or(100.0));
    if let Some(bound) = swash.or(stated) {
        let (lean, towards) = anywhere_within(bound);
        clamping.tilt_deg += lean.atan().to_degrees();
        clamping.tilt_at_deg = Some(towards);
    }
}

/// Takes bursts of rows out of every trace of a folder, as a wire that comes loose does.
pub fn lose_rows(folder: &Path, seed: u64) {
    /// One burst in so many rows ...
    const ROWS: usize = 300;
    /// ... of up to so many.
    const LONGEST: usize = 25;
    let mut rng = Pcg64::seed_from_u64(seed.wrapping_mul(1000) + 700);
    let traces = folder.join("traces");
    let mut files: Vec<_> = std::fs::read_dir(&traces)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    files.sort();
    for file in files {
        let text = std::fs::read_to_string(&file).unwrap();
        let mut lost = 0usize;
        let mut kept = String::new();
        for (number, line) in text.lines().enumerate() {
            if number > 0 && rng.random_range(0..ROWS) == 0 {
                lost = rng.random_range(5..=LONGEST);
            }
            if lost > 0 {
                lost -= 1;
            } else {
                kept.push_str(line);
                kept.push('\n');
            }
        }
        std::fs::write(&file, kept).unwrap();
    }
}
