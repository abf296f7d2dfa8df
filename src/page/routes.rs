//! What a page can ask for, and what becomes of it.

use super::asked::{Bench, UnitsAsked};
use super::callers::Caller;
use super::disk::{Disk, Errand};
use super::limits::Limits;
use super::proof::Say;
use super::reply::{Answer, done};
use super::session::Session;
use super::sources::SERVER_QUESTIONS;
use super::stream::{self, Streams};
use super::{archive, assets, beginning, guard, learnt, manual, noted, reports, sent};
use crate::error::{Code, Error};
use crate::inspection::capture::Order;
use crate::inspection::instruments::Choice;
use axum::extract::{DefaultBodyLimit, Path, Query, State};
use axum::response::IntoResponse;
use axum::routing::{get, post};
use axum::{Extension, Json, Router, middleware};
use serde::Deserialize;
use std::sync::Arc;
use tokio::sync::Semaphore;

/// A card is a few thousand bytes; nothing else that is sent is longer, but a photograph.
const LONGEST_BODY: usize = 256 * 1024;

/// Everything that can be asked, behind the guard.
pub(super) fn router(session: Session, guard: guard::Guard, limits: &Limits) -> Router {
    let bench = Bench {
        session,
        streams: Streams::default(),
        disk: Disk::new(limits.disk),
        servers: Arc::new(Semaphore::new(SERVER_QUESTIONS)),
    };
    Router::new()
        .route("/", get(assets::index))
        .route("/assets/{name}", get(assets::file))
        .route("/manual", get(manual::contents))
        .route("/manual/{page}", get(manual::page))
        .route("/manual/pictures/{name}", get(manual::picture))
        .route("/api/here", get(here))
        .route("/api/stream", get(open_stream))
        .route("/api/start", get(beginning::start))
        .route("/api/ports", get(beginning::ports))
        .route(
            "/api/cards/{kind}/{file}",
            get(beginning::card).post(beginning::save_card),
        )
        .route("/api/grinder", get(beginning::grinder_elsewhere))
        .route(
            "/api/grinders/{file}/learnt",
            get(learnt::learnt).post(learnt::change),
        )
        .route("/api/plan", post(beginning::suggest_plan))
        .route("/api/begin", post(beginning::begin))
        .route("/api/resume", post(resume))
        .route("/api/leave", post(leave))
        .route("/api/caution", post(caution))
        .route("/api/connect", post(connect))
        .route("/api/disconnect", post(disconnect))
        .route("/api/take", post(take))
        .route("/api/order/{order}", post(order))
        .route("/api/sense/{say}", post(sense))
        .route("/api/after-break", post(after_break))
        .route("/api/add-step", post(add_step))
        .route("/api/plug", post(plug))
        .route("/api/judge", post(judge))
        .route("/api/keep", post(keep))
        .merge(noted_routes())
        .route("/api/report.svg", get(reports::report_svg))
        .route(
            "/api/inspections/{folder}/report.svg",
            get(reports::folder_report),
        )
        .merge(archive_routes())
        .route("/api/records", get(reports::records))
        .route(
            "/api/records/{bench}/{number}/report.svg",
            get(reports::record_report),
        )
        .layer(DefaultBodyLimit::max(LONGEST_BODY))
        .with_state(bench)
        .layer(middleware::from_fn_with_state(limits.body, sent::in_time))
        .layer(middleware::from_fn_with_state(guard, guard::stand))
}

/// Notes and photographs of the inspection under way.
fn noted_routes() -> Router<Bench> {
    Router::new()
        .route("/api/notes", post(noted::write))
        .route(
            "/api/photographs",
            post(noted::add).layer(DefaultBodyLimit::max(noted::LONGEST_BODY)),
        )
        .route("/api/photographs/{name}", get(noted::photograph))
        .route("/api/photographs/{name}/take-out", post(noted::remove))
}

/// What is read of the archive.
fn archive_routes() -> Router<Bench> {
    Router::new()
        .route("/api/archive/sources", get(archive::sources))
        .route("/api/archive/tools", get(archive::tools))
        .route("/api/archive/tool", get(archive::tool))
        .route("/api/archive/trend", get(archive::trend))
        .route("/api/archive/compare", get(archive::compare))
        .route("/api/archive/certificate", get(archive::certificate))
        .route("/api/archive/record", get(archive::record))
        .route("/api/archive/photograph", get(archive::photograph))
        .route("/api/archive/unkept", get(archive::unkept))
}

