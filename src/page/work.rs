//! The folder that the page works in: cards in `tools`, `gauges` and `grinders`, and one folder an
//! inspection.
//!
//! Names that come from a page are single plain names; no path leads out of the folder.

use super::form::{self, FormUnit, Written};
use super::objections::FieldError;
use super::problem::for_page;
use super::reads::{Reads, each};
use crate::card::{GaugeCard, GrinderCard, InspectionCard, ShopCard, ToolCard, keys};
use crate::error::{Code, Error, Result, reason};
use crate::inspection::{standing_in, write_whole};
use crate::record::Standing;
use crate::record::archive::{SIMULATED_FILE, regular};
use jiff::Timestamp;
use serde_json::{Map, Value, json};
use std::fs;
use std::path::{Path, PathBuf};

/// Longer files than this are no cards.
const LONGEST_CARD: u64 = 256 * 1024;
/// More inspections than this are not listed: the archive finds the others.
const LISTED: usize = 200;

/// Which of the cards.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum CardKind {
    Tool,
    Gauge,
    Grinder,
    Shop,
}

/// The shop's card lies beside the folders of the others, where `archive certificate` looks for it.
pub(super) const SHOP_FILE: &str = "shop.toml";

impl CardKind {
    pub(super) fn folder(self) -> &'static str {
        match self {
            CardKind::Tool => "tools",
            CardKind::Gauge => "gauges",
            CardKind::Grinder => "grinders",
            CardKind::Shop => "",
        }
    }

    fn sections(self) -> &'static [crate::card::Section] {
        match self {
            CardKind::Tool => keys::TOOL,
            CardKind::Gauge => keys::GAUGE,
            CardKind::Grinder => keys::GRINDER,
            CardKind::Shop => keys::SHOP,
        }
    }
}

/// The folder.
#[derive(Clone, Debug)]
pub(super) struct Work {
    dir: PathBuf,
    /// One file of many never holds up the others.
    pub reads: Reads,
}

/// The inspections that lie in the folder, the last first.
#[derive(Default)]
pub(super) struct Inspections {
    /// Their folders' names and their cards.
    pub listed: Vec<(String, InspectionCard)>,
    /// Why others are not among them: their folders' names, and what is waited for.
    pub late: Vec<(String, Error)>,
}

impl Work {
    /// Makes the folder where it is absent.
    pub(super) fn open(dir: &Path, reads: Reads) -> Result<Self> {
        for kind in [CardKind::Tool, CardKind::Gauge, CardKind::Grinder] {
            let path = dir.join(kind.folder());
            fs::create_dir_all(&path).map_err(|fault| disk(&path, &fault))?;
        }
        Ok(Self {
            dir: dir.to_owned(),
            reads,
        })
    }

    pub(super) fn dir(&self) -> &Path {
        &self.dir
    }

    /// The cards of a kind, each as far as it can be read.
    pub(super) fn cards(&self, kind: CardKind) -> Result<Vec<Value>> {
        let folder = self.dir.join(kind.folder());
        let mut names = names_in(&folder)?;
        names.retain(|name| name.ends_with(".toml") && plain(name).is_ok());
        Ok(each(&names, |name| self.listed(kind, name)))
    }

    fn listed(&self, kind: CardKind, name: &str) -> Value {
        let read = self.card_text(kind, name);
        let said = read.and_then(|text| match kind {
            CardKind::Tool => ToolCard::parse(&text, name)
                .map(|card| json!({ "id": card.id, "name": card.name, "flutes": card.flutes })),
            CardKind::Gauge => GaugeCard::parse(&text, name).map(|card| {
                let resolution_um = card.indicator.resolution.um();
                json!({ "resolution_um": resolution_um, "counts": card.encoder.counts_per_turn })
            }),
            CardKind::Grinder => GrinderCard::parse(&text, name).map(|card| said_of(&card)),
            CardKind::Shop => ShopCard::parse(&text, name)
                .map(|card| json!({ "name": card.name, "address": card.address })),
        });
        match said {
            Ok(said) => json!({ "file": name, "said": said }),
            Err(error) => json!({ "file": name, "problem": error.to_string() }),
        }
    }

