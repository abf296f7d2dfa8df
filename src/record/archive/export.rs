//! A record out of the archive: as the folder that it was, or as rows of a table.

use super::contents::{Contents, Correction};
use super::drawing::{Draw, Redrawn};
use super::entry::Summary;
use super::half;
use super::load::Stored;
use super::regular;
use super::stored_file::{RECORD_FILE, unreadable};
use crate::error::{Code, Error, Result, unwritable};
use crate::record::{Characteristic, Record, Verdict};
use serde::{Deserialize, Serialize};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// Writes a record's folder below `out`, whole or not at all: every file as it was, and beside them
/// what the archive says of it. Gives the folder.
///
/// # Errors
/// `disk` where the folder is there already or cannot be written.
pub fn write_folder(stored: &Stored, out: &Path) -> Result<PathBuf> {
    let id = &stored.summary.id;
    let folder = out.join(format!("{}-{}", id.bench, id.number));
    if folder.exists() {
        return Err(Error::new(Code::Disk, "found it there already")
            .in_path(folder)
            .help("it was left alone; name another folder with `--out`"));
    }
    let said = Exported {
        summary: &stored.summary,
        report_then: stored.redrawn.as_ref(),
    };
    let said = serde_json::to_string_pretty(&said)
        .map_err(|fault| Error::internal("cannot write the record as JSON", fault))?;
    let write = || -> io::Result<()> {
        fs::create_dir_all(out)?;
        let beside = half::written().tempdir_in(out)?;
        for file in &stored.files {
            let path = beside.path().join(&file.path);
            fs::create_dir_all(path.parent().unwrap_or(beside.path()))?;
            fs::write(path, &file.bytes)?;
        }
        fs::write(beside.path().join(RECORD_FILE), said.clone() + "\n")?;
        // Left to itself it would be for its owner alone.
        let made = fs::create_dir(&folder).and_then(|()| fs::metadata(&folder));
        fs::set_permissions(beside.path(), made?.permissions())?;
        fs::remove_dir(&folder)?;
        fs::rename(beside.path(), &folder)?;
        // Renamed, it must not be cleared away under its new name either.
        let _ = beside.keep();
        Ok(())
    };
    write().map_err(|fault| unwritable(&folder, fault))?;
    Ok(folder)
}

/// What lies beside the files of an exported record.
#[derive(Serialize)]
struct Exported<'a> {
    #[serde(flatten)]
    summary: &'a Summary,
    #[serde(skip_serializing_if = "Option::is_none")]
    report_then: Option<&'a Redrawn>,
}

/// What of it is no summary.
#[derive(Deserialize)]
struct Beside {
    #[serde(default)]
    report_then: Option<Redrawn>,
}

/// Takes out what a killed export left in a folder, as far as that can be done.
pub fn clear_left_over(out: &Path) {
    let _ = half::sweep(out);
}

/// The folders of exported records: this one, or those in it.
///
/// # Errors
/// `missing-file` where there is none.
pub fn exported_folders(folder: &Path) -> Result<Vec<PathBuf>> {
    if folder.join(RECORD_FILE).is_file() {
        return Ok(vec![folder.to_owned()]);
    }
    let entries = fs::read_dir(folder).map_err(|fault| unreadable(folder, fault))?;
    let mut found = Vec::new();
    for entry in entries {
        let path = entry.map_err(|fault| unreadable(folder, fault))?.path();
        if path.join(RECORD_FILE).is_file() {
            found.push(path);
        }
    }
    found.sort();
    if found.is_empty() {
        let message = format!("found no `{RECORD_FILE}` in it or in a folder below");
        return Err(Error::new(Code::Missing, message).in_path(folder).help(
            "`heelclear archive export` writes such folders; for others there is `archive add`",
        ));
    }
    Ok(found)
}

