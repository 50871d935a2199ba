// Words of the trade explain themselves on touch: the first of each on a page gets dots under it and opens its line of the glossary.

import { get } from "/static/house/house.js";

// Only running text; what one presses, types or copies stays as it is.
const LEFT_ALONE = "a, button, label, h2, h3, h4, th, dt, input, select, textarea, summary, h1, code, pre, script, style, svg, legend, .manual, .tile, [role=img], [data-no-words], .whole-words";

// A word that stands alone would be a target too small for a finger; within a sentence it is as high as its line.
const BLOCKS = "p, li, td, th, dd, dt, figcaption, div, nav, h1, h2, h3, h4, article, section, form, summary, label, header, aside";
const inSentence = (node, word) => {
  const block = node.parentElement.closest(BLOCKS);
  return block.matches("p, li, dd, td") && [...block.childNodes].some((one) => one.nodeType === Node.TEXT_NODE && one.data.replace(word, "").trim());
};

const escaped = (text) => text.replace(/[.*+?^${}()|[\]\\/]/g, "\\$&");

function note() {
  const box = document.createElement("div");
  box.id = "word-note";
  box.className = "word-note card";
  box.popover = "auto";
  box.setAttribute("role", "note");
  box.setAttribute("aria-live", "polite");
  document.body.append(box);
  return box;
}

function open(box, button, word) {
  const more = Object.assign(document.createElement("a"), { href: `/help/glossary#${word.anchor}`, textContent: "In the glossary" });
  const title = Object.assign(document.createElement("strong"), { textContent: word.forms[0] });
  const text = Object.assign(document.createElement("p"), { textContent: word.text });
  box.replaceChildren(title, text, more);
  box.showPopover();
  const at = button.getBoundingClientRect();
  const left = Math.max(8, Math.min(at.left, innerWidth - box.offsetWidth - 8));
  const below = at.bottom + 6 + box.offsetHeight <= innerHeight;
  box.style.left = `${left}px`;
  box.style.top = `${below ? at.bottom + 6 : Math.max(8, at.top - box.offsetHeight - 6)}px`;
  button.setAttribute("aria-expanded", "true");
  box.ontoggle = ({ newState }) => newState === "closed" && button.setAttribute("aria-expanded", "false");
}

function explain(root, words) {
  const by = new Map(words.flatMap((word) => word.forms.map((form) => [form.toLowerCase(), word])));
  const forms = [...by.keys()].sort((a, b) => b.length - a.length).map(escaped);
  const found = new RegExp(`(?<![\\p{L}\\p{N}-])(${forms.join("|")})(?![\\p{L}\\p{N}-])`, "iu");
  const seen = new Set();
  const walker = document.createTreeWalker(root, NodeFilter.SHOW_TEXT, (node) =>
    node.parentElement.closest(LEFT_ALONE) ? NodeFilter.FILTER_REJECT : NodeFilter.FILTER_ACCEPT,
  );
  const texts = [];
  while (walker.nextNode()) texts.push(walker.currentNode);
  let box = null;
  for (let text of texts) {
    for (let match; (match = found.exec(text.data)); ) {
      const word = by.get(match[0].toLowerCase());
      const rest = text.splitText(match.index).splitText(match[0].length);
      if (!seen.has(word) && inSentence(rest, match[0])) {
        seen.add(word);
        box ??= note();
        const button = Object.assign(document.createElement("button"), { type: "button", className: "word", textContent: match[0] });
        button.setAttribute("aria-expanded", "false");
        button.setAttribute("aria-controls", "word-note");
        button.addEventListener("click", () => open(box, button, word));
        rest.previousSibling.replaceWith(button);
      }
      text = rest;
    }
  }
}

const main = document.getElementById("main");
if (main && "popover" in HTMLElement.prototype && !main.querySelector(".manual")) {
  get("/api/glossary").then(
    (words) => explain(main, words),
    () => {}, // without it the words stay plain
  );
}
