//! Preparing a server: its tables, and a role for each bench that may add and change nothing.

use super::entry::beginning;
use super::open::{Place, no_server};
use super::postgres::{DIALECT, LET_IN, OWNER, Postgres, SCHEMA, TABLES};
use super::schema;
use super::store::{Row, Store};
use crate::error::{Code, Error, Result};
use serde::Serialize;
use std::str::FromStr;

/// The text for any client of the server; what stands in braces is put in.
const TEXT: &str = include_str!("server_setup.sql");

/// A role, with the bench that belongs to it where that is named.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OfRole {
    /// The role's name, as one logs in.
    pub role: String,
    /// The bench; the one that it makes with its first push, where nothing is said.
    pub bench: Option<String>,
}

impl FromStr for OfRole {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        let (role, bench) = match text.split_once('=') {
            Some((role, bench)) => (role, Some(bench)),
            None => (text, None),
        };
        let role = role_name(role)?;
        let bench = bench.map(bench_name).transpose()?;
        Ok(Self { role, bench })
    }
}

/// Who is to be let in.
#[derive(Clone, Debug, Default)]
pub struct ServerSetup {
    /// Roles of benches, which read everything and add records of their own.
    pub benches: Vec<OfRole>,
    /// Roles that read everything.
    pub readers: Vec<OfRole>,
}

/// What a server is like after it was set up.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SetUp {
    /// The version of its tables.
    pub schema: i64,
    /// Its benches.
    pub benches: Vec<BenchThere>,
    /// What the server remarked.
    pub remarks: Vec<String>,
}

/// A bench on a server.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BenchThere {
    /// Its name.
    pub bench: String,
    /// Records that it has there.
    pub records: i64,
    /// The role that it belongs to.
    pub role: Option<String>,
}

impl ServerSetup {
    /// What is to be run on the server, in its own words.
    pub fn sql(&self) -> String {
        let names = |roles: &[OfRole]| {
            let names: Vec<String> = roles.iter().map(|of| literal(&of.role)).collect();
            names.join(", ")
        };
        let tables = schema::TABLES.map(literal).join(", ");
        let all_tables = schema::TABLES.map(|table| format!("{SCHEMA}.{table}"));
        let text = TEXT
            .replace("{owner}", OWNER)
            .replace("{schema}", SCHEMA)
            .replace("{tables}", &TABLES.to_string())
            .replace("{table_names}", &tables)
            .replace("{all_tables}", &all_tables.join(", "))
            .replace("{version}", &schema::VERSION.to_string())
            .replace("{program}", env!("CARGO_PKG_VERSION"))
            .replace("{schema_key}", schema::SCHEMA)
            .replace("{reader_key}", schema::READER)
            .replace("{steps}", steps().trim_end())
            .replace("{benches}", &names(&self.benches))
            .replace("{readers}", &names(&self.readers))
            .replace("{ties}", &self.ties());
        text + &self.passwords()
    }

    /// Has each bench that is named belong to its role.
    fn ties(&self) -> String {
        let tie = |of: &OfRole| {
            let bench = of.bench.as_deref()?;
            Some(format!(
                "insert into {SCHEMA}.bench (id, head, chain, owner)
values ({}, 0, '\\x{}', {})
on conflict (id) do update set owner = excluded.owner
where bench.owner is distinct from excluded.owner;
",
                literal(bench),
                beginning(bench),
                literal(&of.role)
            ))
        };
        self.benches.iter().filter_map(tie).collect()
    }

    /// How each new role gets a password, which is nothing of ours.
    fn passwords(&self) -> String {
        let mut roles: Vec<&OfRole> = self.benches.iter().chain(&self.readers).collect();
        roles.dedup_by(|one, other| one.role == other.role);
        if roles.is_empty() {
            return String::new();
        }
        let mut text = "
-- A new role has no password, and none stands here: set one in the client that you run this with.
-- Of psql's, each of these lines without its dashes asks for it, and sends it encrypted:
"
        .to_owned();
        for of in roles {
            text += &format!("--   {}\n", of.password_command());
        }
        text
    }

