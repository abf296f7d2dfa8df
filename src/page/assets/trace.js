// The bench while it is worked at: cautions, connecting, and each trace as it grows.

import { doing, get, post } from "/assets/ask.js";
import { button, el, fill, say } from "/assets/dom.js";
import * as drop from "/assets/drop.js";
import * as section from "/assets/section.js";
import { length, reading, units } from "/assets/units.js";

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
  const wanted = !now.cautioned ? "cautions" : live ? "live" : "connect";
  if (wanted !== screen) {
    screen = wanted;
    ({ cautions, connect, live: working })[wanted]();
    const heading = parts.main.querySelector("h2");
    if (heading) heading.focus({ preventScroll: true });
  }
  update();
}

const NOTES = () => el("ul", { id: "told", class: "told", "aria-live": "polite", "aria-relevant": "additions" });

async function cautions() {
  const list = el("ul", { class: "cautions" });
  fill(
    parts.main,
    el(
      "section",
      { class: "card" },
      el("h2", { tabindex: "-1" }, "Before a probe goes near the tool"),
      list,
      el("p", {}, "Clamp the tool as it will stay: all traces of this inspection belong to one clamping."),
      el("div", { class: "row actions" }, button("cautioned", "The wheel stands, the spindle is locked", (self) => doing(self, () => post("/api/caution")), "main")),
    ),
  );
  const known = await doing(null, () => get("/api/start"));
  if (known) fill(list, known.cautions.map((text) => el("li", {}, text)));
}

function connect() {
  const simulated = inspection.simulated;
  const choices = el("div", { id: "choices" });
  fill(
    parts.main,
    el(
      "section",
      { class: "card" },
      el("h2", { tabindex: "-1" }, simulated ? "Start the simulated gauge" : "Connect the gauge"),
      el("p", { id: "fault", class: "band fault", role: "alert", hidden: true }),
      el("p", { id: "standing", role: "status" }),
      choices,
      el("div", { class: "row", id: "beside" }),
    ),
    el("section", { "aria-labelledby": "h-told" }, el("h3", { id: "h-told" }, "What happened"), NOTES()),
  );
  if (simulated) {
    fill(
      choices,
      el("p", { class: "quiet" }, "It turns a tool that does not exist, as the card describes it, as soon as you say that the stylus is set. It speaks over a pseudo-terminal of this computer, as a real gauge does over its port."),
      el(
        "div",
        { class: "row actions" },
        button("sim-fast", "Start, four times a hand's pace", (self) => doing(self, () => post("/api/connect", { faster: 4 })), "main"),
        button("sim-hand", "Start at a hand's pace", (self) => doing(self, () => post("/api/connect", { faster: 1 }))),
      ),
    );
  } else {
    listPorts(choices);
  }
}

async function listPorts(choices) {
  fill(choices, el("p", { role: "status" }, "Looking for ports …"));
  const found = await doing(null, () => get("/api/ports"));
  if (!found || screen !== "connect") return;
  const before = inspection.choice || {};
  const options = () => found.ports.map((port) => el("option", { value: port.name }, port.about ? `${port.name}: ${port.about}` : port.name));
  const port = el("select", { id: "port" }, options());
  const second = el("select", { id: "second" }, el("option", { value: "" }, "none: a bridge gives both"), options());
  const other = el("input", { id: "other", autocomplete: "off", placeholder: "/dev/ttyUSB0" });
  if (before.port && found.ports.some((one) => one.name === before.port)) port.value = before.port;
  const none = found.ports.length === 0;
  fill(
    choices,
    none
      ? el("p", { class: "band" }, "No serial port was found. Plug the bridge or the indicator in, then look again.")
      : el("div", { class: "field" }, el("label", { for: "port" }, "Port of the bridge or the indicator"), port),
    none ? null : el("div", { class: "field" }, el("label", { for: "second" }, "Port of an instrument for the angle"), second),
    el("details", { open: none }, el("summary", {}, "A port that is not listed"), el("div", { class: "field" }, el("label", { for: "other" }, "Its name"), other)),
    el(
      "div",
      { class: "row actions" },
      button("connect", "Connect", (self) =>
        doing(self, () => {
          const name = other.value.trim() || port.value;
          if (!name) throw { message: "no port was chosen", help: "choose one, or write its name" };
          return post("/api/connect", { port: name, encoder_port: second.value || null });
        }), "main"),
      button("again-ports", "Look again", () => listPorts(choices)),
      button("sim-instead", "Use the simulated gauge instead", (self) => doing(self, () => post("/api/connect", { faster: 4 }))),
    ),
  );
}

