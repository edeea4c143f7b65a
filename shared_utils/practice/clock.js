// The time that is left, counted down here so that it runs while the kernel waits.
function render({ model, el }) {
  const message = document.createElement("span");
  const left = document.createElement("span");
  left.setAttribute("role", "timer");
  left.style.fontVariantNumeric = "tabular-nums";
  const warned = document.createElement("div");
  warned.setAttribute("role", "status");
  el.className = "lens-course-sentence";
  el.append(message, left, warned);
  let since = performance.now();

  function seconds() {
    const passed = model.get("running") ? (performance.now() - since) / 1000 : 0;
    return Math.max(0, model.get("left_seconds") - passed);
  }

  function show() {
    const now = Math.ceil(seconds());
    left.textContent = `${Math.floor(now / 60)} min ${String(now % 60).padStart(2, "0")} s left`;
    const warning = !model.get("running") ? "" : now <= 0 ? model.get("over")
      : now <= 60 ? "The last minute." : now <= 300 ? "The last five minutes." : "";
    if (warned.textContent !== warning) warned.textContent = warning;
  }

  function put() {
    since = performance.now();
    message.textContent = model.get("message");
    el.style.display = message.textContent ? "" : "none";
    show();
  }

  model.on("change:turn", put);
  put();
  const ticking = setInterval(show, 1000);
  return () => { clearInterval(ticking); model.off("change:turn", put); };
}

export default { render };
