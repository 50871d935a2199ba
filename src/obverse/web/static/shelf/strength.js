// While a label is typed, say beside it what the strength means, in the book's own reading.
import { get } from "/static/house/house.js";

const form = document.querySelector("[data-strength]")?.closest("form");
const asked = new WeakMap();

async function tell(row) {
  const output = row.querySelector("output");
  const substance = row.querySelector("input[name=substance]").value.trim();
  const strength = row.querySelector("input[name=strength]").value.trim();
  output.classList.remove("means-wrong");
  if (!substance) {
    output.textContent = "";
    return;
  }
  const asking = (asked.get(row) ?? 0) + 1;
  asked.set(row, asking);
  const query = new URLSearchParams({ substance, strength, form: form.querySelector("[name=form]").value });
  const density = form.querySelector("[name=density_g_per_ml]").value.trim();
  if (density) query.set("density_g_per_ml", density);
  const found = await get(`/api/shelf/strength?${query}`);
  if (asking !== asked.get(row)) return;
  output.classList.toggle("means-wrong", Boolean(found.refused));
  output.textContent = [found.refused, found.words, found.reading, ...found.cautions.map((c) => c.text)].filter(Boolean).join(". ");
}

for (const row of document.querySelectorAll("[data-strength]")) {
  for (const field of row.querySelectorAll("input[name=substance], input[name=strength]"))
    field.addEventListener("change", () => {
      // What was said of the words before says nothing of these.
      row.querySelectorAll(".beside").forEach((said) => said.remove());
      field.removeAttribute("aria-invalid");
      tell(row);
    });
}
for (const name of ["form", "density_g_per_ml"]) {
  form?.querySelector(`[name=${name}]`)?.addEventListener("change", () => document.querySelectorAll("[data-strength]").forEach((row) => tell(row)));
}
for (const row of document.querySelectorAll("[data-strength]")) if (!row.querySelector(".beside")) tell(row);
