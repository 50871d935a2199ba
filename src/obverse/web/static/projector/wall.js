// The wall: photographs through a slide and a projector, numbers of the screen, the card for the bag.

import { attempt, get, island, length, lengthParts, post, tell, toast, tooLate } from "/static/house/house.js";
import { SlideCanvas, codeAt, count, shares, unpack } from "/static/projector/preview.js";

const CODE_STEP = 0.00125;
const STOP = Math.log10(2);
const PICK_SHARE = 0.006;
const page = island("wall");
const $ = (id) => document.getElementById(id);
const wall = $("wall-room");
const figures = { a: $("figure-a"), b: $("figure-b") };
const sides = { a: new SlideCanvas($("canvas-a")), b: new SlideCanvas($("canvas-b")) };
const how = { marks: false, grain: false };
let photograph = null;
let counts = null;
let pick = null; // {x, y} as shares of the picture; null: average
let answer = null;
let busy = false;
let again = false;
let screenRevision = page.screen_revision;
let keeping = Promise.resolve();

const number = (value, digits = 2) => (value == null ? "–" : value.toFixed(digits).replace("-", "−"));
const field = (id) => Number($(id).value);
const two = () => $("source-b").value !== "";

// A stop each way around the curve's own setting; the slider runs in thirds of stops.
const base = { a: null, b: null };
const answeredShift = { a: 0, b: 0 };
const shiftOf = (side) => Number($(`index-${side}`).value) / 3;

function shown(side) {
  const one = { source: $(`source-${side}`).value, metered_code: meteredCode(), zone: pick ? Number($("zone").value) : 5 };
  if (base[side]) one.exposure_index = base[side] / 2 ** shiftOf(side);
  return one;
}

function meteredCode() {
  if (!photograph) return 2048;
  if (!pick) return photograph.average_code;
  const reach = Math.max(1, Math.round(photograph.width * PICK_SHARE));
  return codeAt(photograph, Math.round(pick.x * (photograph.width - 1)), Math.round(pick.y * (photograph.height - 1)), reach, CODE_STEP);
}

const orNull = (id) => ($(id).value === "" ? null : field(id));

function screen() {
  const aspect = Number($("format").selectedOptions[0].dataset.aspect);
  return { focal_mm: orNull("focal"), throw_m: orNull("throw"), sought: $("sought").value, gate: $("format").value, flux_lm: field("flux"), width_m: field("width"), aspect, room_lux: field("room-lux"), gain: field("gain"), stray: field("stray") / 100, callier: field("callier"), corner_light: $("corners").value === "" ? null : field("corners") / 100 };
}

/** Remember the screen, one change after the other: each must have seen the revision before it. */
function keepScreen() {
  keeping = keeping.then(() => attempt(async () => {
    try {
      screenRevision = (await post("/api/projector/screen", { ...screen(), revision: screenRevision })).revision;
    } catch (error) {
      if (error.status !== 409 || !error.document.revision) throw error;
      screenRevision = error.document.revision;
      throw tooLate(error, "change one of the numbers again");
    }
  }));
}

function viewing() {
  return { model: $("model").value, shown_in: $("shown-in").value, white: $("white").value, rms_granularity: field("granularity"), pixels_wide: photograph?.width ?? 1700 };
}

/** Ask for tables and draw; while one question is open the newest waits. */
async function refresh() {
  if (!photograph) return;
  if (busy) {
    again = true;
    return;
  }
  busy = true;
  try {
    const list = two() ? ["a", "b"] : ["a"];
    const asking = { a: shiftOf("a"), b: shiftOf("b") };
    const found = await post("/api/projector/look", { slides: list.map(shown), screen: screen(), viewing: viewing() });
    answer = found;
    list.forEach((side, i) => {
      sides[side].slide(found.slides[i], Number($("format").selectedOptions[0].dataset.aspect));
      answeredShift[side] = asking[side];
      if (shiftOf(side) !== asking[side]) runAhead(side);
      if (base[side] === null) base[side] = found.slides[i].exposure_index_set;
    });
    drawAll();
    tellNumbers();
    wall.dispatchEvent(new CustomEvent("drawn"));
  } catch (error) {
    tell(error);
  } finally {
    busy = false;
    if (again) {
      again = false;
      refresh();
    }
  }
}