/// Whether the bench knows a page: its stream alone cannot say why it was refused.
async fn here() -> Answer {
    done()
}

async fn open_stream(
    State(bench): State<Bench>,
    Extension(caller): Extension<Caller>,
    Query(asked): Query<UnitsAsked>,
) -> impl IntoResponse {
    stream::open(bench.session, bench.streams, caller, asked.units())
}

/// What most changes touch, in words.
const UNDER_WAY: &str = "the inspection under way";

#[derive(Deserialize)]
struct FolderAsked {
    folder: String,
}

async fn resume(State(bench): State<Bench>, Json(asked): Json<FolderAsked>) -> Answer {
    let what = format!("the inspection {}", asked.folder.escape_debug());
    let resume = move |session: &Session, errand: &_| session.resume(&asked.folder, errand);
    bench.change(&what, resume).await
}

async fn leave(State(bench): State<Bench>) -> Answer {
    let leave = |session: &Session, _: &_| {
        session.leave();
        Ok(())
    };
    bench.change("the inspection to be left", leave).await
}

async fn caution(State(bench): State<Bench>) -> Answer {
    bench
        .change(UNDER_WAY, |session, _| session.caution())
        .await
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
    let connect = move |session: &Session, _: &_| {
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
    };
    bench.change(UNDER_WAY, connect).await
}

async fn disconnect(State(bench): State<Bench>) -> Answer {
    bench
        .change(UNDER_WAY, |session, _| session.disconnect())
        .await
}

#[derive(Deserialize)]
struct StepChosen {
    step: usize,
}

async fn take(State(bench): State<Bench>, Json(chosen): Json<StepChosen>) -> Answer {
    let take = move |session: &Session, _: &_| session.take(chosen.step);
    bench.change(UNDER_WAY, take).await
}

async fn order(State(bench): State<Bench>, Path(order): Path<String>) -> Answer {
    let order = match order.as_str() {
        "set" => Order::Set { rezeroed: false },
        "set-anew" => Order::Set { rezeroed: true },
        "enough" => Order::Enough,
        "give-up" => Order::GiveUp,
        _ => return Err(Error::new(Code::Usage, "read another order").into()),
    };
    let give = move |session: &Session, _: &_| session.order(order);
    bench.change(UNDER_WAY, give).await
}

async fn sense(State(bench): State<Bench>, Path(say): Path<String>) -> Answer {
    let say = match say.as_str() {
        "prove" => Say::Wanted,
        "keep" => Say::Keep,
        "again" => Say::Again,
        "leave" => Say::Leave,
        _ => return Err(Error::new(Code::Usage, "read another word").into()),
    };
    let tell = move |session: &Session, _: &_| session.say_to_proof(say);
    bench.change("the gauge's card", tell).await
}

async fn add_step(State(bench): State<Bench>, Json(asked): Json<beginning::StepAsked>) -> Answer {
    let wanted = asked.wanted()?;
    let add = move |session: &Session, _: &_| session.add_step(wanted);
    bench.change(UNDER_WAY, add).await
}

#[derive(Deserialize)]
struct Clamping {
    as_it_was: bool,
}

async fn after_break(State(bench): State<Bench>, Json(said): Json<Clamping>) -> Answer {
    let go_on = move |session: &Session, _: &_| session.after_break(said.as_it_was);
    bench.change(UNDER_WAY, go_on).await
}

#[derive(Deserialize)]
struct Plug {
    pulled: bool,
}

async fn plug(State(bench): State<Bench>, Json(plug): Json<Plug>) -> Answer {
    let pull = move |session: &Session, _: &_| session.unplug(plug.pulled);
    bench.change(UNDER_WAY, pull).await
}

async fn judge(State(bench): State<Bench>) -> Answer {
    bench.change(UNDER_WAY, |session, _| session.judge()).await
}

async fn keep(State(bench): State<Bench>) -> Answer {
    let keep = |session: &Session, errand: &Errand| session.keep(errand);
    bench.change("the archive to keep it in", keep).await
}
