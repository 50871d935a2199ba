// Forms that a page sends itself: what is refused is told beside its field, and what was typed stays.

import { HouseError, tell, withPoint } from "/static/house/house.js";

/** Something typed that cannot be used: in which field, and why. */
export class Refusal extends Error {
  constructor(field, sentence) {
    super(sentence);
    this.field = field;
  }
}

let told = 0;

/** The words a field goes by. */
function called(field) {
  return (field.getAttribute("aria-label") ?? field.labels?.[0]?.textContent ?? field.name).trim();
}

/** The field a refusal of the house is about: by its name, or by what was typed into it. */
function fieldOf(form, error) {
  if (error.field) return error.field;
  const places = (error.document?.where ?? "").split(/[\s,.:[\]]+/).reverse().filter(Boolean);
  const fields = [...form.elements].filter((one) => one.matches("input:not([type=file]), select, textarea"));
  for (const place of places) {
    const found = fields.filter((one) => one.name === place || one.dataset.where === place);
    // Of a table the row that is named.
    const row = found.find((one) => [...(one.closest("tr")?.querySelectorAll("input") ?? [])].some((other) => places.includes(other.value)));
    if (found.length) return row ?? found[0];
  }
  const quoted = fields.filter((one) => one.value.length > 1 && error.message.includes(one.value));
  return quoted.length === 1 ? quoted[0] : null;
}

function clear(form) {
  for (const line of form.querySelectorAll(".refused")) line.remove();
  for (const field of form.querySelectorAll("[aria-invalid]")) {
    field.removeAttribute("aria-invalid");
    field.removeAttribute("aria-describedby");
  }
}

/** The sentence without the name of the field it stands beside. */
function plain(error) {
  const where = error.document?.where ?? "";
  const sentence = where && error.message.startsWith(`${where}: `) ? error.message.slice(where.length + 2) : error.message;
  return sentence[0].toUpperCase() + sentence.slice(1);
}

/** Say beside a field why it cannot be used, and go there. */
function refuse(field, sentence) {
  const line = Object.assign(document.createElement("p"), { id: `refused-${told++}`, className: "wrong refused", textContent: sentence });
  for (let fold = field.closest("details"); fold; fold = fold.parentElement?.closest("details")) fold.open = true;
  field.setAttribute("aria-invalid", "true");
  field.setAttribute("aria-describedby", line.id);
  field.after(line);
  field.focus({ preventScroll: true });
  // Behind the bar at a phone's foot neither field nor reason is seen.
  field.scrollIntoView({ block: "center" });
}

/** Do `work` when a form is sent; what is refused, or was left empty though it is needed, is told beside its field. */
export function whenSent(form, work) {
  form.noValidate = true;
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    clear(form);
    try {
      const empty = [...form.elements].find((one) => one.required && !one.value.trim());
      if (empty) throw new Refusal(empty, `${called(empty)}: nothing is written here; fill it in${empty.placeholder ? `, such as ${empty.placeholder}` : ""}.`);
      await work();
    } catch (error) {
      const field = error instanceof Refusal || error instanceof HouseError ? fieldOf(form, error) : null;
      if (field) refuse(field, plain(error));
      else tell(error);
    }
  });
}

/** The number a field holds, null where it is empty; refused where it holds something else. */
export function numberIn(field, example) {
  const typed = withPoint(field.value);
  if (!typed) return null;
  const value = Number(typed);
  if (!Number.isFinite(value)) throw new Refusal(field, `${called(field)}: “${field.value.trim()}” is no number; write it like ${example}.`);
  return value;
}
