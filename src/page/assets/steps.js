// The steps of an inspection: how each stands, what to do now, and the buttons for it.

import { doing, post } from "/assets/ask.js";
import { button, el } from "/assets/dom.js";
import { length, read, units } from "/assets/units.js";

const STATES = { open: ["○", "to be taken"], taken: ["✓", "taken"], short: ["!", "cut short"] };

/** What a person calls a step. */
export function stepName(step) {
  const z = step.z_mm === null ? "" : ` at ${length(step.z_mm)}`;
  return `${step.name}${z}${inFixture(step)}`;
}

/** With which throw the fixture is engaged, where it is. */
const inFixture = (step) => (step.throw_mm === null ? "" : `, throw ${length(step.throw_mm)}`);

/** A step as a button that takes it. */
export function stepChip(inspection, step, at) {
  const current = at === inspection.current;
  const busy = inspection.phase === "turning";
  const [sign, word] = current ? ["▶", busy ? "recording" : "stylus"] : STATES[step.state];
  const text = step.state === "taken" && !current && !busy ? "taken; take again" : word;
  const chosen = button(`step-${at}`, "", (self) => doing(self, () => post("/api/take", { step: at })), `step ${current ? "current" : step.state}`);
  chosen.append(el("span", { class: "sign", "aria-hidden": "true" }, sign), el("span", {}, el("strong", {}, stepName(step)), el("span", { class: "block" }, text)));
  if (current) chosen.setAttribute("aria-current", "step");
  if (busy || current || asks(inspection)) chosen.disabled = true;
  return el("li", {}, chosen);
}

/** Whether the person has to say first how to go on after a break. */
const asks = (inspection) => inspection.broken === "asks" || inspection.broken === "cannot-be-tied";

/** What to do now: words, and the buttons for it. `toVerdict` leads back to the verdict, if any. */
export function whatToDo(inspection, toVerdict) {
  const step = inspection.steps[inspection.current];
  if (inspection.gone) return ["The gauge went away. What was read is kept. Plug it in again, in any socket, without turning the tool.", []];
  switch (inspection.phase) {
    case "setting":
      return setting(inspection, step);
    case "armed":
      if (step && step.role === "residual" && !inspection.simulated) return ["Turn the tool slowly by hand, back and forth over a land: the dial begins as soon as it turns.", [button("again-set", "Set the stylus again", (self) => doing(self, () => post("/api/take", { step: inspection.current })))]];
      return [
        `${inspection.simulated ? "The simulated hand turns the tool now. A real one is turned" : "Turn the tool"} slowly by hand, ${turnWords(inspection)}. It is recorded as soon as it turns.`,
        [button("again-set", "Set the stylus again", (self) => doing(self, () => post("/api/take", { step: inspection.current })))],
      ];
    case "turning":
      if (step && step.role === "residual") return ["Turn back and forth over a land, and watch the dial.", [order("enough", "It stands right: end it here", "enough")]];
      return [`Recording ${stepName(step)}: go on turning, it ends by itself.`, [order("enough", "End it here", "enough")]];
    default:
      return asks(inspection) ? afterBreak(inspection) : between(inspection, toVerdict);
  }
}

/** With one tooth no face comes from behind; with more the heel goes first. */
const turnWords = (inspection) => (inspection.tool.flutes > 1 ? `heel first: ${inspection.tool.heel_turns}, seen from the driven end` : "either way, and on the same way");

/** Dropping a trace costs the work of minutes: it stands apart, and asks. */
export function dropping(inspection) {
  if (inspection.phase !== "turning") {
    asked = false;
    return null;
  }
  const again = (wants) => () => {
    asked = wants;
    const place = document.getElementById("apart");
    place.replaceChildren(...dropping(inspection));
    document.getElementById(wants ? "drop-no" : "drop").focus();
  };
  if (!asked) return [button("drop", "Drop this trace …", again(true), "quiet-button")];
  return [
    el("p", { id: "drop-asks" }, "Drop what was read of this trace? It is left off the card, and stays in the folder’s raw log."),
    button("drop-no", "No, go on", again(false), "main"),
    order("give-up", "Yes, drop it", "give-up"),
  ];
}

/** Whether it was asked to drop the trace under way. */
let asked = false;

