// The list of films: begin one, or bring one from a file.

import { Refusal, numberIn, whenSent } from "/static/house/forms.js";
import { attempt, island, post, tell } from "/static/house/house.js";

const facts = island("control-facts");
const $ = (id) => document.getElementById(id);
whenSent($("new-film"), async () => {
  const boxes = [...document.querySelectorAll('input[name="vary"]')];
  const vary = boxes.filter((box) => box.checked).map((box) => box.value);
  const speed = numberIn($("f-speed"), "100");
  const base = numberIn($("f-base"), "0.27");
  if (vary.length === 0) throw new Refusal(boxes[0], "Choose at least one control to vary.");
  const controls = Object.fromEntries(vary.map((name) => [name, { unit: facts[name].unit, low: facts[name].low, high: facts[name].high, step: facts[name].step }]));
  const kept = await post("/api/notebook/films", {
    stock: { name: $("f-name").value.trim(), box_speed: speed, base_density: base, base_tint: $("f-tint").value },
    controls, aim: $("f-aim").value,
  });
  location.assign(`/notebook/${encodeURIComponent(kept.id)}`);
});

async function take(file) {
  if (!file) return;
  if (file.size > 15_000_000) return tell(new Error(`${file.name}: a series document is smaller than 15 MB.`));
  await attempt(async () => {
    let series;
    try {
      series = JSON.parse(await file.text());
    } catch {
      throw new Error(`${file.name}: not a series document; give the JSON file that the notebook exports.`);
    }
    const kept = await post("/api/notebook/import", series);
    location.assign(`/notebook/${encodeURIComponent(kept.id)}`);
  });
}

const drop = $("series-drop");
$("series-file").addEventListener("change", (event) => { take(event.target.files[0]); event.target.value = ""; });
for (const kind of ["dragenter", "dragover"]) drop.addEventListener(kind, (event) => { event.preventDefault(); drop.classList.add("over"); });
for (const kind of ["dragleave", "drop"]) drop.addEventListener(kind, () => drop.classList.remove("over"));
drop.addEventListener("drop", (event) => { event.preventDefault(); take(event.dataTransfer.files[0]); });
