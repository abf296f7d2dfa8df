//! Which instruments there are, and opening them: ports of this computer, or a simulated gauge.

use super::capture::Wanted;
use super::live::Plan;
use crate::card::{Feature, GaugeCard, Name, Role, Surface, ToolCard};
use crate::error::{Code, Error, Result};
use crate::gauge::Instrument;
use crate::gauge::serial::{self, SerialInstrument};
use crate::gauge::simulated::{
    self as gauge, InProcess, Land, Lead, Relief, Round, Scenario, Target,
};
use crate::quantity::{Angle, Length};
use std::sync::Arc;

/// What the bridge protocol starts with.
const USUAL_BAUD: u32 = 115_200;
/// The simulated hand turns until coverage ends a trace; nobody turns for longer.
const TURNS: f64 = 40.0;
/// The bench of a tool that no recipe has.
const PLAIN: &str = "counterbore-pass";
/// How much faster than a hand a simulated gauge may run.
const FASTER: std::ops::RangeInclusive<f64> = 0.1..=20.0;

/// A port of this computer, as a person recognises it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PortFound {
    /// The name to open it by.
    pub name: String,
    /// What is plugged in, where it says so.
    pub about: Option<String>,
}

/// A tool that does not exist, to try things out on.
#[derive(Clone, Debug, PartialEq)]
pub struct Pretended {
    /// The recipe's name.
    pub recipe: String,
    /// What it shows, in a sentence.
    pub about: String,
    /// Its tool card, word for word.
    pub tool_card: String,
    /// Its traces.
    pub traces: Vec<Wanted>,
}

/// What is to be opened.
#[derive(Clone, Debug, PartialEq)]
pub enum Choice {
    /// The port of the bridge or of the indicator, and that of an instrument for the angle.
    Ports {
        /// Bridge or indicator.
        indicator: String,
        /// Angle, where it has a port of its own.
        encoder: Option<String>,
    },
    /// A simulated gauge on a pseudo-terminal, or in the program where there is none.
    Simulated {
        /// The recipe whose tool is turned, where one was chosen; otherwise one that fits the card.
        recipe: Option<String>,
        /// How many times faster than a hand would turn.
        faster: f64,
    },
}

/// Instruments ready to be captured from.
pub struct Opened {
    /// The bridge, or the indicator.
    pub indicator: Box<dyn Instrument>,
    /// The instrument for the angle, where it is another.
    pub encoder: Option<Box<dyn Instrument>>,
    /// What leads the simulated hand, where it is simulated.
    pub simulation: Option<Simulation>,
}

/// A simulated gauge while it runs. Dropping it ends it.
pub struct Simulation {
    lead: Arc<Lead>,
    poses: Vec<usize>,
    #[cfg(unix)]
    _served: Option<gauge::Served>,
}

impl Simulation {
    /// The hand carries the stylus to what this step of the plan traces, and waits.
    pub fn hold_at(&self, step: usize) {
        if let Some(pose) = self.poses.get(step) {
            self.lead.hold_at(*pose);
        }
    }

    /// The hand turns.
    pub fn turn(&self) {
        self.lead.turn();
    }

    /// Pulls the plug, or puts it back.
    pub fn unplug(&self, away: bool) {
        self.lead.unplug(away);
    }

    /// Whether the plug is pulled.
    pub fn is_unplugged(&self) -> bool {
        self.lead.is_unplugged()
    }
}

/// The ports of this computer, USB devices first.
///
/// # Errors
/// `disk` where the system cannot list them.
pub fn ports() -> Result<Vec<PortFound>> {
    let listed = serial::list()?.into_iter();
    Ok(listed
        .map(|port| PortFound {
            name: port.name,
            about: port.usb.map(|usb| {
                let name = usb.name.unwrap_or_else(|| "USB device".to_owned());
                format!("{name} ({:04x}:{:04x})", usb.vendor, usb.product)
            }),
        })
        .collect())
}

/// The tools that do not exist, in the order in which a newcomer meets them.
pub fn pretended() -> Vec<Pretended> {
    let names = gauge::names().filter_map(|name| Some((name, gauge::built_in(name).ok()?)));
    // What takes two instruments or a table's travel cannot be led on a bridge.
    let led = names.filter(|(_, recipe)| !recipe.bench.two_clocks && recipe.face.is_empty());
    led.map(|(name, recipe)| Pretended {
        recipe: name.to_owned(),
        about: recipe.about.clone(),
        tool_card: recipe.tool_card(),
        traces: traces(&recipe),
    })
    .collect()
}

