//! Every key of every card, declared once: the reader, its messages and the manual's test use it.

use super::choices::{
    CurveChoice, Cuts, Hand, Positive, RiseLaw, RoleWord, Rotation, Setting, SharpenedOn, Stage,
    StylusShape, Surface, SwivelZero, Turns, Words,
};
use super::key::Kind::{
    Angle, AngleLimit, Angles, Choice, Day, File, Length, LengthLimit, Moment, Number, Pattern,
    Switch, Table, Tables, Text, Time, Whole,
};
use super::{Key, Kind, Range, Section};

/// The number of teeth.
pub const FLUTES: Range = Range::from_to(1.0, 24.0, "");
/// A diameter; nothing that is ground by hand on a bench reaches two metres.
pub const DIAMETER: Range = Range::between(0.0, 2000.0, "mm");
/// The probability of conformity; below one half a guard band would reach outwards.
pub const CONFIDENCE: Range = Range::from_to(0.5, 0.9999, "");

/// A temperature at a bench.
pub const TEMPERATURE: Range = Range::from_to(-20.0, 60.0, "°C");

/// The gain of an indicator that a card may keep.
pub const GAIN: Range = Range::from_to(0.9, 1.1, "");

const SCHEMA: Key = Key::need(
    "schema",
    "version of the card's form",
    Whole(Range::from_to(1.0, 1.0, "")),
);
const ROTATION: Kind = Choice(Rotation::WORDS);
const BAUD: Range = Range::from_to(300.0, 4_000_000.0, "bit/s");
const RATE: Range = Range::from_to(1.0, 100_000.0, "1/s");
const SMALL: Range = Range::from_to(0.0, 10.0, "mm");
/// A length along a tool or a test bar.
const LEAN_OVER: Range = Range::from_to(1.0, 1000.0, "mm");
const DEPTH: Range = Range::from_to(0.0, 100.0, "mm");

/// The tool card, table by table.
#[rustfmt::skip]
pub const TOOL: &[Section] = &[
    Section { heading: "", keys: &[
        SCHEMA,
        Key::need("id", "the shop's own number for the tool", Text),
        Key::need("name", "what people call the tool", Text),
        Key::need("hand", "which way it cuts", Choice(Hand::WORDS)),
        Key::need("flutes", "number of teeth", Whole(FLUTES)),
        Key::may(
            "spacing_deg",
            "angle from each edge to the next, where they are not meant to be equal",
            Angles(Range::between(0.0, 360.0, "deg")),
        ),
        Key::may("decision", "how a verdict is reached", Table),
        Key::need("feature", "a surface whose lands are judged", Tables),
    ] },
    Section { heading: "[decision]", keys: &[
        Key::may("confidence", "probability of conformity that a pass or a fail needs", Number(CONFIDENCE)),
    ] },
    Section { heading: "[[feature]]", keys: &[
        Key::need("name", "what traces call the feature", Text),
        Key::need("surface", "whether the indicator touches along a radius or along the axis", DIRECTION),
        Key::need("diameter_mm", "diameter of the edge circle", Length(DIAMETER)),
        Key::may("least_diameter_mm", "smallest diameter that regrinding may bring it to", Length(DIAMETER)),
        Key::need(
            "check_distance_mm",
            "arc length behind the edge at which the drop is read",
            Length(Range::between(0.0, 1000.0, "mm")),
        ),
        Key::may("land_deg", "arc to judge behind each edge", Angle(Range::between(0.0, 360.0, "deg"))),
        Key::may(
            "least_land_deg",
            "shortest arc of its lands that regrinding may leave",
            Angle(Range::between(0.0, 360.0, "deg")),
        ),
        Key::may(
            "sharpened_on",
            "whether a regrind is ground on the land, or on the face as form-relieved tools are",
            Choice(SharpenedOn::WORDS),
        ),
        Key::may("feed_mm_per_rev", "feed a turn of an axial surface", Length(DEPTH)),
        Key::may(
            "face_deg",
            "angle of an axial surface to the tool's axis: 90 is square, less stands back at the rim, more stands forward there",
            Angle(Range::from_to(20.0, 160.0, "deg")),
        ),
        Key::may("curve", "family of curves that describes the land", Choice(CurveChoice::WORDS)),
        Key::may("limits", "what is allowed", Table),
    ] },
    Section { heading: "[feature.limits]", keys: &[
        Key::may(
            "relief_angle_deg",
            "angle between the land and the direction of motion at the edge",
            AngleLimit(Range::from_to(-45.0, 89.0, "deg")),
        ),
        Key::may("drop_mm", "fall of the land at the check distance", LengthLimit(Range::from_to(-10.0, 100.0, "mm"))),
        Key::may("total_relief_mm", "greatest fall on the land", LengthLimit(DEPTH)),
        // A bound below zero would allow the very drag that the rule forbids.
        Key::may("heel_clearance_mm", "least height of the edge above what follows it", LengthLimit(DEPTH)),
        Key::may("edge_spread_mm", "highest edge minus lowest edge", LengthLimit(DEPTH)),
        Key::may(
            "flute_spacing_deg",
            "greatest deviation of the edges from equal spacing",
            AngleLimit(Range::from_to(0.0, 180.0, "deg")),
        ),
        Key::may("wear_land_mm", "width behind the edge without relief", LengthLimit(DEPTH)),
        Key::may("primary_width_mm", "width of the first of two facets", LengthLimit(DEPTH)),
        Key::may(
            "secondary_angle_deg",
            "relief angle of the second of two facets",
            AngleLimit(Range::from_to(-90.0, 90.0, "deg")),
        ),
        Key::may("edge_radius_mm", "radius of the rounding of an edge", LengthLimit(DEPTH)),
        Key::may(
            "back_taper_deg",
            "angle by which the feature gets smaller towards the shank",
            AngleLimit(Range::from_to(-45.0, 45.0, "deg")),
        ),
        Key::may("face_angle_deg", "angle between a surface and the axis", AngleLimit(Range::from_to(-90.0, 90.0, "deg"))),
    ] },
];

