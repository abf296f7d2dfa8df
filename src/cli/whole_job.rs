//! `demo --whole-job`: a worn tool, from its first trace to the archive, ground twice on the simulated
//! bench with what the first grind taught.

use super::archive::Keeper;
use super::progress::patiently;
use super::style::Units;
use super::{Out, Status, learn, set_up, verify};
use crate::card::GrinderCard;
use crate::error::{Code, Error, Result};
use crate::inspection::grind::{self, Asked};
use crate::inspection::simulated::{settings, write_folder};
use crate::inspection::{Folder, write_whole};
use crate::judge::Effort;
use crate::record::{Record, SETUP_FILE, Setup, Verdict};
use crate::report;
use crate::simulator::{Scenario, built_in};
use rand::SeedableRng;
use rand_pcg::Pcg64;
use std::fs;
use std::path::{Path, PathBuf};

/// The tool that is ground.
const RECIPE: &str = "worn-four-flutes";
/// The grinder's card, beside the folders of the inspections.
const GRINDER: &str = "grinder.toml";
/// When each inspection is said to be taken: half a year of work lies between the grinds.
const TAKEN: [&str; 4] = [
    "2026-03-02T08:10:00Z",
    "2026-03-02T11:40:00Z",
    "2026-09-14T08:05:00Z",
    "2026-09-14T10:55:00Z",
];

/// The shop, as far as the job has got.
struct Shop<'o> {
    dir: PathBuf,
    tool: Scenario,
    hand: Pcg64,
    pictures: Vec<PathBuf>,
    out: &'o mut Out,
}

pub(super) fn run(dir: &Path, seed: Option<u64>, place: &str, out: &mut Out) -> Result<Status> {
    let tool = worn(seed)?;
    let mut shop = Shop {
        dir: dir.to_owned(),
        hand: Pcg64::seed_from_u64(tool.seed),
        pictures: Vec::new(),
        tool,
        out,
    };
    shop.head(
        1,
        "a worn tool, a grinder with its card, and a bench that does not exist",
    );
    let about = format!("{}: {}", shop.tool.tool.id, shop.tool.tool.name);
    shop.out.note(&format!("   {about}"));
    fs::create_dir_all(dir).map_err(|error| crate::error::unwritable(dir, error))?;
    let card = shop.tool.grinder_card().unwrap_or_default();
    write_whole(&dir.join(GRINDER), card.as_bytes())?;

    shop.head(
        2,
        "before the grind: measured, matched, and the sheet for the machine",
    );
    let setup = shop.set_up("1-worn", TAKEN[0])?;
    shop.head(3, "ground with what the sheet says, and measured again");
    let first = shop.grind(&setup, "2-ground", TAKEN[1])?;
    shop.head(4, "what that grind teaches of the machine's own errors");
    let folders = [Folder::open(&dir.join("2-ground"))?];
    learn::learn_from(&folders, Some(&dir.join(GRINDER)), shop.out)?;

    shop.head(
        5,
        "half a year of work later: worn again, and matched with what was learnt",
    );
    shop.tool = shop.tool.clone().worked(&mut shop.hand);
    let setup = shop.set_up("3-worn-again", TAKEN[2])?;
    shop.head(6, "ground again, and measured");
    let second = shop.grind(&setup, "4-ground-again", TAKEN[3])?;

    shop.head(7, "both grinds kept in an archive");
    let status = shop.keep(place, [("2-ground", &first), ("4-ground-again", &second)])?;
    shop.out.note("\npictures, for a browser:");
    for picture in &shop.pictures {
        shop.out.note(&format!("  {}", picture.display()));
    }
    let id = &shop.tool.tool.id;
    shop.out.note(&format!(
        "trend:  heelclear archive trend {id} --archive {place}"
    ));
    Ok(Status::from(second.verdict).worst(status))
}

