// Sketches of a tool card's fields: hand and teeth from the driven end, surfaces from the side, lands in section.

import { along, arcDimension, at, circle, dimension, line, polygon, scaleBar, trail, turning, words } from "/assets/svg.js";
import { edgesOf, endView, fallOf, landOf, probe, sideView, tooth, travel } from "/assets/sketch-parts.js";
import { number, short, usable } from "/assets/sketch-values.js";

const CX = 180;
const CY = 118;
const FROM = "seen from the driven end";

/** A limit in words: `6° to 9°`, `at least 0.02 mm`. */
function limitWords({ min, max }, unit) {
  if (min !== null && max !== null) return `${short(min)} to ${short(max)}${unit}`;
  if (min !== null) return `at least ${short(min)}${unit}`;
  return max !== null ? `at most ${short(max)}${unit}` : "";
}

/** What the card says of the tool and of the feature that the field is of, in mm and degrees. */
export function toolOf(values, path, mm) {
  const features = values.feature || [];
  const feature = features[path[0] === "feature" ? Number(path[1]) : 0] || {};
  const flutes = Math.round(usable(values.flutes, 3, { least: 1, most: 24 }));
  const length = (raw, otherwise, above = 0) => usable(raw, otherwise / mm, { above, most: 2000 / mm }) * mm;
  const R = length(feature.diameter_mm, 20) / 2;
  const limits = feature.limits || {};
  const ends = (name) => {
    const end = (which) => {
      const value = number((limits[name] || {})[which]);
      return value === null || !(Math.abs(value) <= (name.endsWith("_deg") ? 90 : 100)) ? null : value;
    };
    return { min: end("min"), max: end("max") };
  };
  const relief = ends("relief_angle_deg");
  const wanted = relief.min !== null && relief.max !== null ? (relief.min + relief.max) / 2 : relief.min ?? relief.max ?? 8;
  const pitch = 360 / flutes;
  const land_deg = usable(feature.land_deg, null, { above: 0, most: 360 });
  return {
    values,
    features,
    feature,
    flutes,
    pitch,
    cut: values.hand === "left" ? -1 : 1,
    R,
    axial: feature.surface === "axial",
    land_deg,
    land: (landOf(pitch, land_deg) * Math.PI * R) / 180,
    relief_deg: Math.max(1, Math.min(30, wanted)),
    curve: feature.curve || "auto",
    check: length(feature.check_distance_mm, 0.5),
    length,
    ends,
  };
}

const fromEnd = (tool, more = {}) => endView({ cx: CX, cy: CY, r: 84, flutes: tool.flutes, cut: tool.cut, land_deg: tool.land_deg, relief_deg: tool.relief_deg, ...more });

/** The tool as it cuts: an arrow round its driven end. */
const cutting = (tool, r = 104) => [turning(CX, CY, r, tool.cut * 25, tool.cut * 100, "cut"), words(CX + tool.cut * 124, 46, "cuts", "small", tool.cut > 0 ? "start" : "end")];

function hand(tool) {
  const way = tool.cut > 0 ? "clockwise" : "counter-clockwise";
  return {
    parts: [fromEnd(tool), turning(CX, CY, 104, tool.cut * -35, tool.cut * 70), words(CX, 234, FROM, "small")],
    text: `cuts ${way}, ${FROM}`,
  };
}

function flutes(tool) {
  return {
    parts: [fromEnd(tool), tool.flutes > 1 ? [arcDimension(CX, CY, 97, 0, tool.cut * tool.pitch), named(tool, `${short(tool.pitch)}°`, tool.pitch / 2)] : null, words(CX, 234, FROM, "small")],
    text: tool.flutes > 1 ? `${tool.flutes} teeth, ${short(tool.pitch)}° from edge to edge` : "one tooth",
  };
}

/** A name outside the tool, so many degrees with the cut from the top. */
function named(tool, text, deg, r = 108) {
  const [x, y] = at(CX, CY, r, tool.cut * deg);
  const anchor = Math.abs(x - CX) < 30 ? "middle" : x > CX ? "start" : "end";
  return words(x, Math.max(14, Math.min(228, y + 5)), text, "name", anchor);
}

