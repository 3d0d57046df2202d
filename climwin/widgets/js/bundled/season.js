// Bundled from climwin/widgets/js/src by "make js" with esbuild 0.28.2: do not edit.
// sources d44c165bd52190128dee0b090e17799e93ebe5c2395305d61612575135d87fe2
// text cdf72af6ea02b849c1ac4650af7601f6df2c298f9d78eb0c63689679b52e3d44
// src/elements.js
var OWN = Math.random().toString(36).slice(2, 10);
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
var TRAITS = ["state", "message", "finding", "drawings", "lines"];
var UNITS = ["C", "F"];
var DATES = [
  { key: "sown", text: "Sown or planted on", hint: "MM-DD; empty if not yet" },
  { key: "on", text: "As it stood on", hint: "YYYY-MM-DD" }
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
    style: "width: 13em",
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
  const finding = html("p", { class: "finding", "aria-live": "polite" });
  const pictures = ["wide", "narrow"].map(
    (kind) => html("div", { class: `still ${kind}`, role: "img", tabindex: 0 })
    // it may scroll
  );
  const heading = html("p", { class: "crop" });
  const list = html("ul", { class: "lines" });
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
    finding,
    ...pictures,
    heading,
    list
  );
  function show() {
    const keys = Object.keys(controls);
    shownIn(model.get("state"), keys).forEach((value, i) => {
      if (!controls[keys[i]].matches(":focus")) controls[keys[i]].value = value;
    });
    message.textContent = model.get("message");
    message.hidden = !message.textContent;
    finding.textContent = `${model.get("finding")}.`;
    model.get("drawings").forEach((drawing, i) => {
      pictures[i].innerHTML = drawing;
      pictures[i].setAttribute("aria-label", finding.textContent);
    });
    const [first, ...others] = model.get("lines");
    heading.textContent = first;
    list.replaceChildren(...others.map((line) => html("li", {}, line)));
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