/// Reads the folder of an exported record back, checked against the digest it went out with.
///
/// # Errors
/// `archive-broken` where a file is not as it was, and those of [`Contents::read`].
pub fn read_exported(folder: &Path, draw: Draw) -> Result<Contents> {
    let file = folder.join(RECORD_FILE);
    let text = regular::text(&file).map_err(|fault| unreadable(&file, fault))?;
    let read = serde_json::from_str::<Summary>(&text)
        .and_then(|said| Ok((said, serde_json::from_str::<Beside>(&text)?)));
    let (said, beside) = read.map_err(|fault| {
        Error::new(
            Code::CardSyntax,
            format!("not what an export writes: {fault}"),
        )
        .in_path(file)
        .at_line(fault.line() as u64)
        .help("export the record again, or take the folder in with `archive add`")
    })?;
    let mut contents = Contents::read(folder, draw)?;
    // The report in the folder is another drawing of the verdict, which speaks for both.
    if let Some(then) = &beside.report_then {
        contents = contents.with_report_then(then);
    }
    if contents.content != said.content {
        let message = format!(
            "its files have the digest {}, expected {}: one of them was changed since it was exported",
            contents.content.short(),
            said.content.short()
        );
        return Err(Error::new(Code::ArchiveBroken, message)
            .in_path(folder)
            .help(
                "export the record again; `archive add` takes changed files in as another record",
            ));
    }
    let contents = contents.once_record(origin(&said));
    Ok(match (said.replaces, said.why) {
        (Some(replaces), Some(why)) => contents.in_place_of(Correction { replaces, why }),
        _ => contents,
    })
}

/// Where a record was first, and since when.
fn origin(said: &Summary) -> String {
    let Summary {
        id,
        archived,
        host,
        program,
        ..
    } = said;
    // What has moved twice still comes from where it was made.
    said.origin
        .clone()
        .unwrap_or_else(|| format!("{id}, archived {archived} on {host} by {program}"))
}

/// The columns of such a table.
const COLUMNS: [&str; 23] = [
    "bench",
    "number",
    "taken",
    "archived",
    "tool",
    "tool_name",
    "operator",
    "stage",
    "gauge",
    "tool_verdict",
    "feature",
    "flute",
    "z_mm",
    "name",
    "value",
    "unit",
    "standard_uncertainty",
    "interval_low",
    "interval_high",
    "limit_min",
    "limit_max",
    "verdict",
    "as_judged",
];

/// The first line of a CSV table with a row for each figure: the names of its columns.
///
/// # Errors
/// `internal`, should they be such as CSV cannot hold.
pub fn csv_header() -> Result<Vec<u8>> {
    csv_lines([COLUMNS.map(str::to_owned)])
}

/// Every figure of a record as a row of such a table, lengths in mm and angles in degrees.
///
/// # Errors
/// As [`csv_header`].
pub fn csv_rows(summary: &Summary, record: &Record) -> Result<Vec<u8>> {
    let figures = record.characteristics.iter();
    csv_lines(figures.map(|figure| csv_row(summary, figure)))
}

fn csv_row(summary: &Summary, figure: &Characteristic) -> [String; COLUMNS.len()] {
    let number = |value: Option<f64>| value.map(|value| value.to_string()).unwrap_or_default();
    let text = |text: Option<&str>| text.unwrap_or_default().to_owned();
    let [low, high] = figure.interval.map_or([None; 2], |ends| ends.map(Some));
    let (least, most) = figure.limit.map_or((None, None), |it| (it.min, it.max));
    let flute = figure.flute.map(|flute| flute.to_string());
    [
        summary.id.bench.clone(),
        summary.id.number.to_string(),
        summary.taken.to_string(),
        summary.archived.to_string(),
        summary.tool.clone(),
        summary.tool_name.clone(),
        summary.operator.clone(),
        summary.stage.clone(),
        summary.gauge.clone(),
        text(summary.verdict.as_deref()),
        text(figure.feature.as_deref()),
        flute.unwrap_or_default(),
        number(figure.z_mm),
        figure.name.clone(),
        number(figure.value),
        figure.unit.clone(),
        number(figure.standard_uncertainty),
        number(low),
        number(high),
        number(least),
        number(most),
        text(figure.verdict.map(Verdict::as_str)),
        summary.as_judged.to_string(),
    ]
}

fn csv_lines(rows: impl IntoIterator<Item = [String; COLUMNS.len()]>) -> Result<Vec<u8>> {
    let refused = |fault: String| {
        let message = format!("cannot write a row as CSV: {fault}");
        Error::new(Code::Internal, message)
    };
    let mut out = csv::Writer::from_writer(Vec::new());
    for row in rows {
        out.write_record(&row)
            .map_err(|fault| refused(fault.to_string()))?;
    }
    out.into_inner().map_err(|fault| refused(fault.to_string()))
}
