// The start: pick or make a tool card, go on with an inspection, open the archive.

import * as archive from "/assets/archive.js";
import { verdictWord } from "/assets/archive-lines.js";
import { complain, doing, get, post, words } from "/assets/ask.js";
import * as back from "/assets/back.js";
import { button, el, fill } from "/assets/dom.js";
import * as draft from "/assets/draft.js";
import * as form from "/assets/form.js";
import * as learnt from "/assets/learnt.js";
import * as plan from "/assets/plan.js";
import { moment } from "/assets/units.js";

let place = null;
let known = null;

/** Shows the start. */
export async function open(main) {
  place = main;
  const looking = el("p", { role: "status" }, "Looking into the folder …");
  fill(main, el("h2", {}, "What is to be measured?"), looking);
  await doing(null, async () => {
    known = await get("/api/start");
    // Another view may have been opened meanwhile.
    if (!looking.isConnected) return;
    // The page was loaded anew over the archive, or over a form.
    const loaded = back.wasOpen();
    if (loaded && archive.kept()) return archive.goOn(place, leftArchive);
    show();
    if (loaded && draft.kept()) goOn();
  });
}

function show() {
  complain(null);
  archive.forget();
  // Who has worked here before looks for the work, and who has not, for a way to try it.
  const newcomer = known.tools.length === 0 && known.inspections.length === 0;
  fill(
    place,
    el("h2", { tabindex: "-1" }, "What is to be measured?"),
    unsaved(),
    late(),
    el(
      "section",
      { "aria-labelledby": "h-tools" },
      el("h3", { id: "h-tools" }, "A tool of yours"),
      tools(),
      el("p", {}, button("new-tool", "Make a new tool card", () => edit("tool", null))),
    ),
    newcomer ? tryOut(newcomer) : null,
    el("section", { "aria-labelledby": "h-on" }, el("h3", { id: "h-on" }, "Inspections in this folder"), inspections()),
    el(
      "section",
      { "aria-labelledby": "h-rec" },
      el("h3", { id: "h-rec" }, "The archive"),
      el("p", { class: "quiet" }, "Every tool with its records: search, trend, compare, certificate, and what is due for a grind."),
      el("p", {}, button("archive", "Archive", openArchive)),
    ),
    el(
      "section",
      { "aria-labelledby": "h-gauges" },
      el("h3", { id: "h-gauges" }, "Gauge cards"),
      cardList(known.gauges, "gauge"),
      el("p", {}, button("new-gauge", "Make a new gauge card", () => edit("gauge", null))),
    ),
    el(
      "section",
      { "aria-labelledby": "h-grinders" },
      el("h3", { id: "h-grinders" }, "Grinder cards"),
      cardList(known.grinders, "grinder"),
      elsewhere(),
      el("p", {}, button("new-grinder", "Make a new grinder card", () => edit("grinder", null))),
    ),
    el("section", { "aria-labelledby": "h-shop" }, el("h3", { id: "h-shop" }, "The shop"), shop()),
    newcomer ? null : tryOut(newcomer),
    el("p", { class: "quiet" }, `Cards and inspections are in ${known.dir}`),
  );
}

/** Inspections that are not listed because a disk does not bring them. */
function late() {
  if (known.late.length === 0) return null;
  const those = known.late.map((one) => el("li", { class: "fault-text" }, words(one)));
  return el("section", { class: "band", "aria-label": "What is waited for" }, el("p", {}, `${count(known.late.length, "inspection")} cannot be shown yet:`), el("ul", {}, those));
}

/** A card that was not saved, to go on with. */
function unsaved() {
  const kept = draft.kept();
  if (!kept) return null;
  const throwAway = () => {
    draft.drop();
    show();
    place.querySelector("h2").focus();
  };
  return el(
    "section",
    { class: "band", "aria-label": "A card that is not saved" },
    el("p", {}, `${kept.file ? `The ${kept.kind} card ${kept.file}` : `A new ${kept.kind} card`} was not saved. What was typed is kept in this browser.`),
    el("div", { class: "row" }, button("draft-on", "Go on with it", goOn), button("draft-drop", "Throw it away", throwAway)),
  );
}

function goOn() {
  const kept = draft.kept();
  edit(kept.kind, kept.file, kept.from);
}

function tryOut(open) {
  return el(
    "section",
    { "aria-labelledby": "h-try" },
    el("h3", { id: "h-try" }, "Try it with a tool that does not exist"),
    el(
      "details",
      { open },
      el("summary", {}, `${known.pretended.length} tools, turned by a simulated gauge`),
      el("p", { class: "quiet" }, "Nothing can be broken, and their records stay apart from yours. The first one is a good beginning."),
      el("ul", { class: "tiles" }, known.pretended.map(pretended)),
    ),
  );
}

function tools() {
  if (known.tools.length === 0) return el("p", { class: "quiet" }, "There is no tool card in this folder yet.");
  return cardList(known.tools, "tool");
}

