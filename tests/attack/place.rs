//! A place to be attacked: folders, an archive, what goes out of it; made once and copied.

use crate::folders::{self, copy};
use heelclear::inspection::simulated::write_folder;
use heelclear::simulator::built_in;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;
use tempfile::TempDir;

pub const PROGRAM: &str = env!("CARGO_BIN_EXE_heelclear");

/// Folders that are in the archive, and those that are not yet.
pub const KEPT: [&str; 3] = ["a1", "a2", "a3"];
pub const NEW: [&str; 4] = ["b1", "b2", "b3", "b4"];

/// A copy of the place.
pub struct Place {
    folder: TempDir,
}

impl Place {
    pub fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        copy(first(), folder.path());
        Self { folder }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(PROGRAM);
        command.args(arguments).current_dir(self.folder.path());
        command
    }

    pub fn run(&self, arguments: &[&str]) -> Output {
        self.command(arguments).output().unwrap()
    }

    /// Whether a command ends well, and what it said.
    pub fn says(&self, arguments: &[&str]) -> (Option<i32>, String) {
        let output = self.run(arguments);
        (output.status.code(), told(&output))
    }

    /// The operators of all records of an archive.
    pub fn operators(&self, archive: &str) -> Vec<String> {
        let listed = self.run(&[
            "archive",
            "list",
            "--limit",
            "0",
            "--json",
            "--replaced",
            "--archive",
            archive,
        ]);
        let listed = String::from_utf8(listed.stdout).unwrap();
        let lines = listed
            .lines()
            .map(|line| serde_json::from_str(line).unwrap());
        lines
            .map(|line: serde_json::Value| line["operator"].as_str().unwrap().to_owned())
            .collect()
    }
}

pub fn told(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// The place as it is before anything is done to it.
pub fn first() -> &'static Path {
    static FIRST: OnceLock<TempDir> = OnceLock::new();
    let made = FIRST.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        let run = |arguments: &[&str]| {
            let mut command = Command::new(PROGRAM);
            let output = command.args(arguments).current_dir(folder.path()).output();
            let output = output.unwrap();
            assert_ne!(output.status.code(), Some(2), "{}", told(&output));
        };
        for (name, seed) in KEPT.iter().chain(&NEW).zip(1..) {
            let mut recipe = built_in("counterbore-pass").unwrap();
            recipe.seed = seed;
            write_folder(&recipe, &at(name)).unwrap();
            let card = at(name).join("inspection.toml");
            let text = fs::read_to_string(&card).unwrap();
            fs::write(card, text.replace("bench 2", name)).unwrap();
            run(&["verify", name]);
        }
        let kept = [&["archive", "add"], &KEPT[..], &["--archive", "a.db"]].concat();
        run(&kept);
        run(&[
            "archive",
            "export",
            "--out",
            "exported",
            "--archive",
            "a.db",
        ]);
        let mut recipe = built_in("counterbore-pass").unwrap();
        recipe.seed = 99;
        write_folder(&recipe, &at("open")).unwrap();
        let still: String = (0..200)
            .map(|at| format!("{},{}\n", f64::from(at) * 0.1, f64::from(at % 3) / 1000.0))
            .collect();
        fs::write(at("still.csv"), format!("time_s,reading_mm\n{still}")).unwrap();
        fs::copy(at("open/gauge.toml"), at("gauge.toml")).unwrap();
        folder
    });
    made.path()
}

/// Every file below a folder with its bytes, by path; nothing where there is no folder.
pub fn files(folder: &Path) -> Vec<(String, Vec<u8>)> {
    match folder.is_dir() {
        true => folders::files(folder),
        false => Vec::new(),
    }
}
