// The page of a film: its story, what-if, aim, next strips, trials, recipes.

import { Refusal, numberIn, whenSent } from "/static/house/forms.js";
import { another, attempt, celsiusApart, celsiusOf, degreesApart, degreeSign, degreesOf, get, inMyTank, island, millilitresOf, post, tell, toast, toneStrip, tooLate, units } from "/static/house/house.js";
import { cautionLine, faultCard } from "/static/light_table/told.js";
import { Figure } from "/static/notebook/figure.js";
import { chartOf, make, minus, observable, percent, shown, written } from "/static/notebook/parts.js";
import { tablesOf } from "/static/notebook/values.js";

const film = island("film");
const facts = island("control-facts");
const aims = island("aims");
const grades = island("grades");
const faults = island("faults");
const recipes = island("recipes");
const baths = island("baths");
const api = `/api/notebook/films/${encodeURIComponent(film.id)}`;
const $ = (id) => document.getElementById(id);

let story = null;
const controls = {};
let thinking = "what if";

const figure = new Figure($("figure"), {
  onAim(aim, done) {
    if (!story) return;
    story.aim = aim;
    fillAim();
    ask();
    if (done) keepAim();
  },
  onTrial(index) {
    const details = document.querySelectorAll(".trial")[index];
    if (!details) return;
    details.open = true;
    details.scrollIntoView({ block: "center" });
    details.querySelector("summary").focus();
  },
});

function showHidden() {
  const button = $("all-strips");
  button.hidden = figure.hiddenCount === 0 && !figure.all;
  button.textContent = figure.all ? "Fewer strips" : figure.state.trials.length === 1 ? "The strip" : `All ${figure.state.trials.length} strips`;
}
$("all-strips").addEventListener("click", () => {
  figure.showAll(!figure.all);
  showHidden();
});

/** The tables are made when they are looked at, and follow what the figure shows; their boxes stay, for the focus. */
function showValues() {
  if (!$("values").open || !story) return;
  const tables = tablesOf(story, figure.what, figure.whatName);
  $("values").querySelectorAll(".table-box").forEach((box, i) => box.replaceChildren(tables[i]));
}
$("values").addEventListener("toggle", showValues);

/** The card stays in view while one scrolls: by its head where it fits the window, by its foot where it is taller. */
function keepInView() {
  const card = $("whatif");
  card.style.top = `${Math.min(12, window.innerHeight - card.offsetHeight - 12)}px`;
}
new ResizeObserver(keepInView).observe($("whatif"));
window.addEventListener("resize", keepInView);

// What if: one question on the way at a time, always the newest controls.

let asking = false;
let again = false;

async function ask() {
  if (asking) {
    again = true;
    return;
  }
  asking = true;
  do {
    again = false;
    try {
      showWhatIf(await post(`${api}/what-if`, { controls, aim: story.aim }));
    } catch (error) {
      tell(error);
    }
  } while (again);
  asking = false;
}

function showWhatIf(what) {
  figure.showWhatIf(what, thinking);
  showValues();
  toneStrip($("whatif-strip"), what.strip.density);
  $("chance").textContent = percent(what.probability_in_aim);
  $("observables").replaceChildren(...Object.entries(what.seen).map(([key, seen]) => observable(key, seen)));
  $("whatif-cautions").replaceChildren(...what.cautions.map(cautionLine));
}

// Controls in the units of whoever reads; what is kept and asked stays in those of the house.

const TEMPERATURE = "temperature_c";
const shownAs = (name, value) => (name === TEMPERATURE && Number.isFinite(value) ? degreesOf(value) : value);
const typedAs = (name, text) => (name === TEMPERATURE && text.trim() ? celsiusOf(text) : written(text));
const labelOf = (name) => (name === TEMPERATURE ? `${capital(facts[name].word)}, ${degreeSign}` : facts[name].label);
const unitOf = (name) => (name === TEMPERATURE ? degreeSign : facts[name].unit);
const inTank = (name, value) => (facts[name].unit === "mL/L" ? inMyTank(value) : "");

