//! Grinder's cards of the page: those of its folder, those that lie elsewhere in it, and the motions
//! beside them.

use super::form::FormUnit;
use super::objections::FieldError;
use super::work::{CardKind, Work, card_file, in_form, names_in, plain, said_of};
use crate::card::{GrinderCard, MotionEntry, MotionIs};
use crate::error::Result;
use crate::inspection::GrinderFiles;
use crate::inspection::grind::read_grinder;
use serde_json::{Map, Value, json};
use std::path::{Path, PathBuf};

/// The file of a grinder's card outside the folder of such cards.
const FILE: &str = "grinder.toml";
/// More than this of them are not offered.
const OFFERED: usize = 20;

impl Work {
    /// Cards that lie beside the inspections or in them and are not among those of the folder, those of
    /// the last inspections first. What is the same in another layout is told once.
    pub(super) fn grinders_elsewhere(&self, inspections: &[Value]) -> Result<Vec<Value>> {
        let mut known = Vec::new();
        for name in names_in(&self.grinders())? {
            let text = self.card_text(CardKind::Grinder, &name);
            let card = text.and_then(|text| GrinderCard::parse(&text, &name));
            known.extend(card.map(|card| card.to_toml()));
        }
        let names = inspections.iter().filter_map(|it| it["folder"].as_str());
        let mut found = Vec::new();
        for of in std::iter::once(None).chain(names.map(Some)) {
            let path = self.grinder_path_of(of);
            let Ok(card) = path.and_then(|path| self.grinder_at(&path)) else {
                continue;
            };
            let text = card.to_toml();
            if !known.contains(&text) && found.len() < OFFERED {
                found.push(json!({ "inspection": of, "said": said_of(&card) }));
                known.push(text);
            }
        }
        Ok(found)
    }

    fn grinder_at(&self, path: &Path) -> Result<GrinderCard> {
        // Most folders have none.
        match path.exists() {
            true => self.reads.of(path, read_grinder)?,
            false => read_grinder(path),
        }
    }

    fn grinders(&self) -> PathBuf {
        self.dir().join(CardKind::Grinder.folder())
    }

    fn grinder_path_of(&self, inspection: Option<&str>) -> Result<PathBuf> {
        match inspection {
            Some(name) => Ok(self.inspection(name)?.join(FILE)),
            None => Ok(self.dir().join(FILE)),
        }
    }

    /// A card from elsewhere as the values of a form, lengths in mm.
    pub(super) fn grinder_form(&self, inspection: Option<&str>) -> Result<Value> {
        let card = self.grinder_at(&self.grinder_path_of(inspection)?)?;
        in_form(&card.to_toml())
    }

    /// A card of the folder with its motions, to go with an inspection.
    pub(super) fn grinder_files(&self, file: &str) -> Result<GrinderFiles> {
        GrinderFiles::read(&self.grinders().join(plain(file)?))
    }

    /// The same of a card from elsewhere.
    pub(super) fn grinder_files_of(&self, inspection: Option<&str>) -> Result<GrinderFiles> {
        GrinderFiles::read(&self.grinder_path_of(inspection)?)
    }

    /// Saves a filled-in form as a grinder's card, or gives what is wrong with it. What finished grinds
    /// taught is not in the form: it stays as the file has it now. `from` is where the card was taken
    /// over from, with its motions.
    pub(super) fn save_grinder(
        &self,
        name: &str,
        mut form: Map<String, Value>,
        unit: FormUnit,
        from: Option<Option<&str>>,
    ) -> Result<std::result::Result<String, Vec<FieldError>>> {
        if self.has(CardKind::Grinder, name) {
            let now = self.card_form(CardKind::Grinder, &card_file(name))?;
            match now.get("correction") {
                Some(learnt) => form.insert("correction".to_owned(), learnt.clone()),
                None => form.remove("correction"),
            };
        }
        let written = match self.as_card(CardKind::Grinder, &form, unit) {
            Ok(written) => written,
            Err(objections) => return Ok(Err(objections)),
        };
        let card = GrinderCard::parse(&written.text, "the form")?;
        let source = from.map(|of| self.grinder_path_of(of)).transpose()?;
        let source = source.as_deref().and_then(Path::parent);
        let absent = self.motions_that_are_not_there(&card, source);
        if !absent.is_empty() {
            return Ok(Err(absent));
        }
        if let Some(source) = source {
            self.take_motions_over(&card, source)?;
        }
        self.keep_card(CardKind::Grinder, name, &written).map(Ok)
    }

    /// Complaints of motions whose file lies neither beside the card nor where it is taken over from.
    fn motions_that_are_not_there(
        &self,
        card: &GrinderCard,
        source: Option<&Path>,
    ) -> Vec<FieldError> {
        let here = self.grinders();
        let absent = card.motions.iter().enumerate().filter(|(_, motion)| {
            let there = |dir: &Path| file_of(motion).is_none_or(|file| dir.join(file).is_file());
            !there(&here) && !source.is_some_and(there)
        });
        let complaint = |at: usize| FieldError {
            field: format!("motion.{at}.file"),
            message: "there is no such file beside the card".to_owned(),
            help: Some(format!("it belongs into {}", here.display())),
        };
        absent.map(|(at, _)| complaint(at)).collect()
    }

    /// Copies the motions of a card that lie elsewhere beside the cards of the folder.
    fn take_motions_over(&self, card: &GrinderCard, source: &Path) -> Result<()> {
        let mut there = card.clone();
        there
            .motions
            .retain(|motion| file_of(motion).is_some_and(|file| source.join(file).is_file()));
        GrinderFiles::of(source, String::new(), &there)?.write_motions(&self.grinders())
    }
}

fn file_of(motion: &MotionEntry) -> Option<&str> {
    match &motion.is {
        MotionIs::Traced(file) => Some(file),
        MotionIs::Law(_) => None,
    }
}
