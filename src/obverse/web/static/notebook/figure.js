// The figure of a film: its strips stacked over one exposure axis, its curves below, the aim drawn on them.
// One SVG, so that what is seen is what is saved.

import { greyOfDensity, plotColours } from "/static/house/house.js";
import { minus, percent } from "/static/notebook/parts.js";

const NS = "http://www.w3.org/2000/svg";
const STOP = Math.log10(2);
const X = [-2.2, 2.2];
const HIGHLIGHT = 0.8;
const REACH = 0.32; // of the rays that show the gradient window
const AIM_LIMITS = { dmax_min: [0.1, 4], highlight_density_max: [0.02, 1.5], gradient_min: [0, 5], gradient_max: [0, 5], midtone_log_exposure_min: [-1.5, 1.5], midtone_log_exposure_max: [-1.5, 1.5] };
const AIM_NAMES = { dmax_min: "blacks at least, density above base", highlight_density_max: "highlights at most, density above base", gradient_min: "gradient from", gradient_max: "gradient to", midtone_log_exposure_min: "mid-tone from, log exposure", midtone_log_exposure_max: "mid-tone to, log exposure" };

function h(tag, attributes = {}, ...children) {
  const made = document.createElementNS(NS, tag);
  for (const [name, value] of Object.entries(attributes)) if (value !== null && value !== undefined) made.setAttribute(name, value);
  made.append(...children);
  return made;
}

const meet = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;

const grey = (density) => {
  const g = greyOfDensity(density);
  return `rgb(${g},${g},${g})`;
};

/** Edges of patches: half-way to the neighbours. */
function edges(exposures) {
  const n = exposures.length;
  if (n === 1) return [exposures[0] - 0.15, exposures[0] + 0.15];
  const inner = exposures.slice(1).map((x, i) => (x + exposures[i]) / 2);
  return [exposures[0] - (inner[0] - exposures[0]), ...inner, exposures[n - 1] + (exposures[n - 1] - inner[n - 2])];
}

// A recipe of more letters than this is told in its short words.
const LONG_RECIPE = 75;
// What one is thinking of has its recipe on a line of its own where the page is narrow.
const SECOND_LINE = 16;
// Breadth and height that a word of the figure needs, a little more than it takes.
const LETTER = 6.8;
const WORD_HEIGHT = 15;
const HANDLE = 9;
// So many strips stand in the figure; of more, the first, the best and the newest.
const MOST_ROWS = 8;

function rowsOf({ trials, best }, all) {
  const every = trials.map((_, i) => i);
  if (all || every.length <= MOST_ROWS) return every;
  const kept = new Set([0, Math.max(0, trials.findIndex((trial) => trial.id === best))]);
  for (let i = every.length - 1; kept.size < MOST_ROWS; i -= 1) kept.add(i);
  return every.filter((i) => kept.has(i));
}

export class Figure {
  /** `onAim(aim, done)` hears of every change of the aim by hand; `onTrial(index)` of a strip that was chosen. */
  constructor(holder, { onAim, onTrial }) {
    this.holder = holder;
    this.onAim = onAim;
    this.onTrial = onTrial;
    this.state = null;
    this.what = null;
    this.width = 0;
    this.all = false;
    new ResizeObserver(() => {
      if (this.state && Math.abs(holder.clientWidth - this.width) > 2) this.render(this.state);
    }).observe(holder);
    document.addEventListener("obverse-appearance", () => this.state && this.render(this.state));
  }

