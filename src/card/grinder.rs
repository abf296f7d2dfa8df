//! The grinder's card: what the shop has to grind with, and what finished grinds taught of it.

use super::choices::{Cuts, RiseLaw, Setting, Surface, SwivelZero, Turns};
use super::keys;
use super::page::Page;
use super::reader::Reader;
use super::writer::Writer;
use crate::error::Result;
use crate::quantity::{Angle, Length};
use jiff::civil::Date;

/// A grinder: everything but its name is optional, and what is not said is not computed.
#[derive(Clone, Debug, PartialEq)]
pub struct GrinderCard {
    /// What people call it.
    pub name: String,
    /// Within how much the height of centre is known.
    pub centre_tolerance: Option<Length>,
    /// How fast the wheel can be turned.
    pub spindle: Spindle,
    /// The wheels that there are.
    pub wheels: Vec<Wheel>,
    /// Slides that feed in.
    pub slides: Vec<Slide>,
    /// Swivels and heads that are set to an angle.
    pub swivels: Vec<Swivel>,
    /// Relieving fixtures.
    pub fixtures: Vec<Fixture>,
    /// What their cams do.
    pub motions: Vec<MotionEntry>,
    /// What finished grinds taught, as somebody decided to keep.
    pub corrections: Vec<Correction>,
}

/// The spindle that carries the wheel.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Spindle {
    /// Turns a minute of the motor.
    pub motor_rpm: Option<f64>,
    /// Pairs of pulleys.
    pub pulleys: Vec<Pulleys>,
    /// Least turns a minute of the spindle, where a drive sets them.
    pub least_rpm: Option<f64>,
    /// Greatest turns a minute of the spindle, where a drive sets them.
    pub greatest_rpm: Option<f64>,
}

/// A pair of pulleys.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pulleys {
    /// Diameter on the motor.
    pub motor: Length,
    /// Diameter on the spindle.
    pub spindle: Length,
}

/// A grinding wheel.
#[derive(Clone, Debug, PartialEq)]
pub struct Wheel {
    /// What people call it.
    pub name: String,
    /// Which part of it grinds.
    pub cuts: Cuts,
    /// As it is dressed now.
    pub diameter: Length,
    /// When it was new: its marked speed holds for this.
    pub full_diameter: Option<Length>,
    /// Width of its rim.
    pub width: Option<Length>,
    /// Radius of the corner between rim and side.
    pub corner: Option<Length>,
    /// Greatest surface speed marked on it, in m/s.
    pub greatest_m_per_s: Option<f64>,
    /// Greatest turns a minute marked on it.
    pub greatest_rpm: Option<f64>,
}

/// A slide that feeds the wheel in.
#[derive(Clone, Debug, PartialEq)]
pub struct Slide {
    /// What people call it.
    pub name: String,
    /// Along the tool's radius or its axis.
    pub direction: Surface,
    /// The least that can be set.
    pub graduation: Length,
    /// Play between one way and the other.
    pub play: Option<Length>,
}

/// A swivel or a head.
#[derive(Clone, Debug, PartialEq)]
pub struct Swivel {
    /// What people call it.
    pub name: String,
    /// The least that can be set.
    pub graduation: Angle,
    /// Where its zero lies.
    pub zero: SwivelZero,
}

/// A relieving fixture and its throw along one direction.
#[derive(Clone, Debug, PartialEq)]
pub struct Fixture {
    /// What people call it.
    pub name: String,
    /// Along which direction the throw moves the tool.
    pub direction: Surface,
    /// The least throw.
    pub least: Length,
    /// The greatest throw.
    pub greatest: Length,
    /// The least change of throw that can be set.
    pub graduation: Length,
    /// Play of the throw's scale.
    pub play: Option<Length>,
    /// The least change of cam angle that can be set.
    pub cam_graduation: Option<Angle>,
    /// Whether the tool turns the way it cuts while it is relieved.
    pub turns: Turns,
}

/// What a cam does in a fixture along one direction.
#[derive(Clone, Debug, PartialEq)]
pub struct MotionEntry {
    /// The fixture it is for.
    pub fixture: String,
    /// What people call the cam.
    pub cam: String,
    /// Along which direction it moves the tool.
    pub direction: Surface,
    /// Throw at which it was taken, or for which the law is stated.
    pub throw: Length,
    /// The motion itself.
    pub is: MotionIs,
}

/// How a motion is known.
#[derive(Clone, Debug, PartialEq)]
pub enum MotionIs {
    /// A file of angle and motion over the turn.
    Traced(String),
    /// A law.
    Law(CamLaw),
}

