//! The folder while it is captured: cards first, then logs, each step leaving it usable.

use super::{CaptureSettings, GRINDER_FILE, Wanted};
use crate::card::{GaugeCard, InspectionCard, Role, Source, TraceEntry};
use crate::error::unwritable;
use crate::error::{Code, Error, Result};
use crate::gauge::raw_log::RawLog;
use crate::inspection::folder::read_text;
use crate::inspection::logs::{readings_file, rebuild};
use crate::inspection::whole_file::{sync_entries, write_whole};
use crate::record::SETUP_FILE;
use crate::record::archive::{Inside, SIMULATED, SIMULATED_FILE};
use std::fs;
use std::path::{Path, PathBuf};

/// An inspection folder being filled.
#[derive(Debug)]
pub(super) struct Files {
    folder: PathBuf,
    card: InspectionCard,
    /// Whether it is one: a check of the gauge has traces and no card.
    is_inspection: bool,
    /// Whether nothing moves in its traces.
    at_rest: bool,
}

impl Files {
    /// Makes the folder with its cards. From here on it can be used whatever happens.
    pub(super) fn begin(settings: &CaptureSettings) -> Result<Self> {
        let folder = settings.folder.clone();
        free(settings)?;
        parts(&folder)?;
        if let Some(card) = &settings.tool_card {
            write_whole(&folder.join("tool.toml"), card.as_bytes())?;
        }
        write_whole(&folder.join("gauge.toml"), settings.gauge_card.as_bytes())?;
        if let Some(grinder) = &settings.grinder_card {
            grinder.write_motions(&folder)?;
            write_whole(&folder.join(GRINDER_FILE), grinder.card.as_bytes())?;
        }
        if let Some(setup) = &settings.setup {
            write_whole(&folder.join(SETUP_FILE), setup.as_bytes())?;
        }
        let named = |name: &str, there: bool| there.then(|| name.to_owned());
        let files = Self {
            folder,
            is_inspection: settings.tool_card.is_some(),
            at_rest: settings.rest.is_some(),
            card: InspectionCard {
                tool: "tool.toml".to_owned(),
                gauge: "gauge.toml".to_owned(),
                taken: to_the_second(jiff::Timestamp::now()),
                operator: settings.operator.clone(),
                customer: settings.customer.clone(),
                temperature_c: settings.temperature_c,
                stage: settings.stage,
                grinder: named(GRINDER_FILE, settings.grinder_card.is_some()),
                setup: named(SETUP_FILE, settings.setup.is_some()),
                // True until the end has been reached: a kill needs no time to say so.
                interrupted: true,
                traces: Vec::new(),
            },
        };
        if settings.simulated {
            files.mark_simulated()?;
        }
        files.write_card()?;
        Ok(files)
    }

    /// Goes on with a folder that was begun: its cards stay as they are.
    ///
    /// # Errors
    /// When its card cannot be read, or what a killed capture left cannot be finished.
    pub(super) fn resume(folder: &Path, gauge: &GaugeCard) -> Result<Self> {
        let path = folder.join("inspection.toml");
        let text = read_text(&path)?;
        let card = InspectionCard::parse(&text, &path.display().to_string())?;
        rebuild(folder, &card, gauge)?;
        let files = Self {
            folder: folder.to_owned(),
            is_inspection: true,
            at_rest: false,
            card: InspectionCard {
                interrupted: true,
                ..card
            },
        };
        parts(folder)?;
        files.write_card()?;
        Ok(files)
    }

    /// Takes traces off the card, or all of them, and puts this one there. Their files stay.
    pub(super) fn replace(
        &mut self,
        leave_out: Option<&[String]>,
        entry: &TraceEntry,
    ) -> Result<()> {
        let off = |each: &TraceEntry| match leave_out {
            Some(files) => files.iter().any(|file| file == readings_file(each)),
            None => true,
        };
        let handed_on = self.take_off(|each| off(each) || each.source == entry.source);
        self.card.traces.push(TraceEntry {
            rezeroed: entry.rezeroed || handed_on,
            ..entry.clone()
        });
        self.write_card()
    }

    /// A trace that leaves the card hands on that the indicator was set anew before it: those after
    /// it are still measured from the newer zero. Whether none of them was there to take it over.
    fn take_off(&mut self, off: impl Fn(&TraceEntry) -> bool) -> bool {
        let mut rezeroed = false;
        self.card.traces.retain_mut(|each| {
            if off(each) {
                rezeroed |= each.rezeroed;
                return false;
            }
            each.rezeroed |= std::mem::take(&mut rezeroed);
            true
        });
        rezeroed
    }

