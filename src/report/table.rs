//! The characteristics as a table, the worst flute first; each feature in one line when there is no
//! room for all flutes.

use super::figures;
use super::sheet::{Anchor, Area, BODY, Face, SMALL, STRONG, Sheet};
use super::{lettering, rank, sheet, typeface, words};
use crate::quantity::Units;
use crate::record::{Characteristic, FeatureFacts, Record, Verdict};

/// Height of a line.
const ROW: i32 = 375;
/// What a line grows by when it has to say why there is no value.
const WHY: i32 = 290;
const HEADER: i32 = 420;
/// What the last line takes when it says what was left out.
const MORE: i32 = 340;

/// Left edges of the columns, from the left edge of the table.
const FEATURE: i32 = 2300;
const FLUTE_END: i32 = 4900;
const NAME: i32 = 5150;
const POINT: i32 = 9_350;
const LIMIT: i32 = 11_650;
const PROVEN: i32 = 14_000;
const LINE: i32 = 16_300;

struct Row<'a> {
    of: &'a Characteristic,
    /// `2`, `all`, or `2 of 12` where the worst stands for all.
    flute: String,
    /// How many have this verdict.
    alike: usize,
    /// What the other flutes have that this line stands for; empty when they have the same.
    others: String,
    why: Why,
}

/// What a line says of why there is no value.
enum Why {
    /// There is one.
    Known,
    /// On a line of its own.
    Told,
    /// The same as in the line above.
    AsAbove,
}

impl Row<'_> {
    fn height(&self) -> i32 {
        if self.below().is_some() {
            ROW + WHY
        } else {
            ROW
        }
    }

    /// What stands below the line: why there is no value, what the others have.
    fn below(&self) -> Option<String> {
        let why = match self.why {
            Why::Told => self.of.why.as_str(),
            Why::Known | Why::AsAbove => "",
        };
        let parts = [self.others.as_str(), why].into_iter();
        let told: Vec<&str> = parts.filter(|part| !part.is_empty()).collect();
        (!told.is_empty()).then(|| told.join("; "))
    }
}

/// A table planned for the room there is.
pub(super) struct Table<'a> {
    rows: Vec<Row<'a>>,
    /// Whether a line stands for all flutes of a feature.
    summary: bool,
    /// What is said of that, and of what was left out.
    foot: Option<String>,
}

/// The table that says most in this height: every figure, else every judged one, else one line for
/// all flutes of a feature, as many as there is room for.
pub(super) fn plan(record: &Record, room: i32, units: Units) -> Table<'_> {
    let every = rank::by_flute(record);
    let judged = |c: &&Characteristic| c.limit.is_some() || c.flute.is_none();
    let judged: Vec<_> = every.iter().copied().filter(judged).collect();
    let singles = |rows: Vec<_>, foot| Table {
        rows: told_once(rows.into_iter().map(|of| single(record, of, units))),
        summary: false,
        foot,
    };
    let left = every.len() - judged.len();
    let without = format!(
        "{} without a limit: see verdict.json.",
        figures::count(left, "figure")
    );
    for table in [singles(every, None), singles(judged, Some(without))] {
        if table.height() <= room {
            return table;
        }
    }
    // Without a limit there is no worst flute that could stand for the others.
    let (lines, rest): (Vec<_>, Vec<_>) = rank::summaries(record)
        .into_iter()
        .partition(|line| line.worst.limit.is_some() || line.of == 1);
    let mut table = Table {
        rows: told_once(lines.into_iter().map(|line| summary(record, line, units))),
        summary: true,
        foot: Some(String::new()),
    };
    let mut left_out = rest.len();
    while table.height() > room && table.rows.pop().is_some() {
        left_out += 1;
    }
    let mut foot = "A line stands for all flutes of a feature and shows the worst.".to_owned();
    if left_out > 0 {
        foot.push_str(&format!(
            " {} more are left out.",
            figures::count(left_out, "line")
        ));
    }
    foot.push_str(" Every figure is in verdict.json.");
    table.foot = Some(foot);
    table
}

/// Every figure that has a value or a limit, flutes in order, however many there are: for pages that go
/// on.
pub(super) fn every(record: &Record, units: Units) -> Table<'_> {
    let applies = |of: &&Characteristic| of.value.is_some() || of.limit.is_some();
    let mut every: Vec<&Characteristic> = record.characteristics.iter().filter(applies).collect();
    let feature = |of: &Characteristic| {
        let named = |facts: &&FeatureFacts| Some(&facts.feature) == of.feature.as_ref();
        let mut places = record.features.iter();
        places.position(|facts| named(&facts)).unwrap_or(usize::MAX)
    };
    every.sort_by_key(|of| (feature(of), of.flute.unwrap_or(u32::MAX)));
    let every = every.into_iter();
    Table {
        rows: told_once(every.map(|of| single(record, of, units))),
        summary: false,
        foot: None,
    }
}

