//! A record as the text of `verdict.json`, and back.

use super::{Record, SCHEMA};
use crate::error::{Code, Error, Result};

impl Record {
    /// The text of `verdict.json`.
    ///
    /// # Errors
    /// `internal`, should a number in it be one that JSON cannot hold.
    pub fn to_json(&self) -> Result<String> {
        let text = serde_json::to_string_pretty(self);
        let text =
            text.map_err(|fault| Error::internal("cannot write the record as JSON", fault))?;
        Ok(text + "\n")
    }

    /// Reads the text of a `verdict.json`; `file` names it in messages.
    ///
    /// # Errors
    /// `card-syntax` where it is no record, `card-value` where it is one of another form.
    pub fn from_json(text: &str, file: &str) -> Result<Self> {
        let record: Record = serde_json::from_str(text).map_err(|fault| {
            Error::new(Code::CardSyntax, format!("not a verdict: {fault}"))
                .in_file(file)
                .at_line(fault.line() as u64)
                .help("judge the folder again with `heelclear verify`")
                .because(fault)
        })?;
        if record.schema != SCHEMA {
            let message = format!("read schema `{}`, expected `{SCHEMA}`", record.schema);
            return Err(Error::new(Code::CardValue, message).in_file(file));
        }
        Ok(record)
    }
}
