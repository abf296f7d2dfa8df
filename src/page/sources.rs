//! Which archive a page asks for, and opening it: a server that is silent is told of within seconds,
//! and holds up nobody else.

use super::asked::Bench;
use super::disk::{Errand, ended};
use super::session::Session;
use crate::error::{Code, Error, Result};
use crate::record::archive::{Archive, Place};
use crate::report;
use serde::Deserialize;
use serde_json::{Value, json};
use std::time::Duration;
use tokio::sync::oneshot;
use tokio::task::{JoinHandle, spawn_blocking};
use tokio::time::timeout;

/// An archive, by a word: a page never names a file or a server.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Source {
    /// What this bench keeps.
    Bench,
    /// The server that the benches of a shop copy their records to.
    Shared,
    /// What the page keeps of simulated inspections.
    Simulated,
}

/// A server that does not let anybody in within this time is told of.
const OPENS_WITHIN: Duration = Duration::from_secs(6);
/// One that does, and then falls silent.
const ANSWERS_WITHIN: Duration = Duration::from_secs(60);
/// So many questions wait for a server at most; those that come after are refused at once.
pub(super) const SERVER_QUESTIONS: usize = 4;

impl Session {
    /// Where it is.
    fn place_of(&self, source: Source) -> Result<Place> {
        let own = self.archive(source == Source::Simulated);
        if source != Source::Shared || matches!(own, Place::Server(_)) {
            return Ok(own);
        }
        match self.shared(&own)? {
            Some(server) => Ok(server),
            None => Err(Error::new(Code::Usage, "this bench names no shared server")
                .help("`heelclear archive push ADDRESS --always` names one")),
        }
    }

    /// The server that the bench's own file names, where it does.
    fn shared(&self, own: &Place) -> Result<Option<Place>> {
        match own {
            Place::File(path) if path.exists() => Archive::open(own, report::svg_by)?.pushes_to(),
            _ => Ok(None),
        }
    }

    /// The archives that there are to look into, the first of them first.
    pub(super) fn sources(&self) -> Result<Value> {
        let own = self.archive(false);
        let line = |source: &str, place: &Place| {
            let there = match place {
                Place::File(path) => path.exists(),
                Place::Server(_) => true,
            };
            json!({ "source": source, "place": place.to_string(), "there": there })
        };
        let mut sources = match &own {
            Place::Server(_) => vec![line("shared", &own)],
            Place::File(_) => {
                let shared = self.shared(&own)?;
                let shared = shared.map(|server| line("shared", &server));
                std::iter::once(line("bench", &own)).chain(shared).collect()
            }
        };
        sources.push(line("simulated", &self.archive(true)));
        Ok(json!({ "sources": sources }))
    }
}

/// Does something with an archive beside the server; nothing where there is no file yet.
pub(super) async fn with_archive<T: Send + 'static>(
    bench: &Bench,
    source: Source,
    work: impl FnOnce(&mut Archive) -> Result<T> + Send + 'static,
) -> Result<Option<T>> {
    let own = bench.session.archive(source == Source::Simulated);
    let server = source == Source::Shared || matches!(own, Place::Server(_));
    let session = bench.session.clone();
    if !server {
        let what = format!("the archive {own}");
        let look = move |errand: &Errand| {
            let answered = || errand.answered();
            looked_into(&session, source, answered, work)
        };
        return bench.disk.ask(what, look).await;
    }
    let free = bench.servers.clone().try_acquire_owned();
    let permit = free.map_err(|_| silent("has not answered earlier questions yet"))?;
    let (tell, opened) = oneshot::channel();
    let task: JoinHandle<Result<Option<T>>> = spawn_blocking(move || {
        // Given back when the thread ends: soon after a server falls silent, which is given up then.
        let _permit = permit;
        let answered = || {
            // Whoever waits for it may have given up.
            let _ = tell.send(());
        };
        looked_into(&session, source, answered, work)
    });
    let late = |within: Duration| silent(&format!("did not answer within {} s", within.as_secs()));
    // That it could not be opened is told by the task itself.
    let waited = timeout(OPENS_WITHIN, opened).await;
    let _ = waited.map_err(|_| late(OPENS_WITHIN))?;
    let answered = timeout(ANSWERS_WITHIN, task).await;
    answered.map_err(|_| late(ANSWERS_WITHIN))?.map_err(ended)?
}

/// Opens an archive, says so, and does something with it; nothing where there is no file yet.
fn looked_into<T>(
    session: &Session,
    source: Source,
    answered: impl FnOnce(),
    work: impl FnOnce(&mut Archive) -> Result<T>,
) -> Result<Option<T>> {
    let place = session.place_of(source)?;
    if matches!(&place, Place::File(path) if !path.exists()) {
        return Ok(None);
    }
    let mut archive = Archive::open(&place, report::svg_by)?;
    answered();
    work(&mut archive).map(Some)
}

fn silent(how: &str) -> Error {
    Error::new(Code::ArchiveServer, format!("the server {how}")).help(
        "check that it runs and that the network is there; this bench's own file has everything that was kept here",
    )
}
