// The picture page: keep pictures, read the strip, show what was found, let the corners be put right.

import { attempt, get, icon, island, post, postForm, tell, toast, toneStrip, tooLate, withPoint } from "/static/house/house.js";
import { faultCard } from "/static/light_table/told.js";

const $ = (id) => document.getElementById(id);
// `corners` are those of the row of patches; `dividers` say where patches meet along it, 0 to 1.
const state = { pictures: [], refused: [], corners: null, dividers: null, byHand: false, shift: 0, other: 0, reading: null, image: null, moving: false };
const lists = island("shot-lists") ?? [];
let calibrationRevision = island("calibration-revision");
// Steps that one press says: whole stops, and what the dials of cameras have between them.
const STEPS = [["1", 1], ["1 1/3", 4 / 3], ["1 1/2", 1.5], ["1 2/3", 5 / 3], ["2", 2], ["2 1/2", 2.5], ["3", 3]];

// Pictures ------------------------------------------------------------------------------------

async function keep(files) {
  if (!files.length) return;
  const form = new FormData();
  for (const file of files) form.append("files", file, file.name);
  await working("keeping the pictures", async () => take(await postForm("/api/light-table/pictures", form)));
}

function take({ pictures, refused }) {
  for (const one of pictures) if (!state.pictures.some((p) => p.id === one.id)) state.pictures.push(one);
  state.refused = refused;
  state.reading = null;
  // Corners that a person laid hold for every picture of the view.
  if (!state.byHand && !state.turned) [state.corners, state.dividers, state.shift, state.other] = [null, null, 0, 0];
  showPictures();
  if (pictures.length) showView();
}

function showPictures() {
  const items = state.pictures.map((one) => {
    const item = document.createElement("li");
    const time = one.exposure_s ? (one.exposure_s < 0.3 ? `1/${Math.round(1 / one.exposure_s)} s` : `${one.exposure_s.toFixed(1)} s`) : "time not stated";
    item.append(
      element("span", one.name, "name"),
      element("span", `${one.width} × ${one.height}, ${one.encoding}, ${time}`, "soft small"),
      ...(one.simulated ? [element("span", "simulated", "badge badge-amber")] : []),
    );
    const leave = element("button", "Leave out", "quiet");
    leave.type = "button";
    leave.setAttribute("aria-label", `Leave out ${one.name}`);
    leave.addEventListener("click", () => {
      state.pictures = state.pictures.filter((p) => p.id !== one.id);
      state.reading = null;
      showPictures();
      if (state.pictures.length) showView();
      else $("viewer").hidden = true;
    });
    item.append(leave);
    return item;
  });
  const wrong = state.refused.map((error) => {
    const item = element("li", "", "refused");
    item.append(icon("caution"), element("span", error.detail, "name"));
    item.firstChild.style.width = "1.3rem";
    return item;
  });
  $("pictures").replaceChildren(...items, ...wrong);
  $("no-pictures").hidden = items.length > 0;
  $("read").disabled = $("report-box").hidden = items.length === 0;
  $("report-made").replaceChildren();
  $("panel-field").hidden = $("stops-field").hidden = items.length < 2;
  $("panel").replaceChildren(new Option("none: fall-off is fitted", ""), ...state.pictures.map((p) => new Option(p.name, p.id)));
  showResult();
}

function element(tag, text = "", className = "") {
  const made = document.createElement(tag);
  made.textContent = text;
  if (className) made.className = className;
  return made;
}

// The picture and its corners -------------------------------------------------------------------

async function showView() {
  const first = state.pictures[0];
  $("viewer").hidden = false;
  const image = new Image();
  image.src = `/api/light-table/pictures/${encodeURIComponent(first.id)}/view.jpg`;
  try {
    await image.decode();
  } catch {
    return tell("The picture cannot be shown; it is kept all the same.");
  }
  state.image = image;
  draw();
}

const size = () => [state.pictures[0].width, state.pictures[0].height];

