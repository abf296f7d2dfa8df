//! Before a capture: the start, cards, the plan, and beginning an inspection.

use super::asked::{Bench, blocking, ended};
use super::form::{self, FormUnit};
use super::job::Begin;
use super::objections;
use super::reply::Answer;
use super::session::Session;
use super::shown;
use super::work::{CardKind, SHOP_FILE, Work};
use crate::card::{Engaged, Role, Stage, Surface, ToolCard, keys};
use crate::error::{Code, Error};
use crate::inspection::capture::Wanted;
use crate::inspection::instruments;
use crate::inspection::live::{CAUTIONS, Plan};
use crate::quantity::{Angle, Length};
use axum::Json;
use axum::extract::{Path, Query, State};
use serde::Deserialize;
use serde_json::{Map, Value, json};

/// What the start of the page shows.
pub(super) async fn start(State(bench): State<Bench>) -> Answer {
    let work = bench.session.work;
    let look = tokio::task::spawn_blocking(move || look_around(&work));
    Ok(Json(look.await.map_err(ended)??))
}

fn look_around(work: &Work) -> Result<Value, Error> {
    let pretended = instruments::pretended().into_iter().filter_map(|tool| {
        let card = ToolCard::parse(&tool.tool_card, "tool.toml").ok()?;
        let about = tool.about;
        Some(json!({ "recipe": tool.recipe, "about": about, "id": card.id, "name": card.name, "flutes": card.flutes }))
    });
    let inspections = work.inspections()?;
    Ok(json!({
        "dir": shown::whole_path(work.dir()),
        "tools": work.cards(CardKind::Tool)?,
        "gauges": work.cards(CardKind::Gauge)?,
        "grinders": work.cards(CardKind::Grinder)?,
        "shop": work.shop(),
        "grinders_elsewhere": work.grinders_elsewhere(&inspections)?,
        "inspections": inspections,
        "pretended": pretended.collect::<Vec<_>>(),
        "cautions": CAUTIONS,
        "keys": {
            "tool": form::described(keys::TOOL),
            "gauge": form::described(keys::GAUGE),
            "grinder": form::described(keys::GRINDER),
            "shop": form::described(keys::SHOP),
        },
    }))
}

pub(super) async fn ports() -> Answer {
    let ports = instruments::ports()?.into_iter();
    let ports = ports.map(|port| json!({ "name": port.name, "about": port.about }));
    Ok(Json(json!({ "ports": ports.collect::<Vec<_>>() })))
}

fn card_kind(name: &str, file: &str) -> Result<CardKind, Error> {
    match name {
        "tool" => Ok(CardKind::Tool),
        "gauge" => Ok(CardKind::Gauge),
        "grinder" => Ok(CardKind::Grinder),
        "shop" if file == SHOP_FILE => Ok(CardKind::Shop),
        _ => Err(Error::new(
            Code::Usage,
            "read another kind of card, expected `tool`, `gauge`, `grinder` or `shop`",
        )),
    }
}

pub(super) async fn card(
    State(bench): State<Bench>,
    Path((kind, file)): Path<(String, String)>,
) -> Answer {
    let form = bench
        .session
        .work
        .card_form(card_kind(&kind, &file)?, &file)?;
    Ok(Json(json!({ "file": file, "values": form })))
}

/// A grinder's card that lies elsewhere: beside the inspections, or in one of them.
#[derive(Deserialize)]
pub(super) struct GrinderOf {
    inspection: Option<String>,
}

pub(super) async fn grinder_elsewhere(
    State(bench): State<Bench>,
    Query(of): Query<GrinderOf>,
) -> Answer {
    let form = bench.session.work.grinder_form(of.inspection.as_deref())?;
    Ok(Json(json!({ "values": form })))
}

#[derive(Deserialize)]
pub(super) struct FilledIn {
    units: FormUnit,
    values: Map<String, Value>,
    /// Whether it is to be a card of its own, and no change of one that is there.
    #[serde(default)]
    new: bool,
    /// Where a grinder's card was taken over from, with the motions beside it.
    #[serde(default)]
    from: Option<GrinderOf>,
}

