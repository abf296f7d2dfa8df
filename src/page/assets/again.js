// Loads the page once more where a part of it did not come: a connection may be lost in a crowd of them.
// No module, so that it is there before any of them.

addEventListener(
  "error",
  (event) => {
    if (!(event.target instanceof HTMLScriptElement || event.target instanceof HTMLLinkElement)) return;
    const once = setInterval(async () => {
      // Not before the bench answers: a browser leaves the page for one of its own otherwise.
      const there = await fetch("/api/here").then((answer) => answer.ok || answer.status === 401, () => false);
      if (!there) return;
      clearInterval(once);
      location.reload();
    }, 1000);
  },
  true,
);
