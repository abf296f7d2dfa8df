// Joins the parts: one stream tells how the bench stands, and each state has its view.

import * as archive from "/assets/archive.js";
import { complain, doing, post, refusal, words } from "/assets/ask.js";
import * as back from "/assets/back.js";
import { say } from "/assets/dom.js";
import * as form from "/assets/form.js";
import * as plan from "/assets/plan.js";
import * as start from "/assets/start.js";
import * as trace from "/assets/trace.js";
import { capital, setUnits, units } from "/assets/units.js";
import * as verdict from "/assets/verdict.js";

const main = document.getElementById("main");
const lost = document.getElementById("link-lost");

let source = null;
let bench = null;
let view = "";
let soFar = null;
/** The person looks at the steps although there is a verdict. */
let steps = false;

/** Numbers for whoever wants to know how fast the page is. */
const measured = { frames: 0, frame_ms: [], latency_ms: [], moving: 0 };
window.heelclear = { measured, state: () => bench };

function listen() {
  clearTimeout(again);
  if (source) source.close();
  source = new EventSource(`/api/stream?units=${units()}`);
  source.addEventListener("open", () => {
    heard();
  });
  source.addEventListener("alive", heard);
  source.addEventListener("bench", (event) => {
    heard();
    bench = JSON.parse(event.data);
    show();
  });
  source.addEventListener("moving", (event) => {
    const moving = JSON.parse(event.data);
    measured.moving += 1;
    heard();
    if (view === "trace") trace.move(moving);
  });
  source.addEventListener("so-far", (event) => {
    soFar = JSON.parse(event.data);
    if (view === "trace") trace.soFar(soFar);
  });
  source.addEventListener("aside", () => {
    source.close();
    aside = true;
    away("This bench is open in several other pages. Reload this one to go on here.");
  });
  const mine = source;
  source.addEventListener("error", async () => {
    if (mine.readyState !== EventSource.CLOSED) return away(UNANSWERED);
    // A browser gives up where it was refused: the bench may have been started anew, and knows this page
    // again once its new address was opened beside it.
    const why = await refusal();
    if (mine !== source) return;
    away(why ? capital(words(why)) : UNANSWERED);
    again = setTimeout(listen, 3000);
  });
}

/** The next try to hear the bench. */
let again = null;

const UNANSWERED = "The bench does not answer. What was read is on its disk. This page tries again by itself; look whether `heelclear bench` still runs.";
/** A bench that is well says something at least so often, in ms, and a little is to spare. */
const SILENT = 7000;
let heardAt = performance.now();
let aside = false;

/** The bench said something. */
function heard() {
  heardAt = performance.now();
  if (!lost.hidden || gone) {
    gone = false;
    lost.hidden = true;
    trace.link("");
  }
}

/** Whether the bench is away. */
let gone = false;

/** The bench is away, or this page is. At the bench the instruction says so; else a band does. */
function away(words) {
  gone = true;
  say(lost, words);
  lost.hidden = trace.link(words) && view === "trace";
}

setInterval(() => {
  if (!aside && !gone && performance.now() - heardAt > SILENT) away(UNANSWERED);
}, 1000);

function show() {
  const inspection = bench.inspection;
  document.getElementById("leave").hidden = !inspection;
  if (!inspection) {
    if (inside) back.left();
    inside = false;
    say(document.getElementById("where"), "");
    document.querySelector(".top").classList.remove("simulated");
    document.title = "heelclear bench";
    steps = false;
    soFar = null;
    enter("start", () => start.open(main));
    return;
  }
  if (!inside) {
    inside = true;
    back.opened(goBack);
  }
  const tool = inspection.tool;
  say(document.getElementById("where"), `${tool.id} ${tool.name} · ${inspection.folder}${inspection.simulated ? " · simulated" : ""}`);
  document.querySelector(".top").classList.toggle("simulated", Boolean(inspection.simulated));
  document.title = `${tool.id}: heelclear bench`;
  const between = inspection.phase === "between" || inspection.phase === "closed";
  const judged = ["done", "under-way", "failed"].includes(inspection.judging) && between && !inspection.sense.wanted;
  if (!judged) steps = false;
  if (judged && !steps) {
    enter("verdict", () => verdict.open(main, showSteps));
    verdict.show(inspection);
  } else {
    enter("trace", () => trace.open(main, measured, soFar));
    trace.show(inspection, judged ? showVerdict : null);
  }
}

/** Whether an inspection is open over the start. */
let inside = false;

/** One step back: from the steps to the verdict, else out of the inspection. */
function goBack() {
  inside = false;
  const judged = steps;
  if (judged) showVerdict();
  else leave();
  // Whether it is left is the bench's to say, or the person's.
  if (bench.inspection && !inside) {
    inside = true;
    back.opened(goBack);
  }
}

function leave() {
  const busy = bench.inspection && ["setting", "armed", "turning"].includes(bench.inspection.phase);
  const sure = !busy || window.confirm("A trace is under way. Leave all the same? What was read stays on disk.");
  if (sure) doing(document.getElementById("leave"), () => post("/api/leave"));
}

function showSteps() {
  steps = true;
  show();
}

function showVerdict() {
  steps = false;
  show();
}

function enter(name, open) {
  if (view === name) return;
  if (view === "trace") {
    trace.leave();
    if (name === "verdict") trace.ended();
  }
  view = name;
  complain(null);
  open();
  window.scrollTo(0, 0);
  // Who reads by ear is told where the page now is.
  const heading = main.querySelector("h2");
  if (heading) {
    heading.tabIndex = -1;
    heading.focus({ preventScroll: true });
  }
}

function nameUnits() {
  const knob = document.getElementById("units");
  const other = units() === "mm" ? "inches" : "millimetres";
  say(knob, units() === "mm" ? "mm" : "inch");
  knob.setAttribute("aria-label", `${knob.textContent}: the unit of lengths; show them in ${other}`);
}

document.getElementById("units").addEventListener("click", () => {
  setUnits(units() === "mm" ? "in" : "mm");
  nameUnits();
  // What is typed into a form stays, in the other unit; any other view is drawn anew.
  if (!form.changeUnits() && !plan.changeUnits() && !archive.changeUnits() && bench) {
    view = "";
    // At once: what comes later must not take the place of what was chosen meanwhile.
    show();
  }
  listen();
});

document.getElementById("leave").addEventListener("click", leave);

// Frames are counted all the time: they are what a person sees.
let last = 0;
function frame(now) {
  if (last) {
    measured.frames += 1;
    measured.frame_ms.push(now - last);
    if (measured.frame_ms.length > 600) measured.frame_ms.shift();
  }
  last = now;
  if (view === "trace") trace.draw();
  requestAnimationFrame(frame);
}

nameUnits();
listen();
requestAnimationFrame(frame);
