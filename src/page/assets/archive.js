// The archive: tools by their last record, found by what a person types; from there to each record.

import { faults, count, mark, marks, named, stage, verdictOf, verdictWord } from "/assets/archive-lines.js";
import * as pages from "/assets/archive-pages.js";
import * as tool from "/assets/archive-tool.js";
import { complain, doing, get, post, words } from "/assets/ask.js";
import * as back from "/assets/back.js";
import { button, el, fill, say } from "/assets/dom.js";
import { moment } from "/assets/units.js";

const KEY = "heelclear-archive";

let place = null;
let left = null;
/** The views that are open, each over the one before. */
let views = [];
/** What is drawn: it is not on the page any more once another view is. */
let root = null;

/** The views that were open when the page was loaded anew; null where none was. */
export function kept() {
  try {
    const before = JSON.parse(sessionStorage.getItem(KEY));
    return Array.isArray(before) && before.length ? before : null;
  } catch {
    return null;
  }
}

function keep() {
  try {
    if (views.length) sessionStorage.setItem(KEY, JSON.stringify(views));
    else sessionStorage.removeItem(KEY);
  } catch {
    // A browser that keeps nothing opens the start after a reload.
  }
}

/** The archive is not open. */
export function forget() {
  views = [];
  keep();
}

/** Opens it; `close` shows the start again. */
export function open(main, close) {
  [place, left] = [main, close];
  views = [];
  go({ kind: "tools", source: null, text: "", due: false, shown: 0 });
}

/** Opens it where it was when the page was loaded anew. */
export function goOn(main, close) {
  [place, left] = [main, close];
  views = kept();
  back.reopened(views.map(() => up));
  draw();
}

/** Draws it in the unit chosen now; whether it is open. */
export function changeUnits() {
  if (!root || !root.isConnected || views.length === 0) return false;
  draw();
  return true;
}

/** Opens a view over the one that is shown. */
function go(view) {
  views.push(view);
  keep();
  back.opened(up);
  draw();
}

/** One step back. */
function up() {
  if (views.length === 0) return;
  const gone = views.pop();
  keep();
  if (!root || !root.isConnected) return;
  if (views.length) draw(gone.from);
  else left();
}

const DRAWN = { tools, tool: tool.draw, trend: pages.trend, compare: pages.compare, certificate: pages.certificate, record: pages.record };

/** Draws the last view; the focus goes to what was pressed before, or to its heading. */
async function draw(from = null) {
  const view = views.at(-1);
  const body = el("div", {});
  const up = button("archive-back", views.length > 1 ? "← Back" : "← To the start", () => history.back(), "small");
  root = el("section", { class: "archive", "aria-label": "The archive" }, el("p", { class: "no-print" }, up), body);
  const here = root;
  complain(null);
  fill(place, root);
  window.scrollTo(0, 0);
  const shown = () => here.isConnected;
  const focus = () => {
    const heading = here.querySelector("h2");
    const to = (from && document.getElementById(from)) || heading;
    if (!to || !shown()) return;
    if (to === heading) heading.tabIndex = -1;
    to.focus({ preventScroll: to === heading });
  };
  await DRAWN[view.kind]({ body, view, keep, go, shown, again: draw });
  focus();
}

/** The words for an archive. */
const NAMES = { bench: "This bench", shared: "Shared server", simulated: "Simulated" };

async function tools(at) {
  const { body, view, shown } = at;
  const which = el("div", { class: "row", role: "group", "aria-label": "Which archive" });
  const where = el("p", { class: "quiet" });
  const found = el("div", { class: "found" });
  const unkept = el("div", {});
  fill(body, el("h2", { tabindex: "-1" }, "Archive"), which, where, asked(at, found), unkept, found);
  const known = await doing(null, () => get("/api/archive/sources"));
  if (!known || !shown()) return;
  if (!known.sources.some((one) => one.source === view.source)) view.source = known.sources[0].source;
  fill(which, known.sources.map((one) => choice(at, one, which, where, found, unkept)));
  about(known.sources.find((one) => one.source === view.source), where);
  listUnkept(view, unkept, shown);
  await list(at, found);
}

/** A button for one of the archives. */
function choice(at, one, which, where, found, unkept) {
  const { view, keep, shown } = at;
  const made = button(`source-${one.source}`, NAMES[one.source], () => {
    view.source = one.source;
    view.shown = 0;
    keep();
    for (const other of which.children) other.setAttribute("aria-pressed", String(other === made));
    about(one, where);
    listUnkept(view, unkept, shown);
    list(at, found);
  }, "small");
  made.setAttribute("aria-pressed", String(one.source === view.source));
  return made;
}

function about(one, where) {
  const of = { bench: "What this bench keeps", shared: "What the benches of the shop copied to their server", simulated: "Inspections of tools that do not exist, kept apart" }[one.source];
  say(where, `${of}: ${one.place}${one.there ? "" : ", which is not there yet"}`);
}

/** The search: one field for everything, and what is due alone. */
function asked(at, found) {
  const { view, keep } = at;
  const text = el("input", { id: "archive-text", type: "search", autocomplete: "off", value: view.text, "aria-describedby": "archive-hint" });
  const due = el("input", { id: "archive-due", type: "checkbox" });
  due.checked = view.due;
  const look = () => {
    [view.text, view.due, view.shown] = [text.value, due.checked, 0];
    keep();
    list(at, found);
  };
  due.addEventListener("change", look);
  const form = el(
    "form",
    { role: "search" },
    el("div", { class: "row" }, el("label", { for: "archive-text" }, "Search"), text, el("button", { id: "archive-find" }, "Find"), el("label", { class: "check" }, due, "only what is due for a grind")),
    el("p", { class: "quiet", id: "archive-hint" }, "Tool, name, who measured, customer, gauge, feature; a day or a month, 2026-03-02 or 2026-03; pass, fail or undecided."),
  );
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    look();
  });
  return form;
}