/** While the slider is dragged the picture follows at once; the house's own tables come after. */
function runAhead(side) {
  sides[side].ahead(Math.round(((shiftOf(side) - answeredShift[side]) * STOP) / CODE_STEP));
}

function drawAll() {
  for (const side of two() ? ["a", "b"] : ["a"]) sides[side].draw(how);
}

function tellNumbers() {
  figures.b.hidden = !two();
  const [kind, id] = $("source-a").value.split(":");
  $("recipe-link").hidden = kind !== "recipe";
  if (kind === "recipe") $("recipe-link").href = `/notebook/recipes/${encodeURIComponent(id)}`;
  $("pictures").classList.toggle("pair", two());
  const list = two() ? ["a", "b"] : ["a"];
  list.forEach((side, i) => {
    const slide = answer.slides[i];
    const { clipped, blocked } = shares(counts, sides[side].tables.together);
    $(`caption-${side}`).textContent = `${slide.name}, metered at ${Math.round(slide.exposure_index_set)}`;
    $(`share-${side}`).textContent = `${number(100 * clipped, 1)} % clipped highlights, ${number(100 * blocked, 1)} % blocked blacks`;
    $(`index-words-${side}`).textContent = `index ${Math.round(slide.exposure_index_set)}, ${stopsWords(-shiftOf(side))}`;
    $(`curve-kind-${side}`).textContent = kindWords(slide);
  });
  $("index-row-b").hidden = !two();
  const sums = answer.sums;
  put("gate", sums.gate_cd_m2, 0);
  $("gate-fl").textContent = `${number(sums.gate_fl, 1)} fL; cinema practice ${sums.cinema_fl} ± ${sums.cinema_fl_tolerance} fL`;
  const [largest, unit] = lengthParts(sums.largest_width_m);
  $("corner-words").textContent = sums.corner_cd_m2 == null ? "" : `${number(sums.middle_cd_m2, 0)} cd/m² in the middle, ${number(sums.corner_cd_m2, 0)} at the corners`;
  put("largest", largest, 2);
  $("largest").nextElementSibling.textContent = unit;
  $("width-told").textContent = unit === "m" ? "" : length(field("width"));
  const first = sums.slides[0];
  put("highlight", first.highlight_cd_m2, 0);
  put("black", first.black_cd_m2, first.black_cd_m2 < 10 ? 2 : 1);
  put("contrast", first.contrast, 0);
  $("contrast-note").textContent = `${number(first.contrast_in_the_dark, 0)} : 1 with no stray light; a slide is readable over about ${sums.readable_range} : 1`;
  $("base-words").textContent = `The base (${number(first.base_density)}) passes ${number(100 * first.base_transmittance, 0)} % of the light: it costs ${number(first.base_stops, 2)} stop. A clear one (${number(sums.clear_base)}) passes ${number(100 * sums.clear_base_transmittance, 0)} %.`;
  $("width-words").textContent = `For highlights at 16 fL the picture may be ${length(first.width_for_highlights_m)} wide.`;
  tones(list);
  cautions($("sum-cautions"), sums.cautions);
  cautions($("curve-cautions"), [...answer.slides.flatMap((slide) => slide.cautions), ...photograph.cautions].filter(unlike()));
  scale($("scale-a"), answer.slides[0].scale);
  $("scale-b").hidden = !two();
  if (two()) scale($("scale-b"), answer.slides[1].scale);
}

const put = (id, value, digits) => ($(id).textContent = number(value, digits));

function unlike() {
  const seen = new Set();
  return (caution) => !seen.has(caution.text) && seen.add(caution.text);
}

function kindWords(slide) {
  const kinds = { measured: "measured strip", predicted: "predicted, not yet made", example: "invented curve" };
  return [kinds[slide.kind], slide.controls_text].filter(Boolean).join(" · ");
}

