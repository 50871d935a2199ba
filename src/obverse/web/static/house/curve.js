// One characteristic curve: its band, its readings, windows of an aim. An SVG; what lies under the pointer, or under the arrow
// keys, is told in words below it.

import { plotColours } from "/static/house/house.js";

const NS = "http://www.w3.org/2000/svg";
const STOP = Math.log10(2);
// Of a normal distribution, half of a 90 % interval.
const HALF_90 = 1.645;
// A reading of less weight counted little in the curve; it is drawn as a cross.
const LITTLE = 0.2;
const MARGIN = { left: 46, right: 14, top: 12, bottom: 46 };

function h(tag, attributes = {}, ...children) {
  const made = document.createElementNS(NS, tag);
  for (const [name, value] of Object.entries(attributes)) if (value !== null && value !== undefined) made.setAttribute(name, value);
  made.append(...children);
  return made;
}

const minus = (text) => String(text).replace("-", "\u2212");
const signed = (value, digits) => minus(`${value > 0 ? "+" : ""}${value.toFixed(digits)}`);

/** Ticks of a round step that leave each other room. */
function ticks(low, high, room) {
  const step = [0.1, 0.2, 0.5, 1, 2, 5].find((one) => (high - low) / one <= room) ?? 10;
  const found = [];
  for (let i = Math.ceil(low / step - 1e-9); i * step <= high + 1e-9; i += 1) found.push(i * step);
  return { found, digits: step < 1 ? 1 : 0 };
}

export class CurveFigure {
  constructor(holder) {
    this.holder = holder;
    this.words = Object.assign(document.createElement("p"), { className: "small curve-words" });
    this.what = null;
    this.width = 0;
    new ResizeObserver(() => {
      if (this.what && Math.abs(holder.clientWidth - this.width) > 2) this.draw(this.what);
    }).observe(holder);
    document.addEventListener("obverse-appearance", () => this.what && this.draw(this.what));
  }

  /** `curve` with log_exposure, density, low90, high90; `readings`; `boxes` of the aim as [x0, x1, y0, y1]. */
  draw(what) {
    this.what = what;
    const { curve, readings, boxes } = what;
    const c = plotColours();
    const width = (this.width = Math.max(280, this.holder.clientWidth));
    const height = Math.round(Math.min(440, Math.max(280, width * 0.62)));
    const xs = [...curve.log_exposure, ...readings.map((r) => r.log_exposure)];
    const ys = [...curve.high90, ...readings.map((r) => r.density)];
    const [x0, x1] = [Math.min(...xs) - 0.08, Math.max(...xs) + 0.08];
    const [y0, y1] = [Math.min(0, ...curve.low90), Math.max(1, ...ys) * 1.05];
    this.x = (value) => MARGIN.left + ((value - x0) / (x1 - x0)) * (width - MARGIN.left - MARGIN.right);
    this.y = (value) => height - MARGIN.bottom - ((value - y0) / (y1 - y0)) * (height - MARGIN.top - MARGIN.bottom);
    this.unx = (pixel) => x0 + ((pixel - MARGIN.left) / (width - MARGIN.left - MARGIN.right)) * (x1 - x0);
    const svg = h("svg", { xmlns: NS, width, height, viewBox: `0 0 ${width} ${height}`, tabindex: 0, role: "img", "aria-label": "characteristic curve with its 90 per cent band; arrow keys read it", "font-size": 12, fill: c.ink });
    svg.append(h("defs", {}, h("clipPath", { id: "curve-area" }, h("rect", { x: MARGIN.left, y: MARGIN.top, width: width - MARGIN.left - MARGIN.right, height: height - MARGIN.top - MARGIN.bottom }))));
    svg.append(this.axes(c, width, height, x0, x1, y0, y1));
    const inside = h("g", { "clip-path": "url(#curve-area)" });
    for (const [left, right, low, high] of boxes) {
      inside.append(h("rect", { class: "aim-box", x: this.x(left), y: this.y(high), width: Math.max(0, this.x(right) - this.x(left)), height: Math.max(0, this.y(low) - this.y(high)), fill: c.silver, "fill-opacity": 0.2, stroke: c.silver, "stroke-dasharray": "2 3" }));
    }
    const back = curve.log_exposure.toReversed();
    inside.append(h("path", { class: "band", d: `${this.path(curve.log_exposure, curve.high90)}${this.path(back, curve.low90.toReversed()).replace("M", "L")}Z`, fill: c.amber, "fill-opacity": 0.16 }));
    inside.append(h("path", { class: "line", d: this.path(curve.log_exposure, curve.density), fill: "none", stroke: c.amber, "stroke-width": 2.5 }));
    for (const r of readings) inside.append(this.reading(r, c));
    this.cross = h("line", { y1: MARGIN.top, y2: height - MARGIN.bottom, stroke: c.soft, "stroke-width": 1, visibility: "hidden" });
    svg.append(inside, this.cross);
    const under = (event) => this.tell(this.unx(((event.clientX - svg.getBoundingClientRect().left) * width) / svg.getBoundingClientRect().width));
    svg.addEventListener("pointermove", under);
    svg.addEventListener("pointerdown", under);
    svg.addEventListener("keydown", (event) => {
      const way = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
      if (!way) return;
      event.preventDefault();
      this.tell((this.at ?? 0) + (way * STOP) / 3);
    });
    this.words.textContent = "";
    this.holder.replaceChildren(svg, this.words);
  }