function buildSliders() {
  const varied = Object.keys(story.controls).filter((name) => story.controls[name].high > story.controls[name].low);
  const others = Object.keys(facts).filter((name) => !varied.includes(name));
  $("sliders").replaceChildren(...varied.map(slider), make("details", { id: "held-controls" }, make("summary", { textContent: "What you hold" }), ...others.map(numberField)));
  for (const name of varied) showValue(name);
}

/** A number that may be typed: also beyond the limits of the slider, as far as it can be at all. */
function typed(name) {
  const input = make("input", { id: `type-${name}`, inputMode: "decimal", className: "short typed" });
  input.setAttribute("aria-label", `${capital(facts[name].word)}, ${unitOf(name)}`);
  input.addEventListener("change", () => {
    const value = typedAs(name, input.value);
    if (value === null || Number.isNaN(value) || (name !== TEMPERATURE && value < 0)) {
      input.setAttribute("aria-invalid", "true");
      return tell(new Error(`${capital(facts[name].word)}: give a number${name === TEMPERATURE ? "" : ", zero or more"}.`));
    }
    input.removeAttribute("aria-invalid");
    return thought(name, value);
  });
  return input;
}

function thought(name, value) {
  controls[name] = value;
  thinking = "what if";
  $("whatif-from").textContent = "Your own thought; strip and curve follow.";
  showValue(name);
  ask();
}

function slider(name) {
  const range = story.controls[name];
  const id = `slide-${name}`;
  const input = make("input", { type: "range", id, min: range.low, max: range.high, step: range.step, value: controls[name] });
  input.addEventListener("input", () => thought(name, Number(input.value)));
  const unit = make("span", { className: "small soft" });
  return make("div", { className: "slider" }, make("label", { htmlFor: id, textContent: capital(facts[name].word), title: facts[name].meaning }), make("div", { className: "slider-row" }, input, make("span", { className: "typed-box" }, typed(name), unit)), make("p", { className: "small soft in-my-tank" }));
}

function numberField(name) {
  const input = typed(name);
  input.value = shownAs(name, controls[name]) ?? "";
  input.placeholder = String(shownAs(name, heldAt(name)));
  return make("div", { className: "slider-head held-control" }, make("label", { htmlFor: input.id, textContent: capital(facts[name].word) }), make("span", { className: "typed-box" }, input, make("span", { className: "small soft", textContent: name === "developer_parts_water" ? "1 +" : unitOf(name) })));
}

/** What a control that is not varied is counted as. */
function heldAt(name) {
  const range = story.controls[name];
  return range ? Math.min(range.high, Math.max(range.low, facts[name].reference)) : facts[name].reference;
}

const capital = (word) => word[0].toUpperCase() + word.slice(1);

function showValue(name) {
  const unit = controls[name] === 1 && name !== TEMPERATURE ? facts[name].unit_of_one : unitOf(name);
  const besides = inTank(name, controls[name]);
  $(`type-${name}`).value = shownAs(name, controls[name]);
  const slide = $(`slide-${name}`);
  if (!slide) return;
  slide.value = controls[name];
  slide.setAttribute("aria-valuetext", `${shownAs(name, controls[name])} ${unit}${besides && `, ${besides}`}`);
  slide.closest(".slider").querySelector(".typed-box span").textContent = unit;
  slide.closest(".slider").querySelector(".in-my-tank").textContent = besides;
}

function think(chosen, name, from) {
  for (const key of Object.keys(controls)) controls[key] = chosen[key] ?? (key in story.controls ? controls[key] : heldAt(key));
  thinking = name;
  $("whatif-from").textContent = from;
  for (const key of Object.keys(controls)) showValue(key);
  ask();
}

// The aim

const BOUNDS = ["dmax_min", "highlight_density_max", "gradient_min", "gradient_max", "midtone_log_exposure_min", "midtone_log_exposure_max", "midtone_density"];

function fillAim() {
  $("aim-name").value = story.aim.name in aims ? story.aim.name : "own";
  for (const name of BOUNDS) $(`aim-${name}`).value = story.aim[name] === null ? "" : minus(story.aim[name].toFixed(2));
}

