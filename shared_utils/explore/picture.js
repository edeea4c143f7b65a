// The sentence above, the picture below; both come in one message, so neither lags the other.
function render({ model, el }) {
  const sentence = document.createElement("div");
  sentence.setAttribute("role", "status");
  sentence.className = "lens-course-sentence";
  sentence.style.minHeight = `${model.get("sentence_height_px")}px`;
  const image = document.createElement("img");
  image.width = model.get("width_px");
  image.height = model.get("height_px");
  el.classList.add("lens-course-picture");
  el.append(sentence, image);

  function show() {
    if (sentence.textContent !== model.get("sentence")) sentence.textContent = model.get("sentence");
    image.alt = model.get("alt");
    image.src = `data:image/png;base64,${model.get("png_base64")}`;
  }

  model.on("change", show);
  show();
  return () => model.off("change", show);
}

export default { render };
