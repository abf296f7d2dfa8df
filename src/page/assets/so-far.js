// The provisional verdict beside a trace that grows, each figure with its interval.

import { el, fill } from "/assets/dom.js";
import { draw } from "/assets/svg.js";
import { capital } from "/assets/units.js";

/** What the growing trace comes to, or what it waits for. */
export function showSoFar(place, judged, wait, early) {
  // Before one whole turn there is nothing to object to yet.
  if (!judged || (judged.problem && early)) {
    fill(place, el("p", { class: "quiet" }, wait));
  } else if (judged.problem) {
    const help = judged.problem.help ? `. ${capital(judged.problem.help)}` : "";
    fill(place, el("p", { class: "quiet" }, `Nothing yet: ${judged.problem.message}${help}.`));
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
  const limits = [min, max].filter((limit) => typeof limit === "number");
  return draw(
    "svg",
    { viewBox: "0 0 200 14", class: "interval", preserveAspectRatio: "none", "aria-hidden": "true" },
    draw("line", { x1: 0, x2: 200, y1: 7, y2: 7, class: "axis" }),
    draw("rect", { x: at(low), width: Math.max(2, at(high) - at(low)), y: 4, height: 6, class: "spread" }),
    limits.map((limit) => draw("line", { x1: at(limit), x2: at(limit), y1: 0, y2: 14, class: "limit" })),
  );
}