/// A cam by its figures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CamLaw {
    /// How it rises.
    pub law: RiseLaw,
    /// How far it moves the tool towards the wheel.
    pub rise: Length,
    /// Arc of the tool over which it rises.
    pub rise_arc: Angle,
    /// Arc over which it stands.
    pub dwell_arc: Angle,
    /// Arc over which it goes back.
    pub return_arc: Angle,
    /// How often it does so in one turn of the tool.
    pub lobes: u32,
}

/// What finished grinds taught of a setting.
#[derive(Clone, Debug, PartialEq)]
pub struct Correction {
    /// Of which setting.
    pub of: Setting,
    /// The fixture that it belongs to, or of the zero of a swivel the swivel, where it does.
    pub fixture: Option<String>,
    /// Along which direction.
    pub direction: Option<Surface>,
    /// The factor, or degrees, or mm, as the setting has it.
    pub value: f64,
    /// Its standard uncertainty.
    pub standard_uncertainty: f64,
    /// How many records it comes from.
    pub records: u32,
    /// The day on which it was kept.
    pub on: Date,
}

impl GrinderCard {
    /// The fixture of this name that moves the tool in this direction.
    pub fn fixture(&self, name: &str, direction: Surface) -> Option<&Fixture> {
        let mut fixtures = self.fixtures.iter();
        fixtures.find(|it| it.name == name && it.direction == direction)
    }

    /// Reads a grinder's card; `file` names it in messages. Everything wrong with it is told at once.
    ///
    /// # Errors
    /// `card-syntax`, `card-key`, `card-value` and the like, with the lines drawn.
    ///
    /// ```
    /// use heelclear::card::GrinderCard;
    /// let text = "schema = 1\nname = \"grinder by the window\"\n\
    ///             [[wheel]]\nname = \"white\"\ncuts = \"rim\"\ndiameter_mm = 150.0\n";
    /// let card = GrinderCard::parse(text, "grinder.toml")?;
    /// assert_eq!(card.wheels[0].diameter.mm(), 150.0);
    /// # Ok::<(), heelclear::error::Error>(())
    /// ```
    pub fn parse(text: &str, file: &str) -> Result<Self> {
        let page = Page::new(text, file);
        let entries = page.parse()?;
        let card = Reader::top(&page, keys::GRINDER, &entries).and_then(|top| read(&top));
        page.finish(card)
    }

    /// The card as a person would write it, lengths in mm.
    pub fn to_toml(&self) -> String {
        let mut out = Writer::new();
        out.text("name", &self.name);
        out.length("centre_tolerance_mm", self.centre_tolerance);
        write_spindle(&mut out, &self.spindle);
        self.wheels
            .iter()
            .for_each(|wheel| write_wheel(&mut out, wheel));
        for slide in &self.slides {
            out.heading("[[slide]]");
            out.text("name", &slide.name);
            out.text("direction", slide.direction.as_str());
            out.length("graduation_mm", Some(slide.graduation));
            out.length("play_mm", slide.play);
        }
        for swivel in &self.swivels {
            out.heading("[[swivel]]");
            out.text("name", &swivel.name);
            out.angle("graduation_deg", Some(swivel.graduation));
            out.text("zero", swivel.zero.as_str());
        }
        self.fixtures
            .iter()
            .for_each(|fixture| write_fixture(&mut out, fixture));
        self.motions
            .iter()
            .for_each(|motion| write_motion(&mut out, motion));
        self.corrections
            .iter()
            .for_each(|correction| write_correction(&mut out, correction));
        out.finish()
    }
}

fn read(top: &Reader<'_>) -> Option<GrinderCard> {
    let name = top.text("name");
    let centre_tolerance = top.length("centre_tolerance_mm");
    let spindle = top.table("spindle").map(|table| read_spindle(&table));
    let wheels = all(top, "wheel", read_wheel);
    let slides = all(top, "slide", |table| {
        let name = table.text("name");
        let direction = table.choice("direction");
        let graduation = table.length("graduation_mm");
        Some(Slide {
            play: table.length("play_mm"),
            name: name?,
            direction: direction?,
            graduation: graduation?,
        })
    });
    let swivels = all(top, "swivel", |table| {
        let name = table.text("name");
        let graduation = table.angle("graduation_deg");
        let zero = table.choice("zero");
        Some(Swivel {
            name: name?,
            graduation: graduation?,
            zero: zero.unwrap_or(SwivelZero::Along),
        })
    });
    let fixtures = all(top, "fixture", read_fixture);
    let motions = all(top, "motion", read_motion);
    let corrections = all(top, "correction", read_correction);
    if let (Some(fixtures), Some(motions)) = (&fixtures, &motions) {
        for (table, motion) in top.tables("motion").iter().zip(motions) {
            known_fixture(table, fixtures, motion);
        }
    }
    let card = GrinderCard {
        name: name?,
        centre_tolerance,
        spindle: spindle.unwrap_or_default(),
        wheels: wheels?,
        slides: slides?,
        swivels: swivels?,
        fixtures: fixtures?,
        motions: motions?,
        corrections: corrections?,
    };
    all_told_apart(top, &card);
    Some(card)
}

