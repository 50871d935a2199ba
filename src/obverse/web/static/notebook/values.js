// The values of a film's figure as tables: the strips against the aim, their patches, their curves.

import { make, minus, percent, shown } from "/static/notebook/parts.js";

const STOP = Math.log10(2);
const STOPS = Array.from({ length: 15 }, (_, i) => i - 7);
const SEEN = ["dmax", "highlight_density", "gradient", "midtone_log_exposure"];

const signed = (value) => shown(value, 2, true);

function table(caption, heads, rows) {
  const head = make("tr", {}, ...heads.map((text) => make("th", { scope: "col", textContent: text })));
  const body = rows.map(([name, ...cells]) => make("tr", {}, make("th", { scope: "row", textContent: name }), ...cells.map((text) => make("td", { textContent: text }))));
  return make("table", {}, make("caption", { textContent: caption }), make("thead", {}, head), make("tbody", {}, ...body));
}

/** The density of a curve at a log exposure, linear between its points; null beyond its ends. */
export function densityAt({ log_exposure: xs, density }, at) {
  const i = xs.findIndex((x) => x >= at - 1e-9);
  if (i < 0 || (i === 0 && xs[0] > at + 1e-9)) return null;
  if (i === 0) return density[0];
  const share = (at - xs[i - 1]) / (xs[i] - xs[i - 1]);
  return density[i - 1] + share * (density[i] - density[i - 1]);
}

const bounds = ({ least, most }) =>
  [least === null ? "" : `at least ${minus(least.toFixed(2))}`, most === null ? "" : `at most ${minus(most.toFixed(2))}`].filter(Boolean).join(", ") || "no bound";

function seenOf(seen) {
  return SEEN.map((key) => {
    const { estimate } = seen[key];
    const show = key === "midtone_log_exposure" ? signed : (value) => shown(value, 2);
    return estimate === null ? "none" : `${show(estimate.value)} (${show(estimate.low90)} to ${show(estimate.high90)})`;
  });
}

/** Densities in words by the exposure they belong to; several readings at one exposure stand beside each other. */
function byExposure(exposures, densities) {
  const found = new Map();
  exposures.forEach((x, i) => {
    const key = x.toFixed(2);
    found.set(key, [...(found.get(key) ?? []), shown(densities[i], 2)]);
  });
  return found;
}

const capital = (word) => word[0].toUpperCase() + word.slice(1);

/** Three tables of what the figure shows; `what` is the strip one is thinking of, called `thought`, or null. */
export function tablesOf({ trials, base }, what, thought) {
  const numbered = trials.map((trial, i) => [`${i + 1}. ${trial.name}`, trial]);
  const facts = (name, one, known) => [name, one.controls_text, known, percent(one.probability_in_aim), ...seenOf(one.seen)];
  const known = (trial) => (trial.patches.length ? "read" : trial.grades.length ? "by eye" : "not read yet");
  const seen = (what ?? trials[0])?.seen;
  const strips = table(
    "The strips: value, with its 90 % interval, as the page counts it for the aim",
    ["Strip", "Recipe", "Known", "Chance in the aim", ...SEEN.map((key) => seen?.[key].name ?? key)],
    [...(seen ? [["The aim", "", "", "", ...SEEN.map((key) => bounds(seen[key]))]] : []), ...numbered.map(([name, trial]) => facts(name, trial, known(trial))), ...(what ? [facts(capital(thought), what, "predicted")] : [])],
  );
  const read = (trial) => byExposure(trial.patches.map((patch) => patch.log_exposure), trial.patches.map((patch) => patch.density - base));
  const predicted = (strip) => byExposure(strip.log_exposure, strip.density);
  const laid = [...numbered.map(([name, trial]) => (trial.patches.length ? [name, read(trial)] : [`${name}, predicted`, predicted(trial.strip)])), ...(what ? [[`${capital(thought)}, predicted`, predicted(what.strip)]] : [])];
  const exposures = [...new Set(laid.flatMap(([, patches]) => [...patches.keys()]))].sort((a, b) => a - b);
  const patches = table("The patches: density above base, by log exposure", ["Strip", ...exposures.map((x) => signed(Number(x)))], laid.map(([name, of]) => [name, ...exposures.map((x) => of.get(x)?.join("; ") ?? "\u2013")]));
  const at = (curve, key) => STOPS.map((stops) => {
    const value = densityAt({ log_exposure: curve.log_exposure, density: curve[key] }, stops * STOP);
    return value === null ? "\u2013" : shown(value, 2);
  });
  const band = (curve) => {
    const [low, high] = [at(curve, "low90"), at(curve, "high90")];
    return at(curve, "density").map((value, i) => (value === "\u2013" ? value : `${value} (${low[i]} to ${high[i]})`));
  };
  const curves = table(
    "The curves: density with base, by stops from the metered mid-tone",
    ["Strip", ...STOPS.map((stops) => minus(stops > 0 ? `+${stops}` : stops))],
    [...numbered.map(([name, trial]) => [trial.curve_is === "predicted" ? `${name}, predicted` : name, ...at(trial.curve, "density")]), ...(what ? [[`${capital(thought)}, predicted`, ...band(what.curve)]] : [])],
  );
  return [strips, patches, curves];
}
