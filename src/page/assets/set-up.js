// The set-up for the trace at hand: where the stylus has to touch, which way to turn, where one stands.

import { circle, dimension, line, picture, turning, words } from "/assets/svg.js";
import { endView, landOf, probe, sideView, travel } from "/assets/sketch-parts.js";
import { length } from "/assets/units.js";

/** What a step touches: its feature of the tool, or a round. */
function touched(tool, step) {
  const feature = step.feature ? tool.features.find((one) => one.name === step.feature) : null;
  const axial = feature ? feature.surface === "axial" : Boolean(step.axial);
  return { feature, axial, diameter_mm: feature ? feature.diameter_mm : step.diameter_mm, name: feature ? feature.name : step.throw_mm === null || step.throw_mm === undefined ? "reference" : "round" };
}

/** The tool from the front backwards, as far as the steps tell: where each part ends, and how thick it is. */
function profile(tool, steps) {
  const known = steps.map((step) => ({ ...touched(tool, step), z: step.z_mm, step }));
  const diameters = tool.features.map((one) => one.diameter_mm);
  const most = Math.max(...diameters);
  const far = Math.max(most * 0.9, ...known.map((one) => (Number.isFinite(one.z) ? one.z * 1.16 : 0)));
  const placed = known.map((one) => ({
    ...one,
    z: Number.isFinite(one.z) && one.z !== null ? Math.max(0, one.z) : one.feature ? 0 : far * 0.85,
    // A shoulder reaches beyond the circle that the probe follows on it.
    d: one.axial && one.feature ? one.diameter_mm * 1.25 : one.diameter_mm || Math.min(...diameters) * 0.8,
  }));
  placed.sort((one, other) => one.z - other.z);
  const sections = [];
  let from = 0;
  placed.forEach((one, number) => {
    const next = placed[number + 1];
    if (one.axial && one.z > from + 1e-6) {
      // Something smaller stands before a shoulder.
      if (sections.length) sections.at(-1).to = one.z;
      else sections.push({ to: one.z, d: one.diameter_mm * 0.55, teeth: false, of: null });
      from = one.z;
    }
    const to = next ? (next.axial ? next.z : (one.z + next.z) / 2) : Math.max(one.z + far * 0.14, far);
    const last = sections.at(-1);
    if (last && last.of === one.name && Math.abs(last.d - one.d) < 1e-9) last.to = to;
    else if (to > from) sections.push({ to, d: one.d, teeth: Boolean(one.feature), of: one.name });
    from = Math.max(from, to);
  });
  return { sections, far: Math.max(far, from), most: Math.max(...sections.map((one) => one.d), most) };
}

/** The tool from the side, with the probe where it has to touch. `label` says the distance. */
export function fromSide({ tool, steps, step, stylus = {}, mark = "z" }) {
  const [front, left, y] = [342, 78, 128];
  const { sections, far, most } = profile(tool, steps);
  const k = Math.min(118 / most, (front - left - 16) / far);
  let from = 0;
  const drawn = sections.map((one) => {
    const section = { length: (one.to - from) * k, d: Math.max(8, one.d * k), teeth: one.teeth, round: !one.teeth, short: true };
    from = one.to;
    return section;
  });
  drawn.push({ length: front, d: Math.max(8, drawn.at(-1).d * 0.8), round: true });
  const { axial, diameter_mm, feature } = touched(tool, step);
  const z = Number.isFinite(step.z_mm) && step.z_mm !== null ? step.z_mm : null;
  const half = ((diameter_mm || sections.find((one) => one.of === "reference" || one.of === "round")?.d || most) * k) / 2;
  const at_z = z === null ? (feature ? (axial ? 0 : Math.min(most * 0.2, far * 0.2)) : far * 0.85) : Math.max(0, z);
  const x = front - at_z * k;
  const r = Math.max(4, Math.min(12, (stylus.radius_mm ?? 1) * k));
  const touch = axial ? [probe(x, y - half, 1, 0, { shape: stylus.shape, r, long: Math.max(54, front - x + 44) }), travel(x + 30, y - half - 20, 1, 0)] : [probe(x, y - half, 0, -1, { shape: stylus.shape, r, long: Math.min(62, y - half - 2) }), travel(x - 26, y - half - 8, 0, -1)];
  const below = Math.min(206, y + (most * k) / 2 + 22);
  const distance = z === null || z <= 0 ? null : [line(front, y, front, below + 8, "witness"), line(x, y - half, x, below + 8, "witness"), dimension(x, below, front, below)];
  const across = mark === "d" && diameter_mm ? [dimension(x - 10, y - half, x - 10, y + half)] : null;
  const art = picture(
    420,
    240,
    sideView({ front, y, sections: drawn, left }),
    touch,
    distance,
    across,
    words(18, y + 36, "you", "small"),
    words(66, y + 60, "drive", "small"),
    z === null || z <= 0 ? words(front + 4, y + 62, "front", "small") : words(Math.max(118, Math.min(298, (x + front) / 2)), below + 24, `${length(z)} from the front`, "name"),
    mark === "d" && diameter_mm ? words(Math.max(60, x - 18), y + 5, `Ø ${length(diameter_mm)}`, "name", "end") : null,
  );
  art.classList.add("wide");
  return art;
}

