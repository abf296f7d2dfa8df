// Keeps the screen awake while a trace is under way, where the browser can.

let lock = null;
let wanted = false;

/** Whether the screen is to stay awake from now on. */
export function stay(awake) {
  if (awake === wanted) return;
  wanted = awake;
  take();
}

async function take() {
  if (!wanted) {
    const held = lock;
    lock = null;
    if (held) await held.release();
    return;
  }
  if (lock || !navigator.wakeLock || document.visibilityState !== "visible") return;
  try {
    const got = await navigator.wakeLock.request("screen");
    lock = got;
    got.addEventListener("release", () => {
      if (lock === got) lock = null;
    });
    // It was no longer wanted by the time it came.
    if (!wanted) take();
  } catch {
    // A battery that is low, or a page that is not shown: the screen does as it always does.
    lock = null;
  }
}

// A page that was hidden has lost it.
document.addEventListener("visibilitychange", take);
