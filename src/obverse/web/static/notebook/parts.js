// Small parts of the notebook: a number with its interval against its window, elements, numbers in words.

import { withPoint } from "/static/house/house.js";

export const minus = (text) => String(text).replace("-", "\u2212");

/** A number for the eye: true minus sign, no negative zero, a plus where asked. */
export function shown(value, digits, plus = false) {
  const text = value.toFixed(digits);
  if (Number(text) === 0) return text.replace("-", "");
  return minus(`${plus && value > 0 ? "+" : ""}${text}`);
}

/** A probability for the eye; nothing that was learned from strips is ever certain. */
export function percent(p) {
  const whole = Math.round(100 * p);
  if (whole >= 100) return "over 99 %";
  return whole <= 0 ? "under 1 %" : `${whole} %`;
}

/** Make an element with properties and children. */
export function make(tag, props = {}, ...children) {
  const made = Object.assign(document.createElement(tag), props);
  made.append(...children);
  return made;
}

/** What a person wrote as a number; null for an empty field, NaN for something else. */
export function written(text) {
  const plain = withPoint(text);
  return plain === "" ? null : Number(plain);
}

const TRACKS = { dmax: [0, 3.2], highlight_density: [0, 0.8], gradient: [0, 3], midtone_log_exposure: [-0.9, 0.9] };

/** One observable: value, interval, and where it lies against its window. Never colour alone: a mark and a word. */
export function observable(key, seen) {
  const [from, to] = TRACKS[key];
  const at = (value) => (100 * Math.min(1, Math.max(0, (value - from) / (to - from)))).toFixed(2);
  const box = make("div", { className: "observable" });
  const { estimate, least, most, probability } = seen;
  const signed = key === "midtone_log_exposure";
  const show = (value) => shown(value, 2, signed);
  const mark = probability === null ? "" : probability >= 0.8 ? "\u2713" : probability <= 0.2 ? "\u2717" : percent(probability);
  const kind = probability === null ? "" : probability >= 0.8 ? "mark-good" : probability <= 0.2 ? "mark-off" : "";
  box.append(make("span", { title: seen.meaning, textContent: `${seen.name} ` }, make("span", { className: kind, textContent: mark })),
    make("span", { className: "value", textContent: estimate === null ? "none" : `${show(estimate.value)}  (${show(estimate.low90)} to ${show(estimate.high90)})` }));
  const low = least ?? from;
  const high = most ?? to;
  const bounds = least === null && most === null ? "" : `<rect x="${at(low)}%" width="${(at(high) - at(low)).toFixed(2)}%" y="2" height="14" fill="var(--good-wash)" stroke="var(--good)" stroke-dasharray="3 2"/>`;
  const interval = estimate === null ? "" : `<line x1="${at(estimate.low90)}%" x2="${at(estimate.high90)}%" y1="9" y2="9" stroke="var(--amber)" stroke-width="5" stroke-linecap="round" stroke-opacity="0.55"/><circle cx="${at(estimate.value)}%" cy="9" r="5" fill="var(--amber-strong)"/>`;
  box.insertAdjacentHTML("beforeend", `<svg aria-hidden="true"><line x1="0" x2="100%" y1="9" y2="9" stroke="var(--line)"/>${bounds}${interval}</svg>`);
  return box;
}

/** A control chart of one quantity as SVG text: points, mean, limits for the next strip, levels, signals with their words. */
export function chartOf(chart) {
  const [w, h, left, bottom, top] = [640, 220, 46, 34, 12];
  const low = Math.min(chart.lower, ...chart.values) - 0.02;
  const high = Math.max(chart.upper, ...chart.values) + 0.02;
  const x = (i) => left + 14 + (i * (w - left - 30)) / Math.max(1, chart.values.length - 1);
  const y = (v) => top + ((high - v) / (high - low)) * (h - top - bottom);
  const rule = (v, dash, name) => `<line x1="${left}" x2="${w}" y1="${y(v)}" y2="${y(v)}" stroke="var(--line-strong)" stroke-dasharray="${dash}"/><text x="${left - 5}" y="${y(v) + 4}" text-anchor="end" font-size="11" fill="var(--ink-soft)">${minus(v.toFixed(2))}</text><title>${name}</title>`;
  const flagged = new Set(chart.signals.map((signal) => signal.index));
  const line = (values) => values.map((v, i) => `${i ? "L" : "M"}${x(i)} ${y(v)}`).join("");
  const points = chart.values.map((v, i) => (flagged.has(i) ? `<path d="M${x(i) - 6} ${y(v) - 6}l12 12m0 -12l-12 12" stroke="var(--danger)" stroke-width="3"/>` : `<circle cx="${x(i)}" cy="${y(v)}" r="4.5" fill="var(--ink)"/>`)).join("");
  const labels = chart.dates.map((date, i) => (i % Math.ceil(chart.dates.length / 6) === 0 ? `<text x="${x(i)}" y="${h - 8}" text-anchor="middle" font-size="11" fill="var(--ink-soft)">${date.slice(2)}</text>` : "")).join("");
  const figure = make("figure", { className: "chart" });
  figure.insertAdjacentHTML("beforeend", `<svg class="chart-svg" viewBox="0 0 ${w} ${h}" role="img"><title></title>${rule(chart.lower, "5 4", "lower limit")}${rule(chart.upper, "5 4", "upper limit")}${rule(chart.mean, "0", "mean")}<path d="${line(chart.levels)}" fill="none" stroke="var(--amber)" stroke-width="2"/><path d="${line(chart.values)}" fill="none" stroke="var(--silver)"/>${points}${labels}</svg>`);
  figure.querySelector("title").textContent = chart.verdict;
  figure.prepend(make("figcaption", {}, make("strong", { textContent: chart.title }), make("br"), chart.verdict));
  return figure;
}