    /// The shop's card, where there is one.
    pub(super) fn shop(&self) -> Option<Value> {
        let there = self.dir.join(SHOP_FILE).exists();
        there.then(|| self.listed(CardKind::Shop, SHOP_FILE))
    }

    /// The text of a card by its file's name.
    pub(super) fn card_text(&self, kind: CardKind, name: &str) -> Result<String> {
        let path = self.dir.join(kind.folder()).join(plain(name)?);
        self.reads.of(&path, card_in)?
    }

    /// The gauge card with exactly this text.
    pub(super) fn gauge_of_text(&self, text: &str) -> Option<String> {
        let folder = self.dir.join(CardKind::Gauge.folder());
        let same = |name: &String| {
            let read = self.card_text(CardKind::Gauge, name);
            read.is_ok_and(|read| read == text)
        };
        names_in(&folder).ok()?.into_iter().find(same)
    }

    /// Writes a gauge card anew.
    pub(super) fn write_gauge(&self, name: &str, text: &str) -> Result<()> {
        let folder = self.dir.join(CardKind::Gauge.folder());
        write_whole(&folder.join(plain(name)?), text.as_bytes())
    }

    /// A card as the values of a form, lengths in mm.
    pub(super) fn card_form(&self, kind: CardKind, name: &str) -> Result<Value> {
        let text = self.card_text(kind, name)?;
        let canonical = match kind {
            CardKind::Tool => ToolCard::parse(&text, name)?.to_toml(),
            CardKind::Gauge => GaugeCard::parse(&text, name)?.to_toml(),
            CardKind::Grinder => GrinderCard::parse(&text, name)?.to_toml(),
            CardKind::Shop => ShopCard::parse(&text, name)?.to_toml(),
        };
        in_form(&canonical)
    }

    /// Saves a filled-in form as a card, or gives what is wrong with it.
    pub(super) fn save(
        &self,
        kind: CardKind,
        name: &str,
        form: &Map<String, Value>,
        unit: FormUnit,
    ) -> Result<std::result::Result<String, Vec<FieldError>>> {
        match self.as_card(kind, form, unit) {
            Ok(written) => self.keep_card(kind, name, &written).map(Ok),
            Err(objections) => Ok(Err(objections)),
        }
    }

    /// A filled-in form as a card that its reader has read, or what is wrong with it.
    pub(super) fn as_card(
        &self,
        kind: CardKind,
        form: &Map<String, Value>,
        unit: FormUnit,
    ) -> std::result::Result<Written, Vec<FieldError>> {
        let written: Written = form::write(kind.sections(), form, unit);
        let read = match kind {
            CardKind::Tool => ToolCard::parse(&written.text, "the form").map(|_| ()),
            CardKind::Gauge => GaugeCard::parse(&written.text, "the form").map(|_| ()),
            CardKind::Grinder => GrinderCard::parse(&written.text, "the form").map(|_| ()),
            CardKind::Shop => ShopCard::parse(&written.text, "the form").map(|_| ()),
        };
        match read {
            Ok(()) => Ok(written),
            Err(error) => Err(written.objections(kind.sections(), &error)),
        }
    }

    /// Writes a card by this name; gives that of its file.
    pub(super) fn keep_card(
        &self,
        kind: CardKind,
        name: &str,
        written: &Written,
    ) -> Result<String> {
        let file = card_file(name);
        let path = self.dir.join(kind.folder()).join(plain(&file)?);
        write_whole(&path, written.text.as_bytes())?;
        Ok(file)
    }

    /// Whether a card of this name is there.
    pub(super) fn has(&self, kind: CardKind, name: &str) -> bool {
        let path = self.dir.join(kind.folder()).join(card_file(name));
        path.exists()
    }

    /// The inspections in the folder as lists tell them, the last first, and what is waited for.
    pub(super) fn inspections(&self) -> Result<(Vec<Value>, Vec<Value>)> {
        let taken = self.taken()?;
        let mut late: Vec<Value> = taken.late.iter().map(|(_, why)| for_page(why)).collect();
        let mut listed = Vec::new();
        for told in each(&taken.listed, |(name, card)| self.told(name, card)) {
            match told {
                Ok(told) => listed.push(told),
                Err(why) => late.push(for_page(&why)),
            }
        }
        Ok((listed, late))
    }

