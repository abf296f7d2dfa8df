//! The gauge card: the instruments and how they are set up.

use super::choices::{Hand, Positive, Rotation, StylusShape};
use super::keys;
use super::lean::LeanBound;
use super::page::Page;
use super::reader::Reader;
use super::sense::{self, Sense, SenseProven};
use super::studies::Studies;
use super::writer::Writer;
use crate::error::Result;
use crate::quantity::{Angle, Length, Time};
use jiff::civil::Date;

/// Indicator, stylus, encoder and set-up of one bench.
#[derive(Clone, Debug, PartialEq)]
pub struct GaugeCard {
    /// The indicator.
    pub indicator: Indicator,
    /// What touches the tool.
    pub stylus: Stylus,
    /// The rotary encoder.
    pub encoder: Encoder,
    /// How probe and tool stand to each other.
    pub setup: Setup,
    /// How to talk to the instruments, where they are read live.
    pub link: Option<Link>,
    /// Which indicator it is.
    pub identity: Identity,
    /// What studies of the gauge found.
    pub studies: Studies,
}

/// What a report names an indicator by (ISO/IEC 17025:2017, 7.8.2.1 and 6.4.13).
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Identity {
    /// The number on it.
    pub serial: Option<String>,
    /// The number of its certificate.
    pub certificate: Option<String>,
    /// When it is to be calibrated again.
    pub due: Option<Date>,
}

/// The indicator and its stated errors.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Indicator {
    /// Its least count.
    pub resolution: Length,
    /// Range of its plunger: readings that stand at an end of it are not readings; absent = not known.
    pub travel: Option<Length>,
    /// What one count of the bridge is worth; the least count when absent.
    pub count: Option<Length>,
    /// Limit of error over the travel used, from its certificate.
    pub max_error: Length,
    /// Difference between readings with the plunger going in and coming out.
    pub hysteresis: Length,
    /// Angle of a lever to the surface's normal; 0 for a plunger.
    pub lever_angle: Angle,
}

impl Indicator {
    /// What one count of the bridge is worth.
    pub fn count(&self) -> Length {
        self.count.unwrap_or(self.resolution)
    }

    /// What a reading lacks on average while the plunger comes out, against going in: anything from
    /// nothing to the whole of the hysteresis, so half of it.
    pub fn play(&self) -> Length {
        self.hysteresis / 2.0
    }
}

/// What touches the tool.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stylus {
    /// Its shape.
    pub shape: StylusShape,
    /// Radius of the ball, half the width of a flat, 0 for a point.
    pub radius: Length,
}

/// The rotary encoder.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Encoder {
    /// Counts in one turn of the tool, after the edges are counted.
    pub counts_per_turn: u32,
    /// The turning direction in which its angle grows.
    pub sense: Sense,
    /// That this was seen, and when; nothing where nobody has watched it.
    pub sense_proven: Option<SenseProven>,
}

impl Encoder {
    /// What a growing angle does to a tool of this hand.
    pub fn positive(&self, hand: Hand) -> Positive {
        self.sense.positive(hand)
    }

    /// The turning direction in which the angle was seen to grow, where that is not the one stated
    /// for a tool of this hand.
    pub fn contradicted(&self, hand: Hand) -> Option<SenseProven> {
        let stated: Rotation = self.sense.grows(hand);
        self.sense_proven.filter(|proven| proven.grows != stated)
    }
}

/// How probe and tool stand to each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setup {
    /// How far the probe's line passes from the axis, positive towards where the surface moves to
    /// when the tool turns the way it cuts.
    pub probe_offset: Length,
    /// Half-width of what `probe_offset` may be off by.
    pub probe_offset_tolerance: Length,
    /// Bound on the eccentricity left when no reference trace was taken; absent = not known.
    pub runout: Option<Length>,
    /// Bound on the lean of a tool's axis against the spindle's; absent = not known.
    pub lean: Option<LeanBound>,
    /// Bound on the swash of a square face, half its swing; absent = not known.
    pub swash: Option<Length>,
    /// How much later than the encoder the indicator is read; absent = found from the trace.
    pub delay: Option<Time>,
}

