//! One error: a stable code, where it is, what was read, what was expected, what to do.

use std::fmt;
use std::io;
use std::path::Path;
use std::sync::Arc;

/// What is shared by all that can fail here.
pub type Result<T> = std::result::Result<T, Error>;

/// What went wrong, told so that a person can mend it.
///
/// Facts only: `found` is what was read and `expected` what should have stood there, both short,
/// in lower case, with values in backticks; `help` says what to do next.
#[derive(Clone, Debug, PartialEq)]
pub struct Error(Box<Parts>);

/// What an error holds, on the heap: a `Result` stays as small as what it carries on success.
#[derive(Clone, Debug, PartialEq)]
struct Parts {
    code: Code,
    place: Place,
    message: String,
    help: Option<String>,
    snippet: Option<String>,
    cause: Option<Cause>,
    also: Vec<Error>,
}

/// What the system or a library said. Two errors that tell a person the same are the same, whatever
/// caused them.
#[derive(Clone, Debug)]
struct Cause(Arc<dyn std::error::Error + Send + Sync>);

impl PartialEq for Cause {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

/// Where an error is: a file, a line and a column in it, each where known.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Place {
    /// The file as the person would name it, or the port.
    pub file: Option<String>,
    /// Counted from 1.
    pub line: Option<u64>,
    /// Counted from 1, in characters.
    pub column: Option<u64>,
}

/// Declares every code once, with the text that is its heading in the manual.
macro_rules! codes {
    ($($(#[doc = $doc:literal])+ $name:ident = $text:literal,)+) => {
        /// The stable code of an error; its text is a heading in the manual.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        pub enum Code { $($(#[doc = $doc])+ $name,)+ }

        impl Code {
            /// Every code there is, in the manual's order.
            pub const ALL: &'static [Code] = &[$(Code::$name),+];

            /// The text that stands for it in messages, scripts and the manual.
            pub const fn as_str(self) -> &'static str {
                match self { $(Code::$name => $text),+ }
            }
        }
    };
}

codes! {
    /// The command line cannot be understood.
    Usage = "usage",
    /// A file or folder that is needed is not there.
    Missing = "missing-file",
    /// A file is there but the system would not let it be read or written.
    Disk = "disk",
    /// A card is not valid TOML, or a value in it has the wrong type.
    CardSyntax = "card-syntax",
    /// A card has a key that is not known.
    UnknownKey = "unknown-key",
    /// A card lacks a key that is needed.
    MissingKey = "missing-key",
    /// A value in a card is outside what makes sense.
    CardValue = "card-value",
    /// A trace file has no usable header.
    TraceHeader = "trace-header",
    /// A line of a trace cannot be read.
    TraceLine = "trace-line",
    /// The lines of a trace are not in the order of their times.
    TraceOrder = "trace-order",
    /// A trace has too little in it to say anything.
    TraceShort = "trace-short",
    /// No tooth, or another number of them than the card says, stands out of the trace.
    Teeth = "teeth",
    /// A reference trace does not show a round.
    Reference = "reference",
    /// The files of a gauge study do not show what it needs.
    Study = "study",
    /// No curve of the family asked for can be fitted to a land.
    Curve = "curve",
    /// The port is not there.
    PortAbsent = "port-absent",
    /// The port is in use by another program.
    PortBusy = "port-busy",
    /// The system forbids opening the port.
    PortForbidden = "port-forbidden",
    /// The port opened, but nothing came through it.
    Silence = "silence",
    /// The device behind the port went away.
    Unplugged = "unplugged",
    /// The instrument speaks, but not what was expected.
    Protocol = "protocol",
    /// Another program is writing to the archive and does not end.
    ArchiveBusy = "archive-busy",
    /// The archive was written by a newer version of the program.
    ArchiveVersion = "archive-version",
    /// It is no archive, or something in it is damaged.
    ArchiveBroken = "archive-broken",
    /// The server of a shared archive cannot be reached, or refuses.
    ArchiveServer = "archive-server",
    /// A verdict is not one on the cards and traces beside it.
    Evidence = "evidence",
    /// The archive has no such record.
    NoRecord = "no-record",
    /// A wheel would run faster than what is marked on it allows.
    WheelSpeed = "wheel-speed",
    /// The work was stopped by the person.
    Interrupted = "interrupted",
    /// Something that the program's own checks should have ruled out.
    Internal = "internal",
}

impl Error {
    /// An error with its code and what is wrong: what was read and what was expected.
    pub fn new(code: Code, message: impl Into<String>) -> Self {
        Self(Box::new(Parts {
            code,
            place: Place::default(),
            message: message.into(),
            help: None,
            snippet: None,
            cause: None,
            also: Vec::new(),
        }))
    }

    /// What the program's own checks should have ruled out: what could not be done, and why.
    pub fn internal(
        what: impl fmt::Display,
        cause: impl std::error::Error + Send + Sync + 'static,
    ) -> Self {
        Self::new(Code::Internal, format!("{what}: {cause}")).because(cause)
    }

    /// Names the file.
    pub fn in_file(mut self, file: impl Into<String>) -> Self {
        self.0.place.file = Some(file.into());
        self
    }

    /// Names the file by where it lies.
    pub fn in_path(self, path: impl AsRef<Path>) -> Self {
        self.in_file(path.as_ref().display().to_string())
    }

    /// Names the line, counted from 1.
    pub fn at_line(mut self, line: u64) -> Self {
        self.0.place.line = Some(line);
        self
    }

    /// Names the column, counted from 1.
    pub fn at_column(mut self, column: u64) -> Self {
        self.0.place.column = Some(column);
        self
    }

    /// Says what to do.
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.0.help = Some(help.into());
        self
    }

    /// Shows the offending line of a card, drawn with a caret.
    pub fn with_snippet(mut self, snippet: impl Into<String>) -> Self {
        self.0.snippet = Some(snippet.into());
        self
    }

    /// Keeps what the system or a library said: the [`source`](std::error::Error::source).
    pub fn because(mut self, cause: impl std::error::Error + Send + Sync + 'static) -> Self {
        self.0.cause = Some(Cause(Arc::new(cause)));
        self
    }

    /// Adds more errors found in the same pass.
    pub fn and(mut self, more: impl IntoIterator<Item = Error>) -> Self {
        self.0.also.extend(more);
        self
    }

    /// One error out of several found together; `None` when there are none.
    pub fn all(errors: impl IntoIterator<Item = Error>) -> Option<Self> {
        let mut errors = errors.into_iter();
        errors.next().map(|first| first.and(errors))
    }

    /// The stable code.
    pub fn code(&self) -> Code {
        self.0.code
    }

    /// Where it is.
    pub fn place(&self) -> &Place {
        &self.0.place
    }

    /// What is wrong, without the place.
    pub fn message(&self) -> &str {
        &self.0.message
    }

    /// What to do, where that is known.
    pub fn advice(&self) -> Option<&str> {
        self.0.help.as_deref()
    }

    /// The drawn line of the card, where there is one.
    pub fn snippet(&self) -> Option<&str> {
        self.0.snippet.as_deref()
    }

    /// The other errors found in the same pass.
    pub fn others(&self) -> &[Error] {
        &self.0.also
    }
}