/** The tool from its driven end, as who stands there sees it. `turn` is what the bench says of this trace. */
function fromDrive({ tool, step, gauge, sense, turn }) {
  const [cx, cy, r] = [170, 124, 66];
  const heel = tool.heel_turns === "clockwise" ? 1 : -1;
  const cut = -heel;
  const { feature, axial, diameter_mm } = touched(tool, step);
  const pitch = 360 / tool.flutes;
  const R = (diameter_mm || 10) / 2;
  const off = gauge.probe_offset_mm || 0;
  // Positive is towards where the surface moves as the tool cuts; here the probe stands on top.
  const across = off === 0 ? 0 : cut * Math.sign(off) * Math.max(5, Math.min(r * 0.8, (Math.abs(off) / R) * r));
  const land = landOf(pitch, feature && feature.land_deg);
  const body = feature ? endView({ cx, cy, r, flutes: tool.flutes, cut, first: cut * land * 0.45, land_deg: feature.land_deg, relief_deg: 5 }) : [circle(cx, cy, r, "metal"), circle(cx, cy, 3, "ink")];
  const y = cy - Math.sqrt(r * r - across * across);
  const on = axial ? [circle(cx, cy, r * 0.72, "circle"), circle(cx + across, cy - Math.sqrt((r * 0.72) ** 2 - Math.min(across * across, r * r * 0.4)), 9, "stylus"), circle(cx + across, cy - Math.sqrt((r * 0.72) ** 2 - Math.min(across * across, r * r * 0.4)), 3, "ink")] : probe(cx + across, y + (feature ? 2 : 0), 0, -1, { shape: gauge.shape, r: 6, long: y - 4 });
  const ways = { heel: [heel], either: [1, -1], "back-and-forth": [1, -1] }[turn];
  const grows = sense.stated === "clockwise" ? 1 : -1;
  return picture(
    340,
    240,
    body,
    off === 0 ? null : [line(cx, cy - r - 16, cx, cy, "witness"), words(cx + Math.sign(across) * 24 + across, 20, `offset ${length(Math.abs(off))}`, "small", across > 0 ? "start" : "end")],
    on,
    ways.map((way) => turning(cx, cy, r + 22, way * 24, way * 100, "way turn-way")),
    words(cx + ways[0] * 52, 26, turn === "heel" ? "heel first" : turn === "either" ? "either way" : "back and forth", "name", ways[0] > 0 ? "start" : "end"),
    turning(cx, cy, r + 16, 180 - grows * 24, 180 + grows * 24, "cut grows-way"),
    words(cx + 48, cy + r + 24, "angle grows", "small", "start"),
    [words(cx, 236, "as you see it, from the driven end", "small")],
  );
}

/** The same in words. */
export function inWords({ tool, step, sense, turn }) {
  const { feature, axial, diameter_mm, name } = touched(tool, step);
  const what = feature ? `“${name}”` : `the ${name === "round" ? "round in the engaged fixture" : "reference round"}`;
  const where = [axial ? "on its end, along the axis" : "from the side, along a radius", step.z_mm === null || step.z_mm === undefined ? null : `${length(step.z_mm)} from the front`, diameter_mm ? `on Ø ${length(diameter_mm)}` : null].filter(Boolean).join(", ");
  const ways = { heel: `Turn ${tool.heel_turns}, heel first`, either: "Turn either way, and on the same way", "back-and-forth": "Turn back and forth over a land" };
  const proven = sense.proven ? "" : ", which nobody has seen yet";
  return `The stylus touches ${what} ${where}. ${ways[turn]}, seen from the driven end, where you stand. The angle grows ${sense.stated}${proven}.`;
}

/** Both views and their words. */
export const setUp = (asked) => ({ drive: fromDrive(asked), side: fromSide({ ...asked, stylus: asked.gauge }), text: inWords(asked) });
