// What every page shares: asking the house, telling of failures, tone strips, the dim appearance.

const token = () => document.querySelector('meta[name="obverse-token"]')?.content ?? "";

/** A failure told by the house, in one sentence; `document` holds its problem details (RFC 9457). */
export class HouseError extends Error {
  constructor(document_, status) {
    const { detail: sentence, where } = document_;
    // A sentence that begins with a file or field name keeps it as it is written.
    super(where ? sentence : sentence[0].toUpperCase() + sentence.slice(1));
    this.document = document_;
    this.status = status;
  }
}

async function ask(url, options) {
  let response;
  try {
    response = await fetch(url, { credentials: "same-origin", ...options });
  } catch {
    throw new HouseError({ code: "unreachable", detail: "The house does not answer; start it again and repeat." }, 0);
  }
  const isJson = (response.headers.get("content-type") ?? "").includes("json");
  const body = isJson ? await response.json() : await response.text();
  if (!response.ok) {
    throw new HouseError(body?.detail ? body : { code: "error", detail: `The house answered ${response.status}.` }, response.status);
  }
  return body;
}

/** GET, JSON in return; `options` as fetch takes them (a signal). Throws HouseError. */
export function get(url, options = {}) {
  return ask(url, { headers: { Accept: "application/json" }, ...options });
}

/** 128 random bits in hex; randomUUID is not to be had over plain http. */
export function newId() {
  return Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) => byte.toString(16).padStart(2, "0")).join("");
}

// What was sent and has no answer yet, by what it is: its id, and the answer while it is awaited.
const unanswered = new Map();
// What each address answered last, and to what.
const answered = new Map();

/**
 * Send an entry once. Pressed twice, the same entry under way is one, and the second half of a double click is none
 * though the first was answered meanwhile; sent again after its answer was lost, it carries the id it had, and the
 * house answers as it did first.
 */
function once(what, url, options) {
  const before = answered.get(url);
  if (before?.what === what && window.event?.detail > 1) return Promise.resolve(before.answer);
  const entry = unanswered.get(what) ?? { id: newId(), answer: null };
  unanswered.set(what, entry);
  entry.answer ??= ask(url, { ...options, headers: { ...options.headers, "Idempotency-Key": entry.id } }).then(
    (answer) => {
      unanswered.delete(what);
      answered.set(url, { what, answer });
      return answer;
    },
    (error) => {
      entry.answer = null;
      // Below 500 the house has read it and said no; otherwise nobody knows whether it was kept.
      if (error.status >= 400 && error.status < 500) unanswered.delete(what);
      throw error;
    },
  );
  return entry.answer;
}

// Marks that turn the way of reading come along with what is pasted; nobody sees them, and the name stands there reversed.
const TURNING = /[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]/g;
document.addEventListener(
  "input",
  (event) => {
    const field = event.target;
    if (typeof field.value !== "string" || field.type === "file" || field.value.search(TURNING) < 0) return;
    field.value = field.value.replace(TURNING, "");
    toast("Marks that turn the way of reading were taken out of what you entered.");
  },
  true,
);

// A key that is held down presses a button once.
document.addEventListener("keydown", (event) => {
  if (event.repeat && event.key === "Enter" && event.target.closest?.("button")) event.preventDefault();
});

/** Send JSON with the token of the page; `method` is POST unless told, `options` as fetch takes them. Throws HouseError. */
export function post(url, body = {}, method = "POST", options = {}) {
  const text = JSON.stringify(body);
  return once(`${method} ${url} ${text}`, url, {
    ...options,
    method,
    headers: { Accept: "application/json", "Content-Type": "application/json", "X-Obverse-Token": token() },
    body: text,
  });
}

/** Send a FormData (files) with the token of the page. Throws HouseError. */
export function postForm(url, form) {
  const fields = [...form].map(([name, value]) => [name, value instanceof File ? [value.name, value.size, value.lastModified] : value]);
  return once(`${url} ${JSON.stringify(fields)}`, url, { method: "POST", headers: { Accept: "application/json", "X-Obverse-Token": token() }, body: form });
}

/** Show one sentence. `kind` is "error" or "done". */
export function toast(sentence, kind = "done") {
  const box = document.getElementById("toasts");
  const line = document.createElement("div");
  line.className = `toast toast-${kind}`;
  line.append(icon(kind === "error" ? "caution" : "done"), Object.assign(document.createElement("p"), { textContent: sentence }));
  const close = Object.assign(document.createElement("button"), { type: "button", textContent: "Close", className: "quiet" });
  close.addEventListener("click", () => line.remove());
  line.append(close);
  box.append(line);
  if (kind !== "error") setTimeout(() => line.remove(), 6000);
}

/** Show any error as one sentence. */
export function tell(error) {
  toast(error instanceof Error ? error.message : String(error), "error");
}

