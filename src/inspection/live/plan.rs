//! The steps of an inspection: what is to be traced, in which order, and how each one stands.

use super::super::capture::Wanted;
use crate::card::{Engaged, InspectionCard, Role, Source, Surface, ToolCard};
use crate::error::{Code, Error, Result};
use crate::quantity::{Angle, Length};
use serde::{Deserialize, Serialize};

/// The file that keeps a plan in the inspection's folder, so that another start can go on with it.
pub const PLAN_FILE: &str = "plan.toml";

/// Said before a probe goes near an edge.
pub const CAUTIONS: &[&str] = &[
    "Stop the wheel, wait until it stands, and lock it out. Lock the spindle's drive: turn by hand only.",
    "Ground edges cut. Keep your fingers off them, wear what your shop asks for, and clear chips with a brush.",
    "A stylus that meets a tooth's face can chip the edge: with several teeth turn backwards, heel first.",
    "Your shop's own safety rules, the wheel maker's speed limit and licensed practice come first.",
];

/// What is to be traced.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// The steps, in the order in which they are best taken.
    pub steps: Vec<Step>,
    /// The angle between two readings that is wanted.
    pub spacing: Angle,
    /// How often every place of the turn is to be passed.
    pub passes: u32,
}

/// One trace to be taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// What is traced, and where.
    pub wanted: Wanted,
    /// How it stands.
    pub state: StepState,
}

/// How a step stands.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum StepState {
    /// Still to be taken.
    #[default]
    Open,
    /// Taken whole.
    Taken(Traced),
    /// Cut short by a fault: what was read is there, and it should be taken again.
    Short(Traced),
}

/// The trace of a step.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Traced {
    /// Its file, that of the readings where there are two.
    pub file: String,
    /// Readings in it, where they were counted.
    pub readings: Option<usize>,
    /// What was seen on the wire, a sentence each.
    pub warnings: Vec<String>,
}

impl Plan {
    /// One reference on the shank, then each feature in the order of the card, at its front.
    /// Distances are for a person to fill in or change.
    pub fn for_tool(tool: &ToolCard, spacing: Angle, passes: u32) -> Self {
        let step = |role, diameter| Step {
            wanted: Wanted {
                role,
                z: None,
                diameter,
                rezeroed: false,
            },
            state: StepState::Open,
        };
        let features = tool.features.iter();
        let features = features.map(|feature| step(Role::Feature(feature.name.clone()), None));
        Self {
            steps: std::iter::once(step(Role::Reference, None))
                .chain(features)
                .collect(),
            spacing,
            passes,
        }
    }

    /// A plan of these traces.
    pub fn of(wanted: impl IntoIterator<Item = Wanted>, spacing: Angle, passes: u32) -> Self {
        let steps = wanted.into_iter().map(|wanted| Step {
            wanted,
            state: StepState::Open,
        });
        Self {
            steps: steps.collect(),
            spacing,
            passes,
        }
    }

    /// The first step that is not taken whole.
    pub fn next(&self) -> Option<usize> {
        let open = |step: &Step| !matches!(step.state, StepState::Taken(_));
        self.steps.iter().position(open)
    }

    /// Whether every step is taken whole.
    pub fn is_done(&self) -> bool {
        self.next().is_none()
    }

    /// Whether any step has a trace.
    pub fn has_traces(&self) -> bool {
        self.steps.iter().any(|step| step.state != StepState::Open)
    }

