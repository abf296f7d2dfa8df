// How fast the tool is turned: a needle over the range that is wanted, and a word.

import { el, say } from "/assets/dom.js";
import { draw } from "/assets/svg.js";

/** The scale in parts of the fastest, and how wide it is drawn. */
const MOST = 1.5;
const WIDE = 300;

const PACES = {
  slower: ["▼", "slower", "readings would lie too far apart"],
  right: ["●", "just right", "keep this pace"],
  faster: ["▲", "may go faster", "nothing is lost by it but time"],
  unknown: ["–", "not turning", ""],
};

/** The word for a screen reader. */
export const paceWord = (moving) => PACES[moving.pace][1];

/** The place of the sign. */
export const sign = () => el("div", { class: "pace", id: "pace" }, el("span", { class: "sign", "aria-hidden": "true" }), el("strong", { class: "word" }), scale(), el("span", { class: "quiet about" }));

function scale() {
  const end = (name) => draw("line", { x1: 0, x2: 0, y1: 7, y2: 29, class: `end ${name}` });
  return draw(
    "svg",
    { viewBox: `0 0 ${WIDE} 34`, class: "pace-scale", preserveAspectRatio: "xMinYMid meet", "aria-hidden": "true" },
    draw("rect", { x: 1, y: 12, width: WIDE - 2, height: 12, class: "whole" }),
    draw("rect", { x: 1, y: 12, width: 1, height: 12, class: "wanted" }),
    end("least"),
    end("most"),
    draw("path", { d: "M 0 26 L -8 1 L 8 1 Z", class: "needle" }),
  );
}

/** Puts the needle where the speed is; the range that is wanted stays where it is. */
function needle(box, moving) {
  const range = moving.wanted_deg_s;
  const hand = box.querySelector(".needle");
  hand.classList.toggle("off", !range || moving.direction === "still");
  if (!range) return;
  // What the page is told: the greatest that is right, and the most that the scale shows.
  const full = (MOST * range[1]) / 0.85;
  const at = (speed) => 8 + (WIDE - 16) * Math.min(1, Math.max(0, speed / full));
  const [least, most] = range.map(at);
  const band = box.querySelector(".wanted");
  const put = (element, name, value) => {
    const text = value.toFixed(0);
    if (element.getAttribute(name) !== text) element.setAttribute(name, text);
  };
  put(band, "x", least);
  put(band, "width", most - least);
  for (const [end, value] of [["least", least], ["most", most]]) for (const name of ["x1", "x2"]) put(box.querySelector(`.${end}`), name, value);
  hand.style.transform = `translateX(${at(moving.direction === "still" ? 0 : moving.steady_deg_s).toFixed(1)}px)`;
}

/** Shows how fast the tool is turned; `now` is what matters most. */
export function pace(moving, now) {
  const box = document.getElementById("pace");
  const between = !["setting", "armed", "turning"].includes(moving.phase);
  const away = ["lost", "gone", "silent"].includes(now.key);
  for (const id of ["reading", "angle"]) document.getElementById(id).classList.toggle("stale", (away || between) && moving.reading_mm !== null);
  const [kind, sign, word, about] = told(moving, now, between);
  box.className = `pace ${kind}`;
  say(box.querySelector(".sign"), sign);
  say(box.querySelector(".word"), word);
  say(box.querySelector(".about"), about);
  needle(box, away || between ? { ...moving, direction: "still" } : moving);
}

function told(moving, now, between) {
  if (now.key === "lost") return ["slower", "✕", "no bench", "what is shown is the last that came"];
  if (now.key === "gone" || now.key === "silent") return ["slower", "✕", "no readings", "the last ones are shown"];
  if (between) return ["unknown", "–", "no trace under way", moving.reading_mm === null ? "" : "the last readings are shown"];
  if (moving.direction === "still") return ["unknown", ...PACES.unknown];
  if (moving.pace === "unknown") return ["unknown", "…", "turning", "the gauge's rate is being counted"];
  const [sign, word, about] = PACES[moving.pace];
  const range = moving.wanted_deg_s;
  const span = range ? `${Math.ceil(range[0])}° to ${Math.floor(range[1])}° a second` : "";
  // The wrong way is right at no pace.
  if (moving.way === "wrong") return ["unknown wrong-way", "–", "wrong way", span];
  return [moving.pace, sign, word, `${span}: ${about}`];
}
