// Sketches of a gauge card's fields: indicator, stylus, encoder, and how probe and tool stand.

import { arcDimension, at, circle, dimension, line, polygon, scaleBar, trail, turning, words } from "/assets/svg.js";
import { endView, probe, sideView } from "/assets/sketch-parts.js";
import { number, short, usable } from "/assets/sketch-values.js";

const CX = 180;
const FROM = "seen from the driven end";

const stylusOf = (values, mm) => {
  const stylus = values.stylus || {};
  return { shape: stylus.shape || "ball", radius: usable(stylus.radius_mm, 1 / mm, { least: 0 }) * mm };
};

/** The least count, or the range, on a scale with the indicator's pointer. */
function resolution({ raw, mm, path }) {
  const count = usable(raw, 0.001 / mm, { above: 0, most: 1 / mm });
  const divisions = 20;
  const step = 300 / divisions;
  const ticks = Array.from({ length: divisions + 1 }, (_, tick) => line(30 + tick * step, 150, 30 + tick * step, tick % 10 === 0 ? 118 : tick % 5 === 0 ? 126 : 134, "ink-line"));
  return {
    parts: [line(30, 150, 330, 150, "ink-line"), ticks, words(30, 172, "0", "small"), words(180, 172, short(count * 10), "small"), words(330, 172, short(count * 20), "small"), dimension(180, 106, 180 + step, 106), line(180, 106, 180, 118, "witness"), line(180 + step, 106, 180 + step, 134, "witness")],
    label: [188, 84],
    text: path.at(-1) === "count_mm" ? "what one count of the bridge is worth" : "the least step that the indicator shows",
  };
}

function range({ raw, mm }) {
  const far = usable(raw, 12.5 / mm, { above: 0 }) * mm;
  const k = Math.min(7, 110 / far);
  const long = far * k;
  return {
    parts: [probe(150, 210, 0, -1, { long: 210 - 50, r: 6 }), line(120, 210, 320, 210, "ink-line"), line(206, 210, 206, 210 - long, "mark dashed"), probe(240, 210 - long, 0, -1, { long: Math.max(40, 160 - long), r: 6 }), dimension(200, 210 - long, 200, 210), scaleBar(14, 30, k, mm > 1)],
    label: [200, Math.max(20, 210 - long - 14)],
    text: "the plunger goes so far from stop to stop",
  };
}

function lever({ raw, values, mm }) {
  const deg = usable(raw, 0, { least: -75, most: 75 });
  const { shape, radius } = stylusOf(values, mm);
  const r = Math.max(4, Math.min(16, radius * 7));
  const turned = (deg * Math.PI) / 180;
  return {
    parts: [
      line(40, 196, 320, 196, "ink-line"),
      polygon([[40, 196], [320, 196], [320, 226], [40, 226]], "metal"),
      line(CX, 196, CX, 40, "witness"),
      probe(CX, 196, Math.sin(turned), -Math.cos(turned), { shape: shape === "flat" ? "ball" : shape, r, long: 130 }),
      Math.abs(deg) > 0.5 ? arcDimension(CX, 196, 112, 0, deg) : line(CX, 196, CX, 52, "mark"),
    ],
    label: [CX, 24],
    text: deg === 0 ? "a plunger: it moves along the surface’s normal" : "from the surface’s normal to the way that the tip moves",
  };
}

/** The tip on a land, in proportion; a scale says how large. */
function stylus({ values, mm, path }) {
  const { shape, radius } = stylusOf(values, mm);
  const k = Math.min(46, 62 / Math.max(0.2, radius));
  const r = shape === "point" ? 6 : Math.max(1.5, radius * k);
  const y = 196;
  const mark = shape === "ball" ? [dimension(CX, y - r, CX + r * 0.94, y - r - r * 0.34)] : shape === "flat" ? [dimension(CX, y - 26, CX + r, y - 26)] : null;
  const wrong = path.at(-1) === "radius_mm" && shape === "point" && number(values.stylus && values.stylus.radius_mm) !== null ? "a point has no radius" : "";
  return {
    parts: [polygon([[30, y], [330, y], [330, y + 30], [30, y + 30]], "metal"), probe(CX, y, 0, -1, { shape, r, long: 182 }), mark, shape === "point" ? null : scaleBar(14, 30, k, mm > 1)],
    label: shape === "point" || path.at(-1) === "shape" ? null : [CX + Math.max(r, 20) + 14, y - r - 12],
    anchor: "start",
    wrong,
    text: { ball: "a ball, which rolls over an edge", flat: "a flat face across the direction of motion; half its width is stated", point: "a point, or a knife edge along the axis" }[shape] || "",
  };
}

