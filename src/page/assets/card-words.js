// The words of the forms: titles, what is usual, and what the words of a card mean.

/** What each table of a card is called. */
export const TITLES = {
  "": { tool: "The tool", gauge: "The gauge" },
  "[decision]": "How it is decided",
  "[[feature]]": "Feature",
  "[feature.limits]": "Limits: leave empty where anything is allowed. The heel must clear in any case",
  "[indicator]": "Indicator",
  "[stylus]": "Stylus",
  "[encoder]": "Encoder",
  "[setup]": "How probe and tool stand",
  "[link]": "How the instruments are spoken to",
};
/** What a study or a proof writes is not typed. */
export const LEFT_OUT = new Set(["schema", "study", "sense_proven"]);
/** Words of older cards: shown where a card has them. */
export const OLDER = new Set(["positive"]);
/** Asked of everybody, though a card can be read without. */
export const ASKED = new Set(["grows", "lean_mm", "lean_over_mm"]);
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
};

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

/** What a form adds to the meaning of a key. */
export const ADDED = {
  hand: ", seen from the shank",
  name: ", such as “seat”",
  grows: ". Not watched yet? Take clockwise: it is seen at the bench before the first trace",
  lean_mm: ", as a test bar has proven it. Where none has, leave it empty: a tool then needs two references",
};

/** What a key is called where its name says too little. */
export const CALLED = { grows: "Its angle grows" };