  render(state) {
    this.state = state;
    const { trials, base } = state;
    this.rows = rowsOf(state, this.all);
    const width = (this.width = Math.max(300, this.holder.clientWidth));
    const phone = width < 560;
    this.phone = phone;
    const style = getComputedStyle(document.documentElement);
    const colour = (name) => style.getPropertyValue(`--${name}`).trim();
    this.c = { ...plotColours(), good: colour("good"), goodWash: colour("good-wash"), strong: colour("line-strong") };
    this.left = phone ? 34 : 46;
    this.right = phone ? 8 : 14;
    this.rowHeight = phone ? 27 : 38;
    const rowStep = this.rowHeight + (phone ? 21 : 22);
    const rowsTop = 4;
    this.whatTop = rowsTop + this.rows.length * rowStep;
    const rowsEnd = this.whatTop + rowStep + 12 + (phone ? SECOND_LINE : 0);
    this.plotTop = rowsEnd + 26;
    const plotHeight = phone ? 270 : 380;
    const height = this.plotTop + plotHeight + 46;
    this.plotBottom = this.plotTop + plotHeight;
    const top = Math.max(2.6, ...trials.flatMap((t) => t.curve?.density ?? []), base + (state.aim.dmax_min ?? 0) + 0.35) + 0.1;
    this.x = (value) => this.left + ((value - X[0]) / (X[1] - X[0])) * (width - this.left - this.right);
    this.y = (value) => this.plotBottom - (value / top) * plotHeight;
    this.unx = (pixel) => X[0] + ((pixel - this.left) / (width - this.left - this.right)) * (X[1] - X[0]);
    this.uny = (pixel) => ((this.plotBottom - pixel) / plotHeight) * top;

    const svg = h("svg", { xmlns: NS, width, height, viewBox: `0 0 ${width} ${height}`, role: "group", "aria-label": "tone strips and characteristic curves of this film; their values stand as tables below it", "font-family": getComputedStyle(document.body).fontFamily, "font-size": phone ? 12 : 13, fill: this.c.ink });
    svg.append(h("defs", {}, h("clipPath", { id: "plot-area" }, h("rect", { x: this.left, y: this.plotTop - 4, width: width - this.left - this.right, height: plotHeight + 4 })), h("clipPath", { id: "strip-area" }, h("rect", { x: this.left, y: 0, width: width - this.left - this.right, height }))));
    svg.append(this.drawAxes(top));
    this.layers = {};
    for (const name of ["aim", "curves", "what", "words", "rows", "whatRow", "handles"]) svg.append((this.layers[name] = h("g")));
    this.rows.forEach((index, i) => this.layers.rows.append(this.drawRow(trials[index], index, rowsTop + i * rowStep)));
    this.drawAim();
    this.drawCurves();
    this.holder.replaceChildren(svg);
    this.svg = svg;
    this.shorten();
    if (this.what) this.showWhatIf(this.what, this.whatName);
  }

  /** A recipe that runs into its verdict loses its last parts; all of it stands in the table below. */
  shorten() {
    for (const row of this.layers.rows.querySelectorAll(".strip-row")) {
      const [recipe, verdict] = row.querySelectorAll("text");
      const words = recipe.lastChild;
      const parts = words.textContent.split(" · ");
      const room = verdict.textContent ? verdict.getBBox().x - 6 : this.width - this.right;
      while (parts.length > 1 && recipe.getBBox().x + recipe.getBBox().width > room) {
        parts.pop();
        words.textContent = `${parts.join(" · ")} …`;
      }
    }
  }

  /** Show every strip, or the most telling ones. */
  showAll(all) {
    this.all = all;
    this.render(this.state);
  }

  /** Strips that do not stand in the figure. */
  get hiddenCount() {
    return this.state.trials.length - this.rows.length;
  }

