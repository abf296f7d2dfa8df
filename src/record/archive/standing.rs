//! Whether the verdict among the files of an inspection is one on its cards and traces.

use super::stored_file::{INSPECTION, StoredFile, VERDICT, card, find};
use crate::card::InspectionCard;
use crate::record::{JudgedFrom, Standing};
use serde::Deserialize;

/// How the verdict among these files stands to the cards and traces among them; nothing where
/// there is none.
pub fn standing(files: &[StoredFile]) -> Option<Standing> {
    #[derive(Deserialize)]
    struct Verdict {
        #[serde(default)]
        judged_from: Option<String>,
    }
    let verdict = find(files, VERDICT)?;
    let said = serde_json::from_slice::<Verdict>(&verdict.bytes).ok();
    let Some(said) = said.and_then(|said| said.judged_from) else {
        return Some(Standing::NotTied);
    };
    // A card that this program does not read may be good for the one that judged it: what cannot
    // be worked out is not known to be another.
    let Ok(inspection) = card(files, "", INSPECTION, InspectionCard::parse) else {
        return Some(Standing::NotTied);
    };
    let mut from = JudgedFrom::default();
    for name in JudgedFrom::names(&inspection) {
        match find(files, name) {
            Some(file) => from.file(&file.bytes),
            None => return Some(Standing::Other),
        }
    }
    Some(match from.digest().to_string() == said {
        true => Standing::Tied,
        false => Standing::Other,
    })
}
