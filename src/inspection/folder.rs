//! An inspection folder on disk: its cards, its traces, and what is written back into it.

use super::agree::{agree, reaches};
use super::logs::{Logged, logged, tied};
use super::whole_file::unreadable;
use crate::card::{GaugeCard, INSIDE, InspectionCard, Source, ToolCard, TraceEntry, drawn};
use crate::error::{Code, Error, Result, as_text};
use crate::quantity::Time;
use crate::record::archive::{Inside, Passing, SIMULATED_FILE, regular};
use crate::record::{INSPECTION_FILE, JudgedFrom};
use crate::sample::{Height, Position, Sample};
use crate::trace::apart::apart;
use crate::trace::csv::{self, Rows, Slide, Table};
use crate::trace::{Trace, align};
use std::path::{Path, PathBuf};

/// An inspection folder with its cards read.
#[derive(Clone, Debug)]
pub struct Folder {
    /// Where it is.
    pub dir: PathBuf,
    /// What was done.
    pub inspection: InspectionCard,
    /// What the tool should be.
    pub tool: ToolCard,
    /// What it was measured with.
    pub gauge: GaugeCard,
    /// Whether its readings come from a simulated gauge.
    pub simulated: bool,
    /// The cards as the beginning of what a verdict is judged from.
    pub(super) cards: JudgedFrom,
}

/// One trace as read from its files.
#[derive(Clone, Debug)]
pub enum Taken {
    /// Over the turning tool.
    Turning(Trace),
    /// Over table travel.
    Sliding(Vec<Slide>),
}

impl Folder {
    /// Reads the three cards.
    ///
    /// # Errors
    /// `missing-file` or `disk` when one cannot be read, and the card errors.
    pub fn open(dir: &Path) -> Result<Self> {
        if !dir.is_dir() {
            let found = if dir.exists() { "a file" } else { "no folder" };
            return Err(Error::new(
                Code::Missing,
                format!("found {found}, expected an inspection folder"),
            )
            .in_path(dir)
            .help("`heelclear simulate` and `heelclear capture` make one"));
        }
        let inspection_file = dir.join(INSPECTION_FILE);
        if !inspection_file.exists() {
            return Err(Error::new(
                Code::Missing,
                "found no such file, expected the card that says what was done",
            )
            .in_path(inspection_file)
            .help("name the folder that holds it; `heelclear manual judge-a-folder` shows one"));
        }
        let inspection_text = read_text(&inspection_file)?;
        let inspection =
            InspectionCard::parse(&inspection_text, &inspection_file.display().to_string())?;
        all_inside(dir, &inspection, &inspection_text)?;
        let tool_file = dir.join(&inspection.tool);
        let gauge_file = dir.join(&inspection.gauge);
        let mut cards = JudgedFrom::default();
        // The very bytes that are read are digested: a file may change between two readings.
        let mut card = |file: &Path| {
            let text = read_text(file);
            cards.file(text.as_ref().map_or(&[][..], |text| text.as_bytes()));
            text
        };
        let tool = card(&tool_file)
            .and_then(|text| ToolCard::parse(&text, &tool_file.display().to_string()));
        let gauge = card(&gauge_file).and_then(|text| {
            let gauge = GaugeCard::parse(&text, &gauge_file.display().to_string())?;
            Ok((gauge, text))
        });
        cards.file(inspection_text.as_bytes());
        match (tool, gauge) {
            (Ok(tool), Ok((gauge, text))) => {
                let name = gauge_file.display().to_string();
                agree(&tool, &gauge, &name)?;
                reaches((&tool, &gauge, &inspection), &text, &name)?;
                Ok(Self {
                    dir: dir.to_owned(),
                    inspection,
                    tool,
                    gauge,
                    simulated: dir.join(SIMULATED_FILE).exists(),
                    cards,
                })
            }
            (tool, gauge) => Err(Error::all([tool.err(), gauge.err()].into_iter().flatten())
                .unwrap_or_else(|| Error::new(Code::Internal, "two cards gave no error"))),
        }
    }