/// The gauge card of a simulated gauge for this tool, word for word.
///
/// # Errors
/// `internal`, which no recipe of this program should bring about.
pub fn simulated_gauge_card(tool: &ToolCard, recipe: Option<&str>) -> Result<String> {
    let plain = || gauge::built_in(PLAIN);
    Ok(recipe_of(tool, recipe)
        .map_or_else(plain, Ok)?
        .gauge_card(None))
}

/// Makes instruments ready; a real port is not opened yet.
///
/// # Errors
/// `usage` where a simulated gauge cannot be made for this tool.
pub fn open(choice: &Choice, tool: &ToolCard, gauge: &GaugeCard, plan: &Plan) -> Result<Opened> {
    match choice {
        Choice::Ports { indicator, encoder } => {
            let link = gauge.link.clone().unwrap_or_default();
            let port = |name: &str, baud: Option<u32>| {
                Box::new(SerialInstrument::new(name, baud.unwrap_or(USUAL_BAUD)))
                    as Box<dyn Instrument>
            };
            Ok(Opened {
                indicator: port(indicator, link.baud),
                encoder: encoder.as_deref().map(|name| port(name, link.angle_baud)),
                simulation: None,
            })
        }
        Choice::Simulated { faster, .. } if !FASTER.contains(faster) => {
            let message = format!(
                "read {faster} times faster, expected {} to {}",
                FASTER.start(),
                FASTER.end()
            );
            Err(Error::new(Code::Usage, message))
        }
        Choice::Simulated { recipe, faster } => {
            simulate(scenario(tool, plan, recipe.as_deref())?, plan, *faster)
        }
    }
}

fn simulate(scenario: Scenario, plan: &Plan, faster: f64) -> Result<Opened> {
    let poses = poses(&scenario, plan);
    #[cfg(unix)]
    if let Ok(served) = gauge::Served::start(scenario.clone(), faster) {
        return Ok(Opened {
            indicator: Box::new(served.instrument(USUAL_BAUD)),
            encoder: None,
            simulation: Some(Simulation {
                lead: served.lead(),
                poses,
                _served: Some(served),
            }),
        });
    }
    let bridge = InProcess::new(scenario, faster);
    Ok(Opened {
        simulation: Some(Simulation {
            lead: bridge.lead(),
            poses,
            #[cfg(unix)]
            _served: None,
        }),
        indicator: Box::new(bridge),
        encoder: None,
    })
}

/// The recipe whose tool this card speaks of, by its number and its features: the one that was
/// chosen, or the first that fits.
fn recipe_of(tool: &ToolCard, chosen: Option<&str>) -> Option<Scenario> {
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
fn scenario(tool: &ToolCard, plan: &Plan, chosen: Option<&str>) -> Result<Scenario> {
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
    follow(&mut scenario, plan);
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
    let whole = |z_mm: f64, diameter_mm: f64| Round {
        diameter_mm,
        z_mm,
        flats: 0,
        flat_depth_mm: 0.0,
        keyway_width_mm: 0.0,
        keyway_depth_mm: 0.0,
        turns: None,
    };
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

/// For each step of the plan, the pose of the recipe that it is.
fn poses(scenario: &Scenario, plan: &Plan) -> Vec<usize> {
    let poses = scenario.poses();
    let of_step = |wanted: &Wanted| {
        let is = |target: &Target| match (target, &wanted.role) {
            (Target::Reference(_), Role::Reference) => true,
            (Target::Feature(at), Role::Feature(name)) => {
                let feature = scenario.feature.get(*at);
                feature.is_some_and(|feature| feature.name == *name)
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
    };
    plan.steps
        .iter()
        .map(|step| of_step(&step.wanted))
        .collect()
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
        check_distance_mm: feature.check_distance.mm(),
        z_mm: Vec::new(),
        z_error_mm: Vec::new(),
        back_taper_deg: middle(Name::BackTaper, 0.0),
        feed_mm_per_rev: feature.feed.map(Length::mm),
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
        tooth: Vec::new(),
        limits: toml::Table::new(),
    }
}

/// The traces of a recipe, in the order in which its hand takes them.
pub fn traces(recipe: &Scenario) -> Vec<Wanted> {
    let wanted = recipe.poses().into_iter().map(|pose| {
        let (role, diameter) = match pose.target {
            Target::Reference(at) => {
                let round = recipe.reference.get(at);
                (Role::Reference, round.map(|round| round.diameter_mm))
            }
            Target::Feature(at) => {
                let feature = recipe.feature.get(at);
                let name = feature.map(|feature| feature.name.clone());
                (Role::Feature(name.unwrap_or_default()), None)
            }
        };
        Wanted {
            role,
            z: Some(Length::from_mm(pose.z_mm)),
            diameter: diameter.map(Length::from_mm),
            rezeroed: pose.rezeroed,
        }
    });
    wanted.collect()
}