fn single<'a>(record: &Record, of: &'a Characteristic, units: Units) -> Row<'a> {
    let flute = figures::flute(of.flute) + &words::place(record, of, units);
    Row {
        of,
        flute,
        alike: 1,
        others: String::new(),
        why: Why::Known,
    }
}

fn summary<'a>(record: &Record, group: rank::Summary<'a>, units: Units) -> Row<'a> {
    let place = words::place(record, group.worst, units);
    let flute = match group.worst.flute {
        Some(flute) if group.of > 1 && place.is_empty() => format!("{flute} of {}", group.of),
        flute => figures::flute(flute) + &place,
    };
    let others = group.others.iter();
    let others: Vec<String> = others
        .map(|(verdict, count)| format!("{count} {}", verdict.as_str()))
        .collect();
    let others = match others.is_empty() {
        true => String::new(),
        false => format!("others: {}", others.join(", ")),
    };
    Row {
        of: group.worst,
        flute,
        alike: group.alike,
        others,
        why: Why::Known,
    }
}

/// Lines without a value say why, unless the line above has just said the same.
fn told_once<'a>(rows: impl Iterator<Item = Row<'a>>) -> Vec<Row<'a>> {
    let mut before: Option<&str> = None;
    let why = |mut row: Row<'a>| {
        let missing = figures::figure(row.of, Units::Metric).is_none();
        let now = missing.then_some(row.of.why.as_str());
        row.why = match now {
            None => Why::Known,
            Some(_) if now == before => Why::AsAbove,
            Some(_) => Why::Told,
        };
        before = now;
        row
    };
    rows.map(why).collect()
}

impl Table<'_> {
    /// Keeps the lines that there is room for, at least one, and gives the rest.
    pub(super) fn split(&mut self, room: i32) -> Option<Self> {
        let mut left = room - HEADER;
        let fit = |row: &Row| {
            left -= row.height();
            left >= 0
        };
        let fitting = self.rows.iter().map(fit).take_while(|fits| *fits).count();
        if fitting >= self.rows.len() {
            return None;
        }
        let mut rest = self.rows.split_off(fitting.max(1));
        // What stands above is on the other page now.
        if let Some(row) = rest
            .first_mut()
            .filter(|row| matches!(row.why, Why::AsAbove))
        {
            row.why = Why::Told;
        }
        (!rest.is_empty()).then_some(Self {
            rows: rest,
            summary: self.summary,
            foot: None,
        })
    }

    /// How high it is.
    pub(super) fn height(&self) -> i32 {
        let rows: i32 = self.rows.iter().map(Row::height).sum();
        HEADER + rows + if self.foot.is_some() { MORE } else { 0 }
    }

    /// Draws it.
    pub(super) fn draw(&self, sheet: &mut Sheet, area: Area, units: Units) {
        let x = area.x;
        let head = area.y + 270;
        let flute = if self.summary { "worst flute" } else { "flute" };
        for (column, anchor, text) in [
            (0, Anchor::Start, "verdict"),
            (FEATURE, Anchor::Start, "feature"),
            (FLUTE_END, Anchor::End, flute),
            (NAME, Anchor::Start, "characteristic"),
            (POINT, Anchor::End, "value"),
            (POINT + 100, Anchor::Start, "± U"),
            (LIMIT, Anchor::Start, "allowed"),
            (PROVEN, Anchor::Start, "proven"),
            (LINE, Anchor::Start, "95 % interval"),
        ] {
            let room = if column == LINE { area.w - LINE } else { 4000 };
            let text = typeface::fit(text, SMALL.size, SMALL.weight, room);
            sheet.text((x + column, head), anchor, SMALL, &text);
        }
        let mut y = area.y + HEADER;
        sheet.rule(x, y - 50, area.w);
        for row in &self.rows {
            draw_row(sheet, Area { y, h: ROW, ..area }, row, units);
            y += row.height();
            sheet.rule(x, y - 50, area.w);
        }
        if let Some(foot) = &self.foot {
            sheet.text((x, y + 230), Anchor::Start, SMALL, foot);
        }
    }
}

