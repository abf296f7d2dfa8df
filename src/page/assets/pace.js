// How fast the tool is turned, in a word that can be read from two metres.

import { say } from "/assets/dom.js";

const PACES = {
  slower: ["▼", "slower", "readings would lie too far apart"],
  right: ["●", "just right", "keep this pace"],
  faster: ["▲", "may go faster", "nothing is lost by it but time"],
  unknown: ["–", "not turning", ""],
};

/** The word for a screen reader. */
export const paceWord = (moving) => PACES[moving.pace][1];

/** Shows how fast the tool is turned; `stale` where readings should come and do not. */
export function pace(moving, stale) {
  const box = document.getElementById("pace");
  const between = !["setting", "armed", "turning"].includes(moving.phase);
  for (const id of ["reading", "angle"]) document.getElementById(id).classList.toggle("stale", (stale || between) && moving.reading_mm !== null);
  if (between) {
    box.className = "pace unknown";
    say(box.querySelector(".sign"), "–");
    say(box.querySelector(".word"), "no trace under way");
    say(box.querySelector(".about"), moving.reading_mm === null ? "" : "the last readings are shown");
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
  const most = moving.most_deg_s ? `, at most ${moving.most_deg_s.toFixed(0)}` : "";
  say(box.querySelector(".about"), still ? "" : `${speed}° a second${most}: ${known[2]}`);
}