/// The worn tool, on a grinder whose scales are off by what its card does not say.
fn worn(seed: Option<u64>) -> Result<Scenario> {
    let mut tool = built_in(RECIPE)?;
    if let Some(seed) = seed {
        tool.seed = seed;
    }
    if let Some(grinder) = &mut tool.grinder {
        grinder.wheel.diameter_error_mm = -4.0;
        for fixture in &mut grinder.fixture {
            fixture.trace_motion = false;
            fixture.state_cam = true;
            fixture.throw_error = -0.07;
            fixture.cam_error_deg = 1.5;
        }
    }
    Ok(tool.diameters_read())
}

impl Shop<'_> {
    fn head(&mut self, number: u32, what: &str) {
        let space = if number == 1 { "" } else { "\n" };
        self.out.note(&format!("{space}{number}  {what}"));
    }

    /// Measures the worn tool, and works out what to set.
    fn set_up(&mut self, name: &str, taken: &str) -> Result<Setup> {
        let dir = self.measure(name, taken)?;
        // The shop's card knows what was learnt.
        let card = dir.join(GRINDER);
        fs::copy(self.dir.join(GRINDER), &card)
            .map_err(|error| crate::error::unwritable(&card, error))?;
        let setup = patiently("matching", || -> Result<Setup> {
            let folder = Folder::open(&dir)?;
            let grinder: GrinderCard = folder.grinder(None)?;
            grind::set_up_sheet(&folder, &grinder, &Asked::default())
        })?;
        set_up::told(self.out, &setup, Units::Mm)?;
        if setup.cuts.is_empty() {
            return Err(Error::new(Code::Internal, setup.why.join("; ")).in_path(dir));
        }
        let drawing = report::match_svg(&setup, report::Units::default())?;
        set_up::kept(self.out, &dir, set_up::MATCH_FILE, drawing.as_bytes())?;
        self.pictures.push(dir.join(set_up::MATCH_FILE));
        let pages = set_up::write_sheet(self.out, &dir, &setup, Units::Mm)?;
        self.pictures
            .extend(pages.iter().map(|page| dir.join(page)));
        Ok(setup)
    }

    /// Grinds as a set-up says, and measures what that left.
    fn grind(&mut self, setup: &Setup, name: &str, taken: &str) -> Result<Record> {
        for cut in &setup.cuts {
            let set = settings(&self.tool, cut).ok_or_else(|| {
                let message = format!("the bench has no {} fixture", cut.direction);
                Error::new(Code::Internal, message)
            })?;
            let ground = self.tool.grind_by_hand(&set, &mut self.hand)?;
            let clean = match ground.unclean.len() {
                0 => "every land is new from edge to end".to_owned(),
                count => format!("{count} lands are old in part still: the next skim takes it off"),
            };
            self.out
                .note(&format!("   {} in-feed: {clean}", cut.direction));
            self.tool = ground.tool;
        }
        self.tool.setup = Some(SETUP_FILE.to_owned());
        let dir = self.measure(name, taken)?;
        write_whole(&dir.join(SETUP_FILE), setup.to_json()?.as_bytes())?;
        let record = patiently("judging", || {
            verify::judge(&dir, report::Units::default(), Effort::default())
        })?;
        let verdict = record.verdict.map_or("", Verdict::as_str).to_uppercase();
        let headline = report::headline(&record, report::Units::default());
        self.out.line(&format!("   {verdict}  {headline}"))?;
        self.pictures.push(dir.join("report.svg"));
        Ok(record)
    }

    /// Takes the traces of the tool as it is now.
    fn measure(&mut self, name: &str, taken: &str) -> Result<PathBuf> {
        let dir = self.dir.join(name);
        taken.clone_into(&mut self.tool.taken);
        write_folder(&self.tool, &dir)?;
        self.out.note(&format!("   traces in {}", dir.display()));
        Ok(dir)
    }

    fn keep(&mut self, place: &str, records: [(&str, &Record); 2]) -> Result<Status> {
        let mut keeper = Keeper::named(Some(place), self.out)?;
        let mut status = Status::Clear;
        for (name, record) in records {
            let kept = verify::keep(&mut keeper, &self.dir.join(name), record, self.out);
            status = status.worst(kept);
        }
        Ok(status)
    }
}
