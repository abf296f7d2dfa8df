// The turn drawn round: what is read, each land with its sign and its limit, what is covered, and where to turn.

import { colour } from "/assets/dom.js";

/** Room outside the ring for the pointer, the arrow and the marks of what is missing: the least, and the share. */
const ROOM = [25, 0.08];
/** Of the ring's radius heights take so much at most. */
const DEEP = 0.42;
/** Of a feature no more than this is drawn, in µm: a gap between lands would leave nothing to see. */
const REACH = 500;
/** A round by itself would otherwise show nothing but its noise, in µm. */
const LEAST = 40;
export const SIGNS = { pass: "✓", fail: "✕", undecided: "?" };

let canvas = null;
let pen = null;
let wide = 0;
let high = 0;
let size = 0;
let ratio = 1;
let sense = 1;
/** How many times heights are drawn larger than the round, or how many µm the scale goes down. */
let scale = { times: null, um: null };

/** Takes a canvas; it is drawn as large as the style sheet makes it. */
export function open(place) {
  canvas = place;
  pen = canvas.getContext("2d");
  wide = 0;
}

function fit() {
  const box = canvas.getBoundingClientRect();
  const dots = window.devicePixelRatio || 1;
  const [w, h] = [Math.round(box.width), Math.round(box.height)];
  if (w !== wide || h !== high || dots !== ratio) {
    [wide, high, ratio] = [w, h, dots];
    canvas.width = Math.round(w * ratio);
    canvas.height = Math.round(h * ratio);
  }
  size = Math.min(wide, high);
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.clearRect(0, 0, wide, high);
}

/** Angle 0 is on top; the pointer runs the way that the hand turns, seen from the driven end. */
const bearing = (turns) => 2 * Math.PI * sense * turns - Math.PI / 2;
const at = (radius, turns) => [wide / 2 + radius * Math.cos(bearing(turns)), high / 2 + radius * Math.sin(bearing(turns))];

function arc(radius, from, to) {
  pen.beginPath();
  pen.arc(wide / 2, high / 2, radius, bearing(from), bearing(to), sense < 0);
}

/** A larger text with what it stands on made plain behind it. */
function text(words, x, y, font, ink) {
  pen.font = font;
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.lineWidth = 4;
  pen.lineJoin = "round";
  pen.strokeStyle = colour("paper");
  pen.strokeText(words, x, y);
  pen.fillStyle = colour(ink);
  pen.fillText(words, x, y);
}

/** Draws the turn; gives in words how much heights are enlarged. */
export function draw(turn, moving, soFar, done, { feature, diameter_mm, wrong, wanted }) {
  fit();
  if (size < 60) return "";
  sense = wanted.mirrored ? -1 : 1;
  const outer = size / 2 - Math.max(ROOM[0], Math.min(34, size * ROOM[1]));
  const flutes = (feature && soFar && soFar.flutes) || [];
  const inner = outer - 14;
  cover(turn, outer, wrong);
  const shape = heights(turn, inner, flutes, feature, diameter_mm);
  if (shape) {
    profile(turn, inner, shape);
    for (const flute of flutes) land(flute, turn, inner, shape);
  }
  for (const flute of flutes) number(flute, inner, flutes.length);
  if (moving.to_go) missing(moving.to_go, outer);
  if (turn.angle !== null) {
    hand(turn.angle / 360, outer + 8);
    if (wanted.arrow) arrow(turn.angle / 360, size / 2 - 11, wanted.arrow, wrong);
  }
  words(moving, done, flutes, wrong);
  return said();
}

/** A ring: thin where nothing was read, half full after one pass, full when it is enough; not green
    while the tool turns the wrong way. */
function cover(turn, radius, wrong) {
  const places = turn.places || 1;
  pen.lineWidth = 1;
  pen.strokeStyle = colour("line");
  arc(radius, 0, 1);
  pen.stroke();
  const run = (from, to, enough) => {
    arc(radius, from / places, to / places);
    pen.lineWidth = enough ? 10 : 4;
    pen.strokeStyle = colour(wrong ? "line" : enough ? "enough" : "once");
    pen.stroke();
  };
  const level = (place) => (turn.passes[place] >= turn.wanted ? 2 : turn.passes[place] > 0 ? 1 : 0);
  let from = 0;
  for (let place = 1; place <= turn.places; place += 1) {
    if (place < turn.places && level(place) === level(from)) continue;
    if (level(from) > 0) run(from, place, level(from) === 2);
    from = place;
  }
}