function stopsWords(stops) {
  const thirds = Math.round(3 * stops);
  if (thirds === 0) return "its own";
  const whole = Math.trunc(Math.abs(thirds) / 3);
  const part = Math.abs(thirds) % 3;
  const text = [whole || "", part ? `${part}/3` : ""].filter(Boolean).join(" ");
  return `${text} stop${Math.abs(thirds) > 3 ? "s" : ""} ${thirds > 0 ? "less light" : "more light"}`;
}

function cautions(element, list) {
  element.replaceChildren(
    ...list.map(({ level, text }) => {
      const line = document.createElement("p");
      line.className = "small soft";
      const word = document.createElement("strong");
      word.textContent = { note: "Note. ", caution: "Caution. ", danger: "Danger. " }[level];
      line.append(word, text);
      return line;
    }),
  );
}

/** The grey scale on the wall: half stops around the mid-tone, in the greys of the picture above. */
function scale(element, { stops, density, cd_m2, grey, lightness }) {
  element.replaceChildren(
    ...stops.map((stop, i) => {
      const patch = document.createElement("span");
      patch.style.background = `rgb(${grey[i]}, ${grey[i]}, ${grey[i]})`;
      patch.title = `${stop > 0 ? "+" : ""}${number(stop, 1)} stops: density ${number(density[i])}, ${number(cd_m2[i], 1)} cd/m², L* ${number(lightness[i], 0)}`;
      return patch;
    }),
  );
  element.setAttribute("aria-label", `grey scale on the wall, half stops from minus five to plus five; lightness ${lightness.map((l) => l.toFixed(0)).join(", ")}`);
}

// Zones -1 to 11 across 670 units, density 0 to 3.2 over 190.
const acrossOf = (zone) => 40 + (670 * (zone + 1)) / 12;

/** Where the photograph's tones fall, and the density of each zone. */
function tones(list) {
  const zoneOf = (slide, x) => 5 + (x - Math.log10(slide.box_speed / slide.exposure_index_set)) / STOP;
  const first = answer.slides[0];
  const quarters = new Float64Array(48);
  for (let code = 0; code < counts.length; code++) {
    const zone = zoneOf(first, first.readout.log_exposure[0] + code * CODE_STEP);
    quarters[Math.min(47, Math.max(0, Math.floor(4 * (zone + 1))))] += counts[code];
  }
  const most = Math.max(...quarters);
  const bars = Array.from(quarters, (n, i) => `M${acrossOf(i / 4 - 1).toFixed(1)} 190v${((-150 * n) / most).toFixed(1)}h12.6v${((150 * n) / most).toFixed(1)}z`);
  $("tones-bars").setAttribute("d", bars.join(""));
  $("tones-b").setAttribute("d", "");
  list.forEach((side, i) => {
    const { readout, ...slide } = answer.slides[i];
    const points = readout.log_exposure.map((x, k) => [zoneOf(slide, x), readout.density[k]]).filter(([zone]) => zone >= -1 && zone <= 11);
    $(`tones-${side}`).setAttribute("d", "M" + points.map(([zone, d]) => `${acrossOf(zone).toFixed(1)} ${(190 - 60 * d).toFixed(1)}`).join("L"));
  });
}

// The photograph

// Photographs may come in late; only the one last asked for is shown.
let asked = 0;

async function load(response, turn) {
  const buffer = await response.arrayBuffer();
  if (turn !== asked) return;
  photograph = unpack(buffer);
  counts = count(photograph.codes);
  pick = null;
  $("meter-average").checked = true;
  $("spot").hidden = true;
  sides.a.load(photograph);
  sides.b.load(photograph);
  $("photo-name").textContent = photograph.name;
  await refresh();
}

async function send(file) {
  const turn = ++asked;
  const form = new FormData();
  form.append("file", file);
  $("photo-name").textContent = `Reading ${file.name} …`;
  const token = document.querySelector('meta[name="obverse-token"]').content;
  const response = await fetch("/api/projector/photograph", { method: "POST", headers: { Accept: "application/json", "X-Obverse-Token": token }, body: form });
  if (!response.ok) {
    $("photo-name").textContent = photograph?.name ?? "";
    const told = await response.json().catch(() => null);
    throw new Error(told?.detail ?? `The house answered ${response.status}.`);
  }
  await load(response, turn);
}

