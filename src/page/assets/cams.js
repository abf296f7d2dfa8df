// The cams of a grinder's card as a form has them: each stands with the fixture and direction that it is of.

import { button, el } from "/assets/dom.js";
import { TAUGHT } from "/assets/card-words.js";

/** The grinder's card that is filled in; nothing while another card is. */
let card = null;
/** The fixture that each cam is of, however the fixture is called meanwhile. */
let homes = new Map();

/** Begins with a grinder's card, or with none. */
export function begin(values) {
  card = values;
  homes = new Map();
}

/** Cams follow their fixture's name and direction; one that names a fixture of the card belongs to it. */
export function settle() {
  if (!card) return;
  card.motion ||= [];
  card.fixture ||= [];
  for (const cam of card.motion) {
    const home = homes.get(cam) || card.fixture.find((it) => it.name && it.name === cam.fixture && it.direction === cam.direction);
    if (!home) continue;
    homes.set(cam, home);
    cam.fixture = home.name;
    cam.direction = home.direction;
  }
}

export const hasHome = (cam) => homes.has(cam);

/** Whether the place of a cam says already what a key of it would. */
export const saysIt = (heading, key, at) => heading === "[[motion]]" && homes.has(at) && (key === "fixture" || key === "direction");

const inside = (fixture) => (card ? card.motion.filter((cam) => homes.get(cam) === fixture) : []);

/** What is taken out with a fixture. */
export const besides = (item) => (inside(item).length > 0 ? " with its cams" : "");

/** Takes the cams of a fixture out, or forgets one that is taken out itself. */
export function drop(item) {
  if (!card) return;
  for (const cam of inside(item)) {
    card.motion.splice(card.motion.indexOf(cam), 1);
    homes.delete(cam);
  }
  homes.delete(item);
}

/** The cams of a fixture, and what can be added to it. */
export function of(fixture, number, form) {
  const way = fixture.direction || "radial";
  const one = (cam) => {
    const at = card.motion.indexOf(cam);
    return el(
      "div",
      { class: "nested", id: `f-motion-${at}` },
      form.table(at, cam),
      button(`drop-motion-${at}`, `Take ${cam.cam || `cam ${at + 1}`} out`, () => {
        card.motion.splice(card.motion.indexOf(cam), 1);
        homes.delete(cam);
        form.again();
        document.getElementById(`more-cam-${number}`).focus();
      }),
    );
  };
  const other = way === "radial" ? "axial" : "radial";
  const both = card.fixture.some((it) => it !== fixture && it.name === fixture.name);
  return [
    inside(fixture).map(one),
    el(
      "p",
      { class: "row" },
      button(`more-cam-${number}`, `Add a cam of ${fixture.name || "this fixture"}`, () => {
        const cam = {};
        card.motion.push(cam);
        homes.set(cam, fixture);
        form.again();
        form.focus(card.motion.length - 1)?.focus();
      }),
      both
        ? null
        : button(`more-way-${number}`, `It moves the tool in the ${other} direction too`, () => {
            const { name, turns, cam_graduation_deg } = fixture;
            form.add({ name, direction: other, turns, cam_graduation_deg }, number + 1);
          }),
    ),
  ];
}

/** Where a complaint is shown: one of a cam's fixture, at the fixture. */
export function homeOf(field) {
  const [, at, key] = field.match(/^motion\.(\d+)\.(fixture|direction)$/) || [];
  const home = card && at !== undefined ? homes.get(card.motion[at]) : null;
  return home ? `fixture.${card.fixture.indexOf(home)}.${key === "fixture" ? "name" : key}` : field;
}

/** What finished grinds taught, which is kept as it is. */
export function learnt(at) {
  const all = (at.correction || []).map((one) => {
    const whose = [one.fixture, one.direction].filter(Boolean).join(", ");
    return `${TAUGHT[one.of] || one.of} ${Number(Number(one.value).toPrecision(3))}${whose ? ` (${whose})` : ""}`;
  });
  return all.length > 0 ? el("p", { class: "quiet" }, `✓ Learnt from finished grinds, kept as it is: ${all.join("; ")}.`) : null;
}
