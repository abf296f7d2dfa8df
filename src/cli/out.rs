//! Where a command's words go: results to stdout, everything else to stderr.

use super::Status;
use super::emphasis::{harmless_json, harmless_lines, without_colour};
use crate::error::{Code, Error, Result};
use anstream::stream::RawStream;
use anstream::{AutoStream, ColorChoice};
use anstyle::{AnsiColor, Style};
use serde::Serialize;
use serde_json::{Value, json};
use std::io::{self, ErrorKind, IsTerminal, Write};

const ERROR: Style = AnsiColor::Red.on_default().bold();
const HELP: Style = AnsiColor::Cyan.on_default();

/// The two streams of a command, and whether it was asked for JSON.
pub struct Out {
    json: bool,
    /// Nobody reads stdout any more: `… | head` has seen enough, which is no fault.
    closed: bool,
    /// Rows of a long result that are not written yet.
    held: Vec<u8>,
}

/// So many bytes of rows are written at once.
const HELD: usize = 64 * 1024;

impl Out {
    /// Writes to this process' stdout and stderr.
    pub fn new(json: bool) -> Self {
        Self {
            json,
            closed: false,
            held: Vec::new(),
        }
    }

    /// Whether results are wanted as JSON.
    pub fn json(&self) -> bool {
        self.json
    }

    /// Whether what goes to stdout may be set off from the rest: it goes to a terminal. `NO_COLOR` takes
    /// the colours out of it and leaves the rest.
    pub fn dressed(&self) -> bool {
        dress(&io::stdout()) != Dress::Plain
    }

    /// Whether a person watches stderr, and would see progress move.
    pub fn watched(&self) -> bool {
        io::stderr().is_terminal()
    }

    /// Whether nobody reads stdout any more, so that there is no use in going on.
    pub fn closed(&self) -> bool {
        self.closed
    }

    /// Characters that fit beside each other on stdout; `None` where it is no terminal.
    pub fn columns(&self) -> Option<usize> {
        let (width, _) = terminal_size::terminal_size_of(io::stdout())?;
        Some(usize::from(width.0))
    }

    /// Writes text of a result; ends in a newline if it wants one. Whatever stands in it, it moves no
    /// cursor and hides no word.
    pub fn text(&mut self, text: &str) -> Result<()> {
        self.styled(&harmless_lines(text))
    }

    /// Writes text with its styles. What is not the program's own in it is made harmless before.
    pub fn styled(&mut self, text: &str) -> Result<()> {
        match dress(&io::stdout()) {
            Dress::Emphasis => {
                let text = without_colour(text);
                let mut stdout = AutoStream::always_ansi(io::stdout());
                self.write(&mut stdout, text.as_bytes())
            }
            _ => self.write(&mut anstream::stdout().lock(), text.as_bytes()),
        }
    }

    /// Writes a file's bytes as they are, whatever they are.
    pub fn bytes(&mut self, bytes: &[u8]) -> Result<()> {
        self.write(&mut io::stdout().lock(), bytes)
    }

    fn write(&mut self, stdout: &mut dyn Write, bytes: &[u8]) -> Result<()> {
        if self.closed {
            return Ok(());
        }
        let written = stdout.write_all(bytes).and_then(|()| stdout.flush());
        match written {
            Err(fault) if fault.kind() == ErrorKind::BrokenPipe => self.closed = true,
            Err(fault) => {
                let message = format!("cannot write the result: {fault}");
                return Err(Error::new(Code::Disk, message).in_file("stdout"));
            }
            Ok(()) => {}
        }
        Ok(())
    }

    /// Writes one line of a result.
    pub fn line(&mut self, line: &str) -> Result<()> {
        self.text(&format!("{line}\n"))
    }

    /// Writes one JSON object as one line.
    pub fn object(&mut self, object: &impl Serialize) -> Result<()> {
        let line = serde_json::to_string(object)
            .map_err(|fault| Error::internal("cannot write JSON", fault))?;
        self.styled(&format!("{}\n", harmless_json(&line)))
    }

    /// One of many JSON objects, each on a line of its own: they are written as they fill a buffer.
    /// [`Out::end_rows`] writes the last ones.
    pub fn row(&mut self, object: &impl Serialize) -> Result<()> {
        let row = serde_json::to_string(object)
            .map_err(|fault| Error::internal("cannot write JSON", fault))?;
        self.held.extend_from_slice(harmless_json(&row).as_bytes());
        self.held.push(b'\n');
        match self.held.len() < HELD {
            true => Ok(()),
            false => self.end_rows(),
        }
    }

    /// Writes the rows that are held back.
    pub fn end_rows(&mut self) -> Result<()> {
        let mut held = std::mem::take(&mut self.held);
        let written = self.bytes(&held);
        // Its room serves the next ones.
        held.clear();
        self.held = held;
        written
    }

    /// Says something to the person, on stderr. What nobody hears is no fault.
    pub fn note(&mut self, line: &str) {
        self.styled_note(&harmless_lines(line));
    }

    /// The same with styles.
    pub fn styled_note(&mut self, line: &str) {
        let _ = match dress(&io::stderr()) {
            Dress::Emphasis => {
                let mut stderr = AutoStream::always_ansi(io::stderr());
                writeln!(stderr, "{}", without_colour(line))
            }
            _ => writeln!(anstream::stderr().lock(), "{line}"),
        };
    }

    /// Tells an error to the person, and to a script that asked for JSON.
    pub fn fail(&mut self, error: &Error) -> Status {
        let alone = std::iter::once(error);
        for one in alone.chain(error.others()) {
            self.styled_note(&for_people(one));
        }
        if self.json {
            // If stdout is the fault, the status still tells.
            let _ = self.object(&json!({ "error": for_scripts(error) }));
        }
        Status::NoVerdict
    }
}

/// How text is set on a stream.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Dress {
    /// As letters alone.
    Plain,
    /// Bold, underlined and turned over, without colours.
    Emphasis,
    /// With colours.
    Full,
}

fn dress(stream: &(impl RawStream + IsTerminal)) -> Dress {
    let no_colour = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    let dumb = std::env::var_os("TERM").is_some_and(|name| name == "dumb");
    match AutoStream::choice(stream) {
        ColorChoice::Never if no_colour && !dumb && IsTerminal::is_terminal(stream) => {
            Dress::Emphasis
        }
        ColorChoice::Never => Dress::Plain,
        _ => Dress::Full,
    }
}

/// One error with its code, its place, its drawn line and what to do.
fn for_people(error: &Error) -> String {
    let code = error.code().as_str();
    let place = harmless_lines(&error.place().to_string()).into_owned();
    let colon = if place.is_empty() { "" } else { ": " };
    let mut text = format!(
        "{ERROR}error[{code}]{ERROR:#}: {place}{colon}{}",
        harmless_lines(error.message())
    );
    if let Some(snippet) = error.snippet() {
        text.push('\n');
        text.push_str(&harmless_lines(snippet));
    }
    if let Some(advice) = error.advice() {
        let advice = harmless_lines(advice);
        text.push_str(&format!("\n{HELP}help{HELP:#}: {advice}"));
    }
    text
}

/// The same as JSON, with every error found in the same pass under `also`.
fn for_scripts(error: &Error) -> Value {
    let place = error.place();
    let also: Vec<Value> = error.others().iter().map(for_scripts).collect();
    json!({
        "code": error.code().as_str(),
        "file": place.file,
        "line": place.line,
        "column": place.column,
        "message": error.message(),
        "help": error.advice(),
        "also": also,
    })
}
