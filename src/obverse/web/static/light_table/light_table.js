// The light table: a table of readings, looked at again after every change.

import { CurveFigure } from "/static/house/curve.js";
import { numberIn, whenSent } from "/static/house/forms.js";
import { another, attempt, island, post, tell, toast, toneStrip, tooLate, withPoint } from "/static/house/house.js";
import { faultCard, cautionLine, numberTiles } from "/static/light_table/told.js";

const STOP = Math.log10(2);
const laid = island("laid");
const films = island("films");
const aims = island("aims");
const facts = island("control-facts");
const shotLists = island("shot-lists");
const $ = (id) => document.getElementById(id);
const body = document.querySelector("#readings tbody");
let source = "typed";

const signed = (value, digits) => `${value < 0 ? "\u2212" : "+"}${Math.abs(value).toFixed(digits)}`;
const parse = (text) => Number.parseFloat(withPoint(text));

function addRow(logExposure = "", density = "", sd = "", stainIndex = null) {
  const row = body.insertRow();
  // The colour of a patch is not for typing; it travels with its row until somebody types another density.
  if (stainIndex !== null) row.dataset.stainIndex = stainIndex;
  const n = body.rows.length;
  row.insertCell().className = "number";
  for (const [name, value] of [["log exposure", logExposure], ["density", density], ["sd", sd]]) {
    const input = Object.assign(document.createElement("input"), { value, inputMode: "decimal", name: name.replace(" ", "_") });
    input.setAttribute("aria-label", `${name} of reading ${n}`);
    if (name === "density") input.addEventListener("input", () => delete row.dataset.stainIndex);
    row.insertCell().append(input);
  }
  const remove = Object.assign(document.createElement("button"), { type: "button", className: "quiet", textContent: "\u00d7" });
  remove.setAttribute("aria-label", `remove reading ${n}`);
  remove.addEventListener("click", () => { row.remove(); changed(); });
  row.insertCell().append(remove);
  return row;
}

function fill(given) {
  body.replaceChildren();
  for (const patch of given) addRow(patch.log_exposure, patch.density ?? "", patch.density_sd ?? "", patch.stain_index ?? null);
  if (given.length === 0) for (let i = 0; i < 5; i += 1) addRow();
  changed();
}

/** The readings that are whole; a row half filled waits. */
function patches() {
  const found = [];
  for (const row of body.rows) {
    const [x, d, sd] = [...row.querySelectorAll("input")].map((input) => parse(input.value));
    row.cells[0].textContent = Number.isFinite(x) ? signed(x / STOP, 2) : "";
    if (Number.isFinite(x) && Number.isFinite(d)) found.push({ log_exposure: x, density: d, density_sd: Number.isFinite(sd) && sd > 0 ? sd : null, stain_index: row.dataset.stainIndex === undefined ? null : Number(row.dataset.stainIndex) });
  }
  return found;
}

const film = () => films.find((one) => one.id === $("film").value);
let timer = 0;
let asked = 0;

function changed() {
  clearTimeout(timer);
  timer = setTimeout(look, 160);
}

async function look() {
  const given = patches();
  for (const id of ["attach", "export-csv", "export-cgats"]) if ($(id)) $(id).disabled = given.length === 0;
  if (given.length < 3) {
    $("seen").hidden = true;
    return;
  }
  const base = parse($("base").value);
  const speed = parse($("speed").value);
  asked += 1;
  const mine = asked;
  try {
    const seen = await post("/api/light-table/look", {
      patches: given, base_density: Number.isFinite(base) ? base : null, box_speed: speed > 0 ? speed : null,
      exposed: $("exposed").value,
      aim: film() ? film().aim : $("aim").value,
      film: film()?.id ?? "", trial: film() && $("trial") && $("trial").value !== "new" ? $("trial").value : "",
    });
    if (mine === asked) show(seen);
  } catch (error) {
    if (mine === asked) tell(error);
  }
}

const figure = new CurveFigure($("plot"));

function show(seen) {
  $("seen").hidden = false;
  toneStrip($("strip"), seen.strip);
  numberTiles($("numbers"), seen.numbers);
  $("faults").replaceChildren(...seen.faults.map(faultCard));
  $("cautions").replaceChildren(...[...seen.doubts.map((doubt) => ({ level: "note", text: `${doubt.sentence}; ${doubt.way_on}.` })), ...seen.numbers.cautions].map(cautionLine));
  draw(seen);
}

function draw({ curve, readings, numbers }) {
  const aim = film() ? film().aim : aims[$("aim").value];
  figure.draw({ curve, readings, boxes: aimBoxes(aim, numbers, curve) });
}

