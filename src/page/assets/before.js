// Before the first trace: the cautions, and connecting the gauge.

import { doing, get, post } from "/assets/ask.js";
import { button, el, fill } from "/assets/dom.js";

/** Where what happened is told, the newest first. */
export const notes = () => el("ul", { id: "told", class: "told", "aria-live": "polite", "aria-relevant": "additions" });

/** The cautions, to be confirmed. */
export async function cautions(main) {
  const list = el("ul", { class: "cautions" });
  fill(
    main,
    el(
      "section",
      { class: "card" },
      el("h2", { tabindex: "-1" }, "Before a probe goes near the tool"),
      list,
      el("p", {}, "Clamp the tool as it will stay: all traces of this inspection belong to one clamping."),
      el("div", { class: "row actions" }, button("cautioned", "The wheel stands, the spindle is locked", (self) => doing(self, () => post("/api/caution")), "main")),
    ),
  );
  const known = await doing(null, () => get("/api/start"));
  if (known) fill(list, known.cautions.map((text) => el("li", {}, text)));
}

/** Connecting the gauge. */
export function connect(main, inspection) {
  const simulated = inspection.simulated;
  const choices = el("div", { id: "choices" });
  fill(
    main,
    el(
      "section",
      { class: "card" },
      el("h2", { tabindex: "-1" }, simulated ? "Start the simulated gauge" : "Connect the gauge"),
      el("p", { id: "fault", class: "band fault", role: "alert", hidden: true }),
      el("p", { id: "standing", role: "status" }),
      el("p", { id: "proof-first", class: "quiet", hidden: true }, "First the page sees which way the encoder counts: a quarter of a turn clockwise, once for each bench."),
      choices,
      el("div", { class: "row", id: "beside" }),
    ),
    el("section", { class: "notes", "aria-labelledby": "h-told" }, el("h3", { id: "h-told" }, "What happened"), notes()),
  );
  if (simulated) {
    fill(
      choices,
      el("p", { class: "quiet" }, "The gauge turns a made-up tool for you, as soon as you say that the stylus is set, and speaks over a port as a real gauge does."),
      el(
        "div",
        { class: "row actions" },
        button("sim-fast", "Start, four times a hand's pace", (self) => doing(self, () => post("/api/connect", { faster: 4 })), "main"),
        button("sim-hand", "Start at a hand's pace", (self) => doing(self, () => post("/api/connect", { faster: 1 }))),
      ),
    );
  } else {
    listPorts(choices, inspection.choice || {});
  }
}

async function listPorts(choices, before) {
  fill(choices, el("p", { role: "status" }, "Looking for ports …"));
  const found = await doing(null, () => get("/api/ports"));
  if (!found || !choices.isConnected) return;
  const options = () => found.ports.map((port) => el("option", { value: port.name }, port.about ? `${port.name}: ${port.about}` : port.name));
  const port = el("select", { id: "port" }, options());
  const second = el("select", { id: "second" }, el("option", { value: "" }, "none: a bridge gives both"), options());
  const other = el("input", { id: "other", autocomplete: "off", placeholder: "/dev/ttyUSB0" });
  if (before.port && found.ports.some((one) => one.name === before.port)) port.value = before.port;
  const none = found.ports.length === 0;
  fill(
    choices,
    none
      ? el("p", { class: "band" }, "No serial port was found. Plug the bridge or the indicator in, then look again.")
      : el("div", { class: "field" }, el("label", { for: "port" }, "Port of the bridge or the indicator"), port),
    none ? null : el("div", { class: "field" }, el("label", { for: "second" }, "Port of an instrument for the angle"), second),
    el("details", { open: none }, el("summary", {}, "A port that is not listed"), el("div", { class: "field" }, el("label", { for: "other" }, "Its name"), other)),
    el(
      "div",
      { class: "row actions" },
      button("connect", "Connect", (self) =>
        doing(self, () => {
          const name = other.value.trim() || port.value;
          if (!name) throw { message: "no port was chosen", help: "choose one, or write its name" };
          return post("/api/connect", { port: name, encoder_port: second.value || null });
        }), "main"),
      button("again-ports", "Look again", () => listPorts(choices, before)),
      button("sim-instead", "Use the simulated gauge instead", (self) => doing(self, () => post("/api/connect", { faster: 4 }))),
    ),
  );
}