    /// The cards of the inspections in the folder.
    pub(super) fn taken(&self) -> Result<Inspections> {
        let mut names = names_in(&self.dir)?;
        names.retain(|name| plain(name).is_ok());
        let mut found: Vec<(Timestamp, String)> = Vec::new();
        let mut late = Vec::new();
        let read = each(&names, |name| self.inspection_text(name));
        for (name, text) in names.into_iter().zip(read) {
            match text {
                Ok(text) => found.extend(text.and_then(|text| Some((taken_in(&text)?, name)))),
                Err(why) => late.push((name, why)),
            }
        }
        found.sort_by(|(one, a), (other, b)| other.cmp(one).then_with(|| a.cmp(b)));
        // Whole cards are read of those alone that are listed.
        let cards = found.into_iter().filter_map(|(_, name)| {
            let text = self.inspection_text(&name).ok()??;
            let card = InspectionCard::parse(&text, &name).ok()?;
            Some((name, card))
        });
        Ok(Inspections {
            listed: cards.take(LISTED).collect(),
            late,
        })
    }

    /// The text of an inspection's card; nothing where there is none.
    fn inspection_text(&self, folder: &str) -> Result<Option<String>> {
        let path = self.inspection_card(folder);
        // What is no folder of an inspection is most of what is looked at in some folders.
        if !path.exists() {
            return Ok(None);
        }
        self.reads.of(&path, |path| regular::text(path).ok())
    }

    fn inspection_card(&self, folder: &str) -> PathBuf {
        self.dir.join(folder).join("inspection.toml")
    }

    /// An inspection of the folder, as lists tell it.
    pub(super) fn told(&self, name: &str, card: &InspectionCard) -> Result<Value> {
        let looked = self.reads.of(&self.dir.join(name), Looked::at)?;
        Ok(json!({
            "folder": name,
            "tool": looked.tool.as_ref().map(|tool| &tool.id),
            "tool_name": looked.tool.as_ref().map(|tool| &tool.name),
            "taken": card.taken.to_string(),
            "interrupted": card.interrupted,
            "simulated": looked.simulated,
            "traces": card.traces.len(),
            "judged": looked.verdict.is_some(),
            "standing": looked.standing,
            "verdict": looked.verdict.and_then(|judged| judged.verdict),
        }))
    }

    /// The folder of an inspection that is there.
    pub(super) fn inspection(&self, name: &str) -> Result<PathBuf> {
        let folder = self.dir.join(plain(name)?);
        if folder.join("inspection.toml").is_file() {
            return Ok(folder);
        }
        Err(Error::new(Code::Missing, "there is no such inspection")
            .in_file(name)
            .help("go back to the start: the list may be old"))
    }

    /// A new folder's name for an inspection of this tool: `VB-07-2026-03-02`, or a free one after.
    pub(super) fn new_inspection(&self, tool: &str) -> PathBuf {
        let day = jiff::Timestamp::now().to_string();
        let day = day.split('T').next().unwrap_or_default();
        let base = format!("{}-{day}", safe(tool));
        let numbered = (2..).map(|n| format!("{base}-{n}"));
        let mut names = std::iter::once(base.clone()).chain(numbered);
        let free = names.find(|name| !self.dir.join(name).exists());
        self.dir.join(free.unwrap_or(base))
    }
}

/// The file of the card that somebody called so.
pub(super) fn card_file(name: &str) -> String {
    format!("{}.toml", safe(name))
}

/// What a list says of a grinder's card.
pub(super) fn said_of(card: &GrinderCard) -> Value {
    let mut fixtures: Vec<&str> = card.fixtures.iter().map(|it| it.name.as_str()).collect();
    fixtures.sort_unstable();
    fixtures.dedup();
    json!({
        "name": card.name,
        "wheels": card.wheels.len(),
        "fixtures": fixtures.len(),
        "motions": card.motions.len(),
    })
}

/// A card's own text as the values of a form.
pub(super) fn in_form(canonical: &str) -> Result<Value> {
    let internal = || Error::new(Code::Internal, "a card's own text cannot be read as TOML");
    form::values(canonical).ok_or_else(internal)
}

#[derive(serde::Deserialize)]
struct Judged {
    verdict: Option<String>,
}

/// What lies in an inspection's folder beside its card.
struct Looked {
    tool: Option<ToolCard>,
    verdict: Option<Judged>,
    standing: Option<Standing>,
    simulated: bool,
}

