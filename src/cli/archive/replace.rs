//! Which files a command may write over: none that is evidence.

use crate::error::{Code, Error, Result};
use crate::record::archive::regular;
use std::io::Read;
use std::path::Path;

/// How an SQLite database begins (SQLite database file format, 1.3).
const DATABASE: &[u8] = b"SQLite format 3\0";
/// A folder with this file is an inspection.
const INSPECTION: &str = "inspection.toml";
/// Files of a folder's traces lie one folder down.
const FOLDERS_UP: usize = 2;

/// Refuses a file that is an archive, or that is part of an inspection and was not drawn from it:
/// what is written there cannot be had again.
pub(super) fn may_replace(file: &Path) -> Result<()> {
    let Ok(known) = std::fs::symlink_metadata(file) else {
        return Ok(());
    };
    let refused = |what: &str| {
        Err(Error::new(
            Code::Usage,
            format!("this file is {what}, and would be lost"),
        )
        .in_path(file)
        .help("name another file with `--out`; nothing was touched"))
    };
    // A link is written through, where it leads to a file; one of the system's own leads elsewhere for
    // each program.
    let whole = std::path::absolute(file).unwrap_or_else(|_| file.to_owned());
    let of_the_system = ["/dev", "/proc"].iter().any(|it| whole.starts_with(it));
    let leads_to_a_file = std::fs::metadata(file).is_ok_and(|about| about.is_file());
    if !leads_to_a_file || (known.is_symlink() && of_the_system) {
        return refused("no file to write over");
    }
    let mut begins = [0; DATABASE.len()];
    let read = regular::opened(file).and_then(|mut file| file.read_exact(&mut begins));
    if read.is_ok() && begins == DATABASE {
        return refused("an archive");
    }
    let drawn = file.extension().is_some_and(|ending| ending == "svg");
    let file = file.canonicalize().unwrap_or_else(|_| file.to_owned());
    let mut above = file.ancestors().skip(1).take(FOLDERS_UP);
    if !drawn && above.any(|folder| folder.join(INSPECTION).is_file()) {
        return refused("part of an inspection");
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn an_archive_and_the_files_of_an_inspection_are_not_written_over() {
        let folder = tempfile::tempdir().unwrap();
        let path = |name: &str| folder.path().join(name);
        let file = |name: &str, text: &[u8]| {
            std::fs::create_dir_all(path(name).parent().unwrap()).unwrap();
            std::fs::write(path(name), text).unwrap();
        };
        file("archive.db", b"SQLite format 3\0 and more");
        file("bench/inspection.toml", b"schema = 1");
        file("bench/traces/seat.csv", b"time_s");
        file("bench/report.svg", b"<svg/>");
        file("tables/all.csv", b"record");
        let check = |name: &str, allowed: bool| {
            assert_eq!(may_replace(&path(name)).is_ok(), allowed, "{name}");
        };
        check("archive.db", false);
        check("bench/traces/seat.csv", false);
        check("bench/inspection.toml", false);
        check("bench/report.svg", true);
        check("tables/all.csv", true);
        check("not-yet.csv", true);
    }
}
