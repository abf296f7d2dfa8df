// The dial for the hand on a fixture's throw: what should stand still, and what to change until it does.

import { el, fill, say } from "/assets/dom.js";
import { draw } from "/assets/svg.js";
import { capital, length, shown, units } from "/assets/units.js";

/** Half the scale, in degrees of the needle, and how many times what is still enough it shows. */
const SWING = 62;
const REACH = 10;
let place = null;
let built = "";

/** Takes the place of the dial. */
export function open(section) {
  place = section;
  built = "";
}

const at = (radius, deg) => [200 + radius * Math.sin((deg * Math.PI) / 180), 210 - radius * Math.cos((deg * Math.PI) / 180)].map((one) => one.toFixed(1)).join(" ");
const arc = (radius, from, to) => `M ${at(radius, from)} A ${radius} ${radius} 0 0 1 ${at(radius, to)}`;

function face() {
  const picture = draw("svg", { viewBox: "0 0 400 230", class: "dial-face", role: "img", "aria-label": "The dial: its needle should stand still in the middle" });
  picture.append(draw("path", { d: arc(180, -SWING, SWING), class: "scale" }), draw("path", { d: arc(180, -SWING / REACH, SWING / REACH), class: "still" }));
  for (let tick = -REACH; tick <= REACH; tick += 1) {
    const deg = (tick / REACH) * SWING;
    const long = tick % 5 === 0;
    picture.append(draw("path", { d: `M ${at(180, deg)} L ${at(long ? 158 : 168, deg)}`, class: "tick" }));
  }
  picture.append(draw("text", { x: 18, y: 176, id: "dial-low" }), draw("text", { x: 382, y: 176, "text-anchor": "end", id: "dial-high" }));
  picture.append(draw("path", { d: "M 200 214 L 200 44", class: "needle", id: "needle" }), draw("circle", { cx: 200, cy: 210, r: 9, class: "hub" }));
  return picture;
}

/** Shows how the dial stands. */
export function show(dial) {
  if (!dial || !place) return;
  if (dial.state !== built) {
    built = dial.state;
    if (dial.state === "shown") {
      fill(place, el("h3", { id: "h-dial" }, ""), face(), el("p", { class: "dial-value" }, el("output", { id: "dial-value" }, "—"), el("span", { class: "unit" }, units())), el("p", { id: "dial-moves", class: "dial-moves" }), el("p", { id: "dial-throw" }), el("p", { id: "dial-cam" }), el("p", { id: "dial-by", class: "quiet" }));
    } else if (dial.state === "without") {
      const help = dial.problem.help ? ` ${dial.problem.help}.` : "";
      fill(place, el("h3", { id: "h-dial" }, "No dial"), el("p", {}, `${dial.problem.message}.${help}`));
    } else {
      fill(place, el("h3", { id: "h-dial" }, "The dial"), el("p", { class: "quiet" }, "One moment: it is worked out how the fixture is to stand."));
    }
  }
  if (dial.state === "shown") numbers(dial);
}

function numbers(dial) {
  const by = { sheet: "as the set-up sheet has it", card: "as the tool card wants", old: "with its relief as it was" }[dial.wanted];
  say(document.getElementById("h-dial"), `Dial for “${dial.feature}”, ${by}`);
  const end = Number(shown(dial.enough_mm * REACH).toPrecision(2));
  say(document.getElementById("dial-low"), `−${end}`);
  say(document.getElementById("dial-high"), `+${end}`);
  const share = dial.value_mm === null ? null : Math.max(-1.04, Math.min(1.04, dial.value_mm / (dial.enough_mm * REACH)));
  const needle = document.getElementById("needle");
  needle.setAttribute("transform", `rotate(${((share ?? 0) * SWING).toFixed(2)} 200 210)`);
  needle.classList.toggle("off", share === null);
  const decimals = units() === "in" ? 4 : 3;
  const signed = (mm) => `${mm < 0 ? "−" : "+"}${Math.abs(shown(mm)).toFixed(decimals)}`;
  say(document.getElementById("dial-value"), dial.value_mm === null ? "off the land" : signed(dial.value_mm));
  const still = dial.moves_mm !== null && dial.moves_mm <= dial.enough_mm;
  const moves = document.getElementById("dial-moves");
  moves.classList.toggle("pass", still);
  say(moves, dial.moves_mm === null ? "Turn over a land to see how still it stands." : `${still ? "✓ " : ""}Moves ${round(dial.moves_mm)} over the land; ${round(dial.enough_mm)} is still enough.`);
  const now = dial.standing;
  say(document.getElementById("dial-throw"), `Throw ${now ? `${round(now.throw_mm)} ± ${round(2 * now.throw_u_mm)} (k = 2)` : "not known yet"}, wanted ${round(dial.throw_mm)}`);
  const cam = now && now.cam_deg !== null ? `${now.cam_deg.toFixed(1)}° ± ${(2 * now.cam_u_deg).toFixed(1)}° (k = 2)` : now && !now.more_land ? "any does" : "not known yet";
  say(document.getElementById("dial-cam"), `Cam angle ${cam}, wanted ${dial.cam_deg.toFixed(1)}°`);
  say(document.getElementById("dial-by"), `Cam “${dial.cam}” in “${dial.fixture}”; it leaves ${round(dial.mismatch_mm)} of the old land unmatched, which the skim takes off.`);
}

const round = (mm) => length(Math.round(mm * 1000) / 1000);

/** What the hand is to do now, in a few large words. */
export const words = (dial) => capital(dial.say[units()]);
