// Sketches of a grinder card's fields: wheels, pulleys, slides, swivels, fixtures and what a cam does.

import { arcDimension, arrow, at, box, circle, dimension, line, polygon, scaleBar, trail, turning, words } from "/assets/svg.js";
import { endView } from "/assets/sketch-parts.js";
import { number, short, usable } from "/assets/sketch-values.js";

const CX = 180;

const itemOf = (values, path) => ((values[path[0]] || [])[Number(path[1])]) || {};
const length = (raw, otherwise, mm) => usable(raw, otherwise / mm, { above: 0 }) * mm;

/** A wheel on the tool, from the side: which part of it grinds. */
function cuts({ values, path }) {
  const { cuts: part } = itemOf(values, path);
  const tool = (x, y) => [polygon([[x, y], [x + 120, y], [x + 120, y + 44], [x, y + 44]], "metal")];
  const wheel = (x, y, w, h) => box(x, y, w, h, "wheel");
  const drawn = {
    rim: [wheel(150, 30, 60, 100), tool(120, 130), line(150, 130, 210, 130, "mark thick"), words(CX, 210, "the rim", "name")],
    corner: [draw45(), words(CX, 222, "the corner", "name")],
    side: [wheel(186, 30, 40, 140), polygon([[66, 110], [186, 110], [186, 160], [66, 160]], "metal"), line(186, 110, 186, 160, "mark thick"), words(CX, 210, "the side", "name")],
  };
  return { parts: drawn[part] || drawn.rim, text: { rim: "the rim of a straight wheel", corner: "the corner between rim and side", side: "a flat side, or the face of a cup" }[part] || "" };
}

const draw45 = () => [polygon([[150, 30], [210, 30], [210, 120], [198, 132], [150, 132]], "wheel"), polygon([[204, 126], [330, 126], [330, 176], [120, 176], [120, 132], [198, 132]], "metal"), line(210, 120, 198, 132, "mark thick")];

function wheel({ values, path, mm }) {
  const of = itemOf(values, path);
  const d = length(of.diameter_mm, 150, mm);
  const full = usable(of.full_diameter_mm, null, { above: 0 });
  const most = Math.max(d, full === null ? 0 : full * mm);
  const k = 170 / most;
  const last = path.at(-1);
  const r = ((last === "full_diameter_mm" && full !== null ? full * mm : d) * k) / 2;
  const cy = 104;
  return {
    parts: [full === null ? null : circle(CX, cy, (full * mm * k) / 2, "circle"), circle(CX, cy, (d * k) / 2, "wheel"), circle(CX, cy, Math.min(16, (d * k) / 8), "holder"), circle(CX, cy, r, "mark"), line(CX - r, cy, CX - r, 208, "witness"), line(CX + r, cy, CX + r, 208, "witness"), dimension(CX - r, 204, CX + r, 204), scaleBar(14, 30, k, mm > 1)],
    label: [CX, 228],
    wrong: full !== null && full * mm < d ? `it is larger now, ${short(d / mm)}, than when it was new` : "",
    text: last === "full_diameter_mm" ? "when it was new: the speed marked on it holds for this" : "as it is dressed now",
  };
}

/** How fast it may turn, and what that is at its diameter. */
function speed({ values, path, raw, mm }) {
  const of = itemOf(values, path);
  const of_rim = path.at(-1) === "greatest_m_per_s";
  const d = length(of.full_diameter_mm, length(of.diameter_mm, 150, mm) / mm, mm);
  const value = usable(raw, null, { above: 0 });
  // v = π d n.
  const other = value === null ? "" : of_rim ? `: ${short((value * 60000) / (Math.PI * d))} turns a minute` : `: ${short((value * Math.PI * d) / 60000)} m/s`;
  return {
    parts: [circle(CX, 120, 72, "wheel"), circle(CX, 120, 12, "holder"), turning(CX, 120, 90, -50, 60)],
    label: [CX, 228],
    text: value === null ? "as it is marked on the wheel" : `at a diameter of ${short(d / mm)}${other}`,
  };
}

