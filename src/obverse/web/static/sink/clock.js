// The clock of a run on this device. It is set by the house and then goes on by itself, through a
// dead server, a sleeping phone and a frozen page.
//
// The run's time is  base + (performance.now() - mark) * speed.  performance.now() never goes back
// and does not follow the date of the device. It may stand while the device sleeps; then the date has
// gone on and the two disagree, which is how a sleep is seen.

const SLEPT_MS = 400;

export class RunClock {
  /** `ask` gives the house's instant in seconds (a promise). */
  constructor(ask, speed = 1) {
    this.ask = ask;
    this.speed = speed;
    this.mark = performance.now();
    this.base = 0;
    this.best = Infinity;
    this.set = false;
    this.sure = false;
    this.lastDate = Date.now();
    this.lastSteady = performance.now();
    this.asking = null;
  }

  /** Take an instant of the house that was true when performance.now() was `at`. */
  take(instant, at = performance.now()) {
    this.base = instant;
    this.mark = at;
    this.set = true;
  }

  /** From this moment on go `speed` times as fast. */
  pace(speed) {
    if (speed === this.speed) return;
    const at = performance.now();
    this.base += ((at - this.mark) / 1000) * this.speed;
    this.mark = at;
    this.speed = speed;
  }

  /** The present instant of the run, seconds. */
  now() {
    return this.base + ((performance.now() - this.mark) / 1000) * this.speed;
  }

  /** When an instant of the run comes, in milliseconds of performance.now(). */
  steadyOf(instant) {
    return this.mark + ((instant - this.base) * 1000) / this.speed;
  }

  /** Ask the house a few times and believe the quickest answer. Resolves false where it does not answer. */
  sync(times = 5) {
    this.asking ??= this.#sync(times).finally(() => (this.asking = null));
    return this.asking;
  }

  async #sync(times) {
    let best = null;
    for (let i = 0; i < times; i += 1) {
      const sent = performance.now();
      try {
        const instant = await this.ask();
        const trip = performance.now() - sent;
        if (best === null || trip < best.trip) best = { trip, instant, at: sent + trip / 2 };
      } catch {
        break;
      }
    }
    if (best === null) return false;
    // A slow answer tells little; it counts only where nothing better is known.
    if (!this.sure || best.trip <= 2 * this.best + 5) this.take(best.instant, best.at);
    this.best = this.sure ? Math.min(best.trip, this.best * 1.5) : best.trip;
    this.sure = true;
    return true;
  }

  /** To be called often. True where the device slept: then the clock is not sure until the next sync. */
  check() {
    const before = performance.now();
    const date = Date.now();
    const steady = performance.now();
    // A busy computer may stop us between the two readings; such a pair tells nothing.
    if (steady - before > SLEPT_MS / 8) return false;
    const gap = date - this.lastDate - (steady - this.lastSteady);
    this.lastDate = date;
    this.lastSteady = steady;
    if (Math.abs(gap) < SLEPT_MS) return false;
    // The date went on while the steady clock stood: a sleep. (Backwards: somebody set the date; ignore.)
    if (gap > 0) this.base += (gap / 1000) * this.speed;
    this.sure = false;
    return true;
  }
}
