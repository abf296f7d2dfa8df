// What matters most at the bench now: a word for who stands far off, and a sentence for who is near.

import { stepName } from "/assets/steps.js";

/** Which way is heel first, for who stands behind the spindle. */
export const heelFirst = (inspection) => `${inspection.tool.heel_turns}, seen from the driven end`;

const degrees = (deg) => `${Math.max(1, Math.round(deg))}°`;

/**
 * `lost` is what is said where the bench itself is away: nothing else is asked of anybody then.
 * How it stands: a key, a word in capitals, a tone (`fault`, `ask`, `good` or `plain`), and the
 * sentence that takes the place of the step's own, where one does.
 */
export function guide(inspection, moving, { lost, stale }) {
  if (lost) return { key: "lost", word: "NO BENCH", tone: "fault", words: lost };
  if (inspection.gone) return { key: "gone", word: "NO GAUGE", tone: "fault", words: null };
  if (stale) return { key: "silent", word: "NO GAUGE", tone: "fault", words: "Nothing comes from the gauge. Look at its cable, and whether the indicator is on." };
  const phase = inspection.phase;
  if (phase === "setting") return { key: "setting", word: "STYLUS", tone: "ask", words: null };
  if (phase === "between" || !moving) return between(inspection);
  if (moving.dial) return { key: "dial", word: "DIAL", tone: "plain", words: null };
  if (moving.way === "wrong") return { key: "wrong", word: "OTHER WAY", tone: "fault", words: `Stop. Turn the other way, heel first: ${heelFirst(inspection)}.` };
  if (phase === "armed") return { key: "armed", word: "TURN", tone: "ask", words: null };
  return turning(inspection, moving);
}

function between(inspection) {
  if (inspection.judging === "under-way") return { key: "judging", word: "DONE", tone: "good", words: null };
  if (inspection.broken === "asks" || inspection.broken === "cannot-be-tied") return { key: "asks", word: "LOOK HERE", tone: "ask", words: null };
  return inspection.next === null ? { key: "done", word: "DONE", tone: "good", words: null } : { key: "next", word: "NEXT", tone: "ask", words: null };
}

function turning(inspection, moving) {
  const step = inspection.steps[inspection.current];
  const recording = step ? `Recording ${stepName(step)}` : "Recording";
  const left = moving.to_go;
  const missing = left ? `${degrees(left.missing_deg)} ${left.missing_deg < 1.5 ? "is" : "are"} missing` : "";
  const way = moving.heel_first ? `, heel first: ${inspection.tool.heel_turns}` : "";
  if (moving.stands) {
    const words = left ? `${recording}: the tool stands still. Turn on to the mark on the ring; ${missing}.` : `${recording}: the tool stands still. Turn on${way}.`;
    return { key: "stands", word: "TURN", tone: "ask", words };
  }
  if (moving.pace === "slower") return { key: "slower", word: "SLOWER", tone: "fault", words: `${recording}: slower. Readings would lie farther apart than is wanted.` };
  if (left) return { key: "nearly", word: "NEARLY", tone: "ask", words: `${recording}: nearly done. Turn on to the mark on the ring; ${missing}.` };
  return { key: "turning", word: "GO ON", tone: "good", words: null };
}
