// What is made of records of the archive: trend, comparison, certificate, and a record as it was taken.

import { mark, marks } from "/assets/archive-lines.js";
import { doing, get } from "/assets/ask.js";
import { button, el, fill } from "/assets/dom.js";
import * as noted from "/assets/noted.js";
import { moment, units } from "/assets/units.js";
import * as verdict from "/assets/verdict.js";

const query = (asked) => new URLSearchParams({ ...asked, units: units() });

/** A drawing as an image: it can do nothing but be looked at. */
const drawn = (svg) => `data:image/svg+xml;charset=utf-8,${encodeURIComponent(svg)}`;

/** A picture of a page. A phone shows it larger than itself, to be moved sideways, so that it can be read. */
function picture(svg, alt) {
  const narrow = window.matchMedia("(max-width: 40rem)").matches;
  return el("div", { class: "paper", tabindex: narrow ? "0" : null, role: narrow ? "group" : null, "aria-label": narrow ? "A page, to be moved sideways" : null }, el("img", { class: "report", alt, src: drawn(svg) }));
}

const save = (id, svg, file) => el("a", { class: "button", id, href: drawn(svg), download: file }, "Save the picture");

/** The same in words, which a screen reader can read. */
const words = (text) => el("details", { class: "no-print" }, el("summary", {}, "The same in words"), el("pre", { class: "words", tabindex: "0" }, text));

const told = (notes) => (notes.length ? el("ul", { class: "no-print" }, notes.map((note) => el("li", { class: "quiet" }, note))) : null);

/** Asks for what a view shows; nothing once another one is shown. */
async function asked({ body, shown }, title, wait, path) {
  const heading = el("h2", { tabindex: "-1", class: "no-print" }, title);
  fill(body, heading, el("p", { role: "status" }, wait));
  const found = await doing(null, () => get(path));
  if (!shown()) return null;
  fill(body, heading);
  return found;
}

const fileName = (text) => text.replace(/[^\p{L}\p{N}_-]+/gu, "-");

/** A tool through its regrinds, feature by feature. */
export async function trend(at) {
  const { body, view } = at;
  const found = await asked(at, `${view.tool} through its regrinds`, "Drawing …", `/api/archive/trend?${query({ source: view.source, tool: view.tool })}`);
  if (!found) return;
  const feature = (one, number) =>
    el(
      "section",
      { "aria-labelledby": `h-feature-${number}` },
      el("h3", { id: `h-feature-${number}` }, one.feature),
      el("p", {}, one.left),
      picture(one.svg, `${one.feature} of ${view.tool} through its regrinds: diameter and figures with their intervals and limits. ${one.left}`),
      el("div", { class: "row actions no-print" }, save(`save-${number}`, one.svg, `${fileName(`${view.tool}-${one.feature}`)}-trend.svg`)),
      words(one.text),
    );
  body.append(
    ...found.unread.map((error) => el("p", { class: "band fault" }, `Left out: ${error.message}.`)),
    ...[told(found.notes)].filter(Boolean),
    ...found.features.map(feature),
  );
}

/** Two records held against each other. */
export async function compare(at) {
  const { body, view } = at;
  const found = await asked(at, `Records ${view.before} and ${view.after}`, "Drawing …", `/api/archive/compare?${query({ source: view.source, before: view.before, after: view.after })}`);
  if (!found) return;
  const file = `${fileName(`${view.before}-and-${view.after}`)}.svg`;
  body.append(
    ...[told(found.notes)].filter(Boolean),
    picture(found.svg, `The lands of records ${view.before} and ${view.after} drawn over each other, and what moved; the same in words stands below`),
    el("div", { class: "row actions no-print" }, button("print", "Print", () => window.print(), "main"), save("save-compare", found.svg, file)),
    words(found.text),
  );
}

/** A certificate's pages, to be printed. */
export async function certificate(at) {
  const { body, view } = at;
  const found = await asked(at, `Certificate of record ${view.record}`, "Cards and traces are judged again for it …", `/api/archive/certificate?${query({ source: view.source, record: view.record })}`);
  if (!found) return;
  const issuer = found.issuer ? `Issued by ${found.issuer}.` : "There is no shop.toml beside the inspections, so that it does not say who issues it.";
  const page = (svg, number) => {
    const made = picture(svg, `Page ${number + 1} of ${found.pages.length} of the certificate of record ${view.record}`);
    made.firstChild.classList.add("sheet");
    return made;
  };
  body.append(
    el("p", { class: "no-print" }, `${issuer} Its cards and traces were judged again just now, and its verdict follows from them.${found.notes ? ` But ${found.notes}.` : ""}`),
    el("div", { class: "row actions no-print" }, button("print", "Print the certificate", () => window.print(), "main")),
    ...found.pages.map(page),
  );
}

/** A record as it was when it was taken. Nothing of it can be changed. */
export async function record(at) {
  const { body, view } = at;
  const found = await asked(at, `Record ${view.record}`, "Opening …", `/api/archive/record?${query({ source: view.source, record: view.record })}`);
  if (!found) return;
  const one = found.record;
  const inner = el("div", {});
  body.append(...bands(found), inner);
  verdict.open(inner, null);
  const path = `/api/records/${encodeURIComponent(one.bench)}/${one.number}/report.svg?${query({ source: view.source })}`;
  const who = one.operator ? ` by ${one.operator}` : "";
  const said = `Record ${one.name}, measured ${moment(one.taken)}${who}, kept ${moment(one.archived)}. A record is never changed.`;
  const buttons = [
    el("a", { class: "button", id: "save", href: path, download: `${fileName(`${one.tool}-${one.name}`)}.svg` }, "Save the report"),
    button("record-certificate", "Certificate", () => at.go({ kind: "certificate", source: view.source, record: view.record, from: "record-certificate" })),
  ];
  const photograph = (name) => `/api/archive/photograph?${query({ source: view.source, record: view.record, name })}`;
  verdict.showRecord(found.verdict, path, said, buttons, noted.kept(found.noted, photograph));
}

/** What has to be known before the verdict is read. */
function bands({ record, remark, redrawn }) {
  const made = [];
  if (record.replaced_by) made.push(el("p", { class: "band fault" }, `This record no longer holds: record ${record.replaced_by} is in its place.`));
  if (remark) made.push(el("p", { class: "band" }, `${remark}.`));
  if (redrawn) made.push(el("p", { class: "quiet no-print" }, `Its report is drawn anew: ${redrawn} drew it otherwise from the same verdict.`));
  const all = [mark("from the archive"), ...marks(record)];
  return [el("p", { class: "no-print" }, all), ...made];
}
