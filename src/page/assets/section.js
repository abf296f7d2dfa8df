// The tool's section drawn round, with what of the turn is covered.

import { colour } from "/assets/dom.js";

let canvas = null;
let pen = null;
let size = 0;
let ratio = 1;

/** Takes a canvas; it is drawn as large as the style sheet makes it. */
export function open(place) {
  canvas = place;
  pen = canvas.getContext("2d");
  size = 0;
}

function fit() {
  const box = canvas.getBoundingClientRect();
  const now = Math.round(Math.min(box.width, box.height || box.width));
  const dots = window.devicePixelRatio || 1;
  if (now !== size || dots !== ratio) {
    size = now;
    ratio = dots;
    canvas.width = Math.round(size * ratio);
    canvas.height = Math.round(size * ratio);
  }
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.clearRect(0, 0, size, size);
}

/** Angle 0 is on top, and angles grow clockwise. */
const at = (radius, turns) => {
  const angle = 2 * Math.PI * turns - Math.PI / 2;
  return [size / 2 + radius * Math.cos(angle), size / 2 + radius * Math.sin(angle)];
};

/** Draws the turn. */
export function draw(turn, moving, soFar, done) {
  fit();
  if (size < 60) return;
  const outer = size / 2 - 26;
  cover(turn, outer);
  const inner = outer - 14;
  profile(turn, inner);
  edges(soFar, inner);
  if (turn.angle !== null) hand(turn.angle / 360, outer + 8);
  words(moving, done);
}

/** A ring: thin where nothing was read, half full after one pass, full when it is enough. */
function cover(turn, radius) {
  const places = turn.places || 1;
  pen.lineWidth = 1;
  pen.strokeStyle = colour("line");
  pen.beginPath();
  pen.arc(size / 2, size / 2, radius, 0, 2 * Math.PI);
  pen.stroke();
  const run = (from, to, enough) => {
    pen.beginPath();
    const start = (2 * Math.PI * from) / places - Math.PI / 2;
    const end = (2 * Math.PI * to) / places - Math.PI / 2;
    pen.arc(size / 2, size / 2, radius, start, end);
    pen.lineWidth = enough ? 10 : 4;
    pen.strokeStyle = enough ? colour("enough") : colour("once");
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

/** What was read, least and greatest at each place, heights much enlarged. */
function profile(turn, outer) {
  let low = Infinity;
  let high = -Infinity;
  for (let place = 0; place < turn.places; place += 1) {
    if (turn.least[place] < low) low = turn.least[place];
    if (turn.most[place] > high) high = turn.most[place];
  }
  if (!(high >= low)) return;
  // A round alone would otherwise show nothing but its noise.
  const span = Math.max(high - low, 40);
  const deep = outer * 0.42;
  const radius = (height) => outer - deep * ((high - height) / span);
  pen.lineJoin = "round";
  const half = 0.5 / turn.places;
  pen.fillStyle = colour("metal");
  pen.strokeStyle = colour("ink");
  pen.lineWidth = 2;
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
    for (let i = place - 1; i >= from; i -= 1) pen.lineTo(...at(outer - deep * 1.25, i / turn.places + half));
    pen.closePath();
    pen.fill();
    from = -1;
  }
}

/** The edges that were found, with their numbers. */
function edges(soFar, outer) {
  if (!soFar || !soFar.flutes) return;
  pen.fillStyle = colour("ink");
  pen.font = "600 15px system-ui, sans-serif";
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  for (const flute of soFar.flutes) {
    const turns = flute.edge_deg / 360;
    pen.strokeStyle = colour("accent");
    pen.lineWidth = 2;
    pen.setLineDash([4, 3]);
    pen.beginPath();
    pen.moveTo(...at(outer * 0.46, turns));
    pen.lineTo(...at(outer, turns));
    pen.stroke();
    pen.setLineDash([]);
    pen.fillText(String(flute.flute), ...at(outer * 0.4, turns));
  }
}

/** Where the stylus is now. */
function hand(turns, radius) {
  const [tipX, tipY] = at(radius - 6, turns);
  pen.fillStyle = colour("accent");
  pen.beginPath();
  pen.moveTo(tipX, tipY);
  pen.lineTo(...at(radius + 12, turns - 0.014));
  pen.lineTo(...at(radius + 12, turns + 0.014));
  pen.closePath();
  pen.fill();
}

/** How far the trace is, in all the passes that are wanted. */
function words(moving, done) {
  pen.fillStyle = colour("ink");
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.font = `700 ${Math.round(size / 15)}px system-ui, sans-serif`;
  const percent = `${Math.floor(done * 100)} %`;
  pen.fillText(moving.phase === "turning" ? percent : "", size / 2, size / 2 - 4);
  pen.font = "14px system-ui, sans-serif";
  if (moving.phase === "turning") pen.fillText("done", size / 2, size / 2 + size / 20 + 6);
  canvas.setAttribute("aria-label", `The tool's section as it is read, ${percent} of the trace done`);
}
