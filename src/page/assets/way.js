// Which way the tool is to be turned, and whether it is: the first sign at the bench.

import { el, say } from "/assets/dom.js";
import { draw } from "/assets/svg.js";

/** An arrow round a tool, clockwise; the style sheet mirrors it. */
export function arrow(name) {
  return draw(
    "svg",
    { viewBox: "0 0 100 100", class: name, "aria-hidden": "true" },
    // Three quarters of a turn, and its head at the right, pointing down.
    draw("path", { d: "M 24 70 A 33 33 0 1 1 80 46", class: "shaft" }),
    draw("path", { d: "M 61 45 L 99 45 L 80 72 Z", class: "head" }),
  );
}

/** The place of the sign. */
export const sign = () => el("div", { class: "way", id: "way" }, arrow("turn-arrow"), el("div", { class: "way-words" }, el("strong", { class: "word" }), el("span", { class: "quiet about" })), el("span", { class: "more", id: "to-go" }));

const ROTATION = { cutting: { clockwise: "counter-clockwise", "counter-clockwise": "clockwise" }, backing: { clockwise: "clockwise", "counter-clockwise": "counter-clockwise" } };

/** Which way the tool turns now, seen from the driven end; empty where it stands. */
export const turns = (inspection, moving) => (moving && moving.direction !== "still" ? ROTATION[moving.direction][inspection.tool.heel_turns] : "");

/** Shows the way: `now` is what matters most. */
export function show(inspection, moving, now) {
  const box = document.getElementById("way");
  const [kind, mark, word, about] = words(inspection, moving, now);
  box.className = `way ${kind}`;
  const arrow = arrowWay(inspection, moving, now);
  box.classList.toggle("counter", arrow === "counter-clockwise");
  box.querySelector("svg").style.visibility = arrow ? "" : "hidden";
  say(box.querySelector(".word"), mark ? `${mark} ${word}` : word);
  say(box.querySelector(".about"), about);
  const left = moving && moving.to_go && ["nearly", "stands", "slower"].includes(now.key) ? moving.to_go : null;
  const near = left && left.next_deg < 0.75;
  say(document.getElementById("to-go"), left ? (near ? `${Math.ceil(left.all_deg)}° more` : `${Math.ceil(left.next_deg)}° to the mark`) : "");
}

/** Where bench or gauge is away nobody is told to turn. */
const AWAY = new Set(["lost", "gone", "silent"]);

/** The way that the arrow points: the wanted one, and where any is, the one that it turns. */
export function arrowWay(inspection, moving, now) {
  if (!moving || AWAY.has(now.key) || !["setting", "armed", "turning"].includes(inspection.phase) || moving.dial) return "";
  return moving.heel_first ? inspection.tool.heel_turns : turns(inspection, moving);
}

function words(inspection, moving, now) {
  const wanted = inspection.tool.heel_turns;
  const live = ["setting", "armed", "turning"].includes(inspection.phase);
  if (!moving || !live || AWAY.has(now.key)) return ["off", "", "–", ""];
  if (moving.dial) return ["off", "", "back and forth", "over one land"];
  const turned = turns(inspection, moving);
  if (!moving.heel_first) {
    if (inspection.phase === "setting" || !turned) return ["ask", "", "either way", "it has one tooth: turn on the same way"];
    return ["right", "✓", turned, "either way is right: it has one tooth"];
  }
  if (inspection.phase === "setting") return ["ask", "", wanted, "heel first, seen from the driven end: once the stylus is set"];
  if (moving.way === "wrong") return ["wrong", "✕", "other way!", `turn ${wanted}, heel first`];
  if (moving.way === "right") return ["right", "✓", wanted, "heel first, seen from the driven end"];
  return ["ask", "", wanted, "turn so: heel first, seen from the driven end"];
}