    /// The path of a file that the inspection card names beside its cards and traces.
    pub(super) fn beside(&self, inside: &str) -> Result<PathBuf> {
        let cards = [
            self.inspection.tool.as_str(),
            self.inspection.gauge.as_str(),
        ];
        if let Some(objection) = Inside::of(&self.dir).objection(inside, &cards) {
            let message =
                format!("read the path `{inside}`, expected one inside the inspection folder");
            return Err(Error::new(Code::CardValue, message)
                .in_path(self.dir.join("inspection.toml"))
                .help(objection));
        }
        Ok(self.dir.join(inside))
    }

    /// Reads one trace, angles made to grow the cutting way. Warnings go to `warnings`.
    ///
    /// # Errors
    /// When a file cannot be read or holds no usable line.
    pub fn trace(&self, entry: &TraceEntry, warnings: &mut Vec<String>) -> Result<Taken> {
        self.take(entry, None, &mut JudgedFrom::default(), warnings)
    }

    /// The same; its files go to `from`. Where another trace of the inspection has `shown` how far the
    /// clocks stand apart, that counts unless this one shows clearly otherwise.
    pub(super) fn take(
        &self,
        entry: &TraceEntry,
        shown: Option<Time>,
        from: &mut JudgedFrom,
        warnings: &mut Vec<String>,
    ) -> Result<Taken> {
        let positive = self.gauge.encoder.positive(self.tool.hand);
        let mut set_back = Time::ZERO;
        let samples = match &entry.source {
            Source::One(file) => match self.table(file, from, warnings)?.rows {
                Rows::Turning(samples) => align::one_clock(samples, positive),
                Rows::Sliding(mut slides) => {
                    if let Some((gain, _)) = self.gain() {
                        for slide in &mut slides {
                            slide.reading = slide.reading / gain;
                        }
                    }
                    return Ok(Taken::Sliding(slides));
                }
                Rows::Positions(_) => {
                    return Err(self.lacks(file, "`time_s` and `angle_deg`", "`reading_mm`"));
                }
                Rows::Heights(_) => {
                    return Err(self.lacks(file, "`time_s` and `reading_mm`", "`angle_deg`"));
                }
            },
            Source::Two { angle, reading } => {
                let Rows::Positions(positions) = self.table(angle, from, warnings)?.rows else {
                    return Err(self.lacks(
                        angle,
                        "other columns",
                        "`time_s` and `angle_deg` alone",
                    ));
                };
                let Rows::Heights(heights) = self.table(reading, from, warnings)?.rows else {
                    return Err(self.lacks(
                        reading,
                        "other columns",
                        "`time_s` and `reading_mm` alone",
                    ));
                };
                set_back = self.apart(&positions, &heights, shown);
                align::two_clocks_apart(&positions, &heights, positive, set_back)
            }
        };
        Ok(Taken::Turning(self.as_trace(entry, samples, set_back)))
    }

    /// How far the readings' clock is to be set back before they are joined to angles.
    fn apart(&self, positions: &[Position], heights: &[Height], shown: Option<Time>) -> Time {
        let stated = self.gauge.setup.delay;
        stated.unwrap_or_else(|| apart(positions, heights, shown).found)
    }

    /// A trace that is still growing, tied to those of the card by the encoder's index mark.
    pub(super) fn tied(&self, entry: &TraceEntry) -> Result<TraceEntry> {
        tied(&self.dir, &self.inspection.traces, entry, &self.gauge)
    }

    /// Reads a trace that is still growing, from its raw log as it stands now.
    pub(super) fn growing(&self, entry: &TraceEntry, warnings: &mut Vec<String>) -> Result<Taken> {
        let positive = self.gauge.encoder.positive(self.tool.hand);
        let mut set_back = Time::ZERO;
        let samples = match logged(&self.dir, entry, &self.gauge, warnings)? {
            Logged::One(samples) => align::one_clock(samples, positive),
            // Nothing can be judged without an angle.
            Logged::Alone(_) => Vec::new(),
            Logged::Two(positions, heights) => {
                set_back = self.apart(&positions, &heights, None);
                align::two_clocks_apart(&positions, &heights, positive, set_back)
            }
        };
        Ok(Taken::Turning(self.as_trace(entry, samples, set_back)))
    }