fn draw_row(sheet: &mut Sheet, area: Area, row: &Row, units: Units) {
    let of = row.of;
    let base = area.y + 235;
    let x = area.x;
    let face = match of.verdict {
        Some(Verdict::Fail | Verdict::Undecided) => STRONG,
        _ => BODY,
    };
    if of.verdict.is_some() {
        sheet.open(sheet::class(of.verdict), None);
        lettering::sign(sheet, (x + 110, base - 95), 105, of.verdict);
        sheet.close();
    }
    let mut word = words::word(of.verdict).to_owned();
    if row.alike > 1 && of.verdict.is_some() {
        word.push_str(&format!(" × {}", row.alike));
    }
    let mut cell = |column: i32, end: i32, anchor: Anchor, face: Face, text: &str| {
        let text = typeface::fit(text, face.size, face.weight, end - column);
        let at = if matches!(anchor, Anchor::End) {
            end
        } else {
            column
        };
        sheet.text((x + at, base), anchor, face, &text);
    };
    cell(300, FEATURE - 60, Anchor::Start, face, &word);
    let flute_width = typeface::width(&row.flute, BODY.size, BODY.weight);
    let feature = of.feature.as_deref().unwrap_or("tool");
    cell(
        FEATURE,
        FLUTE_END - flute_width - 150,
        Anchor::Start,
        BODY,
        feature,
    );
    if of.feature.is_some() {
        cell(FEATURE, FLUTE_END, Anchor::End, BODY, &row.flute);
    }
    cell(
        NAME,
        POINT - 1500,
        Anchor::Start,
        face,
        &figures::name(&of.name),
    );
    let sign = units.sign(&of.unit);
    match figures::figure(of, units) {
        Some(figure) => {
            cell(
                POINT - 1500,
                POINT,
                Anchor::End,
                face,
                &words::minus(&figure.value),
            );
            let spread = figure
                .spread
                .map_or(sign.to_owned(), |spread| format!("{spread} {sign}"));
            cell(POINT + 100, LIMIT - 60, Anchor::Start, BODY, &spread);
        }
        None => cell(POINT - 1500, POINT, Anchor::End, face, figures::NOTHING),
    }
    let allowed = words::minus(&figures::allowed(of.limit, &of.unit, units));
    // Limits converted from another unit have many digits; small ones are better than cut ones.
    let proven = figures::proven(of, units).unwrap_or_default();
    for (text, from, to) in [
        (allowed, LIMIT, PROVEN),
        (words::minus(&proven), PROVEN, LINE),
    ] {
        let room = to - 100 - from;
        let fits = typeface::width(&text, BODY.size, BODY.weight) <= room;
        let face = if fits { BODY } else { SMALL };
        cell(from, to - 100, Anchor::Start, face, &text);
    }
    match row.why {
        Why::Known => {
            let room = Area {
                x: x + LINE,
                y: area.y + 60,
                w: area.w - LINE,
                h: 210,
            };
            number_line(sheet, room, of);
        }
        Why::Told => {}
        Why::AsAbove => sheet.text((x + LINE, base), Anchor::Start, SMALL, "why: as above"),
    }
    if let Some(below) = row.below() {
        let below = typeface::fit(&below, SMALL.size, SMALL.weight, area.w - NAME);
        sheet.text((x + NAME, base + WHY), Anchor::Start, SMALL, &below);
    }
}

/// The value and its interval on a line, what is not allowed hatched: the gap between the two is
/// what a verdict hangs on.
fn number_line(sheet: &mut Sheet, area: Area, of: &Characteristic) -> Option<()> {
    let (limit, value) = (of.limit?, of.value?);
    let finite = |v: &f64| v.is_finite();
    let (min, max) = (limit.min.filter(finite), limit.max.filter(finite));
    let [from, to] = of.interval.unwrap_or([value, value]);
    let known = [Some(value), Some(from), Some(to), min, max];
    let known = || known.into_iter().flatten();
    let low = known().fold(f64::INFINITY, f64::min);
    let high = known().fold(f64::NEG_INFINITY, f64::max);
    let span = high - low;
    if !(span.is_finite() && span > 0.0 && known().all(f64::is_finite)) {
        return None;
    }
    let (low, span) = (low - 0.18 * span, 1.36 * span);
    let at = |v: f64| {
        let share = ((v - low) / span).clamp(0.0, 1.0);
        area.x + (share * f64::from(area.w)).round() as i32
    };
    let middle = area.y + area.h / 2;
    let end = area.x + area.w;
    for (from, to, edge) in [
        (Some(area.x), min.map(at), min.map(at)),
        (max.map(at), Some(end), max.map(at)),
    ] {
        if let (Some(from), Some(to), Some(edge)) = (from, to, edge) {
            sheet.rect(
                "barred",
                Area {
                    x: from,
                    w: to - from,
                    ..area
                },
            );
            sheet.stroke(
                "axis",
                20,
                &format!("M{edge} {}v{}", area.y - 20, area.h + 40),
            );
        }
    }
    sheet.rule(area.x, middle, area.w);
    sheet.path("window", &format!("M{} {middle}H{}", at(from), at(to)));
    sheet.circle("least", (at(value), middle), 62);
    Some(())
}