function draw() {
  if (!state.image) return;
  const canvas = $("canvas"), context = canvas.getContext("2d");
  canvas.width = state.image.naturalWidth;
  canvas.height = state.image.naturalHeight;
  context.drawImage(state.image, 0, 0);
  const scale = canvas.width / size()[0];
  const path = (points) => {
    context.beginPath();
    points.forEach(([x, y], k) => context[k ? "lineTo" : "moveTo"]((x + 0.5) * scale, (y + 0.5) * scale));
    context.closePath();
  };
  const unit = Math.max(canvas.width / 900, 1);
  if (state.corners) {
    outlined(context, () => path(state.corners), "#ffb04a", 2.2 * unit);
    for (const at of inner()) outlined(context, () => path([along(at, 0), along(at, 1)]), "#ffb04a", 1.2 * unit);
  }
  if (state.reading && !state.byHand) {
    context.font = `600 ${13 * unit}px system-ui, sans-serif`;
    context.textAlign = "center";
    context.textBaseline = "middle";
    for (const patch of state.reading.patches) {
      outlined(context, () => path(patch.corners), patch.clipped ? "#ff8d7a" : "#ffffff", 1.2 * unit, patch.clipped ? [4 * unit, 3 * unit] : []);
      const x = (patch.corners.reduce((s, c) => s + c[0], 0) / 4 + 0.5) * scale;
      const y = (patch.corners.reduce((s, c) => s + c[1], 0) / 4 + 0.5) * scale;
      context.lineWidth = 3.5 * unit;
      context.strokeStyle = "#000";
      context.strokeText(patch.index, x, y);
      context.fillStyle = "#fff";
      context.fillText(patch.index, x, y);
    }
    const box = state.reading.opaque;
    if (box) outlined(context, () => path([[box[0], box[1]], [box[2], box[1]], [box[2], box[3]], [box[0], box[3]]]), "#8fd0ff", 1.2 * unit, [3 * unit, 3 * unit]);
  }
  if (state.glimpse) {
    const { corners, dividers } = state.glimpse;
    outlined(context, () => path(corners), "#8fd0ff", 2.2 * unit);
    for (const at of dividers.slice(1, -1)) outlined(context, () => path([along(at, 0, corners), along(at, 1, corners)]), "#8fd0ff", 1.6 * unit);
  }
  if (state.held) magnified(context, state.held(), scale);
  placeHandles();
}

/** What lies under the finger, four times as large, on the side of the picture where the hand is not. */
function magnified(context, [x, y], scale) {
  const { width, height } = context.canvas, wide = Math.min(0.36 * width, 0.6 * height), seen = wide / 4;
  const [u, v] = [(x + 0.5) * scale, (y + 0.5) * scale], left = u < width / 2 ? width - wide : 0;
  context.fillStyle = "#17130e";
  context.fillRect(left, 0, wide, wide);
  context.drawImage(state.image, u - seen / 2, v - seen / 2, seen, seen, left, 0, wide, wide);
  const line = (points) => () => {
    context.beginPath();
    points.forEach(([a, b], k) => context[k ? "lineTo" : "moveTo"](left + a * wide, b * wide));
  };
  for (const points of [[[0.5, 0.3], [0.5, 0.7]], [[0.3, 0.5], [0.7, 0.5]], [[0, 0], [1, 0], [1, 1], [0, 1], [0, 0]]]) outlined(context, line(points), "#ffb04a", width / 450);
}

/** Taken hold of: drawn large until it is let go. */
function holds(handle, point) {
  handle.addEventListener("pointerdown", (event) => {
    handle.setPointerCapture(event.pointerId);
    event.preventDefault();
    handle.focus();
    state.held = point;
    draw();
  });
  for (const kind of ["pointerup", "pointercancel", "lostpointercapture"])
    handle.addEventListener(kind, () => {
      state.held = null;
      draw();
    });
}

function outlined(context, trace, colour, width, dash = []) {
  context.setLineDash(dash);
  for (const [stroke, wide] of [["rgba(0,0,0,0.75)", width * 2.2], [colour, width]]) {
    trace();
    context.strokeStyle = stroke;
    context.lineWidth = wide;
    context.stroke();
  }
  context.setLineDash([]);
}

/** Dividers between patches, without the two ends. */
const inner = () => (state.dividers && (state.moving || state.byHand) ? state.dividers.slice(1, -1) : []);

/** The point at u along the row of patches and v across it; perspective as the four corners have it. */
function along(u, v, corners = state.corners) {
  const [[x0, y0], [x1, y1], [x2, y2], [x3, y3]] = corners;
  const sx = x0 - x1 + x2 - x3, sy = y0 - y1 + y2 - y3;
  const dx1 = x1 - x2, dx2 = x3 - x2, dy1 = y1 - y2, dy2 = y3 - y2;
  const below = dx1 * dy2 - dx2 * dy1 || 1e-9;
  const g = (sx * dy2 - dx2 * sy) / below, h = (dx1 * sy - sx * dy1) / below;
  const w = g * u + h * v + 1;
  return [((x1 - x0 + g * x1) * u + (x3 - x0 + h * x3) * v + x0) / w, ((y1 - y0 + g * y1) * u + (y3 - y0 + h * y3) * v + y0) / w];
}