/// How to talk to the instruments.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Link {
    /// Which protocol the indicator speaks: `bridge` (the default) or `text`.
    pub protocol: Option<String>,
    /// Bits a second.
    pub baud: Option<u32>,
    /// For text: the pattern with named groups.
    pub pattern: Option<String>,
    /// For text: what ends a line, `lf`, `cr` or `crlf`.
    pub line_ending: Option<String>,
    /// For text: what to send to ask for a reading.
    pub request: Option<String>,
    /// For text: how often to ask.
    pub request_every: Option<Time>,
    /// For text: the unit of a reading when no `unit` group tells, `mm`, `in` or `um`.
    pub unit: Option<String>,
    /// For a second instrument that gives the angle: its pattern.
    pub angle_pattern: Option<String>,
    /// For a second instrument that gives the angle: its bits a second.
    pub angle_baud: Option<u32>,
    /// Readings a second that the bench was set up to give.
    pub readings_per_s: Option<u32>,
    /// Positions a second that the bench was set up to give.
    pub positions_per_s: Option<u32>,
}

impl GaugeCard {
    /// Reads a gauge card; `file` names it in messages. Everything wrong with it is told at once.
    pub fn parse(text: &str, file: &str) -> Result<Self> {
        let page = Page::new(text, file);
        let entries = page.parse()?;
        let card = Reader::top(&page, keys::GAUGE, &entries).and_then(|top| read(&top));
        page.finish(card)
    }

    /// The text of a card with what was seen of its encoder's sense, all else in it as a person
    /// wrote it.
    pub fn with_sense_proven(text: &str, proven: SenseProven) -> String {
        sense::with_sense_proven(text, proven)
    }

    /// The card as a person would write it, lengths in mm.
    pub fn to_toml(&self) -> String {
        let mut out = Writer::new();
        out.heading("[indicator]");
        out.length("resolution_mm", Some(self.indicator.resolution));
        out.length("travel_mm", self.indicator.travel);
        out.length("count_mm", self.indicator.count);
        out.length("max_error_mm", Some(self.indicator.max_error));
        out.length("hysteresis_mm", Some(self.indicator.hysteresis));
        out.angle("lever_angle_deg", Some(self.indicator.lever_angle));
        write_identity(&mut out, &self.identity);
        out.heading("[stylus]");
        out.text("shape", self.stylus.shape.as_str());
        out.length("radius_mm", Some(self.stylus.radius));
        out.heading("[encoder]");
        out.whole("counts_per_rev", self.encoder.counts_per_turn);
        self.encoder.sense.write(&mut out);
        if let Some(proven) = self.encoder.sense_proven {
            proven.write(&mut out);
        }
        out.heading("[setup]");
        out.length("probe_offset_mm", Some(self.setup.probe_offset));
        out.length(
            "probe_offset_tolerance_mm",
            Some(self.setup.probe_offset_tolerance),
        );
        out.length("runout_mm", self.setup.runout);
        if let Some(lean) = self.setup.lean {
            lean.write(&mut out);
        }
        out.length("swash_mm", self.setup.swash);
        out.time("delay_ms", self.setup.delay);
        if let Some(link) = &self.link {
            write_link(&mut out, link);
        }
        self.studies.write(&mut out);
        out.finish()
    }
}

fn read(top: &Reader<'_>) -> Option<GaugeCard> {
    let indicator = top.table("indicator").map(|table| read_indicator(&table));
    let stylus = top.table("stylus").map(|table| read_stylus(&table));
    let encoder = top.table("encoder").map(|table| read_encoder(&table));
    let setup = top.table("setup").map(|table| read_setup(&table));
    let link = top.table("link").map(|table| read_link(&table));
    let identity = top.table("identity").map(|table| read_identity(&table));
    let studies = top.table("study").map(|table| Studies::read(&table));
    Some(GaugeCard {
        indicator: indicator??,
        stylus: stylus??,
        encoder: encoder??,
        setup: setup??,
        link,
        identity: identity.unwrap_or_default(),
        studies: studies.unwrap_or_else(|| Some(Studies::default()))?,
    })
}

fn read_indicator(table: &Reader<'_>) -> Option<Indicator> {
    let resolution = table.length("resolution_mm");
    let travel = table.length("travel_mm");
    let max_error = table.length("max_error_mm");
    let hysteresis = table.length("hysteresis_mm");
    let lever_angle = table.angle("lever_angle_deg");
    Some(Indicator {
        count: table.length("count_mm"),
        resolution: resolution?,
        travel,
        max_error: max_error?,
        hysteresis: hysteresis?,
        lever_angle: lever_angle?,
    })
}