function cardList(cards, kind) {
  const row = (card) => {
    const said = card.said;
    const name = said ? { tool: `${said.id} ${said.name}`, grinder: said.name }[kind] || card.file.replace(/\.toml$/, "") : card.file;
    const about = said ? { tool: () => count(said.flutes, "flute"), gauge: () => `reads ${said.resolution_um} µm, ${said.counts} counts a turn`, grinder: () => grinds(said) }[kind]() : card.problem;
    return el(
      "li",
      {},
      el("div", {}, el("strong", {}, name), el("span", { class: said ? "quiet" : "fault-text" }, about)),
      el(
        "div",
        { class: "row" },
        kind === "tool" && said
          ? button(`measure-${card.file}`, "Measure", () => begin({ tool: card.file }), "main")
          : null,
        kind === "grinder" && said
          ? named(button(`learnt-${card.file}`, "What grinds teach", () => teach(card.file)), `What finished grinds teach of ${name}`)
          : null,
        said ? named(button(`edit-${card.file}`, "Change", () => edit(kind, card.file)), `Change ${name}`) : null,
      ),
    );
  };
  return el("ul", { class: "list" }, cards.map(row));
}

/** Who issues certificates. */
function shop() {
  const card = known.shop;
  if (!card) return [el("p", { class: "quiet" }, "Certificates do not say yet who issues them."), el("p", {}, button("new-shop", "Say who issues them", () => edit("shop", null)))];
  const about = card.said ? card.said.address || "" : card.problem;
  return el("ul", { class: "list" }, el("li", {}, el("div", {}, el("strong", {}, card.said ? card.said.name : card.file), el("span", { class: card.said ? "quiet" : "fault-text" }, about)), card.said ? named(button(`edit-${card.file}`, "Change", () => edit("shop", card.file)), "Change the shop’s card") : null));
}

const count = (number, what) => `${number} ${what}${number === 1 ? "" : "s"}`;

const grinds = (said) => [count(said.wheels, "wheel"), count(said.fixtures, "fixture"), count(said.motions, "cam")].join(", ");

/** Grinder cards beside the inspections and in them, to be taken over. */
function elsewhere() {
  if (known.grinders_elsewhere.length === 0) return null;
  const row = (card) => {
    const where = card.inspection ? `in ${card.inspection}` : "beside the inspections";
    return el(
      "li",
      {},
      el("div", {}, el("strong", {}, card.said.name), el("span", { class: "quiet" }, `${grinds(card.said)} · ${where}`)),
      named(button(`over-${card.inspection || ""}`, "Take over", () => edit("grinder", null, card)), `Take over ${card.said.name}, ${where}`),
    );
  };
  return el("ul", { class: "list" }, known.grinders_elsewhere.map(row));
}

function named(made, name) {
  made.setAttribute("aria-label", name);
  return made;
}

function pretended(tool) {
  const flutes = count(tool.flutes, "flute");
  const made = el(
    "button",
    { type: "button", class: "tile", id: `try-${tool.recipe}` },
    el("strong", {}, tool.about),
    el("span", {}, `${tool.id} ${tool.name}, ${flutes}`),
  );
  made.addEventListener("click", () => begin({ recipe: tool.recipe }));
  return el("li", {}, made);
}

function inspections() {
  if (known.inspections.length === 0) return el("p", { class: "quiet" }, "None yet.");
  const row = (one) => {
    const how = judgedHow(one);
    return el(
      "li",
      {},
      el(
        "div",
        {},
        el("strong", {}, `${one.tool || "?"} ${one.tool_name || ""}`),
        el("span", { class: "quiet" }, `${moment(one.taken)} · ${one.traces} ${one.traces === 1 ? "trace" : "traces"} · ${how} · ${one.folder}`),
      ),
      named(
        button(`resume-${one.folder}`, one.judged ? "Open" : "Go on", (self) =>
          doing(self, () => post("/api/resume", { folder: one.folder })),
        ),
        `${one.judged ? "Open" : "Go on with"} ${one.folder}`,
      ),
    );
  };
  return el("ul", { class: "list" }, known.inspections.map(row));
}

function judgedHow(one) {
  if (one.standing === "other") return "its verdict was judged from other cards or traces: judge it again";
  if (!one.judged) return one.interrupted ? "cut short, not judged" : "not judged";
  return verdictWord(one.verdict) + (one.simulated ? ", simulated" : "") + (one.standing === "tied" ? "" : ", not tied to its cards and traces");
}

/** To the start again, as it is; what is typed into a form is kept. */
function again() {
  show();
  window.scrollTo(0, 0);
  place.querySelector("h2").focus();
}

function openArchive() {
  archive.open(place, leftArchive);
}

/** Back from the archive, to where it was opened. */
function leftArchive() {
  again();
  document.getElementById("archive").focus();
}

function edit(kind, file, from = null) {
  back.opened(again);
  form.open(place, known.keys[kind], kind, file, async (saved) => {
    back.left();
    known = await get("/api/start");
    show();
    window.scrollTo(0, 0);
    // What comes next stands where the eye and the keyboard are.
    const next = document.getElementById(`${kind === "tool" ? "measure" : "edit"}-${saved || file}`) || place.querySelector("h2");
    next.focus({ preventScroll: kind === "tool" });
  }, from && { inspection: from.inspection });
}

function teach(file) {
  back.opened(again);
  learnt.open(place, file, async () => {
    back.left();
    known = await get("/api/start");
    show();
    const again = document.getElementById(`learnt-${file}`) || place.querySelector("h2");
    again.focus();
    again.scrollIntoView({ block: "center", behavior: "instant" });
  });
}

function begin(chosen) {
  back.opened(again);
  plan.open(place, chosen, known, () => {
    back.left();
    show();
  });
}