$("file").addEventListener("change", (event) => {
  if (event.target.files[0]) attempt(() => send(event.target.files[0]));
});
for (const kind of ["dragover", "dragenter"]) wall.addEventListener(kind, (event) => (event.preventDefault(), wall.classList.add("over")));
for (const kind of ["dragleave", "drop"]) wall.addEventListener(kind, () => wall.classList.remove("over"));
wall.addEventListener("drop", (event) => {
  event.preventDefault();
  if (event.dataTransfer.files[0]) attempt(() => send(event.dataTransfer.files[0]));
});

// The meter: a place in the picture, by pointer or by keys

function place(x, y) {
  pick = { x: Math.min(1, Math.max(0, x)), y: Math.min(1, Math.max(0, y)) };
  $("meter-spot").checked = true;
  showSpot();
  refresh();
}

function showSpot() {
  const spot = $("spot");
  spot.hidden = !pick;
  $("zone-row").hidden = !pick;
  if (!pick) return;
  spot.style.left = `${100 * pick.x}%`;
  spot.style.top = `${100 * pick.y}%`;
  $("spot-words").textContent = `spot at ${Math.round(100 * pick.x)} % across, ${Math.round(100 * pick.y)} % down`;
}

for (const side of ["a", "b"]) {
  const canvas = sides[side].canvas;
  canvas.addEventListener("click", (event) => place(event.offsetX / canvas.clientWidth, event.offsetY / canvas.clientHeight));
  canvas.addEventListener("pointermove", (event) => read(side, event.offsetX / canvas.clientWidth, event.offsetY / canvas.clientHeight));
}
$("canvas-a").addEventListener("keydown", (event) => {
  const move = { ArrowLeft: [-0.02, 0], ArrowRight: [0.02, 0], ArrowUp: [0, -0.02], ArrowDown: [0, 0.02] }[event.key];
  if (!move) return;
  event.preventDefault();
  const from = pick ?? { x: 0.5, y: 0.5 };
  place(from.x + move[0], from.y + move[1]);
});

function read(side, x, y) {
  if (!answer || !photograph) return;
  const slide = answer.slides[side === "a" ? 0 : 1];
  if (!slide) return;
  const i = Math.min(photograph.height - 1, Math.floor(y * photograph.height)) * photograph.width + Math.min(photograph.width - 1, Math.floor(x * photograph.width));
  const at = Math.min(slide.readout.density.length - 1, Math.round(photograph.codes[i] / slide.readout.step));
  const stops = slide.readout.log_exposure[at] / STOP;
  // What strays lies evenly over the wall; the picture falls off with the lamp.
  const stray = answer.sums.stray_cd_m2;
  const light = stray + (slide.readout.cd_m2[at] - stray) * sides[side].lightAt(i);
  $("readout").textContent = `Here: zone ${number(5 + stops, 1)} at box speed, density ${number(slide.readout.density[at])}, ${number(light, 1)} cd/m² on the wall.`;
}

$("meter-average").addEventListener("change", () => {
  pick = null;
  showSpot();
  refresh();
});
$("meter-spot").addEventListener("change", () => place(0.5, 0.5));

// Controls

for (const id of ["zone", "model", "shown-in", "white"]) $(id).addEventListener("change", refresh);
for (const side of ["a", "b"]) {
  $(`index-${side}`).addEventListener("input", () => {
    if (sides[side].answered) {
      runAhead(side);
      drawAll();
      wall.dispatchEvent(new CustomEvent("ahead"));
    }
    refresh();
  });
}
for (const id of ["flux", "width", "format", "gain", "stray", "room-lux", "callier", "corners", "granularity"]) $(id).addEventListener("input", refresh);
for (const side of ["a", "b"]) {
  $(`source-${side}`).addEventListener("change", () => {
    base[side] = null;
    $(`index-${side}`).value = 0;
    refresh();
    if (side === "a") card();
  });
}
for (const name of ["marks", "grain"]) {
  $(name).addEventListener("change", (event) => {
    how[name] = event.target.checked;
    drawAll();
  });
}
for (const id of ["flux", "gain", "stray", "room-lux", "callier", "corners"]) {
  $(id).addEventListener("change", keepScreen);
}

