//! A look at single records: what a check of the whole archive says of each, and the one way to a
//! record's files.

use super::add::head;
use super::contents::{Said, content, evidence, said};
use super::drawing::Drawing;
use super::entry::{ASK_CHECK, FORM, RecordId, Summary, beginning};
use super::find::one;
use super::inside::objection_to_kept;
use super::kept_files::{Kept, ListedFile, Opened, listed};
use super::open::{Archive, at};
use super::standing::standing;
use super::store::Store;
use super::stored_file::StoredFile;
use super::subject::misleading;
use crate::error::{Code, Error, Result};
use crate::record::Standing;

/// What a look at a record found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Look {
    /// What is broken in it, a sentence each; empty where it is as it was made.
    pub faults: Vec<String>,
    /// How its verdict stands to its cards and traces, where it was judged and all its files are
    /// whole.
    pub standing: Option<Standing>,
}

impl Archive {
    /// Opens every file of a record, and holds it against the one before it and the end of its
    /// chain: what [`Archive::check`] would say of it, without looking at the others.
    pub fn look_at(&mut self, summary: &Summary) -> Look {
        self.look_into(summary).0
    }

    /// The same, with the files that were opened, but those that are drawn; none where one of them is
    /// broken.
    pub fn look_into(&mut self, summary: &Summary) -> (Look, Vec<StoredFile>) {
        let store = self.store.as_mut();
        let mut looked = Looked::default();
        let whole = Read::of(store, summary.clone()).look(&mut looked);
        looked.hold(tied(store, summary));
        let look = Look {
            faults: looked.all_faults(),
            standing: looked.standing,
        };
        (look, whole.map(|whole| whole.files).unwrap_or_default())
    }

    /// Refuses a record that is not as it was made.
    ///
    /// # Errors
    /// `archive-broken`, with all that is broken in it.
    pub fn sound(&mut self, summary: &Summary) -> Result<()> {
        let faults = self.look_at(summary).faults;
        if faults.is_empty() {
            return Ok(());
        }
        Err(at(damaged(&summary.id, &faults), self.place()))
    }
}

fn damaged(id: &RecordId, faults: &[String]) -> Error {
    let message = format!("record {id} is damaged: {}", faults.join("; "));
    Error::new(Code::ArchiveBroken, message).help(ASK_CHECK)
}

/// What is said of a record that does not fit into its chain.
pub(super) const NOT_TIED_TO_THE_ONE_BEFORE: &str = "it is not tied to the record before it: that one was changed, or others were put between or taken out";
pub(super) const STANDS_BEYOND: &str = "it stands beyond the end of its chain";
pub(super) const CHAIN_ENDS_ELSEWHERE: &str =
    "the chain of this bench ends in another digest than is written down for it";

const JUDGED_FROM_OTHERS: &str = "its verdict was judged from other cards or traces than it has: it is no verdict on this record";

/// What does not fit between a record and its neighbours.
fn tied(store: &mut dyn Store, summary: &Summary) -> Result<Vec<String>> {
    let mut faults = Vec::new();
    let RecordId { bench, number } = &summary.id;
    let before = RecordId {
        bench: bench.clone(),
        number: number.saturating_sub(1),
    };
    let follows = match *number {
        1 => beginning(bench) == summary.previous,
        // What is missing is told by itself, and hides nothing of this one; nor does a digest that
        // was turned in the one before.
        _ => one(store, &before).map_or(true, |it| {
            it.chain == summary.previous || it.chained() == summary.previous
        }),
    };
    if !follows {
        faults.push(NOT_TIED_TO_THE_ONE_BEFORE.to_owned());
    }
    let (last, chain) = head(store, bench)?;
    if *number > last || *number < 1 {
        faults.push(STANDS_BEYOND.to_owned());
    }
    if *number == last && chain != summary.chain {
        faults.push(CHAIN_ENDS_ELSEWHERE.to_owned());
    }
    Ok(faults)
}

/// A record that is as it was made, with its files.
pub(super) struct Proven {
    pub summary: Summary,
    /// As the archive lists them.
    pub listed: Vec<ListedFile>,
    /// As it keeps them.
    pub kept: Kept,
    /// As they were, but those that are drawn.
    pub files: Vec<StoredFile>,
    /// How the others are drawn.
    pub drawn: Vec<(ListedFile, Drawing)>,
    pub standing: Option<Standing>,
}

impl Proven {
    /// Reads a record, and holds it against its digests, its files and its place in the chain:
    /// whatever comes out of an archive comes through here.
    ///
    /// # Errors
    /// `no-record` where there is none, `archive-broken` with all that is damaged.
    pub(super) fn of(store: &mut dyn Store, id: &RecordId) -> Result<Self> {
        let summary = one(store, id)?;
        let tied = tied(store, &summary);
        let read = Read::of(store, summary);
        let mut looked = Looked::default();
        let whole = read.look(&mut looked);
        looked.hold(tied);
        match (whole, read.listed) {
            (Some(whole), Ok(listed)) if looked.faults.is_empty() => Ok(Self {
                summary: read.summary,
                listed,
                kept: read.kept,
                files: whole.files,
                drawn: whole.drawn,
                standing: looked.standing,
            }),
            _ => Err(damaged(id, &looked.faults)),
        }
    }
}

/// A record with its files as they are kept.
pub(super) struct Read {
    pub summary: Summary,
    listed: Result<Vec<ListedFile>>,
    pub kept: Kept,
    misleading: Option<String>,
}