const order = (id, text, name, kind) => button(id, text, (self) => doing(self, () => post(`/api/order/${name}`)), kind);

/** Setting the stylus. Behind another trace nobody but the person knows the indicator's zero. */
function setting(inspection, step) {
  const where = place(step);
  if (step.rezeroed) {
    return [`Set the stylus on ${where}, and set the indicator to zero there.`, [order("set", "Stylus and zero are set", "set", "main")]];
  }
  if (inspection.zero_in_question) {
    return [
      `Set the stylus on ${where}. Was the indicator zeroed, or switched off, since the kept traces were taken?`,
      [order("set", "Set; zero untouched", "set", "main"), order("set-anew", "Set; it was zeroed", "set-anew", "main")],
    ];
  }
  const later = inspection.steps.some((one) => one.state !== "open");
  return [
    `Set the stylus on ${where}. Watch the reading: the plunger must have travel both ways.`,
    [order("set", "The stylus is set", "set", "main"), later ? order("set-anew", "It is set, and the indicator was zeroed", "set-anew") : null],
  ];
}

function place(step) {
  const where = step.z_mm === null ? "" : `, ${length(step.z_mm)} from the front`;
  if (step.role === "reference") return `the reference round${where}`;
  if (step.role === "motion") return `a round that turns in the engaged fixture${where}, its throw at ${length(step.throw_mm)}`;
  if (step.role === "residual") return `“${step.feature}”${where}, with the fixture engaged at a throw of about ${length(step.throw_mm)}`;
  return `“${step.name}”${where}`;
}

/** The gauge was away, or the program: which traces go with what comes is the person's to say. */
function afterBreak(inspection) {
  const kept = keptWords(inspection);
  const say = (id, text, asItWas, kind) => button(id, text, (self) => doing(self, () => post("/api/after-break", { as_it_was: asItWas })), kind);
  const anew = say("clamped-anew", "Take everything again", false);
  if (inspection.broken === "cannot-be-tied") {
    return [
      `${kept} The encoder may count from another zero now, and no index mark was passed in these traces, so nothing more can be joined to them.`,
      [judgeWhatThereIs(inspection), anew],
    ];
  }
  const next = inspection.next === null ? "Yes: keep them" : "Yes: go on";
  return [`${kept} Is the tool still clamped exactly as it was?`, [say("clamped-same", next, true, "main"), say("clamped-anew", "No: take all again", false), judgeWhatThereIs(inspection)]];
}

/** Which traces are there, by the names that the steps have. */
export function keptWords(inspection) {
  const named = (state) => inspection.steps.filter((step) => step.state === state).map(stepName);
  const list = (names) => names.join(", ");
  const whole = named("taken");
  const short = named("short");
  const parts = [whole.length ? `Kept whole: ${list(whole)}.` : "No trace is whole yet."];
  if (short.length) parts.push(`Cut short, to be taken again: ${list(short)}.`);
  return parts.join(" ");
}

function between(inspection, toVerdict) {
  if (inspection.judging === "under-way") return ["Judging …", []];
  const back = toVerdict ? button("to-verdict", "Back to the verdict", () => toVerdict()) : null;
  if (inspection.next === null) return ["Every step is taken. Choose one above to take it again.", [back || judgeButton()]];
  const step = inspection.steps[inspection.next];
  const go = button("take", `Go on with ${stepName(step)}`, (self) => doing(self, () => post("/api/take", { step: inspection.next })), "main");
  return [`Next: ${stepName(step)}.`, [go, judgeWhatThereIs(inspection), back]];
}

const judgeButton = () => button("judge", "Judge", (self) => doing(self, () => post("/api/judge")), "main");

/** What is asked of a reference, and why. */
const WHERE = "How far the round lies from the tool's front is needed: a clamped tool leans, and how far off centre it turns at its edges follows from the reference over that distance.";

/** The distance from the front that is typed; of a reference there has to be one. */
function distance(text, reference) {
  const z_mm = read(text);
  if (Number.isNaN(z_mm)) throw { message: "the distance from the front is no number", help: "write it with digits alone, such as 2.5" };
  if (reference && z_mm === null) throw { message: "the reference's distance from the front is not filled in", help: "measure it along the tool, from the front to where the stylus will touch" };
  return z_mm;
}