/** Keep a part of the plan; where somebody changed it meanwhile, what was typed stays, and a second press keeps it. */
async function keepPlan(changes) {
  const kept = await another((anyway) => revised(() => post(`${api}/plan${anyway ? "?anyway=true" : ""}`, { revision: story.plan_revision, ...changes })));
  if (kept === null) { await load(); throw new Error("It was left as it is."); }
  story.plan_revision = kept.revision;
  return kept;
}

/** Do `work`; where it comes too late, learn the revisions that stand there now, and say what a second press does. */
async function revised(work) {
  try {
    return await work();
  } catch (error) {
    if (error.status !== 409 || !error.document.revision) throw error;
    const now = await get(`${api}/story`);
    story.plan_revision = now.plan_revision;
    film.revision = now.film.revision;
    for (const trial of story.trials) trial.revision = now.trials.find((one) => one.id === trial.id)?.revision ?? trial.revision;
    throw tooLate(error);
  }
}

async function keepAim() {
  const kept = await attempt(() => keepPlan({ aim: story.aim.name in aims ? story.aim.name : story.aim }));
  if (!kept) return;
  await load(false);
}

for (const name of BOUNDS) {
  $(`aim-${name}`).addEventListener("change", (event) => {
    const value = written(event.target.value);
    if (Number.isNaN(value) || (name === "midtone_density" && value === null)) {
      event.target.setAttribute("aria-invalid", "true");
      return tell(new Error(`${event.target.labels[0].textContent}: give a number${name === "midtone_density" ? "" : " or leave it empty"}.`));
    }
    event.target.removeAttribute("aria-invalid");
    story.aim = { ...story.aim, name: "own", [name]: value };
    return keepAim();
  });
}
$("aim-name").addEventListener("change", (event) => {
  if (event.target.value === "own") return;
  story.aim = { ...aims[event.target.value] };
  keepAim();
});

// The film and the controls

function fillPlan() {
  $("plan-controls").replaceChildren(...Object.entries(facts).map(([name, fact]) => {
    const range = story.controls[name] ?? fact;
    const vary = make("input", { type: "checkbox", name: "vary", value: name, checked: name in story.controls });
    const row = make("tr", {}, make("th", { scope: "row" }, make("label", { className: "check" }, vary, labelOf(name))));
    for (const [part, title] of [["low", "from"], ["high", "to"], ["step", "in steps of"]]) {
      const input = make("input", { name: part, inputMode: "decimal", value: name !== TEMPERATURE ? range[part] : part === "step" ? degreesApart(range[part]) : degreesOf(range[part]), className: "short" });
      input.setAttribute("aria-label", `${fact.word} ${title}`);
      row.append(make("td", {}, input));
    }
    return row;
  }));
}

whenSent($("plan-form"), async () => {
  const varied = {};
  for (const row of $("plan-controls").rows) {
    const box = row.querySelector('input[name="vary"]');
    if (!box.checked) continue;
    const cells = Object.fromEntries(["low", "high", "step"].map((part) => [part, row.querySelector(`input[name="${part}"]`).value]));
    const [low, high] = [typedAs(box.value, cells.low), typedAs(box.value, cells.high)];
    const step = box.value === TEMPERATURE && written(cells.step) !== null ? celsiusApart(written(cells.step)) : written(cells.step);
    for (const [part, value] of Object.entries({ low, high, step })) {
      if (value === null || Number.isNaN(value)) throw new Refusal(row.querySelector(`input[name="${part}"]`), `${capital(facts[box.value].word)}: give three numbers, from, to and the step.`);
    }
    varied[box.value] = { unit: facts[box.value].unit, low, high, step };
  }
  if (Object.keys(varied).length === 0) throw new Refusal($("plan-controls").querySelector('input[name="vary"]'), "Choose at least one control to vary.");
  const { id, revision, ...kept } = film;
  const [speed, base] = [numberIn($("p-speed"), "100"), numberIn($("p-base"), "0.27")];
  await keepPlan({ controls: varied });
  const changed = await another((anyway) => revised(() => post(`${api}/stock${anyway ? "?anyway=true" : ""}`, { ...kept, revision: film.revision, name: $("p-name").value.trim(), box_speed: speed, base_density: base })));
  if (changed === null) return;
  location.reload();
});

