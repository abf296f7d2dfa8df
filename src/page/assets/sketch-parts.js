// The parts that sketches show: a tool from its driven end and from the side, a tooth in section, a probe.

import { along, arrow, at, box, circle, eye, line, polygon, trail, words } from "/assets/svg.js";

const RAD = Math.PI / 180;

/** Where the edges stand, from the first on, going with the cut. */
export function edgesOf(flutes, spacing, first, cut) {
  const whole = spacing && spacing.length === flutes ? spacing : Array(flutes).fill(360 / flutes);
  let here = first;
  return whole.map((pitch) => {
    const edge = here;
    here += cut * pitch;
    return edge;
  });
}

/**
 * A tool seen from its driven end. `cut` is 1 where it cuts clockwise, −1 where counter-clockwise:
 * each land falls away behind its edge.
 */
export function endView({ cx, cy, r, flutes, cut, spacing = null, first = 0, land_deg = null, relief_deg = 8, kind = "metal" }) {
  const edges = edgesOf(flutes, spacing, first, cut);
  const root = flutes > 12 ? 0.8 : flutes > 6 ? 0.7 : 0.56;
  const outline = [];
  // Against the cut from each edge: its land, then the gullet before the tooth that follows.
  for (let number = edges.length - 1; number >= 0; number -= 1) {
    const pitch = Math.abs(number > 0 ? edges[number] - edges[number - 1] : 360 - Math.abs(edges.at(-1) - edges[0])) || 360;
    const land = landOf(pitch, land_deg);
    const edge = edges[number];
    const steps = Math.max(3, Math.ceil(land / 4));
    for (let step = 0; step <= steps; step += 1) {
      const behind = (land * step) / steps;
      outline.push(at(cx, cy, r * Math.max(root + 0.05, 1 - Math.tan(relief_deg * RAD) * behind * RAD), edge - cut * behind));
    }
    const gullet = pitch - land;
    outline.push(...along(cx, cy, r * root, edge - cut * (land + gullet * 0.3), edge - cut * pitch));
  }
  return [polygon(outline, kind, { "data-edges": edges.map((edge) => Math.round(edge * 10) / 10).join(" ") }), circle(cx, cy, 3, "ink")];
}

/** The arc of a land that is drawn: the one that is said, else about half of what there is. */
export const landOf = (pitch, land_deg) => Math.min(land_deg || Math.min(pitch * 0.58, 150), pitch * 0.94);

/** How far a land of each family falls, in mm, so far behind the edge: `s` of `land`, on this radius. */
export function fallOf(curve, relief_deg, R, land) {
  const slope = Math.tan(relief_deg * RAD);
  const whole = slope * land;
  const flat = (s, deg) => R - (R * Math.cos(deg * RAD)) / Math.cos(deg * RAD - s / R);
  return {
    flat: (s) => flat(s, relief_deg),
    arc: (s) => slope * s - (s * s) / (5 * R),
    spiral: (s) => slope * s,
    "log-spiral": (s) => R * (1 - Math.exp((-slope * s) / R)),
    cam: (s) => (s < land * 0.55 ? (whole * 0.6 * (1 - Math.cos((Math.PI * s) / (land * 0.55)))) / 2 : s < land * 0.8 ? whole * 0.6 : whole * (0.6 - (0.35 * (1 - Math.cos((Math.PI * (s - land * 0.8)) / (land * 0.2)))) / 2)),
    facets: (s) => (s < land * 0.3 ? flat(s, relief_deg) : flat(land * 0.3, relief_deg) + (s - land * 0.3) * Math.tan((relief_deg + 10) * RAD) - (s - land * 0.3) ** 2 / (2 * R)),
    free: (s) => slope * s + whole * 0.06 * Math.sin((9 * s) / land),
  }[curve] || ((s) => slope * s);
}