  drawAxes(top) {
    const { c } = this;
    const g = h("g", { "aria-hidden": "true" });
    for (let stops = -7; stops <= 7; stops += 1) {
      const x = this.x(stops * STOP);
      if (x < this.left - 1 || x > this.width - this.right + 1) continue;
      g.append(h("line", { x1: x, x2: x, y1: this.plotTop, y2: this.plotBottom, stroke: c.line, "stroke-width": stops === 0 ? 1.4 : 0.7 }));
      if (!this.phone || stops % 2 === 0) g.append(h("text", { x, y: this.plotTop - 8, "text-anchor": "middle", fill: c.soft, "font-size": 12 }, minus(stops > 0 ? `+${stops}` : stops)));
    }
    g.append(h("text", { x: this.left - 6, y: this.plotTop - 8, "text-anchor": "end", fill: c.soft, "font-size": 11 }, this.phone ? "" : "stops"));
    for (let d = 0; d <= top; d += 0.5) {
      const y = this.y(d);
      g.append(h("line", { x1: this.left, x2: this.width - this.right, y1: y, y2: y, stroke: c.line, "stroke-width": 0.7 }));
      g.append(h("text", { x: this.left - 6, y: y + 4, "text-anchor": "end", fill: c.soft, "font-size": 12 }, d.toFixed(1)));
    }
    for (let x = -2; x <= 2.01; x += 0.5) g.append(h("text", { x: this.x(x), y: this.plotBottom + 17, "text-anchor": "middle", fill: c.soft, "font-size": 12 }, minus(x.toFixed(1))));
    g.append(h("text", { x: (this.left + this.width - this.right) / 2, y: this.plotBottom + 38, "text-anchor": "middle", fill: c.soft, "font-size": 12 }, this.phone ? "log exposure, 0 as metered" : "log exposure, 0 = the metered mid-tone at box speed"));
    return g;
  }

  patches(exposures, densities, y, height) {
    const at = edges(exposures);
    const g = h("g", { "clip-path": "url(#strip-area)" });
    g.append(h("rect", { x: this.x(at[0]) - 3, y: y - 3, width: this.x(at.at(-1)) - this.x(at[0]) + 6, height: height + 6, rx: 3, fill: "#000" }));
    densities.forEach((d, i) => {
      const x = this.x(at[i]);
      g.append(h("rect", { x, y, width: this.x(at[i + 1]) - x + 0.4, height, fill: grey(d), "shape-rendering": "crispEdges" }));
    });
    return g;
  }

  drawRow(trial, index, y) {
    const { base } = this.state;
    const g = h("g", { class: "strip-row", "data-index": index });
    const sure = trial.verdict === "in the aim";
    // On a phone the strip itself says "by eye": there is no room to say it twice.
    const told = this.phone ? trial.verdict.replace(", by your words", "") : trial.verdict;
    const verdict = sure ? "\u2713 in the aim" : told.startsWith("off the aim") ? `\u2717 ${told}` : told;
    // A long recipe and its verdict share a line: where both would not fit, the recipe is told shorter.
    const text = this.phone || trial.controls_text.length > LONG_RECIPE ? trial.controls_short : trial.controls_text;
    g.append(h("text", { x: this.left, y: y + 13 }, h("tspan", { "font-weight": 600 }, `${index + 1}  `), h("tspan", { fill: this.c.soft }, text)));
    g.append(h("text", { x: this.width - this.right, y: y + 13, "text-anchor": "end", fill: sure ? this.c.good : this.c.soft, "font-weight": sure ? 600 : 400, "font-size": 12 }, verdict));
    const top = y + 20;
    if (trial.patches.length > 0) {
      g.append(this.patches(trial.patches.map((p) => p.log_exposure), trial.patches.map((p) => Math.max(0, p.density - base)), top, this.rowHeight - 6));
    } else {
      const graded = trial.grades.map((grade) => `${grade.of} ${grade.grade.replaceAll("_", " ")}`).join(", ");
      if (trial.strip) g.append(h("g", { opacity: 0.55 }, this.patches(trial.strip.log_exposure, trial.strip.density, top, this.rowHeight - 6)));
      g.append(h("rect", { x: this.left, y: top, width: this.width - this.left - this.right, height: this.rowHeight - 6, fill: "none", stroke: this.c.strong, "stroke-dasharray": "5 4" }));
      const words = graded ? `by eye${this.phone ? "" : `: ${graded}`}` : "not read yet";
      g.append(h("text", { x: (this.left + this.width) / 2, y: top + this.rowHeight / 2 + 1, "text-anchor": "middle", "paint-order": "stroke", stroke: this.c.card, "stroke-width": 5, fill: this.c.ink, "font-weight": 600, "font-size": 12 }, words));
    }
    g.addEventListener("pointerenter", () => this.highlight(index));
    g.addEventListener("pointerleave", () => this.highlight(null));
    g.addEventListener("click", () => this.onTrial(index));
    return g;
  }

