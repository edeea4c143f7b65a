// A native range input: keys, touch and screen readers come with the browser.
function render({ model, el }) {
  // each widget loads this text anew, so a counter would give every slider the same id
  const id = `lens-course-slider-${Math.random().toString(36).slice(2)}`;
  const label = document.createElement("label");
  label.htmlFor = id;
  label.textContent = model.get("label");
  const input = document.createElement("input");
  input.type = "range";
  input.id = id;
  const output = document.createElement("output");
  output.htmlFor = id;
  el.classList.add("lens-course-slider");
  el.append(label, input, output);

  function words(value) {
    const digits = model.get("digits");
    const size = Math.abs(value).toFixed(digits);
    const zero = Number(size) === 0;
    const sign = value < 0 && !zero ? "\u2212" : model.get("signed") && !zero ? "+" : "";
    return `${sign}${size} ${model.get("unit")}`.trim();
  }

  function show() {
    input.min = model.get("low");
    input.max = model.get("high");
    input.step = model.get("step");
    const value = model.get("value");
    if (Number(input.value) !== value) input.value = value;
    const text = words(value);
    input.setAttribute("aria-valuetext", text);
    output.textContent = text;
  }

  input.addEventListener("input", () => {
    model.set("value", Number(input.value));
    model.save_changes();
    show();
  });
  // JupyterLab's own keys must not act while a slider is moved
  input.addEventListener("keydown", (event) => event.stopPropagation());
  model.on("change", show);
  show();
  return () => model.off("change", show);
}

export default { render };
