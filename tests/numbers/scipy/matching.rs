//! The least misfit of a cam on old lands, beside a linear programme for each cam angle.

use super::{ask, close};
use heelclear::card::{GrinderCard, MotionIs, ToolCard, Turns};
use heelclear::quantity::{Angle, Length};
use heelclear::setting::matching::{Cut, Doubts, Face, Goal, OldLand, OldPlace};
use heelclear::setting::{Drawn, Motion, Section};
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use serde_json::json;

const TOOL: &str = r#"
schema = 1
id = "VB-1"
name = "counterbore"
hand = "right"
flutes = 3

[[feature]]
name = "shoulder"
surface = "axial"
diameter_mm = 20.0
check_distance_mm = 0.5
limits = {}
"#;

const GRINDER: &str = r#"
schema = 1
name = "grinder"

[[fixture]]
name = "head"
direction = "axial"
greatest_throw_mm = 2.0
graduation_mm = 0.01

[[motion]]
fixture = "head"
cam = "three lobes"
direction = "axial"
throw_mm = 1.0
law = "harmonic"
rise_mm = 0.8
rise_deg = 80.0
return_deg = 30.0
lobes = 3
"#;

/// Lands that no cam made: a fall, a wave on it, and what differs from land to land.
fn lands(random: &mut Pcg64Mcg) -> Vec<OldLand> {
    let first = random.random_range(0.0..120.0);
    let wave = random.random_range(0.005..0.03);
    (0..3)
        .map(|land| {
            let lower = random.random_range(0.0..0.02);
            let places = (0..=60).map(|at| {
                let behind = f64::from(at);
                let fall = 0.008 * behind + wave * (behind / 9.0).sin() + lower;
                OldPlace {
                    behind: Angle::from_deg(behind),
                    height: Length::from_mm(-fall),
                    scatter: Length::ZERO,
                    // The first place is an edge, which no misfit counts.
                    damaged: at == 0,
                    beyond: false,
                }
            });
            OldLand {
                edge: Angle::from_deg(first + 120.0 * f64::from(land)),
                places: places.collect(),
                end: Angle::from_deg(60.0),
                rounding: None,
            }
        })
        .collect()
}

#[test]
fn no_gain_and_cam_angle_misfit_less_than_the_one_that_is_found() {
    let tool = ToolCard::parse(TOOL, "tool.toml").unwrap();
    let grinder = GrinderCard::parse(GRINDER, "grinder.toml").unwrap();
    let entry = &grinder.motions[0];
    let MotionIs::Law(law) = &entry.is else {
        unreachable!()
    };
    let motion = Motion::of_law(law, entry.throw, Turns::Cutting);
    let mut random = Pcg64Mcg::seed_from_u64(31);
    for round in 0..6 {
        let lands = lands(&mut random);
        let asked = asked(&lands, &motion);
        let Some(least) = ask::<f64>("least_misfit", &asked) else {
            return;
        };
        let feature = &tool.features[0];
        let cut = Cut {
            faces: vec![Face {
                feature,
                radius: feature.diameter / 2.0,
                level: Length::ZERO,
                section: Section::Point,
                drawn: Drawn::Unrolled(feature.diameter / 2.0),
                lands,
                measured: Vec::new(),
                predicts: true,
            }],
            motion: &motion,
            fixture: &grinder.fixtures[0],
            throw_gain: 1.0,
            cam_lead: Angle::ZERO,
            wear: Length::ZERO,
            feed: 1.0,
            step: Length::ZERO,
            doubts: Doubts {
                indicator: Length::ZERO,
                axis: Length::ZERO,
                gain: 0.0,
                cam_angle: Angle::ZERO,
                diameter: Length::ZERO,
                edge: Angle::ZERO,
                rounding: Length::ZERO,
            },
            confidence: 0.95,
        };
        let found = cut.find(Goal::AsTheCardWants).unwrap();
        // The programme looks at a cam angle each fifth of a degree, over which a misfit changes by
        // less than a micrometre.
        close(
            &format!("misfit {round}"),
            found.mismatch.mm(),
            least,
            0.001,
        );
    }
}

/// The old heights by angle, and the motion at a throw of 1 over the turn.
fn asked(lands: &[OldLand], motion: &Motion) -> serde_json::Value {
    let places = lands.iter().flat_map(|land| {
        let counted = land.places.iter().filter(|place| !place.damaged);
        counted.map(|place| ((land.edge + place.behind).deg(), place.height.mm()))
    });
    let (angles, heights): (Vec<f64>, Vec<f64>) = places.unzip();
    let over_turn = (0..3600).map(|at| motion.at(Angle::from_deg(f64::from(at) / 10.0)).mm());
    json!({
        "angles_deg": angles,
        "heights_mm": heights,
        "motion_mm": over_turn.collect::<Vec<_>>(),
        "greatest_gain": 2.0,
        "lobes": 3,
        "step_deg": 0.2,
    })
}