    /// What every reading is to be divided by, and what a record says of it.
    fn gain(&self) -> Option<(f64, String)> {
        let study = self.gauge.studies.step?;
        let gain = study.correction(self.gauge.indicator.max_error)?;
        let told = format!(
            "divided every reading by {gain:.4}, the indicator's gain as the study of {} found it",
            study.taken
        );
        Some((gain, told))
    }

    fn as_trace(&self, entry: &TraceEntry, mut samples: Vec<Sample>, apart: Time) -> Trace {
        let gain = self.gain();
        if let Some((gain, _)) = &gain {
            for sample in &mut samples {
                sample.reading = sample.reading / *gain;
            }
        }
        let (name, two_clocks) = match &entry.source {
            Source::One(file) => (file.clone(), false),
            Source::Two { reading, .. } => (reading.clone(), true),
        };
        Trace {
            name,
            role: entry.role.clone(),
            z: entry.z,
            rezeroed: entry.rezeroed,
            two_clocks,
            apart,
            samples,
            history: gain.into_iter().map(|(_, told)| told).collect(),
        }
    }

    fn table(
        &self,
        file: &str,
        from: &mut JudgedFrom,
        warnings: &mut Vec<String>,
    ) -> Result<Table> {
        let path = self.dir.join(file);
        let name = path.display().to_string();
        let unread = |error| unreadable(&path, error);
        // A long trace is not held as text beside its samples.
        let mut passing = Passing::new(regular::opened(&path).map_err(unread)?);
        let table = csv::read(&mut passing, &name)?.in_order()?;
        from.file_of(passing.digest().map_err(unread)?);
        let mut seen = table.warnings.clone();
        for bad in &table.bad {
            seen.push(format!("{bad}; the line was left out"));
        }
        // A record says the same wherever its folder stands, so paths in it start at the folder.
        warnings.extend(seen.iter().map(|warning| warning.replacen(&name, file, 1)));
        Ok(table)
    }

    fn lacks(&self, file: &str, found: &str, expected: &str) -> Error {
        Error::new(
            Code::TraceHeader,
            format!("read {found}, expected {expected}"),
        )
        .in_path(self.dir.join(file))
        .help("`file` has angle and reading in one; a trace on two clocks has them apart, in `angle_file` and `reading_file`: see `heelclear manual traces`")
    }
}

/// Holds every file that the inspection card names against the rule for them. Its text shows where
/// a file is named.
fn all_inside(dir: &Path, inspection: &InspectionCard, text: &str) -> Result<()> {
    let card = dir.join(INSPECTION_FILE);
    let inside = Inside::of(dir);
    inside.stays(&card)?;
    let cards = [inspection.tool.as_str(), inspection.gauge.as_str()];
    let names = JudgedFrom::names(inspection).into_iter();
    let objections = names.enumerate().filter_map(|(index, path)| {
        let others: &[&str] = match index {
            0 | 1 => &[],
            // The card itself.
            2 => return None,
            _ => &cards,
        };
        let objection = inside.objection(path, others)?;
        let message = format!("read the path `{path}`, expected one inside the inspection folder");
        let error = Error::new(Code::CardValue, message)
            .in_path(&card)
            .help(format!("{objection}: {INSIDE}"));
        let quoted = [format!("\"{path}\""), format!("'{path}'")];
        let span = quoted.iter().find_map(|quoted| {
            let at = text.find(quoted.as_str())?;
            Some(at..at + quoted.len())
        });
        Some(match span {
            Some(span) => drawn(error, text, span),
            None => error,
        })
    });
    match Error::all(objections) {
        Some(error) => Err(error),
        None => Ok(()),
    }
}

pub(super) fn read_text(path: &Path) -> Result<String> {
    let bytes = regular::written(path).map_err(|error| unreadable(path, error))?;
    as_text(&bytes, path.display().to_string()).map(str::to_owned)
}
