//! An inspection as one row of a table, judged by itself: no folder, no archive, and nothing that is
//! kept from one row to the next.

use super::rejudge::judge_files;
use crate::card::InspectionCard;
use crate::error::{Code, Error, Result};
use crate::judge::Effort;
use crate::record::archive::{Digest, StoredFile, evidence_of, plain, unpack};
use crate::record::{Characteristic, INSPECTION_FILE, Verdict};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::collections::HashSet;
use std::ops::RangeInclusive;

/// The form of what is answered.
pub const JUDGED_SCHEMA: &str = "heelclear.judged/1";

/// An inspection as a row: its three cards as text, and each trace with the bytes of its files.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Row {
    /// What the row is called by whoever asks, a text or a whole number: given back as it is.
    #[serde(default)]
    pub id: Value,
    /// The digest of the record that it is of; where it is of none, that of its own files is taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub content: Option<Digest>,
    /// `inspection.toml`.
    pub inspection_card: String,
    /// The tool card that it names.
    pub tool_card: String,
    /// The gauge card that it names.
    pub gauge_card: String,
    /// The traces that it names.
    pub traces: Vec<RowTrace>,
    /// Where random numbers start; as `verify` has it otherwise.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seed: Option<u64>,
    /// So many trials; as many as the decisions need otherwise.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub trials: Option<u64>,
}

/// A trace of a row.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RowTrace {
    /// The file that the inspection card names; the angles' where there are two.
    pub file: String,
    /// Its bytes in base64 (RFC 4648, 4), as they are or as an archive packs them.
    pub blob: String,
    /// The file of the readings, where they have one of their own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reading_file: Option<String>,
    /// Its bytes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reading_blob: Option<String>,
}

/// What is answered to a row: a verdict, or why there is none.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct JudgedRow {
    /// `heelclear.judged/1`.
    pub schema: String,
    /// As it was asked.
    pub id: Value,
    /// Which inspection; nothing where the row could not be read that far.
    pub content: Option<Digest>,
    /// Name and version of the program that judged. With `content` it is the key of an answer.
    pub program: String,
    /// What it was judged from, as in `verdict.json`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub judged_from: Option<String>,
    /// `pass`, `fail` or `undecided`; nothing where nothing has a limit, and where there is an error.
    pub verdict: Option<Verdict>,
    /// The figures, as in `verdict.json`.
    #[serde(default)]
    pub characteristics: Vec<Characteristic>,
    /// Why it was not judged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub error: Option<RowError>,
}

/// Why a row was not judged.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RowError {
    /// One of the codes of `errors`.
    pub code: String,
    /// What was found.
    pub message: String,
}

impl JudgedRow {
    fn of(id: Value, content: Option<Digest>) -> Self {
        Self {
            schema: JUDGED_SCHEMA.to_owned(),
            id,
            content,
            program: format!("heelclear {}", env!("CARGO_PKG_VERSION")),
            judged_from: None,
            verdict: None,
            characteristics: Vec::new(),
            error: None,
        }
    }

    /// The answer to a row that cannot be judged.
    pub fn refused(id: Value, content: Option<Digest>, error: &Error) -> Self {
        let message = match &error.place().file {
            Some(file) => format!("{file}: {}", error.message()),
            None => error.message().to_owned(),
        };
        let code = error.code().as_str().to_owned();
        Self {
            error: Some(RowError { code, message }),
            ..Self::of(id, content)
        }
    }
}

impl Row {
    /// Judges it. What cannot be judged is an answer too.
    pub fn judged(self) -> JudgedRow {
        if let Err(error) = self.asks_for_what_can_be() {
            let id = if is_a_name(&self.id) {
                self.id
            } else {
                Value::Null
            };
            return JudgedRow::refused(id, self.content, &error);
        }
        let files = match self.files() {
            Ok(files) => files,
            Err(error) => return JudgedRow::refused(self.id, self.content, &error),
        };
        let content = self.content.unwrap_or_else(|| evidence_of(&files));
        let usual = Effort::default();
        let effort = Effort {
            seed: self.seed.unwrap_or(usual.seed),
            trials: self.trials.and_then(|trials| usize::try_from(trials).ok()),
            ..usual
        };
        match judge_files(&files, effort) {
            Ok(record) => JudgedRow {
                judged_from: record.judged_from,
                verdict: record.verdict,
                characteristics: record.characteristics,
                ..JudgedRow::of(self.id, Some(content))
            },
            Err(error) => JudgedRow::refused(self.id, Some(content), &error),
        }
    }

    fn asks_for_what_can_be(&self) -> Result<()> {
        let refused = |message: String| Err(Error::new(Code::Usage, message));
        if !is_a_name(&self.id) {
            return refused("read an `id` that would not come back as it is, expected a text or a whole number of 64 bits".to_owned());
        }
        match self.trials {
            Some(trials) if !TRIALS.contains(&trials) => refused(format!(
                "read {trials} `trials`, expected {} to {}",
                TRIALS.start(),
                TRIALS.end()
            )),
            _ => Ok(()),
        }
    }

    /// The files of the folder that it would be.
    fn files(&self) -> Result<Vec<StoredFile>> {
        let inspection = InspectionCard::parse(&self.inspection_card, INSPECTION_FILE)?;
        let card = |path: &str, text: &str| StoredFile {
            path: plain(path),
            bytes: text.as_bytes().to_vec(),
        };
        let mut files = vec![
            card(INSPECTION_FILE, &self.inspection_card),
            card(&inspection.tool, &self.tool_card),
            card(&inspection.gauge, &self.gauge_card),
        ];
        for trace in &self.traces {
            files.push(file(&trace.file, &trace.blob)?);
            if let Some(path) = &trace.reading_file {
                files.push(file(
                    path,
                    trace.reading_blob.as_deref().unwrap_or_default(),
                )?);
            }
        }
        let mut seen = HashSet::new();
        for file in &files {
            // Two that a system may take for one would leave it open which of them is judged.
            if !seen.insert(file.path.to_lowercase()) {
                let message = "stands twice among the files of the row";
                return Err(Error::new(Code::CardValue, message).in_file(&file.path));
            }
        }
        Ok(files)
    }
}

/// As `verify --trials` has it.
const TRIALS: RangeInclusive<u64> = 1_000..=10_000_000;

/// Whether JSON gives it back as it was written: real numbers and greater ones are rounded.
fn is_a_name(id: &Value) -> bool {
    id.is_null() || id.is_string() || id.is_i64() || id.is_u64()
}

/// A file of a row.
fn file(path: &str, blob: &str) -> Result<StoredFile> {
    let refused = |message: String| Error::new(Code::ArchiveBroken, message).in_file(path);
    let bytes = STANDARD
        .decode(blob)
        .map_err(|fault| refused(format!("its bytes are no base64: {fault}")))?;
    // As an archive keeps it, it begins with a sign that no text of numbers does.
    let bytes = match bytes.starts_with(b"hclr") {
        true => unpack(&bytes).map_err(refused)?,
        false => bytes,
    };
    Ok(StoredFile {
        path: plain(path),
        bytes,
    })
}