// The lens: the one that is worked out is not typed

const LENS = { focal: ["focal", "focal_mm", 0], throw: ["throw", "throw_m", 2], width: ["width", "width_m", 2] };

async function solveLens() {
  const sought = $("sought").value;
  for (const [key, [id]] of Object.entries(LENS)) $(id).readOnly = key === sought;
  if (!sought) {
    $("lens-words").textContent = "Any two of focal length, distance and picture width give the third.";
    return;
  }
  const given = { gate: $("format").value, sought };
  for (const [key, [id, name]] of Object.entries(LENS)) if (key !== sought) given[name] = orNull(id);
  try {
    const found = await post("/api/projector/lens", given);
    const [id, name, digits] = LENS[sought];
    $(id).value = found[name].toFixed(digits);
    $("lens-words").textContent = found.words;
    if (sought === "width") refresh();
  } catch (error) {
    $("lens-words").textContent = error.message;
  }
}
for (const id of ["focal", "throw", "width", "format", "sought"]) {
  $(id).addEventListener("change", async () => {
    await solveLens();
    keepScreen();
  });
}

// The card

async function card() {
  const query = new URLSearchParams({ source: $("source-a").value });
  if ($("card-index").value) query.set("exposure_index", $("card-index").value);
  if ($("card-p").value) query.set("p", $("card-p").value);
  if ($("card-guide").value) query.set("guide_number_m", $("card-guide").value);
  $("card-pdf").href = `/projector/card.pdf?${query}`;
  const found = await attempt(() => get(`/api/projector/card?${query}`));
  if (!found) return;
  $("card-dial").textContent = `${Math.round(found.dial)}`;
  $("card-known").textContent = found.known;
  $("card-range").textContent = number(found.range_stops, 1);
  $("card-range-note").textContent = `${number(found.under_stops, 1)} under and ${number(found.over_stops, 1)} over the metered tone; an average outdoor scene has ${number(found.scene_stops, 1)}`;
  $("card-bracket").textContent = found.bracket_words;
  fill("card-zones", found.zones, (zone) => [swatch(zone), zone.name, `${number(zone.density)} ± ${number(zone.density_sd)}`, `${number(zone.lightness, 0)}`, zone.words]);
  fill("card-filters", found.filters, (line) => [line.name, `${line.factor}×`, `+${number(line.stops, 0)}`]);
  fill("card-long", found.reciprocity, (line) => [`${line.metered_s} s`, line.give, line.range]);
  fill("card-flash", found.flash, (line) => [length(line.distance_m, 1), line.words]);
  cautions($("card-cautions"), found.cautions);
}

/** As light as the tone looks on the wall, white being its lightest: the very grey of the printed card. */
function swatch({ grey }) {
  const span = document.createElement("span");
  const level = Math.round(255 * grey);
  span.className = "swatch";
  span.style.background = `rgb(${level}, ${level}, ${level})`;
  return span;
}

function fill(id, rows, cells) {
  $(id).replaceChildren(
    ...rows.map((row) => {
      const line = document.createElement("tr");
      for (const content of cells(row)) {
        const cell = document.createElement("td");
        cell.append(content);
        line.append(cell);
      }
      return line;
    }),
  );
}

for (const id of ["card-index", "card-p", "card-guide"]) $(id).addEventListener("change", card);

// The aim that this wall asks for

