//! A bench for the tests: folders to keep, an archive to keep them in, and the program.

pub use crate::folders::files;
use heelclear::inspection::simulated::write_folder;
use heelclear::simulator::built_in;
use std::path::PathBuf;
use std::process::{Command, Output};
use tempfile::TempDir;

pub const PROGRAM: &str = env!("CARGO_BIN_EXE_heelclear");

/// A folder of its own with an archive in it.
pub struct Bench {
    folder: TempDir,
}

impl Bench {
    pub fn new() -> Self {
        Self {
            folder: tempfile::tempdir().unwrap(),
        }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn db(&self) -> PathBuf {
        self.path("archive.db")
    }

    /// An inspection that nobody has judged yet; the same seed gives the same bytes.
    pub fn inspection(&self, name: &str, seed: u64) -> PathBuf {
        let folder = self.path(name);
        let mut recipe = built_in("counterbore-pass").unwrap();
        recipe.seed = seed;
        write_folder(&recipe, &folder).unwrap();
        folder
    }

    /// The same, judged.
    pub fn judged(&self, name: &str, seed: u64) -> PathBuf {
        let folder = self.inspection(name, seed);
        self.judge(name);
        folder
    }

    /// Judges a folder, for the first time or since a file in it was mended.
    pub fn judge(&self, name: &str) {
        let mut verify = Command::new(PROGRAM);
        let output = verify.arg("verify").arg(self.path(name)).output();
        assert_ne!(output.unwrap().status.code(), Some(2));
    }

    /// Runs `heelclear archive` on the archive of this bench.
    pub fn archive(&self, arguments: &[&str]) -> Said {
        let mut command = Command::new(PROGRAM);
        command.arg("archive").args(arguments);
        command.arg("--archive").arg(self.db());
        Said::of(command.current_dir(self.folder.path()).output().unwrap())
    }
}

/// What the program said.
pub struct Said {
    pub status: i32,
    pub stdout: String,
    pub stderr: String,
}

impl Said {
    pub fn of(output: Output) -> Self {
        Self {
            status: output.status.code().unwrap_or(-1),
            stdout: String::from_utf8_lossy(&output.stdout).into_owned(),
            stderr: String::from_utf8_lossy(&output.stderr).into_owned(),
        }
    }

    /// Its JSON, one value a line.
    pub fn json(&self) -> Vec<serde_json::Value> {
        let lines = self.stdout.lines();
        lines
            .map(|line| serde_json::from_str(line).unwrap())
            .collect()
    }

    #[track_caller]
    pub fn ended(self, status: i32) -> Self {
        assert_eq!(self.status, status, "{}{}", self.stdout, self.stderr);
        self
    }

    #[track_caller]
    pub fn says(self, words: &str) -> Self {
        let all = format!("{}{}", self.stdout, self.stderr);
        assert!(all.contains(words), "`{words}` is not in\n{all}");
        self
    }
}
