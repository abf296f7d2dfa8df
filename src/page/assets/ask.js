// Asks the bench for something, and shows what it refuses.

import { capital } from "/assets/units.js";

const band = () => document.getElementById("complaint");

/** Shows an error in plain words; nothing clears it. */
export function complain(error) {
  const place = band();
  if (!error) {
    place.hidden = true;
    place.textContent = "";
    return;
  }
  place.textContent = [error, ...(error.also || [])].map(words).join(" ");
  place.hidden = false;
}

/** An error in a line. */
export function words(one) {
  const where = one.place ? `${one.place}: ` : "";
  return `${where}${one.message}${one.help ? `. ${capital(one.help)}` : ""}.`;
}

async function answer(response) {
  let body = null;
  try {
    body = await response.json();
  } catch {
    body = null;
  }
  if (response.ok) return body;
  throw (body && body.error) || { message: `the bench answered ${response.status}` };
}

const UNREACHED = {
  message: "the bench does not answer",
  help: "look whether `heelclear bench` still runs on its computer; what was read is on its disk",
};

/** Why the bench refuses this page altogether; nothing where it does not, or does not answer. */
export async function refusal() {
  try {
    const response = await fetch("/api/here");
    return response.status === 401 ? (await response.json()).error : null;
  } catch {
    return null;
  }
}

/** Gets JSON. */
export async function get(path) {
  return answer(await fetched(path, [300, 1000]));
}

/** What only reads may be asked for once more: a connection may be lost in a crowd of them. */
async function fetched(path, pauses) {
  try {
    return await fetch(path, { headers: { accept: "application/json" } });
  } catch {
    if (pauses.length === 0) throw UNREACHED;
    await new Promise((over) => setTimeout(over, pauses[0]));
    return fetched(path, pauses.slice(1));
  }
}

/** Asks for a change. */
export async function post(path, body = {}) {
  let response;
  try {
    response = await fetch(path, {
      method: "POST",
      headers: { "content-type": "application/json", "x-heelclear": "1" },
      body: JSON.stringify(body),
    });
  } catch {
    throw UNREACHED;
  }
  return answer(response);
}

/** Sends the bytes of a file. */
export async function send(path, file) {
  let response;
  try {
    response = await fetch(path, { method: "POST", headers: { "content-type": "application/octet-stream", "x-heelclear": "1" }, body: file });
  } catch {
    throw UNREACHED;
  }
  return answer(response);
}

/** Does something for a button: complaints are shown, and the button rests meanwhile. */
export async function doing(button, work) {
  complain(null);
  const held = button && document.activeElement === button;
  if (button) {
    button.disabled = true;
    button.toggleAttribute("data-held", held);
  }
  try {
    return await work();
  } catch (error) {
    complain(error.message ? error : { message: String(error) });
    return null;
  } finally {
    if (button) {
      button.disabled = false;
      button.removeAttribute("data-held");
    }
    // A button that rests loses the focus; it stays where the hand was.
    const again = held && document.activeElement === document.body && document.getElementById(button.id);
    if (again && !again.disabled) again.focus({ preventScroll: true });
  }
}
