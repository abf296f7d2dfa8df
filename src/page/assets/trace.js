// The bench while it is worked at, and each trace as it grows.

import { doing, post } from "/assets/ask.js";
import { cautions, connect, notes } from "/assets/before.js";
import { button, el, fill, say } from "/assets/dom.js";
import * as dial from "/assets/dial.js";
import * as drop from "/assets/drop.js";
import { pace, paceWord } from "/assets/pace.js";
import * as section from "/assets/section.js";
import * as sense from "/assets/sense.js";
import { showSoFar } from "/assets/so-far.js";
import { addition, judgeWhatThereIs, keptWords, stepChip, waitsFor, whatToDo } from "/assets/steps.js";
import { reading, units } from "/assets/units.js";

/** How the turn stands: least and greatest reading in µm and passes, place by place. */
const turn = { places: 0, least: new Float64Array(0), most: new Float64Array(0), passes: new Uint16Array(0), angle: null, wanted: 2 };
let inspection = null;
let moving = null;
let judgedSoFar = null;
let measured = null;
let parts = {};
let screen = "";
let dirty = true;
let newest = 0;
let measuredFor = 0;
let spoken = 0;
let toVerdict = null;
let stale = false;

/** Builds the view's places; `show` and `move` fill them. */
export function open(main, measures, soFarNow) {
  measured = measures;
  judgedSoFar = soFarNow;
  screen = "";
  parts = { main };
}

/** Shows how the inspection stands. */
export function show(now, verdict) {
  inspection = now;
  toVerdict = verdict;
  turn.wanted = now.passes;
  const live = now.phase !== "closed" && now.phase !== "connecting";
  const wanted = !now.cautioned ? "cautions" : now.sense.stage ? "sense" : live ? "live" : "connect";
  if (wanted !== screen) {
    screen = wanted;
    if (wanted === "cautions") cautions(parts.main);
    else if (wanted === "sense") sense.open(parts.main);
    else if (wanted === "connect") connect(parts.main, inspection);
    else working();
    const heading = parts.main.querySelector("h2");
    if (heading) heading.focus({ preventScroll: true });
  }
  update();
}

function working() {
  fill(
    parts.main,
    el(
      "div",
      { class: "bench" },
      el("h2", { class: "unseen", tabindex: "-1" }, "At the bench"),
      el("nav", { "aria-label": "Steps", class: "steps" }, el("ol", { id: "steps" }), addition(inspection)),
      el(
        "section",
        { class: "now", "aria-labelledby": "do" },
        el("p", { id: "do", class: "do", role: "status" }),
        el("div", { class: "row actions", id: "actions" }),
      ),
      el(
        "section",
        { class: "figures", "aria-label": "Now" },
        el("div", { class: "big" }, el("span", { class: "label" }, "Reading"), el("output", { id: "reading" }, "—"), el("span", { class: "unit" }, units())),
        el("div", { class: "big" }, el("span", { class: "label" }, "Angle"), el("output", { id: "angle" }, "—"), el("span", { class: "unit" }, "°")),
        el("div", { class: "pace", id: "pace" }, el("span", { class: "sign", "aria-hidden": "true" }), el("strong", { class: "word" }), el("span", { class: "quiet about" })),
        el("div", { class: "cover" }, el("span", { id: "cover-text" }), el("progress", { id: "cover", max: "1", value: "0", "aria-labelledby": "cover-text" })),
        el("p", { id: "lines", class: "quiet" }),
      ),
      el("section", { class: "round" }, el("canvas", { id: "section", role: "img", "aria-label": "The tool's section as it is read" })),
      el("section", { class: "dial", id: "dial", "aria-label": "The dial", hidden: true }),
      el(
        "section",
        { class: "so-far", "aria-labelledby": "h-so-far" },
        el("h3", { id: "h-so-far" }, "So far"),
        el("div", { id: "so-far" }),
      ),
      el(
        "section",
        { class: "drops" },
        el("canvas", { id: "drops", role: "img", "aria-label": "Drop of each land behind its edge, as it is read" }),
        el("ul", { class: "legend", id: "legend", hidden: true }, LEGEND.map(([kind, text]) => el("li", {}, el("span", { class: `key ${kind}`, "aria-hidden": "true" }), text))),
      ),
      el("section", { class: "notes", "aria-labelledby": "h-told" }, el("h3", { id: "h-told" }, "What happened"), notes(), el("p", { id: "plug-place" })),
      el("p", { id: "spoken", class: "unseen", "aria-live": "polite" }),
    ),
  );
  section.open(document.getElementById("section"));
  drop.open(document.getElementById("drops"));
  dial.open(document.getElementById("dial"));
  soFar(judgedSoFar);
  dirty = true;
}

