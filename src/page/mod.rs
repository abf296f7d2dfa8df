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
mod callers;
mod dialled;
mod disk;
mod earlier;
mod entrance;
mod form;
mod grinders;
mod guard;
mod hearing;
mod job;
mod judged;
mod judging;
mod learnt;
mod limits;
mod lines;
mod manual;
mod noted;
mod objections;
mod problem;
mod proof;
mod proving;
mod reads;
mod reply;
mod reports;
mod routes;
mod sent;
mod session;
mod shown;
mod sources;
mod stream;
mod token;
mod work;

pub use limits::Limits;
pub use token::Token;

use crate::error::{Code, Error, Result, reason};
use crate::record::archive::Place;
use std::future::Future;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::mpsc::sync_channel;
use std::time::Duration;

/// How the page is served.
#[derive(Clone, Debug)]
pub struct PageSettings {
    /// Where to listen; port 0 takes a free one.
    pub address: SocketAddr,
    /// What a browser has to show: another program or person reaches the address too, on this computer
    /// alone as well.
    pub token: Token,
    /// The folder to work in: cards and inspections.
    pub folder: PathBuf,
    /// The archive that judged inspections are kept in.
    pub archive: Place,
    /// How long is waited, and for how many.
    pub limits: Limits,
}

/// What is under way is ended within this time, or left as it is: a disk may never answer.
const ENDS_WITHIN: Duration = Duration::from_secs(30);

/// Serves the page until `stop` comes to pass. `ready` is told the address once it can be opened.
/// What is under way then is ended: the port is closed, and what was read is whole on disk.
///
/// # Errors
/// `disk` where the folder cannot be made or the address cannot be listened on.
pub fn serve(
    settings: &PageSettings,
    ready: impl FnOnce(SocketAddr),
    stop: impl Future<Output = ()>,
) -> Result<()> {
    let reads = reads::Reads::new(settings.limits.file);
    let work = work::Work::open(&settings.folder, reads)?;
    let session = session::Session::new(work, settings.archive.clone());
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|fault| Error::internal("cannot serve", fault))?;
    let ended = runtime.block_on(listen(settings, session.clone(), ready, stop));
    leave(session);
    // What a stream or a slow request still holds is not waited for.
    runtime.shutdown_background();
    ended
}

/// Ends what is under way, as far as the disk lets it.
fn leave(session: session::Session) {
    let (tell, told) = sync_channel::<()>(1);
    let work = move || {
        session.leave();
        drop(tell);
    };
    let thread = std::thread::Builder::new().name("leave".to_owned());
    if thread.spawn(work).is_ok() {
        let _ = told.recv_timeout(ENDS_WITHIN);
    }
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
    let listener = entrance::listen(settings.address).map_err(refused)?;
    let address = listener.local_addr().map_err(refused)?;
    let guard = guard::Guard::new(address, settings.token.clone());
    let router = routes::router(session, guard, &settings.limits);
    ready(address);
    tokio::select! {
        never = entrance::receive(listener, router, &settings.limits) => match never {},
        () = stop => Ok(()),
    }
}
