// The season's panel: what a hand chooses goes to Python, and what Python makes of it comes back.
// anywidget calls render() with the model of climwin.widgets.season.SeasonPanel.

import { KEEP_KEYS, html } from "./elements.js";

/** Traits of the Python side that change while the panel is shown. */
const TRAITS = ["state", "message", "finding", "drawings", "lines"];

const UNITS = ["C", "F"];

const DATES = [
  { key: "sown", text: "Sown or planted on", hint: "MM-DD; empty if not yet" },
  { key: "on", text: "As it stood on", hint: "YYYY-MM-DD" },
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
    style: "width: 13em",
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
  const finding = html("p", { class: "finding", "aria-live": "polite" });
  const pictures = ["wide", "narrow"].map(
    (kind) => html("div", { class: `still ${kind}`, role: "img", tabindex: 0 }), // it may scroll
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
      labelled("Degrees", controls.units),
    ),
    message,
    finding,
    ...pictures,
    heading,
    list,
  );

  function show() {
    const keys = Object.keys(controls);
    shownIn(model.get("state"), keys).forEach((value, i) => {
      // What is being typed stays while Python still answers an earlier choice.
      if (!controls[keys[i]].matches(":focus")) controls[keys[i]].value = value;
    });
    message.textContent = model.get("message");
    message.hidden = !message.textContent;
    finding.textContent = `${model.get("finding")}.`;
    model.get("drawings").forEach((drawing, i) => {
      pictures[i].innerHTML = drawing; // made by Python alone, see climwin/plot/svg.py
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

export default { render };