function placeHandles() {
  const box = $("handles");
  if (!state.corners) return box.replaceChildren();
  const [width, height] = size();
  const dividers = state.moving && state.dividers ? state.dividers.length - 2 : 0;
  if (box.children.length !== 4 + dividers)
    box.replaceChildren(...[0, 1, 2, 3].map(makeHandle), ...Array.from({ length: dividers }, (_, k) => makeDivider(k + 1)));
  [...box.children].forEach((handle, k) => {
    const [x, y] = k < 4 ? state.corners[k] : along(state.dividers[k - 3], 0.5);
    handle.style.left = `${(100 * (x + 0.5)) / width}%`;
    handle.style.top = `${(100 * (y + 0.5)) / height}%`;
    if (k < 4) handle.setAttribute("aria-label", `Corner ${k + 1} of the row of patches, at ${Math.round(x)}, ${Math.round(y)}`);
    else handle.setAttribute("aria-valuenow", (100 * state.dividers[k - 3]).toFixed(1));
  });
}

function makeDivider(k) {
  const handle = element("button", "", "divider");
  handle.type = "button";
  for (const [name, value] of [["role", "slider"], ["aria-label", `Between patch ${k} and ${k + 1}, per cent along`], ["aria-valuemin", "0"], ["aria-valuemax", "100"]])
    handle.setAttribute(name, value);
  const put = (at) => {
    const [low, high] = [state.dividers[k - 1], state.dividers[k + 1]], least = 0.05 * (high - low);
    state.dividers[k] = Math.min(Math.max(at, low + least), high - least);
    byHand("dividers by hand; read again");
  };
  holds(handle, () => along(state.dividers[k], 0.5));
  handle.addEventListener("pointermove", (event) => {
    if (!handle.hasPointerCapture(event.pointerId)) return;
    const box = $("canvas").getBoundingClientRect(), [width, height] = size();
    const x = ((event.clientX - box.left) / box.width) * width - 0.5, y = ((event.clientY - box.top) / box.height) * height - 0.5;
    // Nearest place on the middle line, found by halving: it need not be exact to more than a pixel.
    let [a, b] = [state.dividers[k - 1], state.dividers[k + 1]];
    const off = (u) => Math.hypot(along(u, 0.5)[0] - x, along(u, 0.5)[1] - y);
    for (let n = 0; n < 40; n++) {
      const [c, d] = [a + (b - a) / 3, b - (b - a) / 3];
      if (off(c) < off(d)) b = d;
      else a = c;
    }
    put((a + b) / 2);
  });
  handle.addEventListener("keydown", (event) => {
    const way = { ArrowLeft: -1, ArrowUp: -1, ArrowRight: 1, ArrowDown: 1 }[event.key];
    if (!way) return;
    event.preventDefault();
    put(state.dividers[k] + (way * (event.shiftKey ? 0.1 : 0.01)) / (state.dividers.length - 1));
  });
  return handle;
}

function byHand(words) {
  state.byHand = true;
  $("found").textContent = words;
  [$("again").hidden, $("accept").hidden] = [false, true];
  draw();
}

function makeHandle(k) {
  const handle = element("button", "", k === 0 ? "handle first" : "handle");
  handle.type = "button";
  handle.append(element("span", String(k + 1)));
  holds(handle, () => state.corners[k]);
  handle.addEventListener("pointermove", (event) => {
    if (!handle.hasPointerCapture(event.pointerId)) return;
    const box = $("canvas").getBoundingClientRect(), [width, height] = size();
    move(k, ((event.clientX - box.left) / box.width) * width - 0.5, ((event.clientY - box.top) / box.height) * height - 0.5);
  });
  handle.addEventListener("keydown", (event) => {
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (!way) return;
    event.preventDefault();
    const far = event.shiftKey ? 10 : 1, [x, y] = state.corners[k];
    move(k, x + far * way[0], y + far * way[1]);
  });
  return handle;
}

function move(k, x, y) {
  const [width, height] = size();
  state.corners[k] = [Math.min(Math.max(x, 0), width - 1), Math.min(Math.max(y, 0), height - 1)];
  byHand("corners by hand; read again");
}

// Reading ---------------------------------------------------------------------------------------

