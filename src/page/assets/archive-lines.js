// A record as a line: its verdict by sign and word, and every mark that it carries by a word.

import { el } from "/assets/dom.js";
import { moment, units } from "/assets/units.js";

export const verdictWord = (verdict) => ({ pass: "✓ pass", fail: "✕ fail", undecided: "? undecided" })[verdict] || "no verdict";

/** Before or after a grind, in words. */
export const stage = (record) => record.stage.replace("-", " ");

/** `3 records`, `1 record`. */
export const count = (number, what) => `${number.toLocaleString("en")} ${what}${number === 1 ? "" : "s"}`;

/** What a record came to: one that is damaged has no verdict. */
export function verdictOf(record) {
  if (record.faults.length) return el("strong", { class: "fail" }, "⚠ damaged: no verdict of it may be believed");
  return el("strong", { class: record.verdict || "" }, verdictWord(record.verdict));
}

/** What is to be known of a record besides its verdict, a word each. */
export function marks(record) {
  const said = [
    record.simulated ? "simulated" : null,
    record.replaced_by ? `superseded by record ${record.replaced_by}` : null,
    record.as_judged ? "as judged: not judged again" : null,
    record.not_tied ? "not tied to its cards and traces" : null,
    record.why ? `correction: ${record.why}` : null,
  ];
  return said.filter(Boolean).map(mark);
}

/** A word in a frame. */
export const mark = (text) => el("span", { class: "mark" }, text);

/** What is broken in a record, a line each. */
export const faults = (record) => record.faults.map((fault) => el("span", { class: "fault-text" }, fault));

/** What something is of for who reads by ear. */
export function named(made, name) {
  made.setAttribute("aria-label", name);
  return made;
}

/** Records of the archive, each with its report. */
export function recordList(records, source) {
  if (records.length === 0) return el("p", { class: "quiet" }, "None is kept.");
  const row = (record) => {
    const path = `/api/records/${encodeURIComponent(record.bench)}/${record.number}/report.svg?source=${source}&units=${units()}`;
    return el(
      "li",
      {},
      el(
        "div",
        {},
        el("strong", {}, `${record.tool} ${record.tool_name}: ${record.damaged ? "⚠ damaged: no verdict of it may be believed" : verdictWord(record.verdict)}${record.simulated ? ", simulated" : ""}${record.as_judged ? ", kept as it was judged; not judged again" : ""}`),
        el("span", { class: "quiet" }, `record ${record.number} · ${moment(record.taken)} · ${stage(record)}${record.operator ? ` · ${record.operator}` : ""}`),
      ),
      record.verdict ? el("a", { class: "button", href: path, target: "_blank", rel: "noopener" }, "Report") : null,
    );
  };
  return el("ul", { class: "list" }, records.map(row));
}
