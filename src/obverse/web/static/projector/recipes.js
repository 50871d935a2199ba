// Taking in a recipe: a file or the text of its QR code.

import { attempt, post, toast } from "/static/house/house.js";

const MOST_BYTES = 1_000_000;

async function takeIn() {
  const file = document.getElementById("recipe-file").files[0];
  const typed = document.getElementById("recipe-text").value.trim();
  if (!file && !typed) return toast("Choose a recipe document first.", "error");
  if (file && file.size > MOST_BYTES) return toast("That is longer than any recipe; choose the recipe file itself.", "error");
  const text = file ? await file.text() : typed;
  const taken = await attempt(() => post("/api/projector/recipes", { text, name: file?.name ?? "QR code" }));
  if (!taken) return;
  if (taken.new) location.href = "/projector/recipes";
  else toast(`${taken.name} stands here already.`);
}

document.getElementById("take-in").addEventListener("click", takeIn);
