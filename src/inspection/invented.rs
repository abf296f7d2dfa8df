//! A simulated bench for any tool card: the recipe that it is from, or a good regrind that fits it.

use super::capture::Wanted;
use super::live::Plan;
use crate::card::{Feature, Name, Role, SharpenedOn, Surface, ToolCard};
use crate::error::Result;
use crate::quantity::{Angle, Length};
use crate::simulator::{self as gauge, Land, Relief, Round, Scenario, Target};

/// The bench of a tool that no recipe has.
pub(super) const PLAIN: &str = "counterbore-pass";
/// The simulated hand turns until coverage ends a trace; nobody turns for longer.
const TURNS: f64 = 40.0;

/// The recipe whose tool this card speaks of, by its number and its features: the one that was
/// chosen, or the first that fits.
pub(super) fn recipe_of(tool: &ToolCard, chosen: Option<&str>) -> Option<Scenario> {
    let fits = |recipe: &Scenario| {
        let same = |(one, other): (&gauge::Feature, &Feature)| {
            one.name == other.name && near(one.diameter_mm, other.diameter.mm())
        };
        recipe.tool.id == tool.id
            && recipe.tool.flutes == tool.flutes
            && recipe.feature.len() == tool.features.len()
            && recipe.feature.iter().zip(&tool.features).all(same)
    };
    let names = chosen.map(str::to_owned).into_iter();
    let names = names.chain(gauge::names().map(str::to_owned));
    let mut recipes = names.filter_map(|name| gauge::built_in(&name).ok());
    recipes.find(fits)
}

/// A simulated bench for this tool: the recipe that the card is from, or a good regrind that lies
/// in the middle of the card's limits.
pub(super) fn scenario(tool: &ToolCard, plan: &Plan, chosen: Option<&str>) -> Result<Scenario> {
    let mut scenario = match recipe_of(tool, chosen) {
        Some(recipe) => recipe,
        None => {
            let mut invented = gauge::built_in(PLAIN)?;
            invented.tool.id.clone_from(&tool.id);
            invented.tool.name.clone_from(&tool.name);
            invented.tool.flutes = tool.flutes;
            let features = tool.features.iter();
            invented.feature = features.map(|feature| good(feature, tool.flutes)).collect();
            invented.reference = Vec::new();
            invented
        }
    };
    // Which way it turns to cut is its card's to say.
    tool.hand.as_str().clone_into(&mut scenario.tool.hand);
    let mut scenario = scenario.watched();
    follow(&mut scenario, plan);
    if scenario.reference.is_empty() {
        // Who finds out that a reference was wanted can add one.
        let biggest = scenario.feature.iter().map(|feature| feature.diameter_mm);
        scenario
            .reference
            .push(whole(40.0, biggest.fold(1.0, f64::max)));
    }
    scenario.hand.turns = TURNS;
    for round in &mut scenario.reference {
        round.turns = None;
    }
    scenario.check()?;
    Ok(scenario)
}

/// Has the recipe trace what the plan does, where it does.
fn follow(scenario: &mut Scenario, plan: &Plan) {
    let biggest = scenario.feature.iter().map(|feature| feature.diameter_mm);
    let usual = biggest.fold(1.0, f64::max);
    for step in &plan.steps {
        let z_mm = step.wanted.z.unwrap_or(Length::from_mm(2.0)).mm();
        match &step.wanted.role {
            Role::Reference => {
                let z_mm = step.wanted.z.unwrap_or(Length::from_mm(40.0)).mm();
                let known = scenario
                    .reference
                    .iter()
                    .any(|round| near(round.z_mm, z_mm));
                if !known {
                    let like = scenario.reference.first().map(|round| round.diameter_mm);
                    let diameter = step.wanted.diameter.map(Length::mm).or(like);
                    scenario
                        .reference
                        .push(whole(z_mm, diameter.unwrap_or(usual)));
                }
            }
            // A tool that is invented has no relieving fixture to go with it.
            Role::Motion(_) | Role::Residual(..) => {}
            Role::Feature(name) => {
                let mut features = scenario.feature.iter_mut();
                if let Some(feature) = features.find(|feature| feature.name == *name)
                    && !feature.z_mm.iter().any(|known| near(*known, z_mm))
                {
                    feature.z_mm.push(z_mm);
                }
            }
        }
    }
}