/// Objects to tables of one kind that nothing tells apart: which of them counts would be chance.
fn all_told_apart(top: &Reader<'_>, card: &GrinderCard) {
    told_apart(top, "wheel", "name", &card.wheels, |one, other| {
        one.name == other.name
    });
    told_apart(top, "slide", "direction", &card.slides, |one, other| {
        one.direction == other.direction
    });
    told_apart(top, "fixture", "name", &card.fixtures, |one, other| {
        (&one.name, one.direction) == (&other.name, other.direction)
    });
    told_apart(top, "motion", "cam", &card.motions, |one, other| {
        (&one.fixture, &one.cam, one.direction) == (&other.fixture, &other.cam, other.direction)
    });
    told_apart(top, "correction", "of", &card.corrections, |one, other| {
        (one.of, &one.fixture, one.direction) == (other.of, &other.fixture, other.direction)
    });
}

/// Every table under a key; nothing where one of them cannot be read.
fn all<T>(top: &Reader<'_>, name: &str, read: impl Fn(&Reader<'_>) -> Option<T>) -> Option<Vec<T>> {
    // Read all before any is given up, so that all that is wrong is told at once.
    let each: Vec<Option<T>> = top.tables(name).iter().map(read).collect();
    each.into_iter().collect()
}

fn read_spindle(table: &Reader<'_>) -> Spindle {
    let pulleys = table.tables("pulleys");
    let pulleys = pulleys.iter().filter_map(|pair| {
        let (motor, spindle) = (pair.length("motor_mm"), pair.length("spindle_mm"));
        Some(Pulleys {
            motor: motor?,
            spindle: spindle?,
        })
    });
    let pulleys: Vec<Pulleys> = pulleys.collect();
    if !pulleys.is_empty() {
        table.demand(
            "motor_rpm",
            "read pulleys and no `motor_rpm`, expected both",
            "add the turns a minute on the motor's plate",
        );
    }
    let (least_rpm, greatest_rpm) = (table.number("least_rpm"), table.number("greatest_rpm"));
    if let (Some(least), Some(greatest)) = (least_rpm, greatest_rpm)
        && least > greatest
    {
        table.object(
            "least_rpm",
            format!("read a least speed of {least} above a greatest of {greatest}"),
            "the range goes from the slower to the faster",
        );
    }
    Spindle {
        motor_rpm: table.number("motor_rpm"),
        pulleys,
        least_rpm,
        greatest_rpm,
    }
}

fn read_wheel(table: &Reader<'_>) -> Option<Wheel> {
    let name = table.text("name");
    let cuts = table.choice("cuts");
    let diameter = table.length("diameter_mm");
    let full_diameter = table.length("full_diameter_mm");
    let corner = table.length("corner_mm");
    if let (Some(now), Some(full)) = (diameter, full_diameter)
        && now > full
    {
        table.object(
            "full_diameter_mm",
            "read a new wheel smaller than it is now",
            "`full_diameter_mm` is what it had when it was new; `diameter_mm` what it has now",
        );
    }
    if cuts == Some(Cuts::Corner) {
        table.demand(
            "corner_mm",
            "read a wheel that grinds with its corner and no `corner_mm`",
            "add the radius that the corner is dressed to",
        );
    }
    Some(Wheel {
        width: table.length("width_mm"),
        greatest_m_per_s: table.number("greatest_m_per_s"),
        greatest_rpm: table.number("greatest_rpm"),
        name: name?,
        cuts: cuts?,
        diameter: diameter?,
        full_diameter,
        corner,
    })
}