async function read({ find = false, accept: right = false } = {}) {
  if (find) [state.corners, state.dividers, state.byHand, state.shift, state.other] = [null, null, false, 0, 0];
  const panel = $("panel").value;
  const body = {
    pictures: state.pictures.map((p) => p.id).filter((id) => id !== panel),
    patches: Number($("patches").value),
    corners: state.byHand || state.turned ? state.corners : null,
    dividers: (state.byHand || state.turned) && state.dividers?.length === Number($("patches").value) + 1 ? state.dividers : null,
    shift: state.byHand || state.turned ? 0 : state.shift,
    other: state.byHand || state.turned ? 0 : state.other,
    accept: right,
    stops: state.pictures.length > 1 && $("stops").value ? Number($("stops").value) : null,
    panel,
    calibrated: $("calibrated").checked,
  };
  if (!Number.isInteger(body.patches) || body.patches < 1 || body.patches > 200) return tell("The number of patches is a whole number from 1 to 200.");
  if ($("stops").validity.badInput) return tell("The stops between two pictures are a number, like 2 or 1.67; leave it empty where the pictures say it.");
  await working("reading", async () => {
    try {
      accept(await result(body));
    } catch (error) {
      offerCorners();
      throw error;
    }
  });
}

async function result(body) {
  const { job } = await post("/api/light-table/pictures/read", body);
  let answer;
  do {
    await new Promise((resolve) => setTimeout(resolve, 150));
    answer = await get(`/api/light-table/pictures/jobs/${job}`);
    progress(answer.share, answer.words);
  } while (!answer.done);
  return answer.reading;
}

/** Where nothing was found the corners are laid out for the person to put right. */
function offerCorners() {
  if (state.corners || !state.pictures.length) return;
  const [width, height] = size();
  state.corners = [[0.15, 0.35], [0.85, 0.35], [0.85, 0.65], [0.15, 0.65]].map(([x, y]) => [x * width, y * height]);
  byHand("put the corners on the strip, then read");
}

function accept(reading) {
  $("report-made").replaceChildren();
  state.glimpse = null;
  state.reading = reading;
  state.corners = (reading.patch_corners ?? reading.corners).map((c) => [...c]);
  state.dividers = reading.dividers ? [...reading.dividers] : null;
  state.byHand = false;
  state.turned = !reading.corners_found;
  showResult();
  draw();
}

async function working(words, work) {
  $("working").hidden = false;
  progress(0, words);
  $("read").disabled = $("again").disabled = true;
  await attempt(work);
  $("working").hidden = true;
  $("read").disabled = state.pictures.length === 0;
  $("again").disabled = false;
}

function progress(share, words) {
  $("progress").value = share;
  $("words").textContent = words;
}

function showResult() {
  const reading = state.reading;
  $("result").hidden = $("onward").hidden = !reading;
  $("again").hidden = true;
  for (const id of ["earlier", "later", "dividers"]) $(id).disabled = !state.corners || !state.dividers;
  if (!reading) $("against").replaceChildren();
  $("calibrate").disabled = !reading;
  if (!reading) {
    $("found").textContent = "";
    return;
  }
  $("found").textContent = reading.corners_found ? "strip found" : "corners by hand";
  $("result-title").textContent = reading.kind === "diffuse density" ? "Diffuse densities" : "Camera densities";
  toneStrip($("strip"), reading.patches.map((p) => p.density));
  const number = (value, digits = 3) => (value === null || value === undefined ? "–" : value.toFixed(digits).replace(/^-(?=[0.]*$)/, "").replace("-", "−"));
  $("table").tBodies[0].replaceChildren(
    ...reading.patches.map((p) => {
      const row = element("tr", "", p.clipped ? "off" : "");
      const head = element("th", String(p.index));
      head.scope = "row";
      row.append(head);
      for (const value of [number(p.density), number(p.density_sd), `${number(p.low90, 2)} to ${number(p.high90, 2)}`, number(p.stain_index), ...["noise", "falloff", "glare", "exposure", "codes", "curve"].map((k) => number(p.budget[k] ?? 0, 4))])
        row.append(element("td", value, "number"));
      row.append(element("td", p.clipped ? `too ${p.clipped_end}: only a bound` : ""));
      return row;
    }),
  );
  const r = reading.reference;
  $("reference").textContent = `Open panel: ${r.from}, known to ± ${r.density_sd.toFixed(4)}; fall-off along the strip ${r.falloff_stops.toFixed(2)} stops. Veiling glare ${(100 * r.glare.fraction).toFixed(2)} % ± ${(100 * r.glare.sd).toFixed(2)} of the panel, ${r.glare.measured ? "measured at the opaque piece" : "only bounded"}.`;
  // What speaks against the placing is said at the picture, where it can be put right.
  const against = reading.cautions.filter((c) => ["patches", "strip", "panel"].includes(c.where));
  const asked = reading.cautions.filter((c) => ["curve.untimed", "bracket.apart"].includes(c.code));
  $("against").replaceChildren(...against.map(caution), ...elsewhere(reading), ...apart(asked));
  $("cautions").replaceChildren(...reading.cautions.filter((c) => !against.includes(c) && !asked.includes(c)).map(caution));
  $("accept").hidden = !against.length;
  $("faults").replaceChildren(...faults(reading));
  $("onward-hint").textContent = reading.patches.some((p) => p.clipped) ? "Marked patches are left out." : "";
}

