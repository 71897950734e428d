// Two presses on the photo fill the four fields; typing in the fields does the same. No dragging is needed.
(() => {
  const place = document.getElementById("marking"), form = document.getElementById("marks");
  if (!place || !form) return;
  const now = document.getElementById("mark-now"), svg = document.getElementById("marking-svg");
  const fields = ["x1", "y1", "x2", "y2"].map((name) => form.elements[name]);
  document.getElementById("press-words").hidden = false;
  const numbers = document.getElementById("by-numbers");
  numbers.open = Boolean(numbers.querySelector("[aria-invalid='true']"));
  let second = false;
  const piece = (name, values) => {
    const made = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [key, value] of Object.entries(values)) made.setAttribute(key, value);
    now.append(made);
  };
  const draw = () => {
    now.replaceChildren();
    const { width, height } = svg.viewBox.baseVal;
    const [x1, y1, x2, y2] = fields.map((field, n) => field.value === "" ? null : field.value / 100 * (n % 2 ? height : width));
    if (x1 === null || y1 === null) return;
    if (x2 === null || y2 === null) return piece("circle", { class: "end", cx: x1, cy: y1, r: width / 80 });
    const kind = form.elements.kind.value;
    if (kind === "circle") return piece("circle", { cx: x1, cy: y1, r: Math.hypot(x2 - x1, y2 - y1) });
    if (kind === "blur") return piece("rect", { class: "blurred", x: Math.min(x1, x2), y: Math.min(y1, y2), width: Math.abs(x2 - x1), height: Math.abs(y2 - y1) });
    piece("line", { x1, y1, x2, y2 });
    piece("circle", { class: "end", cx: x2, cy: y2, r: width / 100 });
  };
  place.addEventListener("click", (event) => {
    const box = place.getBoundingClientRect();
    const at = [(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height];
    if (!second) for (const field of fields) field.value = "";
    at.forEach((share, n) => { fields[n + (second ? 2 : 0)].value = (Math.min(1, Math.max(0, share)) * 100).toFixed(1); });
    second = !second;
    draw();
  });
  form.addEventListener("input", draw);
  draw();
})();