    /// Files of the traces that are whole, or of those that were cut short.
    pub fn files(&self, whole: bool) -> Vec<&str> {
        let file = |step: &'_ Step| match &step.state {
            StepState::Taken(_) => whole,
            StepState::Short(_) => !whole,
            StepState::Open => false,
        };
        let steps = self.steps.iter().filter(|step| file(step));
        steps.filter_map(Step::file).collect()
    }

    /// All steps are open again.
    pub(super) fn reopen(&mut self) {
        for step in &mut self.steps {
            step.state = StepState::Open;
        }
    }

    /// As it is kept in [`PLAN_FILE`].
    ///
    /// # Errors
    /// `internal`, which no plan of this program should bring about.
    pub fn to_toml(&self) -> Result<String> {
        let kept = Kept {
            schema: 1,
            spacing_deg: self.spacing.deg(),
            passes: self.passes,
            step: self.steps.iter().map(KeptStep::of).collect(),
        };
        toml::to_string(&kept).map_err(|fault| Error::internal("cannot write TOML", fault))
    }

    /// Reads a kept plan beside the card of its folder, which knows better which traces there are:
    /// one that the card has and the plan does not know as whole was cut short.
    ///
    /// # Errors
    /// `card-syntax` and `card-value` where it is not the plan of this program.
    pub fn read(text: &str, file: &str, card: &InspectionCard) -> Result<Self> {
        let kept: Kept = toml::from_str(text).map_err(|fault| {
            let message = format!("cannot be read as a plan: {}", fault.message());
            Error::new(Code::CardSyntax, message)
                .in_file(file)
                .help("take the file away to go on without it: the traces stay")
        })?;
        let spacing = Angle::from_deg(kept.spacing_deg);
        if !(0.01..=90.0).contains(&kept.spacing_deg) || !(1..=1000).contains(&kept.passes) {
            let message = "read a spacing or a number of passes that makes no sense";
            return Err(Error::new(Code::CardValue, message)
                .in_file(file)
                .help("take the file away to go on without it: the traces stay"));
        }
        let mut plan = Self {
            steps: kept.step.iter().map(KeptStep::step).collect(),
            spacing,
            passes: kept.passes,
        };
        plan.match_card(card);
        Ok(plan)
    }

    /// The plan of a folder that has none: what its card has.
    pub fn of_card(card: &InspectionCard, spacing: Angle, passes: u32) -> Self {
        let mut plan = Self {
            steps: Vec::new(),
            spacing,
            passes,
        };
        plan.match_card(card);
        plan
    }

    fn match_card(&mut self, card: &InspectionCard) {
        let on_card = |file: &str| {
            card.traces
                .iter()
                .any(|entry| file_of(&entry.source) == file)
        };
        for step in &mut self.steps {
            if let StepState::Taken(traced) | StepState::Short(traced) = &step.state
                && !on_card(&traced.file)
            {
                step.state = StepState::Open;
            }
        }
        for entry in &card.traces {
            let file = file_of(&entry.source);
            let known = |step: &Step| match &step.state {
                StepState::Taken(traced) | StepState::Short(traced) => traced.file == file,
                StepState::Open => false,
            };
            if self.steps.iter().any(known) {
                continue;
            }
            let traced = Traced {
                file: file.to_owned(),
                ..Traced::default()
            };
            let wanted = Wanted {
                role: entry.role.clone(),
                z: entry.z,
                diameter: entry.diameter,
                rezeroed: entry.rezeroed,
            };
            let mut open = self
                .steps
                .iter_mut()
                .filter(|step| step.state == StepState::Open);
            // Whether the indicator was set anew may have been found out at the bench.
            let same = |step: &&mut Step| {
                let rezeroed = wanted.rezeroed;
                Wanted {
                    rezeroed,
                    ..step.wanted.clone()
                } == wanted
            };
            match open.find(same) {
                Some(step) => step.state = StepState::Short(traced),
                None => self.steps.push(Step {
                    wanted,
                    state: StepState::Taken(traced),
                }),
            }
        }
    }
}

impl Step {
    /// What a person calls it: `reference` or the feature.
    pub fn name(&self) -> String {
        self.wanted.role.called()
    }

    /// The file of its trace, where it has one.
    pub fn file(&self) -> Option<&str> {
        match &self.state {
            StepState::Open => None,
            StepState::Taken(traced) | StepState::Short(traced) => Some(&traced.file),
        }
    }
}

fn file_of(source: &Source) -> &str {
    match source {
        Source::One(file) => file,
        Source::Two { reading, .. } => reading,
    }
}

/// A plan as its file has it.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Kept {
    schema: u32,
    spacing_deg: f64,
    passes: u32,
    #[serde(default)]
    step: Vec<KeptStep>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct KeptStep {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    feature: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    z_mm: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    diameter_mm: Option<f64>,
    /// How the fixture stands, where it is engaged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    engaged: Option<KeptEngaged>,
    #[serde(default)]
    rezeroed: bool,
    /// The file of its trace, where it was taken whole.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    taken: Option<String>,
}

/// How a fixture was to stand, in the file of a plan.
#[derive(Debug, Serialize, Deserialize)]
struct KeptEngaged {
    axial: bool,
    throw_mm: f64,
}

impl KeptEngaged {
    fn of(role: &Role) -> Option<Self> {
        let engaged = role.engaged()?;
        Some(Self {
            axial: engaged.direction == Surface::Axial,
            throw_mm: engaged.throw.mm(),
        })
    }

    fn engaged(&self) -> Engaged {
        Engaged {
            direction: if self.axial {
                Surface::Axial
            } else {
                Surface::Radial
            },
            throw: Length::from_mm(self.throw_mm),
        }
    }
}

impl KeptStep {
    fn role(&self) -> Role {
        let engaged = self.engaged.as_ref().map(KeptEngaged::engaged);
        match (&self.feature, engaged) {
            (None, None) => Role::Reference,
            (None, Some(engaged)) => Role::Motion(engaged),
            (Some(name), None) => Role::Feature(name.clone()),
            (Some(name), Some(engaged)) => Role::Residual(name.clone(), engaged),
        }
    }

    fn of(step: &Step) -> Self {
        Self {
            feature: step.wanted.role.feature().map(str::to_owned),
            engaged: KeptEngaged::of(&step.wanted.role),
            z_mm: step.wanted.z.map(Length::mm),
            diameter_mm: step.wanted.diameter.map(Length::mm),
            rezeroed: step.wanted.rezeroed,
            taken: match &step.state {
                StepState::Taken(traced) => Some(traced.file.clone()),
                StepState::Open | StepState::Short(_) => None,
            },
        }
    }

    fn step(&self) -> Step {
        let length = |mm: Option<f64>| mm.filter(|mm| mm.is_finite()).map(Length::from_mm);
        Step {
            wanted: Wanted {
                role: self.role(),
                z: length(self.z_mm),
                diameter: length(self.diameter_mm),
                rezeroed: self.rezeroed,
            },
            state: match &self.taken {
                None => StepState::Open,
                Some(file) => StepState::Taken(Traced {
                    file: file.clone(),
                    ..Traced::default()
                }),
            },
        }
    }
}
