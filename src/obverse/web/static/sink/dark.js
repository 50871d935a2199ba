// In the dark: the screen is black, every held touch is answered by tones, by a shake and by speech,
// and light comes by another gesture only, and only when the plan says that every lid is locked.

const HOLD_MS = 1500;
const TAP_MS = 450;
const TAPS = 3;
const TAPS_WITHIN_MS = 2500;
export const HOLD_KEYS = new Set(["Enter", " ", "PageDown"]);

export class Dark {
  /** `held()` where a held touch counts, `lit()` where the light may come back. */
  constructor(veil, cues, { held, lit }) {
    this.veil = veil;
    this.cues = cues;
    this.held = held;
    this.lit = lit;
    this.action = null;
    this.since = null;
    this.timer = null;
    this.taps = [];
    document.body.append(veil);
    veil.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      this.down();
    });
    for (const kind of ["pointerup", "pointercancel", "pointerleave"]) veil.addEventListener(kind, () => this.up());
    document.addEventListener("keyup", () => this.up());
  }

  get on() {
    return this.action !== null;
  }

  /** Black for that action of the dark; null: the film is shut away. Answers what was done before it. */
  show(action) {
    const before = this.action;
    if (before?.key === action?.key) return;
    this.action = action;
    if (before) this.#answer(before, action);
    document.documentElement.toggleAttribute("data-black", this.on);
    this.veil.hidden = !this.on;
    // Nothing behind the black may be reached: a key on a hidden link would light another page.
    for (const child of document.body.children) if (child !== this.veil && child.tagName !== "SCRIPT") child.inert = this.on;
    if (!action) return;
    this.veil.setAttribute("aria-label", `The screen is black for the film. ${action.do}`);
    this.veil.focus();
    if (!before) this.cues.speak(action.do, { dark: true, wait: true });
  }

  /** What was done is counted off by tones, on every device; then what comes is said. */
  #answer(done, next) {
    const count = done.kind === "load" ? done.vessels[0]?.reel ?? 1 : done.kind === "join" ? done.vessels.length : 1;
    const kind = { lights_out: "dark", load: "loaded", join: "loaded", light_on: "light" }[done.kind];
    this.cues.answer(kind, count);
    const said = { lights_out: "It is dark.", load: `${done.strips.join(" and ")} is in its tank.`, join: "They are in one tank.", light_on: "Light." }[done.kind];
    this.cues.speak(`${said} ${next ? next.do : ""}`, { dark: true });
  }

  key(event) {
    if (!HOLD_KEYS.has(event.key)) return;
    event.preventDefault();
    if (!event.repeat) this.down();
  }

  down() {
    this.cues.unlock();
    if (this.since !== null) return;
    this.since = performance.now();
    this.cues.answer("felt", 1);
    this.timer = setTimeout(() => {
      this.taps = [];
      if (this.action?.kind === "light_on") this.#no("Not lit. Three short taps when every lid is locked.");
      else this.held();
    }, HOLD_MS);
  }

  up() {
    if (this.since === null) return;
    const now = performance.now();
    const short = now - this.since < TAP_MS;
    clearTimeout(this.timer);
    this.since = null;
    if (!short || !this.on) return;
    this.taps = [...this.taps.filter((at) => now - at < TAPS_WITHIN_MS), now];
    if (this.taps.length < TAPS) return;
    this.taps = [];
    if (this.action.kind === "light_on") this.lit();
    else this.#no("No light yet: film may be bare.");
  }

  #no(words) {
    this.cues.answer("no", 1);
    this.cues.speak(words, { dark: true });
  }
}
