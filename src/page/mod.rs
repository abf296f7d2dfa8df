//! The live bench page: a face that guides the hand from a tool card to a printed report.
//!
//! One inspection is under way at a time, and every page shows the same one. What is done to it goes
//! through [`capture_led`](crate::inspection::capture::capture_led), so that a page that is closed or
//! reloaded, or two of them, change nothing of what is captured. A stream of events tells each page
//! how things stand; requests ask for changes. All of the page's files are in the program, and it
//! needs no network but the way between the browser and this server.

mod archive;
mod asked;
mod assets;
mod beginning;
mod beside;
mod dialled;
mod earlier;
mod form;
mod grinders;
mod guard;
mod hearing;
mod job;
mod judged;
mod judging;
mod learnt;
mod lines;
mod manual;
mod noted;
mod objections;
mod problem;
mod proof;
mod proving;
mod reply;
mod reports;
mod routes;
mod session;
mod shown;
mod sources;
mod stream;
mod work;

use crate::error::{Code, Error, Result, reason};
use crate::record::archive::Place;
use std::future::Future;
use std::net::SocketAddr;
use std::path::PathBuf;

/// How the page is served.
#[derive(Clone, Debug)]
pub struct PageSettings {
    /// Where to listen; port 0 takes a free one.
    pub address: SocketAddr,
    /// What a browser has to show. Needed wherever other computers can reach the address.
    pub token: Option<String>,
    /// The folder to work in: cards and inspections.
    pub folder: PathBuf,
    /// The archive that judged inspections are kept in.
    pub archive: Place,
}

/// Serves the page until `stop` comes to pass. `ready` is told the address once it can be opened.
/// What is under way then is ended: the port is closed, and what was read is whole on disk.
///
/// # Errors
/// `usage` where other computers could reach the page without a token, `disk` where the folder
/// cannot be made or the address cannot be listened on.
pub fn serve(
    settings: &PageSettings,
    ready: impl FnOnce(SocketAddr),
    stop: impl Future<Output = ()>,
) -> Result<()> {
    if settings.token.is_none() && !settings.address.ip().is_loopback() {
        let message = format!(
            "{} can be reached by other computers, and no token is asked for",
            settings.address.ip()
        );
        return Err(
            Error::new(Code::Usage, message).help("give a token, or listen on 127.0.0.1 alone")
        );
    }
    let work = work::Work::open(&settings.folder)?;
    let session = session::Session::new(work, settings.archive.clone());
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|fault| Error::internal("cannot serve", fault))?;
    let ended = runtime.block_on(listen(settings, session.clone(), ready, stop));
    session.leave();
    // What a stream or a slow request still holds is not waited for.
    runtime.shutdown_background();
    ended
}

async fn listen(
    settings: &PageSettings,
    session: session::Session,
    ready: impl FnOnce(SocketAddr),
    stop: impl Future<Output = ()>,
) -> Result<()> {
    let refused = |fault: std::io::Error| {
        let message = format!("cannot listen on {}: {}", settings.address, reason(&fault));
        Error::new(Code::Disk, message)
            .help("another program may use the port: choose one with `--port`")
    };
    let listener = tokio::net::TcpListener::bind(settings.address)
        .await
        .map_err(refused)?;
    let address = listener.local_addr().map_err(refused)?;
    let guard = guard::Guard::new(address, settings.token.as_deref());
    let router = routes::router(session, guard);
    ready(address);
    let service = router.into_make_service_with_connect_info::<SocketAddr>();
    tokio::select! {
        ended = axum::serve(listener, service) => ended.map_err(refused),
        () = stop => Ok(()),
    }
}
