// The plan of an inspection: what is traced where, with which gauge, by whom.

import { complain, doing, post } from "/assets/ask.js";
import { button, el, fill, say } from "/assets/dom.js";
import * as noted from "/assets/noted.js";
import { fromSide } from "/assets/set-up.js";
import { follow } from "/assets/sketches.js";
import { changed, length, read, typed, units } from "/assets/units.js";

let steps = [];
let features = [];
let redraw = null;

/** Opens the plan for a chosen tool; `back` leads to the start. */
export async function open(place, chosen, known, back) {
  const suggested = await doing(null, () => post("/api/plan", chosen));
  if (!suggested) return;
  steps = suggested.steps.map((step) => ({ ...step, z: typed(step.z_mm), diameter: typed(step.diameter_mm), throws: step.throw_mm === null ? null : typed(step.throw_mm) }));
  features = suggested.features;
  const table = el("div", {});
  let sketch = () => {};
  const again = () => {
    fill(table, stepTable(again));
    sketch();
  };
  redraw = again;
  again();
  const pretended = Boolean(chosen.recipe);
  const gauge = gaugeChoice(known, pretended);
  const grinder = grinderChoice(known, pretended);
  const operator = el("input", { id: "operator", autocomplete: "name", value: who() });
  const customer = el("input", { id: "customer", autocomplete: "off", "aria-describedby": "customer-hint" });
  const temperature = el("input", { id: "temperature", inputmode: "decimal", autocomplete: "off", "aria-describedby": "temperature-hint" });
  const beside = noted.atPlan();
  const stage = el(
    "select",
    { id: "stage" },
    el("option", { value: "after-grind" }, "after the grind"),
    el("option", { value: "before-grind" }, "before the grind"),
  );
  const spacing = el("input", { id: "spacing", inputmode: "decimal", value: "0.5", "aria-describedby": "spacing-hint" });
  const passes = el("input", { id: "passes", inputmode: "numeric", value: "2", "aria-describedby": "passes-hint" });
  const asked = el(
    "form",
    { class: "card", novalidate: true },
    el("h2", { tabindex: "-1" }, `Plan for ${suggested.id} ${suggested.name}`),
    el(
      "div",
      { class: "row actions" },
      el("button", { id: "begin", class: "main" }, "Begin"),
      button("back", "Back", () => back()),
    ),
    el("fieldset", {}, el("legend", {}, "What is traced, in this order"), table, elsewhere(suggested.over_travel)),
    el(
      "fieldset",
      {},
      el("legend", {}, "With what, by whom"),
      line("gauge", "Gauge", gauge, pretended || known.gauges.length ? null : "there is no gauge card yet: make one at the start to measure with a real gauge"),
      grinder ? line("grinder", "Grinder", grinder, "its card is kept beside the traces: settings are worked out from it") : null,
      line("operator", "Who measures", operator),
      line("customer", "Customer", customer, "whose tool it is, for a certificate; may be left empty"),
      line("temperature", "Temperature at the bench, °C", temperature, "what the thermometer reads; may be left empty"),
      line("stage", "The tool is measured", stage),
    ),
    el("fieldset", {}, el("legend", {}, "Notes and photographs"), beside.fields),
    el(
      "details",
      {},
      el("summary", {}, "How densely"),
      line("spacing", "Angle between readings, °", spacing, "half a degree is usual; a slow gauge wants slow turning"),
      line("passes", "Passes over every place", passes, "two tell how well the reading repeats"),
    ),
  );
  asked.addEventListener("submit", (event) => {
    event.preventDefault();
    doing(document.getElementById("begin"), async () => {
      const ready = steps.map(ask);
      const wrong = ready.find((step) => Number.isNaN(step.z_mm) || Number.isNaN(step.diameter_mm));
      const open = steps.findIndex((step, at) => step.throws !== null && !(ready[at].throw_mm > 0));
      remember(operator.value);
      if (open >= 0) throw { message: `step ${open + 1} has no throw`, help: "write what the scale of the engaged fixture shows, such as 1.2" };
      if (wrong) throw { message: `a distance of the step “${wrong.feature || "reference"}” is no number`, help: "write it with digits alone, such as 2.5" };
      const temperature_c = temperature.value.trim() === "" ? null : Number(temperature.value.trim().replace(",", "."));
      if (Number.isNaN(temperature_c)) throw { message: "the temperature is no number", help: "write it with digits alone, such as 20.5" };
      await post("/api/begin", {
        ...chosen,
        gauge: gauge.value || null,
        ...(grinder ? JSON.parse(grinder.value) : {}),
        operator: operator.value,
        customer: customer.value,
        temperature_c,
        stage: stage.value,
        steps: ready,
        spacing_deg: Number(spacing.value.replace(",", ".")),
        passes: Math.round(Number(passes.value)),
      });
      await beside.begun();
    });
  });
  complain(null);
  fill(place, asked);
  sketch = follow(asked, (path) => sketched(suggested.tool, path), pathOf);
  asked.querySelector("h2").focus();
  window.scrollTo(0, 0);
}

