// The boxes and the show: every field keeps itself; the list is put in order by dragging, keys or buttons; without this script by buttons.

import { attempt, post } from "/static/house/house.js";

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
const form = document.getElementById("show-form");

/** Grip and buttons of a line move it here; what the form sends follows the order of the lines. */
function arm(line) {
  const grip = line.querySelector(".grip");
  grip.tabIndex = 0;
  grip.setAttribute("role", "button");
  grip.setAttribute("aria-label", `${line.querySelector(".show-name").textContent}: drag, or move with the arrow keys`);
  grip.addEventListener("keydown", (event) => {
    const up = event.key === "ArrowUp";
    if (!up && event.key !== "ArrowDown") return;
    event.preventDefault();
    move(line, up);
    grip.focus();
  });
  grip.addEventListener("pointerdown", (event) => {
    event.preventDefault();
    grip.focus();
    grip.setPointerCapture(event.pointerId);
    line.classList.add("dragged");
    grip.onpointermove = ({ clientY }) => {
      while (line.previousElementSibling && clientY < middle(line.previousElementSibling)) move(line, true);
      while (line.nextElementSibling && clientY > middle(line.nextElementSibling)) move(line, false);
    };
    grip.onpointerup = grip.onpointercancel = () => {
      grip.onpointermove = null;
      line.classList.remove("dragged");
    };
  });
  for (const button of line.querySelectorAll(".moves button")) {
    button.addEventListener("click", (event) => {
      event.preventDefault();
      const [press] = button.value.split(":");
      if (press === "out") line.remove();
      else move(line, press === "earlier");
      button.focus();
    });
  }
}

function middle(line) {
  const box = line.getBoundingClientRect();
  return box.top + box.height / 2;
}

function move(line, up) {
  if (up) line.previousElementSibling?.before(line);
  else line.nextElementSibling?.after(line);
}

for (const line of show.children) arm(line);
for (const button of document.querySelectorAll("button[data-show]")) {
  button.addEventListener("click", (event) => {
    event.preventDefault();
    const { show: id, name, picture, frame } = button.dataset;
    const line = document.createElement("li");
    line.dataset.id = id;
    const sent = Object.assign(document.createElement("input"), { type: "hidden", name: "slide", value: id });
    const grip = Object.assign(document.createElement("span"), { className: "grip" });
    if (picture) grip.append(Object.assign(new Image(), { src: `/api/light-table/pictures/${picture}/view.jpg?longest=160`, alt: "" }));
    else grip.append(Object.assign(document.createElement("span"), { className: "no-picture", textContent: frame }));
    const moves = Object.assign(document.createElement("span"), { className: "moves" });
    for (const [press, sign, word] of [["earlier", "↑", "earlier"], ["later", "↓", "later"], ["out", "×", "out of the list"]]) {
      const one = Object.assign(document.createElement("button"), { type: "submit", className: "quiet", value: `${press}:`, textContent: sign });
      one.setAttribute("aria-label", `${name}: ${word}`);
      moves.append(one);
    }
    line.append(sent, grip, Object.assign(document.createElement("span"), { className: "show-name", textContent: name }), moves);
    arm(line);
    show.append(line);
  });
}
// A picture is no link: pulling it along would drag the file.
form.addEventListener("dragstart", (event) => event.preventDefault());
