//! Every kind of inspection that is tried: a recipe, and what is changed in it.

use heelclear::simulator::{Law, Relief, Round, Scenario, Tip, Turning, built_in};

/// A kind of inspection.
pub struct Kind {
    pub name: &'static str,
    recipe: &'static str,
    change: fn(&mut Scenario),
    /// Whether the traces lose rows.
    pub holes: bool,
}

impl Kind {
    /// Its recipe as the cards state it, for its inspection of this number.
    pub fn stated(&self, number: u64) -> Scenario {
        let mut scenario = built_in(self.recipe).unwrap();
        (self.change)(&mut scenario);
        // No kind shares its chance with another (FNV-1a, Fowler, Noll, Vo).
        let own = self.name.bytes().fold(0x811c_9dc5, |hash: u32, byte| {
            (hash ^ u32::from(byte)).wrapping_mul(0x0100_0193)
        });
        scenario.seed = u64::from(own) * 100_000 + number;
        scenario
    }

    /// The note of the manual on where this characteristic is outside the goal.
    pub fn note(&self, characteristic: &str) -> &'static str {
        match characteristic {
            "drop" | "relief-angle" | "flat-equivalent-relief" => "a",
            "edge-spread" | "flute-spacing" => "b",
            "runout" => "c",
            "heel-clearance" | "total-relief" => "d",
            "wear-land" => "e",
            _ => "f",
        }
    }
}

const fn kind(name: &'static str, recipe: &'static str, change: fn(&mut Scenario)) -> Kind {
    Kind {
        name,
        recipe,
        change,
        holes: false,
    }
}

/// The ordinary good regrind, with a change.
const fn seat(name: &'static str, change: fn(&mut Scenario)) -> Kind {
    kind(name, "counterbore-pass", change)
}

fn relief(scenario: &mut Scenario, arc_deg: f64, relief: Relief) {
    let land = &mut scenario.feature[0].land;
    land.arc_deg = arc_deg;
    land.relief = relief;
}

fn flutes(scenario: &mut Scenario, flutes: u32) {
    scenario.tool.flutes = flutes;
    scenario.feature[0].tooth.truncate(flutes as usize);
}

/// The slope under a small tip asks for readings that lie nearer together.
fn slowly(scenario: &mut Scenario, speed_deg_per_s: f64) {
    scenario.hand.speed_deg_per_s = speed_deg_per_s;
}