/// The gauge card, table by table.
#[rustfmt::skip]
pub const GAUGE: &[Section] = &[
    Section { heading: "", keys: &[
        SCHEMA,
        Key::need("indicator", "the indicator", Table),
        Key::need("stylus", "what touches the tool", Table),
        Key::need("encoder", "the rotary encoder", Table),
        Key::need("setup", "how probe and tool stand to each other", Table),
        Key::may("link", "how to talk to the instruments", Table),
        Key::may("identity", "which indicator it is, and its certificate", Table),
        Key::may("study", "what studies of the gauge found", Table),
    ] },
    Section { heading: "[indicator]", keys: &[
        Key::need("resolution_mm", "least count of the indicator", Length(Range::between(0.0, 1.0, "mm"))),
        Key::may("travel_mm", "range of the plunger", Length(Range::between(0.0, 1000.0, "mm"))),
        Key::may(
            "count_mm",
            "what one count of the bridge is worth; the least count when absent",
            Length(Range::between(0.0, 1.0, "mm")),
        ),
        Key::need("max_error_mm", "limit of error over the travel used", Length(Range::from_to(0.0, 1.0, "mm"))),
        Key::need("hysteresis_mm", "difference between readings going in and coming out", Length(Range::from_to(0.0, 1.0, "mm"))),
        Key::need(
            "lever_angle_deg",
            "angle of a lever to the surface's normal, 0 for a plunger",
            Angle(Range::from_to(-75.0, 75.0, "deg")),
        ),
    ] },
    Section { heading: "[identity]", keys: &[
        Key::may("serial", "the number on the indicator", Text),
        Key::may("certificate", "the number of its certificate", Text),
        Key::may("due", "when it is to be calibrated again", Day),
    ] },
    Section { heading: "[stylus]", keys: &[
        Key::need("shape", "the shape of its end", Choice(StylusShape::WORDS)),
        Key::may("radius_mm", "radius of the ball, or half the width of the flat", Length(Range::from_to(0.0, 50.0, "mm"))),
    ] },
    Section { heading: "[encoder]", keys: &[
        Key::need(
            "counts_per_rev",
            "counts in one turn, after the edges are counted",
            Whole(Range::from_to(4.0, 100_000_000.0, "")),
        ),
        Key::may("grows", "the turning direction in which its angle grows, seen from the driven end", ROTATION),
        Key::may("sense_proven", "that this was seen", Table),
        Key::may("positive", "the same relative to the tool's hand, as older cards have it", Choice(Positive::WORDS)),
    ] },
    Section { heading: "[encoder.sense_proven]", keys: &[
        Key::need("grows", "the turning direction in which the angle was seen to grow", ROTATION),
        Key::need("on", "the day on which it was seen", Day),
    ] },
    Section { heading: "[setup]", keys: &[
        Key::need("probe_offset_mm", "how far the probe's line passes from the axis", Length(Range::from_to(-50.0, 50.0, "mm"))),
        Key::need("probe_offset_tolerance_mm", "what the probe offset may be off by", Length(SMALL)),
        Key::may("runout_mm", "bound on the eccentricity left without a reference trace", Length(SMALL)),
        Key::may("lean_mm", "bound on how much the eccentricity grows over `lean_over_mm` along the tool", Length(SMALL)),
        Key::may("lean_over_mm", "length over which `lean_mm` is stated", Length(LEAN_OVER)),
        Key::may("swash_mm", "bound on how far a square face rises and falls over the turn, half its swing", Length(SMALL)),
        Key::may(
            "delay_ms",
            "how much later than the encoder the indicator is read",
            Time(Range::from_to(-10_000.0, 10_000.0, "ms")),
        ),
    ] },
    Section { heading: "[link]", keys: &[
        Key::may("protocol", "what the indicator speaks", Choice(&["bridge", "text"])),
        Key::may("baud", "speed of the indicator's port", Whole(BAUD)),
        Key::may(
            "pattern",
            "what a line of a text indicator looks like",
            Pattern(&["reading"], &["angle", "count", "time", "unit"]),
        ),
        Key::may("line_ending", "what ends a line", Choice(&["lf", "cr", "crlf"])),
        Key::may("request", "what to send to ask for a reading", Text),
        Key::may("request_every_ms", "how often to ask", Time(Range::from_to(1.0, 60_000.0, "ms"))),
        Key::may("unit", "unit of a reading when the pattern has no group `unit`", Choice(&["mm", "in", "um"])),
        Key::may(
            "angle_pattern",
            "what a line of a second instrument, which gives the angle, looks like",
            Pattern(&["angle", "count"], &["time"]),
        ),
        Key::may("angle_baud", "speed of the second instrument's port", Whole(BAUD)),
        Key::may("readings_per_s", "readings a second that the bench was set up to give", Whole(RATE)),
        Key::may("positions_per_s", "positions a second that the bench was set up to give", Whole(RATE)),
    ] },
    Section { heading: "[study]", keys: &[
        Key::may("valid_days", "how long a study is trusted", Whole(Range::from_to(1.0, 3650.0, ""))),
        Key::may("rest", "drift at rest", Table),
        Key::may("repeat", "repeatability between passes", Table),
        Key::may("reversal", "hysteresis from both ways", Table),
        Key::may("round", "error about a master round", Table),
        Key::may("lean", "lean of a test bar in the holder", Table),
        Key::may("step", "scale of the indicator on known steps", Table),
        Key::may("crossed", "spread over operators and trials", Table),
    ] },
    Section { heading: "[study.rest]", keys: &[
        STUDIED,
        Key::need("drift_mm", "the most that the indicator may have drifted, up or down", Length(Range::from_to(0.0, 1.0, "mm"))),
        Key::need("lasted_ms", "how long it was watched", Time(Range::from_to(1.0, 86_400_000.0, "ms"))),
    ] },
    Section { heading: "[study.repeat]", keys: &[
        STUDIED,
        Key::need(
            "repeatability_mm",
            "standard deviation between passes of what one place reads",
            Length(Range::from_to(0.0, 1.0, "mm")),
        ),
    ] },
    Section { heading: "[study.reversal]", keys: &[
        STUDIED,
        Key::need(
            "hysteresis_mm",
            "difference between readings turning one way and the other",
            Length(Range::from_to(0.0, 1.0, "mm")),
        ),
    ] },
    Section { heading: "[study.round]", keys: &[
        STUDIED,
        Key::need("error_mm", "half-width of the error about a master round", Length(Range::from_to(0.0, 1.0, "mm"))),
    ] },
    Section { heading: "[study.lean]", keys: &[
        STUDIED,
        Key::need("lean_mm", "bound on how much the eccentricity grows over `lean_over_mm` along the tool", Length(SMALL)),
        Key::may("lean_over_mm", "length over which `lean_mm` is stated", Length(LEAN_OVER)),
    ] },
    Section { heading: "[study.step]", keys: &[
        STUDIED,
        // What is farther off is no error of an indicator: a unit, a count or an angle is wrong.
        Key::need("gain", "what a millimetre reads, in mm", Number(GAIN)),
        Key::need(
            "gain_uncertainty",
            "standard uncertainty of the gain, the indicator's own error left out",
            Number(Range::from_to(0.0, 0.1, "")),
        ),
        Key::need("over_mm", "from the lowest to the highest of the known heights", Length(Range::between(0.0, 100.0, "mm"))),
    ] },
    Section { heading: "[study.crossed]", keys: &[
        STUDIED,
        spread("heel_clearance_mm", Length(SMALL)),
        spread("relief_angle_deg", Angle(Range::from_to(0.0, 45.0, "deg"))),
        spread("drop_mm", Length(SMALL)),
        spread("total_relief_mm", Length(SMALL)),
        spread("wear_land_mm", Length(SMALL)),
        spread("edge_spread_mm", Length(SMALL)),
        spread("flute_spacing_deg", Angle(Range::from_to(0.0, 45.0, "deg"))),
    ] },
];