// What next

async function next() {
  const answer = await attempt(() => get(`${api}/next?count=${$("count").value}`));
  if (!answer) return;
  $("message").replaceChildren(make("span", { className: `badge ${answer.status === "ready" ? "badge-good" : "badge-amber"}`, textContent: answer.status === "ready" ? "\u2713 ready" : "not there yet" }), ` ${lead(answer)}`);
  $("next").replaceChildren(...answer.cautions.map(cautionLine), ...answer.suggestions.map((one, i) => suggestion(one, i, answer)));
  if (!touched) {
    touched = true;
    const first = answer.suggestions[0];
    if (first) think(first.controls, "proposed", "The strip proposed next. Move a control; strip and curve follow.");
  }
}

let touched = false;

/** Where one stands, what each number is about, and what is in the way. */
function lead(answer) {
  const first = answer.suggestions[0];
  const next = `The next strip, made with your tools, has a chance of ${percent(first.probability_in_aim)}.`;
  const best = story.trials.find((trial) => trial.name === answer.best_trial?.id);
  if (!best) return `${answer.message} Made with your tools it lies in the aim with a chance of ${percent(first.probability_in_aim)}.`;
  if (answer.status === "ready") return answer.message;
  const judged = Object.values(best.seen).filter((one) => one.probability !== null).sort((a, b) => a.probability - b.probability)[0];
  const bounds = [judged.least === null ? null : `at least ${minus(judged.least.toFixed(2))}`, judged.most === null ? null : `at most ${minus(judged.most.toFixed(2))}`].filter(Boolean).join(", ");
  const value = judged.estimate ? `${judged.name.toLowerCase()} ${minus(judged.estimate.value.toFixed(2))} (${minus(judged.estimate.low90.toFixed(2))} to ${minus(judged.estimate.high90.toFixed(2))}), wanted ${bounds}` : "the mid-tone is not reached";
  const known = best.patches.length ? "as it was read" : "by your words";
  const stuck = answer.cautions.some((one) => one.code === "notebook.out_of_reach" || one.code === "notebook.hardly_in_reach");
  return `${capital(best.name)} comes nearest: ${known} it lies in the aim with a chance of ${percent(best.probability_in_aim)}; what holds it back: ${value}. ${stuck ? answer.message : next}`;
}

function suggestion(one, i, answer) {
  const card = make("article", { className: "card next-card" });
  const strip = make("div");
  toneStrip(strip, one.strip.density);
  const title = answer.suggestions.length > 1 ? `Strip ${i + 1} of the roll` : answer.status === "ready" ? "If you want another" : "The next strip";
  const chance = make("p", { className: "chance" }, make("span", { className: "chance-number", textContent: percent(one.probability_in_aim) }), make("span", { textContent: "chance that this strip, made with your tools, lies in the aim" }));
  const bracket = one.log_exposures.map((x) => minus(`${x > 0 ? "+" : ""}${(x / Math.log10(2)).toFixed(1)}`)).join(", ");
  const see = make("button", { type: "button", textContent: "Look at it" });
  see.addEventListener("click", () => { think(one.controls, "proposed", `${title}, as proposed.`); $("whatif").scrollIntoView({ block: "nearest" }); });
  const plan = make("button", { type: "button", className: "primary", textContent: "Write it down" });
  plan.addEventListener("click", () => writeStrip(one.controls));
  card.append(make("h3", { textContent: title }), make("p", {}, make("strong", { textContent: one.controls_text })), strip, chance, make("p", { textContent: one.reason }),
    make("p", { className: "small soft", textContent: `Expose frames at these stops from the metered one: ${bracket}.` }), make("p", { className: "row" }, see, plan));
  if (answer.as_good) card.append(make("p", { className: "as-good", textContent: answer.as_good.sentence }), make("p", { className: "row" }, ...answer.as_good.recipes.map(asGood)));
  return card;
}

