//! The archive of a whole shop: PostgreSQL, which benches copy their records to.

use super::address::{self, TUNNEL};
use super::connect::{Ear, Lost, enter};
use super::store::{Cell, Dialect, Row, Store, Value, within};
use super::wire::{FOR_A_QUESTION, FOR_THE_TABLES, Peer, Pulse};
use crate::error::{Code, Error, Result};
use bytes::BytesMut;
use futures_util::TryStreamExt;
use std::collections::HashMap;
use std::error::Error as StdError;
use std::future::Future;
use std::io;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;
use tokio::runtime::{Builder, Runtime};
use tokio::task::JoinHandle;
use tokio::time::timeout;
use tokio_postgres::error::{DbError, SqlState};
use tokio_postgres::types::{IsNull, ToSql, Type, to_sql_checked};
use tokio_postgres::{Client, Statement};

/// The tables have a place of their own in the database, beside whatever else is in it.
pub(super) const SCHEMA: &str = "heelclear";

/// The role that owns them on a server that was set up.
pub(super) const OWNER: &str = "heelclear_owner";

/// The lock on the tables themselves, by a number that nobody else in the database should use:
/// `hclr`.
pub(super) const TABLES: i64 = 0x6863_6c72;

/// Its words for a table.
pub(super) const DIALECT: Dialect = Dialect {
    int: "bigint",
    bytes: "bytea",
    table: "",
};

/// What holds while this program is connected: another's lock is waited for so long, and what a
/// bench began and does not go on with is undone by the server, or it would hold up the others.
const MANNERS: &str = "
set search_path to heelclear;
set lock_timeout = '30s';
set idle_in_transaction_session_timeout = '60s'";

/// How long a good-bye may take.
const GOODBYE: Duration = Duration::from_secs(1);

/// What to do where a role may not do what is needed.
pub(super) const LET_IN: &str = "whoever looks after the server runs `heelclear archive server-setup`, which makes the tables and lets each bench in; the page `share-records` shows how";

const TRY_AGAIN: &str = "check that it runs and that the network is there, then try again; what was copied before stays, and the bench's own file has everything";

/// An open connection.
pub(super) struct Postgres {
    /// Drives the connection while something is asked, and not in between.
    runtime: Option<Runtime>,
    link: Option<Link>,
    prepared: HashMap<String, Statement>,
    /// As it may be shown: without the password.
    place: String,
    /// Why the connection is not used any more.
    given_up: Option<Error>,
    crossed: bool,
}

struct Link {
    client: Arc<Client>,
    connection: JoinHandle<()>,
    pulse: Pulse,
    peer: Peer,
    ear: Ear,
}

impl Postgres {
    /// Connects. A password that the address does not have comes from `PGPASSWORD`, as in other
    /// programs for this server.
    pub(super) fn connect(text: &str) -> Result<Self> {
        let place = address::shown(text);
        let mut config = address::read(text)?;
        if config.get_password().is_none()
            && let Ok(password) = std::env::var("PGPASSWORD")
        {
            config.password(password);
        }
        config.application_name("heelclear");
        let runtime = Builder::new_current_thread().enable_all().build();
        let runtime =
            runtime.map_err(|fault| Error::internal("cannot wait for a server", fault))?;
        let mut store = Self {
            runtime: None,
            link: None,
            prepared: HashMap::new(),
            place,
            given_up: None,
            crossed: false,
        };
        let entered = runtime.block_on(enter(&config));
        store.runtime = Some(runtime);
        let entered = entered.map_err(|lost| store.fail(lost))?;
        store.link = Some(Link {
            client: Arc::new(entered.client),
            connection: entered.connection,
            pulse: entered.pulse,
            peer: entered.peer,
            ear: entered.ear,
        });
        store.ask(FOR_A_QUESTION, |client| async move {
            client.batch_execute(MANNERS).await
        })?;
        Ok(store)
    }

