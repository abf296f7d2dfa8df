// The bench while it is worked at, and each trace as it grows.

import { doing, post } from "/assets/ask.js";
import { cautions, connect, notes } from "/assets/before.js";
import * as awake from "/assets/awake.js";
import { button, el, fill, say } from "/assets/dom.js";
import * as dial from "/assets/dial.js";
import * as drop from "/assets/drop.js";
import * as far from "/assets/far.js";
import { guide } from "/assets/guide.js";
import * as pace from "/assets/pace.js";
import * as section from "/assets/section.js";
import * as sense from "/assets/sense.js";
import { setUp } from "/assets/set-up.js";
import { showSoFar } from "/assets/so-far.js";
import * as sound from "/assets/sound.js";
import { addition, dropping, judgeWhatThereIs, keptWords, stepChip, waitsFor, whatToDo } from "/assets/steps.js";
import { reading, units } from "/assets/units.js";
import * as way from "/assets/way.js";

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
/** What is said where the bench itself does not answer. */
let lost = "";
/** What matters most, as the guide has it. */
let now = { key: "", word: "", tone: "plain", words: null };

/** Builds the view's places; `show` and `move` fill them. */
export function open(main, measures, soFarNow) {
  measured = measures;
  judgedSoFar = soFarNow;
  screen = "";
  parts = { main };
}

/** The page goes on to another view. */
export function leave() {
  screen = "";
  awake.stay(false);
  document.body.classList.remove("far-on");
}

/** Whether the bench answers; where it does not, nothing else is asked of anybody. Whether the
    view says so itself. */
export function link(away) {
  lost = away;
  if (screen !== "live") return false;
  update();
  return true;
}

/** Shows how the inspection stands. */
export function show(bench, verdict) {
  inspection = bench;
  toVerdict = verdict;
  turn.wanted = bench.passes;
  const live = bench.phase !== "closed" && bench.phase !== "connecting";
  const wanted = !bench.cautioned ? "cautions" : bench.sense.stage ? "sense" : live ? "live" : "connect";
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
  parts.setUp = "";
  fill(
    parts.main,
    el(
      "div",
      { class: "bench" },
      el("h2", { class: "unseen", tabindex: "-1" }, "At the bench"),
      el(
        "div",
        { class: "desk", id: "desk" },
        el(
          "section",
          { class: "now", "aria-labelledby": "do" },
          el("p", { id: "do", class: "do", role: "status", tabindex: "-1" }),
          el("div", { class: "row actions", id: "actions" }),
        ),
        el("section", { class: "signs", "aria-label": "How to turn" }, way.sign(), pace.sign()),
        el("section", { class: "round" }, el("div", { class: "fit" }, el("canvas", { id: "section", role: "img", "aria-label": "The turn as it is read" }), el("div", { id: "set-up-drive", class: "set-up" })), el("p", { id: "ring-note", class: "quiet" }), el("p", { id: "set-up-words", class: "quiet" })),
        el(
          "div",
          { class: "side" },
          el("section", { class: "so-far", "aria-labelledby": "h-so-far" }, el("h3", { id: "h-so-far" }, "So far"), el("div", { id: "so-far" })),
          el(
            "section",
            { class: "figures", "aria-label": "Now" },
            el("div", { class: "big" }, el("span", { class: "label", id: "l-reading" }, "Reading"), el("span", { id: "reading", class: "value", "aria-labelledby": "l-reading", role: "group" }, "—"), el("span", { class: "unit" }, units())),
            el("div", { class: "big" }, el("span", { class: "label", id: "l-angle" }, "Angle"), el("span", { id: "angle", class: "value", "aria-labelledby": "l-angle", role: "group" }, "—"), el("span", { class: "unit" }, "°")),
            el("div", { class: "cover" }, el("span", { id: "cover-text" }), el("progress", { id: "cover", max: "1", value: "0", "aria-labelledby": "cover-text" })),
          ),
        ),
        el("section", { class: "land" }, el("div", { class: "fit" }, el("canvas", { id: "land", role: "img", "aria-label": "The land under the stylus" }), el("div", { id: "set-up-side", class: "set-up" }))),
        el("section", { class: "dial", id: "dial", "aria-label": "The dial", hidden: true }),
      ),
      el("div", { class: "row switches" }, switches()),
      el("nav", { "aria-label": "Steps", class: "steps" }, el("ol", { id: "steps" }), addition(inspection)),
      el(
        "section",
        { class: "drops", "aria-labelledby": "h-drops", id: "all-lands", hidden: true },
        el("h3", { id: "h-drops" }, "All lands"),
        el("canvas", { id: "drops", role: "img", "aria-label": "Drop of each land behind its edge, as it is read" }),
        el("ul", { class: "legend", id: "legend" }, LEGEND.map(([kind, text]) => el("li", {}, el("span", { class: `key ${kind}`, "aria-hidden": "true" }), text))),
      ),
      el("p", { id: "lines", class: "quiet" }),
      el("section", { class: "row apart", id: "apart", "aria-label": "Dropping the trace" }),
      el("section", { class: "notes", "aria-labelledby": "h-told" }, el("h3", { id: "h-told" }, "What happened"), notes(), el("p", { id: "plug-place" })),
      el("p", { id: "spoken", class: "unseen", "aria-live": "polite" }),
      far.place(() => toFar(false)),
    ),
  );
  fitDesk();
  section.open(document.getElementById("section"));
  drop.forget();
  dial.open(document.getElementById("dial"));
  soFar(judgedSoFar);
  toFar(far.isOn(), false);
  dirty = true;
}