/** The rim in section: its width, and the radius of its corner. */
function rim({ values, path, mm }) {
  const of = itemOf(values, path);
  const wide = length(of.width_mm, 12, mm);
  const corner = Math.max(0, usable(of.corner_mm, 0) * mm);
  const last = path.at(-1);
  const shown = last === "corner_mm" ? Math.max(corner * 3, wide * 0.3) : wide * 1.3;
  const k = 230 / shown;
  const [left, bottom] = last === "corner_mm" ? [70 - Math.max(0, wide * k - 230), 176] : [CX - (wide * k) / 2, 170];
  const right = left + wide * k;
  const r = Math.min(corner, wide / 2) * k;
  const round = Array.from({ length: 13 }, (_, step) => at(right - r, bottom - r, r, 90 + (90 * step) / 12));
  return {
    parts: [polygon([[left, -10], [right, -10], ...round, [left, bottom]], "wheel"), last === "corner_mm" ? [r > 1 ? dimension(right - r, bottom - r, ...at(right - r, bottom - r, r, 135)) : null, trail(round, "mark thick")] : [line(left, bottom, left, 208, "witness"), line(right, bottom - 20, right, 208, "witness"), dimension(left, 202, right, 202)], scaleBar(14, 30, k, mm > 1)],
    label: [CX, 228],
    wrong: corner > wide && number(of.width_mm) !== null ? `it is wider than the rim, ${short(wide / mm)}` : "",
    text: last === "corner_mm" ? "the radius between rim and side" : "the width of the rim",
  };
}

function pulleys({ values, path, mm }) {
  const spindle = values.spindle || {};
  const pair = (spindle.pulleys || [])[Number(path[2])] || {};
  const motor = length(pair.motor_mm, 90, mm);
  const driven = length(pair.spindle_mm, 80, mm);
  const k = 120 / Math.max(motor, driven);
  const [r1, r2] = [(motor * k) / 2, (driven * k) / 2];
  const [x1, x2, y] = [90, 270, 104];
  const at1 = path.at(-1) === "motor_mm";
  const rpm = usable(spindle.motor_rpm, null, { above: 0 });
  const [x, r] = at1 ? [x1, r1] : [x2, r2];
  return {
    parts: [circle(x1, y, r1, "metal"), circle(x2, y, r2, "metal"), line(x1, y - r1, x2, y - r2, "belt"), line(x1, y + r1, x2, y + r2, "belt"), circle(x1, y, 4, "ink"), circle(x2, y, 4, "ink"), circle(x, y, r, "mark"), dimension(x - r, y, x + r, y), words(x1, 190, "motor", "small"), words(x2, 190, "wheel", "small"), rpm ? words(CX, 36, `${short(rpm)} turns → ${short((rpm * motor) / driven)} a minute`, "small") : null],
    label: [x, 216],
    text: rpm ? `the wheel turns ${short((rpm * motor) / driven)} times a minute` : `the wheel turns ${short(motor / driven)} times for each turn of the motor`,
  };
}

/** A slide or a fixture moves the tool along its radius or its axis. */
function direction({ values, path }) {
  const of = itemOf(values, path);
  const axial = of.direction === "axial";
  const y = 142;
  return {
    parts: [box(30, y - 34, 40, 68, "holder"), box(70, y - 18, 90, 36, "metal"), box(160, y - 34, 60, 68, "metal"), line(14, y, 250, y, "axis"), axial ? arrow(232, y, 306, y) : arrow(190, y - 40, 190, y - 100), axial ? box(312, y - 70, 26, 140, "wheel") : box(160, 6, 60, 34, "wheel"), words(axial ? 270 : 206, axial ? y - 14 : y - 66, axial ? "axial" : "radial", "name", axial ? "middle" : "start")],
    text: axial ? "along the tool’s axis" : "along a radius of the tool",
  };
}

/** The scale of a slide or a throw: the least step, and its ends. */
function scale({ values, path, raw, mm }) {
  const of = itemOf(values, path);
  const last = path.at(-1);
  const step = usable(of.graduation_mm, 0.01 / mm, { above: 0 });
  const fixture = path[0] === "fixture" && (last === "least_throw_mm" || last === "greatest_throw_mm");
  if (fixture) {
    const least = usable(of.least_throw_mm, 0, { least: 0, most: 100 / mm });
    const most = usable(of.greatest_throw_mm, 1.5 / mm, { above: 0, most: 100 / mm });
    const k = 280 / Math.max(most * 1.1, least);
    const [a, b] = [40 + least * k, 40 + most * k];
    const here = last === "least_throw_mm" ? a : b;
    return {
      parts: [line(40, 140, 320, 140, "ink-line"), line(a, 140, b, 140, "mark thick"), words(40, 164, "0", "small"), [a, b].map((x) => line(x, 128, x, 152, "ink-line")), dimension(40, 104, here, 104), line(40, 104, 40, 140, "witness"), line(here, 104, here, 140, "witness"), least > 0 ? words(a, 180, short(least), "small") : null, words(b, 164, short(most), "small")],
      label: [CX, 84],
      wrong: least > most ? "the least is above the greatest" : "",
      text: last === "least_throw_mm" ? "the fixture can be set no lower" : "the fixture can be set no higher",
    };
  }
  const play = last === "play_mm" ? usable(raw, step * 2, { least: 0 }) : 0;
  const gap = last === "play_mm" ? Math.min(150, (play / step) * 24) : 24;
  const ticks = Array.from({ length: 13 }, (_, tick) => line(36 + tick * 24, 150, 36 + tick * 24, tick % 5 === 0 ? 116 : 132, "ink-line"));
  return {
    parts: [line(36, 150, 324, 150, "ink-line"), ticks, gap > 0.5 ? dimension(156, 100, 156 + gap, 100) : null, line(156, 100, 156, 150, "witness"), line(156 + gap, 100, 156 + gap, 150, "witness"), words(CX, 178, `a line is ${short(step)}`, "small")],
    label: [CX, 78],
    text: last === "play_mm" ? "so far it turns before anything moves" : "the least step of the scale that can be set",
  };
}