function counts({ raw }) {
  const all = usable(raw, 4000, { least: 4 });
  const drawn = Math.min(120, all);
  const step = 360 / drawn;
  const ticks = Array.from({ length: Math.round(drawn) }, (_, tick) => trail([at(CX, 116, 84, tick * step), at(CX, 116, 72, tick * step)], "ink-line"));
  return {
    parts: [circle(CX, 116, 88, "metal"), ticks, circle(CX, 116, 10, "ink"), all <= 120 ? arcDimension(CX, 116, 98, 0, step) : null, words(CX, 230, `1 count = ${short(360 / all)}°`, "name")],
    text: `one count is ${short(360 / all)}° of the tool’s turn${all > 120 ? "; drawn with fewer lines" : ""}`,
  };
}

/** Which way the angle grows, as the eye behind the spindle sees it. */
function grows({ raw }) {
  const way = raw === "counter-clockwise" ? -1 : 1;
  return {
    parts: [circle(CX, 112, 70, "metal"), circle(CX, 112, 8, "ink"), turning(CX, 112, 92, way * -60, way * 60), words(CX, 66, "+", "sign"), words(CX, 92, "the angle grows", "name"), words(CX, 228, FROM, "small")],
    text: `the angle grows while the spindle turns ${way > 0 ? "clockwise" : "counter-clockwise"}, ${FROM}`,
  };
}

/** A right-hand tool cuts clockwise from here: positive is towards where its surface moves. */
function offset({ values, mm, path }) {
  const setup = values.setup || {};
  const off = usable(setup.probe_offset_mm, 0, { least: -50 / mm, most: 50 / mm }) * mm;
  const within = usable(setup.probe_offset_tolerance_mm, 0.05 / mm, { least: 0 }) * mm;
  const of = path.at(-1) === "probe_offset_mm";
  const k = Math.min(6.4, 64 / Math.max(0.1, Math.abs(off)));
  const [r, cy] = [70, 140];
  const x = CX + Math.max(-66, Math.min(66, off * k));
  const y = cy - Math.sqrt(r * r - (x - CX) ** 2) + 2;
  const band = Math.max(1.5, within * k);
  return {
    parts: [
      endView({ cx: CX, cy, r, flutes: 4, cut: 1, first: 36, relief_deg: 3 }),
      line(CX, 14, CX, cy, "witness"),
      turning(CX, cy, 84, 30, 80, "cut"),
      words(268, 96, "cuts", "small", "start"),
      of ? null : polygon([[x - band, 14], [x + band, 14], [x + band, y], [x - band, y]], "allowed"),
      probe(x, y, 0, -1, { r: 6, long: 62 }),
      of ? [line(x, y, x, cy + 84, "witness"), line(CX, cy, CX, cy + 84, "witness"), Math.abs(x - CX) > 0.5 ? dimension(CX, cy + 82, x, cy + 82) : null] : dimension(x - band, 30, x + band, 30),
      scaleBar(14, 30, k, mm > 1),
    ],
    label: of ? [CX + (x >= CX ? 12 : -12) + (x - CX), 236] : [x, 236],
    anchor: of ? (x >= CX ? "start" : "end") : "middle",
    text: of ? `the probe’s line beside the axis: positive towards where the surface moves as it cuts; a right-hand tool, ${FROM}` : "the line may stand so far to either side of that",
  };
}

function runout({ raw, mm }) {
  const off = usable(raw, 0.01 / mm, { least: 0 }) * mm;
  const drawn = off === 0 ? 0 : Math.max(4, Math.min(40, off * 700));
  return {
    parts: [circle(CX, 118, 70, "circle"), circle(CX + drawn, 118, 70, "metal"), circle(CX, 118, 3, "ink"), circle(CX + drawn, 118, 3, "mark"), drawn ? dimension(CX, 118, CX + drawn, 118) : null, words(CX, 228, FROM, "small")],
    label: [CX, 30],
    text: `the tool’s axis runs round the spindle’s at this distance; drawn ${short(drawn && off ? drawn / (off * 3.5) : 1)} times as large`,
  };
}

