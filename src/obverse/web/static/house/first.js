// Runs before the first paint: the dim appearance must not flash white in the dark.
try {
  if (localStorage.getItem("obverse-dark") === "yes") document.documentElement.setAttribute("data-dark", "");
} catch {
  // Storage may be forbidden; then the paper appearance it is.
}
