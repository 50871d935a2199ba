// Past strips: a table pasted or loaded, what each row becomes, and the confirmation. Nothing is written before it.

import { Refusal, whenSent } from "/static/house/forms.js";
import { attempt, celsiusOf, degreeSign, degreesOf, island, millilitresOf, post, tell, units, volume } from "/static/house/house.js";
import { make, written } from "/static/notebook/parts.js";

const whats = island("whats");
const facts = island("control-facts");
const $ = (id) => document.getElementById(id);
const MOST_BYTES = 4_000_000;
const TAKE = document.querySelectorAll("[data-take]");

/** What the person said of the table beyond its text. */
let said = {};
let seen = null;

function fresh() {
  said = { match: {}, held: {}, films: {}, speeds: {}, corrections: {}, leave_out: [], as_another: [], as_correction: [] };
}
fresh();

function given() {
  const tank = millilitresOf($("said-tank").value);
  if (Number.isNaN(tank)) throw new Refusal($("said-tank"), `Bath of bare mL: give it in mL${units.fluids === "metric" ? "" : " or fl oz"}, or leave it empty.`);
  return { text: $("table-text").value, ...said, tank_ml: tank, film: $("said-film").value.trim(), month_first: $("said-dates").value === "month" };
}

/** Look again; the focus stays where it was. */
const look = () => attempt(lookAtIt);

async function lookAtIt() {
  const focus = document.activeElement?.id;
  seen = await post("/api/notebook/past-strips/look", given());
  show();
  if (focus) $(focus)?.focus();
  return true;
}

function show() {
  $("seen").hidden = false;
  $("done").hidden = true;
  $("seen-sentence").textContent = seen.sentence;
  const writes = seen.new + seen.corrected;
  for (const button of TAKE) {
    button.disabled = writes === 0;
    button.textContent = ["Nothing to write down", "Write it down"][writes] ?? `Write ${writes} strips down`;
  }
  $("columns").replaceChildren(...seen.columns.map(columnCard));
  $("past-films").replaceChildren(...seen.films.map(filmCard));
  $("held-part").hidden = seen.held.length === 0;
  $("held").replaceChildren(...seen.held.map(heldField));
  $("rows").replaceChildren(...seen.rows.map(rowCard), ...seen.left_out.map(outCard));
}

function field(id, label, control, hint = "") {
  control.id = id;
  const box = make("div", { className: "field" }, make("label", { htmlFor: id, textContent: label }), control);
  if (hint) box.append(make("p", { className: "hint", textContent: hint }));
  return box;
}

function columnCard(column) {
  const select = make("select", {}, ...Object.entries(whats).map(([key, word]) => new Option(word, key)));
  if (!(column.what in whats)) select.append(new Option(`density at ${column.what.split(":")[1]} stops`, column.what));
  select.append(new Option("density at an exposure\u2026", "density"));
  select.value = column.what;
  select.addEventListener("change", () => {
    let what = select.value;
    if (what === "density") {
      const stops = written(window.prompt("At how many stops from the metered mid-tone? Such as -2, 0 or 1.5", "0") ?? "");
      if (stops === null || Number.isNaN(stops)) {
        select.value = column.what;
        return;
      }
      what = `density:${stops}`;
    }
    said.match[`#${column.place + 1}`] = what;
    look();
  });
  const card = make("div", { className: "past-column" }, field(`column-${column.place}`, column.head || `column ${column.place + 1}`, select));
  const examples = column.examples.length ? `such as ${column.examples.join(" \u00b7 ")}` : "empty";
  card.append(make("p", { className: "small soft", textContent: column.in_ml ? `${examples}; mL in ${volume(column.in_ml)}` : examples }));
  if (column.told) card.append(make("p", { className: "small", textContent: `${column.told[0].toUpperCase()}${column.told.slice(1)}.` }));
  return card;
}

function filmCard(film) {
  const name = make("input", { value: film.name, maxLength: 120 });
  name.setAttribute("list", "known-films");
  name.addEventListener("change", () => {
    for (const one of film.written) said.films[one] = name.value.trim();
    look();
  });
  const card = make("div", { className: "past-column" }, field(`film-${film.key}`, film.id ? "Stands in the notebook" : "A new film", name));
  if (!film.id) {
    const from = { table: "From the table.", name: "From its name.", you: "", "": "Nothing tells it: give the number on the box." };
    const speed = make("input", { value: film.box_speed, inputMode: "decimal" });
    speed.addEventListener("change", () => {
      const value = written(speed.value);
      if (!(value > 0)) return tell(new Error("Box speed: give the number printed on the box."));
      said.speeds[film.name] = value;
      return look();
    });
    card.append(field(`speed-${film.key}`, "Box speed", speed, from[film.speed_from] ?? ""));
  }
  card.append(make("p", { className: "small soft", textContent: `${film.strips} row${film.strips === 1 ? "" : "s"}, ${film.new} to write` }));
  if (film.alike) {
    const same = make("button", { type: "button", className: "quiet", textContent: `It is ${film.alike}` });
    same.addEventListener("click", () => {
      for (const one of film.written) said.films[one] = film.alike;
      look();
    });
    card.append(make("p", { className: "small", textContent: `Much like ${film.alike}.` }), same);
  }
  return card;
}

function heldField(one) {
  const warm = one.control === "temperature_c";
  const label = warm ? `${facts[one.control].word[0].toUpperCase()}${facts[one.control].word.slice(1)}, ${degreeSign}` : facts[one.control].label;
  const input = make("input", { inputMode: warm ? "text" : "decimal", value: warm ? degreesOf(one.value) : one.value });
  input.addEventListener("change", () => {
    const value = warm && input.value.trim() ? celsiusOf(input.value) : written(input.value);
    if (value === null) delete said.held[one.control];
    else if (Number.isNaN(value)) return tell(new Error(`${label}: give a number.`));
    else said.held[one.control] = value;
    return look();
  });
  return field(`held-${one.control}`, label, input, facts[one.control].hint);
}