    /// The traces on the card.
    pub(super) fn traces(&self) -> &[TraceEntry] {
        &self.card.traces
    }

    /// Takes a trace off the card that was given up. Its files stay.
    pub(super) fn leave_out(&mut self, entry: &TraceEntry) -> Result<()> {
        self.take_off(|each| each.source == entry.source);
        self.write_card()
    }

    /// Begins the logs of a trace: one, or angle and reading apart. It is on the card only once
    /// it is [kept](Self::keep): before the tool turns there is nothing to judge.
    pub(super) fn begin_trace(
        &self,
        wanted: &Wanted,
        apart: bool,
    ) -> Result<(TraceEntry, Vec<RawLog>)> {
        let base = match self.at_rest {
            true => "rest".to_owned(),
            false => base_name(&wanted.role),
        };
        let name = self.free_name(base);
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
            count_shift: 0,
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
            logs.push(RawLog::create(&path).map_err(|fault| unwritable(&path, fault))?);
        }
        sync_entries(&self.folder.join("raw"));
        Ok((entry, logs))
    }

    /// Puts a trace on the card: the tool turns in it.
    pub(super) fn keep(&mut self, entry: &TraceEntry) -> Result<()> {
        self.card.traces.push(entry.clone());
        self.write_card()
    }

    /// Says beside the card that nothing was measured.
    pub(super) fn mark_simulated(&self) -> Result<()> {
        let file = self.folder.join(SIMULATED_FILE);
        match file.exists() {
            true => Ok(()),
            false => write_whole(&file, SIMULATED.as_bytes()),
        }
    }

    /// Says on the card that the capture came to its end.
    pub(super) fn finish(&mut self) -> Result<()> {
        self.card.interrupted = false;
        self.write_card()
    }

    /// Says on the card that more is to come, where it said otherwise.
    pub(super) fn reopen(&mut self) -> Result<()> {
        if self.card.interrupted {
            return Ok(());
        }
        self.card.interrupted = true;
        self.write_card()
    }

    pub(super) fn folder(&self) -> &Path {
        &self.folder
    }

    fn write_card(&self) -> Result<()> {
        if !self.is_inspection {
            return Ok(());
        }
        let path = self.folder.join("inspection.toml");
        write_whole(&path, self.card.to_toml().as_bytes())
    }

    /// `seat`, then `seat-2`. A feature may be called anything; its file keeps what is safe.
    fn free_name(&self, base: String) -> String {
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

/// What the files of a trace are called, before a number tells several apart.
pub(in crate::inspection) fn base_name(role: &Role) -> String {
    let role = role.called();
    let safe = |c: char| if c.is_ascii_alphanumeric() { c } else { '-' };
    role.chars().map(safe).collect()
}

/// Refuses a folder that holds an inspection, and for a check one that holds a gauge card.
pub(super) fn free(settings: &CaptureSettings) -> Result<()> {
    let folder = &settings.folder;
    if settings.tool_card.is_none() && folder.join("gauge.toml").exists() {
        return Err(
            Error::new(Code::Usage, "the folder holds a gauge card already")
                .in_file(folder.display().to_string())
                .help("name a new folder: a check keeps the card that it was taken with"),
        );
    }
    if folder.join("inspection.toml").exists() {
        return Err(
            Error::new(Code::Usage, "the folder holds an inspection already")
                .in_path(folder)
                .help("name a new folder: an inspection is never overwritten"),
        );
    }
    Ok(())
}

/// Makes the folders of logs and of traces, and refuses such that lie elsewhere in truth.
fn parts(folder: &Path) -> Result<()> {
    fs::create_dir_all(folder).map_err(|fault| unwritable(folder, fault))?;
    let inside = Inside::of(folder);
    for part in ["raw", "traces"] {
        let path = folder.join(part);
        inside.stays(&path)?;
        fs::create_dir_all(&path).map_err(|fault| unwritable(&path, fault))?;
    }
    Ok(())
}

/// Nobody starts a measurement to the nanosecond.
fn to_the_second(now: jiff::Timestamp) -> jiff::Timestamp {
    jiff::Timestamp::from_second(now.as_second()).unwrap_or(now)
}
