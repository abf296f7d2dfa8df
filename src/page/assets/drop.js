// The drop of each land behind its edge against its limits; before edges are known, the turn unrolled.

import { colour } from "/assets/dom.js";
import { SIGNS } from "/assets/section.js";
import { asMm, shown, units } from "/assets/units.js";

/** A land is not drawn lower than this where there are several rows. */
const LEAST_HIGH = 170;

let canvas = null;
let pen = null;
let wide = 0;
let high = 0;
let ratio = 1;
/** How much larger than at its smallest a plot by itself is lettered. */
let zoom = 1;
/** The flute that the stylus was on last. */
let last = 0;

/** Draws on this canvas from now on; it is drawn as large as the style sheet makes it. */
export function on(place) {
  canvas = place;
  pen = canvas.getContext("2d");
}

function fit() {
  const box = canvas.getBoundingClientRect();
  const dots = window.devicePixelRatio || 1;
  [wide, high, ratio] = [Math.round(box.width), Math.round(box.height), dots];
  const [w, h] = [Math.round(wide * ratio), Math.round(high * ratio)];
  if (canvas.width !== w || canvas.height !== h) [canvas.width, canvas.height] = [w, h];
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.clearRect(0, 0, wide, high);
  lettered(13);
}

/** Letters of this size, in px. */
function lettered(px, weight = 400) {
  pen.font = `${weight} ${Math.round(px * zoom)}px system-ui, sans-serif`;
}

/** Draws all lands, or the unrolled turn; whether it was the lands. */
export function draw(turn, soFar, feature) {
  zoom = 1;
  const flutes = judgedLands(soFar, feature);
  const lands = flutes.length;
  const columns = Math.max(1, Math.min(lands, Math.floor(canvas.clientWidth / 230)));
  const rows = Math.max(1, Math.ceil(lands / columns));
  // Many lands need more room than one row; the page grows downwards.
  canvas.style.height = rows > 1 ? `${rows * LEAST_HIGH}px` : "";
  fit();
  if (wide < 80 || high < 60 || lands === 0) return false;
  const range = common(flutes, feature, turn);
  flutes.forEach((flute, number) => {
    const box = {
      x: (number % columns) * (wide / columns),
      y: Math.floor(number / columns) * (high / rows),
      w: wide / columns,
      h: high / rows,
    };
    land(box, flute, feature, turn, range);
  });
  canvas.setAttribute("aria-label", `${flutes.length} lands behind their edges against the limits. ${flutes.map((flute) => `Flute ${flute.flute}: ${heelWords(flute)}`).join(". ")}`);
  return true;
}

/** Draws the land under the stylus, or the unrolled turn before there is one; the land's flute. */
export function drawOne(turn, soFar, feature) {
  zoom = Math.max(1, Math.min(1.4, canvas.clientWidth / 430, canvas.clientHeight / 270));
  fit();
  if (wide < 80 || high < 60) return null;
  const flutes = judgedLands(soFar, feature);
  const flute = under(flutes, turn);
  if (!flute) {
    unrolled(turn, Boolean(feature));
    return null;
  }
  land({ x: 0, y: 0, w: wide, h: high }, flute, feature, turn, common([flute], feature, turn), true);
  canvas.setAttribute("aria-label", `The land of flute ${flute.flute} behind its edge: ${heelWords(flute)}`);
  return flute;
}

export const judgedLands = (soFar, feature) => (feature && soFar && soFar.flutes ? soFar.flutes.filter((flute) => flute.land.length > 1) : []);

/** The land that the stylus is on; over a gap the one that it left. */
export function under(flutes, turn) {
  if (flutes.length === 0) return null;
  if (turn.angle === null) return flutes[0];
  const behind = (flute) => (((turn.angle - flute.edge_deg) % 360) + 360) % 360;
  const on = flutes.find((flute) => behind(flute) <= flute.land_deg);
  if (on) last = on.flute;
  return on || flutes.find((flute) => flute.flute === last) || flutes[0];
}

/** Forgets which land the stylus was on. */
export const forget = () => {
  last = 0;
};

/** How far the heel stands above or below the edge. */
export function heelWords(flute, short = false) {
  if (!flute.heel) return "the heel is not known yet";
  const [drop, u] = flute.heel;
  const digits = units() === "in" ? 5 : 3;
  const number = (mm) => Math.abs(shown(mm)).toFixed(digits);
  const doubt = short ? "" : ` ± ${number(2 * u)}`;
  return `heel ${number(drop)}${doubt} ${units()} ${drop < 0 ? "above" : "below"} the edge`;
}

