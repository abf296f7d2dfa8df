// The verdict, readable from two metres: with its reason, what to do, and the report to print.

import { recordList } from "/assets/archive-lines.js";
import { doing, get, post } from "/assets/ask.js";
import { button, el, fill, say } from "/assets/dom.js";
import * as noted from "/assets/noted.js";
import { referenceForm } from "/assets/steps.js";
import { capital, length, units } from "/assets/units.js";

let parts = {};
let shownFor = "";
let toSteps = null;
/** Judging that takes longer than this, in ms, waits for something. */
const LONG = 30000;
let patience = null;

const WORDS = {
  pass: ["✓", "PASS"],
  fail: ["✕", "FAIL"],
  undecided: ["?", "UNDECIDED"],
};

/** Builds the view. */
export function open(main, steps) {
  toSteps = steps;
  shownFor = "";
  parts = {
    word: el("h2", { class: "verdict", tabindex: "-1" }),
    sum: el("p", { class: "sum", role: "status" }),
    first: el("div", { class: "why" }),
    why: el("div", { class: "why" }),
    actions: el("div", { class: "row actions no-print" }),
    reference: el("div", { id: "reference-wanted", class: "no-print", hidden: true }),
    kept: el("p", { class: "quiet no-print", role: "status" }),
    figures: el("div", {}),
    report: el("img", { class: "report", alt: "The report: verdict, figures and drawings of every flute" }),
    earlier: el("div", { class: "no-print" }),
    noted: noted.section(),
  };
  parts.rest = el(
    "div",
    {},
    el("details", { class: "no-print" }, el("summary", {}, "Every figure"), parts.figures),
    el("section", { "aria-labelledby": "h-report" }, el("h3", { id: "h-report", class: "no-print" }, "Report"), parts.report),
    el("section", { "aria-labelledby": "h-earlier", class: "no-print" }, el("h3", { id: "h-earlier" }, "Records of this tool"), parts.earlier),
  );
  fill(
    main,
    el(
      "section",
      { class: "judged", "aria-label": "Verdict" },
      el("div", { class: "verdict-box" }, parts.word, parts.sum),
      parts.first,
      parts.actions,
      parts.reference,
      parts.kept,
      parts.why,
    ),
    parts.noted,
    parts.rest,
  );
}

/** Shows how the judging stands. */
export function show(inspection) {
  const { verdict, judging } = inspection;
  noted.show(inspection);
  clearTimeout(patience);
  if (judging === "under-way") {
    heading("under-way", "…", "Judging");
    say(parts.sum, "Every figure is drawn many times over with all that is uncertain.");
    const { sum } = parts;
    patience = setTimeout(() => say(sum, `This takes longer than it should: it waits for the disk that ${inspection.path} is on, or very much was read. It can be left, and judged later.`), LONG);
    fill(parts.first);
    fill(parts.why);
    fill(parts.actions);
    parts.rest.hidden = true;
    say(parts.kept, "");
    shownFor = "";
    return;
  }
  if (judging === "failed") {
    heading("undecided", "!", "NO VERDICT");
    const problems = [inspection.problem, ...inspection.problem.also];
    say(parts.sum, "It cannot be judged as it is. Everything that was read is kept.");
    fill(parts.why);
    fill(parts.first, problems.map((one) => el("p", {}, `${one.place ? `${one.place}: ` : ""}${one.message}.`, one.help ? el("strong", { class: "block" }, `→ ${one.help}`) : null)));
    fill(parts.actions, button("to-steps", "Back to the steps", () => toSteps(), "main"));
    parts.rest.hidden = true;
    return;
  }
  told(verdict);
  actions(inspection);
  const key = `${inspection.folder} ${units()} ${inspection.kept} ${JSON.stringify([verdict, inspection.noted])}`;
  if (key === shownFor) return;
  shownFor = key;
  parts.reference.hidden = true;
  reasons(verdict);
  parts.report.src = `/api/report.svg?units=${units()}&at=${Date.now()}`;
  earlier(inspection);
}

/** Shows a record of the archive as it was when it was taken: nothing of it can be changed. */
export function showRecord(verdict, report, said, buttons, kept) {
  told(verdict);
  parts.noted.replaceWith(...[kept].filter(Boolean));
  reasons(verdict);
  fill(parts.actions, button("print", "Print the report", () => window.print(), "main"), buttons);
  say(parts.kept, said);
  parts.report.src = report;
  parts.earlier.parentElement.hidden = true;
}

/** The verdict in one word, and what it sums up. */
function told(verdict) {
  const [sign, word] = WORDS[verdict.verdict] || ["–", "NO LIMIT"];
  heading(verdict.verdict || "", sign, word, verdict.simulated);
  say(parts.sum, sum(verdict));
}

function reasons(verdict) {
  why(verdict);
  fill(parts.figures, table(verdict.figures));
  parts.rest.hidden = false;
}

function heading(kind, sign, word, simulated = false) {
  parts.word.className = `verdict ${kind}`;
  parts.word.parentElement.className = `verdict-box ${kind}`;
  const made = simulated ? el("span", { class: "made-up" }, "simulated: no tool was measured") : null;
  fill(parts.word, el("span", { class: "sign", "aria-hidden": "true" }, sign), el("span", {}, word), made);
}

function sum(verdict) {
  const { judged, fail, undecided } = verdict;
  const tool = `${verdict.tool} ${verdict.tool_name}`;
  const count = fail > 0 ? `${fail} of ${judged} judged figures ${fail === 1 ? "fails" : "fail"}.` : undecided > 0 ? `${undecided} of ${judged} judged figures ${undecided === 1 ? "is" : "are"} undecided.` : `All ${judged} judged figures are proven inside their limits.`;
  const short = verdict.interrupted ? " Not every step of the plan was taken." : "";
  return `${tool}. ${count}${short}`;
}

