// Places in a picture: pressed, moved by dragging or the arrow keys, kept in a field.

for (const stage of document.querySelectorAll(".corner-stage")) {
  const image = stage.querySelector("img");
  if (image.complete) arm(stage, image);
  else image.addEventListener("load", () => arm(stage, image));
}

function arm(stage, image) {
  const field = document.getElementById(stage.dataset.corners);
  // The view may be smaller than the picture; corners are those of the picture.
  const size = stage.dataset.size.split("x").map(Number);
  const names = stage.dataset.names.split("|");
  let points = read(field.value);

  function read(text) {
    const values = text.split(/[,;\s]+/).filter(Boolean).map(Number);
    return values.length % 2 || values.some(Number.isNaN) ? [] : Array.from({ length: Math.min(names.length, values.length / 2) }, (_, k) => [values[2 * k], values[2 * k + 1]]);
  }

  function write() {
    field.value = points.flat().map((v) => v.toFixed(1)).join(",");
    draw();
  }

  function draw() {
    stage.querySelectorAll("button").forEach((one) => one.remove());
    points.forEach(([x, y], k) => {
      const dot = Object.assign(document.createElement("button"), { type: "button", className: "corner-dot", textContent: k + 1 });
      dot.setAttribute("aria-label", `${names[k]}; arrow keys move it`);
      place(dot, x, y);
      dot.addEventListener("keydown", (event) => {
        const step = event.shiftKey ? 10 : 1;
        const by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[event.key];
        if (!by) return;
        event.preventDefault();
        points[k] = [points[k][0] + by[0], points[k][1] + by[1]];
        field.value = points.flat().map((v) => v.toFixed(1)).join(",");
        place(dot, ...points[k]);
      });
      dot.addEventListener("pointerdown", (event) => {
        event.preventDefault();
        dot.focus();
        dot.setPointerCapture(event.pointerId);
        dot.onpointermove = (move) => {
          points[k] = where(move);
          place(dot, ...points[k]);
        };
        dot.onpointerup = () => {
          dot.onpointermove = null;
          write();
        };
      });
      stage.append(dot);
    });
  }

  function place(dot, x, y) {
    dot.style.left = `${(100 * x) / size[0]}%`;
    dot.style.top = `${(100 * y) / size[1]}%`;
  }

  function where(event) {
    const box = image.getBoundingClientRect();
    return [((event.clientX - box.left) / box.width) * size[0], ((event.clientY - box.top) / box.height) * size[1]];
  }

  image.addEventListener("click", (event) => {
    if (points.length >= names.length) points = [];
    points.push(where(event));
    write();
  });
  field.addEventListener("change", () => {
    points = read(field.value);
    draw();
  });
  draw();
}

document.getElementById("reading")?.addEventListener("change", (event) => {
  if (event.target.value) document.getElementById("densities").value = event.target.value;
});