/// When a study was made.
const STUDIED: Key = Key::need("taken", "when the study was made", Moment);
/// A standard deviation of a characteristic over operators and trials.
const fn spread(name: &'static str, kind: super::Kind) -> Key {
    Key::may(name, "standard deviation over operators and trials", kind)
}

/// The shop's card.
pub const SHOP: &[Section] = &[Section {
    heading: "",
    keys: &[
        SCHEMA,
        Key::need("name", "the shop's name", Text),
        Key::may("address", "where it is, in one line", Text),
        Key::may("authorised_by", "who authorises what it issues", Text),
    ],
}];

/// The inspection card, table by table.
#[rustfmt::skip]
pub const INSPECTION: &[Section] = &[
    Section { heading: "", keys: &[
        SCHEMA,
        Key::need("tool", "the tool card", File),
        Key::need("gauge", "the gauge card", File),
        Key::need("taken", "when the traces were taken", Moment),
        Key::may("operator", "who took them", Text),
        Key::may("customer", "whose tool it is", Text),
        Key::may("temperature_c", "temperature at the bench", Number(TEMPERATURE)),
        Key::may("grinder", "the card of the grinder", File),
        Key::may("setup", "the set-up that it was ground from", File),
        Key::need("stage", "before or after the grind", Choice(Stage::WORDS)),
        Key::may("interrupted", "whether the capture was cut short", Switch),
        Key::may("trace", "one run of the indicator over the tool", Tables),
    ] },
    Section { heading: "[[trace]]", keys: &[
        Key::may("file", "samples of angle and reading on one clock", File),
        Key::may("angle_file", "samples of the angle on its own clock", File),
        Key::may("reading_file", "samples of the reading on its own clock", File),
        Key::need("role", "what the trace is for", Choice(RoleWord::WORDS)),
        Key::may("feature", "the feature of the tool card that it shows", Text),
        Key::may("z_mm", "distance from the tool's front", Length(Range::from_to(-2000.0, 2000.0, "mm"))),
        Key::may("diameter_mm", "diameter of the round under a reference trace", Length(DIAMETER)),
        Key::may("direction", "along which direction a motion was taken", DIRECTION),
        Key::may(
            "throw_mm",
            "throw of the fixture while a motion or a residual was taken",
            Length(Range::between(0.0, 100.0, "mm")),
        ),
        Key::may("rezeroed", "whether the indicator was set anew before it", Switch),
        Key::may(
            "count_shift",
            "encoder counts added to those of the raw log",
            Whole(Range::from_to(-100_000_000.0, 100_000_000.0, "")),
        ),
    ] },
];