/** What the state says, put into the places of the view. */
function update() {
  told();
  if (screen === "sense") sense.show(inspection);
  if (screen === "connect") {
    const words = inspection.phase === "connecting" ? "Opening the port, and waiting for the gauge to answer …" : inspection.steps.some((step) => step.state !== "open") ? keptWords(inspection) : "";
    say(document.getElementById("standing"), words);
    const last = inspection.told.find((one) => one.fault);
    const failed = inspection.phase === "closed" && last ? last.text : "";
    const fault = document.getElementById("fault");
    fault.hidden = !failed;
    say(fault, failed);
    const { asked, wanted } = inspection.sense;
    document.getElementById("proof-first").hidden = !asked || inspection.phase === "connecting";
    const back = wanted ? button("proof-leave", "Back to the verdict", (self) => doing(self, () => post("/api/sense/leave"))) : null;
    fill(document.getElementById("beside"), back || judgeWhatThereIs(inspection), toVerdict ? button("to-verdict", "Back to the verdict", () => toVerdict()) : null);
    return;
  }
  if (screen !== "live") return;
  fill(document.getElementById("steps"), inspection.steps.map((step, at) => stepChip(inspection, step, at)));
  document.getElementById("more").hidden = inspection.phase !== "between";
  const [words, actions] = whatToDo(inspection, toVerdict);
  say(document.getElementById("do"), words);
  document.getElementById("do").parentElement.classList.toggle("urgent", inspection.gone);
  fill(document.getElementById("actions"), actions);
  fill(document.getElementById("plug-place"), plug());
  showSoFar(document.getElementById("so-far"), judgedSoFar, waitsFor(inspection), early());
  dirty = true;
}

const LEGEND = [
  ["as-read", "as read"],
  ["taken-out", "stylus and known runout taken out"],
  ["fitted", "fitted curve"],
  ["forbidden", "must stay clear"],
];

function told() {
  const list = document.getElementById("told");
  if (!list) return;
  const known = new Set([...list.children].map((one) => one.dataset.number));
  // New ones are put before the others, so that only they are read out.
  for (const one of [...inspection.told].reverse()) {
    if (known.has(String(one.number))) continue;
    const time = new Date(one.at).toLocaleTimeString();
    list.prepend(el("li", { "data-number": one.number, class: one.fault ? "fault-text" : "" }, el("span", { class: "quiet" }, `${time} `), one.fault ? "Attention: " : "", one.text));
  }
}

/** A simulated gauge can be unplugged, to see what happens then. */
function plug() {
  if (!inspection.simulated) return null;
  const word = inspection.unplugged ? "Put the plug back" : "Pull the plug, to see what happens";
  return button("plug", word, (self) => doing(self, () => post("/api/plug", { pulled: !inspection.unplugged })), "quiet-button");
}

/** What the growing trace comes to. */
export function soFar(judged) {
  judgedSoFar = judged;
  dirty = true;
  const place = document.getElementById("so-far");
  if (place) showSoFar(place, judged, waitsFor(inspection), early());
}

/** Whether the trace under way is not once round yet. */
const early = () => inspection.phase !== "between" && (!moving || moving.covered_once < 0.97);