  path(xs, ys) {
    let d = "";
    xs.forEach((x, i) => { d += `${i ? "L" : "M"}${this.x(x).toFixed(1)} ${this.y(ys[i]).toFixed(1)}`; });
    return d;
  }

  drawCurves() {
    const g = this.layers.curves;
    g.setAttribute("clip-path", "url(#plot-area)");
    const { trials } = this.state;
    const spots = this.labelSpots(trials);
    this.lines = trials.map((trial, i) => {
      const newness = trials.length === 1 ? 1 : i / (trials.length - 1);
      const line = h("path", { d: this.path(trial.curve.log_exposure, trial.curve.density), fill: "none", stroke: this.c.ink, "stroke-opacity": 0.25 + 0.65 * newness, "stroke-width": 1.2 + newness, "stroke-dasharray": trial.curve_is === "predicted" ? "2 4" : null });
      g.append(line);
      return line;
    });
    // Above all lines, so that no later curve runs through an earlier number.
    for (const [i, [x, y]] of spots) g.append(h("text", { x, y: y + 4, "text-anchor": "middle", "font-size": 12, "font-weight": 600, "paint-order": "stroke", stroke: this.c.card, "stroke-width": 4 }, String(i + 1)));
  }

  /** Where the number of each curve stands: on the curve itself, where the others and their numbers are farthest. */
  labelSpots(trials) {
    const at = (curve, x) => {
      const k = curve.log_exposure.findIndex((value) => value >= x);
      if (k <= 0) return null;
      const [x0, x1] = [curve.log_exposure[k - 1], curve.log_exposure[k]];
      return this.y(curve.density[k - 1] + ((x - x0) / (x1 - x0)) * (curve.density[k] - curve.density[k - 1]));
    };
    const shown = this.rows.filter((i) => trials[i].curve);
    const spots = new Map();
    const handles = Object.keys(AIM_NAMES).filter((name) => (this.state.aim[name] ?? null) !== null).map((name) => this.place(name)).map(([x, d]) => [this.x(x), this.y(d)]);
    for (const i of shown) {
      let best = null;
      for (let x = X[0] + 0.15; x <= X[1] - 0.15; x += 0.1) {
        const y = at(trials[i].curve, x);
        if (y === null) continue;
        const away = shown.filter((j) => j !== i).map((j) => at(trials[j].curve, x)).filter((other) => other !== null).map((other) => Math.abs(other - y));
        // Never on another number, a word or a handle of the aim.
        if ([...spots.values(), ...handles].some(([px, py]) => Math.hypot(px - this.x(x), py - y) < 17)) continue;
        const number = { left: this.x(x) - HANDLE, right: this.x(x) + HANDLE, top: y - HANDLE, bottom: y + HANDLE };
        if (this.words.some((word) => meet(word, number))) continue;
        // Enough is enough: of places that are clear, the one farthest left is where the eye looks first.
        const clear = Math.min(14, ...away);
        if (best === null || clear > best.clear + 0.5) best = { clear, spot: [this.x(x), y] };
      }
      if (best) spots.set(i, best.spot);
    }
    return spots;
  }

  highlight(index) {
    this.lines?.forEach((line, i) => {
      const newness = this.lines.length === 1 ? 1 : i / (this.lines.length - 1);
      line.setAttribute("stroke-width", i === index ? 4 : 1.2 + newness);
      line.setAttribute("stroke-opacity", i === index ? 1 : 0.25 + 0.65 * newness);
    });
  }

