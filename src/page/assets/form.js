// A card as a form: every key with its meaning and range, complaints beside the field.

import { doing, get, post } from "/assets/ask.js";
import { ADDED, ANOTHER, ASKED, CALLED, KINDS, LEFT_OUT, OLDER, SAID, SAID_OF, TITLES, USUAL } from "/assets/card-words.js";
import { button, el, fill } from "/assets/dom.js";
import * as cams from "/assets/cams.js";
import * as draft from "/assets/draft.js";
import * as sketches from "/assets/sketches.js";
import { changed, shown, units } from "/assets/units.js";

let sections = [];
let values = {};
/** Draws the open form's fields and its note of the unit anew. */
let redraw = null;
/** Parts that the person opened, by their path. */
let unfolded = new Set();

/**
 * Opens a form on a card's file, on a card from elsewhere (`from`), or an empty one; `done` is called
 * when it is saved or left.
 */
export async function open(place, keys, kind, file, done, from = null) {
  sections = keys;
  values = structuredClone(USUAL[kind]);
  unfolded = new Set();
  if (file || from) {
    const inside = from && from.inspection ? `?inspection=${encodeURIComponent(from.inspection)}` : "";
    const read = await doing(null, () => get(file ? `/api/cards/${kind}/${encodeURIComponent(file)}` : `/api/grinder${inside}`));
    if (!read) return;
    values = read.values;
  }
  const before = draft.of(kind, file, from);
  if (before) {
    values = before.values;
    if (before.units !== units()) change("", values);
  }
  // A card comes in millimetres. What is shown is turned when it is; the rest goes back with it.
  else if (units() === "in") change("", values, (shownLater) => shownLater);
  cams.begin(kind === "grinder" ? values : null);
  let sketch = () => {};
  const name = el("input", { id: "card-name", autocomplete: "off", value: before ? before.name : file ? file.replace(/\.toml$/, "") : "" });
  const body = el("div", {});
  const unitNote = el("p", { class: "quiet" });
  const drawBody = () => {
    fill(unitNote, `Lengths are in ${units() === "in" ? "inches" : "millimetres"}. Fields marked “needed” must be filled in.`);
    cams.settle();
    fill(body, table("", "", values, kind, drawBody));
    sketch();
  };
  redraw = drawBody;
  drawBody();
  const asked = el(
    "form",
    { class: "card", novalidate: true },
    el("h2", { tabindex: "-1" }, kind === "shop" ? "The shop’s card" : file ? `Change ${file}` : from ? `Take over the grinder card of ${from.inspection || "this folder"}` : `A new ${kind} card`),
    unitNote,
    before ? el("p", { class: "notice", id: "from-draft" }, "What was typed before is here again; it is not saved yet.") : null,
    kind === "gauge" ? field("card-name", "Name of the card", "what you call this bench, needed", name) : null,
    el("div", { id: "objections", role: "alert" }),
    body,
    el(
      "div",
      { class: "row actions" },
      el("button", { id: "save-card", class: "main" }, "Save the card"),
      button("leave-form", "Leave without saving", () => {
        over = true;
        draft.drop();
        done();
      }),
    ),
  );
  // Taking the form away may still tell of a field that it changed.
  let over = false;
  const remember = () => over || draft.keep({ kind, file: file || null, from: from || null, units: units(), name: name.value, values });
  for (const typed of ["input", "change"]) asked.addEventListener(typed, remember);
  asked.addEventListener("submit", (event) => {
    event.preventDefault();
    cams.settle();
    const as = { tool: values.id || "unnamed", grinder: values.name || "unnamed", shop: "shop" }[kind] || name.value || "bench";
    const target = file || `${as}.toml`;
    doing(document.getElementById("save-card"), async () => {
      const path = `/api/cards/${kind}/${encodeURIComponent(target.replace(/[/\\]/g, "-"))}`;
      const answer = await post(path, { units: units(), values, new: !file, from });
      if (answer.objections) object(answer.objections);
      else {
        over = true;
        draft.drop();
        done(answer.file);
      }
    });
  });
  fill(place, asked);
  if (kind !== "shop") sketch = sketches.follow(asked, (path) => sketches.drawn(kind, values, path, keyOf), sketches.pathOf);
  asked.querySelector("h2").focus();
  window.scrollTo(0, 0);
}