/** The step and the key that a field of the plan is of. */
function pathOf(id) {
  const [, key, at] = id.match(/^(z|d|throw|what)-(\d+)$/) || [];
  return key ? [Number(at), key] : ["operator", "stage", "gauge", "grinder", "customer", "temperature", "spacing", "passes"].includes(id) ? [0, ""] : null;
}

/** The set-up of a step, as it is typed. */
function sketched(tool, [at, key]) {
  const step = steps[at ?? 0] || steps[0];
  const ready = steps.map(ask).map((one) => ({ ...one, z_mm: usual(one.z_mm), diameter_mm: usual(one.diameter_mm) || null }));
  const here = ready[steps.indexOf(step)];
  const raw = ask(step);
  const name = `${step.feature || "reference"}${key === "d" ? ", diameter" : key === "throw" ? ", throw" : ""}`;
  const wrong = { z: Number.isNaN(raw.z_mm) ? `“${step.z.trim()}” is no number` : raw.z_mm < 0 ? "it would lie in front of the tool" : "", d: Number.isNaN(raw.diameter_mm) ? `“${step.diameter.trim()}” is no number` : raw.diameter_mm !== null && raw.diameter_mm <= 0 ? "a diameter must be above 0" : "", throw: Number.isNaN(raw.throw_mm) ? `“${step.throws.trim()}” is no number` : raw.throw_mm !== null && raw.throw_mm <= 0 ? "a throw must be above 0" : "" }[key] || "";
  const far = here.z_mm === null ? "its distance from the front is not filled in" : `${length(here.z_mm)} from the front`;
  const thick = key === "d" && here.diameter_mm ? `, Ø ${length(here.diameter_mm)}` : "";
  return { art: fromSide({ tool, steps: ready, step: here, mark: key === "d" ? "d" : "z" }), name: `Step ${(at ?? 0) + 1}, ${name}`, text: `${far}${thick}`, wrong, empty: false };
}

/** A length that can be drawn. */
const usual = (mm) => (mm === null || Number.isNaN(mm) || mm < 0 ? null : mm);

const WHO = "heelclear-operator";

/** Who measured last on this browser. */
function who() {
  try {
    return localStorage.getItem(WHO) || "";
  } catch {
    return "";
  }
}

function remember(name) {
  try {
    localStorage.setItem(WHO, name.trim());
  } catch {
    // A browser that keeps nothing is told each time.
  }
}

/** Turns the distances that are typed into the unit chosen now; whether a plan is open. */
export function changeUnits() {
  if (!document.getElementById("begin")) return false;
  for (const step of steps) {
    step.z = changed(step.z);
    step.diameter = changed(step.diameter);
    if (step.throws !== null) step.throws = changed(step.throws);
  }
  redraw();
  return true;
}

/** What this bench does not trace, and how it is done. */
function elsewhere(names) {
  if (!names || names.length === 0) return null;
  return el(
    "p",
    { class: "band" },
    `The face angle of ${names.map((name) => `“${name}”`).join(" and ")} is not traced here: it needs a trace over table travel, and the gauge gives the turn. `,
    el("a", { href: "/manual/take-a-trace-over-travel", target: "_blank", rel: "noopener" }, "How to add it to the folder afterwards"),
  );
}

function ask(step) {
  return { feature: step.feature, z_mm: read(step.z), diameter_mm: read(step.diameter), rezeroed: step.rezeroed, throw_mm: step.throws === null ? null : read(step.throws), axial: Boolean(step.axial) };
}

function gaugeChoice(known, pretended) {
  const simulated = el("option", { value: "" }, "the simulated gauge");
  const real = known.gauges.filter((card) => card.said).map((card) => el("option", { value: card.file }, card.file.replace(/\.toml$/, "")));
  const made = el("select", { id: "gauge" }, pretended ? [simulated] : [real, simulated]);
  return made;
}

/** A grinder's card of the folder, or one of an earlier inspection; nothing where there is none. */
function grinderChoice(known, pretended) {
  const cards = known.grinders.filter((card) => card.said).map((card) => [{ grinder: card.file }, card.said.name]);
  const others = known.grinders_elsewhere.map((card) => [{ grinder_of: { inspection: card.inspection } }, `${card.said.name}, ${card.inspection ? `as in ${card.inspection}` : "beside the inspections"}`]);
  if (pretended || cards.length + others.length === 0) return null;
  const option = ([asked, text]) => el("option", { value: JSON.stringify(asked) }, text);
  const made = el("select", { id: "grinder", "aria-describedby": "grinder-hint" }, el("option", { value: "{}" }, "none"), [...cards, ...others].map(option));
  // The shop's only one is meant; of several nobody knows which.
  if (cards.length === 1) made.selectedIndex = 1;
  return made;
}