  /** The strip one is thinking of: predicted curve with band, and its row. Called many times a second. */
  showWhatIf(what, name) {
    this.what = what;
    this.whatName = name;
    if (!this.layers) return;
    const { curve, strip } = what;
    const band = `${this.path(curve.log_exposure, curve.high90)}${this.path(curve.log_exposure.toReversed(), curve.low90.toReversed()).replace("M", "L")}Z`;
    this.layers.what.setAttribute("clip-path", "url(#plot-area)");
    this.layers.what.replaceChildren(h("path", { d: band, fill: this.c.amber, "fill-opacity": 0.16 }), h("path", { d: this.path(curve.log_exposure, curve.density), fill: "none", stroke: this.c.amber, "stroke-width": 2.8, "stroke-dasharray": "9 4" }));
    const y = this.whatTop;
    const thin = this.phone ? 4 : 5;
    const main = this.rowHeight - 2;
    const stripTop = y + 20 + (this.phone ? SECOND_LINE : 0);
    const recipe = this.phone ? h("tspan", { fill: this.c.soft, x: this.left, dy: SECOND_LINE }, what.controls_short) : h("tspan", { fill: this.c.soft }, what.controls_text);
    this.layers.whatRow.replaceChildren(
      h("text", { x: this.left, y: y + 13 }, h("tspan", { "font-weight": 600, fill: this.c.amber }, `${name}  `), recipe),
      h("text", { x: this.width - this.right, y: y + 13, "text-anchor": "end", fill: this.c.amber, "font-weight": 600, "font-size": 12 }, `${percent(what.probability_in_aim)} chance`),
      this.patches(strip.log_exposure, strip.high90, stripTop, thin),
      this.patches(strip.log_exposure, strip.low90, stripTop + thin + main, thin),
      this.patches(strip.log_exposure, strip.density, stripTop + thin, main),
      h("rect", { x: this.x(-2.025), y: stripTop - 2, width: this.x(2.025) - this.x(-2.025), height: main + 2 * thin + 4, fill: "none", stroke: this.c.amber, "stroke-width": 2, "stroke-dasharray": "7 4", rx: 3 }),
    );
  }

  // The aim

  centre() {
    const { midtone_log_exposure_min: low, midtone_log_exposure_max: high } = this.state.aim;
    if (low !== null && high !== null) return (low + high) / 2;
    return low ?? high ?? 0;
  }

  /** Where the handle of each bound stands, in data. */
  place(name) {
    const { aim, base } = this.state;
    const middle = base + aim.midtone_density;
    const xc = this.centre();
    return {
      dmax_min: () => [X[0] + 0.55, base + aim.dmax_min],
      highlight_density_max: () => [xc + HIGHLIGHT, base + aim.highlight_density_max],
      gradient_min: () => [xc + REACH, middle - REACH * aim.gradient_min],
      gradient_max: () => [xc - REACH, middle + REACH * aim.gradient_max],
      midtone_log_exposure_min: () => [aim.midtone_log_exposure_min, middle],
      midtone_log_exposure_max: () => [aim.midtone_log_exposure_max, middle],
    }[name]();
  }