/** One scale for all lands, so that they can be compared; it holds the highest of them. */
export function common(flutes, feature, turn) {
  let arc = 0;
  let drop = 0;
  let above = 0;
  for (const flute of flutes) {
    arc = Math.max(arc, flute.land_deg);
    for (const [, deep, u] of flute.land) {
      drop = Math.max(drop, deep + 2 * u);
      above = Math.min(above, deep - 2 * u);
    }
    for (const [, deep] of flute.least || []) [drop, above] = [Math.max(drop, deep), Math.min(above, deep)];
    above = Math.min(above, highestRead(flute, turn));
  }
  const limit = feature.limits.drop;
  if (limit && limit.max && limit.max < 3 * drop) drop = Math.max(drop, limit.max * 1.1);
  const span = Math.max(drop - above, 0.004);
  return { arc: arc || 1, drop: drop + 0.08 * span, above: above - 0.12 * span };
}

/** The height above the edge of the highest reading on a land, as a drop in mm. */
function highestRead(flute, turn) {
  const edge = turn.most[place(flute.edge_deg, turn)];
  let above = 0;
  if (Number.isNaN(edge)) return above;
  for (let arc = 0; arc <= flute.land_deg; arc += 360 / turn.places) {
    const most = turn.most[place(flute.edge_deg + arc, turn)];
    if (most > edge) above = Math.min(above, (edge - most) / 1000);
  }
  return above;
}

const place = (deg, turn) => Math.floor(((((deg % 360) + 360) % 360) / 360) * turn.places) % turn.places;

function land(box, flute, feature, turn, range, alone = false) {
  const left = box.x + (units() === "in" ? 70 : 58) * zoom;
  const right = box.x + box.w - 14;
  const top = box.y + 46 * zoom;
  const bottom = box.y + box.h - 22 * zoom;
  if (right - left < 40 || bottom - top < 20) return;
  const x = (deg) => left + ((right - left) * deg) / range.arc;
  const y = (mm) => top + ((bottom - top) * (mm - range.above)) / (range.drop - range.above);
  frame(box, left, right, top, bottom, x, y, range, flute, alone);
  pen.save();
  pen.beginPath();
  pen.rect(left, top, right - left, bottom - top);
  pen.clip();
  limits(flute, feature, x, y, range);
  asRead(flute, turn, x, y);
  measured(flute, x, y);
  pen.restore();
  heel(flute, x, y, right);
  if (alone) stylus(flute, turn, x, top, bottom);
}

/** The heel as a mark with its height against the edge. */
function heel(flute, x, y, right) {
  if (!flute.heel) return;
  const [drop] = flute.heel;
  const at = Math.min(right - 1, x(flute.land_deg));
  pen.strokeStyle = colour("ink");
  pen.lineWidth = 2;
  pen.beginPath();
  pen.moveTo(at, y(0));
  pen.lineTo(at, y(drop));
  pen.stroke();
  pen.fillStyle = colour(drop < 0 ? "fail" : "ink");
  pen.beginPath();
  pen.arc(at, y(drop), 5, 0, 2 * Math.PI);
  pen.fill();
}

/** Where the stylus is on the land. */
function stylus(flute, turn, x, top, bottom) {
  if (turn.angle === null) return;
  const behind = (((turn.angle - flute.edge_deg) % 360) + 360) % 360;
  if (behind > flute.land_deg) return;
  pen.strokeStyle = colour("accent");
  pen.lineWidth = 2;
  pen.beginPath();
  pen.moveTo(x(behind), top);
  pen.lineTo(x(behind), bottom);
  pen.stroke();
}