/// What was found in a record by itself.
#[derive(Default)]
pub(super) struct Looked {
    faults: Vec<String>,
    /// Its files that were opened.
    pub files: u64,
    /// How its verdict stands to its cards and traces, where it was judged and all its files are
    /// whole.
    pub standing: Option<Standing>,
    /// What keeps a search from it, whole as it is.
    misleading: Option<String>,
}

impl Looked {
    /// What is broken in it, what keeps a search from it, and that its verdict is none on it, where
    /// that is so.
    pub(super) fn all_faults(&self) -> Vec<String> {
        let other = self.standing == Some(Standing::Other);
        let other = other.then(|| JUDGED_FROM_OTHERS.to_owned());
        let faults = self.faults.iter().chain(&self.misleading);
        faults.cloned().chain(other).collect()
    }

    fn hold(&mut self, tied: Result<Vec<String>>) {
        let told = tied.unwrap_or_else(|error| vec![error.message().to_owned()]);
        self.faults.extend(told);
    }
}

/// The files of a record that is whole.
struct Whole {
    files: Vec<StoredFile>,
    drawn: Vec<(ListedFile, Drawing)>,
}

impl Read {
    pub(super) fn of(store: &mut dyn Store, summary: Summary) -> Self {
        let listed = listed(store, &summary.id);
        let files = listed.as_deref().unwrap_or_default();
        Self {
            kept: Kept::of(store, files),
            misleading: misleading(store, &summary),
            summary,
            listed,
        }
    }

    /// Opens every file of the record, and holds what the archive says of it against them.
    pub(super) fn looked_at(&self) -> Looked {
        let mut looked = Looked::default();
        let _ = self.look(&mut looked);
        looked
    }

    /// Gives its files where it is whole.
    fn look(&self, looked: &mut Looked) -> Option<Whole> {
        let summary = &self.summary;
        looked.misleading.clone_from(&self.misleading);
        let faults = &mut looked.faults;
        if !(1..=FORM).contains(&summary.form) {
            faults.push(format!("read form {}, expected 1 to {FORM}", summary.form));
            return None;
        }
        if !summary.is_as_made() {
            faults.push(
                "what is said of it does not belong to its digest: it was changed".to_owned(),
            );
        }
        let listed = match &self.listed {
            Ok(listed) => listed,
            Err(error) => {
                faults.push(format!("its files: {}", error.message()));
                return None;
            }
        };
        faults.extend(leading_out(&summary.id, listed));
        let digests = || listed.iter().map(|file| (file.path.as_str(), file.digest));
        if content(digests()) != summary.content {
            faults.push("its files are not those that it was made with".to_owned());
        }
        if evidence(digests(), summary.form) != summary.evidence {
            faults.push("its cards and traces are not those that it was made with".to_owned());
        }
        let whole = faults.is_empty();
        let opened = self.open_all(listed, faults);
        looked.files = listed.len() as u64;
        // Only whole files can speak for themselves.
        let opened = opened.filter(|_| whole)?;
        match said(&opened.files, "") {
            Ok(said) if says_the_same(&said, summary) => {}
            Ok(_) => {
                faults.push("its files say something else than the archive says of it".to_owned());
            }
            // Cards are read by today's rules, which may be stricter than those of their time.
            Err(_) => {}
        }
        looked.standing = standing(&opened.files);
        Some(opened)
    }

    /// Every file; nothing where one of them, or a verdict to draw from, is broken.
    fn open_all(&self, listed: &[ListedFile], faults: &mut Vec<String>) -> Option<Whole> {
        let (mut files, mut drawn) = (Vec::new(), Vec::new());
        let before = faults.len();
        for file in listed {
            match self.kept.open(file) {
                Ok(Opened::File(bytes)) => files.push(StoredFile {
                    path: file.path.clone(),
                    bytes,
                }),
                Ok(Opened::Drawing(drawing)) => match self.source_of(&drawing, listed) {
                    Ok(()) => drawn.push((file.clone(), drawing)),
                    Err(fault) => faults.push(format!("file `{}`: {fault}", file.path)),
                },
                Err(fault) => faults.push(format!("file `{}`: {fault}", file.path)),
            }
        }
        (faults.len() == before).then_some(Whole { files, drawn })
    }

    /// A report that is not kept is whole where the verdict is that it is drawn from. Drawing it
    /// would take longer than all else, and show only whether this program draws as an earlier one.
    fn source_of(
        &self,
        drawing: &Drawing,
        listed: &[ListedFile],
    ) -> std::result::Result<(), String> {
        // Its own verdict is opened among its files.
        match listed.iter().any(|file| file.digest == drawing.verdict) {
            true => Ok(()),
            false => self.kept.verdict(drawing).map(drop),
        }
    }
}

fn says_the_same(said: &Said, summary: &Summary) -> bool {
    said.taken.as_microsecond() == summary.taken.as_microsecond()
        && said.operator == summary.operator
        && said.stage == summary.stage
        && said.tool == summary.tool
        && said.tool_name == summary.tool_name
        && said.features == summary.features
        && said.verdict == summary.verdict
}

/// What would lead out of a folder that the record is written to.
fn leading_out(id: &RecordId, listed: &[ListedFile]) -> Vec<String> {
    let files = listed.iter().filter_map(|file| {
        let objection = objection_to_kept(&file.path)?;
        Some(format!("file `{}`: {objection}", file.path))
    });
    let bench = match id.bench.contains('/') {
        true => Some("it leads into another folder".to_owned()),
        false => objection_to_kept(&id.bench),
    };
    let bench = bench.map(|objection| format!("bench `{}`: {objection}", id.bench));
    files.chain(bench).collect()
}
