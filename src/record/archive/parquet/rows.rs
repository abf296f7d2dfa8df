//! What a record gives to the tables: a row for each trace, and one for each characteristic.

use super::file::{Cell, Field};
use crate::card::{InspectionCard, Name, Role, Source, TraceEntry};
use crate::quantity::{Angle, Length, Time};
use crate::record::archive::stored_file::StoredFile;
use crate::record::archive::{Digest, Stored, Summary};
use crate::record::{Characteristic, Record, Verdict};
use crate::sample::Marks;
use crate::trace::csv::{self, Rows};

/// A row for each characteristic of a record.
pub(super) fn characteristics(summary: &Summary, record: &Record) -> Vec<Vec<Field>> {
    let figures = record.characteristics.iter();
    figures
        .map(|figure| {
            let mut row = of_record(summary);
            row.extend(characteristic(figure));
            row.push(Field::text("judged_by", Some(&record.about.program)));
            row
        })
        .collect()
}

/// A row for each trace of a record, with its cards, its samples, and what came of it.
pub(super) fn traces(
    stored: &Stored,
    record: Option<&Record>,
    digest: &dyn Fn(&str) -> Option<Digest>,
) -> Vec<Vec<Field>> {
    let text = |path: &str| {
        let bytes = stored.file(path.trim_start_matches("./"))?;
        Some(String::from_utf8_lossy(bytes).into_owned())
    };
    let inspection = text(INSPECTION);
    // A card that today's program cannot read says nothing of its traces; the folder form has it.
    let card = inspection
        .as_deref()
        .and_then(|text| InspectionCard::parse(text, INSPECTION).ok());
    let Some(card) = card else {
        return Vec::new();
    };
    let (tool, gauge) = (text(&card.tool), text(&card.gauge));
    let mut rows = Vec::with_capacity(card.traces.len());
    for (number, entry) in (1..).zip(&card.traces) {
        let mut row = of_record(&stored.summary);
        row.push(Field::new("trace", Cell::Whole(Some(number))));
        row.extend(about(entry));
        row.extend(samples(entry, &stored.files));
        let (first, second) = match &entry.source {
            Source::One(file) => (file, None),
            Source::Two { angle, reading } => (angle, Some(reading)),
        };
        // The samples stand in the lists; the file itself comes out as a folder, and this is its.
        row.push(of_file("blob_sha256", digest(first)));
        let second = second.and_then(|second| digest(second));
        row.push(of_file("reading_blob_sha256", second));
        row.extend(results(entry, record));
        row.push(Field::text("tool_card", tool.as_deref()));
        row.push(Field::text("gauge_card", gauge.as_deref()));
        row.push(Field::text("inspection_card", inspection.as_deref()));
        rows.push(row);
    }
    rows
}

const INSPECTION: &str = "inspection.toml";

/// What the archive says of a record; its bench, and the year and month that it was measured in,
/// stand in the names of the folders.
fn of_record(summary: &Summary) -> Vec<Field> {
    let replaces = summary.replaces.as_ref().map(Digest::to_string);
    let replaced_by = summary.replaced_by.as_ref().map(ToString::to_string);
    vec![
        Field::new("number", Cell::Whole(Some(summary.id.number))),
        Field::new("taken", Cell::Moment(Some(summary.taken))),
        Field::new("archived", Cell::Moment(Some(summary.archived))),
        Field::text("tool", Some(&summary.tool)),
        Field::text("tool_name", Some(&summary.tool_name)),
        Field::text("operator", Some(&summary.operator)),
        Field::text("stage", Some(&summary.stage)),
        Field::text("gauge", Some(&summary.gauge)),
        Field::text("host", Some(&summary.host)),
        Field::text("archived_by", Some(&summary.program)),
        Field::text("tool_verdict", summary.verdict.as_deref()),
        Field::text("content", Some(&summary.content.to_string())),
        Field::text("replaces", replaces.as_deref()),
        Field::text("why_replaced", summary.why.as_deref()),
        Field::text("replaced_by", replaced_by.as_deref()),
        Field::new("as_judged", Cell::Switch(Some(summary.as_judged))),
    ]
}

fn characteristic(of: &Characteristic) -> Vec<Field> {
    let [low, high] = of.interval.map_or([None; 2], |ends| ends.map(Some));
    let (min, max) = of.limit.map_or((None, None), |it| (it.min, it.max));
    let mut fields = vec![
        Field::text("feature", of.feature.as_deref()),
        Field::new("flute", Cell::Whole(of.flute.map(i64::from))),
        Field::real("z_mm", of.z_mm),
        Field::text("name", Some(&of.name)),
    ];
    for (name, value) in [
        ("value", of.value),
        ("standard_uncertainty", of.standard_uncertainty),
        ("interval_low", low),
        ("interval_high", high),
        ("limit_min", min),
        ("limit_max", max),
    ] {
        for unit in ["mm", "deg"] {
            let value = value.filter(|_| of.unit == unit);
            fields.push(Field::real(format!("{name}_{unit}"), value));
        }
    }
    fields.extend([
        Field::text("verdict", of.verdict.map(Verdict::as_str)),
        Field::real("conformity", of.conformity),
        Field::real("at_deg", of.at_deg),
        Field::text("why", Some(&of.why)),
        Field::text("remedy", of.remedy.as_deref()),
    ]);
    fields
}

fn about(entry: &TraceEntry) -> Vec<Field> {
    let (file, reading) = match &entry.source {
        Source::One(file) => (file, None),
        Source::Two { angle, reading } => (angle, Some(reading.as_str())),
    };
    vec![
        Field::text("file", Some(file)),
        Field::text("reading_file", reading),
        Field::text("role", Some(entry.role.as_str())),
        Field::text("feature", entry.role.feature()),
        Field::real("z_mm", entry.z.map(Length::mm)),
        Field::real("diameter_mm", entry.diameter.map(Length::mm)),
        Field::new("rezeroed", Cell::Switch(Some(entry.rezeroed))),
    ]
}

