// The drop of each land behind its edge against its limits; before edges are known, the turn unrolled.

import { colour } from "/assets/dom.js";
import { asMm, shown, units } from "/assets/units.js";

/** A land is not drawn lower than this where there are several rows. */
const LEAST_HIGH = 170;

let canvas = null;
let pen = null;
let wide = 0;
let high = 0;
let ratio = 1;

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
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.clearRect(0, 0, wide, high);
  pen.font = "13px system-ui, sans-serif";
}

/** Draws the lands, or the unrolled turn; whether it was the lands. */
export function draw(turn, moving, soFar, feature) {
  const flutes = soFar && soFar.flutes ? soFar.flutes.filter((flute) => flute.land.length > 1) : [];
  const lands = feature ? flutes.length : 0;
  const columns = Math.max(1, Math.min(lands, Math.floor(canvas.clientWidth / 230)));
  const rows = Math.max(1, Math.ceil(lands / columns));
  // Many lands need more room than one row; the page grows downwards.
  canvas.style.height = rows > 1 ? `${rows * LEAST_HIGH}px` : "";
  fit();
  if (wide < 80 || high < 60) return false;
  if (lands === 0) {
    unrolled(turn, Boolean(feature));
    return false;
  }
  const range = common(flutes, feature);
  flutes.forEach((flute, number) => {
    const box = {
      x: (number % columns) * (wide / columns),
      y: Math.floor(number / columns) * (high / rows),
      w: wide / columns,
      h: high / rows,
    };
    land(box, flute, feature, turn, range);
  });
  canvas.setAttribute("aria-label", `Drop of ${flutes.length} lands behind their edges against the limits; the figures stand beside it`);
  return true;
}

/** One scale for all lands, so that they can be compared. */
function common(flutes, feature) {
  let arc = 0;
  let drop = 0;
  for (const flute of flutes) {
    arc = Math.max(arc, flute.land_deg);
    for (const [, deep, u] of flute.land) drop = Math.max(drop, deep + 2 * u);
  }
  const limit = feature.limits.drop;
  if (limit && limit.max && limit.max < 3 * drop) drop = Math.max(drop, limit.max * 1.1);
  return { arc: arc || 1, drop: drop || 0.01, above: -0.12 * (drop || 0.01) };
}

function land(box, flute, feature, turn, range) {
  const left = box.x + (units() === "in" ? 60 : 46);
  const right = box.x + box.w - 12;
  const top = box.y + 24;
  const bottom = box.y + box.h - 24;
  if (right - left < 40 || bottom - top < 20) return;
  const x = (deg) => left + ((right - left) * deg) / range.arc;
  const y = (mm) => top + ((bottom - top) * (mm - range.above)) / (range.drop - range.above);
  frame(box, left, right, top, bottom, x, y, range, flute);
  pen.save();
  pen.beginPath();
  pen.rect(left, top, right - left, bottom - top);
  pen.clip();
  limits(flute, feature, x, y, range);
  asRead(flute, turn, x, y);
  measured(flute, x, y);
  pen.restore();
}

function frame(box, left, right, top, bottom, x, y, range, flute) {
  pen.strokeStyle = colour("line");
  pen.lineWidth = 1;
  pen.strokeRect(left, top, right - left, bottom - top);
  pen.fillStyle = colour("ink");
  pen.textBaseline = "middle";
  pen.textAlign = "left";
  pen.font = "600 14px system-ui, sans-serif";
  pen.fillText(`flute ${flute.flute}`, left, box.y + 12);
  pen.font = "13px system-ui, sans-serif";
  pen.textAlign = "right";
  pen.fillText(`drop, ${units()}`, right, box.y + 12);
  for (const tick of ticks(shown(range.drop))) pen.fillText(String(Number(tick.toFixed(5))), left - 5, y(asMm(tick)));
  pen.textAlign = "center";
  for (const deg of [0, range.arc / 2, range.arc]) pen.fillText(`${deg.toFixed(0)}°`, Math.min(right - 12, Math.max(left + 8, x(deg))), bottom + 12);
  pen.beginPath();
  pen.moveTo(left, y(0));
  pen.lineTo(right, y(0));
  pen.stroke();
}

/** A few round numbers from 0 on. */
function ticks(most) {
  const decade = 10 ** Math.floor(Math.log10(most));
  const step = [decade / 5, decade / 2, decade, 2 * decade].find((one) => most / one <= 5) || 5 * decade;
  const all = [];
  for (let at = 0; at <= most; at += step) all.push(at);
  return all;
}

/** Where the land may not be: hatched, so that it is not told by colour alone. */
function limits(flute, feature, x, y, range) {
  const check = (feature.check_distance_mm / (feature.diameter_mm / 2)) * (180 / Math.PI);
  const heel = feature.limits["heel-clearance"];
  if (heel && typeof heel.min === "number") {
    hatch(x(check), y(range.above), x(flute.land_deg) - x(check), y(heel.min) - y(range.above));
    dashed(x(check), y(heel.min), x(flute.land_deg), y(heel.min));
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

function hatch(left, top, w, h) {
  if (w <= 0 || h <= 0) return;
  pen.save();
  pen.beginPath();
  pen.rect(left, top, w, h);
  pen.clip();
  pen.strokeStyle = colour("limit");
  pen.globalAlpha = 0.35;
  pen.lineWidth = 1;
  pen.beginPath();
  for (let at = left - h; at < left + w; at += 8) {
    pen.moveTo(at, top + h);
    pen.lineTo(at + h, top);
  }
  pen.stroke();
  pen.restore();
}

/** The raw readings under the edge, as they come: faint, since stylus and runout are still in them. */
function asRead(flute, turn, x, y) {
  const places = turn.places;
  const place = (deg) => Math.floor(((((deg % 360) + 360) % 360) / 360) * places) % places;
  const edge = turn.most[place(flute.edge_deg)];
  if (Number.isNaN(edge)) return;
  pen.strokeStyle = colour("faint");
  pen.lineWidth = Math.max(2, x(360 / places) - x(0));
  const step = 360 / places;
  for (let arc = 0; arc <= flute.land_deg; arc += step) {
    const at = place(flute.edge_deg + arc);
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
  const left = units() === "in" ? 68 : 56;
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
  if (!(most >= low)) return;
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