function lean({ values, mm, path }) {
  const setup = values.setup || {};
  const far = usable(setup.lean_mm, 0.01 / mm, { least: 0 }) * mm;
  const over = usable(setup.lean_over_mm, 100 / mm, { above: 0 }) * mm;
  const k = Math.min(2, 220 / over);
  const long = over * k;
  const up = far === 0 ? 0 : Math.max(6, Math.min(46, (far / over) * long * 120));
  const y = 130;
  const of = path.at(-1) === "lean_mm";
  const right = 80 + long;
  return {
    parts: [
      polygon([[40, y - 34], [80, y - 34], [80, y + 34], [40, y + 34]], "holder"),
      polygon([[80, y - 16], [right, y - 16 - up], [right, y + 16 - up], [80, y + 16]], "metal"),
      line(20, y, Math.min(352, right + 30), y, "axis"),
      trail([[80, y], [right, y - up]], "ink-line"),
      of ? dimension(right, y, right, y - up) : [line(80, y + 36, 80, y + 66, "witness"), line(right, y + 20, right, y + 66, "witness"), dimension(80, y + 58, right, y + 58)],
      scaleBar(14, 30, k, mm > 1),
    ],
    label: of ? [Math.min(right, 250), y - up - 32] : [80 + Math.max(50, long / 2), y + 86],
    text: of ? "the axis of a clamped bar stands so much off at the far end; drawn larger" : "the length along the tool over which the lean is stated",
  };
}

function swash({ raw, mm }) {
  const off = usable(raw, 0.01 / mm, { least: 0 }) * mm;
  const drawn = off === 0 ? 0 : Math.max(5, Math.min(26, off * 700));
  const [x, y] = [250, 120];
  return {
    parts: [sideView({ front: x, y, sections: [{ length: 60, d: 110 }, { length: 200, d: 40, round: true }] }), line(x - drawn, y + 62, x + drawn, y - 62, "mark"), line(x, y - 74, x, y + 74, "witness"), dimension(x, y - 66, x + drawn, y - 66)],
    label: [x - 20, 30],
    text: "half of what a square face rises and falls over the turn; drawn larger",
  };
}

function delay({ raw }) {
  const late = usable(raw, 0);
  const x = 150 + Math.max(-90, Math.min(150, late * 3));
  return {
    parts: [words(30, 84, "angle", "small", "start"), line(30, 96, 330, 96, "ink-line"), words(30, 150, "reading", "small", "start"), line(30, 162, 330, 162, "ink-line"), circle(150, 96, 6, "ink"), circle(x, 162, 6, "mark-fill"), line(150, 96, 150, 200, "witness"), line(x, 162, x, 200, "witness"), late === 0 ? null : dimension(150, 194, x, 194), words(330, 116, "time →", "small", "end")],
    label: [Math.max(120, Math.min(240, (150 + x) / 2)), 226],
    text: "the indicator’s reading comes so much later than the angle",
  };
}

/** The whole bench: tool, probe and encoder. */
function whole({ values, mm }) {
  const { shape, radius } = stylusOf(values, mm);
  return {
    parts: [
      sideView({ front: 290, y: 136, sections: [{ length: 60, d: 80, teeth: true }, { length: 120, d: 40, round: true }], left: 96 }),
      polygon([[66, 96], [78, 96], [78, 176], [66, 176]], "ink"),
      words(72, 200, "encoder", "small"),
      probe(260, 96, 0, -1, { shape, r: Math.max(3, Math.min(14, radius * 5)), long: 72 }),
      words(276, 40, "indicator", "small", "start"),
    ],
    text: "the whole bench",
    whole: true,
  };
}

const FIELDS = { resolution_mm: resolution, count_mm: resolution, travel_mm: range, lever_angle_deg: lever, shape: stylus, radius_mm: stylus, counts_per_rev: counts, grows, probe_offset_mm: offset, probe_offset_tolerance_mm: offset, runout_mm: runout, lean_mm: lean, lean_over_mm: lean, swash_mm: swash, delay_ms: delay };

/** The sketch of a field of a gauge card. */
export const sketch = (asked) => (FIELDS[asked.path.at(-1)] || whole)(asked);
