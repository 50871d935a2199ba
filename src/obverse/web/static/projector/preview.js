// A photograph as codes of log luminance, painted through a table of greys. No page, no network:
// what stands here is arithmetic on arrays and can be timed by itself.

export const CODES = 4096;
const NOISE_SIDE = 256;

/** Codes, size and head of what the house sends: "OBVL", length of the JSON head, head, 16-bit codes. */
export function unpack(buffer) {
  const view = new DataView(buffer);
  if (view.getUint32(0, false) !== 0x4f42564c) throw new Error("The house sent no photograph.");
  const length = view.getUint32(4, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 8, length)));
  return { ...head, codes: new Uint16Array(buffer, 8 + length, head.width * head.height) };
}

/** Bytes of base64 text. */
export function bytes(text) {
  const raw = atob(text);
  const out = new Uint8Array(raw.length);
  for (let i = 0; i < raw.length; i++) out[i] = raw.charCodeAt(i);
  return out;
}

/** Opaque pixels (one 32-bit word each) of greys. */
export function words(greys) {
  const out = new Uint32Array(greys.length);
  for (let i = 0; i < greys.length; i++) out[i] = (0xff000000 | (greys[i] * 0x010101)) >>> 0;
  return out;
}

let noise = null;

/** A tile of normal noise, spread 32, the same every time. */
function noiseTile() {
  if (noise) return noise;
  noise = new Int8Array(NOISE_SIDE * NOISE_SIDE);
  let state = 0x9e3779b9;
  const next = () => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return ((state >>> 0) + 0.5) / 4294967296;
  };
  for (let i = 0; i < noise.length; i++) {
    const value = 32 * Math.sqrt(-2 * Math.log(next())) * Math.cos(2 * Math.PI * next());
    noise[i] = Math.max(-127, Math.min(127, Math.round(value)));
  }
  return noise;
}

/**
 * Which ring of light each pixel lies in, the middle first: rings of equal squared distance, the last at the corners of the window.
 * @param {number} width
 * @param {number} height
 * @param {number} aspect of the window, width over height; a mount is turned to its picture
 * @param {number} count of rings
 * @returns {Uint8Array} one a pixel
 */
export function ringsOf(width, height, aspect, count) {
  const picture = width / height;
  const window = picture < 1 === aspect < 1 ? aspect : 1 / aspect;
  // The photograph as large as the window holds it; the half diagonal of the window is 1.
  const scale = Math.min(window / picture, 1);
  const half = (2 * scale * picture) / Math.hypot(window, 1) / width;
  const out = new Uint8Array(width * height);
  for (let y = 0, i = 0; y < height; y++) {
    const down = (y + 0.5 - height / 2) * half;
    for (let x = 0; x < width; x++, i++) {
      const across = (x + 0.5 - width / 2) * half;
      out[i] = Math.min(count - 1, Math.floor(count * (across * across + down * down)));
    }
  }
  return out;
}

/**
 * Paint codes into pixels.
 * @param {Uint32Array} out one word a pixel
 * @param {Uint16Array} codes
 * @param {number} width
 * @param {{words: Uint32Array, greys: Uint8Array, runTogether: Uint8Array, grain: Uint8Array}} tables by code; ring after ring where the light falls off
 * @param {{marks?: boolean, grain?: boolean, stripe?: number, rings?: Uint8Array | null}} how
 */
export function paint(out, codes, width, tables, how = {}) {
  const table = tables.words;
  const rings = how.rings ?? null;
  if (how.grain) paintGrain(out, codes, width, tables, rings);
  else if (rings) for (let i = 0, n = codes.length; i < n; i++) out[i] = table[rings[i] * CODES + codes[i]];
  else for (let i = 0, n = codes.length; i < n; i++) out[i] = table[codes[i]];
  if (how.marks) paintMarks(out, codes, width, tables.runTogether, how.stripe ?? 6, rings);
}

function paintGrain(out, codes, width, { greys, grain }, rings) {
  const tile = noiseTile();
  const height = codes.length / width;
  for (let y = 0, i = 0; y < height; y++) {
    const row = (y % NOISE_SIDE) * NOISE_SIDE;
    for (let x = 0; x < width; x++, i++) {
      const code = codes[i];
      let grey = greys[rings ? rings[i] * CODES + code : code] + ((tile[row + (x & (NOISE_SIDE - 1))] * grain[code]) >> 7);
      grey = grey < 0 ? 0 : grey > 255 ? 255 : grey;
      out[i] = (0xff000000 | (grey * 0x010101)) >>> 0;
    }
  }
}