function spacing(tool, raw) {
  const typed = (Array.isArray(raw) ? raw : String(raw ?? "").split(/[\s;]+/)).map((part) => number(String(part).replace(/,$/, ""))).filter((part) => part !== null);
  if (typed.length === 0) return { ...flutes(tool), text: "equal where nothing is filled in" };
  const sum = typed.reduce((all, one) => all + one, 0);
  const wrong = typed.some(Number.isNaN)
    ? "one of them is no number"
    : typed.some((one) => one <= 0)
      ? "each must be above 0°"
      : typed.length !== tool.flutes
        ? `${typed.length} angles for ${tool.flutes} teeth`
        : Math.abs(sum - 360) > 0.01
          ? `they add up to ${short(sum)}°, and not to 360°`
          : "";
  const edges = wrong ? [] : edgesOf(tool.flutes, typed, 0, tool.cut);
  const marks = edges.map((edge, step) => {
    const [x, y] = at(CX, CY, 106, edge + (tool.cut * typed[step]) / 2);
    return [trail([at(CX, CY, 30, edge), at(CX, CY, 95, edge)], "mark thin"), tool.flutes <= 8 ? words(x, y + 5, `${short(typed[step])}°`, "name", Math.abs(x - CX) < 30 ? "middle" : x > CX ? "start" : "end") : null];
  });
  return { parts: [fromEnd(tool, wrong ? {} : { spacing: typed, land_deg: tool.land_deg || Math.min(...typed) * 0.5 }), marks, words(CX, 234, FROM, "small")], wrong, text: "from each edge to the next" };
}

/** The circles of all features, the one that is meant in the accent colour. */
function diameter(tool, raw, which) {
  const all = tool.features.map((feature) => tool.length(feature.diameter_mm, 20) / 2);
  const inner = which === "least_diameter_mm" ? tool.length(tool.feature.least_diameter_mm, tool.R * 1.9) / 2 : tool.R;
  const k = 84 / Math.max(...all, tool.R, inner);
  const r = inner * k;
  const wrong = which === "least_diameter_mm" && inner > tool.R ? `it is larger than the diameter of now, ${short((tool.R * 2) / tool.mm)}` : "";
  const y = CY + 90;
  return {
    parts: [
      tool.axial ? [circle(CX, CY, 84, "metal"), circle(CX, CY, 3, "ink")] : endView({ cx: CX, cy: CY - 12, r: tool.R * k, flutes: tool.flutes, cut: tool.cut, land_deg: tool.land_deg, relief_deg: tool.relief_deg }),
      all.filter((one) => one !== tool.R).map((one) => circle(CX, CY - 12, one * k, "circle")),
      circle(CX, tool.axial ? CY : CY - 12, tool.axial ? r * 0.82 : r, "mark"),
      tool.axial
        ? [dimension(CX - r * 0.82, CY, CX + r * 0.82, CY)]
        : [line(CX - r, CY - 12, CX - r, y, "witness"), line(CX + r, CY - 12, CX + r, y, "witness"), dimension(CX - r, y - 6, CX + r, y - 6)],
      scaleBar(14, 30, tool.axial ? (84 * 0.82) / tool.R : k, tool.mm > 1),
    ],
    label: tool.axial ? [CX, CY - 8] : [CX, 228],
    wrong,
    text: tool.axial ? "the circle that the probe follows on the end" : which === "least_diameter_mm" ? "regrinding may bring it down to this" : "of the circle that the edges run on",
  };
}

/** The tool from the side, with its features from small to large and a probe on the one that is meant. */
function fromSide(tool, { face_deg = 90, taper = 0, probed = true, front = 300 } = {}) {
  const sizes = tool.features.map((feature) => ({ feature, R: tool.length(feature.diameter_mm, 20) / 2 })).sort((one, other) => one.R - other.R);
  const most = Math.max(...sizes.map((one) => one.R), tool.R);
  const k = 62 / most;
  const long = Math.max(34, 120 / Math.max(1, sizes.length));
  const sections = sizes.map((one) => ({ length: long, d: Math.max(10, one.R * 2 * k), teeth: true }));
  sections.push({ length: 200, d: Math.max(12, Math.min(40, sections.at(-1).d * 0.6)), round: true });
  const place = sizes.findIndex((one) => one.feature === tool.feature);
  const back = long * Math.max(0, place);
  const y = 128;
  const here = tool.axial ? [front - back, y - tool.R * k * (sizes.length > 1 || most !== tool.R ? 0.85 : 0.7)] : [front - back - long / 2, y - tool.R * k];
  const touch = probed ? (tool.axial ? [probe(here[0], here[1], 1, 0, { long: 50 })] : [probe(here[0], here[1], 0, -1, { long: 56 })]) : [];
  return { parts: [sideView({ front, y, sections, face_deg, taper }), touch, words(44, 206, "drive", "small"), words(front - 4, 206, "front", "small")], here, k, y, front, long };
}

