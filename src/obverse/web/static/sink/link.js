// The link to the house: events wait on this device, under ids of their own, until the house has
// written them down; sent twice they still happened once.

import { get, newId, post } from "/static/house/house.js";

const RETRY_MS = 1000;

export class Link {
  /** `changed(look)` when the house tells where the run stands; `told(orders)`; `trouble(sentence or null)`. */
  constructor(run, { changed, told, trouble }) {
    this.base = `/api/sink/runs/${encodeURIComponent(run)}`;
    this.store = `obverse-sink-${run}`;
    this.changed = changed;
    this.told = told;
    this.trouble = trouble;
    this.queue = this.#restored();
    this.sending = false;
    this.stream = null;
    this.listen();
    if (this.queue.length) this.flush();
  }

  clock = async () => (await get(`${this.base}/clock`)).now_s;

  look = () => get(this.base);

  /** Keep an event here and send it. */
  send(event) {
    this.queue.push({ event_id: newId(), device: deviceName(), ...event });
    this.#keep();
    this.flush();
  }

  async flush() {
    if (this.sending) return;
    this.sending = true;
    while (this.queue.length) {
      const event = this.queue[0];
      try {
        const answer = await post(`${this.base}/events`, event);
        this.#sent(event);
        this.trouble(null);
        this.changed(answer.view, answer.seq);
        this.told(answer.orders);
      } catch (error) {
        if (error.status >= 400 && error.status < 500) {
          // The house has read it and will never take it; keeping it would hold up what follows.
          this.#sent(event);
          this.told([{ do: "refuse", text: error.message, level: "caution" }]);
          this.look().then((look) => this.changed(look, look.seq), () => {});
          continue;
        }
        const count = this.queue.length;
        const why = error.status >= 500 ? error.message : "The house does not answer.";
        this.trouble(`${why} The clock here goes on; ${count === 1 ? "one touch is" : `${count} touches are`} kept on this device and sent when it is back.`);
        await new Promise((resolve) => setTimeout(resolve, RETRY_MS));
      }
    }
    this.sending = false;
  }

  listen() {
    this.stream?.close();
    this.stream = new EventSource(`${this.base}/stream`);
    this.stream.onmessage = ({ data }) => {
      const look = JSON.parse(data);
      if (!this.queue.length) this.trouble(null);
      this.changed(look, look.seq);
    };
    this.stream.onerror = () => {
      if (!this.queue.length) this.trouble("The house does not answer. The clock here goes on.");
      if (this.stream.readyState === EventSource.CLOSED) setTimeout(() => this.listen(), 2 * RETRY_MS);
    };
  }

  #sent(event) {
    this.queue = this.queue.filter((other) => other.event_id !== event.event_id);
    this.#keep();
  }

  #keep() {
    try {
      localStorage.setItem(this.store, JSON.stringify(this.queue));
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