/** A recipe that is as good as the one proposed, to be looked at and written down as any other. */
function asGood(one, i, all) {
  const see = make("button", { type: "button", textContent: `Look at the ${all.length === 1 ? "other" : i === 0 ? "first" : "second"}` });
  see.addEventListener("click", () => { think(one.controls, "as good", `As good as the strip proposed, by what is known: ${percent(one.probability_in_aim)} against ${$("next").querySelector(".chance-number").textContent}.`); $("whatif").scrollIntoView({ block: "nearest" }); });
  return see;
}

$("count").addEventListener("change", next);

/** What was said of a first developer that is used again; nothing for a fresh one. */
function usedBefore() {
  const films = written($("films-before").value) ?? 0;
  const volume = millilitresOf($("developer-ml").value);
  if (Number.isNaN(films)) throw new Error("Films developed before: give a number, 0 for a fresh developer.");
  if (films !== 0 && !(volume > 0)) throw new Error(`Volume of the developer: give it in mL${units.fluids === "metric" ? "" : " or fl oz"}.`);
  return films === 0 ? {} : { films_before: films, developer_ml: volume };
}

async function writeStrip(chosen, used = () => ({})) {
  const kept = await attempt(() => post(`${api}/trials`, { controls: chosen, ...used() }));
  if (!kept) return;
  $("films-before").value = "0";
  toast(`${capital(kept.name)} is written down and waits for its readings.`);
  await load();
}
$("write-strip").addEventListener("click", ({ detail }) => {
  // The second half of a slow double click comes when what was said of the developer is forgotten: to the house it is another strip.
  if (detail < 2) writeStrip(controls, usedBefore);
});

// The trials

function trialEntry(trial, index) {
  const details = make("details", { className: "trial" });
  const sure = trial.verdict === "in the aim";
  const unread = trial.verdict === "not read yet";
  const badge = make("span", { className: `badge ${sure ? "badge-good" : ""}`, textContent: unread ? "not read yet" : `${sure ? "\u2713 " : ""}${percent(trial.probability_in_aim)} in the aim` });
  const state = trial.patches.length > 0 || unread ? "" : ", by eye";
  details.append(make("summary", {}, make("span", { textContent: `${index + 1}. ${trial.name}${whose(trial)}${state}` }), make("span", { className: "controls", textContent: trial.wear_text ? `${trial.controls_text}; ${trial.wear_text}` : trial.controls_text }), badge));
  const body = make("div", { className: "trial-body" });
  const seen = make("div", {}, ...Object.entries(trial.seen).map(([key, one]) => observable(key, one)));
  seen.append(make("p", { className: "row small" },
    make("a", { className: "button", href: `/light-table?trial=${trial.id}`, textContent: trial.patches.length ? "On the light table" : "Enter its readings" }),
    trial.picture
      ? make("a", { className: "button quiet", href: `/light-table/picture?picture=${trial.picture}`, textContent: "Its picture" })
      : make("a", { className: "button quiet", href: `/light-table/picture?trial=${trial.id}`, textContent: "Read a picture" }),
    trial.run ? make("a", { className: "button quiet", href: `/sink/${trial.run}`, textContent: "Its evening" }) : ""));
  body.append(seen, eyeForm(trial));
  details.append(body);
  const told = make("div", { className: "faults-told" });
  details.append(told);
  details.addEventListener("toggle", () => {
    figure.highlight(details.open ? index : null);
    if (details.open && trial.patches.length > 2 && !told.hasChildNodes()) tellFaults(trial, told);
  });
  return details;
}

async function tellFaults(trial, told) {
  told.replaceChildren(make("p", { className: "small soft", textContent: "Looking for faults\u2026" }));
  const answer = await attempt(() => get(`/api/notebook/trials/${trial.id}/faults`));
  const found = answer?.faults ?? [];
  told.replaceChildren(...(found.length ? found.map(faultCard) : [make("p", { className: "small soft", textContent: answer ? "No fault that the curve would show." : "" })]));
}

