//! The text of one card, and every error found in it, each drawn with its line and a caret.

use crate::error::{Code, Error, Result};
use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use std::cell::RefCell;
use std::collections::BTreeSet;
use std::ops::Range;
use toml::de::DeTable;

/// Bytes of a value that a message repeats; the drawn line shows the rest.
const LONGEST_QUOTE: usize = 40;

/// A line longer than this is not drawn: it is not a card, and would fill the screen.
const LONGEST_LINE: usize = 400;

/// Lines with syntax errors shown of one card: what is no TOML at all has one a line.
const MOST_SYNTAX_ERRORS: usize = 4;

/// The text of a card with the errors found so far.
pub(super) struct Page<'t> {
    pub(super) text: &'t str,
    file: &'t str,
    errors: RefCell<Vec<(usize, Error)>>,
}

impl<'t> Page<'t> {
    pub(super) fn new(text: &'t str, file: &'t str) -> Self {
        Self {
            text,
            file,
            errors: RefCell::default(),
        }
    }

    /// The card as a table with places, or every place where it is not TOML.
    pub(super) fn parse(&self) -> Result<DeTable<'t>> {
        let (table, faults) = DeTable::parse_recoverable(self.text);
        let mut lines = BTreeSet::new();
        for fault in &faults {
            let span = fault.span().unwrap_or(0..0);
            // What follows the first fault of a line is mostly its echo.
            let line = Line::around(self.text, &span).map(|line| line.number);
            if !lines.insert(line) || lines.len() > MOST_SYNTAX_ERRORS {
                continue;
            }
            let message = format!("not valid TOML: {}", fault.message().replace('\n', ", "));
            let help = self
                .comma_at(&span)
                .then(|| "decimals have a point: `20.5`".to_owned());
            self.report(Code::CardSyntax, span, message, help);
        }
        match self.first_error() {
            Some(error) => Err(error),
            None => Ok(table.into_inner()),
        }
    }

    /// Whether a decimal comma stands at a place, as much of the world writes it.
    fn comma_at(&self, span: &Range<usize>) -> bool {
        let digit = |byte: Option<&u8>| byte.is_some_and(u8::is_ascii_digit);
        let bytes = self.text.as_bytes();
        let comma = |at: usize| {
            bytes.get(at) == Some(&b',')
                && digit(bytes.get(at.wrapping_sub(1)))
                && digit(bytes.get(at + 1))
        };
        comma(span.start) || comma(span.start.wrapping_sub(1))
    }

    /// Notes an error at a place; reading goes on, so that all are told at once.
    pub(super) fn report(
        &self,
        code: Code,
        span: Range<usize>,
        message: impl Into<String>,
        help: Option<String>,
    ) {
        let start = span.start;
        let mut error = drawn(
            Error::new(code, message).in_file(self.file),
            self.text,
            span,
        );
        if let Some(help) = help {
            error = error.help(help);
        }
        self.errors.borrow_mut().push((start, error));
    }

    /// Notes that something is missing from the card as a whole, where no line can be shown.
    pub(super) fn report_missing(&self, message: impl Into<String>, help: String) {
        let error = Error::new(Code::MissingKey, message).in_file(self.file);
        self.errors
            .borrow_mut()
            .push((usize::MAX, error.help(help)));
    }

    /// What stands at a place, short enough for a sentence.
    pub(super) fn quote(&self, span: &Range<usize>) -> String {
        let text = self.text.get(span.clone()).unwrap_or_default();
        let line = text.lines().next().unwrap_or_default();
        let kept: String = line.chars().take(LONGEST_QUOTE).collect();
        let dots = if kept.len() < text.len() { "…" } else { "" };
        let printable = kept.replace(char::is_control, "\u{fffd}");
        format!("`{printable}{dots}`")
    }

    /// The card, if nothing was found against it.
    pub(super) fn finish<T>(&self, card: Option<T>) -> Result<T> {
        match (self.first_error(), card) {
            (Some(error), _) => Err(error),
            (None, Some(card)) => Ok(card),
            // Reading a needed key either gives it or reports an error.
            (None, None) => Err(Error::new(
                Code::Internal,
                "a card lacks a value, and no error says which",
            )
            .in_file(self.file)),
        }
    }

    /// All errors as one, in the order of the text.
    fn first_error(&self) -> Option<Error> {
        let mut errors = self.errors.borrow_mut();
        errors.sort_by_key(|(at, _)| *at);
        Error::all(errors.drain(..).map(|(_, error)| error))
    }
}

/// An error of any other TOML at a place in its text, drawn as those of a card are.
pub(crate) fn drawn(mut error: Error, text: &str, span: Range<usize>) -> Error {
    if let Some(line) = Line::around(text, &span) {
        error = error.at_line(line.number).at_column(line.column());
        if let Some(drawn) = line.drawn() {
            error = error.with_snippet(drawn);
        }
    }
    error
}

/// The line of the card in which a place starts.
struct Line<'t> {
    text: &'t str,
    number: u64,
    /// The place, in bytes of the line, cut at its end.
    span: Range<usize>,
}

impl<'t> Line<'t> {
    fn around(text: &'t str, span: &Range<usize>) -> Option<Self> {
        let at = span.start.min(text.len());
        let before = text.get(..at)?;
        let start = before.rfind('\n').map_or(0, |newline| newline + 1);
        let line = text[start..].lines().next().unwrap_or_default();
        let from = (at - start).min(line.len());
        let to = span.end.saturating_sub(start).clamp(from, line.len());
        Some(Self {
            text: line,
            number: before.matches('\n').count() as u64 + 1,
            span: from..to,
        })
    }

    fn column(&self) -> u64 {
        self.text[..self.span.start].chars().count() as u64 + 1
    }

    fn drawn(&self) -> Option<String> {
        if self.text.len() > LONGEST_LINE || self.text.trim().is_empty() {
            return None;
        }
        let snippet = Snippet::source(self.text)
            .line_start(self.number as usize)
            .annotation(AnnotationKind::Primary.span(self.span.clone()));
        let report = [Group::with_level(Level::ERROR).element(snippet)];
        Some(Renderer::plain().render(&report))
    }
}