pub(super) async fn save_card(
    State(bench): State<Bench>,
    Path((kind, file)): Path<(String, String)>,
    Json(form): Json<FilledIn>,
) -> Answer {
    let kind = card_kind(&kind, &file)?;
    let name = file.strip_suffix(".toml").unwrap_or(&file);
    let work = &bench.session.work;
    if form.new && work.has(kind, name) {
        let taken = objections::taken(kind == CardKind::Grinder);
        return Ok(Json(json!({ "objections": [taken] })));
    }
    let saved = match kind {
        CardKind::Grinder => {
            let from = form.from.as_ref().map(|of| of.inspection.as_deref());
            work.save_grinder(name, form.values, form.units, from)?
        }
        _ => work.save(kind, name, &form.values, form.units)?,
    };
    Ok(Json(match saved {
        Ok(file) => json!({ "file": file }),
        Err(objections) => json!({ "objections": objections }),
    }))
}

/// The tool that a person chose: a card of the folder, or one that does not exist.
#[derive(Deserialize)]
pub(super) struct ToolChosen {
    tool: Option<String>,
    recipe: Option<String>,
}

impl ToolChosen {
    /// The card's text, and the traces of a recipe.
    fn read(&self, session: &Session) -> Result<(String, Option<Vec<Wanted>>), Error> {
        if let Some(recipe) = &self.recipe {
            let mut all = instruments::pretended().into_iter();
            let none = || {
                Error::new(
                    Code::Usage,
                    format!("no simulated tool is called `{recipe}`"),
                )
            };
            let found = all.find(|tool| tool.recipe == *recipe).ok_or_else(none)?;
            return Ok((found.tool_card, Some(found.traces)));
        }
        let none = || {
            Error::new(
                Code::Usage,
                "read no tool, expected the name of a tool card",
            )
        };
        let file = self.tool.as_deref().ok_or_else(none)?;
        Ok((session.work.card_text(CardKind::Tool, file)?, None))
    }
}

/// The steps that are suggested for a tool.
pub(super) async fn suggest_plan(
    State(bench): State<Bench>,
    Json(chosen): Json<ToolChosen>,
) -> Answer {
    let (text, traces) = chosen.read(&bench.session)?;
    let tool = ToolCard::parse(&text, chosen.tool.as_deref().unwrap_or("tool.toml"))?;
    let wanted = traces.unwrap_or_else(|| {
        let plan = Plan::for_tool(&tool, Angle::from_deg(0.5), 2);
        plan.steps.into_iter().map(|step| step.wanted).collect()
    });
    let steps = wanted.iter().map(|wanted| {
        json!({
            "feature": wanted.role.feature(),
            "z_mm": wanted.z.map(Length::mm),
            "diameter_mm": wanted.diameter.map(Length::mm),
            "rezeroed": wanted.rezeroed,
            "throw_mm": wanted.role.engaged().map(|engaged| engaged.throw.mm()),
            "axial": wanted.role.engaged().is_some_and(|it| it.direction == Surface::Axial),
        })
    });
    let features = tool.features.iter().map(|feature| &feature.name);
    // No gauge of the bench gives table travel.
    let over_travel = tool.features.iter();
    let over_travel = over_travel.filter(|feature| feature.asks_for_travel());
    Ok(Json(json!({
        "id": tool.id,
        "name": tool.name,
        "tool": shown::tool(&tool),
        "features": features.collect::<Vec<_>>(),
        "steps": steps.collect::<Vec<_>>(),
        "over_travel": over_travel.map(|feature| &feature.name).collect::<Vec<_>>(),
    })))
}

#[derive(Deserialize)]
pub(super) struct StepAsked {
    feature: Option<String>,
    z_mm: Option<f64>,
    diameter_mm: Option<f64>,
    #[serde(default)]
    rezeroed: bool,
    /// Throw of the fixture that it is taken in; absent where that is locked.
    #[serde(default)]
    throw_mm: Option<f64>,
    /// Whether that moves the tool along its axis.
    #[serde(default)]
    axial: bool,
}