function working() {
  fill(
    parts.main,
    el(
      "div",
      { class: "bench" },
      el("h2", { class: "unseen", tabindex: "-1" }, "At the bench"),
      el("nav", { "aria-label": "Steps", class: "steps" }, el("ol", { id: "steps" })),
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
      el("section", { class: "notes", "aria-labelledby": "h-told" }, el("h3", { id: "h-told" }, "What happened"), NOTES(), el("p", { id: "plug-place" })),
      el("p", { id: "spoken", class: "unseen", "aria-live": "polite" }),
    ),
  );
  section.open(document.getElementById("section"));
  drop.open(document.getElementById("drops"));
  soFar(judgedSoFar);
  dirty = true;
}

/** What the state says, put into the places of the view. */
function update() {
  told();
  if (screen === "connect") {
    const words = inspection.phase === "connecting" ? "Opening the port, and waiting for the gauge to answer …" : inspection.steps.some((step) => step.state !== "open") ? `${capital(inspection.kept_traces)}.` : "";
    say(document.getElementById("standing"), words);
    const last = inspection.told.find((one) => one.fault);
    const failed = inspection.phase === "closed" && last ? last.text : "";
    const fault = document.getElementById("fault");
    fault.hidden = !failed;
    say(fault, failed);
    fill(document.getElementById("beside"), judgeWhatThereIs(), toVerdict ? button("to-verdict", "Back to the verdict", () => toVerdict()) : null);
    return;
  }
  if (screen !== "live") return;
  fill(document.getElementById("steps"), inspection.steps.map(stepChip));
  const [words, actions] = whatToDo();
  say(document.getElementById("do"), words);
  fill(document.getElementById("actions"), actions);
  fill(document.getElementById("plug-place"), plug());
  dirty = true;
}

const LEGEND = [
  ["as-read", "as read"],
  ["taken-out", "stylus and runout taken out"],
  ["fitted", "fitted curve"],
  ["forbidden", "must stay clear"],
];

const STATES = { open: ["○", "to be taken"], taken: ["✓", "taken"], short: ["!", "cut short"] };

function stepName(step) {
  const z = step.z_mm === null ? "" : ` at ${length(step.z_mm)}`;
  return `${step.name}${z}`;
}

function stepChip(step, at) {
  const current = at === inspection.current;
  const [sign, word] = current ? ["▶", inspection.phase === "turning" ? "recording" : "stylus"] : STATES[step.state];
  const chosen = button(`step-${at}`, "", (self) => doing(self, () => post("/api/take", { step: at })), `step ${current ? "current" : step.state}`);
  chosen.append(el("span", { class: "sign", "aria-hidden": "true" }, sign), el("span", {}, el("strong", {}, stepName(step)), el("span", { class: "block" }, step.state === "taken" && !current && inspection.phase !== "turning" ? "taken; take again" : word)));
  if (current) chosen.setAttribute("aria-current", "step");
  if (inspection.phase === "turning" || current) chosen.disabled = true;
  return el("li", {}, chosen);
}

function whatToDo() {
  const step = inspection.steps[inspection.current];
  const order = (id, text, name, kind) => button(id, text, (self) => doing(self, () => post(`/api/order/${name}`)), kind);
  if (inspection.gone) return ["The gauge went away. What was read is kept. Plug it in again, in any socket, without turning the tool.", [order("give-up", "Give it up", "give-up")]];
  switch (inspection.phase) {
    case "setting":
      return [
        `Set the stylus on ${place(step)}${step.rezeroed ? ", and set the indicator anew" : ""}. Watch the reading: the plunger must have travel both ways.`,
        [order("set", "The stylus is set", "set", "main")],
      ];
    case "armed":
      return ["Turn the tool slowly by hand. It is recorded as soon as it turns.", [button("again-set", "Set the stylus again", (self) => doing(self, () => post("/api/take", { step: inspection.current })))]];
    case "turning":
      return [`Recording ${stepName(step)}: go on turning, it ends by itself.`, [order("enough", "That is enough", "enough"), order("give-up", "Give it up", "give-up")]];
    default:
      return between();
  }
}

