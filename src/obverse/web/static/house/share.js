import { attempt, post } from "/static/house/house.js";

document.getElementById("new-code")?.addEventListener("click", () =>
  attempt(async () => {
    await post("/api/share/code");
    location.reload();
  }),
);