/** An angle on a round scale: the least step of a swivel or a cam. */
function graduation({ raw }) {
  const step = usable(raw, 1, { above: 0, most: 90 });
  const drawn = Math.max(1, step);
  const ticks = Array.from({ length: Math.min(121, Math.floor(120 / drawn) + 1) }, (_, tick) => trail([at(CX, 200, 150, -60 + tick * drawn), at(CX, 200, tick % 5 === 0 ? 132 : 140, -60 + tick * drawn)], "ink-line"));
  return { parts: [trail(Array.from({ length: 41 }, (_, part) => at(CX, 200, 150, -60 + part * 3)), "ink-line"), ticks, arcDimension(CX, 200, 160, 0, drawn)], label: [CX, 26], text: `the least angle that can be set${step < 1 ? "; drawn larger" : ""}` };
}

function zero({ values, path }) {
  const across = itemOf(values, path).zero === "across";
  const [x, y] = [150, 150];
  const base = across ? 0 : 90;
  return {
    parts: [box(40, y - 16, 110, 32, "metal"), line(20, y, 320, y, "axis"), line(x, y, ...at(x, y, 110, base), "witness"), trail([[x, y], at(x, y, 120, 60)], "mark"), arcDimension(x, y, 76, base, 60), words(...at(x, y, 128, base), "0", "name", across ? "middle" : "start"), words(...at(x, y, 128, 60), across ? "set 60°" : "set 30°", "name", "start")],
    text: across ? "zero lies across the tool’s axis: a face of 30° to the axis is set at 60°" : "zero lies along the tool’s axis: a face of 30° to the axis is set at 30°",
  };
}

function turns({ values, path }) {
  const backing = itemOf(values, path).turns === "backing";
  const way = backing ? -1 : 1;
  return {
    parts: [endView({ cx: CX, cy: 136, r: 66, flutes: 4, cut: 1, relief_deg: 10 }), box(150, 4, 60, 44, "wheel"), words(CX, 30, "wheel", "small"), turning(CX, 136, 84, way * 25, way * 95), words(CX, 232, "right-hand, seen from the driven end", "small")],
    text: backing ? "heel first: against the way that the tool cuts" : "edge first: the way that the tool cuts",
  };
}

function centre({ raw, mm }) {
  const off = usable(raw, 0.05 / mm, { least: 0 }) * mm;
  const drawn = Math.max(3, Math.min(40, off * 200));
  return {
    parts: [circle(110, 120, 70, "wheel"), circle(110, 120, 5, "ink"), circle(262, 120, 36, "metal"), circle(262, 120, 3, "ink"), line(20, 120, 340, 120, "axis"), polygon([[20, 120 - drawn], [340, 120 - drawn], [340, 120 + drawn], [20, 120 + drawn]], "allowed"), dimension(318, 120 - drawn, 318, 120 + drawn), words(110, 212, "wheel", "small"), words(262, 212, "tool", "small")],
    label: [250, 40],
    text: "wheel and tool stand level within this; drawn larger",
  };
}