function surface(tool) {
  const view = fromSide(tool, { front: tool.axial ? 284 : 300 });
  const [x, y] = view.here;
  const arrows = tool.axial ? travel(x + 8, y - 22, 1, 0) : travel(x + 26, y - 14, 0, -1);
  return { parts: [view.parts, arrows], text: tool.axial ? "touched on its end, along the axis" : "touched from the side, along a radius" };
}

function face(tool, raw, name) {
  const angle = name === "face_deg" ? usable(raw, 90, { least: 20, most: 160 }) : 90 - Math.abs(usable(raw, 0, { least: -70, most: 70 }));
  const view = fromSide(tool, { face_deg: angle, probed: false, front: 276 });
  const turned = (angle * Math.PI) / 180;
  const end = [view.front - 96 * Math.cos(turned), view.y - 96 * Math.sin(turned)];
  return {
    parts: [view.parts, line(view.front, view.y, end[0], end[1], "mark"), arcDimension(view.front, view.y, 52, -90, -90 + angle)],
    label: [Math.min(260, view.front - 20), 24],
    text: "between the end and the tool’s axis; 90° is square",
  };
}

function taper(tool, raw, name, ends) {
  const shown = ends.min !== null || ends.max !== null ? (ends.min ?? ends.max) : 0.5;
  const drawn = Math.tan((Math.max(-20, Math.min(20, shown * 6)) * Math.PI) / 180);
  const view = fromSide({ ...tool, features: [tool.feature] }, { taper: drawn, probed: false });
  const top = view.y - tool.R * view.k;
  return {
    parts: [view.parts, line(view.front, top, view.front - 150, top, "witness"), dimension(view.front - 118, top, view.front - 118, top + drawn * 118)],
    label: [view.front - 70, 40],
    text: "smaller towards the shank; drawn six times as steep",
  };
}

function feed(tool, raw) {
  const view = fromSide(tool, { probed: false, front: 250 });
  const step = Math.max(3, Math.min(70, tool.length(raw, 0.1, -1e-9) * view.k * 3));
  return {
    parts: [view.parts, line(view.front + step, view.y - 60, view.front + step, view.y + 60, "mark dashed"), dimension(view.front, 40, view.front + step, 40), line(view.front, 40, view.front, view.y - 30, "witness"), line(view.front + step, 40, view.front + step, view.y, "witness")],
    label: [view.front - 30, 28],
    text: "so far the tool goes into the work in a turn; drawn larger",
  };
}

/** A tooth in section with a land of the family that is chosen. */
function section(tool, { shown, fall, land } = {}) {
  const window_ = shown || Math.min(tool.R * 1.3, Math.max(tool.land * 0.6, tool.check * 3, tool.R * 0.3));
  const curve = fall || fallOf(tool.curve, tool.relief_deg, tool.R, land || tool.land);
  const view = tooth({ cut: tool.cut, R: tool.R, land: land || tool.land, shown: window_, fall: curve });
  const way = [turning(CX, 2000, 1955, tool.cut * -1.4, tool.cut * 1.4, "cut"), words(CX, 40, "cuts", "small")];
  return { ...view, parts: [view.parts, way, scaleBar(tool.cut > 0 ? 14 : 290, 26, view.k, tool.mm > 1)], shown: window_ };
}

