// Which way the encoder counts: the spindle is turned clockwise once for each bench, and watched.

import { doing, post } from "/assets/ask.js";
import { button, el, fill, say } from "/assets/dom.js";
import { draw } from "/assets/svg.js";

/** The angle has to go so far. */
const FAR_ENOUGH_DEG = 45;

/** Builds the screen; `show` fills it. */
export function open(main) {
  fill(
    main,
    el(
      "section",
      { class: "card proof" },
      el("h2", { tabindex: "-1" }, "Which way does the encoder count?"),
      el(
        "div",
        { class: "proof-now" },
        picture(),
        el(
          "div",
          {},
          el("p", { id: "proof-do", class: "do", role: "status" }),
          el("div", { class: "big" }, el("span", { class: "label", id: "proof-label" }, "The angle went"), el("output", { id: "proof-gone" }, "—"), el("span", { class: "unit" }, "°")),
          el("progress", { id: "proof-far", max: String(FAR_ENOUGH_DEG), value: "0", "aria-labelledby": "proof-label" }),
        ),
      ),
      el("p", { id: "proof-other", class: "band fault", role: "alert", hidden: true }),
      el("div", { class: "row actions", id: "proof-actions" }),
      el("p", { id: "proof-why", class: "quiet" }),
    ),
  );
}

/** Shows how far it is. */
export function show(inspection) {
  const { sense, simulated } = inspection;
  const gone = Math.round(sense.gone_deg || 0);
  say(document.getElementById("proof-do"), words(sense, simulated));
  say(document.getElementById("proof-gone"), sense.stage === "opening" ? "—" : gone < 0 ? `−${-gone}` : String(gone));
  document.getElementById("proof-far").value = Math.min(FAR_ENOUGH_DEG, Math.abs(gone));
  const other = document.getElementById("proof-other");
  const against = sense.stage === "seen" && sense.seen !== sense.stated;
  other.hidden = !against;
  say(other, against ? `The gauge card says ${sense.stated}, which nobody had seen. Turn once more to be sure; if it stays so, correct the card.` : "");
  // Only where it changed: a button that is drawn anew loses a press.
  const place = document.getElementById("proof-actions");
  const kind = `${sense.stage} ${against}`;
  if (place.dataset.kind !== kind) {
    place.dataset.kind = kind;
    fill(place, actions(sense, against));
    if (sense.stage === "seen") place.querySelector("button").focus();
  }
  const real = simulated ? "At a real bench the wheel stands, the stylus is lifted off first, and the spindle is turned by hand. " : "";
  const card = sense.card ? `the gauge card ${sense.card}` : "the gauge card of this inspection";
  say(
    document.getElementById("proof-why"),
    `${real}This is done once for each bench, and kept on ${card}. Counted the wrong way round, edge and heel change places, and a land that drags looks clear: what hangs on that stays undecided until it is proven.`,
  );
}

function words(sense, simulated) {
  if (sense.stage === "opening") return "Opening the port, and waiting for the gauge to answer …";
  if (sense.stage === "seen") {
    const how = sense.gone_deg > 0 ? "grew" : "fell";
    return `While the spindle turned clockwise the angle ${how}: it grows ${sense.seen}.`;
  }
  return simulated
    ? "The simulated hand turns the spindle clockwise now, seen from the driven end."
    : "Wheel stopped, stylus lifted off, spindle free. Turn it by hand: clockwise, seen from the driven end, by a quarter of a turn.";
}

function actions(sense, against) {
  const tell = (id, text, word, kind) => button(id, text, (self) => doing(self, () => post(`/api/sense/${word}`)), kind);
  const without = tell("proof-leave", "Go on without", "leave");
  if (sense.stage !== "seen") return [without];
  const again = (kind) => tell("proof-again", "Turn once more", "again", kind);
  if (against) return [again("main"), tell("proof-keep", "It was clockwise: correct the card", "keep"), without];
  return [tell("proof-keep", "It was clockwise: keep it", "keep", "main"), again(""), without];
}

/** The spindle from its driven end, and where that is. */
function picture() {
  const text = (x, y, words) => draw("text", { x, y, "text-anchor": "middle" }, words);
  return draw(
    "svg",
    { viewBox: "0 0 360 190", class: "proof-picture", "aria-hidden": "true" },
    // What the eye sees: the end of the spindle, and an arrow as the hands of a clock go.
    draw("circle", { cx: 85, cy: 80, r: 44, class: "metal" }),
    draw("circle", { cx: 85, cy: 80, r: 7, class: "ink" }),
    draw("path", { d: "M 29.6 60 A 59 59 0 1 1 68 136.5", class: "way" }),
    draw("path", { d: "M 53 131 L 76 124 L 72 148 Z", class: "head" }),
    text(85, 180, "what you see"),
    // From the side: the eye looks along the axis, from the drive towards the work.
    draw("path", { d: "M 190 80 Q 205 64 220 80 Q 205 96 190 80 Z", class: "eye" }),
    draw("circle", { cx: 206, cy: 80, r: 5, class: "ink" }),
    draw("line", { x1: 224, y1: 80, x2: 354, y2: 80, class: "axis" }),
    draw("rect", { x: 236, y: 50, width: 36, height: 60, class: "metal" }),
    draw("rect", { x: 272, y: 62, width: 34, height: 36, class: "metal" }),
    draw("rect", { x: 306, y: 70, width: 40, height: 20, class: "metal" }),
    text(254, 130, "drive"),
    text(326, 130, "tool"),
    text(270, 180, "where you stand"),
  );
}
