//! The commands that write, and what must hold of the place whenever one of them was broken off.

use crate::place::{KEPT, NEW, Place, files, first};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// A command that writes.
pub struct Job {
    pub name: &'static str,
    pub arguments: &'static [&'static str],
    /// What is wrong with the place, where the command was broken off after it had said this on
    /// stdout.
    pub holds: fn(&Place, &str) -> Holds,
}

/// What is not as it has to be.
#[derive(Debug, Default)]
pub struct Holds {
    pub lost: Vec<String>,
    pub wrong: Vec<String>,
}

pub const JOBS: [Job; 9] = [
    Job {
        name: "verify",
        arguments: &["verify", "open"],
        holds: |place, _| {
            let mut holds = whole_or_absent(place, "open", &["verdict.json", "report.svg"]);
            for (name, bytes) in files(&first().join("open")) {
                if fs::read(place.path("open").join(&name)).ok() != Some(bytes) {
                    holds
                        .lost
                        .push(format!("`{name}` of the folder was changed"));
                }
            }
            holds
        },
    },
    Job {
        name: "archive add",
        arguments: &[
            "archive",
            "add",
            "--json",
            "b1",
            "b2",
            "b3",
            "b4",
            "--archive",
            "a.db",
        ],
        holds: |place, said| {
            let mut holds = archive_is_whole(place, "a.db");
            let there: BTreeSet<String> = place.operators("a.db").into_iter().collect();
            let reported = NEW
                .iter()
                .filter(|name| said.contains(&format!("\"{name}\"")));
            for name in KEPT.iter().chain(reported) {
                if !there.contains(*name) {
                    holds
                        .lost
                        .push(format!("`{name}` was kept, and is not there"));
                }
            }
            holds
        },
    },
    Job {
        name: "archive export",
        arguments: &["archive", "export", "--out", "out", "--archive", "a.db"],
        holds: |place, _| {
            let mut holds = archive_is_whole(place, "a.db");
            let right = files(&first().join("exported"));
            let mut folders = BTreeSet::new();
            for (name, bytes) in visible(files(&place.path("out"))) {
                folders.insert(name.split('/').next().unwrap_or_default().to_owned());
                if !right.contains(&(name.clone(), bytes)) {
                    holds.wrong.push(format!("`{name}` is not as it was"));
                }
            }
            for (name, _) in &right {
                let of = name.split('/').next().unwrap_or_default();
                if folders.contains(of) && !place.path("out").join(name).exists() {
                    holds.wrong.push(format!("`{name}` is missing"));
                }
            }
            holds
        },
    },
    Job {
        name: "archive export --as csv",
        arguments: &[
            "archive",
            "export",
            "--as",
            "csv",
            "--out",
            "all.csv",
            "--archive",
            "a.db",
        ],
        holds: |place, _| whole_or_absent(place, "", &["all.csv"]),
    },
    Job {
        name: "archive import",
        arguments: &["archive", "import", "exported", "--archive", "new.db"],
        holds: |place, _| archive_is_whole(place, "new.db"),
    },
    Job {
        name: "archive backup",
        arguments: &["archive", "backup", "copy.db", "--archive", "a.db"],
        holds: |place, _| {
            let mut holds = archive_is_whole(place, "copy.db");
            if place.path("copy.db").exists() && place.operators("copy.db").len() != KEPT.len() {
                holds.wrong.push("the copy has not every record".to_owned());
            }
            holds.lost.extend(archive_is_whole(place, "a.db").wrong);
            holds
        },
    },
    Job {
        name: "archive certificate",
        arguments: &[
            "archive",
            "certificate",
            "1",
            "--out",
            "paper.svg",
            "--archive",
            "a.db",
        ],
        holds: |place, _| whole_or_absent(place, "", &["paper.svg", "paper-2.svg"]),
    },
    Job {
        name: "study --keep",
        arguments: &[
            "study",
            "rest",
            "still.csv",
            "--gauge",
            "gauge.toml",
            "--keep",
        ],
        holds: |place, _| {
            let mut holds = Holds::default();
            let card = fs::read(place.path("gauge.toml")).unwrap_or_default();
            let before = fs::read(first().join("gauge.toml")).unwrap_or_default();
            // The day of the study is that of the test.
            let kept = String::from_utf8_lossy(&card).contains("[study.rest]");
            if card != before && !kept {
                holds
                    .lost
                    .push("the gauge card is neither as it was nor as it is kept".to_owned());
            }
            holds
        },
    },
    Job {
        name: "simulate",
        arguments: &["simulate", "reamer-cam-rise", "--out", "made"],
        holds: |place, _| {
            let mut holds = Holds::default();
            let right = files(&good("made"));
            let came = visible(files(&place.path("made")));
            for (name, bytes) in &came {
                if !right.iter().any(|(it, was)| it == name && was == bytes) {
                    holds.wrong.push(format!("`{name}` is there by half"));
                }
            }
            // The card makes an inspection of it, and comes last.
            let card = came.iter().any(|(name, _)| name == "inspection.toml");
            if card && came.len() != right.len() {
                holds
                    .wrong
                    .push("an inspection without its files".to_owned());
            }
            holds
        },
    },
];

/// What the command that makes this leaves where nobody breaks it off.
fn good(name: &str) -> PathBuf {
    static GOOD: OnceLock<Vec<Place>> = OnceLock::new();
    let good = GOOD.get_or_init(|| {
        let made = JOBS.iter().map(|job| {
            let place = Place::new();
            let (status, said) = place.says(job.arguments);
            assert_ne!(status, Some(2), "{}: {said}", job.name);
            place
        });
        made.collect()
    });
    let mut paths = good.iter().map(|place| place.path(name));
    paths.find(|path| path.exists()).unwrap()
}

/// Files that are as they would be, or not there.
fn whole_or_absent(place: &Place, folder: &str, names: &[&str]) -> Holds {
    let mut holds = Holds::default();
    for name in names {
        let path = Path::new(folder).join(name);
        let right = fs::read(good(&path.display().to_string())).unwrap();
        match fs::read(place.path(&path.display().to_string())) {
            Ok(bytes) if bytes != right => {
                holds.wrong.push(format!("`{name}` is not as it would be"));
            }
            _ => {}
        }
    }
    holds
}

fn archive_is_whole(place: &Place, archive: &str) -> Holds {
    let mut holds = Holds::default();
    if place.path(archive).exists() {
        let (status, said) = place.says(&["archive", "check", "--archive", archive]);
        // One that was only just begun holds nothing yet.
        let begun = said.contains("found no archive there");
        if status != Some(0) && !begun {
            holds.wrong.push(format!("`{archive}`: {said}"));
        }
    }
    holds
}

/// Without what a killed program left to be cleared away.
fn visible(files: Vec<(String, Vec<u8>)>) -> Vec<(String, Vec<u8>)> {
    let hidden = |name: &str| name.split('/').any(|part| part.starts_with('.'));
    files
        .into_iter()
        .filter(|(name, _)| !hidden(name))
        .collect()
}
