// What a field holds but is too narrow to show is written out below it: nothing chosen or typed is read in part.
const pen = document.createElement("canvas").getContext("2d");
const ARROW = 24; // of a choice, beside its words

function cut(field) {
  if (!field.clientWidth) return "";
  if (field.tagName === "INPUT") return field.scrollWidth > field.clientWidth ? field.value : "";
  const words = field.selectedOptions[0]?.text.trim().replace(/\s+/g, " ") ?? "";
  const style = getComputedStyle(field);
  pen.font = `${style.fontStyle} ${style.fontWeight} ${style.fontSize} ${style.fontFamily}`; // the shorthand may be empty
  const room = field.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight) - ARROW;
  return pen.measureText(words).width > room ? words : "";
}

for (const field of document.querySelectorAll(".field > input:not([type=number]), .field > select")) {
  const line = document.createElement("p");
  line.className = "hint whole-words";
  // The field itself tells its whole value to who hears the page.
  line.setAttribute("aria-hidden", "true");
  line.hidden = true;
  field.after(line);
  const tell = () => {
    line.textContent = cut(field);
    line.hidden = !line.textContent;
  };
  field.addEventListener("input", tell);
  new ResizeObserver(tell).observe(field);
}