fn read_fixture(table: &Reader<'_>) -> Option<Fixture> {
    let name = table.text("name");
    let direction = table.choice("direction");
    let least = table.length("least_throw_mm");
    let greatest = table.length("greatest_throw_mm");
    let graduation = table.length("graduation_mm");
    let turns = table.choice("turns");
    if let (Some(least), Some(greatest)) = (least, greatest)
        && least >= greatest
    {
        table.object(
            "least_throw_mm",
            "read a least throw that is not below the greatest",
            "the throw opens from `least_throw_mm` to `greatest_throw_mm`",
        );
    }
    Some(Fixture {
        play: table.length("play_mm"),
        cam_graduation: table.angle("cam_graduation_deg"),
        name: name?,
        direction: direction?,
        least: least.unwrap_or(Length::ZERO),
        greatest: greatest?,
        graduation: graduation?,
        turns: turns.unwrap_or(Turns::Cutting),
    })
}

fn read_motion(table: &Reader<'_>) -> Option<MotionEntry> {
    let fixture = table.text("fixture");
    let cam = table.text("cam");
    let direction = table.choice("direction");
    let throw = table.length("throw_mm");
    let help = "name the `file` of a traced motion, or a `law` with `rise_mm` and `rise_deg`";
    let is = match (table.has("file"), table.has("law")) {
        (true, true) => {
            table.object("law", "read a law beside the file of a trace", help);
            None
        }
        (true, false) => table.file("file", &[]).map(MotionIs::Traced),
        (false, true) => read_law(table).map(MotionIs::Law),
        (false, false) => {
            table.demand("file", "read no `file` and no `law` of a motion", help);
            None
        }
    };
    Some(MotionEntry {
        fixture: fixture?,
        cam: cam?,
        direction: direction?,
        throw: throw?,
        is: is?,
    })
}

fn read_law(table: &Reader<'_>) -> Option<CamLaw> {
    let law = table.choice("law");
    let lobes = table.whole("lobes").unwrap_or(1);
    for name in ["rise_mm", "rise_deg"] {
        table.demand(
            name,
            format!("read a law and no `{name}`"),
            "say how far the cam moves the tool and over which arc of it",
        );
    }
    let (rise, rise_arc) = (table.length("rise_mm"), table.angle("rise_deg"));
    let dwell_arc = table.angle("dwell_deg").unwrap_or(Angle::ZERO);
    let return_arc = table.angle("return_deg").unwrap_or(Angle::ZERO);
    let period = Angle::TURN / f64::from(lobes.max(1));
    let rise_arc = rise_arc?;
    let all = rise_arc + dwell_arc + return_arc;
    if all > period * (1.0 + 1e-9) {
        table.object(
            "rise_deg",
            format!(
                "read arcs of {:.2}° together, expected at most {:.2}°, one of {lobes} lobes a turn",
                all.deg(),
                period.deg()
            ),
            "rise, dwell and return of one lobe follow each other within its share of the turn",
        );
        return None;
    }
    Some(CamLaw {
        law: law?,
        rise: rise?,
        rise_arc,
        dwell_arc,
        return_arc,
        lobes,
    })
}

/// Objects to a motion of a fixture that the card does not have.
fn known_fixture(table: &Reader<'_>, fixtures: &[Fixture], motion: &MotionEntry) {
    let known = fixtures
        .iter()
        .any(|it| it.name == motion.fixture && it.direction == motion.direction);
    if !known {
        table.object(
            "fixture",
            format!(
                "read a {} motion of `{}`, expected a `[[fixture]]` of that name and direction",
                motion.direction.as_str(),
                motion.fixture
            ),
            "each direction that a fixture moves the tool in is a `[[fixture]]` of its own with the same name",
        );
    }
}

fn read_correction(table: &Reader<'_>) -> Option<Correction> {
    let of = table.choice("of");
    let value = table.number("value");
    let standard_uncertainty = table.number("standard_uncertainty");
    let records = table.whole("records");
    let on = table.day("on");
    if let (Some(of), Some(value), Some(u)) = (of, value, standard_uncertainty) {
        believable(table, of, value, u);
    }
    Some(Correction {
        fixture: table.text("fixture"),
        direction: table.choice("direction"),
        of: of?,
        value: value?,
        standard_uncertainty: standard_uncertainty?,
        records: records?,
        on: on?,
    })
}