/** The moving part came. */
export function move(now) {
  moving = now;
  if (now.places !== turn.places || now.whole) {
    turn.places = now.places;
    turn.least = new Float64Array(now.places).fill(NaN);
    turn.most = new Float64Array(now.places).fill(NaN);
    turn.passes = new Uint16Array(now.places);
  }
  for (const [at, least, most, passes] of now.cells) {
    turn.least[at] = least;
    turn.most[at] = most;
    turn.passes[at] = passes;
  }
  turn.angle = now.angle_deg;
  newest = now.newest_ms || 0;
  dirty = true;
}

/** Whether readings should come and do not. */
function isStale() {
  const age = performance.timeOrigin + performance.now() - newest;
  return moving && newest > 0 && age > 1200 && ["setting", "armed", "turning"].includes(moving.phase);
}

/** Draws what is new; called once a frame. */
export function draw() {
  if (screen === "live" && isStale() !== stale) {
    stale = !stale;
    dirty = true;
  }
  if (!dirty || screen !== "live" || !moving) return;
  dirty = false;
  say(document.getElementById("reading"), reading(moving.reading_mm, inspection.resolution_mm));
  const within = moving.angle_deg === null ? null : ((moving.angle_deg % 360) + 360) % 360;
  say(document.getElementById("angle"), within === null ? "—" : within.toFixed(1));
  const once = Math.floor(moving.covered_once * 100);
  const all = Math.floor(moving.covered * 100);
  const times = turn.wanted === 2 ? "twice" : `${turn.wanted} times`;
  const passes = turn.wanted > 1 ? `once round ${once} %, ${times} ${all} %` : `${all} %`;
  say(document.getElementById("cover-text"), moving.phase === "turning" ? `Covered: ${passes}` : "Covered");
  const done = (moving.covered * (turn.wanted - 1) + moving.covered_once) / Math.max(1, turn.wanted);
  document.getElementById("cover").value = done;
  const turned = Math.abs(moving.turned_deg / 360).toFixed(2);
  const way = { still: "standing still", cutting: "the way it cuts, edge first", backing: "backwards, heel first" }[moving.direction];
  const missing = moving.missing > 0 ? ` · ${moving.missing} lines lost or damaged` : "";
  const rate = moving.rate_hz ? `${moving.rate_hz.toFixed(0)} readings a second` : "";
  const words = { turning: [`${turned} turns, ${way}`, `${moving.readings} readings`, rate], setting: [way, rate], armed: [way, rate] };
  say(document.getElementById("lines"), (words[moving.phase] || []).filter(Boolean).join(" · ") + missing);
  const dialled = Boolean(moving.dial);
  document.getElementById("dial").hidden = !dialled;
  document.getElementById("dial").parentElement.classList.toggle("dialled", dialled);
  dial.show(moving.dial);
  if (dialled && moving.phase === "turning" && !inspection.gone) say(document.getElementById("do"), dial.words(moving.dial));
  const feature = currentFeature();
  section.draw(turn, moving, judgedSoFar, done);
  document.getElementById("legend").hidden = !drop.draw(turn, moving, judgedSoFar, feature);
  pace(moving, stale);
  speak(once, all);
  if (newest && newest !== measuredFor) {
    measuredFor = newest;
    measured.latency_ms.push(performance.timeOrigin + performance.now() - newest);
    if (measured.latency_ms.length > 600) measured.latency_ms.shift();
  }
}

function currentFeature() {
  const step = inspection.steps[inspection.current];
  return step && step.role === "feature" ? inspection.tool.features.find((feature) => feature.name === step.name) : null;
}

/** Now and then, for who reads by ear. */
function speak(once, all) {
  if (moving.phase !== "turning" || performance.now() - spoken < 6000) return;
  spoken = performance.now();
  say(document.getElementById("spoken"), `${once} percent covered once, ${all} percent as often as wanted; ${paceWord(moving)}.`);
}