export const place = (figure) => {
  const parts = [figure.feature, figure.flute ? `flute ${figure.flute}` : null, figure.z_mm !== null && figure.z_mm !== undefined ? `at ${length(figure.z_mm)}` : null];
  return parts.filter(Boolean).join(", ");
};

const named = (figure) => figure.name.replace(/-/g, " ");

function why(verdict) {
  const bad = verdict.figures.filter((figure) => figure.verdict === verdict.verdict);
  const told = verdict.verdict === "pass" ? [verdict.deciding].filter(Boolean) : bad;
  const head = verdict.verdict === "pass" ? "Nearest to its limit" : "Why, and what to do";
  const settings = verdict.settings || [];
  const all = [...settings.filter((one) => one.explains), ...together(told), ...settings.filter((one) => !one.explains)];
  const shown = all.slice(0, REASONS);
  const left = all.slice(REASONS).reduce((count, reason) => count + reason.figures.length, 0);
  // The first stands above the buttons: it is what a person came to read.
  fill(parts.first, shown.length ? el("h3", {}, head) : null, shown.slice(0, 1).map(toldOf));
  fill(
    parts.why,
    shown.slice(1).map(toldOf),
    left > 0 ? el("p", { class: "quiet" }, `and ${left} more, below under “Every figure”`) : null,
    verdict.warnings.length ? el("details", { class: "no-print" }, el("summary", {}, `${verdict.warnings.length} ${verdict.warnings.length === 1 ? "remark" : "remarks"}`), el("ul", {}, verdict.warnings.map((text) => el("li", {}, text)))) : null,
  );
}

/** Without a reference nothing tells the runout, which leaves much undecided. */
const lacksReference = (inspection) => inspection.verdict && inspection.verdict.verdict === "undecided" && !inspection.steps.some((step) => step.role === "reference");

/** So many reasons are told above the table. */
const REASONS = 6;

/** Figures with one reason and one remedy are told of once. */
function together(figures) {
  const reasons = [];
  for (const figure of figures) {
    const same = reasons.find((one) => one.why === figure.why && one.remedy === figure.remedy);
    if (same) same.figures.push(figure);
    else reasons.push({ why: figure.why, remedy: figure.remedy, kind: figure.verdict, figures: [figure] });
  }
  return reasons;
}

function toldOf({ figures, why, remedy, kind }) {
  // What to set otherwise is of a cut, and names its figures itself.
  const line = (figure) => figure.subject || `${place(figure)}: ${named(figure)} ${figure.shown}, allowed ${figure.allowed}${figure.proven ? `, proven ${figure.proven}` : ""}`;
  return el(
    "div",
    { class: `reason ${kind}` },
    remedy ? el("p", { class: "remedy" }, el("span", { "aria-hidden": "true" }, "→ "), remedy) : null,
    figures.map((figure) => el("p", { class: "what" }, line(figure))),
    el("p", remedy || kind === "pass" ? {} : { class: "remedy" }, capital(`${why}.`)),
  );
}

function actions(inspection) {
  const undecided = inspection.verdict.verdict === "undecided";
  const prove = inspection.sense.proven ? null : button("prove-sense", "Prove the turning sense", (self) => doing(self, () => post("/api/sense/prove")), undecided ? "main" : "");
  const reference = lacksReference(inspection) ? button("add-reference", "Add a reference", askReference, prove ? "" : "main") : null;
  // What would decide it comes before what keeps it as it is.
  const first = undecided ? [prove, reference] : [];
  const cured = first.some(Boolean);
  fill(
    parts.actions,
    first,
    button("print", "Print the report", () => window.print(), cured ? "" : "main"),
    el("a", { class: "button", id: "save", href: `/api/report.svg?units=${units()}`, download: `${inspection.folder}.svg` }, "Save the report"),
    inspection.kept ? null : button("keep", "Keep in the archive", (self) => doing(self, () => noted.saved().then(() => post("/api/keep")))),
    button("to-steps", "Take a trace again", () => toSteps()),
    undecided ? null : prove,
    button("another", "Another tool", (self) => doing(self, () => noted.saved().then(() => post("/api/leave")))),
  );
  say(parts.kept, inspection.kept ? `In the archive: ${inspection.kept}. The folder is ${inspection.path}.` : `The folder is ${inspection.path}.`);
}

/** Where the reference lies is asked first: without that it tells little. */
function askReference() {
  fill(parts.reference, referenceForm());
  parts.reference.hidden = false;
  document.getElementById("reference-z").focus();
}

const SIGNS = { pass: "✓ pass", fail: "✕ FAIL", undecided: "? undecided" };

function table(figures) {
  const row = (figure) =>
    el("tr", { class: figure.verdict || "" }, el("td", {}, place(figure)), el("th", { scope: "row" }, named(figure)), el("td", { class: "figure-value" }, figure.shown), el("td", {}, figure.allowed || "—"), el("td", {}, figure.proven || "—"), el("td", {}, SIGNS[figure.verdict] || "—"));
  return el(
    "table",
    {},
    el("thead", {}, el("tr", {}, ["Where", "Figure", "Value ± U", "Allowed", "Proven", "Verdict"].map((word) => el("th", { scope: "col" }, word)))),
    el("tbody", {}, figures.map(row)),
  );
}

async function earlier(inspection) {
  const source = inspection.simulated ? "simulated" : "bench";
  const query = new URLSearchParams({ tool: inspection.tool.id, source });
  const found = await doing(null, () => get(`/api/records?${query}`));
  if (found) fill(parts.earlier, recordList(found.records, source));
}