    /// Asks the server something, and waits for as long as it is not silent.
    fn ask<T, W>(&mut self, most: Duration, work: impl FnOnce(Arc<Client>) -> W) -> Result<T>
    where
        W: Future<Output = std::result::Result<T, tokio_postgres::Error>>,
    {
        self.crossed = false;
        let (Some(runtime), Some(link)) = (&self.runtime, &self.link) else {
            let closed = || Error::new(Code::ArchiveServer, "the connection was closed");
            return Err(self.given_up.clone().unwrap_or_else(closed));
        };
        let work = work(link.client.clone());
        let done = runtime.block_on(async {
            link.pulse.beat();
            tokio::select! {
                biased;
                done = work => done.map_err(Lost::from),
                why = link.pulse.gives_up(&link.peer, most) => Err(Lost::Silent(why)),
            }
        });
        done.map_err(|lost| self.fail(lost))
    }

    fn statement(&mut self, text: &str) -> Result<Statement> {
        if let Some(statement) = self.prepared.get(text) {
            return Ok(statement.clone());
        }
        let prepare = |client: Arc<Client>| async move { client.prepare(text).await };
        let statement = self.ask(FOR_A_QUESTION, prepare)?;
        self.prepared.insert(text.to_owned(), statement.clone());
        Ok(statement)
    }

    fn short_script(&mut self, text: &str) -> Result<()> {
        self.ask(FOR_A_QUESTION, |client| async move {
            client.batch_execute(text).await
        })
    }

    /// Whether its tables are those of `archive server-setup`, which alone brings them up then: what
    /// another made would lack the rights of the benches.
    pub(super) fn is_set_up(&mut self) -> Result<bool> {
        let text = "select 1::bigint from pg_catalog.pg_tables
            where schemaname = $1 and tableowner = $2 limit 1";
        let values = [Value::Text(SCHEMA), Value::Text(OWNER)];
        Ok(!self.rows(text, &values)?.is_empty())
    }

    /// What the server remarked so far.
    pub(super) fn remarks(&mut self) -> Vec<String> {
        let told = self.link.as_ref().map(|link| link.ear.told());
        told.map(|mut told| std::mem::take(&mut told.notices))
            .unwrap_or_default()
    }

    /// What went wrong in words of ours. A server that fell silent is not asked any more.
    fn fail(&mut self, lost: Lost) -> Error {
        let ended = match (&lost, &self.link) {
            // Why it hung up says more than that it did.
            (Lost::Said(fault), Some(link)) if fault.is_closed() => link.ear.told().ended.take(),
            _ => None,
        };
        let lost = ended.map_or(lost, Lost::Said);
        if let Lost::Said(fault) = &lost {
            self.crossed = matches!(
                fault.code(),
                Some(&SqlState::T_R_DEADLOCK_DETECTED | &SqlState::T_R_SERIALIZATION_FAILURE)
            );
        }
        let silent = matches!(lost, Lost::Silent(_));
        let error = told(lost).in_file(self.place.clone());
        if silent {
            self.given_up = Some(error.clone());
            self.link = None;
            if let Some(runtime) = self.runtime.take() {
                runtime.shutdown_background();
            }
        }
        error
    }
}

impl Drop for Postgres {
    fn drop(&mut self) {
        let Some(runtime) = self.runtime.take() else {
            return;
        };
        if let Some(Link {
            client, connection, ..
        }) = self.link.take()
        {
            // The connection says good-bye once nobody can ask any more.
            drop(client);
            let _ = runtime.block_on(async { timeout(GOODBYE, connection).await });
        }
        // Nobody waits for a name that is still being looked up.
        runtime.shutdown_background();
    }
}