/** A dimension along the edge circle, from one place behind the edge to another, above the tooth. */
function behind(tool, view, from, to) {
  const up = -20 / view.k;
  const [a, b] = [view.place(from, up), view.place(to, up)];
  const witness = (s) => line(...view.place(s, view.fall(s)), ...view.place(s, up * 1.3), "witness");
  const cy = view.ey + tool.R * view.k;
  const r = tool.R * view.k + 20;
  const deg = (s) => (-tool.cut * (s / tool.R) * 180) / Math.PI;
  return { parts: [witness(from), witness(to), arcDimension(view.ex, cy, r, deg(from), deg(to))], label: [Math.max(110, Math.min(250, (a[0] + b[0]) / 2)), Math.max(22, Math.min(a[1], b[1]) - 12)] };
}

function check(tool) {
  const around = (2 * Math.PI * tool.R) / tool.flutes;
  const wrong = tool.check >= around ? `it reaches the next edge, which is ${short(around / tool.mm)} away` : "";
  const far = Math.min(tool.check, around);
  const view = section({ ...tool, check: far });
  const mark = behind(tool, view, 0, far);
  const drop = view.fall(far);
  return { parts: [view.parts.slice(0, 1), view.parts[2], mark.parts, wrong ? null : line(...view.place(far, 0), ...view.place(far, drop), "mark")], label: mark.label, wrong, text: "so far behind the edge, along the arc, the drop is read" };
}

function land(tool, raw, name) {
  const deg = usable(raw, landOf(tool.pitch, null), { above: 0, most: 360 });
  const wrong = deg >= tool.pitch && tool.flutes > 1 ? `the next edge stands ${short(tool.pitch)}° behind this one` : "";
  const drawn = Math.min(deg, tool.pitch * 0.94);
  const full = name === "land_deg" ? deg : tool.land_deg;
  return {
    parts: [fromEnd({ ...tool, land_deg: full }), trail(along(CX, CY, 90, 0, -tool.cut * drawn), "mark thick"), arcDimension(CX, CY, 100, 0, -tool.cut * drawn), words(CX, 234, FROM, "small")],
    label: place(tool, -drawn / 2),
    anchor: Math.abs(Math.sin((drawn / 2) * (Math.PI / 180))) < 0.3 ? "middle" : tool.cut > 0 ? "end" : "start",
    wrong,
    text: name === "land_deg" ? "behind each edge, from the edge to the heel" : "regrinding on the face may leave no less",
  };
}

function place(tool, deg) {
  const [x, y] = at(CX, CY, 112, tool.cut * deg);
  return [x, Math.max(16, Math.min(226, y + 5))];
}

function sharpened(tool) {
  const view = section(tool);
  const onFace = tool.feature.sharpened_on === "face";
  const off = tool.land * 0.08;
  const strip = onFace
    ? [view.place(0, 0), view.place(off, view.fall(off)), [view.place(off, 0)[0], 250], [view.ex - tool.cut * 5, 250]]
    : [...[0, 0.2, 0.4, 0.6, 0.8, 1].map((share) => view.place(share * view.heel[0], view.fall(share * view.heel[0]))), ...[1, 0.8, 0.6, 0.4, 0.2, 0].map((share) => view.place(share * view.heel[0], view.fall(share * view.heel[0]) + 12 / view.k))];
  return { parts: [view.parts, polygon(strip, "taken")], text: onFace ? "the face goes back: the land keeps its form" : "the land is ground: it is new behind the edge" };
}

function curve(tool) {
  const view = section({ ...tool, check: 0.01 }, { shown: Math.min(tool.R * 1.2, tool.land * 1.05) });
  const places = Array.from({ length: 41 }, (_, step) => view.place((view.heel[0] * step) / 40, view.fall((view.heel[0] * step) / 40)));
  const said = { auto: "found from the trace", flat: "a straight land", arc: "a land that is part of a circle", spiral: "falls by the same for each degree", "log-spiral": "the same relief angle everywhere", cam: "falls, stands, and comes back", facets: "two flat lands, one behind the other", free: "none of the families" };
  return { parts: [view.parts, trail(places, "mark")], text: `${said[tool.curve] || ""}: the land behind the edge` };
}