/** A tooth in section, from the edge backwards, in dots: places on its land and on the edge circle. */
export function tooth({ cut, R, land, shown, fall, wide = 270, edge_y = 84, mid = 180 }) {
  const k = wide / shown;
  const ex = mid + (cut * wide) / 2;
  const place = (s, drop) => {
    const turned = s / R;
    const r = (R - drop) * k;
    return [ex - cut * r * Math.sin(turned), edge_y + R * k - r * Math.cos(turned)];
  };
  const upTo = Math.min(land, shown * 1.3);
  const steps = Array.from({ length: 61 }, (_, step) => (upTo * step) / 60);
  const top = steps.map((s) => place(s, fall(s)));
  const heel = top.at(-1);
  const outline = [[ex - cut * 5, 260], [ex, edge_y], ...top, ...(land < shown * 1.3 ? [[heel[0] + cut * 14, heel[1] + 60], [heel[0] + cut * 10, 260]] : [[heel[0], 260]])];
  const round = Array.from({ length: 61 }, (_, step) => place((shown * 1.3 * step) / 60, 0));
  return { k, ex, ey: edge_y, place, fall, heel: [upTo, heel], parts: [polygon(outline, "metal"), trail(round, "circle")] };
}

/** A probe that touches at a place and comes from (dx, dy); the ball to this many dots. */
export function probe(x, y, dx, dy, { shape = "ball", r = 6, long = 62, lever_deg = 0 } = {}) {
  const parts = [];
  const stem = Math.max(4, Math.min(9, r * 0.9));
  const far = (along_, across) => [x + dx * along_ - dy * across, y + dy * along_ + dx * across];
  if (shape === "ball") parts.push(circle(...far(r, 0), r, "stylus"));
  const from = shape === "ball" ? r * 2 - 1 : 0;
  if (shape === "flat") parts.push(polygon([far(0, -r), far(0, r), far(7, r), far(7, -r)], "stylus"));
  if (shape === "point") parts.push(polygon([far(0, 0), far(12, stem / 2), far(12, -stem / 2)], "stylus"));
  const start = shape === "ball" ? from : shape === "flat" ? 7 : 12;
  parts.push(polygon([far(start, -stem / 2), far(start, stem / 2), far(long * 0.55, stem / 2), far(long * 0.55, -stem / 2)], "stylus"));
  parts.push(polygon([far(long * 0.55, -8), far(long * 0.55, 8), far(long, 8), far(long, -8)], "barrel"));
  return lever_deg ? parts : parts;
}

/**
 * A tool from the side, its front at `front` and its driven end at the left. `sections` go from the
 * front backwards, each with its length and diameter in dots; the first may have a face at an angle.
 */
export function sideView({ front, y, sections, left = 60, face_deg = 90, taper = 0, person = true }) {
  const parts = [];
  let x = front;
  sections.forEach((section, number) => {
    const half = section.d / 2;
    const back = Math.max(left, number === sections.length - 1 && !section.short ? left : x - section.length);
    const lean = number === 0 ? Math.max(-30, Math.min(half * 0.9, half / Math.tan(face_deg * RAD))) : 0;
    const less = taper && number === 0 ? taper * (x - back) : 0;
    const rim = x - lean;
    const outline = [[rim, y - half], [x, y], [rim, y + half], [back, y + half - less], [back, y - half + less]];
    parts.push(polygon(outline, section.round ? "metal round" : "metal"));
    if (section.teeth) for (const share of [0.25, 0.55, 0.82]) parts.push(line(rim - 2 - (rim - back) * (share - 0.2), y - half * 0.95, rim - (rim - back) * share, y + half * 0.95, "flute"));
    x = back;
  });
  const tall = Math.max(34, Math.min(80, Math.max(...sections.map((section) => section.d)) * 0.9));
  parts.unshift(box(left - 30, y - tall / 2, 32, tall, "holder"));
  parts.push(line(left - 40, y, front + 22, y, "axis"));
  if (person) parts.push(eye(14, y));
  return parts;
}

/** What stands under the eye. */
export const youAreHere = (y) => words(2, y, "you", "small", "start");

/** The arrow that a probe moves along. */
export const travel = (x, y, dx, dy) => arrow(x + dx * 20, y + dy * 20, x, y);