/** The desk fills what the page's head leaves of the screen. */
function fitDesk() {
  const head = document.querySelector(".top").getBoundingClientRect().height;
  document.documentElement.style.setProperty("--head", `${Math.ceil(head)}px`);
}

window.addEventListener("resize", () => {
  fitDesk();
  dirty = true;
});
window.addEventListener("scroll", () => {
  dirty = true;
}, { passive: true });

/** Far view and sounds, each on or off. */
function switches() {
  const heard = button("sounds", "", (self) => {
    sound.turnOn(!sound.isOn());
    nameSounds(self);
  });
  nameSounds(heard);
  return [button("far-open", "Far view", () => toFar(true)), heard];
}

function nameSounds(knob) {
  knob.setAttribute("aria-pressed", String(sound.isOn()));
  say(knob, sound.isOn() ? "Sounds: on" : "Sounds: off");
}

function toFar(on, focus = true) {
  far.turnOn(on);
  dirty = true;
  if (!on && document.getElementById("far")) document.getElementById("far").hidden = true;
  else if (on) far.show(inspection, moving, now, null);
  const next = document.getElementById(on ? "far-close" : "far-open");
  if (focus && next) next.focus({ preventScroll: true });
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
  awake.stay(["setting", "armed", "turning"].includes(inspection.phase));
  const desk = document.getElementById("desk");
  for (const phase of ["between", "setting", "armed", "turning"]) desk.classList.toggle(phase, inspection.phase === phase);
  instruct();
  drawSetUp();
  fill(document.getElementById("plug-place"), plug());
  showSoFar(document.getElementById("so-far"), judgedSoFar, waitsFor(inspection), early());
  dirty = true;
}

/** What to do now. Where the bench is away nothing else is asked. */
function instruct() {
  now = guide(inspection, moving && moving.phase === inspection.phase ? moving : null, { lost, stale });
  const [words, actions] = whatToDo(inspection, toVerdict);
  const place = document.getElementById("do");
  const dialled = moving && moving.dial && inspection.phase === "turning" && !inspection.gone && !lost;
  say(place, now.words || (dialled ? dial.words(moving.dial) : words));
  place.parentElement.classList.toggle("urgent", now.tone === "fault" && now.key !== "slower");
  place.parentElement.classList.toggle("warned", now.key === "slower");
  const buttons = document.getElementById("actions");
  // A button that rests after it was pressed has lost the focus already.
  const held = buttons.contains(document.activeElement) || buttons.querySelector("[data-held]");
  fill(buttons, lost ? null : actions);
  fill(document.getElementById("apart"), lost ? null : dropping(inspection));
  // What was pressed is gone: who goes on by the keyboard goes on from here.
  if (held && document.activeElement === document.body) place.focus({ preventScroll: true });
}