function eyeForm(trial) {
  const form = make("form");
  const eye = make("div", { className: "eye-grid" });
  for (const [of, names] of Object.entries(grades)) {
    const id = `eye-${trial.id}-${of}`;
    const select = make("select", { id, name: of }, new Option("not judged", ""), ...names.map((name) => new Option(name.replaceAll("_", " "), name)));
    select.value = trial.grades.find((grade) => grade.of === of)?.grade ?? "";
    eye.append(make("div", { className: "field" }, make("label", { htmlFor: id, textContent: capital(of) }), select));
  }
  const marks = make("div", { className: "faults-grid" }, ...faults.map((name) => {
    const box = make("input", { type: "checkbox", name: "fault", value: name, checked: trial.faults.includes(name) });
    return make("label", { className: "check small" }, box, name.replaceAll("_", " "));
  }));
  const note = make("textarea", { id: `note-${trial.id}`, rows: 2, maxLength: 4000, value: trial.note });
  const of = make("select", { id: `of-${trial.id}` }, new Option("a trial", ""), ...recipes.map((recipe) => new Option(`control strip of ${recipe.name}`, recipe.id)));
  of.value = trial.recipe;
  // A control that was not told may be remembered later.
  const told = Object.keys(facts).filter((name) => name in trial.controls || name in story.controls || name in trial.control_sds);
  const changes = make("div", { className: "eye-grid" }, ...told.map((name) => {
    const id = `was-${trial.id}-${name}`;
    return make("div", { className: "field" }, make("label", { htmlFor: id, textContent: labelOf(name) }), make("input", { id, name, inputMode: "decimal", placeholder: "not told", value: shownAs(name, trial.controls[name]) ?? "" }));
  }));
  const worn = make("div", { className: "eye-grid" }, ...Object.entries(baths).map(([bath, name]) => {
    const id = `wear-${trial.id}-${bath}`;
    return make("div", { className: "field" }, make("label", { htmlFor: id, textContent: `${capital(name)} used before, %` }), make("input", { id, name: `wear-${bath}`, inputMode: "decimal", value: Number((100 * (trial.wear[bath] ?? 0)).toFixed(1)) }));
  }));
  form.append(make("h3", { textContent: "What your eye says" }), eye,
    make("details", {}, make("summary", { textContent: "Faults, controls, worn baths, note" }), make("p", { className: "small soft", textContent: "A faulty strip still teaches what its fault does not hide." }), marks, changes, worn,
      make("p", { className: "small soft", textContent: "Share of what the bath can do that films before this strip had used: 0 fresh, 100 spent." }),
      make("div", { className: "field" }, make("label", { htmlFor: note.id, textContent: "Note" }), note),
      recipes.length ? make("div", { className: "field" }, make("label", { htmlFor: of.id, textContent: "This strip is" }), of) : ""));
  const aside = make("button", { type: "button", className: "quiet", textContent: "Put aside" });
  aside.addEventListener("click", () => attempt(async () => {
    const gone = await another((anyway) => post(`/api/notebook/trials/${trial.id}/retire${anyway ? "?anyway=true" : ""}`));
    if (gone) location.reload();
  }));
  form.append(make("p", { className: "row" }, make("button", { className: "primary", textContent: "Keep" }), aside));
  whenSent(form, async () => {
    const said = Object.keys(grades).map((name) => ({ of: name, grade: form.querySelector(`select[name="${name}"]`).value })).filter((grade) => grade.grade);
    const did = {};
    for (const name of told) {
      const field = form.querySelector(`input[name="${name}"]`);
      const value = typedAs(name, field.value);
      if (value === null && !(name in trial.controls)) continue;
      if (value === null || Number.isNaN(value)) throw new Refusal(field, `${capital(facts[name].word)}: give a number.`);
      did[name] = value;
    }
    const wear = {};
    for (const [bath, name] of Object.entries(baths)) {
      const field = form.querySelector(`input[name="wear-${bath}"]`);
      const share = written(field.value) ?? 0;
      if (!(share >= 0 && share <= 100)) throw new Refusal(field, `${capital(name)} used before: give 0 to 100 %.`);
      if (share > 0) wear[bath] = share / 100;
    }
    const kept = await another((anyway) => revised(() => post(`/api/notebook/trials/${trial.id}`, { anyway, revision: trial.revision, controls: did, wear, grades: said, faults: [...form.querySelectorAll('input[name="fault"]:checked')].map((box) => box.value), note: note.value, recipe: of.value })));
    if (kept === null) return;
    toast(`${capital(trial.name)} is kept.`);
    await load();
  });
  return form;
}