/** Asks for the tools, from the first or from those that are shown on. */
const ask = (view, from) => get(`/api/archive/tools?${new URLSearchParams({ source: view.source, text: view.text, due: String(view.due), from: String(from) })}`);

let asking = 0;

/** Lists the tools that are found, as many as were shown before. */
async function list(at, found) {
  const { view, shown } = at;
  asking += 1;
  const mine = asking;
  const stale = () => mine !== asking || !shown();
  fill(found, el("p", { role: "status" }, "Looking …"));
  const answer = await doing(null, async () => {
    const first = await ask(view, 0);
    while (!stale() && first.tools.length < Math.min(view.shown, first.all)) {
      const more = await ask(view, first.tools.length);
      if (more.tools.length === 0) break;
      first.tools.push(...more.tools);
    }
    return first;
  });
  if (stale()) return;
  if (!answer) return fill(found, el("p", { role: "status" }, "This archive cannot be read; the reason stands above."));
  fill(found, wrong(answer), listed(at, answer, found));
}

/** What is missing or cannot be read stands above the rest, and hides none of it. */
function wrong({ missing, unread }) {
  const said = unread.map((error) => `${error.message}.`);
  if (missing.length) said.push(`${count(missing.length, "record")} ${missing.length === 1 ? "is" : "are"} missing: ${missing.join(", ")}. Somebody took ${missing.length === 1 ? "it" : "them"} out; a backup brings ${missing.length === 1 ? "it" : "them"} back.`);
  return said.map((text) => el("p", { class: "band fault" }, text));
}

function listed(at, answer, found) {
  const { view, keep } = at;
  const { all } = answer;
  if (all === 0) return el("p", { role: "status", class: "quiet" }, view.text || view.due ? "No tool is found like that." : "None is kept yet.");
  const rows = el("ul", { class: "list" }, answer.tools.map((one, number) => row(at, one, number)));
  const status = el("p", { role: "status" });
  const more = button("archive-more", "Show more", (self) =>
    doing(self, async () => {
      const next = await ask(view, rows.children.length);
      const from = rows.children.length;
      rows.append(...next.tools.map((one, number) => row(at, one, from + number)));
      tell();
      const first = document.getElementById(`tool-${from}`);
      if (first) first.focus();
    }),
  );
  const tell = () => {
    view.shown = rows.children.length;
    keep();
    const part = view.shown < all ? `; the first ${view.shown.toLocaleString("en")} are shown` : "";
    say(status, `${count(all, "tool")}${view.due ? " due for a grind" : ""}, the last measured first${part}`);
    more.hidden = view.shown >= all;
  };
  tell();
  return [status, rows, el("p", {}, more)];
}

function row(at, one, number) {
  const { last } = one;
  const simulated = one.simulated && !last.simulated ? mark(`${one.simulated} of its records simulated`) : null;
  const who = last.operator ? ` · ${last.operator}` : "";
  const from = `tool-${number}`;
  return el(
    "li",
    {},
    el(
      "div",
      {},
      el("strong", {}, `${one.tool} ${one.tool_name}`),
      verdictOf(last),
      faults(last),
      el("span", { class: "quiet" }, `${moment(last.taken)} · ${stage(last)} · ${count(one.records, "record")}${who}`),
      one.due ? el("span", { class: "due" }, `▲ due for a grind: ${one.due}`) : null,
      marks(last),
      simulated,
    ),
    named(button(from, "Open", () => at.go({ kind: "tool", source: at.view.source, tool: one.tool, name: one.tool_name, most: 25, ticked: [], from })), `Open ${one.tool} ${one.tool_name}`),
  );
}

/** Inspections of the folder that nobody put into an archive; what goes wrong here is no reason to complain. */
async function listUnkept(view, unkept, shown) {
  const { source } = view;
  fill(unkept);
  if (source === "shared") return;
  const found = await get("/api/archive/unkept").catch(() => null);
  if (!found || !shown() || view.source !== source) return;
  const simulated = source === "simulated";
  const those = found.inspections.filter((one) => one.simulated === simulated);
  const late = found.late.map((one) => el("p", { class: "fault-text" }, words(one)));
  if (those.length === 0) return fill(unkept, late);
  const line = (one) =>
    el(
      "li",
      {},
      el(
        "div",
        {},
        el("strong", {}, `${one.tool || "?"} ${one.tool_name || ""}`),
        el("span", { class: "quiet" }, `${moment(one.taken)} · ${one.judged ? verdictWord(one.verdict) : "not judged"} · ${one.folder}`),
        mark("not archived"),
        one.simulated ? mark("simulated") : null,
      ),
      named(button(`unkept-${one.folder}`, "Open", (self) => doing(self, () => post("/api/resume", { folder: one.folder }))), `Open ${one.folder}`),
    );
  const of = found.all > found.looked_at ? `, of the last ${found.looked_at} in its folder` : "";
  fill(unkept, late, el("details", {}, el("summary", {}, `${count(those.length, simulated ? "simulated inspection" : "inspection")} of this bench ${those.length === 1 ? "is" : "are"} not archived${of}`), el("ul", { class: "list" }, those.map(line))));
}
