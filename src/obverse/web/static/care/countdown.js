// The clock of a bath that must be destroyed: counts by the house's clock, not by the phone's.

const box = document.getElementById("countdown");
if (box) {
  const deadline = Number(box.dataset.deadline);
  const offset = Number(box.dataset.now) - performance.now() / 1000;
  const figure = document.getElementById("countdown-figure");
  const words = document.getElementById("countdown-words");

  const show = () => {
    const left = deadline - (performance.now() / 1000 + offset);
    const minutes = Math.floor(Math.abs(left) / 60);
    const seconds = Math.floor(Math.abs(left) % 60);
    figure.textContent = `${left < 0 ? "over by " : ""}${minutes}:${String(seconds).padStart(2, "0")}`;
    if (left < 0 && !box.classList.contains("countdown-over")) {
      box.classList.add("countdown-over");
      words.textContent = "Too long. If there is scum, a mirror or crystals: do not touch it, keep others away, ask for advice. Otherwise destroy it now.";
    }
  };
  show();
  setInterval(show, 1000);
}