/** Run `work`; if it fails, tell. Returns what it returned, or undefined. */
export async function attempt(work) {
  try {
    return await work();
  } catch (error) {
    tell(error);
    return undefined;
  }
}

/** What another person made is changed only after one was asked; null where it was left as it is. */
export async function another(change) {
  try {
    return await change(false);
  } catch (error) {
    if (error.document?.code !== "unlikely" || error.document.where !== "people") throw error;
    const what = error.document.what;
    return window.confirm(`${what[0].toUpperCase()}${what.slice(1)}. Change it anyway? Your name is written beside it.`) ? change(true) : null;
  }
}

/** What a refusal says to whoever came too late: what was typed stands on the page, and `again` keeps it. */
export function tooLate(error, again = "press again") {
  return new Error(`${error.message.replace(/;[^;]*$/, ".")} What you typed is still here: look at it in another window, or ${again} to keep yours instead.`);
}

/** The units of whoever reads: `UnitsShown` of the page of units. */
export const units = JSON.parse(document.documentElement.dataset.units ?? '{"temperature":"c"}');
const F_PER_C = 1.8;
const F_AT_0_C = 32;
const ML_PER_L = 1000;

/** The sign of a degree. */
export const degreeSign = `\u00b0${units.temperature.toUpperCase()}`;

/** A temperature in C as it is read, a number. */
export const degreesOf = (celsius) => (units.temperature === "f" ? Math.round((celsius * F_PER_C + F_AT_0_C) * 1e3) / 1e3 : celsius);

/** A difference of temperatures, there and back. */
export const degreesApart = (celsius) => (units.temperature === "f" ? Math.round(celsius * F_PER_C * 1e6) / 1e6 : celsius);
export const celsiusApart = (degrees) => (units.temperature === "f" ? Math.round((degrees / F_PER_C) * 1e6) / 1e6 : degrees);

/** A temperature in C, in words: "68 °F". */
export const temperature = (celsius) => `${String(Math.round(degreesOf(celsius) * 10) / 10).replace("-", "\u2212")} ${degreeSign}`;

/** Digits with a decimal comma, or with the true minus sign, as `Number` reads them. */
export const withPoint = (text) => String(text).trim().replace(",", ".").replace("\u2212", "-");

/** A temperature as it is typed, in C: a bare number is in the units of the page, "68 F" and "20,5 °C" say theirs. NaN for anything else. */
export function celsiusOf(text) {
  const found = /^\s*([-\u2212]?\d+(?:[.,]\d*)?)\s*\u00b0?\s*([cf]?)\s*$/i.exec(text);
  if (!found) return Number.NaN;
  const value = Number(withPoint(found[1]));
  const celsius = (found[2].toLowerCase() || units.temperature) === "f" ? (value - F_AT_0_C) / F_PER_C : value;
  return Math.round(celsius * 1e6) / 1e6;
}

/** What an amount per litre comes to in the tank of whoever reads: "4 mL in my tank"; empty where none is named. */
export function inMyTank(mlPerL) {
  return units.tank_ml && Number.isFinite(mlPerL) ? `${Number(((mlPerL * units.tank_ml) / ML_PER_L).toPrecision(3))} mL in my tank` : "";
}

// By definition: NIST Handbook 44, Appendix C; Weights and Measures Act 1985, Schedule 1. As `UNITS` of the house.
const FL_OZ_ML = { us: 29.5735295625, imperial: 28.4130625 };
const FL_OZ_SIGN = { us: "US fl oz", imperial: "imperial fl oz" };

/** A volume as it is typed, in mL: "500", "0.5 L", "16 fl oz" in the ounces of the page. null for nothing, NaN for anything else. */
export function millilitresOf(text) {
  if (!text.trim()) return null;
  const found = /^\s*(\d+(?:[.,]\d*)?)\s*(ml|l|(?:(us|imperial)\s+)?fl\.?\s*oz\.?)?\s*$/i.exec(text);
  if (!found) return Number.NaN;
  const unit = (found[2] ?? "ml").toLowerCase();
  const ounces = found[3]?.toLowerCase() ?? (units.fluids === "imperial" ? "imperial" : "us");
  const size = unit === "ml" ? 1 : unit === "l" ? ML_PER_L : FL_OZ_ML[ounces];
  return Math.round(Number(withPoint(found[1])) * size * 1e6) / 1e6;
}

/** A volume in words: "500 mL", or "16.9 US fl oz (500 mL)". As `UnitsShown.volume` has it from half an ounce on. */
export function volume(ml) {
  const size = FL_OZ_ML[units.fluids];
  const plain = `${Number(ml.toPrecision(4))} mL`;
  return size ? `${Number((ml / size).toPrecision(3))} ${FL_OZ_SIGN[units.fluids]} (${plain})` : plain;
}

const INCH_M = 0.0254;
const FOOT_M = 12 * INCH_M;