for (const button of document.querySelectorAll("[data-restore]")) {
  button.addEventListener("click", () => attempt(async () => {
    const back = await another((anyway) => post(`/api/notebook/trials/${button.dataset.restore}/restore${anyway ? "?anyway=true" : ""}`));
    if (back) location.reload();
  }));
}

// What was learned

function showLearned() {
  $("learned-list").replaceChildren(...story.learned.map((one) => {
    const e = one.estimate;
    const show = (value) => shown(value, one.digits);
    return make("div", {}, make("dt", {}, one.name, make("span", { textContent: one.meaning })), make("dd", {}, `${show(e.value)}${one.unit ? ` ${one.unit}` : ""}`, make("span", { textContent: `${show(e.low90)} to ${show(e.high90)}` })), one.before ? make("dd", { className: "before", textContent: `before any strip ${show(one.before.value)} (${show(one.before.low90)} to ${show(one.before.high90)})` }) : "");
  }));
  $("by-words").textContent = story.by_words;
  $("by-words").hidden = !story.by_words;
  const best = story.trials.find((trial) => trial.id === story.best);
  $("effects-at").textContent = best ? `Counted from ${best.name}, the nearest strip: ${best.controls_text}.` : "Counted from the middle of what films do: no strip was read or judged yet.";
  $("robust-at").textContent = best ? `The recipe of ${best.name}, made once more with your tools, lies in the aim with a chance of ${percent(story.repeated)}; the strip itself with ${percent(best.probability_in_aim)}. What a slip does to that:` : "Nothing to repeat yet: no strip was read or judged.";
  const columns = [["dmax", "Blacks"], ["highlight_density", "Highlights"], ["gradient", "Gradient"], ["midtone_log_exposure", "Mid-tone, stops"]];
  const cell = (key, change) => {
    if (!change) return "\u2013";
    const scale = key === "midtone_log_exposure" ? 1 / Math.log10(2) : 1;
    const show = (value) => shown(value * scale, 2, true);
    return `${show(change.value)} <span class="soft small">(${show(change.low90)} to ${show(change.high90)})</span>`;
  };
  $("effects").innerHTML = `<table><thead><tr><th>One step</th>${columns.map(([, name]) => `<th>${name}</th>`).join("")}</tr></thead><tbody>${story.effects.map((row) => `<tr><th scope="row">${row.step}</th>${columns.map(([key]) => `<td>${cell(key, row.changes[key])}</td>`).join("")}</tr>`).join("")}</tbody></table>`;
}

// Recipes

function fillLock() {
  const kept = $("lock-trial").value;
  $("lock-trial").replaceChildren(...story.trials.map((trial, i) => new Option(`${i + 1}. ${trial.name}, ${percent(trial.probability_in_aim)} in the aim`, trial.name)));
  $("lock-trial").value = kept || story.trials.find((trial) => trial.id === story.best)?.name || "";
  $("robust").replaceChildren(...story.robustness.map((line) => make("li", { textContent: capital(line) })));
  showProcess();
  for (const part of $("lock").querySelectorAll("button")) part.disabled = story.trials.length === 0;
}

/** The process that made the strip comes first; where no evening tells it, the person says it. */
function showProcess() {
  const trial = story.trials.find((one) => one.name === $("lock-trial").value);
  const first = $("lock-route").options[0];
  first.textContent = trial?.process ? `as it was made: ${trial.process}` : "choose the process that made it";
  first.dataset.known = trial?.process ? "yes" : "";
  $("lock-route").value = "";
}
$("lock-trial").addEventListener("change", showProcess);

