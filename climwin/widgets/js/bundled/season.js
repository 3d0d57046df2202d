// Bundled from climwin/widgets/js/src by "make js" with esbuild 0.28.2: do not edit.
// sources 3148be83c2be338b999d18800c3788679aef46689ad89cc5887eaf6f4a4848a0
// text fdb126ce90b4c24c9080e62f3d91852d624a2dfcde0aa74c01dc6ec0e7ca35bf
// src/elements.js
var KEEP_KEYS = { "data-lm-suppress-shortcuts": "true" };
function fill(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== void 0) element.setAttribute(name, value);
  }
  const present = children.flat(Infinity).filter((child) => child !== null && child !== void 0);
  element.append(...present);
  return element;
}
var html = (tag, attributes = {}, ...children) => fill(document.createElement(tag), attributes, children);

// src/season.js
var TRAITS = ["state", "message", "picture_address", "told"];
var UNITS = ["C", "F"];
var DATES = [
  { key: "sown", text: "Sown on", hint: "MM-DD, or empty if still to be started" },
  { key: "on", text: "Date of the question", hint: "YYYY-MM-DD" }
];
var withChoice = (state, key, typed) => ({ ...state, [key]: typed.trim() });
var shownIn = (state, keys) => keys.map((key) => state[key] ?? "");
function chooser(options, choose) {
  const entries = options.map((each) => html("option", { value: each }, each));
  return html("select", { ...KEEP_KEYS, onchange: (event) => choose(event.target.value) }, entries);
}
function field(hint, choose) {
  return html("input", {
    ...KEEP_KEYS,
    type: "text",
    placeholder: hint,
    style: "width: 8.5em",
    onchange: (event) => choose(event.target.value)
  });
}
var labelled = (text, control) => html("label", {}, `${text} `, control);
function render({ model, el }) {
  const choose = (key) => (typed) => {
    model.set("state", withChoice(model.get("state"), key, typed));
    model.save_changes();
  };
  const controls = {
    crop: chooser(model.get("crops"), choose("crop")),
    ...Object.fromEntries(DATES.map(({ key, hint }) => [key, field(hint, choose(key))])),
    units: chooser(UNITS, choose("units"))
  };
  const message = html("p", { class: "message", role: "alert" });
  const picture = html("img", { style: "max-width: 100%" });
  const told = html("ul", { "aria-live": "polite" });
  el.classList.add("climwin");
  el.append(
    html(
      "div",
      { class: "bar" },
      labelled("Crop", controls.crop),
      DATES.map(({ key, text }) => labelled(text, controls[key])),
      labelled("Degrees", controls.units)
    ),
    message,
    picture,
    told
  );
  function show() {
    const keys = Object.keys(controls);
    shownIn(model.get("state"), keys).forEach((value, i) => controls[keys[i]].value = value);
    message.textContent = model.get("message");
    message.hidden = !message.textContent;
    picture.src = model.get("picture_address");
    picture.alt = model.get("finding");
    told.replaceChildren(...model.get("told").map((line) => html("li", {}, line)));
  }
  for (const name of TRAITS) model.on(`change:${name}`, show);
  show();
  return () => {
    for (const name of TRAITS) model.off(`change:${name}`, show);
  };
}
var season_default = { render };
export {
  season_default as default,
  shownIn,
  withChoice
};