/** What a cam does over one turn of the tool, laid out flat. */
function motion({ values, path, mm }) {
  const of = itemOf(values, path);
  const lobes = Math.round(usable(of.lobes, 1, { least: 1, most: 24 }));
  const share = 360 / lobes;
  const [rise, dwell, back] = [usable(of.rise_deg, Math.min(60, share * 0.5), { above: 0 }), usable(of.dwell_deg, 0, { least: 0 }), usable(of.return_deg, Math.min(25, share * 0.25), { least: 0 })];
  const sum = rise + dwell + back;
  const high = length(of.rise_mm, 0.6, mm);
  const tall = length(of.throw_mm, Math.max(high, 1), mm);
  const ky = 110 / Math.max(high, tall);
  const h = high * ky;
  const kx = 310 / 360;
  const y0 = 176;
  const form = { harmonic: (u) => (1 - Math.cos(Math.PI * u)) / 2, cycloidal: (u) => u - Math.sin(2 * Math.PI * u) / (2 * Math.PI), parabolic: (u) => (u < 0.5 ? 2 * u * u : 1 - 2 * (1 - u) ** 2) }[of.law] || ((u) => u);
  const trace = [];
  for (let lobe = 0; lobe < lobes; lobe += 1) {
    const x = 30 + lobe * share * kx;
    for (let part = 0; part <= 20; part += 1) trace.push([x + (rise * part * kx) / 20, y0 - h * form(part / 20)]);
    for (let part = 0; part <= 10; part += 1) trace.push([x + (rise + dwell + (back * part) / 10) * kx, y0 - h * (1 - form(part / 10))]);
  }
  trace.push([340, y0]);
  const marks = {
    rise_deg: [0, rise],
    dwell_deg: [rise, rise + dwell],
    return_deg: [rise + dwell, sum],
    lobes: [0, share],
  }[path.at(-1)];
  const across = marks ? [marks.map((deg) => line(30 + deg * kx, y0, 30 + deg * kx, y0 + 26, "witness")), marks[1] > marks[0] ? dimension(30 + marks[0] * kx, y0 + 20, 30 + marks[1] * kx, y0 + 20) : null] : null;
  const top = 30 + rise * kx;
  const up = path.at(-1) === "rise_mm" ? [line(top, y0 - h, top + 34, y0 - h, "witness"), dimension(top + 26, y0, top + 26, y0 - h)] : path.at(-1) === "throw_mm" ? [line(20, y0 - tall * ky, 340, y0 - tall * ky, "mark dashed"), dimension(334, y0, 334, y0 - tall * ky)] : null;
  return {
    parts: [line(30, y0, 340, y0, "ink-line"), line(30, y0, 30, 50, "ink-line"), trail(trace, path.at(-1) === "law" ? "mark thick" : "motion"), across, up, words(30, 216, "0°", "small"), words(340, 216, "360°", "small", "end")],
    label: [marks ? Math.max(110, Math.min(230, 30 + ((marks[0] + marks[1]) / 2) * kx)) : CX, marks ? 232 : 36],
    wrong: sum > share + 1e-6 ? `rise, dwell and return take ${short(sum)}°, and a lobe has ${short(share)}°` : "",
    text: "towards the wheel over one turn of the tool",
  };
}

/** The whole: a wheel over a tool that a fixture moves. */
function whole() {
  const y = 160;
  return {
    parts: [circle(CX + 10, 66, 56, "wheel"), circle(CX + 10, 66, 6, "ink"), box(40, y - 30, 60, 60, "holder"), box(100, y - 14, 70, 28, "metal"), box(170, y - 30, 60, 60, "metal"), line(20, y, 300, y, "axis"), words(70, y + 52, "fixture", "small"), words(200, y + 52, "tool", "small"), words(256, 50, "wheel", "small", "start")],
    text: "the whole grinder",
    whole: true,
  };
}

const WHEEL = { cuts, diameter_mm: wheel, full_diameter_mm: wheel, greatest_m_per_s: speed, greatest_rpm: speed, width_mm: rim, corner_mm: rim };
const MOTION = new Set(["throw_mm", "law", "rise_mm", "rise_deg", "dwell_deg", "return_deg", "lobes"]);
const OTHERS = { direction, graduation_mm: scale, play_mm: scale, least_throw_mm: scale, greatest_throw_mm: scale, graduation_deg: graduation, cam_graduation_deg: graduation, zero, turns };

/** The sketch of a field of a grinder card. */
export function sketch(asked) {
  const { path } = asked;
  const last = path.at(-1);
  if (last === "centre_tolerance_mm") return centre(asked);
  if (path[1] === "pulleys" && (last === "motor_mm" || last === "spindle_mm")) return pulleys(asked);
  if (path[0] === "wheel") return (WHEEL[last] || whole)(asked);
  if (path[0] === "motion") return MOTION.has(last) ? motion(asked) : whole(asked);
  return (OTHERS[last] || whole)(asked);
}
