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

/** A reading with its sign and enough digits for a micrometre. */
export function reading(mm) {
  if (mm === null || mm === undefined) return "—";
  const text = Math.abs(shown(mm)).toFixed(units() === "in" ? 5 : 4);
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

/** What a person typed, as millimetres; null where it is empty, NaN where it is no number. */
export function read(text) {
  const plain = text.trim().replace(",", ".");
  return plain === "" ? null : asMm(Number(plain));
}

/** A date and time of here. */
export function moment(text) {
  const date = new Date(text);
  return Number.isNaN(date.getTime()) ? text : date.toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
}