/** What is missing at the end: a bracket round it, and how wide it is. */
function missing(left, outer) {
  for (const [from, width] of left.arcs) {
    // Narrow arcs are marked wider than they are, or nobody would see them.
    const more = Math.max(0, 3 - width) / 2;
    const [a, b] = [(from - more) / 360, (from + width + more) / 360];
    pen.strokeStyle = colour("notice");
    pen.lineWidth = 5;
    arc(outer + 9, a, b);
    pen.stroke();
    for (const end of [a, b]) {
      pen.beginPath();
      pen.moveTo(...at(outer - 9, end));
      pen.lineTo(...at(outer + 11, end));
      pen.stroke();
    }
  }
  // The widest is named; with several the instruction says what they come to.
  const [from, width] = left.arcs.reduce((one, other) => (other[1] > one[1] ? other : one));
  text(`${Math.max(1, Math.round(width))}°`, ...at(size / 2 - 10, (from + width / 2) / 360), "700 15px system-ui, sans-serif", "notice");
}

/** The highest reading, the lowest that is drawn, and the scale between them. */
function heights(turn, outer, flutes, feature, diameter_mm) {
  let low = Infinity;
  let top = -Infinity;
  for (let place = 0; place < turn.places; place += 1) {
    if (turn.least[place] < low) low = turn.least[place];
    if (turn.most[place] > top) top = turn.most[place];
  }
  if (!(top >= low)) return null;
  if (feature) {
    const lowest = flutes.map((flute) => edgeHeight(flute, turn) - 1000 * Math.max(...flute.land.map(([, drop]) => drop), 0)).filter((one) => !Number.isNaN(one));
    low = Math.max(low, lowest.length ? Math.min(...lowest) - 10 : top - REACH);
  }
  const span = Math.max(top - low, LEAST);
  const most = (outer * DEEP) / span;
  const radius_mm = diameter_mm ? diameter_mm / 2 : null;
  scale = { times: null, um: Math.round(span) };
  let px_um = most;
  if (radius_mm) {
    // Round numbers of times, so that the picture does not breathe with each reading.
    const life = outer / (radius_mm * 1000);
    const decade = 10 ** Math.floor(Math.log10(most / life));
    const times = [5, 2, 1].map((one) => one * decade).find((one) => one * life <= most) || decade;
    px_um = times * life;
    scale = { times, um: null };
  }
  const deepest = outer * (1 - DEEP * 1.1);
  return { top, radius: (um) => Math.max(deepest, outer - (top - um) * px_um), bottom: outer * (1 - DEEP * 1.25) };
}

const said = () => (scale.times ? `heights ${scale.times}× enlarged` : scale.um ? `the ring is ${scale.um} µm deep` : "");

const edgeHeight = (flute, turn) => {
  const place = Math.floor((((flute.edge_deg % 360) + 360) % 360) / 360 * turn.places) % turn.places;
  for (const near of [0, 1, 2, -1]) {
    const most = turn.most[(place + near + turn.places) % turn.places];
    if (!Number.isNaN(most)) return most;
  }
  return NaN;
};

/** What was read, least and greatest at each place, heights much enlarged. */
function profile(turn, outer, { radius, bottom }) {
  pen.lineJoin = "round";
  const half = 0.5 / turn.places;
  pen.fillStyle = colour("metal");
  pen.strokeStyle = colour("ink");
  pen.lineWidth = 1.5;
  let from = -1;
  const read = (place) => place < turn.places && !Number.isNaN(turn.most[place]);
  for (let place = 0; place <= turn.places; place += 1) {
    // A place or two that were passed too fast are holes in the ring, not in the picture.
    const known = read(place) || (from >= 0 && (read(place + 1) || read(place + 2)));
    if (known && from < 0) from = place;
    if (known || from < 0) continue;
    pen.beginPath();
    for (let i = from; i < place; i += 1) {
      if (Number.isNaN(turn.most[i])) continue;
      const [x, y] = at(radius(turn.most[i]), i / turn.places + half);
      if (i === from) pen.moveTo(x, y);
      else pen.lineTo(x, y);
    }
    pen.stroke();
    for (let i = place - 1; i >= from; i -= 1) pen.lineTo(...at(bottom, i / turn.places + half));
    pen.closePath();
    pen.fill();
    from = -1;
  }
}