/** Windows of the aim, in absolute density where the base is known. */
function aimBoxes(aim, numbers, curve) {
  const base = parse($("base").value);
  const mid = numbers.midtone_log_exposure?.value;
  if (!Number.isFinite(base) || !aim) return [];
  const found = [];
  const [low, high] = [curve.log_exposure[0], curve.log_exposure.at(-1)];
  if (aim.dmax_min != null) found.push([low, low + 0.35, base + aim.dmax_min, base + aim.dmax_min + 1]);
  if (aim.highlight_density_max != null && mid !== undefined) found.push([mid + 0.65, Math.min(mid + 0.95, high), base, base + aim.highlight_density_max]);
  if (aim.midtone_log_exposure_min != null && aim.midtone_log_exposure_max != null)
    found.push([aim.midtone_log_exposure_min, aim.midtone_log_exposure_max, base + aim.midtone_density - 0.06, base + aim.midtone_density + 0.06]);
  return found;
}

// Entering

body.addEventListener("input", changed);
body.addEventListener("paste", (event) => {
  const text = event.clipboardData.getData("text");
  if (!/[\n\t]/.test(text.trim())) return;
  event.preventDefault();
  take(/[a-z]/i.test(text.split("\n")[0]) ? text : `log_exposure\tdensity${text.trim().split("\n")[0].split(/\t|,|;/).length > 2 ? "\tsd" : ""}\n${text.replaceAll(",", "\t").replaceAll(";", "\t")}`, "pasted list");
});
$("add-row").addEventListener("click", () => addRow().querySelector("input").focus());
$("clear").addEventListener("click", () => { source = "typed"; fill([]); });
for (const id of ["base", "speed"]) $(id).addEventListener("input", changed);
for (const id of ["aim", "exposed"]) $(id).addEventListener("change", changed);

/** Take in a list; what it looks like instead of log exposures and densities is asked, never guessed. */
async function take(text, name, how = {}) {
  await attempt(async () => {
    const base = parse($("base").value);
    const speed = parse($("speed").value);
    const read = await post("/api/light-table/read-text", { text, name, base_density: Number.isFinite(base) ? base : null, box_speed: speed > 0 ? speed : null, ...how });
    showDoubts(read, text, name);
    if (!read.patches.length) return;
    source = "list";
    fill(read.patches);
    toast(`${read.patches.length === 1 ? "1 reading" : `${read.patches.length} readings`} from ${name}.`);
  });
}

function showDoubts(read, text, name) {
  const box = $("doubts");
  box.replaceChildren();
  box.hidden = !read.doubts.length;
  const blocked = !read.patches.length;
  for (const doubt of read.doubts) {
    const line = document.createElement("p");
    line.textContent = `${name}: ${doubt.sentence}; ${doubt.way_on}.`;
    box.append(line);
    const button = (words, how) => {
      const one = document.createElement("button");
      one.type = "button";
      one.textContent = words;
      one.addEventListener("click", () => take(text, name, how));
      box.append(one);
    };
    if (doubt.convertible) button("Convert it so", { convert: doubt.code });
    if (blocked && doubt.verdict === "likely_not") button("Take it as it stands", { as_it_is: true });
  }
  if (blocked && read.doubts.length) box.querySelector("button")?.focus();
}

async function takeFile(file) {
  if (!file) return;
  if (file.size > 4_000_000) return tell(new Error(`${file.name}: a list of readings is smaller than 4 MB; give the list alone.`));
  await take(await file.text(), file.name);
}

$("file").addEventListener("change", (event) => { takeFile(event.target.files[0]); event.target.value = ""; });
for (const kind of ["dragenter", "dragover"]) $("drop").addEventListener(kind, (event) => { event.preventDefault(); $("drop").classList.add("over"); });
for (const kind of ["dragleave", "drop"]) $("drop").addEventListener(kind, () => $("drop").classList.remove("over"));
$("drop").addEventListener("drop", (event) => { event.preventDefault(); takeFile(event.dataTransfer.files[0]); });

$("fill").addEventListener("change", async (event) => {
  const choice = event.target.value;
  if (!choice) return;
  const [kind, value] = choice.split("-");
  let exposures;
  if (kind === "tablet") {
    const count = Number(value);
    const step = count === 21 ? 0.15 : 0.3;
    // The middle of the tablet on the metered mid-tone; densest step first, least exposure.
    exposures = Array.from({ length: count }, (_, i) => (i - (count - 1) / 2) * step);
  } else if (kind === "bracket") {
    const answer = await attempt(() => post("/api/light-table/shots", { step_stops: Number(value) }));
    exposures = answer?.shots.map((shot) => shot.log_exposure);
  } else exposures = shotLists[Number(value)].map((shot) => shot.log_exposure);
  if (exposures) fill(exposures.map((x) => ({ log_exposure: x.toFixed(3) })));
  source = "frames";
  event.target.value = "";
  body.querySelector('input[name="density"]')?.focus();
});

