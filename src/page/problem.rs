//! An error as it is told to a person at a page.

use crate::error::Error;
use serde_json::{Value, json};

/// An error for a person at a page.
pub(super) fn for_page(error: &Error) -> Value {
    let also: Vec<Value> = error.others().iter().map(for_page).collect();
    json!({
        "code": error.code().as_str(),
        "place": error.place().to_string(),
        "message": error.message(),
        "help": error.advice(),
        "also": also,
    })
}