/** The key of a field by its path, and what it is called. */
function keyOf(path) {
  const names = path.filter((part) => typeof part === "string");
  const heading = names.slice(0, -1).join(".");
  const section = sections.find((one) => one.heading.replace(/[[\]]/g, "") === heading);
  const key = section && section.keys.find((one) => one.name === names.at(-1));
  return { key: key || null, name: key ? label(key).toLowerCase() : "" };
}

/** Turns what is typed into an open form into the unit chosen now; whether there is one. */
export function changeUnits() {
  if (!document.getElementById("save-card")) return false;
  change("", values);
  redraw();
  return true;
}

/** A length that is not shown, in the unit chosen now. */
const exactly = (value) => (typeof value === "number" ? (units() === "in" ? value / 25.4 : value * 25.4) : value);

function change(heading, at, how = changed) {
  const section = sections.find((one) => one.heading.replace(/[[\]]/g, "") === heading);
  for (const key of section ? section.keys : []) {
    const below = heading ? `${heading}.${key.name}` : key.name;
    const inside = LEFT_OUT.has(key.name) ? exactly : how;
    if (key.kind === "table" && at[key.name]) change(below, at[key.name], inside);
    else if (key.kind === "tables") (at[key.name] || []).forEach((one) => change(below, one, inside));
    else if (key.kind === "length" && at[key.name] !== undefined) at[key.name] = how(at[key.name]);
    else if (key.kind === "length-limit" && at[key.name]) {
      for (const end of ["min", "max"]) at[key.name][end] = how(at[key.name][end]);
    }
  }
}

function title(heading, kind) {
  const text = TITLES[heading];
  return typeof text === "object" ? text[kind] : text || heading;
}

function table(heading, path, at, kind, again) {
  const section = sections.find((one) => one.heading === heading);
  if (!section) return [];
  const keys = section.keys.filter((key) => !LEFT_OUT.has(key.name) && (!OLDER.has(key.name) || at[key.name]) && !cams.saysIt(heading, key.name, at));
  const plain = keys.filter((key) => key.kind !== "table" && key.kind !== "tables");
  const first = (key) => key.required || ASKED.has(key.name);
  const needed = plain.filter(first);
  const rest = plain.filter((key) => !first(key));
  const more = rest.map((key) => input(key, path, at));
  const limits = heading === "[feature.limits]";
  return [
    plain.length > 0 && el(
      "fieldset",
      {},
      el("legend", {}, numbered(title(heading, kind), path)),
      needed.map((key) => input(key, path, at, again)),
      proven(at),
      limits || needed.length === 0 ? more : null,
      more.length > 0 && needed.length > 0 && !limits ? folded(`${path}.more`, "More", more, hasAny(rest, at)) : null,
      heading === "" && kind === "grinder" ? cams.learnt(at) : null,
    ),
    keys.filter((key) => key.kind === "table").map((key) => below(key, section, path, at, kind, again)),
    keys.filter((key) => key.kind === "tables").map((key) => several(key, section, path, at, kind, again)),
  ];
}

/** That the turning sense was seen, where a card says so. */
function proven(at) {
  const seen = at.sense_proven;
  return seen && seen.on ? el("p", { class: "quiet" }, `✓ Seen to grow ${seen.grows} on ${seen.on}.`) : null;
}

const hasAny = (keys, at) => keys.some((key) => at[key.name] !== undefined && at[key.name] !== "" && !(Array.isArray(at[key.name]) && at[key.name].length === 0) && key.name !== "curve");

function headingOf(section, key, brackets) {
  const above = section ? section.heading.replace(/[[\]]/g, "") : "";
  const path = above ? `${above}.${key.name}` : key.name;
  return brackets === 2 ? `[[${path}]]` : `[${path}]`;
}

function below(key, section, path, at, kind, again) {
  at[key.name] ||= {};
  const inner = table(headingOf(section, key, 1), join(path, key.name), at[key.name], kind, again);
  if (key.required || key.name === "limits") return inner;
  const keys = sections.find((one) => one.heading === headingOf(section, key, 1));
  return folded(join(path, key.name), title(headingOf(section, key, 1), kind), inner, kind === "grinder" && keys && hasAny(keys.keys, at[key.name]));
}