impl Store for Postgres {
    fn run(&mut self, text: &str, values: &[Value<'_>]) -> Result<u64> {
        let statement = self.statement(text)?;
        self.ask(FOR_A_QUESTION, |client| async move {
            client.execute(&statement, &as_dyn(values)).await
        })
    }

    fn each(
        &mut self,
        text: &str,
        values: &[Value<'_>],
        take: &mut dyn FnMut(Row) -> Result<bool>,
    ) -> Result<()> {
        let statement = self.statement(text)?;
        let rows = self.ask(FOR_A_QUESTION, |client| async move {
            client.query_raw(&statement, as_dyn(values)).await
        })?;
        let mut rows = Box::pin(rows);
        while let Some(row) = self.ask(FOR_A_QUESTION, |_| rows.try_next())? {
            let cells = (0..row.len()).map(|at| cell(&row, at));
            let cells: std::result::Result<Vec<Cell>, _> = cells.collect();
            let cells = cells.map_err(|fault| self.fail(Lost::Said(fault)))?;
            if !take(Row(cells))? {
                break;
            }
        }
        Ok(())
    }

    fn script(&mut self, text: &str) -> Result<()> {
        self.ask(FOR_THE_TABLES, |client| async move {
            client.batch_execute(text).await
        })
    }

    fn begin(&mut self) -> Result<()> {
        self.short_script("begin")
    }

    fn commit(&mut self) -> Result<()> {
        self.short_script("commit")
    }

    fn roll_back(&mut self) -> Result<()> {
        let crossed = self.crossed;
        let done = self.short_script("rollback");
        self.crossed = crossed;
        done
    }

    fn crossed(&self) -> bool {
        self.crossed
    }

    fn alone(&mut self) -> Result<()> {
        self.short_script(&format!("select pg_advisory_xact_lock({TABLES})"))
    }

    fn dialect(&self) -> Dialect {
        DIALECT
    }

    fn tables(&mut self) -> Result<Vec<String>> {
        // Of those too that this role may not read: they are there all the same.
        let text = "select cast(pg_class.relname as text),
                cast(cast(has_schema_privilege(pg_namespace.oid, 'usage') as integer) as bigint)
            from pg_catalog.pg_class
            join pg_catalog.pg_namespace on pg_namespace.oid = pg_class.relnamespace
            where pg_namespace.nspname = $1 and pg_class.relkind in ('r', 'p') order by 1";
        let rows = self.rows(text, &[Value::Text(SCHEMA)])?;
        if rows.first().map_or(Ok(1), |row| row.int(1))? == 0 {
            let message = format!("the server refused: permission denied for schema {SCHEMA}");
            return Err(Error::new(Code::ArchiveServer, message).help(LET_IN));
        }
        rows.iter()
            .map(|row| row.text(0).map(str::to_owned))
            .collect()
    }

    fn prepare(&mut self) -> Result<()> {
        self.script(&format!("create schema if not exists {SCHEMA}"))
    }

    fn keep_copy(&mut self, schema: i64) -> Result<Option<String>> {
        let copy = format!("{SCHEMA}_schema_{schema}");
        let tables = self.tables()?;
        within(self, |store| {
            store.alone()?;
            let there = "select 1::bigint from pg_catalog.pg_namespace where nspname = $1";
            if store.rows(there, &[Value::Text(&copy)])?.is_empty() {
                store.script(&format!("create schema {copy}"))?;
                for table in tables {
                    store.script(&format!(
                        "create table {copy}.{table} as table {SCHEMA}.{table}"
                    ))?;
                }
            }
            Ok(())
        })?;
        Ok(Some(format!("the schema {copy} of the same database")))
    }

    fn copy_to(&mut self, _: &Path) -> Result<bool> {
        Ok(false)
    }

    fn examine(&mut self) -> Result<Vec<String>> {
        // The server looks after its own pages.
        Ok(Vec::new())
    }

    fn rebuilt(&mut self) -> Option<Box<dyn Store>> {
        None
    }
}

fn as_dyn<'a>(values: &'a [Value<'a>]) -> Vec<&'a (dyn ToSql + Sync)> {
    let values = values.iter();
    values.map(|value| value as &(dyn ToSql + Sync)).collect()
}

fn cell(row: &tokio_postgres::Row, at: usize) -> std::result::Result<Cell, tokio_postgres::Error> {
    let kind = row.columns()[at].type_();
    Ok(match *kind {
        Type::INT8 => row.try_get::<_, Option<i64>>(at)?.map(Cell::Int),
        Type::BYTEA => row.try_get::<_, Option<Vec<u8>>>(at)?.map(Cell::Bytes),
        _ => row.try_get::<_, Option<String>>(at)?.map(Cell::Text),
    }
    .unwrap_or(Cell::Null))
}

impl ToSql for Value<'_> {
    fn to_sql(
        &self,
        kind: &Type,
        out: &mut BytesMut,
    ) -> std::result::Result<IsNull, Box<dyn StdError + Sync + Send>> {
        match self {
            Value::Null => Ok(IsNull::Yes),
            Value::Int(number) => number.to_sql(kind, out),
            Value::Text(text) => text.to_sql(kind, out),
            Value::Bytes(bytes) => bytes.to_sql(kind, out),
        }
    }

    fn accepts(kind: &Type) -> bool {
        [
            Type::INT8,
            Type::TEXT,
            Type::BYTEA,
            Type::NAME,
            Type::VARCHAR,
        ]
        .contains(kind)
    }

    to_sql_checked!();
}

/// What went wrong with the connection in words of ours.
fn told(lost: Lost) -> Error {
    let unreached = |why: &str| {
        let message = format!("the server cannot be reached: {why}");
        Error::new(Code::ArchiveServer, message).help(TRY_AGAIN)
    };
    let of_system = |fault: &io::Error| match fault.kind() {
        io::ErrorKind::InvalidData | io::ErrorKind::InvalidInput => not_understood(fault),
        _ => unreached(&fault.to_string()),
    };
    match lost {
        Lost::System(fault) => of_system(&fault),
        Lost::Wrong(what) => unreached(what),
        Lost::Silent(gave_up) => {
            let seconds = gave_up.waited.as_secs();
            let message = match gave_up.lives {
                false => format!("the server did not answer for {seconds} s"),
                true => {
                    format!("the server answers, but had no answer to a question after {seconds} s")
                }
            };
            Error::new(Code::ArchiveServer, message).help(TRY_AGAIN)
        }
        Lost::Said(fault) => {
            if let Some(refusal) = fault.as_db_error() {
                return refused(refusal);
            }
            let source = fault.source();
            match source.and_then(|source| source.downcast_ref::<io::Error>()) {
                Some(system) => of_system(system),
                None if fault.is_closed() => unreached("the connection was closed"),
                None => not_understood(source.unwrap_or(&fault)),
            }
        }
    }
}

fn not_understood(why: &dyn StdError) -> Error {
    let message = format!("the server was not understood: {why}");
    Error::new(Code::ArchiveServer, message)
        .help("check that the address is that of a PostgreSQL server, and that nothing between changes what it says")
}

/// The server's refusal in words of ours.
fn refused(refusal: &DbError) -> Error {
    let said = refusal.message();
    let code = refusal.code();
    let server = |message: String, help: &str| Error::new(Code::ArchiveServer, message).help(help);
    let refused = || format!("the server refused: {said}");
    match *code {
        SqlState::DISK_FULL => Error::new(Code::Disk, format!("the server's disk is full: {said}"))
            .help("make room there, then try again"),
        SqlState::ADMIN_SHUTDOWN
        | SqlState::CRASH_SHUTDOWN
        | SqlState::CANNOT_CONNECT_NOW
        | SqlState::IDLE_IN_TRANSACTION_SESSION_TIMEOUT => server(
            format!("the server cannot be reached: {said}"),
            "try again when it runs; what was copied before stays",
        ),
        SqlState::LOCK_NOT_AVAILABLE
        | SqlState::T_R_DEADLOCK_DETECTED
        | SqlState::T_R_SERIALIZATION_FAILURE => {
            let message = format!("another program is writing to it and does not end: {said}");
            Error::new(Code::ArchiveBusy, message)
                .help("what was copied before stays; try again when the other one has ended")
        }
        SqlState::INSUFFICIENT_PRIVILEGE | SqlState::INVALID_SCHEMA_NAME => {
            server(refused(), LET_IN)
        }
        SqlState::INVALID_AUTHORIZATION_SPECIFICATION if said.contains("no encryption") => {
            server(refused(), TUNNEL)
        }
        _ => server(
            refused(),
            "check the user, the password (`PGPASSWORD`) and what this user may do in the database",
        ),
    }
}
