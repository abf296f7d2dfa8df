//! The folder while it is captured: cards first, then logs, each step leaving it usable.

use super::{CaptureSettings, Wanted};
use crate::card::{InspectionCard, Role, Source, TraceEntry};
use crate::error::{Code, Error, Result};
use crate::gauge::raw_log::RawLog;
use crate::inspection::folder::{sync_entries, unwritable, write_whole};
use std::fs;
use std::path::{Path, PathBuf};

/// An inspection folder being filled.
#[derive(Debug)]
pub(super) struct Files {
    folder: PathBuf,
    card: InspectionCard,
}

impl Files {
    /// Makes the folder with its cards. From here on it can be used whatever happens.
    pub(super) fn begin(settings: &CaptureSettings) -> Result<Self> {
        let folder = settings.folder.clone();
        free(&folder)?;
        for part in ["raw", "traces"] {
            let path = folder.join(part);
            fs::create_dir_all(&path).map_err(|fault| unwritable(&path, &fault))?;
        }
        write_whole(&folder.join("tool.toml"), settings.tool_card.as_bytes())?;
        write_whole(&folder.join("gauge.toml"), settings.gauge_card.as_bytes())?;
        let files = Self {
            folder,
            card: InspectionCard {
                tool: "tool.toml".to_owned(),
                gauge: "gauge.toml".to_owned(),
                taken: to_the_second(jiff::Timestamp::now()),
                operator: settings.operator.clone(),
                stage: settings.stage,
                // True until the end has been reached: a kill needs no time to say so.
                interrupted: true,
                traces: Vec::new(),
            },
        };
        files.write_card()?;
        Ok(files)
    }

    /// Begins the logs of a trace: one, or angle and reading apart. It is on the card only once
    /// it is [kept](Self::keep): before the tool turns there is nothing to judge.
    pub(super) fn begin_trace(
        &self,
        wanted: &Wanted,
        apart: bool,
    ) -> Result<(TraceEntry, Vec<RawLog>)> {
        let name = self.free_name(&wanted.role);
        let file = |part: &str| format!("traces/{name}{part}.csv");
        let source = if apart {
            Source::Two {
                angle: file("-angle"),
                reading: file("-reading"),
            }
        } else {
            Source::One(file(""))
        };
        let entry = TraceEntry {
            source,
            role: wanted.role.clone(),
            z: wanted.z,
            diameter: wanted.diameter,
            rezeroed: wanted.rezeroed,
        };
        // Indicator first, as the devices are numbered.
        let parts: &[&str] = if apart {
            &["-reading", "-angle"]
        } else {
            &[""]
        };
        let mut logs = Vec::new();
        for part in parts {
            let path = self.folder.join(format!("raw/{name}{part}.log"));
            logs.push(RawLog::create(&path).map_err(|fault| unwritable(&path, &fault))?);
        }
        sync_entries(&self.folder.join("raw"));
        Ok((entry, logs))
    }

    /// Puts a trace on the card: the tool turns in it.
    pub(super) fn keep(&mut self, entry: &TraceEntry) -> Result<()> {
        self.card.traces.push(entry.clone());
        self.write_card()
    }

    /// Says on the card that the capture came to its end.
    pub(super) fn finish(&mut self) -> Result<()> {
        self.card.interrupted = false;
        self.write_card()
    }

    pub(super) fn folder(&self) -> &Path {
        &self.folder
    }

    fn write_card(&self) -> Result<()> {
        let path = self.folder.join("inspection.toml");
        write_whole(&path, self.card.to_toml().as_bytes())
    }

    /// `seat`, then `seat-2`. A feature may be called anything; its file keeps what is safe.
    fn free_name(&self, role: &Role) -> String {
        let role = match role {
            Role::Reference => "reference",
            Role::Feature(name) => name,
        };
        let safe = |c: char| if c.is_ascii_alphanumeric() { c } else { '-' };
        let base: String = role.chars().map(safe).collect();
        let taken = |name: &String| {
            ["", "-reading"].iter().any(|part| {
                let log = self.folder.join(format!("raw/{name}{part}.log"));
                log.exists()
            })
        };
        let numbered = (2..).map(|n| format!("{base}-{n}"));
        let mut names = std::iter::once(base.clone()).chain(numbered);
        names.find(|name| !taken(name)).unwrap_or(base)
    }
}

/// Refuses a folder that holds an inspection.
pub(super) fn free(folder: &Path) -> Result<()> {
    if folder.join("inspection.toml").exists() {
        return Err(
            Error::new(Code::Usage, "the folder holds an inspection already")
                .in_file(folder.display().to_string())
                .help("name a new folder: an inspection is never overwritten"),
        );
    }
    Ok(())
}

/// Nobody starts a measurement to the nanosecond.
fn to_the_second(now: jiff::Timestamp) -> jiff::Timestamp {
    jiff::Timestamp::from_second(now.as_second()).unwrap_or(now)
}
