//! What a page can ask for, and what becomes of it.

use super::form::{self, FormUnit};
use super::reply::{Answer, Refusal, done};
use super::session::{Begin, Judging, Session};
use super::stream::{self, Streams};
use super::work::CardKind;
use super::{assets, earlier, guard};
use crate::card::{Role, Stage, ToolCard, keys};
use crate::error::{Code, Error};
use crate::inspection::capture::{Order, Wanted};
use crate::inspection::instruments::{self, Choice};
use crate::inspection::live::{CAUTIONS, Plan};
use crate::quantity::{Angle, Length};
use crate::report::{self, Units};
use axum::extract::{ConnectInfo, DefaultBodyLimit, Path, Query, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Json, Router, middleware};
use serde::Deserialize;
use serde_json::{Map, Value, json};
use std::net::SocketAddr;

/// A card is a few thousand bytes; nothing else that is sent is longer.
const LONGEST_BODY: usize = 256 * 1024;

#[derive(Clone)]
struct Bench {
    session: Session,
    streams: Streams,
}

/// Everything that can be asked, behind the guard.
pub(super) fn router(session: Session, guard: guard::Guard) -> Router {
    let bench = Bench {
        session,
        streams: Streams::default(),
    };
    Router::new()
        .route("/", get(assets::index))
        .route("/assets/{name}", get(assets::file))
        .route("/api/stream", get(open_stream))
        .route("/api/start", get(start))
        .route("/api/ports", get(ports))
        .route("/api/cards/{kind}/{file}", get(card).post(save_card))
        .route("/api/plan", post(suggest_plan))
        .route("/api/begin", post(begin))
        .route("/api/resume", post(resume))
        .route("/api/leave", post(leave))
        .route("/api/caution", post(caution))
        .route("/api/connect", post(connect))
        .route("/api/disconnect", post(disconnect))
        .route("/api/take", post(take))
        .route("/api/order/{order}", post(order))
        .route("/api/plug", post(plug))
        .route("/api/judge", post(judge))
        .route("/api/keep", post(keep))
        .route("/api/report.svg", get(report_svg))
        .route("/api/inspections/{folder}/report.svg", get(folder_report))
        .route("/api/records", get(records))
        .route(
            "/api/records/{bench}/{number}/report.svg",
            get(record_report),
        )
        .layer(DefaultBodyLimit::max(LONGEST_BODY))
        .with_state(bench)
        .layer(middleware::from_fn_with_state(guard, guard::stand))
}

#[derive(Deserialize)]
struct UnitsAsked {
    #[serde(default)]
    units: Option<FormUnit>,
}

impl UnitsAsked {
    fn units(&self) -> Units {
        match self.units {
            Some(FormUnit::In) => Units::Inch,
            _ => Units::Metric,
        }
    }
}

async fn open_stream(
    State(bench): State<Bench>,
    ConnectInfo(from): ConnectInfo<SocketAddr>,
    Query(asked): Query<UnitsAsked>,
) -> impl IntoResponse {
    stream::open(bench.session, bench.streams, from.ip(), asked.units())
}

/// What the start of the page shows.
async fn start(State(bench): State<Bench>) -> Answer {
    let work = &bench.session.work;
    let pretended = instruments::pretended().into_iter().filter_map(|tool| {
        let card = ToolCard::parse(&tool.tool_card, "tool.toml").ok()?;
        let about = tool.about;
        Some(json!({ "recipe": tool.recipe, "about": about, "id": card.id, "name": card.name, "flutes": card.flutes }))
    });
    Ok(Json(json!({
        "dir": work.dir().display().to_string(),
        "tools": work.cards(CardKind::Tool)?,
        "gauges": work.cards(CardKind::Gauge)?,
        "inspections": work.inspections()?,
        "pretended": pretended.collect::<Vec<_>>(),
        "cautions": CAUTIONS,
        "keys": { "tool": form::described(keys::TOOL), "gauge": form::described(keys::GAUGE) },
    })))
}

async fn ports() -> Answer {
    let ports = instruments::ports()?.into_iter();
    let ports = ports.map(|port| json!({ "name": port.name, "about": port.about }));
    Ok(Json(json!({ "ports": ports.collect::<Vec<_>>() })))
}

fn card_kind(name: &str) -> Result<CardKind, Error> {
    match name {
        "tool" => Ok(CardKind::Tool),
        "gauge" => Ok(CardKind::Gauge),
        _ => Err(Error::new(
            Code::Usage,
            "read another kind of card, expected `tool` or `gauge`",
        )),
    }
}