/** Limits of a land: what is allowed, drawn on the tooth. */
const LIMITS = {
  relief_angle_deg: (tool, ends) => {
    const view = section(tool);
    const deg = ends.max ?? ends.min ?? tool.relief_deg;
    const ray = (angle, long) => {
      const turned = (angle * Math.PI) / 180;
      return [view.ex - tool.cut * long * Math.cos(turned), view.ey + long * Math.sin(turned)];
    };
    const both = ends.min !== null && ends.max !== null;
    const wedge = both ? polygon([[view.ex, view.ey], ray(ends.min, 190), ray(ends.max, 190)], "allowed") : null;
    const side = tool.cut > 0 ? -90 : 90;
    return { parts: [view.parts, wedge, line(view.ex, view.ey, ...ray(0, 200), "witness"), line(view.ex, view.ey, ...ray(deg, 190), "mark"), arcDimension(view.ex, view.ey, 130, side, side - tool.cut * deg)], label: [CX, 66], text: "from the direction of motion down to the land, at the edge" };
  },
  drop_mm: (tool, ends) => heightAt(tool, ends, tool.check, "from the edge circle down to the land, at the check distance"),
  total_relief_mm: (tool, ends) => heightAt(tool, ends, tool.land * 0.98, "the greatest fall on the land, from the edge circle", tool.land * 1.1),
  heel_clearance_mm: (tool, ends) => heightAt(tool, ends, tool.land * 0.98, "the edge stands so much higher than what follows it", tool.land * 1.1),
  wear_land_mm: (tool, ends) => {
    const wide = ends.max ?? ends.min ?? 0.02 / tool.mm;
    const w = Math.max(1e-4, wide * tool.mm);
    const shown = Math.max(w * 5, tool.R * 0.02);
    const view = section(tool, { shown, land: shown * 2, fall: (s) => (s < w ? 0 : Math.tan((tool.relief_deg * Math.PI) / 180) * (s - w)) });
    const mark = behind(tool, view, 0, w);
    return { parts: [view.parts[0], view.parts[2], mark.parts], label: mark.label, text: "the width behind the edge that has no relief" };
  },
  primary_width_mm: (tool, ends) => {
    const w = Math.max(1e-3, (ends.max ?? ends.min ?? 0.5 / tool.mm) * tool.mm);
    const view = section(tool, { shown: w * 3, land: w * 5, fall: twoFacets(tool, w, 18) });
    const mark = behind(tool, view, 0, w);
    return { parts: [view.parts[0], view.parts[2], mark.parts], label: mark.label, text: "from the edge to where the second facet begins" };
  },
  secondary_angle_deg: (tool, ends) => {
    const deg = Math.max(-60, Math.min(70, ends.max ?? ends.min ?? 18));
    const w = tool.R * 0.1;
    const view = section(tool, { shown: w * 3, land: w * 5, fall: twoFacets(tool, w, deg) });
    const [x, y] = view.place(w, view.fall(w));
    const ray = (angle, long) => [x - tool.cut * long * Math.cos((angle * Math.PI) / 180), y + long * Math.sin((angle * Math.PI) / 180)];
    const side = tool.cut > 0 ? -90 : 90;
    const turned = (w / tool.R) * (180 / Math.PI);
    return { parts: [view.parts, line(x, y, ...ray(turned, 150), "witness"), line(x, y, ...ray(turned + deg, 140), "mark"), arcDimension(x, y, 100, side - tool.cut * turned, side - tool.cut * (turned + deg))], label: [CX, 66], text: "of the second facet, to the direction of motion where it begins" };
  },
  edge_radius_mm: (tool, ends) => {
    const r = Math.max(1e-4, (ends.max ?? ends.min ?? 0.01 / tool.mm) * tool.mm);
    const k = 46 / r;
    const [x, y] = [CX + tool.cut * 50, 100];
    const arc = along(x - tool.cut * 46, y + 46, 46, 0, tool.cut * 90);
    return { parts: [polygon([[CX - tool.cut * 150, y + 18], ...arc, [x, 260], [CX - tool.cut * 150, 260]], "metal"), trail(arc, "mark thick"), circle(x - tool.cut * 46, y + 46, 46, "circle"), dimension(x - tool.cut * 46, y + 46, ...at(x - tool.cut * 46, y + 46, 46, tool.cut * 45)), scaleBar(tool.cut > 0 ? 14 : 286, 26, k, tool.mm > 1)], label: [CX, 80], text: "the rounding of the edge itself" };
  },
  edge_spread_mm: (tool) => ({
    parts: [fromEnd(tool), circle(CX, CY, 84, "mark"), circle(CX, CY, 92, "mark dashed"), dimension(...at(CX, CY, 84, 45), ...at(CX, CY, 92, 45)), words(CX, 234, FROM, "small")],
    label: [330, 30],
    anchor: "end",
    text: "the highest edge stands so much above the lowest; drawn larger",
  }),
  flute_spacing_deg: (tool, ends) => {
    const deg = Math.max(3, Math.min(tool.pitch / 2, ends.max ?? ends.min ?? 0.3));
    const wanted = tool.cut * tool.pitch;
    return { parts: [fromEnd(tool), polygon([[CX, CY], ...along(CX, CY, 98, wanted - deg, wanted + deg)], "allowed"), trail([[CX, CY], at(CX, CY, 102, wanted)], "mark dashed"), words(CX, 234, FROM, "small")], label: [CX, 18], text: `so far an edge may stand from equal spacing${deg === 3 ? "; drawn larger" : ""}` };
  },
  back_taper_deg: (tool, ends) => taper(tool, null, "back_taper_deg", ends),
  face_angle_deg: (tool, ends) => face({ ...tool, axial: true }, ends.max ?? ends.min, "face_angle_deg"),
};

