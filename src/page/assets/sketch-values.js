// What is typed into a field, read for a sketch: a number, nothing yet, or something impossible.

/** What is typed at a path of a card's values. */
export const typedAt = (values, path) => path.reduce((at, name) => (at === undefined || at === null ? undefined : at[name]), values);

/** A number as it was typed; null where nothing is, NaN where it is none. */
export function number(raw) {
  if (typeof raw === "number") return raw;
  const plain = String(raw ?? "").trim().replace(",", ".").replace(/^\+/, "");
  return plain === "" ? null : Number(plain);
}

/** The typed number where it is one in its range, else what is drawn instead. */
export function usable(raw, otherwise, { least = -Infinity, most = Infinity, above = -Infinity } = {}) {
  const value = number(raw);
  return value !== null && Number.isFinite(value) && value >= least && value <= most && value > above ? value : otherwise;
}

/** Why a typed number cannot be, in plain words; empty where it can. */
export function impossible(raw, key, unit) {
  const value = number(raw);
  if (value === null || !key) return "";
  if (Number.isNaN(value)) return `“${String(raw).trim()}” is no number`;
  if (key.whole && !Number.isInteger(value)) return `${value} is no whole number`;
  const { least, most, open } = key.within || {};
  if (least === undefined) return "";
  const size = key.kind.startsWith("length") && unit === "in" ? 25.4 : 1;
  const [low, high] = [least / size, most / size];
  const end = (bound) => `${Number(bound.toFixed(4))}${unitWord(key, unit)}`;
  if (open ? value <= low : value < low) return `${String(raw).trim()} is impossible: it must be ${open ? "above" : "at least"} ${end(low)}`;
  if (open ? value >= high : value > high) return `${String(raw).trim()} is impossible: it must be ${open ? "below" : "at most"} ${end(high)}`;
  return "";
}

/** The unit behind a number: ` mm`, `°`. */
export const unitWord = (key, unit) => ({ length: ` ${unit}`, "length-limit": ` ${unit}`, angle: "°", "angle-limit": "°", angles: "°" })[key.kind] || "";

/** A number for a drawing: few digits. */
export const short = (value) => String(Number(value.toPrecision(4)));