  axes(c, width, height, x0, x1, y0, y1) {
    const g = h("g", { "aria-hidden": "true", fill: c.soft });
    const [left, right, low] = [MARGIN.left, width - MARGIN.right, height - MARGIN.bottom];
    const across = ticks(x0, x1, width < 480 ? 6 : 10);
    for (const x of across.found) {
      g.append(h("line", { x1: this.x(x), x2: this.x(x), y1: MARGIN.top, y2: low, stroke: c.line, "stroke-width": Math.abs(x) < 1e-9 ? 1.4 : 0.7 }));
      g.append(h("text", { x: this.x(x), y: low + 17, "text-anchor": "middle" }, minus(x.toFixed(across.digits))));
    }
    const up = ticks(y0, y1, 8);
    for (const y of up.found) {
      g.append(h("line", { x1: left, x2: right, y1: this.y(y), y2: this.y(y), stroke: c.line, "stroke-width": 0.7 }));
      g.append(h("text", { x: left - 6, y: this.y(y) + 4, "text-anchor": "end" }, minus(y.toFixed(up.digits))));
    }
    g.append(h("text", { x: (left + right) / 2, y: height - 8, "text-anchor": "middle" }, "log exposure, 0 = metered mid-tone"));
    g.append(h("text", { transform: `translate(12 ${(MARGIN.top + low) / 2}) rotate(-90)`, "text-anchor": "middle" }, "density"));
    return g;
  }

  reading(r, c) {
    const [x, y] = [this.x(r.log_exposure), this.y(r.density)];
    const g = h("g", { class: "reading" });
    const half = HALF_90 * (r.density_sd ?? 0);
    if (half) g.append(h("line", { x1: x, x2: x, y1: this.y(r.density - half), y2: this.y(r.density + half), stroke: c.soft }));
    g.append(r.weight < LITTLE ? h("path", { d: `M${x - 4} ${y - 4}L${x + 4} ${y + 4}M${x + 4} ${y - 4}L${x - 4} ${y + 4}`, stroke: c.ink, "stroke-width": 2 }) : h("circle", { cx: x, cy: y, r: 4, fill: c.ink }));
    return g;
  }

  path(xs, ys) {
    let d = "";
    xs.forEach((x, i) => { d += `${i ? "L" : "M"}${this.x(x).toFixed(1)} ${this.y(ys[i]).toFixed(1)}`; });
    return d;
  }

  /** What the curve, and a reading that lies there, say at an exposure. */
  tell(wanted) {
    const { curve, readings } = this.what;
    const xs = curve.log_exposure;
    let i = 0;
    xs.forEach((x, k) => { if (Math.abs(x - wanted) < Math.abs(xs[i] - wanted)) i = k; });
    this.at = Math.min(Math.max(wanted, xs[0]), xs.at(-1));
    this.cross.setAttribute("x1", this.x(xs[i]));
    this.cross.setAttribute("x2", this.x(xs[i]));
    this.cross.setAttribute("visibility", "visible");
    const near = readings.find((r) => Math.abs(this.x(r.log_exposure) - this.x(wanted)) < 6);
    const read = near ? ` Read there: ${minus(near.density.toFixed(2))}.` : "";
    this.words.textContent = `Log exposure ${signed(xs[i], 2)} (${signed(xs[i] / STOP, 1)} stops): density ${minus(curve.density[i].toFixed(2))}, 90 % ${minus(curve.low90[i].toFixed(2))} to ${minus(curve.high90[i].toFixed(2))}.${read}`;
  }
}