/// A file's bytes as text; else the error that names the line of the first that is none.
pub fn as_text(bytes: &[u8], file: impl Into<String>) -> Result<&str> {
    std::str::from_utf8(bytes).map_err(|fault| {
        let before = bytes.iter().take(fault.valid_up_to());
        Error::new(
            Code::CardSyntax,
            "read bytes that are not text, expected UTF-8",
        )
        .in_file(file)
        .at_line(1 + before.filter(|&&byte| byte == b'\n').count() as u64)
        .help("save the file as UTF-8 text")
    })
}

/// Why the system refused, in its words, without the numbers and paths that some of them carry.
pub fn reason(fault: &io::Error) -> String {
    // The kinds without words of their own; the fault itself says more.
    const NO_WORDS: [&str; 2] = ["uncategorized error", "other error"];
    match fault.kind() {
        io::ErrorKind::NotFound => "there is no such file or folder".to_owned(),
        io::ErrorKind::AlreadyExists => "something of that name is there already".to_owned(),
        // What we, or the library below us, said of it is told.
        _ if fault.get_ref().is_some() => fault.to_string(),
        kind if NO_WORDS.contains(&kind.to_string().as_str()) => fault.to_string(),
        kind => kind.to_string(),
    }
}

/// The error of a file or folder that could not be written, with what mends that very cause.
pub fn unwritable(path: &Path, fault: io::Error) -> Error {
    Error::new(
        Code::Disk,
        format!("could not be written: {}", reason(&fault)),
    )
    .in_path(path)
    .help(to_write(&fault))
    .because(fault)
}

/// What lets something be written that could not be.
pub fn to_write(fault: &io::Error) -> &'static str {
    use io::ErrorKind as Kind;
    match fault.kind() {
        Kind::AlreadyExists => "take what is there out of the way, or choose another name",
        Kind::NotFound => "make the folder that it is to lie in, or choose another place",
        Kind::PermissionDenied => {
            "have somebody who may write there allow it, or choose a place where you may"
        }
        Kind::ReadOnlyFilesystem => {
            "nothing can be written on that disk: choose a place on another"
        }
        Kind::StorageFull | Kind::QuotaExceeded => "make room on that disk, then try again",
        Kind::FileTooLarge => "the disk takes no file as large: choose a place on another",
        Kind::NotADirectory => "a part of that path is a file and no folder: choose another place",
        Kind::IsADirectory | Kind::DirectoryNotEmpty => {
            "a folder of that name is there: take it out of the way, or choose another name"
        }
        Kind::InvalidFilename => "the disk takes no such name: choose a plain and shorter one",
        _ => "check that the folder is there, that you may write to it, and that the disk has room",
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (&self.file, self.line) {
            (Some(file), Some(line)) => write!(f, "{file}, line {line}"),
            (Some(file), None) => write!(f, "{file}"),
            (None, Some(line)) => write!(f, "line {line}"),
            (None, None) => Ok(()),
        }
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let place = self.0.place.to_string();
        if !place.is_empty() {
            write!(f, "{place}: ")?;
        }
        write!(f, "{}", self.0.message)?;
        if let Some(snippet) = &self.0.snippet {
            write!(f, "\n{snippet}")?;
        }
        if let Some(help) = &self.0.help {
            write!(f, "\nhelp: {help}")?;
        }
        for other in &self.0.also {
            write!(f, "\n{other}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Error {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        let cause = self.0.cause.as_ref()?;
        Some(cause.0.as_ref())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::error::Error as _;

    #[test]
    fn an_error_keeps_its_cause_and_is_told_without_it() {
        let fault = io::Error::from(io::ErrorKind::StorageFull);
        let error = unwritable(Path::new("a.csv"), fault);
        let cause = error
            .source()
            .and_then(|cause| cause.downcast_ref::<io::Error>());
        assert_eq!(cause.map(io::Error::kind), Some(io::ErrorKind::StorageFull));
        let again = unwritable(Path::new("a.csv"), io::ErrorKind::StorageFull.into());
        assert_eq!(error, again);
    }
}