/** A land as it is judged so far: its own line, how it stands, and where it may not be. */
function land(flute, turn, outer, { radius }) {
  const edge = edgeHeight(flute, turn);
  if (Number.isNaN(edge)) return;
  const kind = flute.verdict || "undecided";
  pen.strokeStyle = colour(kind);
  pen.lineWidth = 5;
  pen.beginPath();
  flute.land.forEach(([deg, drop], i) => {
    const [x, y] = at(Math.min(outer + 4, radius(edge - 1000 * drop)), (flute.edge_deg + deg) / 360);
    if (i === 0) pen.moveTo(x, y);
    else pen.lineTo(x, y);
  });
  pen.stroke();
  if (!flute.least) return;
  // Above the dashed line the work would be met.
  pen.strokeStyle = colour("limit");
  pen.lineWidth = 2;
  pen.setLineDash([6, 4]);
  pen.beginPath();
  const [[from, first], [to, last]] = flute.least;
  const steps = Math.max(2, Math.ceil((to - from) / 2));
  for (let step = 0; step <= steps; step += 1) {
    const share = step / steps;
    const [x, y] = at(Math.min(outer + 4, radius(edge - 1000 * (first + (last - first) * share))), (flute.edge_deg + from + (to - from) * share) / 360);
    if (step === 0) pen.moveTo(x, y);
    else pen.lineTo(x, y);
  }
  pen.stroke();
  pen.setLineDash([]);
}

/** The number of a flute and how it stands so far, at the middle of its land. */
function number(flute, outer, count) {
  const kind = flute.verdict || "undecided";
  const radius = outer * (size < 300 ? 0.5 : 0.43);
  const place = at(radius, (flute.edge_deg + flute.land_deg / 2) / 360);
  // Of many flutes each has as much room as the circle leaves it.
  const room = (2 * Math.PI * radius) / count / 2.6;
  text(`${flute.flute}${SIGNS[kind]}`, ...place, `700 ${Math.round(Math.max(11, Math.min(28, size / 17, room)))}px system-ui, sans-serif`, kind);
}

/** Where the stylus is now. */
function hand(turns, radius) {
  pen.fillStyle = colour("accent");
  pen.beginPath();
  const half = 11 / (2 * Math.PI * radius);
  pen.moveTo(...at(radius - 6, turns));
  pen.lineTo(...at(radius + 14, turns - half));
  pen.lineTo(...at(radius + 14, turns + half));
  pen.closePath();
  pen.fill();
}

/** The way to turn on from there: `growing` is 1 where angles grow, else -1. */
function arrow(turns, radius, growing, wrong) {
  const [from, to] = [turns + growing * 0.035, turns + growing * 0.15];
  pen.strokeStyle = colour(wrong ? "fail" : "accent");
  pen.fillStyle = pen.strokeStyle;
  pen.lineWidth = 7;
  pen.beginPath();
  pen.arc(wide / 2, high / 2, radius, bearing(from), bearing(to), sense * growing < 0);
  pen.stroke();
  pen.beginPath();
  // A head as long as it is wide, whatever the ring's size.
  const long = 22 / (2 * Math.PI * radius);
  pen.moveTo(...at(radius, to + growing * long));
  pen.lineTo(...at(radius + 12, to));
  pen.lineTo(...at(radius - 12, to));
  pen.closePath();
  pen.fill();
}

/** How far the trace is, in all the passes that are wanted. */
function words(moving, done, flutes, wrong) {
  const percent = `${Math.floor(done * 100)} %`;
  if (moving.phase === "turning") {
    const y = high / 2;
    const crowded = flutes.length > 8;
    if (wrong) text("✕", wide / 2, y - size / 60, `700 ${Math.round(size / 9)}px system-ui, sans-serif`, "fail");
    else {
      const small = size < 300 || crowded;
      text(percent, wide / 2, small ? y : y - size / 40, `700 ${Math.round(small ? 15 : size / 14)}px system-ui, sans-serif`, "ink");
      if (!small) text("done", wide / 2, y + size / 26 + 4, "14px system-ui, sans-serif", "ink");
    }
  }
  const told = flutes.map((flute) => `flute ${flute.flute} ${{ pass: "good", fail: "bad" }[flute.verdict] || "open"}`).join(", ");
  canvas.setAttribute("aria-label", `The turn as it is read, ${percent} of the trace done${told ? `; ${told}` : ""}`);
}