/** Where the stylus goes, while it is set: drawn in the places where readings are drawn later. */
function drawSetUp() {
  const step = inspection.phase === "setting" ? inspection.steps[inspection.current] : null;
  const heel_first = moving ? moving.heel_first : null;
  const key = step && heel_first !== null ? JSON.stringify([step, heel_first, inspection.tool, inspection.gauge, inspection.sense, units()]) : "";
  if (key === parts.setUp) return;
  parts.setUp = key;
  const drawn = key ? setUp({ tool: inspection.tool, steps: inspection.steps, step, gauge: inspection.gauge, sense: inspection.sense, turn: heel_first ? "heel" : step.role === "residual" ? "back-and-forth" : "either" }) : null;
  fill(document.getElementById("set-up-drive"), drawn && drawn.drive);
  fill(document.getElementById("set-up-side"), drawn && drawn.side);
  say(document.getElementById("set-up-words"), drawn ? drawn.text : "");
  document.getElementById("desk").classList.toggle("set-up-shown", Boolean(drawn));
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

/** A trace that was under way is over, and the page shows what it came to. */
export function ended() {
  sound.over();
}

/** Whether the trace under way is not once round yet. */
const early = () => inspection.phase !== "between" && (!moving || moving.covered_once < 0.97);

/** The moving part came. */
export function move(news) {
  moving = news;
  if (news.places !== turn.places || news.whole) {
    turn.places = news.places;
    turn.least = new Float64Array(news.places).fill(NaN);
    turn.most = new Float64Array(news.places).fill(NaN);
    turn.passes = new Uint16Array(news.places);
  }
  for (const [at, least, most, passes] of news.cells) {
    turn.least[at] = least;
    turn.most[at] = most;
    turn.passes[at] = passes;
  }
  turn.angle = news.angle_deg;
  newest = news.newest_ms || 0;
  dirty = true;
}

/** Whether readings should come and do not. */
function isStale() {
  const age = performance.timeOrigin + performance.now() - newest;
  return Boolean(moving) && !lost && newest > 0 && age > 2000 && ["setting", "armed", "turning"].includes(moving.phase);
}

/** Draws what is new; called once a frame. */
export function draw() {
  if (screen !== "live") return;
  if (isStale() !== stale) {
    stale = !stale;
    dirty = true;
  }
  if (!dirty || !moving) return;
  dirty = false;
  drawSetUp();
  const guided = guide(inspection, moving.phase === inspection.phase ? moving : null, { lost, stale });
  if (guided.key !== now.key || guided.words !== now.words || moving.dial) instruct();
  sound.follow(now.key);
  figures();
  const dialled = Boolean(moving.dial);
  document.getElementById("dial").hidden = !dialled;
  document.getElementById("desk").classList.toggle("dialled", dialled);
  document.getElementById("desk").classList.toggle("wrong-way", now.key === "wrong");
  dial.show(moving.dial);
  way.show(inspection, moving, now);
  pace.pace(moving, now);
  far.show(inspection, moving, now, pictures());
  speak();
  if (newest && newest !== measuredFor) {
    measuredFor = newest;
    measured.latency_ms.push(performance.timeOrigin + performance.now() - newest);
    if (measured.latency_ms.length > 600) measured.latency_ms.shift();
  }
}

/** What is read, and how much of the turn is covered. */
function figures() {
  say(document.getElementById("reading"), reading(moving.reading_mm, inspection.resolution_mm));
  const within = moving.angle_deg === null ? null : ((moving.angle_deg % 360) + 360) % 360;
  say(document.getElementById("angle"), within === null ? "—" : within.toFixed(1));
  const times = turn.wanted === 2 ? "twice" : `${turn.wanted} times`;
  const passes = turn.wanted > 1 ? `once ${percent(moving.covered_once)} %, ${times} ${percent(moving.covered)} %` : `${percent(moving.covered)} %`;
  say(document.getElementById("cover-text"), moving.phase === "turning" ? `Covered: ${passes}` : "Covered");
  document.getElementById("cover").value = done();
  const turned = Math.abs(moving.turned_deg / 360).toFixed(2);
  const missing = moving.missing > 0 ? `${moving.missing} lines lost or damaged` : "";
  const rate = moving.rate_hz ? `${moving.rate_hz.toFixed(0)} readings a second` : "";
  const words = { turning: [`${turned} turns`, `${moving.readings} readings`, rate, missing], setting: [rate, missing], armed: [rate, missing] };
  say(document.getElementById("lines"), (words[moving.phase] || []).filter(Boolean).join(" · "));
}

const percent = (share) => Math.floor(share * 100);

/** How far the trace is, in all the passes that are wanted. */
const done = () => (moving.covered * (turn.wanted - 1) + moving.covered_once) / Math.max(1, turn.wanted);

/** The ring, the land under the stylus and all lands; the flute that the stylus is on. */
function pictures() {
  const feature = currentFeature();
  const step = inspection.steps[inspection.current];
  const diameter_mm = feature ? feature.diameter_mm : step && step.diameter_mm;
  const mirrored = inspection.tool.heel_turns === "clockwise";
  const wanted = way.arrowWay(inspection, moving, now);
  // Angles grow the way the tool cuts, and heel first is the other.
  const arrow = wanted ? (wanted === inspection.tool.heel_turns ? -1 : 1) : 0;
  const scale = section.draw(turn, moving, judgedSoFar, done(), { feature, diameter_mm, wrong: now.key === "wrong", wanted: { mirrored, arrow } });
  say(document.getElementById("ring-note"), [scale, feature && judgedSoFar && judgedSoFar.flutes ? "dashed: the limit" : ""].filter(Boolean).join("; "));
  drop.on(document.getElementById("land"));
  const flute = drop.drawOne(turn, judgedSoFar, feature);
  const all = document.getElementById("all-lands");
  all.hidden = drop.judgedLands(judgedSoFar, feature).length === 0;
  // What is below the screen's edge is drawn when it is scrolled to.
  if (!all.hidden && all.getBoundingClientRect().top < window.innerHeight) {
    drop.on(document.getElementById("drops"));
    drop.draw(turn, judgedSoFar, feature);
  }
  return flute;
}

function currentFeature() {
  const step = inspection.steps[inspection.current];
  return step && step.role === "feature" ? inspection.tool.features.find((feature) => feature.name === step.name) : null;
}

/** Now and then, for who reads by ear. */
function speak() {
  if (moving.phase !== "turning" || performance.now() - spoken < 6000) return;
  spoken = performance.now();
  const wrong = moving.way === "wrong" ? "The wrong way: turn back, heel first. " : "";
  say(document.getElementById("spoken"), `${wrong}${percent(moving.covered_once)} percent covered once, ${percent(moving.covered)} percent as often as wanted; ${pace.paceWord(moving)}.`);
}
