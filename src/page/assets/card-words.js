// The words of the forms: titles, what is usual, and what the words of a card mean.

/** What each table of a card is called. */
export const TITLES = {
  "": { tool: "The tool", gauge: "The gauge", grinder: "The grinder", shop: "Who issues certificates" },
  "[decision]": "How it is decided",
  "[[feature]]": "Feature",
  "[feature.limits]": "Limits: leave empty where anything is allowed. The heel must clear in any case",
  "[indicator]": "Indicator",
  "[stylus]": "Stylus",
  "[encoder]": "Encoder",
  "[setup]": "How probe and tool stand",
  "[identity]": "Which indicator it is, and its certificate",
  "[link]": "How the instruments are spoken to",
  "[spindle]": "Spindle: motor, pulleys, speeds",
  "[[spindle.pulleys]]": "Pair of pulleys",
  "[[wheel]]": "Wheel",
  "[[slide]]": "Slide that feeds in",
  "[[swivel]]": "Swivel or head",
  "[[fixture]]": "Relieving fixture, one direction",
  "[[motion]]": "Cam in this fixture",
};
/** What a study, a proof or finished grinds write is not typed, and is kept as it is. */
export const LEFT_OUT = new Set(["schema", "study", "sense_proven", "correction"]);
/** Words of older cards: shown where a card has them. */
export const OLDER = new Set(["positive"]);
/** Asked of everybody, though a card can be read without. */
export const ASKED = new Set([
  "serial", "certificate", "due", "address", "authorised_by",
  "grows", "lean_mm", "lean_over_mm",
  "centre_tolerance_mm", "motor_rpm", "least_rpm", "greatest_rpm", "full_diameter_mm", "corner_mm", "greatest_m_per_s", "zero", "turns",
  "law", "rise_mm", "rise_deg", "dwell_deg", "return_deg", "lobes", "file",
]);
/** What a newcomer can take as it is. */
export const USUAL = {
  tool: { hand: "right", feature: [{ surface: "radial", curve: "auto", check_distance_mm: 0.5 }] },
  gauge: {
    indicator: { resolution_mm: 0.001, max_error_mm: 0.003, hysteresis_mm: 0.001, lever_angle_deg: 0 },
    stylus: { shape: "ball", radius_mm: 1 },
    encoder: { counts_per_rev: 4000 },
    setup: { probe_offset_mm: 0, probe_offset_tolerance_mm: 0.05 },
    link: { protocol: "bridge", baud: 115200 },
  },
  grinder: { wheel: [{ cuts: "rim" }] },
  shop: {},
};
/** What another of a kind begins with. */
export const ANOTHER = {
  feature: { surface: "radial", curve: "auto", check_distance_mm: 0.5 },
  wheel: { cuts: "rim" },
  slide: { direction: "radial" },
  swivel: {},
  fixture: { direction: "radial" },
  motion: {},
  pulleys: {},
};
/** What one of a kind is called on buttons. */
export const KINDS = { pulleys: "pair of pulleys", motion: "cam" };

/** What a word of a card means, for who chooses it. */
export const SAID = {
  right: "right: clockwise",
  left: "left: anticlockwise",
  radial: "radial: touched from the side",
  axial: "axial: touched on its end",
  cutting: "cutting: as the tool cuts",
  backing: "backing: the other way",
  auto: "auto: found from the trace",
};

/** The same where a word means another thing under another key. */
export const SAID_OF = {
  direction: { radial: "radial: towards its axis", axial: "axial: along its axis" },
  cuts: { rim: "rim: of a straight wheel", corner: "corner: between rim and side", side: "side: flat, or the face of a cup" },
  zero: { along: "along the tool's axis", across: "across it: a face of 30° is set at 60°" },
  turns: { cutting: "cutting: edge first, as it cuts", backing: "backing: heel first" },
  law: {
    constant: "constant: the same for each degree",
    harmonic: "harmonic: as half a cosine",
    cycloidal: "cycloidal: without a step of its acceleration",
    parabolic: "parabolic: constant acceleration up to the middle",
  },
};

/** What a form adds to the meaning of a key; one that stands in several tables is named with its table. */
export const ADDED = {
  hand: ", seen from the shank",
  "feature.name": ", such as “seat”",
  "wheel.name": ", such as “white 150”",
  "slide.name": ", such as “cross slide”",
  "fixture.name": ", such as “relieving head”",
  "motion.cam": ", such as “four lobes”",
  full_diameter_mm: ": the speed marked on it holds for this",
  greatest_m_per_s: ": copy it from the wheel itself",
  "wheel.greatest_rpm": ": copy it from the wheel itself",
  motor_rpm: ", as on its plate",
  corner_mm: ". Needed where it grinds with its corner",
  law: ". Leave it empty for a traced motion",
  rise_mm: ". Needed unless it was traced",
  rise_deg: ". Needed unless it was traced",
  file: ": its name beside the card. Either this or how it rises",
  "fixture.turns": ". Edge first when empty",
  zero: ". Along it when empty",
  certificate: ". Reports and certificates name it",
  due: ", such as 2027-03-01. Traces taken later carry a warning",
  grows: ". Not watched yet? Take clockwise: it is seen at the bench before the first trace",
  lean_mm: ", as a test bar has proven it. Where none has, leave it empty: a tool then needs two references",
};

/** What a key is called where its name says too little. */
export const CALLED = {
  grows: "Its angle grows",
  cuts: "Grinds with",
  centre_tolerance_mm: "Height of centre known within",
  motor_mm: "Pulley on the motor",
  spindle_mm: "Pulley on the spindle",
  motor_rpm: "Motor",
  least_rpm: "Least speed",
  greatest_rpm: "Greatest speed",
  greatest_m_per_s: "Greatest surface speed",
  corner_mm: "Radius of the corner",
  cam: "Name of the cam",
  turns: "Turns the tool",
  throw_mm: "At a throw of",
  law: "How it rises",
  rise_mm: "Rise",
  rise_deg: "Rises over",
  dwell_deg: "Stands over",
  return_deg: "Goes back over",
  file: "File of a traced motion",
  zero: "Its zero lies",
};
/** What a correction is of, in words. */
export const TAUGHT = { "throw-gain": "throw made over throw set", "cam-angle": "cam ahead of its scale, °", "swivel-zero": "zero of the swivel, °", feed: "stock off over stock fed", "wheel-wear": "wheel lost in a grind, mm" };