function frame(box, left, right, top, bottom, x, y, range, flute, alone) {
  pen.strokeStyle = colour("line");
  pen.lineWidth = 1;
  pen.strokeRect(left, top, right - left, bottom - top);
  const kind = flute.verdict || "undecided";
  pen.textBaseline = "middle";
  pen.textAlign = "left";
  pen.fillStyle = colour(kind);
  lettered(16, 700);
  const name = `${SIGNS[kind]} flute ${flute.flute}`;
  pen.fillText(name, box.x + 6, box.y + 13 * zoom);
  const used = pen.measureText(`${name}  `).width;
  pen.fillStyle = colour("ink");
  lettered(13);
  const aside = alone ? "under the stylus" : "";
  if (box.w - used > 190) {
    pen.textAlign = "right";
    pen.fillText(aside ? `${aside}; height, ${units()}` : `height, ${units()}`, right, box.y + 13 * zoom);
    pen.textAlign = "left";
  }
  lettered(14, 600);
  pen.fillStyle = colour(flute.heel && flute.heel[0] < 0 ? "fail" : "ink");
  const long = pen.measureText(heelWords(flute)).width > box.w - 12;
  pen.fillText(heelWords(flute, long), box.x + 6, box.y + 34 * zoom, box.w - 12);
  pen.fillStyle = colour("ink");
  lettered(13);
  pen.textAlign = "right";
  for (const tick of ticks(-shown(range.drop), -shown(range.above))) {
    const at = y(asMm(-tick));
    if (at > top + 4 && at < bottom - 2) pen.fillText(tick === 0 ? "0" : `${tick > 0 ? "+" : "−"}${Number(Math.abs(tick).toFixed(5))}`, left - 5, at);
  }
  names(left, right, bottom, x, flute);
  pen.beginPath();
  pen.moveTo(left, y(0));
  pen.lineTo(right, y(0));
  pen.stroke();
}

/** Edge and heel are named where they are. */
function names(left, right, bottom, x, flute) {
  pen.textAlign = "left";
  pen.fillText("edge", left, bottom + 12 * zoom);
  const words = `heel, ${flute.land_deg.toFixed(0)}°`;
  const at = x(flute.land_deg);
  pen.textAlign = "right";
  pen.fillText(words, Math.max(left + 110 * zoom, Math.min(right, at + 16)), bottom + 12 * zoom);
}

/** A few round numbers in a range that holds 0. */
function ticks(least, most) {
  const span = most - least;
  const decade = 10 ** Math.floor(Math.log10(span));
  const step = [decade / 5, decade / 2, decade, 2 * decade].find((one) => span / one <= 5) || 5 * decade;
  const all = [];
  for (let at = Math.ceil(least / step); at * step <= most; at += 1) all.push(at * step);
  return all;
}

/** Where the land may not be: hatched, so that it is not told by colour alone. */
function limits(flute, feature, x, y, range) {
  const check = (feature.check_distance_mm / (feature.diameter_mm / 2)) * (180 / Math.PI);
  if (flute.least) {
    const [[from, first], [to, last]] = flute.least;
    hatch([[x(from), y(range.above)], [x(to), y(range.above)], [x(to), y(last)], [x(from), y(first)]]);
    dashed(x(from), y(first), x(to), y(last));
  }
  const drop = feature.limits.drop;
  if (!drop) return;
  pen.strokeStyle = colour("limit");
  pen.lineWidth = 3;
  const from = typeof drop.min === "number" ? drop.min : range.above;
  const to = typeof drop.max === "number" ? drop.max : range.drop;
  // A gate that the land has to pass through at the check distance.
  for (const [a, b] of [[range.above, from], [to, range.drop]]) {
    pen.beginPath();
    pen.moveTo(x(check), y(a));
    pen.lineTo(x(check), y(b));
    pen.stroke();
  }
  for (const end of [drop.min, drop.max]) if (typeof end === "number") dashed(x(check) - 6, y(end), x(check) + 6, y(end));
}

function dashed(x1, y1, x2, y2) {
  pen.strokeStyle = colour("limit");
  pen.lineWidth = 2;
  pen.setLineDash([6, 4]);
  pen.beginPath();
  pen.moveTo(x1, y1);
  pen.lineTo(x2, y2);
  pen.stroke();
  pen.setLineDash([]);
}

function hatch(corners) {
  const [left, right] = [Math.min(...corners.map(([x]) => x)), Math.max(...corners.map(([x]) => x))];
  const [top, bottom] = [Math.min(...corners.map(([, y]) => y)), Math.max(...corners.map(([, y]) => y))];
  const h = bottom - top;
  if (right <= left || h <= 0) return;
  pen.save();
  pen.beginPath();
  corners.forEach(([x, y], i) => (i === 0 ? pen.moveTo(x, y) : pen.lineTo(x, y)));
  pen.closePath();
  pen.clip();
  pen.strokeStyle = colour("limit");
  pen.globalAlpha = 0.35;
  pen.lineWidth = 1;
  pen.beginPath();
  for (let at = left - h; at < right; at += 8) {
    pen.moveTo(at, bottom);
    pen.lineTo(at + h, top);
  }
  pen.stroke();
  pen.restore();
}

