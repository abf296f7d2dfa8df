//! What every route has at hand: the bench, the units asked for, and work beside the server.

use super::form::FormUnit;
use super::reply::{Answer, done};
use super::session::Session;
use super::stream::Streams;
use crate::error::{Error, Result};
use crate::report::Units;
use serde::Deserialize;
use std::sync::Arc;
use tokio::sync::Semaphore;

#[derive(Clone)]
pub(super) struct Bench {
    pub session: Session,
    pub streams: Streams,
    /// How many more questions may wait for a server.
    pub servers: Arc<Semaphore>,
}

#[derive(Deserialize)]
pub(super) struct UnitsAsked {
    #[serde(default)]
    units: Option<FormUnit>,
}

impl UnitsAsked {
    pub(super) fn units(&self) -> Units {
        shown_in(self.units)
    }
}

/// The units that figures are shown in.
pub(super) fn shown_in(asked: Option<FormUnit>) -> Units {
    match asked {
        Some(FormUnit::In) => Units::Inch,
        _ => Units::Metric,
    }
}

/// Does what may take a while beside the server.
pub(super) async fn blocking(work: impl FnOnce() -> Result<()> + Send + 'static) -> Answer {
    tokio::task::spawn_blocking(work).await.map_err(ended)??;
    done()
}

pub(super) fn ended(fault: tokio::task::JoinError) -> Error {
    Error::internal("the work ended early", fault)
}