  drawAim() {
    this.handles = {};
    // 44 px on the screen, where a narrow page shows the figure smaller than it is drawn.
    const finger = 22 * Math.max(1, this.width / (this.holder.clientWidth || this.width));
    this.layers.handles.replaceChildren();
    for (const name of Object.keys(AIM_NAMES)) {
      if (this.state.aim[name] === null || this.state.aim[name] === undefined) continue;
      const vertical = !name.startsWith("midtone");
      const handle = h("g", { class: "aim-handle", tabindex: 0, role: "slider", "aria-label": AIM_NAMES[name], "aria-valuemin": AIM_LIMITS[name][0], "aria-valuemax": AIM_LIMITS[name][1], "aria-orientation": vertical ? "vertical" : "horizontal", "data-bound": name, style: `cursor:${vertical ? "ns" : "ew"}-resize;touch-action:none` },
        h("circle", { r: finger, fill: "transparent" }), h("circle", { r: 7.5, fill: this.c.card, stroke: this.c.good, "stroke-width": 2.5 }),
        h("path", { d: vertical ? "M-2.6 -1.4L0 -4L2.6 -1.4M-2.6 1.4L0 4L2.6 1.4" : "M-1.4 -2.6L-4 0L-1.4 2.6M1.4 -2.6L4 0L1.4 2.6", fill: "none", stroke: this.c.good, "stroke-width": 1.4 }));
      handle.addEventListener("pointerdown", (event) => {
        event.preventDefault();
        handle.focus();
        handle.setPointerCapture(event.pointerId);
        handle.onpointermove = (move) => this.drag(name, move);
        handle.onpointerup = handle.onpointercancel = () => {
          handle.onpointermove = handle.onpointerup = handle.onpointercancel = null;
          this.onAim({ ...this.state.aim }, true);
        };
      });
      handle.addEventListener("keydown", (event) => {
        const way = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1 }[event.key];
        if (!way) return;
        event.preventDefault();
        this.set(name, this.state.aim[name] + way * (event.shiftKey ? 0.01 : 0.05), true);
      });
      this.handles[name] = handle;
      this.layers.handles.append(handle);
    }
    this.placeAim();
  }

  drag(name, event) {
    const box = this.svg.getBoundingClientRect();
    const x = this.unx(((event.clientX - box.left) * this.width) / box.width);
    const y = this.uny(((event.clientY - box.top) * this.width) / box.width);
    const { aim, base } = this.state;
    const value = {
      dmax_min: () => y - base,
      highlight_density_max: () => y - base,
      gradient_min: () => (base + aim.midtone_density - y) / REACH,
      gradient_max: () => (y - base - aim.midtone_density) / REACH,
      midtone_log_exposure_min: () => x,
      midtone_log_exposure_max: () => x,
    }[name]();
    this.set(name, value, false);
  }

  /** Set a bound within its limits and its partner; tell. */
  set(name, value, done) {
    const { aim } = this.state;
    let [low, high] = AIM_LIMITS[name];
    if (name === "dmax_min") low = aim.midtone_density + 0.05;
    const partner = name.endsWith("_min") ? name.replace(/_min$/, "_max") : name.replace(/_max$/, "_min");
    if (partner in AIM_LIMITS && aim[partner] !== null && aim[partner] !== undefined) {
      if (name.endsWith("_min")) high = Math.min(high, aim[partner]);
      else low = Math.max(low, aim[partner]);
    }
    aim[name] = Math.round(100 * Math.min(high, Math.max(low, value))) / 100;
    aim.name = "own";
    this.placeAim();
    this.onAim({ ...aim }, done);
  }

  placeAim() {
    const { aim, base } = this.state;
    const { c } = this;
    const middle = base + aim.midtone_density;
    const xc = this.centre();
    const wash = { fill: c.goodWash, "fill-opacity": 0.75, stroke: c.good, "stroke-width": 1.2, "stroke-dasharray": "4 3" };
    const g = this.layers.aim;
    const taken = Object.keys(this.handles).map((name) => this.place(name)).map(([x, d]) => ({ left: this.x(x) - HANDLE, right: this.x(x) + HANDLE, top: this.y(d) - HANDLE, bottom: this.y(d) + HANDLE }));
    this.words = [];
    this.layers.words.replaceChildren();
    // A word stands at the first of its places, x and y and anchor, where it meets no handle and no other word.
    const word = (text, places, fill = c.good) => {
      const breadth = text.length * LETTER;
      const found = places.map(([x, y, anchor = "start"]) => {
        const left = x - { start: 0, middle: breadth / 2, end: breadth }[anchor];
        return { x, y, anchor, left, right: left + breadth, top: y - WORD_HEIGHT + 4, bottom: y + 4 };
      });
      const here = found.find((one) => one.left >= this.left && one.right <= this.width && ![...taken, ...this.words].some((other) => meet(one, other))) ?? found[0];
      this.words.push(here);
      this.layers.words.append(h("text", { x: here.x, y: here.y, fill, "font-size": 12, "text-anchor": here.anchor, "paint-order": "stroke", stroke: c.card, "stroke-width": 4 }, text));
    };
    // Bounds are above base, the axis has the base in it: the line says by how much the two differ.
    const over = this.phone ? "" : " above base";
    const yBase = this.y(base);
    g.replaceChildren(
      h("line", { x1: this.left, x2: this.width - this.right, y1: yBase, y2: yBase, stroke: c.soft, "stroke-width": 1, "stroke-dasharray": "2 4" }),
    );
    const told = this.phone ? `base ${base.toFixed(2)}: bounds are above it` : `base ${base.toFixed(2)}: the axis counts it, the bounds are above it`;
    word(told, [[this.left + 4, yBase - 4], [this.left + 4, yBase + 14]], c.soft);
    if (aim.dmax_min !== null) {
      const y = this.y(base + aim.dmax_min);
      const right = this.x(X[0] + 0.75);
      g.append(h("rect", { x: this.left, y: this.plotTop, width: right - this.left, height: Math.max(0, y - this.plotTop), ...wash }));
      const above = Math.max(y - 6, this.plotTop + 12);
      word(`blacks \u2265 ${aim.dmax_min.toFixed(2)}${over}`, [[right + 5, above], [right + 5, y + 16], [this.left + 4, y + 26], [this.left + 4, y + 42]]);
    }
    if (aim.highlight_density_max !== null) {
      const y = this.y(base + aim.highlight_density_max);
      const [x0, x1] = [this.x(xc + HIGHLIGHT - 0.17), this.x(xc + HIGHLIGHT + 0.17)];
      g.append(h("rect", { x: x0, y, width: x1 - x0, height: this.y(base) - y, ...wash }));
      const edge = this.width - this.right;
      word(`highlights \u2264 ${aim.highlight_density_max.toFixed(2)}${over}`, [[(x0 + x1) / 2 + 8, y - 14, "middle"], ...[14, 30, 46, 62, 78].map((up) => [edge, y - up, "end"])]);
    }
    if (aim.gradient_min !== null && aim.gradient_max !== null) {
      const corner = (side, slope) => `${this.x(xc + side * REACH).toFixed(1)},${this.y(middle - side * REACH * slope).toFixed(1)}`;
      const tie = (side) => `${this.x(xc).toFixed(1)},${this.y(middle).toFixed(1)} ${corner(side, aim.gradient_min)} ${corner(side, aim.gradient_max)}`;
      g.append(h("polygon", { points: tie(-1), ...wash }), h("polygon", { points: tie(1), ...wash }));
      const [x, y] = [this.x(xc - REACH) - 20, this.y(middle + REACH * aim.gradient_max) + 4];
      word(`${this.phone ? "" : "slope "}${aim.gradient_min.toFixed(2)} to ${aim.gradient_max.toFixed(2)}`, [0, 18, 36, 54].map((down) => [x, y + down, "end"]));
    }
    if (aim.midtone_log_exposure_min !== null && aim.midtone_log_exposure_max !== null) {
      const y = this.y(middle);
      g.append(h("line", { x1: this.x(aim.midtone_log_exposure_min), x2: this.x(aim.midtone_log_exposure_max), y1: y, y2: y, stroke: c.good, "stroke-width": 3 }));
      const right = this.x(aim.midtone_log_exposure_max) + 14;
      word("mid-tone", [-10, 4, -24, -38].map((down) => [right, y + down]));
    }
    for (const [name, handle] of Object.entries(this.handles)) {
      const [x, y] = this.place(name);
      handle.setAttribute("transform", `translate(${this.x(x).toFixed(1)} ${this.y(y).toFixed(1)})`);
      handle.setAttribute("aria-valuenow", aim[name]);
      handle.setAttribute("aria-valuetext", minus(aim[name].toFixed(2)));
    }
  }

  // Saving

  text() {
    const copy = this.svg.cloneNode(true);
    copy.querySelectorAll(".aim-handle").forEach((handle) => handle.remove());
    copy.insertBefore(h("rect", { width: "100%", height: "100%", fill: this.c.card }), copy.firstChild);
    return new XMLSerializer().serializeToString(copy);
  }

  async png() {
    const image = new Image();
    image.src = `data:image/svg+xml;charset=utf-8,${encodeURIComponent(this.text())}`;
    await image.decode();
    const canvas = document.createElement("canvas");
    [canvas.width, canvas.height] = [2 * this.svg.width.baseVal.value, 2 * this.svg.height.baseVal.value];
    canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
    return new Promise((resolve) => canvas.toBlob(resolve, "image/png"));
  }
}