fn read_identity(table: &Reader<'_>) -> Identity {
    Identity {
        serial: table.text("serial"),
        certificate: table.text("certificate"),
        due: table.day("due"),
    }
}

fn write_identity(out: &mut Writer, identity: &Identity) {
    if *identity == Identity::default() {
        return;
    }
    out.heading("[identity]");
    for (key, text) in [
        ("serial", &identity.serial),
        ("certificate", &identity.certificate),
    ] {
        if let Some(text) = text {
            out.text(key, text);
        }
    }
    if let Some(due) = identity.due {
        out.plain("due", due);
    }
}

fn read_stylus(table: &Reader<'_>) -> Option<Stylus> {
    let shape = table.choice("shape");
    let radius = table.length("radius_mm");
    match shape {
        Some(StylusShape::Point) if radius.unwrap_or_default() > Length::ZERO => table.object(
            "radius_mm",
            "read a radius on a point, expected none",
            "a tip with a radius is a `ball`",
        ),
        Some(StylusShape::Point) | None => {}
        Some(_) if !table.has("radius_mm") => table.demand(
            "radius_mm",
            "read no `radius_mm` under `[stylus]`, expected the radius of the ball, or half the width of the flat",
            "add `radius_mm`: what the tip hides depends on its size",
        ),
        Some(_) if radius == Some(Length::ZERO) => table.object(
            "radius_mm",
            "read a tip without size, expected a radius above 0",
            "a tip without a radius is a `point`",
        ),
        _ => {}
    }
    Some(Stylus {
        shape: shape?,
        radius: radius.unwrap_or(Length::ZERO),
    })
}

fn read_encoder(table: &Reader<'_>) -> Option<Encoder> {
    let counts_per_turn = table.whole("counts_per_rev");
    let sense = Sense::read(table);
    let sense_proven = SenseProven::read(table, sense);
    Some(Encoder {
        counts_per_turn: counts_per_turn?,
        sense: sense?,
        sense_proven,
    })
}

fn read_setup(table: &Reader<'_>) -> Option<Setup> {
    let probe_offset = table.length("probe_offset_mm");
    let probe_offset_tolerance = table.length("probe_offset_tolerance_mm");
    Some(Setup {
        runout: table.length("runout_mm"),
        lean: LeanBound::read(table),
        swash: table.length("swash_mm"),
        delay: table.time("delay_ms"),
        probe_offset: probe_offset?,
        probe_offset_tolerance: probe_offset_tolerance?,
    })
}

fn read_link(table: &Reader<'_>) -> Link {
    let link = Link {
        protocol: table.any_choice("protocol"),
        baud: table.whole("baud"),
        pattern: table.pattern("pattern"),
        line_ending: table.any_choice("line_ending"),
        request: table.text("request"),
        request_every: table.time("request_every_ms"),
        unit: table.any_choice("unit"),
        angle_pattern: table.pattern("angle_pattern"),
        angle_baud: table.whole("angle_baud"),
        readings_per_s: table.whole("readings_per_s"),
        positions_per_s: table.whole("positions_per_s"),
    };
    if link.protocol.as_deref() == Some("text") {
        table.demand(
            "pattern",
            "read no `pattern` under `[link]`, expected one for a `text` indicator",
            r"add one, such as `pattern = '(?<reading>[+-]?\d+\.\d+)'`",
        );
    }
    link
}

fn write_link(out: &mut Writer, link: &Link) {
    out.heading("[link]");
    let mut text = |key: &str, value: &Option<String>| {
        if let Some(value) = value {
            out.text(key, value);
        }
    };
    text("protocol", &link.protocol);
    text("pattern", &link.pattern);
    text("line_ending", &link.line_ending);
    text("request", &link.request);
    text("unit", &link.unit);
    text("angle_pattern", &link.angle_pattern);
    out.time("request_every_ms", link.request_every);
    for (key, number) in [
        ("baud", link.baud),
        ("angle_baud", link.angle_baud),
        ("readings_per_s", link.readings_per_s),
        ("positions_per_s", link.positions_per_s),
    ] {
        if let Some(number) = number {
            out.whole(key, number);
        }
    }
}