/// The pose of the recipe that a trace is of, by its number: the nearest that there is.
pub(super) fn pose_of(scenario: &Scenario, wanted: &Wanted) -> usize {
    let poses = scenario.poses();
    let is = |target: &Target| match (target, &wanted.role) {
        (Target::Reference(_), Role::Reference) => true,
        (Target::Feature(at), Role::Feature(name))
        | (Target::Residual { feature: at, .. }, Role::Residual(name, _)) => {
            let feature = scenario.feature.get(*at);
            feature.is_some_and(|feature| feature.name == *name)
        }
        (Target::Motion(_), Role::Motion(wanted)) => {
            let stands = scenario.stands(*target);
            stands.is_some_and(|stands| stands.direction == wanted.direction)
        }
        _ => false,
    };
    let here = |z_mm: f64| wanted.z.is_none_or(|z| near(z.mm(), z_mm));
    let exact = poses
        .iter()
        .position(|pose| is(&pose.target) && here(pose.z_mm));
    exact
        .or_else(|| poses.iter().position(|pose| is(&pose.target)))
        .unwrap_or(0)
}

/// A round without flats or a keyway.
fn whole(z_mm: f64, diameter_mm: f64) -> Round {
    Round {
        diameter_mm,
        z_mm,
        flats: 0,
        flat_depth_mm: 0.0,
        keyway_width_mm: 0.0,
        keyway_depth_mm: 0.0,
        turns: None,
    }
}

fn near(one_mm: f64, other_mm: f64) -> bool {
    (one_mm - other_mm).abs() < 1e-6
}

/// A feature as a good grind would leave it: relief in the middle of the limits, and a land that
/// ends well before a flat of that angle would come back to the edge's height.
fn good(feature: &Feature, flutes: u32) -> gauge::Feature {
    let middle = |name: Name, usual: f64| {
        let limit = feature.limits.get(name);
        match limit.map(|limit| (limit.min, limit.max)) {
            Some((Some(min), Some(max))) => (min + max) / 2.0,
            Some((Some(min), None)) => min * 1.3 + 1e-3,
            Some((None, Some(max))) => max * 0.6,
            _ => usual,
        }
    };
    let relief = middle(Name::ReliefAngle, 8.0).clamp(1.0, 30.0);
    let pitch = 360.0 / f64::from(flutes.max(1));
    let stated = feature.land.map_or(f64::INFINITY, Angle::deg);
    let arc_deg = stated.min(1.4 * relief).min(0.6 * pitch);
    gauge::Feature {
        name: feature.name.clone(),
        surface: match feature.surface {
            Surface::Radial => gauge::Surface::Radial,
            Surface::Axial => gauge::Surface::Axial,
        },
        diameter_mm: feature.diameter.mm(),
        diameter_error_mm: 0.0,
        least_diameter_mm: feature.least_diameter.map(Length::mm),
        least_land_deg: feature.least_land.map(Angle::deg),
        on_the_face: feature.sharpened_on == SharpenedOn::Face,
        check_distance_mm: feature.check_distance.mm(),
        z_mm: Vec::new(),
        z_error_mm: Vec::new(),
        back_taper_deg: middle(Name::BackTaper, 0.0),
        feed_mm_per_rev: feature.feed.map(Length::mm),
        face_deg: feature.face.map_or(90.0, Angle::deg),
        state_face: feature.face.is_some(),
        curve: None,
        state_land: false,
        land: Land {
            arc_deg,
            margin_mm: 0.0,
            relief: match feature.surface {
                Surface::Radial => Relief::Flat { relief_deg: relief },
                Surface::Axial => Relief::Spiral { relief_deg: relief },
            },
        },
        gap_depth_mm: (feature.diameter.mm() * 0.12).clamp(0.3, 2.5),
        heel_wall_deg: 0.0,
        tooth: Vec::new(),
        limits: toml::Table::new(),
    }
}