pub const KINDS: &[Kind] = &[
    // Families.
    seat("flat land", |_| {}),
    kind("flat land, heel drags", "counterbore-heel-drag", |_| {}),
    kind("arc, convex", "counterbore-no-reference", |s| {
        with_shank(s);
    }),
    seat("arc, hollow", |s| {
        let hollow = Relief::Arc {
            relief_deg: 8.0,
            radius_mm: -40.0,
        };
        relief(s, 14.0, hollow);
    }),
    kind("spiral land", "chamfer-uneven-edges", |_| {}),
    kind("log-spiral land", "shank-with-flats", |_| {}),
    kind("cam that rises again", "reamer-cam-rise", |_| {}),
    seat("cam, harmonic", |s| {
        let cam = Relief::Cam {
            law: Law::Harmonic,
            depth_mm: 0.4,
            fall_deg: 40.0,
            before_edge_deg: 8.0,
            return_from_deg: None,
            heel_drop_mm: None,
        };
        relief(s, 60.0, cam);
    }),
    kind("two facets", "counterbore-two-facets", |_| {}),
    seat("waved by hand", |s| {
        let waved = Relief::Waved {
            relief_deg: 8.0,
            wave_mm: 0.03,
            waves: 1.5,
        };
        relief(s, 50.0, waved);
    }),
    kind("no relief, off centre", "runout-with-reference", |_| {}),
    // Behind a margin.
    kind("spiral behind a margin", "six-flute-reamer", |_| {}),
    seat("flat behind a margin", |s| {
        s.feature[0].land.margin_mm = 0.3;
        s.feature[0].land.arc_deg = 12.0;
        s.gauge.radius_mm = 0.5;
        slowly(s, 10.0);
    }),
    // Flutes.
    kind("one long land", "single-flute-long-land", |_| {}),
    seat("four flutes", |s| flutes(s, 4)),
    kind("twelve flutes", "twelve-flute-cutter", |_| {}),
    // What touches it.
    seat("point", |s| {
        s.gauge.stylus = Tip::Point;
        s.gauge.radius_mm = 0.0;
        slowly(s, 8.0);
    }),
    seat("ball of 0.25 mm", |s| {
        s.gauge.radius_mm = 0.25;
        slowly(s, 6.0);
    }),
    seat("ball of 2 mm", |s| s.gauge.radius_mm = 2.0),
    seat("lever at 20°", |s| s.gauge.lever_angle_deg = 20.0),
    // Runout.
    seat("no runout", |s| s.clamping.eccentricity_mm = 0.0),
    seat("runout as deep as the relief", |s| {
        s.clamping.eccentricity_mm = 0.05;
    }),
    seat("runout ten times the relief", |s| {
        s.clamping.eccentricity_mm = 0.5;
    }),
    seat("runout only stated", |s| {
        s.reference.clear();
        s.gauge.runout_mm = Some(0.004);
    }),
    seat("two references", |s| {
        let first = s.reference[0].clone();
        s.reference.push(Round {
            z_mm: 15.0,
            ..first
        });
        s.clamping.tilt_deg = 0.02;
        s.clamping.eccentricity_mm = 0.02;
    }),
    // Noise and steps.
    seat("noise 0.2 µm", |s| s.bench.noise_mm = 0.000_2),
    seat("noise 5 µm", |s| s.bench.noise_mm = 0.005),
    seat("steps of 0.5 µm", |s| s.gauge.resolution_mm = 0.000_5),
    seat("steps of 10 µm", |s| {
        s.gauge.resolution_mm = 0.01;
        s.gauge.max_error_mm = 0.01;
    }),
    // Rates and counts.
    seat("10 readings a second", |s| {
        s.bench.rate_hz = 10.0;
        slowly(s, 5.0);
    }),
    seat("1,000 readings a second", |s| {
        s.bench.rate_hz = 1000.0;
        slowly(s, 60.0);
    }),
    seat("400 counts a turn", |s| s.gauge.counts_per_rev = 400),
    seat("20,000 counts a turn", |s| s.gauge.counts_per_rev = 20_000),
    // Hysteresis and delay.
    seat("hysteresis 4 µm", |s| s.gauge.hysteresis_mm = 0.004),
    seat("hysteresis 4 µm, backing", |s| {
        s.gauge.hysteresis_mm = 0.004;
        s.hand.turning = Turning::Backing;
    }),
    seat("delay stated", |s| {
        s.gauge.delay_ms = Some(15.0);
        s.bench.delay_ms = 15.0;
        slowly(s, 40.0);
    }),
    kind("two clocks, delay found", "two-clocks", |_| {}),
    seat("one clock, fast", |s| slowly(s, 60.0)),
    // Hands and wires.
    seat("spikes, pauses, nudges", |s| {
        s.bench.spikes_per_1000 = 4.0;
        s.hand.pauses_per_turn = 3.0;
        s.hand.nudges_per_turn = 3.0;
        s.hand.unevenness = 0.5;
    }),
    Kind {
        holes: true,
        ..seat("holes", |s| s.hand.turns = 3.2)
    },
    seat("both ways", |s| s.hand.turning = Turning::Both),
    // Along the axis and along the tool.
    kind("end face with feed", "end-face-feed", |_| {}),
    seat("back taper", |s| {
        s.feature[0].z_mm = vec![2.0, 14.0];
        s.feature[0].back_taper_deg = 0.5;
    }),
    kind("face over table travel", "chamfer-face", |_| {}),
];

fn with_shank(scenario: &mut Scenario) {
    let shank = built_in("counterbore-pass").unwrap().reference;
    scenario.reference = shank;
}