/** The raw readings under the edge, as they come: faint, since stylus and runout are still in them. */
function asRead(flute, turn, x, y) {
  const edge = turn.most[place(flute.edge_deg, turn)];
  if (Number.isNaN(edge)) return;
  const step = 360 / turn.places;
  pen.strokeStyle = colour("faint");
  pen.lineWidth = Math.max(2, x(step) - x(0));
  for (let arc = 0; arc <= flute.land_deg; arc += step) {
    const at = place(flute.edge_deg + arc, turn);
    if (Number.isNaN(turn.most[at])) continue;
    const low = y((edge - turn.most[at]) / 1000);
    const deep = y((edge - turn.least[at]) / 1000);
    pen.beginPath();
    pen.moveTo(x(arc), low);
    pen.lineTo(x(arc), Math.max(deep, low + 1));
    pen.stroke();
  }
}

/** The land with stylus and runout taken out: its band of uncertainty, and the curve fitted to it. */
function measured(flute, x, y) {
  pen.fillStyle = colour("band");
  pen.beginPath();
  flute.land.forEach(([arc, drop, u], i) => (i === 0 ? pen.moveTo(x(arc), y(drop - 2 * u)) : pen.lineTo(x(arc), y(drop - 2 * u))));
  for (const [arc, drop, u] of [...flute.land].reverse()) pen.lineTo(x(arc), y(drop + 2 * u));
  pen.closePath();
  pen.fill();
  const line = (points, kind) => {
    pen.strokeStyle = colour(kind);
    pen.lineWidth = 2;
    pen.beginPath();
    points.forEach(([arc, drop], i) => (i === 0 ? pen.moveTo(x(arc), y(drop)) : pen.lineTo(x(arc), y(drop))));
    pen.stroke();
  };
  line(flute.land, "ink");
  line(flute.fitted, "accent");
}

/** The whole turn unrolled, the least and the greatest reading in each column of pixels. */
function unrolled(turn, lands) {
  const left = (units() === "in" ? 68 : 56) * zoom;
  const right = wide - 12;
  const top = 26;
  const bottom = high - 26;
  pen.strokeStyle = colour("line");
  pen.lineWidth = 1;
  pen.strokeRect(left, top, right - left, bottom - top);
  pen.fillStyle = colour("ink");
  pen.textBaseline = "middle";
  pen.textAlign = "left";
  pen.fillText(`reading over the turn, ${units()}${lands && wide > 430 ? "; each land by itself after one whole turn" : ""}`, left, 13);
  pen.textAlign = "center";
  for (const deg of [0, 90, 180, 270, 360]) pen.fillText(`${deg}°`, Math.min(right - 14, left + ((right - left) * deg) / 360), bottom + 14);
  let low = Infinity;
  let most = -Infinity;
  for (let i = 0; i < turn.places; i += 1) {
    if (turn.least[i] < low) low = turn.least[i];
    if (turn.most[i] > most) most = turn.most[i];
  }
  if (!(most >= low)) {
    pen.fillStyle = colour("quiet");
    pen.fillText("nothing read yet", (left + right) / 2, (top + bottom) / 2);
    return;
  }
  const span = Math.max(most - low, 10);
  const y = (um) => bottom - 6 - ((bottom - top - 12) * (um - low)) / span;
  pen.textAlign = "right";
  for (const um of [low, low + span]) pen.fillText(String(Number(shown(um / 1000).toFixed(units() === "in" ? 5 : 4))), left - 5, y(um));
  const columns = Math.max(1, Math.floor(right - left));
  pen.fillStyle = colour("ink");
  for (let column = 0; column < columns; column += 1) {
    const from = Math.floor((column / columns) * turn.places);
    const to = Math.max(from + 1, Math.floor(((column + 1) / columns) * turn.places));
    let least = Infinity;
    let greatest = -Infinity;
    for (let i = from; i < to; i += 1) {
      if (turn.least[i] < least) least = turn.least[i];
      if (turn.most[i] > greatest) greatest = turn.most[i];
    }
    if (greatest >= least) pen.fillRect(left + column, y(greatest) - 1, 1.5, Math.max(2, y(least) - y(greatest)));
  }
  canvas.setAttribute("aria-label", "Readings over the turn, unrolled");
}