/// The digest of a file's bytes.
fn of_file(name: &str, digest: Option<Digest>) -> Field {
    let digits = digest.map(|digest| digest.to_string());
    Field::text(name, digits.as_deref())
}

/// A trace's samples as lists of whole numbers, which engines unpack and the file holds in little
/// room. Finer decimals than a nanometre, a microsecond and a millionth of a degree are rounded.
#[derive(Default)]
struct Samples {
    time: Option<Vec<i64>>,
    angle: Option<Vec<i64>>,
    travel: Option<Vec<i64>>,
    reading_time: Option<Vec<i64>>,
    reading: Option<Vec<i64>>,
    marks: Option<Vec<String>>,
}

fn samples(entry: &TraceEntry, files: &[StoredFile]) -> [Field; 7] {
    let rows = |path: &str| {
        let plain = path.trim_start_matches("./");
        let file = files.iter().find(|file| file.path == plain)?;
        Some(csv::read(file.bytes.as_slice(), path).ok()?.rows)
    };
    let mut it = Samples::default();
    match &entry.source {
        Source::One(file) => {
            if let Some(rows) = rows(file) {
                it.take(&rows);
            }
        }
        Source::Two { angle, reading } => {
            if let Some(rows) = rows(angle) {
                it.take(&rows);
            }
            if let Some(rows) = rows(reading) {
                let mut other = Samples::default();
                other.take(&rows);
                (it.reading_time, it.reading) = (other.time, other.reading);
            }
        }
    }
    let count = it.reading.as_ref().or(it.angle.as_ref()).map(Vec::len);
    [
        Field::new("samples", Cell::Whole(count.map(|count| count as i64))),
        Field::new("time_us", Cell::Wholes(it.time)),
        Field::new("angle_udeg", Cell::Wholes(it.angle)),
        Field::new("travel_nm", Cell::Wholes(it.travel)),
        Field::new("reading_time_us", Cell::Wholes(it.reading_time)),
        Field::new("reading_nm", Cell::Wholes(it.reading)),
        Field::new("marks", Cell::Words(it.marks)),
    ]
}

impl Samples {
    fn take(&mut self, rows: &Rows) {
        let whole = |value: f64| (value * 1e6).round() as i64;
        let time = |time: Time| whole(time.s());
        let angle = |angle: Angle| whole(angle.deg());
        let length = |length: Length| whole(length.mm());
        match rows {
            Rows::Turning(rows) => {
                self.time = Some(rows.iter().map(|row| time(row.time)).collect());
                self.angle = Some(rows.iter().map(|row| angle(row.angle)).collect());
                self.reading = Some(rows.iter().map(|row| length(row.reading)).collect());
                self.marks = words(rows.iter().map(|row| row.marks));
            }
            Rows::Sliding(rows) => {
                self.time = Some(rows.iter().map(|row| time(row.time)).collect());
                self.travel = Some(rows.iter().map(|row| length(row.travel)).collect());
                self.reading = Some(rows.iter().map(|row| length(row.reading)).collect());
                self.marks = words(rows.iter().map(|row| row.marks));
            }
            Rows::Positions(rows) => {
                self.time = Some(rows.iter().map(|row| time(row.time)).collect());
                self.angle = Some(rows.iter().map(|row| angle(row.angle)).collect());
            }
            Rows::Heights(rows) => {
                self.time = Some(rows.iter().map(|row| time(row.time)).collect());
                self.reading = Some(rows.iter().map(|row| length(row.reading)).collect());
            }
        }
    }
}

/// The marks of each sample, as trace files have them; nothing where no sample has one.
fn words(all: impl Iterator<Item = Marks> + Clone) -> Option<Vec<String>> {
    let joined = |marks: Marks| {
        let words: Vec<&str> = marks.iter().map(|mark| mark.as_str()).collect();
        words.join("|")
    };
    all.clone()
        .any(|marks| !marks.is_empty())
        .then(|| all.map(joined).collect())
}

/// What came of a trace: the verdict on its figures, and each figure's least and greatest value
/// over the flutes.
fn results(entry: &TraceEntry, record: Option<&Record>) -> Vec<Field> {
    let z = entry.z.map(Length::mm);
    let feature = match &entry.role {
        Role::Feature(feature) => Some(feature),
        Role::Reference | Role::Motion(_) | Role::Residual(..) => None,
    };
    let of_it = |it: &&Characteristic| {
        it.feature.as_ref() == feature && (it.z_mm.is_none() || it.z_mm == z)
    };
    let figures = record.iter().flat_map(|record| &record.characteristics);
    let figures: Vec<&Characteristic> = figures.filter(of_it).collect();
    let said = |verdict: Verdict| figures.iter().any(|it| it.verdict == Some(verdict));
    let worst = [Verdict::Fail, Verdict::Undecided, Verdict::Pass];
    let worst = worst.into_iter().find(|verdict| said(*verdict));
    let mut fields = vec![Field::text("verdict", worst.map(Verdict::as_str))];
    for name in Name::ALL {
        let of_name = figures.iter().filter(|it| it.name == name.as_str());
        let values = || of_name.clone().filter_map(|it| it.value);
        let stem = name.as_str().replace('-', "_");
        let unit = name.unit();
        let (least, most) = (values().reduce(f64::min), values().reduce(f64::max));
        fields.push(Field::real(format!("{stem}_least_{unit}"), least));
        fields.push(Field::real(format!("{stem}_most_{unit}"), most));
    }
    fields
}