    /// Runs it on a server, as the role of the address.
    ///
    /// # Errors
    /// `usage` where the place is no server, `archive-server` where it cannot be reached or
    /// refuses; then nothing was changed.
    pub fn run(&self, place: &Place) -> Result<SetUp> {
        let Place::Server(address) = place else {
            return Err(no_server());
        };
        let mut store = Postgres::connect(address)?;
        store.script(&self.sql()).map_err(|error| {
            match error.advice() == Some(LET_IN) {
                true => error.help("nothing was changed: connect as the server's own user, or as the owner of the database with the right to make roles"),
                false => error,
            }
        })?;
        let text = "select id, head, cast(owner as text) from heelclear.bench order by id";
        let there = |row: &Row| {
            let role = match row.is_null(2) {
                true => None,
                false => Some(row.text(2)?.to_owned()),
            };
            Ok(BenchThere {
                bench: row.text(0)?.to_owned(),
                records: row.int(1)?,
                role,
            })
        };
        let rows = store.rows(text, &[])?;
        Ok(SetUp {
            schema: schema::VERSION,
            benches: rows.iter().map(there).collect::<Result<_>>()?,
            remarks: store.remarks(),
        })
    }
}

impl OfRole {
    /// What a person types into `psql` to give it a password.
    pub fn password_command(&self) -> String {
        let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_';
        match self.role.chars().all(plain) {
            true => format!("\\password {}", self.role),
            false => format!("\\password \"{}\"", self.role),
        }
    }
}

/// The steps of the tables, each where it was not yet taken.
fn steps() -> String {
    let steps = schema::steps(&DIALECT).into_iter().enumerate();
    let taken = steps.filter(|(_, step)| !step.trim().is_empty());
    let step = |(at, step): (usize, String)| {
        let lines = step.trim().lines();
        let lines: String = lines.map(|line| format!("        {line}\n")).collect();
        format!("    if there < {} then\n{lines}    end if;\n", at + 1)
    };
    taken.map(step).collect()
}

/// Text in the server's words; it has nothing in it that would end it.
fn literal(text: &str) -> String {
    format!("'{text}'")
}

/// PostgreSQL keeps so many bytes of a name.
const LONGEST_NAME: usize = 63;

fn role_name(name: &str) -> Result<String> {
    let plain = |c: char| c.is_alphanumeric() || "_-.@".contains(c);
    let taken = ["public", "none", OWNER].contains(&name) || name.starts_with("pg_");
    let fits = (1..=LONGEST_NAME).contains(&name.len());
    if fits && !taken && name.chars().all(plain) {
        return Ok(name.to_owned());
    }
    let message = match taken {
        true => format!("read the role `{name}`, which has a meaning of its own on the server"),
        false => format!(
            "read the role `{name}`, expected letters, digits, `_`, `-`, `.` and `@`, at most {LONGEST_NAME}"
        ),
    };
    Err(Error::new(Code::Usage, message).help(
        "write `--bench ROLE`, or `--bench ROLE=BENCH` with the bench as `archive list` names it",
    ))
}

fn bench_name(name: &str) -> Result<String> {
    let plain = |c: char| c.is_ascii_alphanumeric() || "_-.".contains(c);
    if !name.is_empty() && name.chars().all(plain) {
        return Ok(name.to_owned());
    }
    let message = format!("read the bench `{name}`, expected a name such as `grindroom-3f9a2c`");
    Err(Error::new(Code::Usage, message)
        .help("`heelclear archive list --json` on it names its bench"))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_role_that_would_say_more_than_its_name_is_refused() {
        for name in [
            "",
            "a b",
            "a'b",
            "a\"b",
            "a;b",
            "a$b",
            "a\\b",
            "a\nb",
            "pg_a",
            "public",
            "heelclear_owner",
            "a=",
            "a=b'c",
            "a=b c",
        ] {
            assert!(OfRole::from_str(name).is_err(), "{name}");
        }
        let long = "a".repeat(64);
        assert!(OfRole::from_str(&long).is_err());
        let of = OfRole::from_str("bench1=grindroom-3f9a2c").unwrap();
        assert_eq!(of.bench.as_deref(), Some("grindroom-3f9a2c"));
        assert_eq!(of.password_command(), "\\password bench1");
        let of = OfRole::from_str("Bench.1").unwrap();
        assert_eq!(of.password_command(), "\\password \"Bench.1\"");
    }

    #[test]
    fn everything_that_stands_in_braces_is_put_in() {
        let setup = ServerSetup {
            benches: vec![OfRole::from_str("bench1=grindroom-3f9a2c").unwrap()],
            readers: vec![OfRole::from_str("office").unwrap()],
        };
        let text = setup.sql();
        assert!(!text.contains(['{', '}']), "{text}");
        assert!(text.contains("array['bench1']") && text.contains("array['office']"));
        assert!(text.contains("create table content"));
    }
}
