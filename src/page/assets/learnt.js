// What finished grinds teach of a grinder's settings: what came against what was set, and keeping it.

import { complain, doing, get, post } from "/assets/ask.js";
import { button, el, fill } from "/assets/dom.js";
import { capital, moment } from "/assets/units.js";

const NAMES = { "throw-gain": "Throw", "cam-angle": "Cam angle", "swivel-zero": "Swivel", feed: "In-feed", "wheel-wear": "Wear of the wheel" };

/** Shows what finished grinds teach of the grinder on this card; `done` is called when it is left. */
export async function open(place, file, done) {
  complain(null);
  const path = `/api/grinders/${encodeURIComponent(file)}/learnt`;
  const body = el("div", {}, el("p", { role: "status" }, "Comparing finished grinds with their set-ups …"));
  const heading = el("h2", { tabindex: "-1" }, "What finished grinds teach");
  const said = el("p", { id: "learnt-said", role: "status" });
  fill(place, heading, said, body, el("p", {}, button("learnt-back", "Back to the start", () => done())));
  heading.focus();
  window.scrollTo(0, 0);
  const look = async () => {
    const told = await doing(null, () => get(path));
    // Another view may have been opened meanwhile.
    if (!body.isConnected) return;
    if (told) fill(body, all(told, change));
    else fill(body, el("p", {}, button("learnt-again", "Look again", look)));
  };
  const change = (self, what, changes, word) =>
    doing(self, async () => {
      const { count } = await post(path, { what, changes });
      said.textContent = `✓ ${word(count)}`;
      await look();
      // The button that was pressed may be gone.
      heading.focus();
      window.scrollTo(0, 0);
    });
  await look();
}

const counted = (number, what) => `${number} ${what}${number === 1 ? "" : "s"}`;

function all(told, change) {
  return [
    el("p", { class: "quiet" }, `“${told.name}”: what was set, predicted and measured, over all inspections of this folder whose set-up names this grinder. Errors are those of the bare scales, whatever corrections a grind was set with; u is the standard uncertainty.`),
    told.lessons.length === 0 ? el("p", { class: "band" }, "No finished grind of this grinder teaches anything yet. Measure a ground tool in an inspection of its own that has the set-up which it was ground from beside it.") : null,
    told.lessons.map(lesson),
    keeping(told, change),
    forgetting(told, change),
    leftOut(told.left_out),
  ];
}

function lesson(one, number) {
  const id = `h-lesson-${number}`;
  const row = (it) =>
    el(
      "tr",
      {},
      el("th", { scope: "row" }, NAMES[it.of] || it.of),
      el("td", {}, it.error),
      el("td", { class: "whole" }, `u ${it.uncertainty}`),
      el("td", {}, el("span", { class: it.kept ? "told-apart" : "quiet" }, it.kept ? `✓ ${it.known}` : it.known)),
    );
  return el(
    "section",
    { "aria-labelledby": id },
    el("h3", { id }, `${one.whose}: ${counted(one.grinds.length, "finished grind")}`),
    el(
      "table",
      { class: "lesson", "aria-labelledby": id },
      el("thead", {}, el("tr", {}, ["Setting", "What came against what was set", "How sure", "Is it an error?"].map((word) => el("th", { scope: "col" }, word)))),
      el("tbody", {}, one.rows.map(row)),
    ),
    one.strange ? el("p", { class: "notice" }, capital(`${one.strange}.`)) : null,
    el("p", { class: "quiet" }, `From ${one.grinds.map((it) => `${it.folder} (${it.tool}, ${moment(it.taken)})`).join("; ")}.`),
  );
}

const list = (lines) => el("ul", { class: "changes" }, lines.map((line) => el("li", {}, line)));

function keeping(told, change) {
  if (told.lessons.length === 0) return null;
  if (told.keep.length === 0) return el("p", { class: "notice" }, "Nothing is told from zero: there is nothing to keep. More finished grinds tell more.");
  if (told.is_kept) return el("p", { class: "notice" }, "The card has what these grinds teach: there is nothing to change.");
  if (told.refused) {
    const { message, help } = told.refused;
    return el("p", { class: "band fault", id: "learnt-refused" }, `This cannot be kept on the card: ${message}${help ? `. ${capital(help)}` : ""}.`);
  }
  return el(
    "section",
    { "aria-labelledby": "h-keep" },
    el("h3", { id: "h-keep" }, "Keeping it writes on the card"),
    list(told.keep),
    el("p", { class: "quiet" }, "The next set-up uses it. Set-ups and inspections that are there stay as they are, and what else the card has of other settings too."),
    el(
      "div",
      { class: "row actions" },
      button("learnt-keep", "Keep it on the card", (self) => change(self, "keep", told.keep, (count) => `Kept ${counted(count, "correction")} on the card.`), "main"),
    ),
  );
}

function forgetting(told, change) {
  if (told.forget.length === 0) return null;
  return el(
    "section",
    { "aria-labelledby": "h-forget" },
    el("h3", { id: "h-forget" }, "On the card now, from finished grinds"),
    list(told.forget),
    el("p", { class: "quiet" }, "Forgetting takes all of it off the card: the next set-up takes the scales as they are. The inspections stay, so that it can be learnt again."),
    el(
      "div",
      { class: "row actions" },
      button("learnt-forget", "Forget what was learnt", (self) => change(self, "forget", told.forget, (count) => `Took ${counted(count, "correction")} off the card.`)),
    ),
  );
}

function leftOut(reasons) {
  if (reasons.length === 0) return null;
  const row = (one) =>
    el(
      "li",
      {},
      el(
        "div",
        {},
        el("strong", {}, one.folders.join(", ")),
        el("span", { class: "block" }, capital(`${one.why}.`)),
        one.help ? el("span", { class: "quiet" }, capital(`${one.help}.`)) : null,
      ),
    );
  return el("section", { "aria-labelledby": "h-left" }, el("h3", { id: "h-left" }, "Left out"), el("ul", { class: "list" }, reasons.map(row)));
}
