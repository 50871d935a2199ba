// On a narrow page one step is open at a time: the one that is wrong, else the one the address names, else the first.
const steps = [...document.querySelectorAll("details.step")];
const narrow = matchMedia("(max-width: 48rem)");

function fold() {
  const named = document.getElementById(location.hash.slice(1))?.querySelector("details.step");
  const shown = steps.find((step) => step.hasAttribute("data-wrong")) ?? named ?? steps[0];
  for (const step of steps) {
    // Of one name a browser keeps one open; what is wrong stays open all the same.
    if (narrow.matches && !step.hasAttribute("data-wrong")) step.setAttribute("name", "step");
    else step.removeAttribute("name");
    step.open = !narrow.matches || step === shown || step.hasAttribute("data-wrong");
  }
}

fold();
narrow.addEventListener("change", fold);
addEventListener("hashchange", fold);
