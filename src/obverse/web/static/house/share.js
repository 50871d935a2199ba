import { attempt, post } from "/static/house/house.js";

document.getElementById("new-code")?.addEventListener("click", () =>
  attempt(async () => {
    await post("/api/share/code");
    location.reload();
  }),
);

const out = (url) =>
  attempt(async () => {
    await post(url);
    location.reload();
  });

for (const button of document.querySelectorAll("[data-post]")) {
  button.addEventListener("click", () => out(button.dataset.post));
}
for (const button of document.querySelectorAll("[data-out]")) {
  button.addEventListener("click", () => out(`/api/share/devices/${encodeURIComponent(button.dataset.out)}/out`));
}
document.getElementById("out-all")?.addEventListener("click", () => out("/api/share/out"));