/** What is only looked at where somebody wants to; it stays open while the form is drawn anew. */
function folded(path, text, inner, open) {
  const made = el("details", { open: open || unfolded.has(path) }, el("summary", {}, text), inner);
  made.addEventListener("toggle", () => (made.open ? unfolded.add(path) : unfolded.delete(path)));
  return made;
}

/** `Wheel 2`, where there are several. */
function numbered(text, path) {
  const [, above, number] = path.match(/^(.*)\.(\d+)$/) || [];
  if (number === undefined || above === "motion" || above === "fixture") return text;
  const items = above.split(".").reduce((at, name) => at[name], values);
  return items.length > 1 ? `${text} ${Number(number) + 1}` : text;
}

function several(key, section, path, at, kind, again) {
  at[key.name] ||= key.required ? [{}] : [];
  const items = at[key.name];
  const where = join(path, key.name);
  const called = KINDS[key.name] || key.name;
  const add = (item, place = items.length) => {
    items.splice(place, 0, item);
    again();
    const first = document.querySelector(`#${idOf(`${where}.${place}`)} :is(input, select)`);
    if (first) first.focus();
  };
  const drop = (item) => {
    items.splice(items.indexOf(item), 1);
    again();
    document.getElementById(`more-${key.name}`).focus();
  };
  const one = (item, number) =>
    el(
      "div",
      { class: "nested", id: idOf(`${where}.${number}`) },
      table(headingOf(section, key, 2), `${where}.${number}`, item, kind, again),
      key.name === "fixture" ? cams.of(item, number, { add, again, table: (of, cam) => table("[[motion]]", `motion.${of}`, cam, kind, again), focus: (of) => document.querySelector(`#${idOf(`motion.${of}`)} input`) }) : null,
      items.length > 1 || !key.required
        ? button(`drop-${key.name}-${number}`, `Take ${item.name || `${called} ${number + 1}`} out${cams.besides(item)}`, () => {
            cams.drop(item);
            drop(item);
          })
        : null,
    );
  const stray = key.name === "motion";
  return [
    items.map((item, number) => (stray && cams.hasHome(item) ? null : one(item, number))),
    stray ? null : el("p", {}, button(`more-${key.name}`, items.length > 0 ? `Add another ${called}` : `Add a ${called}`, () => add({ ...ANOTHER[key.name] }))),
  ];
}

const join = (path, name) => (path ? `${path}.${name}` : name);
const idOf = (path) => `f-${path.replace(/\./g, "-")}`;

function label(key) {
  return CALLED[key.name] || called(key.name);
}

function called(name) {
  const words = name.replace(/_(mm_per_rev|mm|deg|ms|rpm|m_per_s)$/, "").replace(/_/g, " ");
  return words.charAt(0).toUpperCase() + words.slice(1);
}

function unitOf(key) {
  const length = units() === "in" ? "in" : "mm";
  if (key.name.endsWith("mm_per_rev")) return `${length} a turn`;
  if (key.name.endsWith("_rpm")) return "turns a minute";
  if (key.name.endsWith("_m_per_s")) return "m/s";
  return { length, "length-limit": length, angle: "°", "angle-limit": "°", angles: "°" }[key.kind] || (key.name.endsWith("_ms") ? "ms" : "");
}

