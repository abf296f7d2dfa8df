//! An archive for the page to show: a tool through three regrinds, one that fails and was measured
//! again, one whose last record is damaged, a simulated one, and an inspection that nobody kept.

use heelclear::inspection::simulated::write_folder;
use heelclear::inspection::{Folder, verify};
use heelclear::quantity::Units;
use heelclear::record::archive::{Added, Archive, Contents, Correction, Place, StoredFile};
use heelclear::report;
use heelclear::simulator::{Scenario, built_in};
use rusqlite::Connection;
use std::fs;
use std::path::{Path, PathBuf};

/// Who measures where nobody did.
const NOBODY: &str = "simulated gauge";

/// An inspection of a made-up tool, judged as the page judges; it passes for a measured one unless the
/// operator says otherwise.
pub fn judged(folder: &Path, recipe: &Scenario, customer: Option<&str>) {
    write_folder(recipe, folder).unwrap();
    if recipe.operator != NOBODY {
        as_measured(folder);
    }
    if let Some(customer) = customer {
        let card = folder.join("inspection.toml");
        let text = fs::read_to_string(&card).unwrap();
        fs::write(&card, format!("customer = \"{customer}\"\n{text}")).unwrap();
    }
    let record = verify(&Folder::open(folder).unwrap()).unwrap();
    fs::write(folder.join("verdict.json"), record.to_json().unwrap()).unwrap();
    let page = report::svg_in(&record, Units::Metric).unwrap();
    fs::write(folder.join("report.svg"), page).unwrap();
}

/// Keeps a folder; gives its content's record.
pub fn keep(archive: &Path, folder: &Path, correction: Option<Correction>) -> Added {
    let place = Place::File(archive.to_owned());
    let mut archive = Archive::create(&place, report::svg_by).unwrap();
    let mut contents = Contents::read(folder, report::svg_by).unwrap();
    if let Some(correction) = correction {
        contents = contents.in_place_of(correction);
    }
    archive.add(&[contents]).unwrap().remove(0)
}

fn recipe(name: &str, seed: u64, taken: &str, operator: &str) -> Scenario {
    let mut recipe = built_in(name).unwrap();
    recipe.seed = seed;
    recipe.taken = taken.to_owned();
    recipe.operator = operator.to_owned();
    recipe
}

/// Fills the archive in a bench's folder, and breaks a byte in its last record.
pub fn fill(bench: &Path) {
    fill_whole(bench);
    break_a_byte(&bench.join("archive.db"), 7, "traces/");
}

/// Fills the archive in a bench's folder; the records' folders lie elsewhere.
pub fn fill_whole(bench: &Path) {
    let elsewhere = tempfile::tempdir().unwrap();
    let db = bench.join("archive.db");
    let at = |name: &str| -> PathBuf { elsewhere.path().join(name) };
    for (number, size) in [(1, 20.0), (2, 19.8), (3, 19.6)] {
        let taken = format!("2026-0{number}-05T08:00:00Z");
        let mut regrind = recipe("counterbore-pass", number, &taken, "ada");
        regrind.feature[0].diameter_mm = size;
        let folder = at(&format!("regrind-{number}"));
        judged(&folder, &regrind, None);
        keep(&db, &folder, None);
    }
    let drags = recipe("counterbore-heel-drag", 4, "2026-02-10T08:00:00Z", "noor");
    judged(&at("drags"), &drags, Some("Nordblock"));
    let Added::New(first) = keep(&db, &at("drags"), None) else {
        panic!("it was there already");
    };
    let again = recipe("counterbore-heel-drag", 5, "2026-02-11T08:00:00Z", "noor");
    judged(&at("again"), &again, Some("Nordblock"));
    let correction = Correction {
        replaces: first.content,
        why: "clamped anew".to_owned(),
    };
    keep(&db, &at("again"), Some(correction));
    for (number, month) in [(6, 1), (7, 4)] {
        let taken = format!("2026-0{month}-20T08:00:00Z");
        let folder = at(&format!("reamer-{number}"));
        judged(
            &folder,
            &recipe("six-flute-reamer", number, &taken, "ada"),
            None,
        );
        keep(&db, &folder, None);
    }
    let made_up = recipe(
        "counterbore-no-reference",
        8,
        "2026-03-09T08:00:00Z",
        NOBODY,
    );
    judged(&at("made-up"), &made_up, None);
    keep(&bench.join("try-out.db"), &at("made-up"), None);
    let left = recipe("inch-counterbore", 9, "2026-03-12T08:00:00Z", "ada");
    judged(&bench.join("VB-52-left"), &left, None);
}

/// A folder of the simulated bench as if its tool had been measured.
pub fn as_measured(folder: &Path) {
    fs::remove_file(folder.join("simulated.txt")).unwrap();
}

/// Turns a bit of what a record's file holds.
pub fn break_a_byte(db: &Path, number: i64, path: &str) {
    let db = Connection::open(db).unwrap();
    let query = "select content.digest, content.packed from content join file using (digest)
        where number = ?1 and path like ?2 || '%' order by path limit 1";
    let of = rusqlite::params![number, path];
    let row: (Vec<u8>, Vec<u8>) = db
        .query_row(query, of, |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap();
    let (digest, mut packed) = row;
    let middle = packed.len() / 2;
    packed[middle] ^= 0x10;
    let change = "update content set packed = ?1 where digest = ?2";
    assert_eq!(db.execute(change, (packed, digest)).unwrap(), 1);
}

/// So many tools with a record each, that was not judged.
pub fn many(bench: &Path, tools: usize) {
    let folder = tempfile::tempdir().unwrap();
    write_folder(&built_in("counterbore-pass").unwrap(), folder.path()).unwrap();
    as_measured(folder.path());
    let mut files = StoredFile::all_of(folder.path()).unwrap();
    // Short traces: what is looked for are tools.
    for file in files.iter_mut().filter(|file| file.path.ends_with(".csv")) {
        let text = String::from_utf8(file.bytes.clone()).unwrap();
        let few: Vec<&str> = text.lines().take(30).collect();
        file.bytes = (few.join("\n") + "\n").into_bytes();
    }
    let place = Place::File(bench.join("archive.db"));
    let mut archive = Archive::create(&place, report::svg_by).unwrap();
    let contents = (0..tools).map(|number| {
        let mut files = files.clone();
        for file in files.iter_mut().filter(|file| file.path == "tool.toml") {
            let text = String::from_utf8(file.bytes.clone()).unwrap();
            let id = format!("T-{number:04}");
            file.bytes = text.replace("VB-07", &id).into_bytes();
        }
        Contents::of(files, "made", report::svg_by).unwrap()
    });
    archive.add(&contents.collect::<Vec<_>>()).unwrap();
}