/** A simulated gauge can be unplugged, to see what happens then. */
function plug() {
  if (!inspection.simulated) return null;
  const word = inspection.unplugged ? "Put the plug back" : "Pull the plug, to see what happens";
  return button("plug", word, (self) => doing(self, () => post("/api/plug", { pulled: !inspection.unplugged })), "quiet-button");
}

function place(step) {
  const where = step.z_mm === null ? "" : `, ${length(step.z_mm)} from the front`;
  return step.role === "reference" ? `the reference round${where}` : `“${step.name}”${where}`;
}

const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);

function between() {
  if (inspection.judging === "under-way") return ["Judging …", []];
  if (inspection.zero_lost) {
    const first = Math.max(0, inspection.steps.findIndex((step) => step.role === "reference"));
    return [
      `The count has another zero now, so new traces do not go with those before. ${capital(inspection.kept_traces)}. Take the reference again and then the others, or judge what there is.`,
      [button("take", `Take ${stepName(inspection.steps[first])} again`, (self) => doing(self, () => post("/api/take", { step: first })), "main"), judgeWhatThereIs()],
    ];
  }
  const back = toVerdict ? button("to-verdict", "Back to the verdict", () => toVerdict()) : null;
  if (inspection.next === null) return ["Every step is taken. Choose one above to take it again.", [back || judgeButton()]];
  const step = inspection.steps[inspection.next];
  return [`Next: ${stepName(step)}.`, [button("take", `Go on with ${stepName(step)}`, (self) => doing(self, () => post("/api/take", { step: inspection.next })), "main"), judgeWhatThereIs(), back]];
}

const judgeButton = () => button("judge", "Judge", (self) => doing(self, () => post("/api/judge")), "main");

function judgeWhatThereIs() {
  const any = inspection.steps.some((step) => step.state !== "open");
  return any && inspection.phase !== "connecting" ? button("judge", "Judge what there is", (self) => doing(self, () => post("/api/judge"))) : null;
}

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

/** What the growing trace comes to. */
export function soFar(judged) {
  judgedSoFar = judged;
  dirty = true;
  const place = document.getElementById("so-far");
  if (!place) return;
  if (!judged) {
    fill(place, el("p", { class: "quiet" }, "A provisional verdict comes once a feature has been turned all the way round."));
  } else if (judged.problem) {
    fill(place, el("p", { class: "quiet" }, `Nothing yet: ${judged.problem.message}.`));
  } else {
    fill(place, verdictLine(judged), judged.figures.slice(0, 4).map(figureLine));
  }
}

const WORDS = { pass: ["✓", "pass so far"], fail: ["✕", "fail so far"], undecided: ["?", "undecided so far"] };

function verdictLine(judged) {
  const [sign, word] = WORDS[judged.verdict] || ["–", "nothing has a limit"];
  return el("p", { class: `verdict-word ${judged.verdict || ""}` }, el("span", { "aria-hidden": "true" }, sign), ` ${word}`);
}

function figureLine(figure) {
  const flute = figure.flute ? `flute ${figure.flute}, ` : "";
  return el("div", { class: "figure" }, el("span", {}, `${flute}${figure.name.replace(/-/g, " ")}`), el("strong", {}, figure.shown), el("span", { class: "quiet" }, `allowed ${figure.allowed}`), interval(figure));
}

