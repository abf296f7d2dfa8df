// Sounds for who looks at the tool and not at the screen: way, pace and end. Off until asked for.

/** Each cue as tones: when it begins and how long it is in seconds, how high in Hz. */
const CUES = {
  // Twice low: stop.
  wrong: [[0, 0.16, 220], [0.22, 0.16, 220]],
  // Falling: less of it.
  slower: [[0, 0.1, 880], [0.12, 0.14, 660]],
  // One, and one higher: it goes on.
  way: [[0, 0.08, 523], [0.1, 0.1, 659]],
  // One, high: nearly.
  nearly: [[0, 0.1, 1047]],
  // One, low and long: nothing moves, or nothing comes.
  stands: [[0, 0.35, 330]],
  // Three, rising: done.
  done: [[0, 0.14, 523], [0.16, 0.14, 659], [0.32, 0.3, 784]],
};
/** What goes on being wrong is said again after so many ms. */
const AGAIN = { wrong: 900, slower: 2500, stands: 4000 };
const OF_KEY = { wrong: "wrong", slower: "slower", nearly: "nearly", stands: "stands", lost: "stands", gone: "stands", silent: "stands", judging: "done", done: "done", turning: "way" };

let hearing = null;
let before = "";
let cue = "";
let at = 0;
/** The cues that were given, for whoever wants to know. */
export const given = [];

export const isOn = () => hearing !== null;

/** Has to be called where a person pressed something: a browser is silent before. */
export function turnOn(on) {
  if (!on) {
    if (hearing) hearing.close();
    hearing = null;
    return;
  }
  const Context = window.AudioContext || window.webkitAudioContext;
  if (!Context) return;
  hearing = new Context();
  before = "";
  play("way");
}

/** Gives the cue of what matters most, once when it begins and again while it goes on. */
export function follow(key) {
  // Behind a trace comes the next one, or the end: each was done.
  const over = ["turning", "nearly", "slower", "stands"].includes(before) && ["setting", "next", "judging", "done", "asks"].includes(key);
  const next = over ? "done" : OF_KEY[key] || "";
  const due = key === before ? AGAIN[next] && performance.now() - at > AGAIN[next] : next !== "" && !(next === "way" && cue === "way");
  before = key;
  if (due && (next !== "done" || over)) play(next);
}

/** The trace that was under way is over, and the page shows the verdict. */
export const over = () => follow("done");

function play(name) {
  cue = name;
  at = performance.now();
  if (!hearing) return;
  given.push(name);
  if (given.length > 50) given.shift();
  for (const [from, long, hertz] of CUES[name]) {
    const start = hearing.currentTime + from;
    const tone = hearing.createOscillator();
    const volume = hearing.createGain();
    tone.frequency.value = hertz;
    // Soft at both ends, so that it does not crack.
    volume.gain.setValueAtTime(0, start);
    volume.gain.linearRampToValueAtTime(0.25, start + 0.02);
    volume.gain.setValueAtTime(0.25, start + long - 0.03);
    volume.gain.linearRampToValueAtTime(0, start + long);
    tone.connect(volume).connect(hearing.destination);
    tone.start(start);
    tone.stop(start + long);
  }
}