#[derive(Deserialize)]
pub(super) struct BeginAsked {
    #[serde(flatten)]
    chosen: ToolChosen,
    gauge: Option<String>,
    /// The card of the grinder, where one goes with the inspection.
    #[serde(default)]
    grinder: Option<String>,
    /// The same from elsewhere.
    #[serde(default)]
    grinder_of: Option<GrinderOf>,
    #[serde(default)]
    operator: String,
    #[serde(default)]
    customer: String,
    #[serde(default)]
    temperature_c: Option<f64>,
    stage: String,
    steps: Vec<StepAsked>,
    spacing_deg: f64,
    passes: u32,
}

impl StepAsked {
    pub(super) fn wanted(self) -> Result<Wanted, Error> {
        let within = |mm: Option<f64>, most: f64| match mm {
            Some(mm) if !(mm.is_finite() && mm.abs() <= most) => Err(Error::new(
                Code::Usage,
                format!("read a distance of {mm} mm, expected at most {most} mm"),
            )),
            mm => Ok(mm.map(Length::from_mm)),
        };
        let engaged = self.throw_mm.map(|throw_mm| match throw_mm {
            mm if mm > 0.0 && mm <= 100.0 => Ok(Engaged {
                direction: match self.axial {
                    true => Surface::Axial,
                    false => Surface::Radial,
                },
                throw: Length::from_mm(mm),
            }),
            mm => Err(Error::new(
                Code::Usage,
                format!("read a throw of {mm} mm, expected what the scale of the fixture shows, up to 100 mm"),
            )),
        });
        let engaged = engaged.transpose()?;
        Ok(Wanted {
            z: within(self.z_mm, 2000.0)?,
            diameter: within(self.diameter_mm.filter(|mm| *mm > 0.0), 2000.0)?,
            role: match (self.feature, engaged) {
                (None, None) => Role::Reference,
                (Some(feature), None) => Role::Feature(feature),
                (None, Some(engaged)) => Role::Motion(engaged),
                (Some(feature), Some(engaged)) => Role::Residual(feature, engaged),
            },
            rezeroed: self.rezeroed,
        })
    }
}

/// Words of one line; nothing where there are none.
fn filled(text: &str) -> Option<String> {
    let text = text.trim().chars().take(120);
    let text: String = text
        .map(|sign| if sign.is_control() { ' ' } else { sign })
        .collect();
    (!text.is_empty()).then_some(text)
}

/// A temperature that the inspection card takes.
fn temperature(asked: Option<f64>) -> Result<Option<f64>, Error> {
    match asked {
        Some(read) if !keys::TEMPERATURE.holds(read) => Err(Error::new(
            Code::Usage,
            format!(
                "read a temperature of {read} °C, expected a number {}",
                keys::TEMPERATURE
            ),
        )),
        asked => Ok(asked),
    }
}

pub(super) async fn begin(State(bench): State<Bench>, Json(asked): Json<BeginAsked>) -> Answer {
    let session = bench.session;
    let (tool_text, _) = asked.chosen.read(&session)?;
    let tool = ToolCard::parse(&tool_text, "tool.toml")?;
    let gauge_text = match &asked.gauge {
        Some(file) => session.work.card_text(CardKind::Gauge, file)?,
        None => instruments::simulated_gauge_card(&tool, asked.chosen.recipe.as_deref())?,
    };
    let grinder = match (&asked.grinder, &asked.grinder_of) {
        (Some(file), _) => Some(session.work.grinder_files(file)?),
        (None, Some(of)) => Some(session.work.grinder_files_of(of.inspection.as_deref())?),
        (None, None) => {
            let recipe = asked.chosen.recipe.as_deref();
            recipe.and_then(instruments::pretended_grinder)
        }
    };
    let steps = asked.steps.into_iter().map(StepAsked::wanted);
    let begin = Begin {
        tool_text,
        gauge_text,
        gauge_file: asked.gauge.clone(),
        grinder,
        operator: asked.operator.chars().take(80).collect(),
        customer: filled(&asked.customer),
        temperature_c: temperature(asked.temperature_c)?,
        stage: match asked.stage.as_str() {
            "before-grind" => Stage::BeforeGrind,
            _ => Stage::AfterGrind,
        },
        simulated: asked.gauge.is_none(),
        recipe: asked.chosen.recipe,
        steps: steps.collect::<Result<_, _>>()?,
        spacing: Angle::from_deg(asked.spacing_deg),
        passes: asked.passes,
    };
    blocking(move || session.begin(begin)).await
}
