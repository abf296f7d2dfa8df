//! The inspection card: what was done, and which traces hold it.

use super::choices::{RoleWord, Stage, Surface};
use super::keys;
use super::page::Page;
use super::reader::Reader;
use super::writer::Writer;
use crate::error::Result;
use crate::quantity::Length;
use jiff::Timestamp;

/// What was done, when, by whom, with which traces.
#[derive(Clone, Debug, PartialEq)]
pub struct InspectionCard {
    /// File of the tool card, relative to the folder.
    pub tool: String,
    /// File of the gauge card, relative to the folder.
    pub gauge: String,
    /// When it was taken.
    pub taken: Timestamp,
    /// Who took it; empty where nobody said.
    pub operator: String,
    /// Whose tool it is.
    pub customer: Option<String>,
    /// Temperature at the bench, in °C, where it was read.
    pub temperature_c: Option<f64>,
    /// Before or after the grind.
    pub stage: Stage,
    /// File of the grinder's card, where it was ground or is to be.
    pub grinder: Option<String>,
    /// File of the set-up that it was ground from.
    pub setup: Option<String>,
    /// Whether the capture was cut short.
    pub interrupted: bool,
    /// The traces, in the order taken.
    pub traces: Vec<TraceEntry>,
}

/// One trace of an inspection.
#[derive(Clone, Debug, PartialEq)]
pub struct TraceEntry {
    /// Where its samples are.
    pub source: Source,
    /// What it is for.
    pub role: Role,
    /// Distance from the tool's front, where known.
    pub z: Option<Length>,
    /// Diameter of the round, for a reference.
    pub diameter: Option<Length>,
    /// Whether the indicator was set anew before it: heights are not compared across.
    pub rezeroed: bool,
    /// Encoder counts added to those of its raw log, so that its angles go with those of the other
    /// traces although the encoder had begun to count anew. Its file has them already.
    pub count_shift: i64,
}

/// The files of a trace, relative to the folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Source {
    /// One file with angle (or travel) and reading on one clock.
    One(String),
    /// Two instruments with clocks of their own.
    Two {
        /// `time_s,angle_deg`
        angle: String,
        /// `time_s,reading_mm`
        reading: String,
    },
}

/// What a trace is for.
#[derive(Clone, Debug, PartialEq)]
pub enum Role {
    /// A round of the same clamping.
    Reference,
    /// A feature of the tool card, by name.
    Feature(String),
    /// What a relieving fixture does to a true round that turns in it.
    Motion(Engaged),
    /// A feature of the tool card, by name, in an engaged fixture.
    Residual(String, Engaged),
}

/// How a relieving fixture stood while a trace was taken in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Engaged {
    /// Along which direction its motion was read.
    pub direction: Surface,
    /// Its throw.
    pub throw: Length,
}

impl Role {
    /// Whether the trace shows the tool itself as it is judged, or a round of its clamping.
    pub fn is_judged(&self) -> bool {
        matches!(self, Role::Reference | Role::Feature(_))
    }

    /// As a card has it.
    pub fn as_str(&self) -> &'static str {
        let word = match self {
            Role::Reference => RoleWord::Reference,
            Role::Feature(_) => RoleWord::Feature,
            Role::Motion(_) => RoleWord::Motion,
            Role::Residual(..) => RoleWord::Residual,
        };
        word.as_str()
    }

    /// What people call what is traced: `reference`, `motion` or the feature.
    pub fn called(&self) -> String {
        match self {
            Role::Feature(name) => name.clone(),
            Role::Residual(name, _) => format!("{name} residual"),
            Role::Reference | Role::Motion(_) => self.as_str().to_owned(),
        }
    }

    /// How the fixture stands, where it is engaged.
    pub fn engaged(&self) -> Option<Engaged> {
        match self {
            Role::Motion(engaged) | Role::Residual(_, engaged) => Some(*engaged),
            Role::Reference | Role::Feature(_) => None,
        }
    }

    /// The feature that it shows.
    pub fn feature(&self) -> Option<&str> {
        match self {
            Role::Feature(name) | Role::Residual(name, _) => Some(name),
            Role::Reference | Role::Motion(_) => None,
        }
    }
}

impl InspectionCard {
    /// Reads an inspection card; `file` names it in messages. Everything wrong with it is told at
    /// once.
    pub fn parse(text: &str, file: &str) -> Result<Self> {
        let page = Page::new(text, file);
        let entries = page.parse()?;
        let card = Reader::top(&page, keys::INSPECTION, &entries).and_then(|top| read(&top));
        page.finish(card)
    }

    /// The card as a person would write it, lengths in mm.
    pub fn to_toml(&self) -> String {
        let mut out = Writer::new();
        out.text("tool", &self.tool);
        out.text("gauge", &self.gauge);
        out.plain("taken", self.taken);
        if !self.operator.trim().is_empty() {
            out.text("operator", &self.operator);
        }
        if let Some(customer) = &self.customer {
            out.text("customer", customer);
        }
        if let Some(temperature) = self.temperature_c {
            out.number("temperature_c", temperature);
        }
        out.text("stage", self.stage.as_str());
        for (key, file) in [("grinder", &self.grinder), ("setup", &self.setup)] {
            if let Some(file) = file {
                out.text(key, file);
            }
        }
        if self.interrupted {
            out.switch("interrupted", true);
        }
        for entry in &self.traces {
            write_entry(&mut out, entry);
        }
        out.finish()
    }
}

