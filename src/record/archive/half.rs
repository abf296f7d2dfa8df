//! Files that are not whole yet: they go by another name until they are, and are cleared away by
//! whoever comes after a program that was killed over them.

use std::fs;
use std::io;
use std::path::Path;
use std::time::Duration;
use tempfile::Builder;

/// How the name of a file begins and ends that is not whole yet.
pub(super) const BEGINNING: &str = ".heelclear-";
const END: &str = ".half";

/// What is older than this is no longer written by anybody: its program was killed.
const ABANDONED: Duration = Duration::from_secs(24 * 60 * 60);

/// Makes files, or folders, of such a name, that go away again unless they are renamed.
pub(super) fn written() -> Builder<'static, 'static> {
    let mut builder = Builder::new();
    builder.prefix(BEGINNING).suffix(END);
    builder
}

/// Takes out what was left over in a folder.
pub(super) fn sweep(folder: &Path) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let name = entry.file_name();
        let name = name.to_string_lossy();
        // A database that was killed leaves its journal beside it.
        let half = name.strip_suffix("-journal").unwrap_or(&name);
        let by_half = half.starts_with(BEGINNING) && half.ends_with(END);
        let changed = || entry.metadata().and_then(|about| about.modified());
        let age = || changed().ok().and_then(|then| then.elapsed().ok());
        if by_half && age().is_some_and(|age| age > ABANDONED) {
            let removed = if entry.path().is_dir() {
                fs::remove_dir_all(entry.path())
            } else {
                fs::remove_file(entry.path())
            };
            match removed {
                // Somebody else came first.
                Err(fault) if fault.kind() == io::ErrorKind::NotFound => {}
                removed => removed?,
            }
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use std::time::SystemTime;

    #[test]
    fn only_what_was_abandoned_is_taken_out() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        let days_ago = SystemTime::now() - ABANDONED * 2;
        for (name, old) in [
            (".heelclear-a.half", true),
            (".heelclear-a.half-journal", true),
            (".heelclear-b.half", false),
            (".heelclear-notes", true),
            ("sound.db", true),
        ] {
            let file = fs::File::create(at(name)).unwrap();
            if old {
                file.set_modified(days_ago).unwrap();
            }
        }
        sweep(folder.path()).unwrap();
        let mut left: Vec<String> = fs::read_dir(folder.path())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        left.sort();
        assert_eq!(left, [".heelclear-b.half", ".heelclear-notes", "sound.db"]);
    }
}