/** Where the row may as well lie, one press each; shown on the picture while the pointer or the focus is on it. */
function elsewhere(reading) {
  const buttons = (reading.others ?? []).map((one, k) => {
    const button = element("button", `Read it so: ${one.words}`);
    button.type = "button";
    button.addEventListener("click", () => {
      state.other = k + 1;
      read();
    });
    for (const [kind, shown] of [["pointerenter", one], ["focus", one], ["pointerleave", null], ["blur", null]])
      button.addEventListener(kind, () => {
        state.glimpse = shown;
        draw();
      });
    return button;
  });
  const count = reading.against?.[0];
  if (count && reading.cautions.some((c) => c.code === "patches.count")) {
    const button = element("button", `Read it as ${count.patches} patches`);
    button.type = "button";
    button.addEventListener("click", () => {
      $("patches").value = String(count.patches);
      read({ find: true });
    });
    buttons.push(button);
  }
  if (!buttons.length) return [];
  const row = element("div", "", "row");
  row.append(...buttons);
  return [row];
}

/** Where the pictures do not say how they were exposed one press does. */
function apart(asked) {
  if (!asked.length) return [];
  const row = element("div", "", "row");
  for (const [words, stops] of STEPS) {
    const button = element("button", stops === 1 ? "1 stop apart" : `${words} stops apart`);
    button.type = "button";
    button.addEventListener("click", () => {
      $("stops").value = String(stops);
      read();
    });
    row.append(button);
  }
  return [...asked.map(caution), row];
}

function caution(item) {
  const words = { note: "Note", caution: "Caution", danger: "Danger" }[item.level];
  const box = element("div", "", `caution caution-${item.level}`);
  box.setAttribute("role", "note");
  const text = element("p");
  text.append(element("strong", `${words}. `), item.text);
  box.append(icon(item.level), text);
  return box;
}

function faults(reading) {
  if (!reading.faults) return [];
  if (!reading.faults.length) return [element("p", reading.faults_not_looked_for || "No fault stands out in the picture.", "soft")];
  return reading.faults.map(faultCard);
}

// Onward ----------------------------------------------------------------------------------------

function exposures() {
  const chosen = $("exposures").value, count = state.reading.patches.length;
  if (chosen === "even") {
    const first = Number(withPoint($("first").value)), step = Number(withPoint($("step").value));
    if (!Number.isFinite(first) || !Number.isFinite(step) || step === 0) throw new Error("Give the log exposure of patch 1 and of a step as numbers.");
    return Array.from({ length: count }, (_, k) => first + k * step);
  }
  const list = lists[Number(chosen.slice(5))].log_exposure;
  if (list.length !== count) throw new Error(`The shot list has ${list.length} frames, the strip ${count} patches.`);
  return list;
}

async function onward() {
  await attempt(async () => {
    const given = exposures();
    const patches = state.reading.patches
      .map((p, k) => ({ log_exposure: Number(given[k].toFixed(4)), density: Math.max(p.density, -0.5), density_sd: Math.max(p.density_sd, 0.0005), stain_index: p.stain_index, clipped: p.clipped }))
      .filter((p) => !p.clipped)
      .map(({ clipped, ...p }) => p);
    if (!patches.length) throw new Error("All patches are too bright or too dark; take other pictures.");
    const kept = await post("/api/light-table/reading", { name: $("name").value.trim() || "strip", source: "picture", picture: state.pictures[0].id, patches });
    window.location.href = `/light-table?reading=${encodeURIComponent(kept.id)}`;
  });
}

