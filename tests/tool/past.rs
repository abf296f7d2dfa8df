//! The inputs that the readers of bytes were led to, and those that ever broke one: read again, as
//! `tests/fuzz/run` does it with new ones.
#![allow(clippy::unwrap_used, clippy::expect_used)]

#[path = "../fuzz/targets.rs"]
mod targets;

use std::fs;
use std::path::{Path, PathBuf};
use targets::TARGETS;

fn inputs(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).unwrap();
    let mut files: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
    files.retain(|file| file.is_file());
    files.sort();
    files
}

fn fuzz(folder: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/fuzz")
        .join(folder)
}

#[test]
fn what_was_reached_is_read_or_refused_as_it_was() {
    for (name, target) in TARGETS {
        let inputs = inputs(&fuzz("corpus").join(name));
        assert!(!inputs.is_empty(), "`{name}` has no corpus");
        for input in inputs {
            target(&fs::read(input).unwrap());
        }
    }
}

/// `tests/fuzz/past` holds an input for each time that one broke a reader: `TARGET-what-it-did`.
#[test]
fn what_once_broke_a_reader_breaks_it_no_more() {
    for input in inputs(&fuzz("past")) {
        let name = input.file_name().unwrap().to_str().unwrap().to_owned();
        let of = name.split('-').next().unwrap();
        let (_, target) = TARGETS.iter().find(|(it, _)| *it == of).unwrap();
        let bytes = fs::read(input).unwrap();
        let ran = std::panic::catch_unwind(|| target(&bytes));
        assert!(ran.is_ok(), "{name} breaks it again");
    }
}
