//! Before a capture: the start, cards, the plan, and beginning an inspection.

use super::asked::Bench;
use super::disk::Errand;
use super::form::{self, FormUnit};
use super::job::Begin;
use super::objections;
use super::reply::Answer;
use super::session::Session;
use super::shown;
use super::work::{CardKind, SHOP_FILE, Work, whole_path};
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
    let what = format!("the folder {}", whole_path(work.dir()));
    let look = move |errand: &Errand| look_around(&work, errand);
    Ok(Json(bench.disk.ask(what, look).await?))
}

fn look_around(work: &Work, errand: &Errand) -> Result<Value, Error> {
    let pretended = instruments::pretended().into_iter().filter_map(|tool| {
        let card = ToolCard::parse(&tool.tool_card, "tool.toml").ok()?;
        let about = tool.about;
        Some(json!({ "recipe": tool.recipe, "about": about, "id": card.id, "name": card.name, "flutes": card.flutes }))
    });
    let tools = work.cards(CardKind::Tool)?;
    // What is late from here on is left out by itself.
    errand.answered();
    let (inspections, late) = work.inspections()?;
    Ok(json!({
        "dir": whole_path(work.dir()),
        "tools": tools,
        "gauges": work.cards(CardKind::Gauge)?,
        "grinders": work.cards(CardKind::Grinder)?,
        "shop": work.shop(),
        "grinders_elsewhere": work.grinders_elsewhere(&inspections)?,
        "inspections": inspections,
        "late": late,
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

pub(super) async fn ports(State(bench): State<Bench>) -> Answer {
    let list = |_: &Errand| instruments::ports();
    let ports = bench.disk.ask("the ports of this computer", list).await?;
    let ports = ports.into_iter();
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

/// What is waited for where a card is read or written.
fn of_card(file: &str) -> String {
    format!("the card {}", file.escape_debug())
}

pub(super) async fn card(
    State(bench): State<Bench>,
    Path((kind, file)): Path<(String, String)>,
) -> Answer {
    let kind = card_kind(&kind, &file)?;
    let (work, name) = (bench.session.work, file.clone());
    let read = move |_: &Errand| work.card_form(kind, &name);
    let form = bench.disk.ask(of_card(&file), read).await?;
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
    let work = bench.session.work;
    let read = move |_: &Errand| work.grinder_form(of.inspection.as_deref());
    let form = bench.disk.ask(of_card("grinder.toml"), read).await?;
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
    let work = bench.session.work;
    let what = of_card(&file);
    let save = move |_: &Errand| saved(&work, kind, &file, form);
    Ok(Json(bench.disk.ask(what, save).await?))
}

/// Saves a card, or says what is wrong with it.
fn saved(work: &Work, kind: CardKind, file: &str, form: FilledIn) -> Result<Value, Error> {
    let name = file.strip_suffix(".toml").unwrap_or(file);
    if form.new && work.has(kind, name) {
        let taken = objections::taken(kind == CardKind::Grinder);
        return Ok(json!({ "objections": [taken] }));
    }
    let saved = match kind {
        CardKind::Grinder => {
            let from = form.from.as_ref().map(|of| of.inspection.as_deref());
            work.save_grinder(name, form.values, form.units, from)?
        }
        _ => work.save(kind, name, &form.values, form.units)?,
    };
    Ok(match saved {
        Ok(file) => json!({ "file": file }),
        Err(objections) => json!({ "objections": objections }),
    })
}

/// The tool that a person chose: a card of the folder, or one that does not exist.
#[derive(Deserialize)]
pub(super) struct ToolChosen {
    tool: Option<String>,
    recipe: Option<String>,
}

impl ToolChosen {
    /// The card's text, and the traces of a recipe.
    fn read(&self, work: &Work) -> Result<(String, Option<Vec<Wanted>>), Error> {
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
        Ok((work.card_text(CardKind::Tool, file)?, None))
    }
}

/// The steps that are suggested for a tool.
pub(super) async fn suggest_plan(
    State(bench): State<Bench>,
    Json(chosen): Json<ToolChosen>,
) -> Answer {
    let file = chosen.tool.clone().unwrap_or("tool.toml".to_owned());
    let work = bench.session.work;
    let read = move |_: &Errand| chosen.read(&work);
    let (text, traces) = bench.disk.ask(of_card(&file), read).await?;
    let tool = ToolCard::parse(&text, &file)?;
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
    let begin = move |session: &Session, errand: &Errand| {
        let begin = asked.with_cards(&session.work)?;
        session.begin(begin, errand)
    };
    bench.change("the cards of a new inspection", begin).await
}

impl BeginAsked {
    /// What is asked for, with the cards that it names.
    fn with_cards(self, work: &Work) -> Result<Begin, Error> {
        let (tool_text, _) = self.chosen.read(work)?;
        let tool = ToolCard::parse(&tool_text, "tool.toml")?;
        let recipe = self.chosen.recipe.as_deref();
        let gauge_text = match &self.gauge {
            Some(file) => work.card_text(CardKind::Gauge, file)?,
            None => instruments::simulated_gauge_card(&tool, recipe)?,
        };
        let grinder = match (&self.grinder, &self.grinder_of) {
            (Some(file), _) => Some(work.grinder_files(file)?),
            (None, Some(of)) => Some(work.grinder_files_of(of.inspection.as_deref())?),
            (None, None) => recipe.and_then(instruments::pretended_grinder),
        };
        let steps = self.steps.into_iter().map(StepAsked::wanted);
        Ok(Begin {
            tool_text,
            gauge_text,
            simulated: self.gauge.is_none(),
            gauge_file: self.gauge,
            grinder,
            operator: self.operator.chars().take(80).collect(),
            customer: filled(&self.customer),
            temperature_c: temperature(self.temperature_c)?,
            stage: match self.stage.as_str() {
                "before-grind" => Stage::BeforeGrind,
                _ => Stage::AfterGrind,
            },
            recipe: self.chosen.recipe,
            steps: steps.collect::<Result<_, _>>()?,
            spacing: Angle::from_deg(self.spacing_deg),
            passes: self.passes,
        })
    }
}