function line(id, text, made, hint) {
  return el("div", { class: "field" }, el("label", { for: id }, text), made, hint ? el("span", { class: "quiet", id: `${id}-hint` }, hint) : null);
}

function stepTable(again) {
  const unplaced = el("p", { id: "unplaced", class: "notice", role: "status" });
  const place = () => say(unplaced, withoutDistance());
  const row = (step, at) => {
    const engaged = step.throws !== null;
    const name = engaged ? (step.feature ? `${step.feature} in the fixture` : "motion of the fixture") : step.feature || "reference";
    const what = el("select", { id: `what-${at}`, "aria-label": `Step ${at + 1}: what is traced` }, [
      el("option", { value: "" }, engaged ? "round in the engaged fixture" : "reference round"),
      features.map((feature) => el("option", { value: feature }, engaged ? `${feature} in the engaged fixture` : feature)),
    ]);
    what.value = step.feature || "";
    what.addEventListener("change", () => {
      step.feature = what.value || null;
      again();
    });
    const z = typing(`z-${at}`, `Step ${at + 1}, ${name}: distance from the front, ${units()}`, step.z, (text) => {
      step.z = text;
      place();
    });
    const diameter = typing(`d-${at}`, `Step ${at + 1}, ${name}: diameter of the round, ${units()}`, step.diameter, (text) => {
      step.diameter = text;
    });
    const throws = engaged
      ? typing(`throw-${at}`, `Step ${at + 1}, ${name}: throw of the fixture, ${units()}`, step.throws, (text) => {
          step.throws = text;
        })
      : null;
    const zero = el("input", { type: "checkbox", id: `zero-${at}` });
    zero.checked = step.rezeroed;
    zero.addEventListener("change", () => {
      step.rezeroed = zero.checked;
    });
    const out = button(`out-${at}`, "Remove", () => {
      steps.splice(at, 1);
      again();
    });
    out.setAttribute("aria-label", `Remove step ${at + 1}, ${name}`);
    return el(
      "li",
      { class: "step-edit" },
      el("span", { class: "number", "aria-hidden": "true" }, String(at + 1)),
      what,
      el("span", { class: "pair" }, el("span", { "aria-hidden": "true" }, `from the front, ${units()}`), z),
      engaged ? el("span", { class: "pair" }, el("span", { "aria-hidden": "true" }, `throw, ${units()}`), throws) : step.feature ? null : el("span", { class: "pair" }, el("span", { "aria-hidden": "true" }, `Ø, ${units()}`), diameter),
      steps.length > 1 ? out : null,
      at > 0 ? el("label", { class: "check" }, zero, "the indicator is zeroed anew before this one") : null,
    );
  };
  place();
  const more = (id, text, feature) =>
    button(id, text, () => {
      steps.push({ feature, z: "", diameter: "", rezeroed: false, throws: null });
      again();
    });
  const inFixture = (id, text, feature) =>
    button(id, text, () => {
      steps.push({ feature, z: "", diameter: "", rezeroed: false, throws: "" });
      again();
    });
  return [
    el("p", { class: "quiet" }, "A reference on the shank or a pilot tells the runout; without it nothing that runout touches can pass. Trace a feature at two distances from the front for its back taper."),
    el("ol", { class: "plan" }, steps.map(row)),
    unplaced,
    el("p", { class: "row" }, more("add-reference", "Add a reference", null), features.map((feature) => more(`add-${feature}`, `Add ${feature}`, feature))),
    el(
      "details",
      {},
      el("summary", {}, "With a relieving fixture engaged"),
      el("p", { class: "quiet" }, "Before a grind: the motion of the fixture, on a round that turns in it; then a land that is ridden on in it, to set throw and cam by a dial."),
      el("p", { class: "row" }, inFixture("add-motion", "Add its motion", null), features.map((feature) => inFixture(`add-in-${feature}`, `Add ${feature} in it`, feature))),
    ),
  ];
}

/** A clamped tool leans, and a length that nobody states cannot be reckoned with. */
function withoutDistance() {
  const empty = steps.map((step, at) => (step.z.trim() === "" && step.throws === null ? at + 1 : 0)).filter(Boolean);
  if (empty.length === 0 || !steps.some((step) => !step.feature)) return "";
  const which = empty.length === 1 ? `Step ${empty[0]} has` : `Steps ${empty.slice(0, -1).join(", ")} and ${empty.at(-1)} have`;
  return `${which} no distance from the front. It is needed: a clamped tool leans, and what that does between reference and edge follows from their distances; without them it stays undecided.`;
}

function typing(id, name, value, keep) {
  const made = el("input", { id, "aria-label": name, inputmode: "decimal", autocomplete: "off", class: "short", value });
  made.addEventListener("input", () => keep(made.value));
  return made;
}
