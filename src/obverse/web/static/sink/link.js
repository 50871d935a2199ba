// The link to the house: events wait on this device, under ids of their own, until the house has
// written them down; sent twice they still happened once. A watch notices a house that is silent,
// whatever the reason: stopped, out of reach, or a connection of which only one end is left.

import { get, newId, post } from "/static/house/house.js";

const RETRY_MS = 1000;
// The house gives a sign of life every second.
const SILENT_MS = 3000;
const LOUD_MS = 10_000;
const PATIENCE_MS = 4000;
const WATCH_MS = 500;
// By these the house has read an event and will never take it. Any other refusal (not let in, too often, somebody was
// there first) may pass, and a touch is kept until it does.
const NEVER_TAKEN = new Set([400, 404, 410, 413, 422]);

export class Link {
  /**
   * `changed(look, seq)` when the house tells where the run stands; `told(orders)`; `trouble(sentence or null, loud)`;
   * `kept(count)` of touches that only this device has.
   */
  constructor(run, { changed, told, trouble, kept }) {
    this.base = `/api/sink/runs/${encodeURIComponent(run)}`;
    this.store = `obverse-sink-${run}`;
    this.changed = changed;
    this.told = told;
    this.trouble = trouble;
    this.kept = kept;
    this.queue = this.#restored();
    this.gone = new Set();
    this.sending = false;
    this.stream = null;
    this.why = "";
    this.sign = performance.now();
    this.watched = performance.now();
    this.listening = performance.now();
    this.listen();
    if (this.queue.length) this.flush();
    this.kept(this.queue.length);
    setInterval(() => this.watch(), WATCH_MS);
  }

  clock = async () => (await this.#asked(get(`${this.base}/clock`, { signal: AbortSignal.timeout(PATIENCE_MS) }))).now_s;

  look = () => this.#asked(get(this.base, { signal: AbortSignal.timeout(PATIENCE_MS) }));

  async #asked(answer) {
    const found = await answer;
    this.alive();
    return found;
  }

  /** A sign of life. */
  alive() {
    this.sign = performance.now();
    this.why = "";
    if (!this.queue.length) this.trouble(null);
  }

  /** Keep an event here and send it; returns its id. */
  send(event) {
    const kept = { event_id: newId(), device: deviceName(), ...event };
    this.queue.push(kept);
    this.#keep();
    this.flush();
    return kept.event_id;
  }

  async flush() {
    if (this.sending) return;
    this.sending = true;
    while (this.queue.length) {
      const event = this.queue[0];
      try {
        const answer = await post(`${this.base}/events`, event, "POST", { signal: AbortSignal.timeout(PATIENCE_MS) });
        this.#sent(event);
        this.alive();
        this.changed(answer.view, answer.seq);
        this.told(answer.orders);
      } catch (error) {
        if (NEVER_TAKEN.has(error.status)) {
          // Keeping it would hold up what follows.
          this.#sent(event);
          this.alive();
          this.told([{ do: "refuse", text: error.message, level: "caution" }]);
          this.look().then((look) => this.changed(look, look.seq), () => {});
          continue;
        }
        if (error.status >= 400) this.why = error.message;
        this.#tell();
        await new Promise((resolve) => setTimeout(resolve, RETRY_MS));
      }
    }
    this.sending = false;
  }

  listen() {
    this.stream?.close();
    this.listening = performance.now();
    this.stream = new EventSource(`${this.base}/stream`);
    this.stream.onmessage = ({ data }) => {
      const look = JSON.parse(data);
      this.alive();
      this.changed(look, look.seq);
    };
    this.stream.addEventListener("trouble", ({ data }) => {
      this.sign = performance.now();
      this.why = JSON.parse(data).detail;
      this.#tell();
    });
  }

  /** Called twice a second: notices that nothing comes any more. */
  watch() {
    const now = performance.now();
    // This page itself stood still (a sleeping phone, a busy computer): the watch begins anew.
    if (now - this.watched > 4 * WATCH_MS) this.sign = this.listening = now;
    this.watched = now;
    const silent = now - this.sign;
    if (silent > SILENT_MS) this.#tell();
    // A connection may look open with nobody at its other end; a fresh one tells.
    if (silent > SILENT_MS && now - this.listening > 2 * SILENT_MS) this.listen();
    if (this.stream.readyState === EventSource.CLOSED && now - this.listening > RETRY_MS) this.listen();
  }

  #tell() {
    const silent = performance.now() - this.sign > SILENT_MS;
    if (!silent && !this.why && !this.queue.length) return;
    if (!silent && !this.why) return;
    const why = this.why || "No sign of the house.";
    this.trouble(`${why} The clock here goes on; touches are kept on this device and sent when it answers.`, performance.now() - this.sign > LOUD_MS);
  }

  #sent(event) {
    this.queue = this.queue.filter((other) => other.event_id !== event.event_id);
    this.gone.add(event.event_id);
    this.#keep();
  }

  #keep() {
    this.kept(this.queue.length);
    const here = new Set(this.queue.map((event) => event.event_id));
    // Another window of this device may have touches waiting under the same name.
    const others = this.#restored().filter((event) => !here.has(event.event_id) && !this.gone.has(event.event_id));
    try {
      localStorage.setItem(this.store, JSON.stringify([...others, ...this.queue]));
    } catch {
      // Forbidden storage: the queue lasts as long as the page.
    }
  }

  #restored() {
    try {
      return JSON.parse(localStorage.getItem(this.store) ?? "[]");
    } catch {
      return [];
    }
  }
}

function deviceName() {
  return matchMedia("(pointer: coarse)").matches ? "phone" : "computer";
}
