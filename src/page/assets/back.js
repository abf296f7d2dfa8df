// Back goes one step back: what is opened over another view is a step of the browser's history.

const depthOf = (state) => (state && state.heelclear) || 0;

/** Where the page was loaded: a step of an earlier load, or none. */
const ground = depthOf(history.state);
/** The steps with their depth and how each is left, the last one last; null where it was left already. */
const steps = [];
/** Whether the step that the page was loaded on is still to be taken over by what is opened first. */
let loaded = ground > 0;

/** A view was opened over the one before; `close` goes back to that. */
export function opened(close) {
  const last = steps.at(-1);
  if (last && last.close === null) {
    last.close = close;
  } else if (loaded) {
    steps.push({ depth: ground, close });
  } else {
    const depth = (last ? last.depth : ground) + 1;
    steps.push({ depth, close });
    history.pushState({ heelclear: depth }, "");
  }
  loaded = false;
}

/** The page was loaded anew over several views, each opened over the one before and with its `close`. */
export function reopened(closes) {
  closes.forEach((close, at) => steps.push({ depth: ground - closes.length + 1 + at, close }));
  loaded = false;
}

/** The view was left by a button of its own. */
export function left() {
  const last = steps.at(-1);
  if (last) last.close = null;
}

/** Whether the page was loaded anew over a view that was open. */
export const wasOpen = () => loaded;

window.addEventListener("popstate", (event) => {
  const depth = depthOf(event.state);
  loaded = false;
  const first = steps.findIndex((step) => step.depth > depth);
  const closing = first < 0 ? [] : steps.splice(first).reverse();
  for (const { close } of closing) if (close) close();
  // Steps that were left already are none.
  if (closing.length > 0 && closing.every(({ close }) => !close)) history.back();
});