let wanted = null;
async function askAim() {
  if (!answer) return;
  const found = await attempt(() => post("/api/projector/aim", { screen: screen(), surround: $("aim-surround").value, shown_on: $("aim-shown").value, source: $("source-a").value, base_density: Math.min(1.5, Math.max(0, answer.sums.slides[0].base_density)), against: $("aim-against").value }));
  if (!found) return;
  wanted = found.aim;
  const tile = (name, value, note) => {
    const box = document.createElement("div");
    box.className = "tile";
    const [dt, dd] = [document.createElement("dt"), document.createElement("dd")];
    const strong = document.createElement("span");
    strong.className = "tile-number";
    strong.textContent = value;
    const small = document.createElement("span");
    small.className = "tile-note";
    small.textContent = note;
    dt.textContent = name;
    dd.append(strong, small);
    box.append(dt, dd);
    return box;
  };
  $("aim-tiles").replaceChildren(
    tile("Mid-tone", number(wanted.midtone_density), "density above base"),
    tile("Gradient", `${number(wanted.gradient_min)} to ${number(wanted.gradient_max)}`, "on the densitometer"),
    tile("Blacks", number(wanted.dmax_min), "above base, or more"),
    tile("Highlights", number(wanted.highlight_density_max), "above base, or less"),
  );
  $("aim-surround").disabled = $("aim-shown").value !== "wall";
  $("aim-not").textContent = found.not_words;
  $("aim-made").textContent = found.made_for && `That one is made for ${found.made_for}.`;
  $("aim-setting").hidden = !found.setting;
  $("aim-setting-words").textContent = found.setting?.words ?? "";
  $("aim-set").dataset.dial = found.setting?.dial ?? "";
  const stops = found.index_stops;
  $("aim-words").textContent = `It shows ${Math.round(found.steps_of_wall)} steps from its black (${number(found.black_cd_m2)} cd/m²) to the open gate; an average scene shows ${Math.round(found.steps_of_scene)} of them with this aim, ${Math.round(found.steps_of_scene_against)} with “${found.against.replace("_", " ")}”. Its mid-tone asks for ${Math.abs(stops) < 0.05 ? "the same exposure" : `${number(Math.abs(stops), 1)} stop ${stops > 0 ? "more" : "less"} exposure`}.`;
  $("aim-prices").replaceChildren(...found.prices.map((price) => Object.assign(document.createElement("li"), { textContent: price.words })));
}
for (const id of ["aim-shown", "aim-surround", "aim-against"]) $(id).addEventListener("change", askAim);
wall.addEventListener("drawn", askAim);
$("aim-set").addEventListener("click", (event) => {
  $("card-index").value = event.target.dataset.dial;
  card();
  $("card-title").scrollIntoView();
});
$("aim-take")?.addEventListener("click", () => attempt(async () => {
  const film = $("aim-film");
  await post(`/api/notebook/films/${encodeURIComponent(film.value)}/plan`, { aim: wanted });
  toast(`${film.selectedOptions[0].textContent} now aims at this wall.`);
}));

// Second exposure

async function lamp() {
  const lux = field("lamp-lux-given");
  const light = lux > 0 ? { lux } : { flux_lm: field("lamp-flux"), distance_m: field("lamp-distance") / 100 };
  const body = { ...light, box_speed: field("lamp-speed"), seconds_a_side: field("lamp-seconds"), sides: Number($("lamp-sides").value), how: $("lamp-how").value };
  const found = await attempt(() => post("/api/projector/reexposure", body));
  if (!found) return;
  put("lamp-lux", found.lux, 0);
  $("lamp-lxs").textContent = `${Math.round(found.least_lx_s).toLocaleString("en")} to ${Math.round(found.most_lx_s).toLocaleString("en")}`;
  put("lamp-even", 100 * found.evenness, found.evenness < 0.1 ? 1 : 0);
  $("lamp-words").textContent = found.words;
  $("lamp-standing").textContent = found.standing;
}
for (const id of ["lamp-flux", "lamp-lux-given", "lamp-speed", "lamp-distance", "lamp-seconds", "lamp-sides", "lamp-how"]) $(id).addEventListener("change", lamp);
$("lamp").addEventListener("change", (event) => {
  if (event.target.value) $("lamp-flux").value = event.target.value;
  $("lamp-lux-given").value = event.target.selectedOptions[0].dataset.lux ?? "";
  lamp();
});

if (page.missing) toast("What was asked for has no curve; another is shown.", "error");
attempt(async () => load(await fetch("/api/projector/sample"), 0));
card();
lamp();
solveLens();