/// Objects to a correction that no machine is off by.
fn believable(table: &Reader<'_>, of: Setting, value: f64, u: f64) {
    // What a scale or a feed is off by at the very most (common practice, no source).
    let (least, most, most_u) = match of {
        Setting::ThrowGain => (0.7, 1.4, 0.2),
        Setting::CamAngle | Setting::SwivelZero => (-15.0, 15.0, 5.0),
        Setting::Feed => (0.4, 2.0, 0.5),
        Setting::WheelWear => (0.0, 2.0, 1.0),
    };
    if !(least..=most).contains(&value) {
        table.object(
            "value",
            format!(
                "read a correction of {} of {value}, expected {least} to {most}",
                of.as_str()
            ),
            "what is off by more is mended at the machine, not on its card; `setting learn --forget` takes corrections off",
        );
    }
    if !(u > 0.0 && u <= most_u) {
        table.object(
            "standard_uncertainty",
            format!("read an uncertainty of {u}, expected more than 0 and at most {most_u}"),
            "it is that which `setting learn` told",
        );
    }
}

/// Objects to the second of two tables that nothing tells apart.
fn told_apart<T>(
    top: &Reader<'_>,
    name: &str,
    key: &str,
    all: &[T],
    alike: impl Fn(&T, &T) -> bool,
) {
    for (at, table) in top.tables(name).iter().enumerate() {
        let (Some(this), before) = (all.get(at), all.get(..at).unwrap_or_default()) else {
            continue;
        };
        if before.iter().any(|other| alike(other, this)) {
            table.object(
                key,
                format!("read a second `[[{name}]]` that is told apart from the first by nothing"),
                "give it another name, or take one of them away",
            );
        }
    }
}

fn write_spindle(out: &mut Writer, spindle: &Spindle) {
    let Spindle {
        motor_rpm,
        pulleys,
        least_rpm,
        greatest_rpm,
    } = spindle;
    if *spindle == Spindle::default() {
        return;
    }
    out.heading("[spindle]");
    for (key, value) in [
        ("motor_rpm", motor_rpm),
        ("least_rpm", least_rpm),
        ("greatest_rpm", greatest_rpm),
    ] {
        if let Some(value) = value {
            out.number(key, *value);
        }
    }
    for pair in pulleys {
        out.heading("[[spindle.pulleys]]");
        out.length("motor_mm", Some(pair.motor));
        out.length("spindle_mm", Some(pair.spindle));
    }
}

fn write_wheel(out: &mut Writer, wheel: &Wheel) {
    out.heading("[[wheel]]");
    out.text("name", &wheel.name);
    out.text("cuts", wheel.cuts.as_str());
    out.length("diameter_mm", Some(wheel.diameter));
    out.length("full_diameter_mm", wheel.full_diameter);
    out.length("width_mm", wheel.width);
    out.length("corner_mm", wheel.corner);
    if let Some(speed) = wheel.greatest_m_per_s {
        out.number("greatest_m_per_s", speed);
    }
    if let Some(speed) = wheel.greatest_rpm {
        out.number("greatest_rpm", speed);
    }
}

fn write_fixture(out: &mut Writer, fixture: &Fixture) {
    out.heading("[[fixture]]");
    out.text("name", &fixture.name);
    out.text("direction", fixture.direction.as_str());
    out.length("least_throw_mm", Some(fixture.least));
    out.length("greatest_throw_mm", Some(fixture.greatest));
    out.length("graduation_mm", Some(fixture.graduation));
    out.length("play_mm", fixture.play);
    out.angle("cam_graduation_deg", fixture.cam_graduation);
    out.text("turns", fixture.turns.as_str());
}

fn write_motion(out: &mut Writer, motion: &MotionEntry) {
    out.heading("[[motion]]");
    out.text("fixture", &motion.fixture);
    out.text("cam", &motion.cam);
    out.text("direction", motion.direction.as_str());
    out.length("throw_mm", Some(motion.throw));
    match &motion.is {
        MotionIs::Traced(file) => out.text("file", file),
        MotionIs::Law(law) => {
            out.text("law", law.law.as_str());
            out.length("rise_mm", Some(law.rise));
            out.angle("rise_deg", Some(law.rise_arc));
            out.angle("dwell_deg", Some(law.dwell_arc));
            out.angle("return_deg", Some(law.return_arc));
            out.whole("lobes", law.lobes);
        }
    }
}

fn write_correction(out: &mut Writer, correction: &Correction) {
    out.heading("[[correction]]");
    out.text("of", correction.of.as_str());
    if let Some(fixture) = &correction.fixture {
        out.text("fixture", fixture);
    }
    if let Some(direction) = correction.direction {
        out.text("direction", direction.as_str());
    }
    out.number("value", correction.value);
    out.number("standard_uncertainty", correction.standard_uncertainty);
    out.whole("records", correction.records);
    out.plain("on", correction.on);
}
