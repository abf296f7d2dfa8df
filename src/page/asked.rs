//! What every route has at hand: the bench, the units asked for, and work beside the server.

use super::disk::{Disk, Errand};
use super::form::FormUnit;
use super::reply::{Answer, done};
use super::session::Session;
use super::stream::Streams;
use crate::error::Result;
use crate::report::Units;
use serde::Deserialize;
use std::sync::Arc;
use tokio::sync::Semaphore;

#[derive(Clone)]
pub(super) struct Bench {
    pub session: Session,
    pub streams: Streams,
    /// What touches a disk, or may wait for one, is done here.
    pub disk: Disk,
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

impl Bench {
    /// Changes something of what is under way, beside the server.
    pub(super) async fn change(
        &self,
        what: &str,
        change: impl FnOnce(&Session, &Errand) -> Result<()> + Send + 'static,
    ) -> Answer {
        let session = self.session.clone();
        self.disk
            .ask(what, move |errand| change(&session, errand))
            .await?;
        done()
    }
}
