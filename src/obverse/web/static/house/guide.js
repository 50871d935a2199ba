// The bar of the guided evening: which step this is, what to look at, and the way on. It stands only while the guide is taken.

import { get } from "/static/house/house.js";

const KEY = "obverse-guide";

const stored = {
  get step() {
    try {
      const text = sessionStorage.getItem(KEY);
      return text === null ? null : Number(text);
    } catch {
      return null;
    }
  },
  set step(number) {
    try {
      if (number === null) sessionStorage.removeItem(KEY);
      else sessionStorage.setItem(KEY, String(number));
    } catch {
      // Forbidden storage: the list of steps at /guide still leads everywhere.
    }
  },
};

const element = (kind, text, className = "") => Object.assign(document.createElement(kind), { textContent: text, className });

// Beside a running evening the page itself says what to do; the bar is short there and leads on.
const AT_THE_SINK = "Enter or the big button says that a bath is in or out. Next leaves the evening.";

function show(steps) {
  const number = Math.min(Math.max(stored.step, 0), steps.length - 1);
  const step = steps[number];
  const atTheSink = document.getElementById("live") !== null;
  const bar = element("section", "", "guide-bar");
  bar.id = "guide-bar";
  bar.setAttribute("aria-label", "Guided evening");
  const at = (other, words, className) => {
    const link = Object.assign(element("a", words, `button ${className}`), { href: steps[other].href });
    link.addEventListener("click", () => (stored.step = other));
    return link;
  };
  const leave = Object.assign(element("button", "Leave", "quiet"), { type: "button" });
  leave.addEventListener("click", () => {
    stored.step = null;
    bar.remove();
    document.body.classList.remove("guided");
    document.getElementById("main")?.focus();
  });
  const buttons = element("div", "", "row");
  if (number > 0) buttons.append(at(number - 1, "Back", "quiet"));
  const last = number === steps.length - 1;
  if (!last) buttons.append(at(number + 1, "Next", "primary"));
  buttons.append(leave);
  if (last) leave.textContent = "Done";
  const text = element("div", "", "guide-words");
  text.append(element("p", `Step ${number + 1} of ${steps.length}`, "eyebrow"), element("h2", step.title), element("p", atTheSink ? AT_THE_SINK : step.words));
  // Whoever strayed from the page of the step finds the way back.
  if (new URL(step.href, location.href).pathname !== location.pathname && !location.pathname.startsWith("/sink/")) {
    buttons.prepend(at(number, "Go to this step", "quiet"));
  }
  bar.append(text, buttons);
  // Last on the page, so that it lies at the foot of a short one too.
  document.querySelector(".house-foot").after(bar);
  document.body.classList.add("guided");
  // At the sink Enter belongs to the big button.
  if (!atTheSink) buttons.querySelector(".primary, button")?.focus({ preventScroll: true });
}

for (const link of document.querySelectorAll("[data-guide-step]")) {
  link.addEventListener("click", () => (stored.step = Number(link.dataset.guideStep)));
}
if (stored.step !== null && !document.getElementById("guide-begin")) {
  get("/api/guide").then(
    (steps) => steps.length && show(steps),
    () => {}, // the list at /guide still leads everywhere
  );
}