// Rising stripes, black, where highlights run together; falling stripes, light, where blacks do.
function paintMarks(out, codes, width, runTogether, stripe, rings) {
  const height = codes.length / width;
  const period = 2 * stripe;
  const thin = Math.max(1, stripe >> 1);
  for (let y = 0, i = 0; y < height; y++) {
    for (let x = 0; x < width; x++, i++) {
      const mark = runTogether[rings ? rings[i] * CODES + codes[i] : codes[i]];
      if (mark === 1 && (x + y) % period < thin) out[i] = 0xff101010;
      else if (mark === 2 && (x - y + height * period) % period < thin) out[i] = 0xffb0b0b0;
    }
  }
}

/** Code of the mean luminance in a square around a place. */
export function codeAt({ codes, width, height }, x, y, reach, step) {
  let total = 0;
  let cells = 0;
  for (let j = Math.max(0, y - reach); j <= Math.min(height - 1, y + reach); j++) {
    for (let i = Math.max(0, x - reach); i <= Math.min(width - 1, x + reach); i++) {
      total += 10 ** ((codes[j * width + i] - (CODES - 1)) * step);
      cells++;
    }
  }
  return Math.max(0, CODES - 1 + Math.log10(total / cells) / step);
}

/** How many pixels have each code. */
export function count(codes) {
  const counts = new Uint32Array(CODES);
  for (let i = 0; i < codes.length; i++) counts[codes[i]]++;
  return counts;
}

/** Share of pixels whose tones run together: {clipped, blocked}, 0 to 1, by the table for the mean light; `counts` by `count`. */
export function shares(counts, runTogether) {
  const sums = [0, 0, 0];
  for (let code = 0; code < CODES; code++) sums[runTogether[code]] += counts[code];
  const all = sums[0] + sums[1] + sums[2];
  return { clipped: sums[1] / all, blocked: sums[2] / all };
}

/** The canvas of one slide. */
export class SlideCanvas {
  constructor(canvas) {
    this.canvas = canvas;
    this.context = canvas.getContext("2d", { alpha: false });
    this.photograph = null;
    this.answered = null;
    this.tables = null;
    this.light = null;
    this.rings = null;
  }

  /** Put another photograph before it. */
  load(photograph) {
    this.photograph = photograph;
    this.canvas.width = photograph.width;
    this.canvas.height = photograph.height;
    this.canvas.parentElement.style.setProperty("--aspect", photograph.width / photograph.height);
    this.image = this.context.createImageData(photograph.width, photograph.height);
    this.pixels = new Uint32Array(this.image.data.buffer);
    this.placeRings();
  }

  /** Another slide: `grey`, `run_together`, `grain` as base64 from the house, and `rings` where the lamp's light is known to fall off; `aspect` of the window. */
  slide({ grey, run_together, grain, rings }, aspect = 1.5) {
    const greys = bytes(rings?.grey ?? grey);
    const together = bytes(run_together);
    this.answered = { greys, words: words(greys), runTogether: rings ? bytes(rings.run_together) : together, together, grain: bytes(grain) };
    this.tables = this.answered;
    this.light = rings?.ring_light ?? null;
    this.aspect = aspect;
    this.placeRings();
  }

  /** Which ring each pixel of this photograph lies in; none where the fall-off is not known. */
  placeRings() {
    if (!this.light || !this.photograph) {
      this.rings = null;
      return;
    }
    const { width, height } = this.photograph;
    const key = [width, height, this.aspect, this.light.length].join();
    if (this.rings && key === this.ringsKey) return;
    this.rings = ringsOf(width, height, this.aspect, this.light.length);
    this.ringsKey = key;
  }

  /** Light of the open gate at a pixel, over its mean over the picture. */
  lightAt(pixel) {
    return this.rings ? this.light[this.rings[pixel]] : 1;
  }

  /**
   * Run ahead of the house: the same slide with so many codes more light. Exact where the tables reach;
   * past their ends the last grey stands in until the house has answered.
   */
  ahead(codes) {
    const { greys, words: pixels, runTogether, together, grain } = this.answered;
    const shifted = (table) => table.map((_, i) => table[i - (i % CODES) + Math.min(CODES - 1, Math.max(0, (i % CODES) + codes))]);
    this.tables = { greys: shifted(greys), words: shifted(pixels), runTogether: shifted(runTogether), together: shifted(together), grain: shifted(grain) };
  }

  /** Paint; returns milliseconds. */
  draw(how) {
    if (!this.photograph || !this.tables) return 0;
    const start = performance.now();
    // Stripes keep their width on the screen, whatever the picture is scaled to.
    const scale = this.canvas.width / Math.max(1, this.canvas.clientWidth);
    paint(this.pixels, this.photograph.codes, this.photograph.width, this.tables, { ...how, rings: this.rings, stripe: Math.max(2, Math.round(4 * scale)) });
    this.context.putImageData(this.image, 0, 0);
    return performance.now() - start;
  }
}
