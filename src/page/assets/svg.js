// Pieces of line drawings: what every sketch of the page is made of.

const NS = "http://www.w3.org/2000/svg";

/** An element of a drawing. */
export function draw(name, attributes, ...children) {
  const made = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined && value !== "") made.setAttribute(key, typeof value === "number" ? round(value) : value);
  }
  made.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false));
  return made;
}

const round = (value) => String(Math.round(value * 100) / 100);

/** The place at an angle from the top, growing clockwise, in degrees. */
export const at = (cx, cy, r, deg) => [cx + r * Math.sin((deg * Math.PI) / 180), cy - r * Math.cos((deg * Math.PI) / 180)];

const points = (list) => list.map(([x, y]) => `${round(x)} ${round(y)}`).join(" L ");

export const polygon = (list, kind, more = {}) => draw("path", { d: `M ${points(list)} Z`, class: kind, ...more });
export const trail = (list, kind, more = {}) => draw("path", { d: `M ${points(list)}`, class: kind, ...more });
export const line = (x1, y1, x2, y2, kind) => draw("line", { x1, y1, x2, y2, class: kind });
export const circle = (cx, cy, r, kind, more = {}) => draw("circle", { cx, cy, r, class: kind, ...more });
export const box = (x, y, width, height, kind) => draw("rect", { x, y, width: Math.max(0, width), height: Math.max(0, height), class: kind });

/** Words at a place; `kind` is `name` for what the focused field means. */
export const words = (x, y, text, kind = "", anchor = "middle") => draw("text", { x, y, class: kind, "text-anchor": anchor }, text);

/** Points along an arc. */
export function along(cx, cy, r, from, to) {
  const steps = Math.max(2, Math.min(240, Math.ceil(Math.abs(to - from) / 3)));
  return Array.from({ length: steps + 1 }, (_, step) => at(cx, cy, r, from + ((to - from) * step) / steps));
}

/** A head of an arrow, its tip at a place and pointing along (dx, dy). */
export function head(x, y, dx, dy, kind = "head", size = 9) {
  const far = Math.hypot(dx, dy) || 1;
  const [ux, uy] = [(dx / far) * size, (dy / far) * size];
  return polygon([[x, y], [x - ux - uy * 0.42, y - uy + ux * 0.42], [x - ux + uy * 0.42, y - uy - ux * 0.42]], kind);
}

/** A dimension between two places: arrows inside, or from outside where it is short. */
export function dimension(x1, y1, x2, y2) {
  const [dx, dy] = [x2 - x1, y2 - y1];
  const far = Math.hypot(dx, dy);
  if (far < 0.5) return [head(x1, y1, 1, 0)];
  if (far >= 26) return [line(x1, y1, x2, y2, "mark"), head(x1, y1, -dx, -dy), head(x2, y2, dx, dy)];
  const [ux, uy] = [(dx / far) * 20, (dy / far) * 20];
  return [line(x1 - ux, y1 - uy, x1, y1, "mark"), line(x2, y2, x2 + ux, y2 + uy, "mark"), line(x1, y1, x2, y2, "mark thin"), head(x1, y1, dx, dy), head(x2, y2, -dx, -dy)];
}

/** The same along an arc, between two angles. */
export function arcDimension(cx, cy, r, from, to) {
  const far = (Math.abs(to - from) * Math.PI * r) / 180;
  const sign = Math.sign(to - from) || 1;
  const away = (deg, way) => {
    const [x, y] = at(cx, cy, r, deg);
    const turned = (deg * Math.PI) / 180;
    return head(x, y, way * Math.cos(turned), way * Math.sin(turned));
  };
  if (far >= 26) return [trail(along(cx, cy, r, from, to), "mark"), away(from, -sign), away(to, sign)];
  const out = (20 * 180) / (Math.PI * r);
  return [trail(along(cx, cy, r, from - sign * out, to + sign * out), "mark thin"), away(from, sign), away(to, -sign)];
}

/** A turning arrow from one angle to another, its head at the second. */
export function turning(cx, cy, r, from, to, kind = "way") {
  const sign = Math.sign(to - from) || 1;
  const back = (11 * 180) / (Math.PI * r);
  const turned = (to * Math.PI) / 180;
  const [x, y] = at(cx, cy, r, to);
  return draw("g", { class: kind }, trail(along(cx, cy, r, from, to - sign * back), "shaft"), head(x, y, sign * Math.cos(turned), sign * Math.sin(turned), "tip", 18));
}

/** A straight arrow. */
export function arrow(x1, y1, x2, y2, kind = "way") {
  const far = Math.hypot(x2 - x1, y2 - y1) || 1;
  const [ux, uy] = [((x2 - x1) / far) * 10, ((y2 - y1) / far) * 10];
  return draw("g", { class: kind }, line(x1, y1, x2 - ux, y2 - uy, "shaft"), head(x2, y2, ux, uy, "tip", 14));
}

/** What stands on the person's side: an eye that looks along the axis. */
export const eye = (x, y) => [draw("path", { d: `M ${x - 13} ${y} Q ${x} ${y - 14} ${x + 13} ${y} Q ${x} ${y + 14} ${x - 13} ${y} Z`, class: "eye" }), circle(x + 1, y, 4.5, "ink")];

/** A length to compare with: a round number of millimetres of about 50 dots. */
export function scaleBar(x, y, dots_per_mm, inches) {
  const unit = inches ? 25.4 : 1;
  const wanted = 55 / (dots_per_mm * unit);
  const ten = 10 ** Math.floor(Math.log10(wanted));
  const size = [1, 2, 5, 10].map((step) => step * ten).reverse().find((step) => step <= wanted) || ten;
  const long = size * unit * dots_per_mm;
  return [line(x, y, x + long, y, "scale"), line(x, y - 4, x, y + 4, "scale"), line(x + long, y - 4, x + long, y + 4, "scale"), words(x < 180 ? x : x + long, y - 7, `${Number(size.toPrecision(3))} ${inches ? "in" : "mm"}`, "small", x < 180 ? "start" : "end")];
}

/** A drawing of this size, for the eye alone: words say the same beside it. */
export const picture = (width, height, ...parts) => draw("svg", { viewBox: `0 0 ${width} ${height}`, class: "line-drawing", "aria-hidden": "true" }, parts);
