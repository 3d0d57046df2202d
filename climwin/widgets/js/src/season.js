// The season's panel: what a hand chooses goes to Python, and what Python makes of it comes back.
// anywidget calls render() with the model of climwin.widgets.season.SeasonPanel.

import { KEEP_KEYS, html } from "./elements.js";

/** Traits of the Python side that change while the panel is shown. */
const TRAITS = ["state", "message", "picture_address", "told"];

const UNITS = ["C", "F"];

const DATES = [
  { key: "sown", text: "Sown on", hint: "MM-DD, or empty if still to be started" },
  { key: "on", text: "Date of the question", hint: "YYYY-MM-DD" },
];

/** The state with one value chosen anew; blanks around what was typed do not count. */
export const withChoice = (state, key, typed) => ({ ...state, [key]: typed.trim() });

/** What each control shows of a state; empty where nothing was chosen. */
export const shownIn = (state, keys) => keys.map((key) => state[key] ?? "");

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
    onchange: (event) => choose(event.target.value),
  });
}

const labelled = (text, control) => html("label", {}, `${text} `, control);

function render({ model, el }) {
  const choose = (key) => (typed) => {
    model.set("state", withChoice(model.get("state"), key, typed));
    model.save_changes();
  };
  const controls = {
    crop: chooser(model.get("crops"), choose("crop")),
    ...Object.fromEntries(DATES.map(({ key, hint }) => [key, field(hint, choose(key))])),
    units: chooser(UNITS, choose("units")),
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
      labelled("Degrees", controls.units),
    ),
    message,
    picture,
    told,
  );

  function show() {
    const keys = Object.keys(controls);
    shownIn(model.get("state"), keys).forEach((value, i) => (controls[keys[i]].value = value));
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

export default { render };