function input(key, path, at, again) {
  const whole = join(path, key.name);
  const id = idOf(whole);
  // What every number of its kind keeps is not worth a line.
  const plain = key.kind.startsWith("length") || /_(rpm|m_per_s)$/.test(key.name);
  const range = key.range && !plain ? `, ${key.range.replace(/ deg$/, "°")}` : "";
  const added = ADDED[`${path.replace(/\.\d+/g, "")}.${key.name}`] ?? ADDED[key.name] ?? "";
  const meaning = key.meaning.replace(/`([^`]+)`/g, (_, name) => `“${called(name)}”`);
  const hint = `${meaning}${added}${range}${key.required ? ", needed" : ""}`;
  const unit = unitOf(key);
  const text = unit ? `${label(key)}, ${unit}` : label(key);
  if (key.kind.endsWith("-limit")) return limit(key, id, text, hint, at);
  if (key.kind === "choice") {
    const options = key.choices.map((word) => el("option", { value: word }, (SAID_OF[key.name] || SAID)[word] || word));
    if (!key.required) options.unshift(el("option", { value: "" }, "—"));
    const made = el("select", { id, "aria-describedby": `${id}-hint` }, options);
    made.value = at[key.name] ?? (key.required ? key.choices[0] : "");
    at[key.name] = made.value;
    made.addEventListener("change", () => {
      at[key.name] = made.value;
      if (key.name !== "grows") return;
      // What was seen spoke of the other statement, and one word says it.
      delete at.sense_proven;
      delete at.positive;
      again();
    });
    return field(id, text, hint, made);
  }
  const made = typing(id, key, at[key.name], (typed) => {
    at[key.name] = typed;
  });
  return field(id, text, hint, made);
}

function typing(id, key, value, keep, hint = `${id}-hint`) {
  const length = key.kind.startsWith("length");
  const number = key.kind !== "text";
  const first = show(value, length);
  const made = el("input", {
    id,
    value: first,
    autocomplete: "off",
    inputmode: number ? "decimal" : null,
    "aria-describedby": hint,
  });
  // What is kept is what is typed, in the unit that the form is sent in.
  keep(first);
  made.addEventListener("input", () => keep(made.value));
  return made;
}

function show(value, length) {
  if (value === undefined || value === null) return "";
  if (Array.isArray(value)) return value.join(" ");
  if (typeof value === "number") return length ? String(Number(shown(value).toFixed(6))) : String(value);
  return String(value);
}

function limit(key, id, text, hint, at) {
  const ends = (at[key.name] ||= {});
  const end = (which, word) => {
    const made = typing(`${id}-${which}`, key, ends[which], (typed) => {
      ends[which] = typed;
    }, `${id}-hint`);
    made.setAttribute("aria-label", `${text}, ${word}`);
    return el("span", { class: "end" }, el("span", { "aria-hidden": "true" }, word), made);
  };
  return el(
    "div",
    { class: "field", id, role: "group", "aria-labelledby": `${id}-label` },
    el("span", { class: "label", id: `${id}-label` }, text),
    el("span", { class: "row" }, end("min", "least"), end("max", "most")),
    el("span", { class: "quiet", id: `${id}-hint` }, hint),
    el("span", { class: "objection", id: `${id}-objection` }),
  );
}

function field(id, text, hint, made) {
  return el(
    "div",
    { class: "field" },
    el("label", { for: id }, text),
    made,
    el("span", { class: "quiet", id: `${id}-hint` }, hint),
    el("span", { class: "objection", id: `${id}-objection` }),
  );
}

/** Shows each complaint beside its field, and moves to the first. */
function object(objections) {
  document.querySelectorAll(".objection").forEach((one) => {
    one.textContent = "";
  });
  document.querySelectorAll("[aria-invalid]").forEach((one) => one.removeAttribute("aria-invalid"));
  const list = document.getElementById("objections");
  const homeless = [];
  for (const one of objections) {
    const id = idOf(cams.homeOf(one.field));
    const place = document.getElementById(`${id}-objection`);
    const text = one.help ? `${one.message}. ${one.help}` : one.message;
    if (!place) {
      homeless.push(text);
      continue;
    }
    place.textContent = text;
    const made = document.getElementById(id);
    const details = made.closest("details");
    if (details) details.open = true;
    const target = made.matches("input, select") ? made : made.querySelector("input");
    target.setAttribute("aria-invalid", "true");
    target.setAttribute("aria-describedby", `${id}-objection ${id}-hint`);
  }
  const count = objections.length;
  fill(
    list,
    el("p", { class: "band fault" }, `The card is not saved: ${count === 1 ? "one field" : `${count} fields`} must be mended.`, homeless.map((text) => el("span", { class: "block" }, text))),
  );
  const wrong = document.querySelector("[aria-invalid]");
  (wrong || list).focus();
}