/** A length in m as the units of the notebook have it: the number and its unit; feet, under a foot inches. As `UnitsShown.length`. */
export function lengthParts(metres) {
  if (units.lengths !== "imperial") return [metres, "m"];
  return metres >= FOOT_M ? [metres / FOOT_M, "ft"] : [metres / INCH_M, "in"];
}

/** The same as words; a dash where there is none. */
export function length(metres, digits = 2) {
  if (!Number.isFinite(metres)) return "\u2013";
  const [value, unit] = lengthParts(metres);
  return `${value.toFixed(digits)} ${unit}`;
}

/** An icon of the house as an SVG element. */
export function icon(name) {
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  svg.setAttribute("viewBox", "0 0 24 24");
  svg.setAttribute("aria-hidden", "true");
  const use = document.createElementNS("http://www.w3.org/2000/svg", "use");
  use.setAttribute("href", `/static/house/icons.svg#${name}`);
  svg.append(use);
  return svg;
}

/** Data that the page brought along in a JSON block of that id; null where there is none. */
export function island(id) {
  const element = document.getElementById(id);
  return element ? JSON.parse(element.textContent) : null;
}

/**
 * The grey of the screen that a density is seen as: transmittance 10^-D as linear light, encoded
 * by the sRGB curve (IEC 61966-2-1). Density 0 is the white of the screen.
 */
export function greyOfDensity(density) {
  const light = Math.min(1, Math.max(0, 10 ** -density));
  const encoded = light <= 0.0031308 ? 12.92 * light : 1.055 * light ** (1 / 2.4) - 0.055;
  return Math.round(255 * encoded);
}

/** Draw the tone strip of `densities` (an array) into `element`, one patch each, in their true greys. */
export function toneStrip(element, densities) {
  element.classList.add("tone-strip");
  element.replaceChildren(
    ...densities.map((density) => {
      const patch = document.createElement("span");
      const grey = greyOfDensity(density);
      patch.style.background = `rgb(${grey}, ${grey}, ${grey})`;
      patch.title = `density ${density.toFixed(2)}`;
      return patch;
    }),
  );
  if (!element.hasAttribute("role")) {
    element.setAttribute("role", "img");
    element.setAttribute("aria-label", `tone strip: ${densities.map((d) => d.toFixed(2)).join(", ")}`);
  }
}

/** Colours of the present appearance, for plots. */
export function plotColours() {
  const style = getComputedStyle(document.documentElement);
  const colour = (name) => style.getPropertyValue(`--${name}`).trim();
  return { paper: colour("paper"), card: colour("card"), ink: colour("ink"), soft: colour("ink-soft"), line: colour("line"), amber: colour("amber"), silver: colour("silver") };
}

function setDark(on) {
  document.documentElement.toggleAttribute("data-dark", on);
  document.querySelector('meta[name="theme-color"]')?.setAttribute("content", on ? "#000" : "#fdfbf5");
  const button = document.getElementById("appearance");
  button?.setAttribute("aria-pressed", String(on));
  try {
    localStorage.setItem("obverse-dark", on ? "yes" : "no");
  } catch {
    // Forbidden storage: the appearance lasts as long as the page.
  }
  document.dispatchEvent(new CustomEvent("obverse-appearance", { detail: { dark: on } }));
}

const appearance = document.getElementById("appearance");
appearance?.setAttribute("aria-pressed", String(document.documentElement.hasAttribute("data-dark")));
appearance?.addEventListener("click", () => setDark(!document.documentElement.hasAttribute("data-dark")));

for (const element of document.querySelectorAll(".tone-strip[data-densities]")) {
  toneStrip(element, JSON.parse(element.dataset.densities));
}

// A table that is wider than its box says so, to eyes and to screen readers, and can be moved by keys.
const goesOn = new ResizeObserver((seen) => {
  for (const box of new Set(seen.map(({ target }) => target.closest(".table-box")))) {
    if (!box) continue;
    const wide = box.scrollWidth > box.clientWidth + 1 && !box.hidden;
    const hint = box.previousElementSibling;
    const said = hint?.classList.contains("goes-on");
    if (wide && !said) {
      const words = document.createElement("p");
      words.className = "goes-on";
      words.id = `goes-on-${newId().slice(0, 8)}`;
      words.textContent = "This table goes on to the right: push it sideways.";
      box.before(words);
      box.tabIndex = 0;
      box.setAttribute("aria-describedby", words.id);
      if (!box.hasAttribute("role")) box.setAttribute("role", "group");
    } else if (!wide && said) {
      hint.remove();
      box.removeAttribute("aria-describedby");
    }
  }
});
for (const box of document.querySelectorAll(".table-box")) {
  goesOn.observe(box);
  if (box.firstElementChild) goesOn.observe(box.firstElementChild);
}

// A form that says so is sent only after the person was asked.
document.addEventListener("submit", (event) => {
  const question = event.target.dataset?.confirm;
  if (question && !window.confirm(question)) event.preventDefault();
});
