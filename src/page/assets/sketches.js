// One sketch beside a form: it follows the focus and shows what the field means, drawn as it is typed.

import { el, fill } from "/assets/dom.js";
import * as gauge from "/assets/sketch-gauge.js";
import * as grinder from "/assets/sketch-grinder.js";
import * as tool from "/assets/sketch-tool.js";
import { impossible, number, typedAt, unitWord } from "/assets/sketch-values.js";
import { picture, words } from "/assets/svg.js";
import { capital, units } from "/assets/units.js";

const KINDS = { tool, gauge, grinder };

const WIDE = 360;

/** From here on the sketch stands beside the fields. */
const BESIDE = window.matchMedia("(min-width: 54rem)");

/** The sketch of one field, and its words. `of` gives a field's key and what it is called. */
export function drawn(kind, values, path, of) {
  const unit = units();
  const { key, name } = path.length ? of(path) : { key: null, name: "" };
  const raw = typedAt(values, path);
  const limits = path[2] === "limits";
  const said = key ? unitWord(key, unit) : "";
  const made = KINDS[kind].sketch({ values, path, raw, mm: unit === "in" ? 25.4 : 1, unit: said });
  const typed = limits ? [raw && raw.min, raw && raw.max] : [raw];
  const wrong = (key && key.kind !== "text" && key.kind !== "choice" && key.kind !== "angles" ? typed.map((one) => impossible(one, key, unit)).find(Boolean) : "") || made.wrong || "";
  const empty = !made.whole && key && (key.kind === "choice" ? !raw : typed.every((one) => number(one) === null));
  const value = made.said || (key && key.kind === "choice" ? raw || "" : empty ? "" : `${String(raw ?? "").trim()}${said}`);
  const label = made.whole ? "" : `${name} ${wrong || empty ? "" : value}`.trim();
  const mark = made.label && !wrong ? named(made.label, label, made.anchor || "middle") : null;
  const art = picture(WIDE, 240, made.parts, mark);
  art.classList.toggle("guessed", Boolean(empty || wrong));
  return { art, name: label, text: made.text || "", wrong, empty, whole: made.whole };
}

/** What the focused field means, written where it is whole. */
function named([x, y], label, anchor) {
  // Letters of this size are about so wide.
  const wide = label.length * (BESIDE.matches ? 9.3 : 11.1);
  const left = { start: x, middle: x - wide / 2, end: x - wide }[anchor];
  const moved = Math.max(4 - left, 0) + Math.min(WIDE - 4 - wide - left, 0);
  if (wide <= WIDE - 8) return words(x + moved, y, label, "name", anchor);
  const squeezed = words(4, y, label, "name", "start");
  squeezed.setAttribute("textLength", String(WIDE - 8));
  squeezed.setAttribute("lengthAdjust", "spacingAndGlyphs");
  return squeezed;
}

/**
 * Puts a sketch beside a form that follows the focus in it. `sketch` draws that of a path by what is
 * typed by now, `pathOf` gives the path of a field by its id. Gives back what draws it anew.
 */
export function follow(form, sketch, pathOf) {
  const place = el("div", { class: "sketch-art" });
  const said = el("p", { class: "sketch-words", id: "sketch-words" });
  const wrong = el("p", { class: "sketch-wrong", id: "sketch-wrong", role: "status" });
  const box = el("aside", { class: "sketch", id: "sketch", "aria-label": "Sketch of the field" }, place, said, wrong);
  let path = [];
  let focused = null;
  const show = () => {
    const made = sketch(path);
    place.replaceChildren(made.art);
    fill(said, made.whole ? capital(`${made.text}.`) : [el("strong", {}, capital(made.name)), made.text ? ` — ${made.text}.` : "", made.empty ? " Nothing is filled in yet: drawn with what is usual." : ""]);
    const text = made.wrong ? `✕ ${capital(made.wrong)}.` : "";
    if (wrong.textContent !== text) wrong.textContent = text;
    box.classList.toggle("impossible", Boolean(made.wrong));
  };
  /** Draws it, and puts it where it belongs; what is under the finger stays there. */
  const settle = () => {
    const field = BESIDE.matches ? null : fieldOf(focused);
    const before = field ? field.getBoundingClientRect().top : 0;
    show();
    if (!field) {
      if (box.parentElement !== form) form.append(box);
      return;
    }
    const within = field.matches("li");
    if (within && field.lastElementChild !== box) field.append(box);
    else if (!within && field.nextElementSibling !== box) field.after(box);
    window.scrollBy({ top: field.getBoundingClientRect().top - before, behavior: "instant" });
  };
  form.classList.add("sketched");
  form.addEventListener("focusin", (event) => {
    const id = event.target.id || "";
    const found = event.target.matches("input, select") ? pathOf(id) : null;
    if (!found) return;
    path = found;
    focused = event.target;
    settle();
  });
  for (const typed of ["input", "change"]) form.addEventListener(typed, show);
  const moved = () => (form.isConnected ? settle() : BESIDE.removeEventListener("change", moved));
  BESIDE.addEventListener("change", moved);
  settle();
  return settle;
}

/** `f-feature-0-limits-drop_mm-min` is the field `feature`, 0, `limits`, `drop_mm`. */
export function pathOf(id) {
  if (!id.startsWith("f-")) return null;
  const parts = id.slice(2).split("-").map((part) => (/^\d+$/.test(part) ? Number(part) : part));
  return parts.at(-1) === "min" || parts.at(-1) === "max" ? parts.slice(0, -1) : parts;
}

/** The whole field around what has the focus, or had it before the form was drawn anew. */
function fieldOf(focused) {
  const made = focused && document.getElementById(focused.id);
  return made ? made.closest(".field, .step-edit") : null;
}