impl Looked {
    fn at(folder: &Path) -> Self {
        let tool = regular::text(&folder.join("tool.toml")).ok();
        let verdict = regular::contents(&folder.join("verdict.json")).ok();
        let verdict = verdict.and_then(|bytes| serde_json::from_slice::<Judged>(&bytes).ok());
        let standing = verdict.as_ref().and_then(|_| standing_in(folder));
        Self {
            tool: tool.and_then(|text| ToolCard::parse(&text, "tool.toml").ok()),
            // A verdict on other readings than lie there is none on this inspection.
            verdict: verdict.filter(|_| standing != Some(Standing::Other)),
            standing,
            simulated: folder.join(SIMULATED_FILE).exists(),
        }
    }
}

/// The text of a card in a file.
fn card_in(path: &Path) -> Result<String> {
    let size = fs::metadata(path)
        .map_err(|fault| disk(path, &fault))?
        .len();
    if size > LONGEST_CARD {
        let message = format!("read a file of {size} bytes, expected a card");
        return Err(Error::new(Code::CardSyntax, message).in_path(path));
    }
    regular::text(path).map_err(|fault| disk(path, &fault))
}

/// Where it is for whoever looks for it in another program.
pub(super) fn whole_path(folder: &Path) -> String {
    let whole = std::path::absolute(folder);
    whole.as_deref().unwrap_or(folder).display().to_string()
}

/// When an inspection was taken, from the line that says so: to read the whole card of each folder
/// would take most of the time. A card that says it otherwise is read whole.
fn taken_in(card: &str) -> Option<Timestamp> {
    let lines = card.lines().take_while(|line| !line.starts_with('['));
    let mut said = lines.filter_map(|line| line.trim_start().strip_prefix("taken"));
    let said = said.find_map(|rest| rest.trim_start().strip_prefix('='));
    let moment = said.and_then(|said| said.split('#').next()?.trim().parse().ok());
    moment.or_else(|| Some(InspectionCard::parse(card, "").ok()?.taken))
}

/// A single plain name: no path, nothing hidden.
pub(super) fn plain(name: &str) -> Result<&str> {
    let fine = |c: char| !c.is_control() && !"/\\:*?\"<>|".contains(c);
    if !name.is_empty() && name.len() <= 120 && !name.starts_with('.') && name.chars().all(fine) {
        return Ok(name);
    }
    Err(Error::new(
        Code::Usage,
        format!(
            "read the name `{}`, expected a plain one",
            name.escape_debug()
        ),
    )
    .help("a name has no slashes and does not begin with a dot"))
}

/// A name that is safe on every disk, from what a person called a tool.
fn safe(name: &str) -> String {
    let keep = |c: char| {
        if c.is_alphanumeric() || "-_".contains(c) {
            c
        } else {
            '-'
        }
    };
    let safe: String = name.chars().take(60).map(keep).collect();
    match safe.trim_matches('-') {
        "" => "unnamed".to_owned(),
        safe => safe.to_owned(),
    }
}

pub(super) fn names_in(folder: &Path) -> Result<Vec<String>> {
    let entries = fs::read_dir(folder).map_err(|fault| disk(folder, &fault))?;
    let names = entries.filter_map(|entry| entry.ok()?.file_name().into_string().ok());
    let mut names: Vec<String> = names.collect();
    names.sort();
    Ok(names)
}

fn disk(path: &Path, fault: &std::io::Error) -> Error {
    let code = match fault.kind() {
        std::io::ErrorKind::NotFound => Code::Missing,
        _ => Code::Disk,
    };
    Error::new(code, reason(fault))
        .in_path(path)
        .help("check that it is there and that you may read and write it")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_name_leads_out_of_the_folder() {
        for bad in [
            "", "..", "../x", "a/b", "a\\b", ".hidden", "/etc", "c:x", "a\nb",
        ] {
            assert!(plain(bad).is_err(), "{bad:?}");
        }
        for good in ["VB-07-2026-03-02", "tool no 3.toml", "fräser"] {
            assert!(plain(good).is_ok(), "{good}");
        }
        assert_eq!(safe("../../etc/passwd"), "etc-passwd");
        assert_eq!(safe("…"), "unnamed");
    }
}