// The film and the trial

function filmChosen() {
  const chosen = film();
  $("aim").disabled = Boolean(chosen);
  if (chosen) {
    $("base").value = chosen.base_density ?? "";
    $("speed").value = chosen.box_speed;
  }
  const trial = $("trial");
  if (trial) {
    trial.replaceChildren();
    if (!chosen) trial.append(new Option("choose a film above", ""));
    else {
      trial.append(new Option("a new trial", "new"));
      for (const one of chosen.trials) trial.append(new Option(one.read ? `${one.name} (replaces its readings)` : one.name, one.id, false, one.id === laid.trial));
    }
    trialChosen();
  }
  changed();
}

function trialChosen() {
  const chosen = film();
  const box = $("controls");
  box.hidden = $("trial").value !== "new";
  box.replaceChildren(...(chosen?.controls ?? []).map((name) => {
    const field = Object.assign(document.createElement("div"), { className: "field" });
    const input = Object.assign(document.createElement("input"), { id: `c-${name}`, inputMode: "decimal", value: (facts[name].low + facts[name].high) / 2 });
    field.append(Object.assign(document.createElement("label"), { htmlFor: input.id, textContent: facts[name].label }), input);
    return field;
  }));
}

$("film").addEventListener("change", filmChosen);
$("trial")?.addEventListener("change", () => {
  trialChosen();
  changed();
});
$("attach")?.addEventListener("click", () => attempt(async () => {
  const chosen = film();
  if (!chosen) throw new Error("Choose a film of the notebook first.");
  const given = patches();
  const reading = laid.reading || (await post("/api/light-table/reading", { name: `${chosen.name}, strip`, source, patches: given })).id;
  const isNew = $("trial").value === "new";
  const controls = isNew ? Object.fromEntries(chosen.controls.map((name) => [name, parse($(`c-${name}`).value)])) : {};
  const into = isNew ? undefined : chosen.trials.find((one) => one.id === $("trial").value);
  const kept = await another((anyway) => post("/api/light-table/attach", { film: chosen.id, trial: into?.id ?? "", revision: into?.revision, controls, patches: given, reading, picture: laid.picture, exposed: $("exposed").value, anyway })).catch((error) => {
    if (error.status !== 409 || !error.document.revision) throw error;
    into.revision = error.document.revision;
    throw tooLate(error);
  });
  if (kept) location.assign(`/notebook/${encodeURIComponent(kept.film)}#trials`);
}));

for (const format of ["csv", "cgats"]) {
  $(`export-${format}`).addEventListener("click", () => attempt(async () => {
    const name = laid.name || "readings";
    const text = await post("/api/light-table/export", { patches: patches(), format, name });
    const link = Object.assign(document.createElement("a"), { href: URL.createObjectURL(new Blob([text], { type: "text/plain" })), download: `${name.replace(/[^A-Za-z0-9]+/g, "-")}.${format === "csv" ? "csv" : "txt"}` });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
  }));
}

// The shot list

whenSent($("bracket-form"), async () => {
  const fraction = $("b-time").value.trim().match(/^1\s*\/\s*(\d+(?:\.\d+)?)$/);
  const time = fraction ? 1 / Number(fraction[1]) : numberIn($("b-time"), "1/30");
  const answer = await post("/api/light-table/shots", { low_stops: numberIn($("b-low"), "-5"), high_stops: numberIn($("b-high"), "5"), step_stops: Number($("b-step").value), metered_shutter_s: time, name: $("b-name").value.trim() });
  const rows = answer.shots.map((shot) => {
    const shown = shot.shutter ?? "";
    return `<tr><td class="number">${shot.frame}</td><td class="number">${signed(shot.stops, 2)}</td><td class="number">${signed(shot.log_exposure, 3)}</td><td class="number">${shown}</td></tr>`;
  });
  $("shots").hidden = false;
  $("shots").innerHTML = `<table><thead><tr><th class="number">Frame</th><th class="number">Stops</th><th class="number">Log exposure</th><th class="number">Time</th></tr></thead><tbody>${rows.join("")}</tbody></table>`;
  if (answer.shots.some((shot) => shot.shutter_s > 1)) toast("Times over 1 s lose speed (reciprocity): open the aperture instead, or add light.");
  if (answer.id) toast("Kept. It stands among the exposures to begin with.");
});

if (laid.film) $("film").value = laid.film;
fill(laid.patches);
filmChosen();