/** Adds a trace that turned out to be wanted, behind those of the plan. */
export function addition(inspection) {
  const what = el("select", { id: "more-what" }, el("option", { value: "" }, "reference round"), inspection.tool.features.map((feature) => el("option", { value: feature.name }, feature.name)));
  const z = el("input", { id: "more-z", inputmode: "decimal", autocomplete: "off", class: "short" });
  const throws = el("input", { id: "more-throw", inputmode: "decimal", autocomplete: "off", class: "short" });
  const why = el("p", { class: "quiet" }, WHERE);
  const explain = () => {
    why.hidden = Boolean(what.value) || throws.value.trim() !== "";
  };
  what.addEventListener("change", explain);
  throws.addEventListener("input", explain);
  const form = el(
    "form",
    { class: "row", novalidate: true },
    el("label", { for: "more-what" }, "Trace"),
    what,
    el("label", { for: "more-z" }, `from the front, ${units()}`),
    z,
    el("label", { for: "more-throw" }, `throw of the engaged fixture, ${units()} (empty: locked)`),
    throws,
    el("button", { id: "more-add" }, "Add it and go on"),
  );
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    doing(document.getElementById("more-add"), () => {
      const throw_mm = read(throws.value);
      if (Number.isNaN(throw_mm)) throw { message: "the throw is no number", help: "write what the fixture's scale shows, such as 1.2" };
      return post("/api/add-step", { feature: what.value || null, z_mm: distance(z.value, !what.value && throw_mm === null), throw_mm });
    });
  });
  return el("details", { id: "more", class: "more" }, el("summary", {}, "Add a trace"), form, why);
}

/** A reference that an undecided asks for, with what has to be known of it. */
export function referenceForm() {
  const z = el("input", { id: "reference-z", inputmode: "decimal", autocomplete: "off", "aria-describedby": "reference-why" });
  const diameter = el("input", { id: "reference-d", inputmode: "decimal", autocomplete: "off", "aria-describedby": "reference-d-hint" });
  const form = el(
    "form",
    { class: "card", novalidate: true, "aria-labelledby": "h-reference" },
    el("h3", { id: "h-reference" }, "A reference in the same clamping"),
    el("p", { id: "reference-why" }, WHERE),
    el("div", { class: "field" }, el("label", { for: "reference-z" }, `From the front, ${units()}`), z),
    el("div", { class: "field" }, el("label", { for: "reference-d" }, `Diameter of the round, ${units()}`), diameter, el("span", { class: "quiet", id: "reference-d-hint" }, "may be left empty")),
    el("div", { class: "row actions" }, el("button", { id: "reference-add", class: "main" }, "Trace it")),
  );
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    doing(document.getElementById("reference-add"), () => {
      const diameter_mm = read(diameter.value);
      if (Number.isNaN(diameter_mm)) throw { message: "the diameter of the round is no number", help: "write it with digits alone, such as 12.5" };
      return post("/api/add-step", { feature: null, z_mm: distance(z.value, true), diameter_mm });
    });
  });
  return form;
}

/** A verdict on less than was planned. */
export function judgeWhatThereIs(inspection) {
  const any = inspection.steps.some((step) => step.state !== "open");
  return any && inspection.phase !== "connecting" ? button("judge", "Judge what there is", (self) => doing(self, () => post("/api/judge"))) : null;
}

/** What the verdict so far waits for. */
export function waitsFor(inspection) {
  const step = inspection.steps[inspection.current];
  if (inspection.broken === "tied" && step && step.role === "feature") return "The lands are numbered, and judged, once the tool was turned all the way round and the encoder's index mark has passed: it joins this trace to those kept.";
  if (step && step.role === "reference") return "The reference is not judged: it tells the runout, which is taken out of the features.";
  if (step && step.role === "motion") return "The motion of the fixture is not judged: settings are worked out from it.";
  if (step && step.role === "residual") return "The land in the engaged fixture is not judged: it shows how throw and cam stand.";
  if (step) return "The lands are numbered, and judged, once the tool was turned all the way round. Until then the readings are shown as they come.";
  return "A verdict so far comes while a feature is traced.";
}