/** The interval of a figure against its limits, as a bar. */
function interval(figure) {
  if (!figure.interval || !figure.limit) return null;
  const [low, high] = figure.interval;
  const { min, max } = figure.limit;
  const ends = [low, high, min, max].filter((end) => typeof end === "number");
  const span = Math.max(...ends) - Math.min(...ends) || 1;
  const from = Math.min(...ends) - 0.1 * span;
  const across = 1.2 * span;
  const at = (value) => `${(((value - from) / across) * 200).toFixed(1)}`;
  const ns = "http://www.w3.org/2000/svg";
  const svg = document.createElementNS(ns, "svg");
  svg.setAttribute("viewBox", "0 0 200 14");
  svg.setAttribute("class", "interval");
  svg.setAttribute("preserveAspectRatio", "none");
  svg.setAttribute("aria-hidden", "true");
  const add = (name, attributes) => {
    const made = document.createElementNS(ns, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    svg.append(made);
  };
  add("line", { x1: 0, x2: 200, y1: 7, y2: 7, class: "axis" });
  add("rect", { x: at(low), width: Math.max(2, at(high) - at(low)), y: 4, height: 6, class: "spread" });
  for (const limit of [min, max]) if (typeof limit === "number") add("line", { x1: at(limit), x2: at(limit), y1: 0, y2: 14, class: "limit" });
  return svg;
}

const PACES = {
  slower: ["▼", "slower", "readings would lie too far apart"],
  right: ["●", "right", "go on like this"],
  faster: ["▲", "may go faster", "nothing is lost by it but time"],
  unknown: ["–", "not turning", ""],
};

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
  say(document.getElementById("reading"), reading(moving.reading_mm));
  const within = moving.angle_deg === null ? null : ((moving.angle_deg % 360) + 360) % 360;
  say(document.getElementById("angle"), within === null ? "—" : within.toFixed(1));
  pace();
  const once = Math.floor(moving.covered_once * 100);
  const all = Math.floor(moving.covered * 100);
  const passes = turn.wanted > 1 ? `${once} % once, ${all} % ${turn.wanted} times` : `${all} %`;
  say(document.getElementById("cover-text"), moving.phase === "turning" ? `Covered: ${passes}` : "Covered");
  document.getElementById("cover").value = (moving.covered * (turn.wanted - 1) + moving.covered_once) / Math.max(1, turn.wanted);
  const turned = Math.abs(moving.turned_deg / 360).toFixed(2);
  const way = { still: "standing still", cutting: "the way it cuts, edge first", backing: "backwards, heel first" }[moving.direction];
  const missing = moving.missing > 0 ? ` · ${moving.missing} lines lost or damaged` : "";
  say(document.getElementById("lines"), `${turned} turns, ${way} · ${moving.readings} readings${moving.rate_hz ? ` · ${moving.rate_hz.toFixed(0)} a second` : ""}${missing}`);
  const feature = currentFeature();
  section.draw(turn, moving, judgedSoFar);
  document.getElementById("legend").hidden = !drop.draw(turn, moving, judgedSoFar, feature);
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

function pace() {
  const box = document.getElementById("pace");
  const between = !["setting", "armed", "turning"].includes(moving.phase);
  for (const id of ["reading", "angle"]) document.getElementById(id).classList.toggle("stale", stale || between);
  if (between) {
    box.className = "pace unknown";
    say(box.querySelector(".sign"), "–");
    say(box.querySelector(".word"), "no trace under way");
    say(box.querySelector(".about"), "the last readings are shown");
    return;
  }
  if (stale) {
    box.className = "pace slower";
    say(box.querySelector(".sign"), "✕");
    say(box.querySelector(".word"), "no readings");
    say(box.querySelector(".about"), "the last ones are shown; nothing comes from the gauge");
    return;
  }
  const still = moving.direction === "still";
  const [sign, word, about] = PACES[still ? "unknown" : moving.pace];
  const known = !still && moving.pace === "unknown" ? ["…", "turning", "the gauge's rate is being counted"] : [sign, word, about];
  box.className = `pace ${still ? "unknown" : moving.pace}`;
  say(box.querySelector(".sign"), known[0]);
  say(box.querySelector(".word"), known[1]);
  const speed = Math.abs(moving.speed_deg_s).toFixed(0);
  const most = moving.fastest_deg_s ? `, at most ${moving.fastest_deg_s.toFixed(0)}` : "";
  say(box.querySelector(".about"), still ? "" : `${speed}° a second${most}: ${known[2]}`);
}

/** Now and then, for who reads by ear. */
function speak(once, all) {
  if (moving.phase !== "turning" || performance.now() - spoken < 6000) return;
  spoken = performance.now();
  say(document.getElementById("spoken"), `${once} percent covered once, ${all} percent as often as wanted; ${PACES[moving.pace][1]}.`);
}
