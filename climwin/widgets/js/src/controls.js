// Controls: each is { root, refresh }, an element and what brings it up to date with the state.

import { DAYS, dayName, dayNumber, modulo } from "./calendar.js";
import { inDialect } from "./dialect.js";
import { KEEP_KEYS, clamp, html, newId } from "./elements.js";
import { fixed, fromCelsius, number, toCelsius } from "./formatting.js";

const STRIDES_OF_KEY = {
  ArrowRight: 1,
  ArrowUp: 1,
  PageUp: 10,
  ArrowLeft: -1,
  ArrowDown: -1,
  PageDown: -10,
};

/**
 * A slider with its field: one value, moved either way.
 *
 * get() gives the value, ends() the least and greatest; set(value, isWritten) moves it, and returns
 * a sentence on what is wrong, or nothing. say(value) puts it in words, unit() names its unit,
 * stride() is what an arrow key moves, digits() the decimals. Where the field takes text that is no
 * number, read(text) makes a value of it, or something false.
 */
function dial({
  label,
  ends,
  get,
  set,
  say,
  read = null,
  unit = () => "",
  stride = () => 1,
  digits = () => 0,
}) {
  const sliderId = newId();
  const faultId = newId();
  const slider = html("input", { id: sliderId, type: "range", step: "any", ...KEEP_KEYS });
  const field = html("input", {
    type: read ? "text" : "number",
    "aria-label": `${label}, in figures`,
    "aria-describedby": faultId,
    ...KEEP_KEYS,
  });
  const fault = html("span", { id: faultId, class: "wrong" });
  const units = html("span", { class: "unit" });

  function refresh() {
    const value = get();
    const [min, max] = ends();
    Object.assign(slider, { min, max, value });
    slider.setAttribute("aria-valuetext", say(value));
    units.textContent = unit();
    if (document.activeElement === field) return; // never change what a hand is writing
    if (!read) Object.assign(field, { min, max, step: 10 ** -digits() });
    field.value = read ? say(value) : fixed(value, digits());
  }
  function showFault(sentence) {
    fault.textContent = sentence ?? "";
    if (sentence) field.setAttribute("aria-invalid", "true");
    else field.removeAttribute("aria-invalid");
  }
  function setFromField() {
    if (read) {
      const value = read(field.value);
      return value ? set(value, true) : `${label}: write a date, such as 20 Apr.`;
    }
    const value = field.valueAsNumber;
    return Number.isNaN(value) ? `${label}: write a number.` : set(value, true);
  }
  function settle() {
    showFault("");
    refresh();
  }
  slider.addEventListener("input", () => showFault(set(Number(slider.value), false)));
  slider.addEventListener("keydown", (event) => {
    if (!(event.key in STRIDES_OF_KEY)) return;
    event.preventDefault();
    const value = get() + STRIDES_OF_KEY[event.key] * stride();
    showFault(set(clamp(value, ...ends()), false));
  });
  slider.addEventListener("change", settle);
  field.addEventListener("input", () => showFault(setFromField()));
  field.addEventListener("blur", settle);
  const figures = html("span", { class: "figures" }, field, units);
  const name = html("label", { for: sliderId }, label);
  return { root: html("div", { class: "dial" }, name, slider, figures, fault), refresh };
}

/** A dial of temperature in the unit of the panel. get, set and `ends` are in degC. */
export function temperatureDial(panel, { label, ends, get, set }) {
  const units = () => panel.state.units;
  const digits = () => (units() === "C" ? 1 : 0);
  return dial({
    label,
    ends: () => ends.map((end) => Math.round(fromCelsius(end, units()))),
    get: () => fromCelsius(get(), units()),
    set: (value) => set(toCelsius(value, units())),
    say: (value) => `${number(value, digits())} °${units()}`,
    unit: () => `°${units()}`,
    stride: () => (units() === "C" ? 0.5 : 1),
    digits,
  });
}

/** A dial of whole numbers. */
export function wholeDial({ label, ends, get, set, unit, say = null }) {
  return dial({
    label,
    ends,
    get,
    set: (value) => set(Math.round(value)),
    say: say ?? ((value) => `${Math.round(value)} ${unit}`),
    unit: () => unit,
  });
}

/** A dial of the days of the year, in the order of the ruler. */
export function dateDial(panel, { label, get, set }) {
  const dayAt = (position) => modulo(Math.round(position) + panel.ruler.firstDay - 1, DAYS) + 1;
  return dial({
    label,
    ends: () => [0, DAYS - 1],
    get: () => panel.ruler.position(get()),
    set: (value, isWritten) => set(isWritten ? value : dayAt(value)),
    say(position) {
      return inDialect(dayName(dayAt(position)), panel.state.units);
    },
    read: dayNumber,
  });
}

/** A list to choose from. options() gives pairs of value and name. */
export function choice({ label, options, get, set }) {
  const id = newId();
  const select = html("select", { id, onchange: () => set(select.value), ...KEEP_KEYS });
  let listed = "";
  function refresh() {
    const pairs = options();
    const text = JSON.stringify(pairs);
    if (text !== listed) {
      select.replaceChildren(...pairs.map(([value, name]) => html("option", { value }, name)));
      listed = text;
    }
    select.value = get();
  }
  const name = html("label", { for: id }, label);
  return { root: html("div", { class: "choice" }, name, select), refresh };
}

/** Radio buttons. `options` are names by value. */
export function radios({ legend, options, get, set }) {
  const name = newId();
  const inputs = Object.keys(options).map((value) =>
    html("input", {
      type: "radio",
      id: newId(),
      name,
      value,
      onchange: () => set(value),
      ...KEEP_KEYS,
    }),
  );
  const pairs = inputs.map((input) =>
    html("span", {}, input, html("label", { for: input.id }, options[input.value])),
  );
  function refresh() {
    for (const input of inputs) input.checked = input.value === get();
  }
  return {
    root: html("fieldset", { class: "radios" }, html("legend", {}, legend), pairs),
    refresh,
  };
}

export const button = (text, onclick) =>
  html("button", { type: "button", onclick, ...KEEP_KEYS }, text);