whenSent($("lock"), async () => {
  if (!$("lock-route").value && !$("lock-route").options[0].dataset.known) {
    throw new Refusal($("lock-route"), "Process: choose the one that made this strip.");
  }
  const recipe = { trial: $("lock-trial").value, name: $("lock-name").value.trim(), route: $("lock-route").value, note: $("lock-note").value };
  const kept = await lockOrAsk(recipe);
  if (!kept) return;
  sessionStorage.setItem("obverse-said", `Locked: revision ${kept.revision}.`);
  location.hash = "recipe";
  location.reload();
});

/** Whose a strip is, and who else changed it. */
function whose(trial) {
  const changed = trial.changed_by ? `, changed by ${trial.changed_by}` : "";
  return (trial.person ? `, ${trial.person}'s` : "") + changed;
}

/** A strip that misses the aim is locked only after the person was asked. */
async function lockOrAsk(recipe) {
  try {
    return await another((anyway) => post(`${api}/recipes${anyway ? "?anyway=true" : ""}`, recipe));
  } catch (error) {
    if (error.document?.code !== "unlikely") throw error;
    if (!window.confirm(`${capital(error.document.what)}. Lock it anyway?`)) return null;
    return another((anyway) => post(`${api}/recipes${anyway ? "?anyway=true" : ""}`, { ...recipe, anyway: true }));
  }
}

for (const button of document.querySelectorAll("[data-chart]")) {
  button.addEventListener("click", () => attempt(async () => {
    const answer = await get(`/api/notebook/recipes/${encodeURIComponent(button.dataset.chart)}/chart`);
    $("chart").replaceChildren(make("p", { className: "small soft", textContent: `Limits from the first ${answer.baseline} strips, three sigma. Amber: weighted average. A cross marks a strip at which a rule speaks.` }), ...answer.charts.map(chartOf));
  }));
}

// Saving

function save(blob, ending) {
  const link = make("a", { href: URL.createObjectURL(blob), download: `${film.name.replace(/[^A-Za-z0-9]+/g, "-")}.${ending}` });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 2000);
}
$("save-svg").addEventListener("click", () => save(new Blob([figure.text()], { type: "image/svg+xml" }), "svg"));
$("save-png").addEventListener("click", () => attempt(async () => save(await figure.png(), "png")));
$("print").addEventListener("click", () => window.print());

/** Strips as they were read, with lines through their readings, until what is believed of them has been reckoned. */
function drawAsRead() {
  const read = island("strips");
  const trials = read.trials.map((trial) => ({ ...trial, verdict: "", curve_is: "measured", curve: { log_exposure: trial.patches.map((p) => p.log_exposure), density: trial.patches.map((p) => p.density) } }));
  figure.render({ ...read, trials, best: null });
  showHidden();
}

async function load(trials = true) {
  const told = await attempt(() => get(`${api}/story`));
  if (!told) return;
  story = told;
  $("strip-count").textContent = `${story.trials.length} strip${story.trials.length === 1 ? "" : "s"}`;
  if (Object.keys(controls).length === 0) {
    // The sliders begin at the nearest strip.
    const best = story.trials.find((trial) => trial.id === story.best);
    for (const [name, range] of Object.entries(story.controls)) controls[name] = best?.controls[name] ?? Math.round((range.low + range.high) / 2 / range.step) * range.step;
    buildSliders();
  }
  fillAim();
  fillPlan();
  figure.render(story);
  showHidden();
  showValues();
  if (trials) $("trial-list").replaceChildren(...(story.trials.length ? story.trials.map(trialEntry) : [make("div", { className: "empty" }, make("p", { textContent: "No strip yet. The first one is proposed above: nothing is known of this film but what films in general do." }))]));
  showLearned();
  fillLock();
  for (const part of document.querySelectorAll("[inert]")) part.inert = false;
  ask();
  await next();
}

const said = sessionStorage.getItem("obverse-said");
if (said) {
  sessionStorage.removeItem("obverse-said");
  toast(said);
}
drawAsRead();
load();