fn read(top: &Reader<'_>) -> Option<InspectionCard> {
    let tool = top.file("tool", &[]);
    let gauge = top.file("gauge", &[]);
    let taken = top.moment("taken");
    let operator = top.text("operator");
    let customer = top.text("customer");
    let temperature_c = top.number("temperature_c");
    let stage = top.choice("stage");
    let interrupted = top.switch("interrupted");
    let grinder = top.file("grinder", &[]);
    let setup = top.file("setup", &[]);
    let tables = top.tables("trace");
    let cards = [&tool, &gauge, &grinder, &setup].into_iter().flatten();
    let cards: Vec<&str> = cards.map(String::as_str).collect();
    let traces = tables.iter().map(|table| read_entry(table, &cards));
    let traces: Vec<Option<TraceEntry>> = traces.collect();
    Some(InspectionCard {
        tool: tool?,
        gauge: gauge?,
        taken: taken?,
        operator: operator.unwrap_or_default(),
        customer,
        temperature_c,
        stage: stage?,
        grinder,
        setup,
        interrupted: interrupted.unwrap_or(false),
        traces: traces.into_iter().collect::<Option<_>>()?,
    })
}

fn read_entry(table: &Reader<'_>, cards: &[&str]) -> Option<TraceEntry> {
    let source = read_source(table, cards);
    let role = read_role(table);
    let diameter = table.length("diameter_mm");
    Some(TraceEntry {
        z: table.length("z_mm"),
        diameter,
        rezeroed: table.switch("rezeroed").unwrap_or(false),
        count_shift: table.integer("count_shift").unwrap_or(0),
        source: source?,
        role: role?,
    })
}

fn read_source(table: &Reader<'_>, cards: &[&str]) -> Option<Source> {
    let one = table.file("file", cards);
    let angle = table.file("angle_file", cards);
    let reading = table.file("reading_file", cards);
    let two = table.has("angle_file") || table.has("reading_file");
    let help = "name one `file`, or an `angle_file` and a `reading_file` of two instruments";
    match (table.has("file"), two) {
        (true, true) => {
            table.object(
                "file",
                "read `file` beside the file of one of two instruments",
                help,
            );
            None
        }
        (true, false) => one.map(Source::One),
        (false, true) => {
            for name in ["angle_file", "reading_file"] {
                table.demand(name, format!("read no `{name}` beside its companion"), help);
            }
            Some(Source::Two {
                angle: angle?,
                reading: reading?,
            })
        }
        (false, false) => {
            table.demand("file", "read no `file` under `[[trace]]`", help);
            None
        }
    }
}

fn read_role(table: &Reader<'_>) -> Option<Role> {
    let kind = table.choice("role")?;
    let shows_a_feature = matches!(kind, RoleWord::Feature | RoleWord::Residual);
    let engaged = matches!(kind, RoleWord::Motion | RoleWord::Residual);
    if shows_a_feature {
        table.demand(
            "feature",
            "read no `feature` under `[[trace]]`, expected the name of one in the tool card",
            "add `feature`, or make the role `reference`",
        );
        if table.has("diameter_mm") {
            table.object(
                "diameter_mm",
                "read a diameter on the trace of a feature, expected it on a reference alone",
                "the diameter of a feature stands in the tool card",
            );
        }
    } else if table.has("feature") {
        table.object(
            "feature",
            match kind {
                RoleWord::Motion => "read a feature on the trace of a motion, expected none",
                _ => "read a feature on a reference trace, expected none",
            },
            "it shows a round: take `feature` out, or make the role `feature`",
        );
    }
    for name in ["throw_mm", "direction"] {
        if engaged {
            continue;
        }
        if table.has(name) {
            table.object(
                name,
                format!("read `{name}` on a trace with the fixture locked, expected none"),
                "it belongs to a trace taken with a relieving fixture engaged: role `motion` or `residual`",
            );
        }
    }
    let engaged = engaged.then(|| read_engaged(table));
    match kind {
        RoleWord::Reference => Some(Role::Reference),
        RoleWord::Feature => table.text("feature").map(Role::Feature),
        RoleWord::Motion => Some(Role::Motion(engaged??)),
        RoleWord::Residual => Some(Role::Residual(table.text("feature")?, engaged??)),
    }
}

fn read_engaged(table: &Reader<'_>) -> Option<Engaged> {
    table.demand(
        "throw_mm",
        "read no `throw_mm` of the engaged fixture",
        "add what the scale of the throw showed",
    );
    let direction = table.choice("direction");
    Some(Engaged {
        direction: direction.unwrap_or(Surface::Radial),
        throw: table.length("throw_mm")?,
    })
}

fn write_entry(out: &mut Writer, entry: &TraceEntry) {
    out.heading("[[trace]]");
    match &entry.source {
        Source::One(file) => out.text("file", file),
        Source::Two { angle, reading } => {
            out.text("angle_file", angle);
            out.text("reading_file", reading);
        }
    }
    out.text("role", entry.role.as_str());
    if let Some(name) = entry.role.feature() {
        out.text("feature", name);
    }
    if let Role::Motion(engaged) | Role::Residual(_, engaged) = &entry.role {
        out.text("direction", engaged.direction.as_str());
        out.length("throw_mm", Some(engaged.throw));
    }
    out.length("z_mm", entry.z);
    out.length("diameter_mm", entry.diameter);
    if entry.rezeroed {
        out.switch("rezeroed", true);
    }
    if entry.count_shift != 0 {
        out.integer("count_shift", entry.count_shift);
    }
}
