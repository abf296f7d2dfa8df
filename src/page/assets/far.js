// The far view: one word, one arrow, one flute, to be read from two metres.

import { button, el, say } from "/assets/dom.js";
import { SIGNS } from "/assets/section.js";
import { arrow, arrowWay } from "/assets/way.js";

const KEY = "heelclear-far";

/** Whether it is wanted; remembered from one trace to the next while the page is open. */
let wanted = sessionStorage.getItem(KEY) === "yes";

export const isOn = () => wanted;

export function turnOn(on) {
  wanted = on;
  sessionStorage.setItem(KEY, on ? "yes" : "no");
  document.body.classList.toggle("far-on", on);
}

/** The place of the view, over all others; `close` is called where it is left. */
export function place(close) {
  return el(
    "section",
    { id: "far", class: "far", "aria-label": "Far view", hidden: true },
    el("p", { id: "far-word", class: "far-word" }),
    el("div", { class: "far-below" }, arrow("far-arrow"), el("p", { id: "far-flute", class: "far-flute" })),
    button("far-close", "Near view", close),
  );
}

/** Shows what matters most: `now` as the guide has it, and the flute under the stylus. */
export function show(inspection, moving, now, flute) {
  const view = document.getElementById("far");
  view.hidden = !wanted;
  if (!wanted) return;
  view.className = `far ${now.tone}`;
  say(document.getElementById("far-word"), now.word);
  const way = arrowWay(inspection, moving, now);
  view.querySelector("svg").style.visibility = way ? "" : "hidden";
  view.classList.toggle("counter", way === "counter-clockwise");
  const kind = flute ? flute.verdict || "undecided" : "";
  const place = document.getElementById("far-flute");
  place.className = `far-flute ${kind}`;
  say(place, flute ? `${flute.flute}${SIGNS[kind]}` : "");
  place.setAttribute("aria-label", flute ? `flute ${flute.flute}: ${{ pass: "good", fail: "bad" }[kind] || "open"} so far` : "no flute known yet");
}
