// Lengths in the unit that the person chose. The bench itself always counts in millimetres.

const KEY = "heelclear-units";

export function units() {
  try {
    return localStorage.getItem(KEY) === "in" ? "in" : "mm";
  } catch {
    return "mm";
  }
}

export function setUnits(unit) {
  try {
    localStorage.setItem(KEY, unit);
  } catch {
    // A browser that keeps nothing shows millimetres after each reload.
  }
}

/** Millimetres as a number in the chosen unit. */
export const shown = (mm) => (units() === "in" ? mm / 25.4 : mm);

/** A number in the chosen unit as millimetres. */
export const asMm = (value) => (units() === "in" ? value * 25.4 : value);

/** A reading with its sign, and the digits that the indicator has. */
export function reading(mm, resolution_mm) {
  if (mm === null || mm === undefined) return "—";
  const digits = Math.ceil(-Math.log10(shown(resolution_mm || 0.001)) - 0.01);
  const text = Math.abs(shown(mm)).toFixed(Math.min(6, Math.max(2, digits)));
  return `${mm < 0 ? "−" : "+"}${text}`;
}

/** A plain length: `20 mm`. */
export function length(mm) {
  if (mm === null || mm === undefined) return "";
  const value = shown(mm);
  return `${Number(value.toFixed(units() === "in" ? 4 : 3))} ${units()}`;
}

/** A number as it is typed, for an input. */
export function typed(mm) {
  if (mm === null || mm === undefined) return "";
  return String(Number(shown(mm).toFixed(units() === "in" ? 5 : 4)));
}

/** What was typed before the unit was changed, in the unit chosen now; what is no number stays. */
export function changed(text) {
  const plain = String(text ?? "").trim().replace(",", ".");
  const number = Number(plain);
  if (plain === "" || Number.isNaN(number)) return text;
  return String(units() === "in" ? Number((number / 25.4).toFixed(7)) : Number((number * 25.4).toFixed(5)));
}

/** What a person typed, as millimetres; null where it is empty, NaN where it is no number. */
export function read(text) {
  const plain = text.trim().replace(",", ".");
  return plain === "" ? null : asMm(Number(plain));
}

/** A sentence begins with a capital letter. */
export const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);

/** A date and time of here. */
export function moment(text) {
  const date = new Date(text);
  return Number.isNaN(date.getTime()) ? text : date.toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
}
