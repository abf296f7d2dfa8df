//! The kinds of worn tools, and how each of them comes about.

use heelclear::quantity::{Angle, Length};
use heelclear::simulator::{Grind, Nick, Scenario, Surface, Tooth, built_in};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;

/// One kind.
pub struct Kind {
    pub name: &'static str,
    /// The recipe it is drawn from.
    recipe: &'static str,
    /// How it was ground before it wore, for each fixture: throw in mm, degrees that the cam begins
    /// before an edge. Nothing where its lands are those of the recipe.
    before: &'static [(f64, f64)],
    /// Whether a nick may be in a land.
    nicks: bool,
    /// Whether no setting of the cam will do.
    pub hopeless: bool,
    /// Whether what its grinds teach is looked at.
    pub learns: bool,
    /// Whether it is ground on its faces, and not on its lands.
    pub on_face: bool,
}

pub const KINDS: &[Kind] = &[
    Kind {
        name: "one flute, long land",
        recipe: "worn-long-land",
        before: &[(2.5, 20.0)],
        nicks: true,
        hopeless: false,
        learns: true,
        on_face: false,
    },
    Kind {
        name: "four flutes",
        recipe: "worn-four-flutes",
        before: &[(0.9, 15.0)],
        nicks: false,
        hopeless: false,
        learns: true,
        on_face: false,
    },
    Kind {
        name: "six flutes, unequal wear",
        recipe: "worn-six-flutes",
        before: &[(0.5, 12.0)],
        nicks: false,
        hopeless: false,
        learns: true,
        on_face: false,
    },
    Kind {
        name: "stepped, with a shoulder",
        recipe: "worn-stepped",
        before: &[(1.1, 15.0), (1.2, 15.0)],
        nicks: false,
        hopeless: false,
        learns: false,
        on_face: false,
    },
    Kind {
        name: "four flutes, lands of no cam",
        recipe: "worn-four-flutes",
        before: &[],
        nicks: true,
        hopeless: false,
        learns: false,
        on_face: false,
    },
    Kind {
        name: "a cam that cannot match",
        recipe: "worn-other-cam",
        before: &[],
        nicks: false,
        hopeless: true,
        learns: false,
        on_face: false,
    },
    Kind {
        name: "form-relieved, on the face",
        recipe: "worn-form-relieved",
        before: &[],
        nicks: false,
        hopeless: false,
        learns: false,
        on_face: true,
    },
];

/// Whether every scale stands where it was read.
pub fn exact() -> bool {
    std::env::var_os("HEELCLEAR_GRINDS_EXACT").is_some()
}

impl Kind {
    /// A worn tool of this kind, on a grinder whose card is honest.
    pub fn worn(&self, seed: u64) -> Scenario {
        let mut rng = Pcg64::seed_from_u64(seed ^ 0x6772_696e_6400);
        let mut tool = built_in(self.recipe).unwrap();
        tool.clamping.eccentricity_mm = rng.random_range(0.0..0.015);
        tool.clamping.at_deg = rng.random_range(0.0..360.0);
        tool.clamping.first_edge_deg = rng.random_range(0.0..360.0);
        for fixture in tool.grinder.iter_mut().flat_map(|it| &mut it.fixture) {
            fixture.throw_error = 0.0;
            // As a hand sets a scale: to half a graduation, and anywhere in its play.
            let share = if exact() { 0.0 } else { 1.0 };
            let mut within = |width: f64| width * share * rng.random_range(-0.5..0.5);
            fixture.traced_off_mm = within(fixture.graduation_mm) + within(fixture.play_mm);
        }
        let flutes = tool.tool.flutes;
        let apart: Vec<f64> = (0..flutes).map(|_| rng.random_range(-0.15..0.15)).collect();
        for feature in &mut tool.feature {
            let each = apart.iter().map(|angle_deg| Tooth {
                angle_deg: *angle_deg,
                ..Tooth::default()
            });
            feature.tooth = each.collect();
        }
        let tool = self.ground_before(tool, seed);
        self.wear(tool, seed, &mut rng)
    }

    /// Ground long ago, from a blank that was just large enough.
    fn ground_before(&self, mut tool: Scenario, seed: u64) -> Scenario {
        /// Beyond what cleans it up.
        const MORE: Length = Length::from_mm(0.02);
        let recipe = tool.clone();
        let first_edge = tool.clamping.first_edge_deg;
        for (fixture, (throw_mm, before_deg)) in self.before.iter().enumerate() {
            let set = |in_feed| Grind {
                fixture,
                throw: Length::from_mm(*throw_mm),
                cam_angle: Angle::from_deg(first_edge - before_deg),
                in_feed,
            };
            let in_feed = tool.grind(&set(Length::ZERO)).unwrap().least + MORE;
            for feature in &mut tool.feature {
                if feature.surface == Surface::Radial && fixture == 0 {
                    feature.diameter_mm += 2.0 * in_feed.mm();
                }
            }
            let ground = tool.grind(&set(in_feed)).unwrap();
            assert!(ground.unclean.is_empty(), "{:?}", ground.unclean);
            tool = ground.tool;
        }
        for (feature, was) in tool.feature.iter_mut().zip(recipe.feature) {
            feature.gap_depth_mm = was.gap_depth_mm;
        }
        Scenario {
            grinder: recipe.grinder,
            seed: seed * 10,
            stage: recipe.stage,
            ..tool
        }
    }

    /// What work does to a tool.
    fn wear(&self, mut tool: Scenario, seed: u64, rng: &mut Pcg64) -> Scenario {
        let flutes = tool.tool.flutes as usize;
        tool = tool.worked(rng);
        if self.before.is_empty() {
            for tooth in tool.feature.iter_mut().flat_map(|it| &mut it.tooth) {
                tooth.height_mm = rng.random_range(-0.008..0.0);
            }
        }
        if self.nicks && seed.is_multiple_of(2) {
            let land_mm =
                tool.feature[0].land.arc_deg.to_radians() * tool.feature[0].diameter_mm / 2.0;
            let tooth = rng.random_range(0..flutes);
            // Wide enough for the stylus to reach its floor: a ball of 1 mm sinks 0.03 mm into 1 mm.
            tool.feature[0].tooth[tooth].nick = Some(Nick {
                at_mm: rng.random_range(0.4..0.8) * land_mm,
                width_mm: rng.random_range(1.0..1.5),
                depth_mm: rng.random_range(0.01..0.03),
            });
        }
        tool
    }
}