/** Change the calibration; where another device did so meanwhile, learn its revision and say what a second press does. */
async function seen(work) {
  try {
    await work();
  } catch (error) {
    if (error.status !== 409 || !error.document.revision) throw error;
    calibrationRevision = error.document.revision;
    throw tooLate(error);
  }
}

async function calibrate() {
  await attempt(async () => {
    const densities = $("known").value.split(/[\s,;]+/).filter(Boolean).map(Number);
    if (densities.some((d) => !Number.isFinite(d))) throw new Error("The known densities are not all numbers; write them with points and commas: 0.05, 0.20.");
    await seen(() => post("/api/light-table/pictures/calibration", { picture: state.pictures[0].id, densities, revision: calibrationRevision }));
    toast("Calibrated. Readings are diffuse density from now on.");
    window.setTimeout(() => window.location.reload(), 900);
  });
}

// Wiring ----------------------------------------------------------------------------------------

$("files").addEventListener("change", () => keep([...$("files").files]).then(() => ($("files").value = "")));
for (const kind of ["dragover", "dragleave", "drop"])
  $("drop").addEventListener(kind, (event) => {
    event.preventDefault();
    $("drop").classList.toggle("over", kind === "dragover");
    if (kind === "drop") keep([...event.dataTransfer.files]);
  });
$("simulated").addEventListener("click", () =>
  working("computing a strip", async () => {
    take(await post("/api/light-table/pictures/simulated", { seed: 1 + Math.floor(Math.random() * 9999) }));
    $("patches").value = 11;
  }),
);
$("read").addEventListener("click", () => read());
$("find").addEventListener("click", () => {
  state.turned = false;
  read({ find: true });
});
$("turn").addEventListener("click", () => {
  if (!state.corners) return;
  state.corners = [2, 3, 0, 1].map((k) => state.corners[k]);
  state.dividers = state.dividers?.map((d) => 1 - d).reverse() ?? null;
  state.turned = true;
  read();
});
function shiftBy(by) {
  if (!state.corners || !state.dividers) return;
  if (state.byHand || state.turned) {
    const pitch = 1 / (state.dividers.length - 1);
    state.dividers = state.dividers.map((d) => d + by * pitch);
    state.byHand = true;
  } else state.shift += by;
  read();
}
$("earlier").addEventListener("click", () => shiftBy(-1));
$("later").addEventListener("click", () => shiftBy(1));
$("again").addEventListener("click", () => read());
$("accept").addEventListener("click", () => read({ accept: true }));
$("dividers").addEventListener("click", () => {
  state.moving = !state.moving;
  $("dividers").setAttribute("aria-pressed", String(state.moving));
  draw();
});
$("patches").addEventListener("change", () => ([state.shift, state.other] = [0, 0]));
$("report").addEventListener("click", () => attempt(async () => {
  const where = `/api/light-table/pictures/${encodeURIComponent(state.pictures[0].id)}/report`;
  const count = Number($("patches").value), asked = Number.isInteger(count) && count >= 1 && count <= 200 ? `?patches=${count}` : "";
  const { files, left_out } = await get(where + asked);
  const list = (items) => { const made = element("ul", "", "small"); made.append(...items.map((one) => element("li", one))); return made; };
  const link = element("a", "Keep this report", "button");
  link.href = `${where}.zip${asked}`;
  link.download = "strip-report.zip";
  $("report-made").replaceChildren(
    element("p", "In it:", "small"), list(files.map((f) => `${f.name}, ${Math.ceil(f.bytes / 1000)} kB`)),
    element("p", "Left out:", "small"), list(left_out.length ? left_out : ["nothing personal was found"]),
    link, element("p", "Nothing is sent anywhere; you hand it over yourself, or not. The picture itself shows what it shows.", "hint"),
  );
}));
$("exposures").addEventListener("change", () => ($("even-steps").hidden = $("exposures").value !== "even"));
$("onward-button").addEventListener("click", onward);
$("calibrate").addEventListener("click", calibrate);
$("forget")?.addEventListener("click", () => attempt(async () => {
  await seen(() => post(`/api/light-table/pictures/calibration?revision=${calibrationRevision}`, {}, "DELETE"));
  window.location.reload();
}));

const opened = island("opened");
if (opened) {
  state.pictures = opened.known;
  showPictures();
  if (opened.patches) $("patches").value = opened.patches;
  if (opened.reading) {
    $("patches").value = opened.reading.patches.length;
    accept(opened.reading);
  } else if (opened.patches) offerCorners();
  showView();
}
