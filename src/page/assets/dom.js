// Makes and changes elements. Text is always set as text: nothing that is typed becomes markup.

/** An element with attributes and children; functions among the attributes listen. */
export function el(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (typeof value === "function") made.addEventListener(name.slice(2), value);
    else if (name === "value") made.value = value;
    else made.setAttribute(name, value === true ? "" : value);
  }
  made.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false));
  return made;
}

/** Puts these in place of what an element holds. The focus stays on what has the same id. */
export function fill(place, ...children) {
  const focused = document.activeElement && place.contains(document.activeElement) ? document.activeElement.id : "";
  place.replaceChildren(...children.flat(Infinity).filter(Boolean));
  if (focused) {
    const again = document.getElementById(focused);
    if (again && again !== document.activeElement) again.focus({ preventScroll: true });
  }
}

/** Sets text only where it differs, so that a screen reader does not repeat itself. */
export function say(element, text) {
  if (element && element.textContent !== text) element.textContent = text;
}

/** A colour of the style sheet, by its name. */
export function colour(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
}

/** A button. */
export function button(id, text, does, kind = "") {
  const made = el("button", { type: "button", id, class: kind }, text);
  made.addEventListener("click", () => does(made));
  return made;
}
