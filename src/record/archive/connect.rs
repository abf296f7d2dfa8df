//! Finding and entering a server, and what it says without being asked.

use super::wire::{GaveUp, Peer, Pulse, SILENCE, Wire};
use std::future::poll_fn;
use std::io;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use tokio::net::lookup_host;
use tokio::task::JoinHandle;
use tokio::time::timeout;
use tokio_postgres::config::{Host, TargetSessionAttrs};
use tokio_postgres::tls::NoTlsStream;
use tokio_postgres::{AsyncMessage, Client, Config, Connection, NoTls, SimpleQueryMessage};

/// Why there is no connection, or none any more.
pub(super) enum Lost {
    Said(tokio_postgres::Error),
    System(io::Error),
    Silent(GaveUp),
    /// Of a server that may not be written to, or that may.
    Wrong(&'static str),
}

impl From<tokio_postgres::Error> for Lost {
    fn from(fault: tokio_postgres::Error) -> Self {
        Lost::Said(fault)
    }
}

impl From<io::Error> for Lost {
    fn from(fault: io::Error) -> Self {
        Lost::System(fault)
    }
}

/// What a server said without being asked.
#[derive(Default)]
pub(super) struct Told {
    /// Remarks, the severity before each.
    pub notices: Vec<String>,
    /// Why it hung up.
    pub ended: Option<tokio_postgres::Error>,
}

/// So many remarks are kept.
const REMARKS: usize = 200;

#[derive(Clone, Default)]
pub(super) struct Ear(Arc<Mutex<Told>>);

impl Ear {
    pub(super) fn told(&self) -> MutexGuard<'_, Told> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A connection that was let in.
pub(super) struct Entered {
    pub client: Client,
    pub connection: JoinHandle<()>,
    pub pulse: Pulse,
    pub peer: Peer,
    pub ear: Ear,
}

/// Connects to the first server of the address that lets anybody in.
pub(super) async fn enter(config: &Config) -> Result<Entered, Lost> {
    let mut lost = None;
    for at in 0..config.get_hosts().len().max(config.get_hostaddrs().len()) {
        match enter_one(config, at).await {
            Ok(entered) => return Ok(entered),
            Err(why) => lost = Some(why),
        }
    }
    Err(lost.unwrap_or_else(|| nowhere().into()))
}

fn nowhere() -> io::Error {
    io::Error::new(io::ErrorKind::NotFound, "its name leads nowhere")
}

/// Connects to the server at this place of the address.
async fn enter_one(config: &Config, at: usize) -> Result<Entered, Lost> {
    let given = config.get_connect_timeout().copied();
    let patience = given.unwrap_or(SILENCE).min(SILENCE);
    let silent = GaveUp {
        waited: patience,
        lives: false,
    };
    let found = timeout(patience, peers(config, at)).await;
    let mut lost = Lost::from(nowhere());
    for peer in found.map_err(|_| Lost::Silent(silent))?? {
        let pulse = Pulse::new();
        let wire = match timeout(patience, peer.wire(&pulse)).await {
            Ok(Ok(wire)) => wire,
            Ok(Err(fault)) => {
                lost = fault.into();
                continue;
            }
            Err(_) => {
                lost = Lost::Silent(silent);
                continue;
            }
        };
        match let_in(config, wire, &pulse, patience).await {
            Ok((client, connection)) => {
                let ear = Ear::default();
                let connection = tokio::spawn(listen(connection, ear.clone()));
                let entered = Entered {
                    client,
                    connection,
                    pulse,
                    peer,
                    ear,
                };
                right_one(config, &entered, patience).await?;
                return Ok(entered);
            }
            Err(why) => lost = why,
        }
    }
    Err(lost)
}

/// Where the server at this place of the address may be.
async fn peers(config: &Config, at: usize) -> io::Result<Vec<Peer>> {
    const USUAL_PORT: u16 = 5432;
    let ports = config.get_ports();
    let port = ports.get(at).or(ports.first()).copied();
    let port = port.unwrap_or(USUAL_PORT);
    if let Some(address) = config.get_hostaddrs().get(at) {
        return Ok(vec![Peer::Tcp((*address, port).into())]);
    }
    match config.get_hosts().get(at) {
        Some(Host::Tcp(name)) => {
            let found = lookup_host((name.as_str(), port)).await?;
            Ok(found.map(Peer::Tcp).collect())
        }
        #[cfg(unix)]
        Some(Host::Unix(folder)) => Ok(vec![Peer::Unix(folder.join(format!(".s.PGSQL.{port}")))]),
        None => Ok(Vec::new()),
    }
}

type Line = Connection<Wire, NoTlsStream>;

async fn let_in(
    config: &Config,
    wire: Wire,
    pulse: &Pulse,
    patience: Duration,
) -> Result<(Client, Line), Lost> {
    tokio::select! {
        entered = config.connect_raw(wire, NoTls) => Ok(entered?),
        () = pulse.stands_for(patience) => Err(Lost::Silent(GaveUp { waited: patience, lives: false })),
    }
}

/// Refuses a server of another kind than the address asks for.
async fn right_one(config: &Config, entered: &Entered, patience: Duration) -> Result<(), Lost> {
    let wanted = config.get_target_session_attrs();
    if wanted == TargetSessionAttrs::Any {
        return Ok(());
    }
    let asked = tokio::select! {
        said = entered.client.simple_query("show transaction_read_only") => said?,
        () = entered.pulse.stands_for(patience) => {
            return Err(Lost::Silent(GaveUp { waited: patience, lives: false }));
        }
    };
    let read_only = asked.iter().any(|message| match message {
        SimpleQueryMessage::Row(row) => row.try_get(0).is_ok_and(|said| said == Some("on")),
        _ => false,
    });
    match (wanted, read_only) {
        (TargetSessionAttrs::ReadWrite, true) => Err(Lost::Wrong("it may only be read")),
        (TargetSessionAttrs::ReadOnly, false) => Err(Lost::Wrong("it may be written to")),
        _ => Ok(()),
    }
}

/// Carries what goes to and fro, and keeps what is said unasked.
async fn listen(mut connection: Line, ear: Ear) {
    while let Some(said) = poll_fn(|cx| connection.poll_message(cx)).await {
        match said {
            Ok(AsyncMessage::Notice(notice)) => {
                let mut told = ear.told();
                if told.notices.len() < REMARKS {
                    let severity = notice.severity().to_lowercase();
                    let remark = format!("{severity}: {}", notice.message());
                    told.notices.push(remark);
                }
            }
            Ok(_) => {}
            Err(fault) => {
                ear.told().ended = Some(fault);
                return;
            }
        }
    }
}
