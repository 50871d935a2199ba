// Show the one-time secret to the house once the person says so, then forget it.

const button = document.getElementById("pair");
const told = document.getElementById("told");
const secret = location.hash.slice(1);
history.replaceState(null, "", "/pair");

if (!secret) {
  button.disabled = true;
  told.textContent = "There is no code in this address; scan the one that the computer shows.";
}

button.addEventListener("click", async () => {
  button.disabled = true;
  try {
    const answer = await fetch("/api/pair", {
      method: "POST",
      credentials: "same-origin",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ secret, name: document.getElementById("name").value }),
    });
    if (answer.ok) {
      location.replace("/sink");
      return;
    }
    const sentence = (await answer.json()).detail;
    told.textContent = sentence[0].toUpperCase() + sentence.slice(1);
  } catch {
    told.textContent = "The house does not answer; is the phone on the same network?";
  }
  button.disabled = false;
});