const STATES = { new: "new", known: "known already", same_name: "your word", left_out: "left out" };

function toggle(list, line, on) {
  const kept = said[list].filter((one) => one !== line);
  said[list] = on ? [...kept, line] : kept;
}

function rowCard(row) {
  const card = make("article", { className: `past-row is-${row.becomes}` });
  const take = make("input", { type: "checkbox", id: `take-${row.line}`, checked: !said.leave_out.includes(row.line) && row.becomes !== "left_out" });
  take.addEventListener("change", () => {
    toggle("leave_out", row.line, !take.checked);
    look();
  });
  const name = make("label", { className: "check", htmlFor: take.id }, take, make("strong", { textContent: [row.film, row.name].filter(Boolean).join(", ") || `line ${row.line}` }));
  const state = row.corrects ? "corrected" : STATES[row.becomes];
  const badge = make("span", { className: `badge ${row.becomes === "new" ? "badge-good" : row.becomes === "same_name" ? "badge-amber" : ""}`, textContent: state });
  card.append(make("div", { className: "past-row-head" }, name, badge));
  const when = row.made_at ? `, made ${row.made_at}` : "";
  card.append(make("p", { className: "small", textContent: `${row.controls_short}: ${row.evidence_text}${when}` }));
  if (row.note) card.append(make("p", { className: "small soft", textContent: `Note: ${row.note}` }));
  if (row.why) card.append(make("p", { className: "small", textContent: `${row.why[0].toUpperCase()}${row.why.slice(1)}.` }));
  if (row.becomes === "same_name" || said.as_another.includes(row.line) || said.as_correction.includes(row.line)) card.append(sameName(row));
  card.append(...row.remarks.map((remark) => remarkLine(row, remark)));
  return card;
}

function sameName(row) {
  const select = make("select", {}, new Option("leave it out", ""), new Option("another strip", "as_another"), new Option("a correction of the one there", "as_correction"));
  select.value = ["as_another", "as_correction"].find((list) => said[list].includes(row.line)) ?? "";
  select.addEventListener("change", () => {
    for (const list of ["as_another", "as_correction"]) toggle(list, row.line, select.value === list);
    look();
  });
  return field(`same-${row.line}`, "It is", select);
}

function remarkLine(row, remark) {
  const head = seen.columns[remark.place]?.head ?? "";
  const text = make("p", { textContent: `${head}: ${remark.sentence}.` });
  if (remark.understood) return make("div", { className: "past-remark" }, text);
  const input = make("input", { id: `cell-${row.line}-${remark.place}`, value: remark.text, placeholder: "what is meant" });
  input.setAttribute("aria-label", `${head}, line ${row.line}: what is meant`);
  input.addEventListener("change", () => {
    said.corrections[`${row.line}:${remark.place}`] = input.value;
    look();
  });
  return make("div", { className: "past-remark missed" }, text, input);
}

function outCard(remark) {
  const card = make("article", { className: "past-row" });
  card.append(make("p", { className: "small", textContent: `Line ${remark.line}${remark.text ? ` (${remark.text})` : ""}: ${remark.sentence}.` }));
  return card;
}

whenSent($("table-form"), async () => {
  if (!$("table-text").value.trim()) throw new Refusal($("table-text"), "The table is empty: paste its rows, with their heads.");
  await lookAtIt();
  $("seen-title").focus();
});
for (const id of ["said-tank", "said-film", "said-dates"]) {
  $(id).addEventListener("change", () => {
    if (seen) look();
  });
}
$("table-text").addEventListener("input", () => {
  // Lines and columns may now be others: what was said of single ones no longer fits.
  fresh();
  seen = null;
  $("seen").hidden = true;
});

async function take(file) {
  if (!file) return;
  if (file.size > MOST_BYTES) {
    tell(new Error(`${file.name}: a table of strips is smaller than 4 MB.`));
    return;
  }
  await attempt(async () => {
    const bytes = new Uint8Array(await file.arrayBuffer());
    let letters = "";
    for (let at = 0; at < bytes.length; at += 32768) letters += String.fromCharCode(...bytes.subarray(at, at + 32768));
    const answer = await post("/api/notebook/past-strips/text", { name: file.name, base64: btoa(letters) });
    $("table-text").value = answer.text;
    fresh();
    if (await look()) $("seen-title").focus();
  });
}
const drop = $("table-drop");
$("table-file").addEventListener("change", (event) => {
  take(event.target.files[0]);
  event.target.value = "";
});
for (const kind of ["dragenter", "dragover"]) drop.addEventListener(kind, (event) => { event.preventDefault(); drop.classList.add("over"); });
for (const kind of ["dragleave", "drop"]) drop.addEventListener(kind, () => drop.classList.remove("over"));
drop.addEventListener("drop", (event) => { event.preventDefault(); take(event.dataTransfer.files[0]); });

const takeIn = () => attempt(async () => {
  const answer = await post("/api/notebook/past-strips", { ...given(), seen: seen.mark });
  $("seen").hidden = true;
  $("done").hidden = false;
  $("done-sentence").textContent = answer.sentence;
  $("done-films").replaceChildren(...answer.films.map((film) => make("a", { className: "button", href: `/notebook/${encodeURIComponent(film.id)}`, textContent: film.name })));
  $("done").querySelector("h2").focus();
});
for (const button of TAKE) button.addEventListener("click", takeIn);

$("said-film").value = new URLSearchParams(location.search).get("film") ?? "";
