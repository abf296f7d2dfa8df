// Back goes one step back: what is opened over another view is a step of the browser's history.

/** How each step is left, the last one last; null where it was left by another way. */
const steps = [];

/** A view was opened over the one before; `close` goes back to that. */
export function opened(close) {
  if (steps.at(-1) === null) {
    steps[steps.length - 1] = close;
    return;
  }
  steps.push(close);
  history.pushState({ heelclear: steps.length }, "");
}

/** The view was left by a button of its own. */
export function left() {
  if (steps.length > 0) steps[steps.length - 1] = null;
}

/** Whether a view was open over the start when the page was loaded anew. */
export const wasOpen = () => Boolean(history.state && history.state.heelclear) && steps.length === 0;

window.addEventListener("popstate", (event) => {
  const depth = (event.state && event.state.heelclear) || 0;
  const closing = steps.splice(depth).reverse();
  for (const close of closing) if (close) close();
  // Steps that were left already are none.
  if (closing.length > 0 && closing.every((close) => !close)) history.back();
});
