//! Which instruments there are, and opening them: ports of this computer, or a simulated gauge.

use super::capture::Wanted;
use super::grinder_files::GrinderFiles;
use super::invented::{PLAIN, pose_of, recipe_of, scenario};
use super::live::Plan;
use crate::card::{GaugeCard, Role, ToolCard};
use crate::error::{Code, Error, Result};
use crate::gauge::Instrument;
use crate::gauge::serial::{self, SerialInstrument};
use crate::quantity::{Angle, Length};
use crate::simulator::{self as gauge, Hand, InProcess, Lead, Scenario, Target};
use std::sync::Arc;

/// What the bridge protocol starts with.
const USUAL_BAUD: u32 = 115_200;
/// How much faster than a hand a simulated gauge may run.
const FASTER: std::ops::RangeInclusive<f64> = 0.1..=20.0;

/// So far a simulated hand turns to show which way the encoder's angle grows, in turns.
const TO_PROVE: f64 = 0.3;

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
    scenario: Scenario,
    #[cfg(unix)]
    _served: Option<gauge::Served>,
}

impl Simulation {
    /// The hand carries the stylus to what is to be traced, and waits.
    pub fn hold_at(&self, wanted: &Wanted) {
        self.lead.hold_at(pose_of(&self.scenario, wanted));
    }

    /// Whether the hand sets the indicator anew to go from one trace to another: its travel does not
    /// reach from every diameter to every other.
    pub fn rezeroes(&self, from: &Wanted, to: &Wanted) -> bool {
        let poses = self.scenario.poses();
        let zero = |wanted| {
            poses
                .get(pose_of(&self.scenario, wanted))
                .map(|pose| pose.zero_mm)
        };
        zero(from) != zero(to)
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

/// The card of the grinder that a recipe has, where it has one.
pub fn pretended_grinder(recipe: &str) -> Option<GrinderFiles> {
    let recipe = gauge::built_in(recipe).ok()?;
    recipe.grinder_card().map(GrinderFiles::of_text)
}

/// The gauge card of a simulated gauge for this tool, word for word. Of a tool that no recipe has, it
/// says as little as that of a new bench: nobody has seen yet which way its encoder counts.
///
/// # Errors
/// `internal`, which no recipe of this program should bring about.
pub fn simulated_gauge_card(tool: &ToolCard, recipe: Option<&str>) -> Result<String> {
    let card = match recipe_of(tool, recipe) {
        Some(recipe) => recipe,
        None => {
            let mut plain = gauge::built_in(PLAIN)?;
            plain.gauge.sense_proven = false;
            plain
        }
    };
    Ok(card.gauge_card(None))
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
        Choice::Simulated { recipe, faster } => {
            simulate(scenario(tool, plan, recipe.as_deref())?, *faster)
        }
    }
}

/// The same to see which way the encoder's angle grows: a simulated hand turns clockwise, seen from
/// the driven end, once it is [told to](Simulation::turn).
///
/// # Errors
/// As [`open`].
pub fn open_for_proof(choice: &Choice, tool: &ToolCard, gauge: &GaugeCard) -> Result<Opened> {
    let none = Plan::of([], Angle::from_deg(0.5), 1);
    let Choice::Simulated { recipe, faster } = choice else {
        return open(choice, tool, gauge, &none);
    };
    let mut scenario = scenario(tool, &none, recipe.as_deref())?;
    scenario.hand = Hand {
        turns: TO_PROVE,
        turning: scenario.clockwise(),
        speed_deg_per_s: 30.0,
        pauses_per_turn: 0.0,
        nudges_per_turn: 0.0,
        ..scenario.hand
    };
    let opened = simulate(scenario, *faster)?;
    if let Some(simulation) = &opened.simulation {
        simulation.lead.hold_at(0);
    }
    Ok(opened)
}

fn simulate(scenario: Scenario, faster: f64) -> Result<Opened> {
    if !FASTER.contains(&faster) {
        let message = format!(
            "read {faster} times faster, expected {} to {}",
            FASTER.start(),
            FASTER.end()
        );
        return Err(Error::new(Code::Usage, message));
    }
    #[cfg(unix)]
    if let Ok(served) = gauge::Served::start(scenario.clone(), faster) {
        return Ok(Opened {
            indicator: Box::new(served.instrument(USUAL_BAUD)),
            encoder: None,
            simulation: Some(Simulation {
                lead: served.lead(),
                scenario,
                _served: Some(served),
            }),
        });
    }
    let bridge = InProcess::new(scenario.clone(), faster);
    Ok(Opened {
        simulation: Some(Simulation {
            lead: bridge.lead(),
            scenario,
            #[cfg(unix)]
            _served: None,
        }),
        indicator: Box::new(bridge),
        encoder: None,
    })
}

/// The traces of a recipe, in the order in which its hand takes them.
pub fn traces(recipe: &Scenario) -> Vec<Wanted> {
    let wanted = recipe.poses().into_iter().filter_map(|pose| {
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
            Target::Motion(_) | Target::Residual { .. } => {
                let stands = recipe.stands(pose.target)?;
                let feature = pose.target.feature().and_then(|at| recipe.feature.get(at));
                let role = match feature {
                    Some(feature) => Role::Residual(feature.name.clone(), stands),
                    None => Role::Motion(stands),
                };
                (role, None)
            }
        };
        Some(Wanted {
            role,
            z: Some(Length::from_mm(pose.z_mm)),
            diameter: diameter.map(Length::from_mm),
            rezeroed: pose.rezeroed,
        })
    });
    wanted.collect()
}
