// The season's panel: what a hand chooses goes to Python, what Python makes of it comes back.
// It stands by itself, needs no bundle, and computes nothing.

const FIELDS = [
  { key: "sown", label: "Sown on", hint: "MM-DD, or empty if still to be started" },
  { key: "on", label: "Date of the question", hint: "YYYY-MM-DD" },
];

function labelled(text, control) {
  const label = document.createElement("label");
  label.append(`${text} `, control);
  return label;
}

function chooser(model, key, options) {
  const select = document.createElement("select");
  for (const option of options) select.add(new Option(option, option));
  select.addEventListener("change", () => choose(model, key, select.value));
  return select;
}

function field(model, { key, hint }) {
  const input = document.createElement("input");
  input.type = "text";
  input.placeholder = hint;
  input.style.width = "8.5em";
  input.addEventListener("change", () => choose(model, key, input.value.trim()));
  return input;
}

function choose(model, key, value) {
  model.set("state", { ...model.get("state"), [key]: value });
  model.save_changes();
}

function paragraph(parent, kind) {
  const text = document.createElement("p");
  text.className = kind;
  parent.append(text);
  return text;
}

function render({ model, el }) {
  el.classList.add("climwin");
  const controls = {
    crop: chooser(model, "crop", model.get("crops")),
    ...Object.fromEntries(FIELDS.map((each) => [each.key, field(model, each)])),
    units: chooser(model, "units", ["C", "F"]),
  };
  const bar = document.createElement("div");
  bar.className = "bar";
  bar.append(labelled("Crop", controls.crop));
  for (const { key, label } of FIELDS) bar.append(labelled(label, controls[key]));
  bar.append(labelled("Degrees", controls.units));
  el.append(bar);
  const message = paragraph(el, "message");
  message.setAttribute("role", "alert");
  const picture = document.createElement("img");
  picture.style.maxWidth = "100%";
  el.append(picture);
  const told = document.createElement("ul");
  told.setAttribute("aria-live", "polite");
  el.append(told);

  function show() {
    const state = model.get("state");
    for (const [key, control] of Object.entries(controls)) control.value = state[key] ?? "";
    message.textContent = model.get("message");
    message.hidden = !message.textContent;
    picture.src = model.get("picture_address");
    picture.alt = model.get("finding");
    const lines = model.get("told").map((line) => {
      const item = document.createElement("li");
      item.textContent = line;
      return item;
    });
    told.replaceChildren(...lines);
  }

  for (const name of ["state", "message", "picture_address", "told"]) {
    model.on(`change:${name}`, show);
  }
  show();
}

export default { render };