const DIRECTION: Kind = Choice(Surface::WORDS);
const RPM: Range = Range::between(0.0, 200_000.0, "1/min");
const STEP: Range = Range::between(0.0, 10.0, "mm");

/// The grinder's card, table by table.
#[rustfmt::skip]
pub const GRINDER: &[Section] = &[
    Section { heading: "", keys: &[
        SCHEMA,
        Key::need("name", "what people call the grinder", Text),
        Key::may("centre_tolerance_mm", "within how much the height of centre is known", Length(SMALL)),
        Key::may("spindle", "the spindle that carries the wheel", Table),
        Key::may("wheel", "a wheel", Tables),
        Key::may("slide", "a slide that feeds in", Tables),
        Key::may("swivel", "a swivel or a head that is set to an angle", Tables),
        Key::may("fixture", "a relieving fixture along one direction", Tables),
        Key::may("motion", "what a cam does in a fixture", Tables),
        Key::may("correction", "what finished grinds taught", Tables),
    ] },
    Section { heading: "[spindle]", keys: &[
        Key::may("motor_rpm", "turns a minute of the motor", Number(RPM)),
        Key::may("least_rpm", "least turns a minute, where a drive sets them", Number(RPM)),
        Key::may("greatest_rpm", "greatest turns a minute, where a drive sets them", Number(RPM)),
        Key::may("pulleys", "a pair of pulleys", Tables),
    ] },
    Section { heading: "[[spindle.pulleys]]", keys: &[
        Key::need("motor_mm", "diameter on the motor", Length(DIAMETER)),
        Key::need("spindle_mm", "diameter on the spindle", Length(DIAMETER)),
    ] },
    Section { heading: "[[wheel]]", keys: &[
        Key::need("name", "what people call the wheel", Text),
        Key::need("cuts", "which part of it grinds", Choice(Cuts::WORDS)),
        Key::need("diameter_mm", "its diameter as it is dressed now", Length(DIAMETER)),
        Key::may("full_diameter_mm", "its diameter when it was new", Length(DIAMETER)),
        Key::may("width_mm", "width of its rim", Length(DIAMETER)),
        Key::may("corner_mm", "radius of the corner between rim and side", Length(Range::between(0.0, 100.0, "mm"))),
        Key::may("greatest_m_per_s", "greatest surface speed marked on it", Number(Range::between(0.0, 500.0, "m/s"))),
        Key::may("greatest_rpm", "greatest turns a minute marked on it", Number(RPM)),
    ] },
    Section { heading: "[[slide]]", keys: &[
        Key::need("name", "what people call the slide", Text),
        Key::need("direction", "along the tool's radius or its axis", DIRECTION),
        Key::need("graduation_mm", "the least that can be set", Length(STEP)),
        Key::may("play_mm", "play between one way and the other", Length(SMALL)),
    ] },
    Section { heading: "[[swivel]]", keys: &[
        Key::need("name", "what people call the swivel", Text),
        Key::need("graduation_deg", "the least that can be set", Angle(Range::between(0.0, 90.0, "deg"))),
        Key::may("zero", "whether its zero lies along the tool's axis or across it", Choice(SwivelZero::WORDS)),
    ] },
    Section { heading: "[[fixture]]", keys: &[
        Key::need("name", "what people call the fixture", Text),
        Key::need("direction", "along which direction its throw moves the tool", DIRECTION),
        Key::may("least_throw_mm", "the least throw", Length(SMALL)),
        Key::need("greatest_throw_mm", "the greatest throw", Length(Range::between(0.0, 100.0, "mm"))),
        Key::need("graduation_mm", "the least change of throw that can be set", Length(STEP)),
        Key::may("play_mm", "play of the throw's scale", Length(SMALL)),
        Key::may("cam_graduation_deg", "the least change of cam angle that can be set", Angle(Range::between(0.0, 90.0, "deg"))),
        Key::may("turns", "which way the tool is turned while it is relieved", Choice(Turns::WORDS)),
    ] },
    Section { heading: "[[motion]]", keys: &[
        Key::need("fixture", "the fixture that it is for", Text),
        Key::need("cam", "what people call the cam", Text),
        Key::need("direction", "along which direction it moves", DIRECTION),
        Key::need("throw_mm", "throw at which the motion is so", Length(Range::between(0.0, 100.0, "mm"))),
        Key::may("file", "a traced motion over the turn", File),
        Key::may("law", "how the cam rises", Choice(RiseLaw::WORDS)),
        Key::may("rise_mm", "how far it moves the tool towards the wheel", Length(Range::between(0.0, 100.0, "mm"))),
        Key::may("rise_deg", "arc of the tool over which it rises", Angle(Range::between(0.0, 360.0, "deg"))),
        Key::may("dwell_deg", "arc over which it stands", Angle(Range::from_to(0.0, 360.0, "deg"))),
        Key::may("return_deg", "arc over which it goes back", Angle(Range::from_to(0.0, 360.0, "deg"))),
        Key::may("lobes", "how often it does so in one turn of the tool", Whole(FLUTES)),
    ] },
    Section { heading: "[[correction]]", keys: &[
        Key::need("of", "of which setting", Choice(Setting::WORDS)),
        Key::may("fixture", "the fixture or the swivel that it belongs to", Text),
        Key::may("direction", "along which direction", DIRECTION),
        Key::need(
            "value",
            "a factor for `throw-gain` and `feed`, degrees for `cam-angle` and `swivel-zero`, mm for `wheel-wear`",
            Number(Range::from_to(-360.0, 360.0, "")),
        ),
        Key::need("standard_uncertainty", "its standard uncertainty, in the same unit", Number(Range::between(0.0, 360.0, ""))),
        Key::need("records", "how many records it comes from", Whole(Range::from_to(1.0, 1_000_000.0, ""))),
        Key::need("on", "the day on which it was kept", Day),
    ] },
];

/// Every card with the name of its file in the examples.
pub const CARDS: &[(&str, &[Section])] = &[
    ("inspection.toml", INSPECTION),
    ("tool.toml", TOOL),
    ("gauge.toml", GAUGE),
    ("shop.toml", SHOP),
    ("grinder.toml", GRINDER),
];
