// All evenings: what stands here is looked up again, and only what changed is drawn anew.

const EVERY_MS = 15_000;
const place = document.getElementById("evenings");

setInterval(async () => {
  if (document.hidden) return;
  try {
    const answer = await fetch("/sink/all");
    if (!answer.ok) return;
    const found = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("evenings");
    if (found && found.innerHTML !== place.innerHTML) place.replaceChildren(...found.childNodes);
  } catch {
    // The house is silent for a while; what stands here stays.
  }
}, EVERY_MS);
