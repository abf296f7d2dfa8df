// A tool of the archive: its records in order, and what can be made of them.

import { count, faults, marks, named, stage, verdictOf } from "/assets/archive-lines.js";
import { doing, get } from "/assets/ask.js";
import { button, el, fill, say } from "/assets/dom.js";
import { moment, units } from "/assets/units.js";
import { place } from "/assets/verdict.js";

/** So many records more are shown each time. */
const MORE = 25;

const query = (asked) => new URLSearchParams({ ...asked, units: units() });

/** Draws the tool with its records, the last measured first. */
export async function draw(at) {
  const { body, view, shown } = at;
  const left = el("div", {});
  const records = el("div", {});
  const compare = button("compare", "Compare", () => at.go({ kind: "compare", source: view.source, ...pair(view), from: "compare" }));
  const said = el("p", { role: "status", class: "quiet" });
  fill(
    body,
    el("h2", { tabindex: "-1" }, `${view.tool} ${view.name}`),
    left,
    el("div", { class: "row actions" }, button("trend", "Trend", () => at.go({ kind: "trend", source: view.source, tool: view.tool, from: "trend" })), compare),
    said,
    records,
  );
  const ticked = () => {
    compare.disabled = view.ticked.length !== 2;
    say(said, view.ticked.length === 2 ? `Compare holds the records ${pair(view).before} and ${pair(view).after} against each other.` : `Tick two records to compare them: ${view.ticked.length} of 2.`);
  };
  ticked();
  fill(records, el("p", { role: "status" }, "Looking …"));
  const found = await doing(null, () => get(`/api/archive/tool?${query({ source: view.source, tool: view.tool, most: view.most })}`));
  if (!shown()) return;
  if (!found) return fill(records);
  fill(records, listed(at, found, ticked));
  tellLeft(view, left, shown);
}

/** The two ticked records, the earlier one first. */
function pair(view) {
  const [before, after] = [...view.ticked].sort((one, other) => (one.taken < other.taken ? -1 : 1)).map((one) => one.name);
  return { before, after };
}

function listed(at, found, ticked) {
  const { view } = at;
  const rows = found.records.map((record, number) => (record.unread ? el("li", {}, el("div", {}, el("strong", { class: "fail" }, "⚠ damaged"), el("span", { class: "fault-text" }, record.unread.message))) : row(at, record, number, ticked)));
  const part = found.records.length < found.all ? `, the last ${found.records.length} are shown` : "";
  const simulated = found.simulated ? `, ${found.simulated === found.all ? "all" : found.simulated} simulated` : "";
  const more = button("records-more", "Show more", () => {
    view.most += MORE;
    at.keep();
    at.again(`open-${found.records.length}`);
  });
  return [
    el("h3", {}, `${count(found.all, "record")}${simulated}, the last measured first${part}`),
    el("ol", { class: "list", reversed: true }, rows),
    part ? el("p", {}, more) : null,
  ];
}

function row(at, record, number, ticked) {
  const { view } = at;
  const damaged = record.faults.length > 0;
  const who = record.operator ? ` · ${record.operator}` : "";
  return el(
    "li",
    {},
    el(
      "div",
      {},
      verdictOf(record),
      faults(record),
      el("span", { class: "block" }, `${moment(record.taken)} · ${stage(record)}${who}`),
      record.deciding ? el("span", { class: "block" }, decided(record.deciding)) : null,
      el("span", { class: "quiet" }, `record ${record.name}`),
      marks(record),
    ),
    damaged || !record.verdict ? null : el("div", { class: "row" }, tick(view, record, at.keep, ticked), open(at, record, number), certificate(at, record, number)),
  );
}

/** The figure that decides, and how far it is proven. */
function decided(figure) {
  const allowed = figure.allowed ? `, allowed ${figure.allowed}` : "";
  return `${[place(figure), figure.name.replace(/-/g, " ")].filter(Boolean).join(": ")} ${figure.shown}${allowed}`;
}

function tick(view, record, keep, ticked) {
  const box = el("input", { type: "checkbox", id: `tick-${record.name}` });
  box.checked = view.ticked.some((one) => one.name === record.name);
  box.addEventListener("change", () => {
    view.ticked = view.ticked.filter((one) => one.name !== record.name);
    if (box.checked) view.ticked.push({ name: record.name, taken: record.taken });
    keep();
    ticked();
  });
  return el("label", { class: "check" }, box, "compare", el("span", { class: "unseen" }, ` record ${record.name}`));
}

function open(at, record, number) {
  const from = `open-${number}`;
  return named(button(from, "Open", () => at.go({ kind: "record", source: at.view.source, record: record.name, from })), `Open record ${record.name}`);
}

function certificate(at, record, number) {
  const from = `certificate-${number}`;
  return named(button(from, "Certificate", () => at.go({ kind: "certificate", source: at.view.source, record: record.name, from })), `Certificate of record ${record.name}`);
}

/** How many regrinds are left, as the trend tells it; a tool without one has none to tell. */
async function tellLeft(view, left, shown) {
  const found = await get(`/api/archive/trend?${query({ source: view.source, tool: view.tool })}`).catch(() => null);
  if (!found || !shown()) return;
  const several = found.features.length > 1;
  fill(left, found.features.map((one) => el("p", {}, `${several ? `${one.feature}: ` : ""}${one.left}`)));
}
