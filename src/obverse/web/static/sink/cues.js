// Cues: told by sound, speech, vibration and sight, each of which can be turned off.

const AHEAD_MS = 1200;
const LATE_MS = 1500;

// Tones of each kind: start in s, frequency in Hz, length in s. Told apart by rhythm, not by pitch alone.
const SOUNDS = {
  agitate: [[0, 660, 0.12], [0.18, 660, 0.12]],
  rest: [[0, 330, 0.25]],
  ready: [[0, 880, 0.06], [0.25, 880, 0.06], [0.5, 880, 0.06]],
  drain: [[0, 523, 0.15], [0.17, 659, 0.15], [0.34, 784, 0.35]],
  end: [[0, 784, 0.9]],
};
const SHAKES = { agitate: [120, 80, 120], rest: [60], ready: [50, 60, 50, 60, 50], drain: [150, 60, 150, 60, 400], end: [800] };

// What answers a held touch in the dark: tones by number, and none that a cue has.
const ANSWERS = {
  felt: [[0, 220, 0.05]],
  dark: [[0, 196, 1.1]],
  loaded: [[0, 988, 0.22]],
  light: [[0, 523, 0.14], [0.16, 784, 0.14], [0.32, 1046, 0.6]],
  no: [[0, 147, 0.35], [0.4, 110, 0.5]],
};
const FELT = { felt: [20], dark: [600], loaded: [180], light: [80, 60, 80, 60, 500], no: [40, 40, 40, 40, 40, 40, 40] };
const BETWEEN_S = 0.45;

export class Cues {
  constructor(clock, show) {
    this.clock = clock;
    this.show = show;
    this.list = [];
    this.told = new Set();
    this.sounded = new Map();
    this.by = { sound: true, speech: false, vibration: true, sight: true };
    // Speech was turned off by hand, which counts in the dark too.
    this.silenced = false;
    this.quiet = false;
    this.fired = [];
    this.answers = [];
    this.audio = null;
    this.wake = () => {};
    try {
      this.worker = new Worker("/static/sink/ticker.js");
      this.worker.onmessage = () => this.wake();
    } catch {
      this.worker = null;
    }
  }

  /** Browsers let a page sound only after a touch. */
  unlock() {
    const Audio = window.AudioContext ?? window.webkitAudioContext;
    if (!Audio) return;
    this.audio ??= new Audio();
    if (this.audio.state === "suspended") this.audio.resume().catch(() => {});
  }

  /** The cues of the present action; those of another one are forgotten. `cues` have a `key` each. */
  plan(cues) {
    this.list = cues;
    const keys = new Set(cues.map((cue) => cue.key));
    for (const [key, nodes] of this.sounded) {
      if (!keys.has(key)) {
        for (const node of nodes) {
          try {
            node.stop();
          } catch {
            // It has ended by itself.
          }
        }
        this.sounded.delete(key);
      }
    }
    this.turn();
  }

  /** Tell what is due, hand sounds to the audio clock ahead of time, and ask to be woken for the next. */
  turn() {
    const now = performance.now();
    let next = Infinity;
    for (const cue of this.list) {
      if (this.told.has(cue.key)) continue;
      const at = this.clock.steadyOf(cue.at_s);
      if (at <= now) {
        this.told.add(cue.key);
        // A cue that was slept through is not told; what it asked for is on the screen.
        if (now - at < LATE_MS) this.tell(cue, at, now);
        continue;
      }
      if (at - now <= AHEAD_MS) this.sound(cue, (at - now) / 1000);
      next = Math.min(next, at, Math.max(now + 20, at - AHEAD_MS + 5));
    }
    if (next < Infinity) {
      const wait = next - performance.now();
      if (this.worker) this.worker.postMessage(wait);
      else setTimeout(() => this.wake(), Math.max(0, wait));
    }
  }

  tell(cue, at, now) {
    this.fired.push({ kind: cue.kind, late_ms: now - at });
    if (this.fired.length > 5000) this.fired.splice(0, 1000);
    this.show(cue);
    if (this.quiet) return;
    if (!this.sounded.has(cue.key)) this.sound(cue, 0);
    if (this.by.vibration && touched()) navigator.vibrate?.(SHAKES[cue.kind]);
    if (this.by.sight) flash();
    if (cue.text) this.speak(cue.spoken ?? cue.text);
  }

  sound(cue, in_s) {
    if (!this.by.sound || this.quiet || this.audio?.state !== "running" || this.sounded.has(cue.key)) return;
    this.sounded.set(cue.key, this.#tones(SOUNDS[cue.kind], in_s));
  }

  #tones(notes, in_s) {
    return notes.map(([start, frequency, length]) => {
      const tone = this.audio.createOscillator();
      const gain = this.audio.createGain();
      const from = this.audio.currentTime + in_s + start;
      tone.frequency.value = frequency;
      gain.gain.setValueAtTime(0, from);
      gain.gain.linearRampToValueAtTime(0.5, from + 0.012);
      gain.gain.setValueAtTime(0.5, from + length - 0.03);
      gain.gain.linearRampToValueAtTime(0, from + length);
      tone.connect(gain).connect(this.audio.destination);
      tone.start(from);
      tone.stop(from + length + 0.02);
      return tone;
    });
  }

  /** Answer a touch that no eye can follow, `count` times over. In the dark ears and skin are all there is. */
  answer(kind, count) {
    this.answers.push({ kind, count });
    if (this.answers.length > 500) this.answers.splice(0, 100);
    if (this.by.sound && this.audio?.state === "running") {
      for (let i = 0; i < count; i += 1) this.#tones(ANSWERS[kind], i * BETWEEN_S);
    }
    if (this.by.vibration && touched()) {
      navigator.vibrate?.(Array.from({ length: count }, () => [...FELT[kind], 270]).flat().slice(0, -1));
    }
  }

  /**
   * Say it. Where speech was never chosen it speaks in the dark all the same, as nothing can be read there;
   * where it was turned off by hand it is silent. `wait`: after what is being said; `asked`: somebody wants it now.
   */
  speak(text, { dark = false, wait = false, asked = false } = {}) {
    const wanted = asked || this.by.speech || (dark && !this.silenced);
    if (!text || !wanted || !("speechSynthesis" in window)) return;
    if (!wait) speechSynthesis.cancel();
    // Marks are for the eye; fingers have the rubber bands.
    const said = text.replace(/[\u25A0-\u25FF\u2605\u271A],? ?/gu, "").trim();
    speechSynthesis.speak(Object.assign(new SpeechSynthesisUtterance(said), { lang: "en", rate: 1 }));
  }

  /** Let the person hear, feel and see what a cue is like. */
  sample() {
    this.unlock();
    const cue = { key: `sample-${performance.now()}`, kind: "agitate", text: "Turn it over 4 times." };
    const now = performance.now();
    this.tell(cue, now, now);
    this.fired.pop();
  }
}

/** A browser lets a page shake only after somebody touched it, and complains otherwise. */
const touched = () => navigator.userActivation?.hasBeenActive ?? true;

function flash() {
  const element = document.getElementById("flash");
  element.classList.remove("on");
  void element.offsetWidth;
  element.classList.add("on");
  setTimeout(() => element.classList.remove("on"), 950);
}