const twoFacets = (tool, w, deg) => {
  const first = (s) => tool.R - (tool.R * Math.cos((tool.relief_deg * Math.PI) / 180)) / Math.cos((tool.relief_deg * Math.PI) / 180 - s / tool.R);
  return (s) => (s < w ? first(s) : first(w) + (s - w) * Math.tan((deg * Math.PI) / 180));
};

/** A height from the edge circle inwards, so far behind the edge, with what is allowed as a band. */
function heightAt(tool, ends, s, text, shown) {
  const view = section(tool, shown ? { shown: Math.min(tool.R * 1.4, shown) } : {});
  const there = Math.min(s, view.heel[0]);
  const value = (ends.max ?? ends.min ?? null) === null ? view.fall(there) : (ends.max ?? ends.min) * tool.mm;
  const [a, b] = [view.place(there, 0), view.place(there, value)];
  const low = view.place(there, (ends.min ?? 0) * tool.mm);
  const band = ends.min !== null && ends.max !== null ? polygon([[a[0] - 26, low[1]], [a[0] + 26, low[1]], [a[0] + 26, b[1]], [a[0] - 26, b[1]]], "allowed") : null;
  return { parts: [view.parts, band, dimension(...a, ...b)], label: [Math.max(120, Math.min(240, a[0])), 66], text };
}

/** The whole tool: from the side, and from its driven end. */
export function whole(tool) {
  const side = fromSide(tool, { front: 214, probed: false });
  return { parts: [side.parts, endView({ cx: 296, cy: 118, r: 50, flutes: tool.flutes, cut: tool.cut, land_deg: tool.land_deg, relief_deg: tool.relief_deg }), turning(296, 118, 64, tool.cut * -30, tool.cut * 40, "cut"), words(296, 206, "from the drive", "small")], text: "the whole tool", whole: true };
}

const FIELDS = { hand, flutes, diameter_mm: diameter, least_diameter_mm: diameter, surface, check_distance_mm: check, land_deg: land, least_land_deg: land, sharpened_on: sharpened, feed_mm_per_rev: feed, face_deg: face, curve };

/** The sketch of a field of a tool card. */
export function sketch({ values, path, raw, mm, unit }) {
  const tool = { ...toolOf(values, path, mm), mm };
  if (path[2] === "limits" && LIMITS[path[3]]) {
    const ends = tool.ends(path[3]);
    const made = LIMITS[path[3]](tool, ends);
    const wrong = ends.min !== null && ends.max !== null && ends.min > ends.max ? "the least is above the most" : "";
    return { ...made, wrong, said: limitWords(ends, unit) };
  }
  const last = path.at(-1);
  if (last === "spacing_deg") return spacing(tool, raw);
  return FIELDS[last] ? FIELDS[last](tool, raw, last) : whole(tool);
}
