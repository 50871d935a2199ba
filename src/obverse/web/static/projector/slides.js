// The boxes and the show: every field keeps itself; the list is put in order by buttons.

import { attempt, island, post, toast } from "/static/house/house.js";

for (const row of document.querySelectorAll("tr[data-slide]")) {
  row.addEventListener("change", (event) => {
    const { field } = event.target.dataset;
    if (!field) return;
    const { type } = event.target;
    const typed = event.target.value;
    const value = type === "checkbox" ? event.target.checked : type === "number" ? (typed === "" ? null : Number(typed)) : typed;
    attempt(() => post(`/api/projector/slides/${row.dataset.slide}`, { [field]: value }));
  });
}

const show = document.getElementById("show");

/** Buttons of a line: earlier, later, out. */
function arm(line) {
  const name = line.textContent;
  const moves = Object.assign(document.createElement("span"), { className: "moves" });
  for (const [word, sign, work] of [
    ["earlier", "↑", () => line.previousElementSibling?.before(line)],
    ["later", "↓", () => line.nextElementSibling?.after(line)],
    ["out of the list", "×", () => line.remove()],
  ]) {
    const button = Object.assign(document.createElement("button"), { type: "button", textContent: sign, className: "quiet" });
    button.setAttribute("aria-label", `${name}: ${word}`);
    button.addEventListener("click", work);
    moves.append(button);
  }
  line.append(" ", moves);
}

for (const line of show.children) arm(line);
for (const button of document.querySelectorAll("button[data-show]")) {
  button.addEventListener("click", () => {
    const line = document.createElement("li");
    line.dataset.id = button.dataset.show;
    line.append(button.dataset.name);
    arm(line);
    show.append(line);
  });
}

document.getElementById("keep-list").addEventListener("click", async () => {
  const name = document.getElementById("list-name").value.trim();
  if (!name) return toast("Give the list a name first.", "error");
  const slides = [...show.children].map((line) => line.dataset.id);
  const whole = (id) => Number(document.getElementById(id).value);
  const trays = { projectors: whole("projectors"), tray_slots: whole("tray-slots"), first_slot: whole("first-slot") };
  const kept = await attempt(() => post(`/api/projector/lists?id=${encodeURIComponent(island("list-id") ?? "")}`, { name, slides, ...trays }));
  if (kept) location.href = `/projector/slides?list=${kept.id}`;
});