async fn card(State(bench): State<Bench>, Path((kind, file)): Path<(String, String)>) -> Answer {
    let form = bench.session.work.card_form(card_kind(&kind)?, &file)?;
    Ok(Json(json!({ "file": file, "values": form })))
}

#[derive(Deserialize)]
struct FilledIn {
    units: FormUnit,
    values: Map<String, Value>,
}

async fn save_card(
    State(bench): State<Bench>,
    Path((kind, file)): Path<(String, String)>,
    Json(form): Json<FilledIn>,
) -> Answer {
    let kind = card_kind(&kind)?;
    let name = file.strip_suffix(".toml").unwrap_or(&file);
    let saved = bench
        .session
        .work
        .save(kind, name, &form.values, form.units)?;
    Ok(Json(match saved {
        Ok(file) => json!({ "file": file }),
        Err(objections) => json!({ "objections": objections }),
    }))
}

/// The tool that a person chose: a card of the folder, or one that does not exist.
#[derive(Deserialize)]
struct ToolChosen {
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
async fn suggest_plan(State(bench): State<Bench>, Json(chosen): Json<ToolChosen>) -> Answer {
    let (text, traces) = chosen.read(&bench.session)?;
    let tool = ToolCard::parse(&text, chosen.tool.as_deref().unwrap_or("tool.toml"))?;
    let wanted = traces.unwrap_or_else(|| {
        let plan = Plan::for_tool(&tool, Angle::from_deg(0.5), 2);
        plan.steps.into_iter().map(|step| step.wanted).collect()
    });
    let steps = wanted.iter().map(|wanted| {
        json!({
            "feature": match &wanted.role { Role::Reference => None, Role::Feature(name) => Some(name) },
            "z_mm": wanted.z.map(Length::mm),
            "diameter_mm": wanted.diameter.map(Length::mm),
            "rezeroed": wanted.rezeroed,
        })
    });
    let features = tool.features.iter().map(|feature| &feature.name);
    Ok(Json(json!({
        "id": tool.id,
        "name": tool.name,
        "features": features.collect::<Vec<_>>(),
        "steps": steps.collect::<Vec<_>>(),
    })))
}

#[derive(Deserialize)]
struct StepAsked {
    feature: Option<String>,
    z_mm: Option<f64>,
    diameter_mm: Option<f64>,
    #[serde(default)]
    rezeroed: bool,
}

#[derive(Deserialize)]
struct BeginAsked {
    #[serde(flatten)]
    chosen: ToolChosen,
    gauge: Option<String>,
    #[serde(default)]
    operator: String,
    stage: String,
    steps: Vec<StepAsked>,
    spacing_deg: f64,
    passes: u32,
}

impl StepAsked {
    fn wanted(self) -> Result<Wanted, Error> {
        let within = |mm: Option<f64>, most: f64| match mm {
            Some(mm) if !(mm.is_finite() && mm.abs() <= most) => Err(Error::new(
                Code::Usage,
                format!("read a distance of {mm} mm, expected at most {most} mm"),
            )),
            mm => Ok(mm.map(Length::from_mm)),
        };
        Ok(Wanted {
            z: within(self.z_mm, 2000.0)?,
            diameter: within(self.diameter_mm.filter(|mm| *mm > 0.0), 2000.0)?,
            role: self.feature.map_or(Role::Reference, Role::Feature),
            rezeroed: self.rezeroed,
        })
    }
}

async fn begin(State(bench): State<Bench>, Json(asked): Json<BeginAsked>) -> Answer {
    let session = bench.session;
    let (tool_text, _) = asked.chosen.read(&session)?;
    let tool = ToolCard::parse(&tool_text, "tool.toml")?;
    let gauge_text = match &asked.gauge {
        Some(file) => session.work.card_text(CardKind::Gauge, file)?,
        None => instruments::simulated_gauge_card(&tool, asked.chosen.recipe.as_deref())?,
    };
    let steps = asked.steps.into_iter().map(StepAsked::wanted);
    let begin = Begin {
        tool_text,
        gauge_text,
        operator: asked.operator.chars().take(80).collect(),
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

#[derive(Deserialize)]
struct FolderAsked {
    folder: String,
}

async fn resume(State(bench): State<Bench>, Json(asked): Json<FolderAsked>) -> Answer {
    blocking(move || bench.session.resume(&asked.folder)).await
}

async fn leave(State(bench): State<Bench>) -> Answer {
    blocking(move || {
        bench.session.leave();
        Ok(())
    })
    .await
}

async fn caution(State(bench): State<Bench>) -> Answer {
    bench.session.caution()?;
    done()
}

#[derive(Deserialize)]
#[serde(untagged)]
enum ChoiceAsked {
    Ports {
        port: String,
        encoder_port: Option<String>,
    },
    Simulated {
        faster: f64,
    },
}

async fn connect(State(bench): State<Bench>, Json(asked): Json<ChoiceAsked>) -> Answer {
    let session = bench.session;
    blocking(move || {
        session.connect(match asked {
            ChoiceAsked::Ports { port, encoder_port } => Choice::Ports {
                indicator: port,
                encoder: encoder_port.filter(|port| !port.is_empty()),
            },
            ChoiceAsked::Simulated { faster } => Choice::Simulated {
                recipe: session.recipe(),
                faster,
            },
        })
    })
    .await
}

async fn disconnect(State(bench): State<Bench>) -> Answer {
    blocking(move || bench.session.disconnect()).await
}

#[derive(Deserialize)]
struct StepChosen {
    step: usize,
}

async fn take(State(bench): State<Bench>, Json(chosen): Json<StepChosen>) -> Answer {
    bench.session.take(chosen.step)?;
    done()
}

async fn order(State(bench): State<Bench>, Path(order): Path<String>) -> Answer {
    let order = match order.as_str() {
        "set" => Order::Set,
        "enough" => Order::Enough,
        "give-up" => Order::GiveUp,
        _ => return Err(Error::new(Code::Usage, "read another order").into()),
    };
    bench.session.order(order)?;
    done()
}

#[derive(Deserialize)]
struct Plug {
    pulled: bool,
}

async fn plug(State(bench): State<Bench>, Json(plug): Json<Plug>) -> Answer {
    bench.session.unplug(plug.pulled)?;
    done()
}

async fn judge(State(bench): State<Bench>) -> Answer {
    bench.session.judge()?;
    done()
}

async fn keep(State(bench): State<Bench>) -> Answer {
    blocking(move || bench.session.keep()).await
}

async fn report_svg(
    State(bench): State<Bench>,
    Query(asked): Query<UnitsAsked>,
) -> Result<Response, Refusal> {
    let record = match bench.session.state().job.as_ref().map(|job| &job.judging) {
        Some(Judging::Done(record)) => record.clone(),
        _ => return Err(Error::new(Code::Missing, "nothing is judged yet").into()),
    };
    Ok(svg(report::svg_in(&record, asked.units())?.into_bytes()))
}

async fn folder_report(
    State(bench): State<Bench>,
    Path(folder): Path<String>,
) -> Result<Response, Refusal> {
    let folder = bench.session.work.inspection(&folder)?;
    let read = std::fs::read(folder.join("report.svg"));
    let none = |_| {
        Error::new(
            Code::Missing,
            "this inspection has no report: it was not judged",
        )
    };
    Ok(svg(read.map_err(none)?))
}

#[derive(Deserialize)]
struct RecordsAsked {
    tool: Option<String>,
    text: Option<String>,
    #[serde(default)]
    try_out: bool,
}

async fn records(State(bench): State<Bench>, Query(asked): Query<RecordsAsked>) -> Answer {
    let place = bench.session.archive(asked.try_out);
    let filled = |text: Option<String>| text.filter(|text| !text.trim().is_empty());
    let find = move || earlier::find(&place, filled(asked.tool), filled(asked.text));
    let found = tokio::task::spawn_blocking(find).await.map_err(ended)??;
    Ok(Json(json!({ "records": found })))
}

#[derive(Deserialize)]
struct TryOut {
    #[serde(default)]
    try_out: bool,
}

async fn record_report(
    State(bench): State<Bench>,
    Path((of, number)): Path<(String, i64)>,
    Query(asked): Query<TryOut>,
) -> Result<Response, Refusal> {
    let place = bench.session.archive(asked.try_out);
    let load = move || earlier::report(&place, of, number);
    let bytes = tokio::task::spawn_blocking(load).await.map_err(ended)??;
    Ok(svg(bytes))
}

/// A report has its styles in itself, and may do nothing else.
fn svg(bytes: Vec<u8>) -> Response {
    let headers = [
        (header::CONTENT_TYPE, "image/svg+xml"),
        (
            header::CONTENT_SECURITY_POLICY,
            "default-src 'none'; style-src 'unsafe-inline'; sandbox",
        ),
    ];
    (headers, bytes).into_response()
}

/// Does what may take a while beside the server.
async fn blocking(work: impl FnOnce() -> crate::error::Result<()> + Send + 'static) -> Answer {
    tokio::task::spawn_blocking(work).await.map_err(ended)??;
    done()
}

fn ended(fault: tokio::task::JoinError) -> Error {
    Error::new(Code::Internal, format!("the work ended early: {fault}"))
}
