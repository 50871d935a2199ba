// How numbers with their uncertainty, faults and cautions are told; used by the light table and the notebook.

import { icon } from "/static/house/house.js";

const element = (tag, props = {}, ...children) => {
  const made = Object.assign(document.createElement(tag), props);
  made.append(...children);
  return made;
};

const signed = (value, digits) => `${value < 0 ? "\u2212" : "+"}${Math.abs(value).toFixed(digits)}`;
const plain = (value, digits) => value.toFixed(digits).replace("-", "\u2212");

const TILES = [
  ["dmax", "Dmax", 2, "darkest, base included"],
  ["dmin", "Dmin", 2, "lightest, base included"],
  ["gradient", "Gradient", 2, "slope around the mid-tone"],
  ["highlight_density", "Highlights", 2, "above base, 0.80 over the mid-tone"],
  ["midtone_log_exposure", "Mid-tone", 2, "log exposure; 0 is as metered"],
  ["exposure_index", "Meter setting", 0, "puts the mid-tone as metered"],
  ["reversal_speed", "Speed", 0, "mid-curve rule; borrows ISO 2240, from memory"],
];

/** Fill a dl.tiles with the numbers of a curve. */
export function numberTiles(list, numbers) {
  list.replaceChildren(...TILES.filter(([key]) => numbers[key] !== undefined).map(([key, name, digits, note]) => {
    const value = numbers[key];
    const shown = value === null ? "\u2013" : key === "midtone_log_exposure" ? signed(value.value, digits) : plain(value.value, digits);
    const dd = element("dd", {}, element("span", { className: "tile-number", textContent: shown }));
    if (value !== null) dd.append(element("span", { className: "tile-sd", textContent: `${plain(value.low90, digits)} to ${plain(value.high90, digits)}` }));
    dd.append(element("span", { className: "tile-note", textContent: value === null ? "does not exist for this strip" : note }));
    return element("div", { className: "tile" }, element("dt", { textContent: name }), dd);
  }));
}

const WORDS = { note: "Note", caution: "Caution", danger: "Danger" };

/** A caution: icon and word, never colour alone. */
export function cautionLine(caution) {
  const text = element("p", {}, element("strong", { textContent: `${WORDS[caution.level]}. ` }), caution.text);
  const line = element("div", { className: `caution caution-${caution.level}` }, icon(caution.level), text);
  line.setAttribute("role", "note");
  return line;
}

/** A fault with its probability, evidence and cures, cheapest first. */
export function faultCard(fault) {
  const percent = Math.round(100 * fault.probability);
  const badge = fault.chance ?? `${percent} %`;  // a reading kept by an older version has none
  const bar = element("span", { className: "meter" }, element("span"));
  bar.firstChild.style.width = `${percent}%`;
  bar.setAttribute("aria-hidden", "true");
  const card = element("article", { className: "fault" },
    element("h3", {}, fault.name, element("span", { className: "badge", textContent: badge }), bar),
    element("p", { textContent: fault.evidence }));
  if (fault.against) card.append(element("p", { className: "small", textContent: fault.against }));
  if (fault.cures.length > 0) {
    card.append(element("p", { className: "small soft", textContent: "What to do, the cheapest first:" }),
      element("ol", {}, ...fault.cures.map((cure) => element("li", {}, cure.text, " ", element("span", { className: "standing", textContent: cure.standing })))));
  }
  return card;
}
