// What was typed into the form of a card and not saved yet: it survives a reload, Back and a closed lid.

const KEY = "heelclear-draft";

/** Keeps a draft: the kind of card, its file or where it is taken over from, and what is typed. */
export function keep(draft) {
  try {
    localStorage.setItem(KEY, JSON.stringify(draft));
  } catch {
    // A browser that keeps nothing has no drafts.
  }
}

/** The draft that is kept; null where there is none. */
export function kept() {
  try {
    return JSON.parse(localStorage.getItem(KEY));
  } catch {
    return null;
  }
}

/** The card is saved, or is not wanted. */
export function drop() {
  try {
    localStorage.removeItem(KEY);
  } catch {
    // There was none.
  }
}

/** The draft of this very card, where it is one. */
export function of(kind, file, from) {
  const draft = kept();
  const same = draft && draft.kind === kind && draft.file === (file || null) && JSON.stringify(draft.from) === JSON.stringify(from || null);
  return same ? draft : null;
}
