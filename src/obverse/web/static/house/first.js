// Runs before the first paint: the red look must not flash white in the dark.
try {
  if (localStorage.getItem("obverse-dark") === "yes") {
    document.documentElement.setAttribute("data-dark", "");
    document.querySelector('meta[name="theme-color"]')?.setAttribute("content", "#000");
  }
} catch {
  // Storage may be forbidden; then the paper look it is.
}
