//! Wildcards where the shell has none, or where they were put in quotes.

use crate::error::{Code, Error, Result};
use std::path::{Path, PathBuf};

/// The folders that were named, each pattern with the folders that match it, in the order of their names.
///
/// # Errors
/// `usage` where a pattern matches no folder or cannot be understood.
pub(super) fn folders(named: &[PathBuf]) -> Result<Vec<PathBuf>> {
    let mut folders = Vec::new();
    for name in named {
        match pattern(name) {
            Some(pattern) => folders.extend(matching(pattern)?),
            None => folders.push(name.clone()),
        }
    }
    Ok(folders)
}

/// The name as a pattern; `None` for a name without a wildcard, and for what is there by that very name.
fn pattern(name: &Path) -> Option<&str> {
    let text = name.to_str()?;
    let wild = text.contains(['*', '?', '[']);
    (wild && !name.exists()).then_some(text)
}

fn matching(pattern: &str) -> Result<Vec<PathBuf>> {
    let refused = |why: String| Error::new(Code::Usage, format!("read `{pattern}`, {why}"));
    let found = glob::glob(pattern).map_err(|fault| {
        refused(format!("expected a pattern: {}", fault.msg))
            .help("`*` stands for any characters, `?` for one, `[ab]` for one of these")
    })?;
    // What cannot be looked into is told of when it is opened by its name.
    let folders: Vec<PathBuf> = found.flatten().filter(|path| path.is_dir()).collect();
    if folders.is_empty() {
        return Err(refused("which matches no folder".to_owned()).help(
            "name the folders, or a pattern that matches them: `heelclear verify \"bench/*\"`",
        ));
    }
    Ok(folders)
}
