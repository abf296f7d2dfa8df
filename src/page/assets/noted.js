// Notes and photographs: at the plan for the inspection that begins, at the verdict for the one that is judged.

import { doing, post, send } from "/assets/ask.js";
import { button, el, fill, say } from "/assets/dom.js";

/** What the bench takes at most, in bytes and characters; it looks itself, too. */
const LONGEST = 12000000;
const LONGEST_NOTE = 10000;
/** How the files of pictures begin: JPEG, PNG, and WebP at its ninth byte. */
const SIGNATURES = [[0, [0xff, 0xd8, 0xff]], [0, [0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]], [8, [0x57, 0x45, 0x42, 0x50]]];

/** Refuses a file that is no photograph, in words, before it is sent. */
async function check(file) {
  if (file.size > LONGEST) throw { message: `the photograph is too large, expected at most ${LONGEST / 1000000} MB`, help: "take it with fewer dots, or make it smaller" };
  const begins = new Uint8Array(await file.slice(0, 12).arrayBuffer());
  const known = SIGNATURES.some(([from, bytes]) => bytes.every((byte, at) => begins[from + at] === byte));
  if (!known) throw { message: "this file is no photograph that can be kept, expected a JPEG, PNG or WebP picture", help: "what counts is what the file holds, not its name: save it as a JPEG" };
}

/** A button that opens the camera of a phone, or a choice of files; `take` gets what was chosen. */
function chooser(id, take) {
  const input = el("input", { id, type: "file", accept: "image/jpeg,image/png,image/webp", capture: "environment", class: "unseen" });
  input.addEventListener("change", () => {
    const file = input.files[0];
    input.value = "";
    if (file) doing(null, () => take(file));
  });
  return el("span", { class: "chooser" }, input, el("label", { for: id, class: "button" }, "Add a photograph"));
}

function noteField(id, value) {
  const made = el("textarea", { id, rows: "3", maxlength: String(LONGEST_NOTE), "aria-describedby": `${id}-hint` });
  made.value = value;
  return el("div", { class: "note" }, el("label", { for: id }, "Notes"), made, el("span", { class: "quiet", id: `${id}-hint` }, "what was seen on the tool, what the customer said; kept beside the traces"));
}

const size = (bytes) => `${(bytes / 1e6).toFixed(1)} MB`;

/** The fields of the plan, and what sends them once the inspection is begun. */
export function atPlan() {
  const files = [];
  const list = el("ul", { class: "list" });
  const note = noteField("plan-note", "");
  const show = () =>
    fill(
      list,
      files.map((file, at) => {
        const out = button(`plan-photograph-${at}`, "Take out", () => {
          files.splice(at, 1);
          show();
          document.getElementById("plan-photograph").focus();
        });
        out.setAttribute("aria-label", `Take photograph ${at + 1} out`);
        return el("li", {}, el("div", {}, `Photograph ${at + 1}, ${size(file.size)}`), out);
      }),
    );
  const add = chooser("plan-photograph", async (file) => {
    await check(file);
    files.push(file);
    show();
  });
  const begun = async () => {
    const text = note.querySelector("textarea").value;
    if (text.trim()) await post("/api/notes", { text });
    for (const file of files) await send("/api/photographs", file);
  };
  return { fields: [note, list, el("p", { class: "row" }, add)], begun };
}

/** What is typed at the verdict and not saved, by its folder. */
let draft = { folder: "", text: null };
let parts = {};
let shownFor = "";

/** The section of the verdict; `show` fills it. */
export function section() {
  shownFor = "";
  const note = noteField("note", "");
  parts = { text: note.querySelector("textarea"), saved: el("span", { class: "quiet", role: "status" }), list: el("ul", { class: "photographs" }), words: el("p", { class: "only-print note-words" }), folder: "" };
  parts.text.addEventListener("input", () => {
    draft = { folder: parts.folder, text: parts.text.value };
    say(parts.saved, "Not saved yet.");
  });
  // Who leaves the field is done with it.
  parts.text.addEventListener("change", () => doing(null, saved));
  const save = button("save-note", "Save the notes", (self) => doing(self, saved));
  const add = chooser("photograph", async (file) => {
    await check(file);
    await send("/api/photographs", file);
  });
  return el(
    "section",
    { "aria-labelledby": "h-noted", class: "noted" },
    el("h3", { id: "h-noted" }, "Notes and photographs"),
    el("div", { class: "no-print" }, note),
    el("div", { class: "row no-print" }, save, add, parts.saved),
    parts.words,
    parts.list,
  );
}

/** The section of a record that is kept: what was noted stands there, and nothing can be added. Nothing where nothing was noted. */
export function kept({ text, photographs }, path) {
  if (!text && photographs.length === 0) return null;
  const picture = (name, at) => el("li", {}, el("a", { href: path(name), target: "_blank", rel: "noopener", class: "photograph" }, el("img", { src: path(name), alt: `Photograph ${at + 1} of ${photographs.length}` })), el("span", { class: "quiet" }, name));
  return el("section", { "aria-labelledby": "h-noted", class: "noted" }, el("h3", { id: "h-noted" }, "Notes and photographs"), text ? el("p", { class: "note-words kept-note" }, text) : null, el("ul", { class: "photographs" }, photographs.map(picture)));
}

/** Saves what is typed and not saved yet; what goes on from here waits for it. */
export async function saved() {
  if (draft.text === null || draft.folder !== parts.folder) return;
  const { text } = draft;
  await post("/api/notes", { text });
  if (draft.text === text) draft = { folder: "", text: null };
  say(parts.saved, "Saved in the folder.");
}

/** Shows what lies in the folder; what is being typed stays. */
export function show({ folder, noted }) {
  const key = JSON.stringify([folder, noted]);
  if (key === shownFor) return;
  shownFor = key;
  parts.folder = folder;
  const typed = draft.folder === folder ? draft.text : null;
  parts.text.value = typed ?? noted.text;
  say(parts.words, noted.text);
  document.getElementById("h-noted").parentElement.classList.toggle("empty", !noted.text && noted.photographs.length === 0);
  fill(
    parts.list,
    noted.photographs.map((name, at) => {
      const path = `/api/photographs/${encodeURIComponent(name)}`;
      const out = button(`out-${name}`, "Take out", (self) => window.confirm(`Take ${name} out of the folder?`) && doing(self, () => post(`${path}/take-out`)), "small no-print");
      out.setAttribute("aria-label", `Take ${name} out`);
      const shown = el("img", { src: `${path}?of=${encodeURIComponent(folder)}`, alt: `Photograph ${at + 1} of ${noted.photographs.length}` });
      return el("li", {}, el("a", { href: path, target: "_blank", rel: "noopener", class: "photograph" }, shown), el("span", { class: "row" }, el("span", { class: "quiet" }, name), out));
    }),
  );
}
