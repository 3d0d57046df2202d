// The parts that every strip of the live chart is made of: elements, controls, the ruler of the year.

const LEFT = 46;
const RIGHT = 10;
const GRIP = 9; // how near a pointer takes hold of a line [px]
const QUIET = { "data-lm-suppress-shortcuts": "true" }; // or the notebook takes the arrow keys

// --- elements ------------------------------------------------------------------------------

let made = 0;
const newId = () => `climwin-${(made += 1)}`;

function fill(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== undefined) element.setAttribute(name, value);
  }
  element.append(...children.flat(3).filter((child) => child !== null && child !== undefined));
  return element;
}

const html = (tag, attributes = {}, ...children) =>
  fill(document.createElement(tag), attributes, children);
const svg = (tag, attributes = {}, ...children) =>
  fill(document.createElementNS("http://www.w3.org/2000/svg", tag), attributes, children);
const label = (x, y, text, kind = "", anchor = "start") =>
  svg("text", { x, y, class: kind, "text-anchor": anchor }, String(text));
const line = (x1, y1, x2, y2, kind) => svg("line", { x1, y1, x2, y2, class: kind });
const box = (x, y, width, height, kind) =>
  svg("rect", { x, y, width: Math.max(width, 0), height: Math.max(height, 0), class: kind });
const dot = (cx, cy, r, kind) => svg("circle", { cx, cy, r, class: kind });

/** Path through points, broken where a value is missing. */
function path(points) {
  let pen = "M";
  let out = "";
  for (const [x, y] of points) {
    if (y === null || Number.isNaN(y)) pen = "M";
    else {
      out += `${pen}${x.toFixed(1)} ${y.toFixed(1)}`;
      pen = "L";
    }
  }
  return out;
}

const area = (upper, lower) => `${path(upper)}L${path([...lower].reverse()).slice(1)}Z`;
const between = (value, low, high) => Math.min(Math.max(value, low), high);

/** Temperature in a sentence of the panel's own, as exact as a hand moves it. */
const degrees = (celsius, units) =>
  temperature(celsius, units, units === "C" ? 1 : 0).replace(/\.0(?= )/, "");

/** What a hand chose, in tenths of a degC; in degF it chooses whole ones. */
function toCelsius(value, units) {
  const celsius = units === "C" ? value : (Math.round(value) - 32) / 1.8;
  return Math.round(celsius * 10) / 10;
}

// --- controls ------------------------------------------------------------------------------

const STRIDES = {
  ...{ ArrowRight: 1, ArrowUp: 1, PageUp: 10 },
  ...{ ArrowLeft: -1, ArrowDown: -1, PageDown: -10 },
};

/**
 * A slider with its field: one value, moved either way. `set` says what is wrong, or nothing;
 * `read` makes a value of what was written, where the field is not a number.
 */
function dial({
  label: text,
  ends,
  get,
  set,
  say,
  read,
  unit,
  stride = () => 1,
  digits = () => 0,
}) {
  const [sliderId, wrongId] = [newId(), newId()];
  const slider = html("input", { id: sliderId, type: "range", step: "any", ...QUIET });
  const field = html("input", {
    type: read ? "text" : "number",
    "aria-label": `${text}, in figures`,
    "aria-describedby": wrongId,
    ...QUIET,
  });
  const wrong = html("span", { id: wrongId, class: "wrong" });
  const units = html("span", { class: "unit" });

  function refresh() {
    const [value, [min, max]] = [get(), ends()];
    Object.assign(slider, { min, max, value });
    slider.setAttribute("aria-valuetext", say(value));
    units.textContent = unit?.() ?? "";
    if (document.activeElement === field) return;
    if (!read) Object.assign(field, { min, max, step: 10 ** -digits() });
    field.value = read ? say(value) : fixed(value, digits());
  }
  function tell(sentence) {
    wrong.textContent = sentence ?? "";
    if (sentence) field.setAttribute("aria-invalid", "true");
    else field.removeAttribute("aria-invalid");
  }
  function written() {
    const value = read ? read(field.value) : field.valueAsNumber;
    if (read && !value) return `${text}: write a date, such as 20 Apr.`;
    return Number.isNaN(value) ? `${text}: write a number.` : set(value, true);
  }
  function settle() {
    tell("");
    refresh();
  }
  slider.addEventListener("input", () => tell(set(Number(slider.value))));
  slider.addEventListener("keydown", (event) => {
    if (!(event.key in STRIDES)) return;
    event.preventDefault();
    tell(set(between(get() + STRIDES[event.key] * stride(), ...ends())));
  });
  slider.addEventListener("change", settle);
  field.addEventListener("input", () => tell(written()));
  field.addEventListener("blur", settle);
  const figures = html("span", { class: "figures" }, field, units);
  const name = html("label", { for: sliderId }, text);
  return { root: html("div", { class: "dial" }, name, slider, figures, wrong), refresh };
}

/** A dial of temperature, in the unit of the panel. `ends` are in degC. */
function heat(panel, { label: text, ends, get, set }) {
  const units = () => panel.state.units;
  const digits = () => (units() === "C" ? 1 : 0);
  return dial({
    label: text,
    ends: () => ends.map((end) => Math.round(fromCelsius(end, units()))),
    get: () => fromCelsius(get(), units()),
    set: (value) => set(toCelsius(value, units())),
    say: (value) => `${fixed(value, digits())} °${units()}`,
    unit: () => `°${units()}`,
    stride: () => (units() === "C" ? 0.5 : 1),
    digits,
  });
}

/** A dial of whole numbers. */
function whole({ label: text, ends, get, set, unit, say }) {
  const named = say ?? ((value) => `${Math.round(value)} ${unit}`);
  return dial({
    label: text,
    ends,
    get,
    set: (n) => set(Math.round(n)),
    say: named,
    unit: () => unit,
  });
}

/** A dial of the days of the year, in the order of the ruler. */
function dateDial(panel, { label: text, get, set }) {
  const day = (value) => modulo(Math.round(value) + panel.ruler.first - 1, DAYS) + 1;
  return dial({
    label: text,
    ends: () => [0, DAYS - 1],
    get: () => panel.ruler.at(get()),
    set: (value, written) => set(written ? value : day(value)),
    say: (value) => dayName(day(value)),
    read: dayNumber,
  });
}

function choice({ label: text, options, get, set }) {
  const id = newId();
  const select = html("select", { id, onchange: () => set(select.value), ...QUIET });
  let listed = "";
  function refresh() {
    const now = options();
    if (JSON.stringify(now) !== listed) {
      select.replaceChildren(...now.map(([value, name]) => html("option", { value }, name)));
      listed = JSON.stringify(now);
    }
    select.value = get();
  }
  return {
    root: html("div", { class: "choice" }, html("label", { for: id }, text), select),
    refresh,
  };
}

function radios({ legend, options, get, set }) {
  const name = newId();
  const inputs = Object.keys(options).map((value) =>
    html("input", {
      type: "radio",
      id: newId(),
      name,
      value,
      onchange: () => set(value),
      ...QUIET,
    }),
  );
  const pairs = inputs.map((input) =>
    html("span", {}, input, html("label", { for: input.id }, options[input.value])),
  );
  const root = html("fieldset", { class: "radios" }, html("legend", {}, legend), pairs);
  return { root, refresh: () => inputs.forEach((each) => (each.checked = each.value === get())) };
}

const button = (text, onclick) => html("button", { type: "button", onclick, ...QUIET }, text);

// --- the ruler and the axes ------------------------------------------------------------------

/** Where the days of the year lie on strips that are all cut on the same day. */
function rulerOf(width, first) {
  const right = Math.max(width, 160) - RIGHT;
  const at = (day) => modulo(day - first, DAYS);
  const x = (d) => LEFT + (d / DAYS) * (right - LEFT); // d counts from the cut
  const middle = (day) => x(at(day) + 0.5);
  return {
    ...{ width, first, right, at, x, middle },
    /** Day of the year under a pointer. */
    day: (px) => modulo(Math.floor(((px - LEFT) / (right - LEFT)) * DAYS) + first - 1, DAYS) + 1,
    /** Values by day of the year, in the order of the ruler, each with its place. */
    turned: (values) => range(DAYS).map((d) => [x(d + 0.5), values[(d + first - 1) % DAYS]]),
    /** Place and width of a span of days, in two where it runs over the cut. */
    stretches(from, days) {
      const [start, over] = [at(from), at(from) + days - DAYS];
      const parts = [[start, Math.min(start + days, DAYS)], ...(over > 0 ? [[0, over]] : [])];
      return parts.map(([a, b]) => [x(a), x(b) - x(a)]);
    },
    months(top, bottom) {
      const marks = MONTH_STARTS.map((start, month) => [
        line(x(at(start + 1)), top, x(at(start + 1)), bottom, "month"),
        label(x(at(start + 16)), bottom + 13, MONTHS[month][0], "soft", "middle"),
      ]);
      return [marks, line(LEFT, bottom, right, bottom, "axis")];
    },
    reading: (day, top, bottom) => line(middle(day), top, middle(day), bottom, "reading"),
  };
}

/** Vertical axis with round values. */
function axis(top, bottom, [low, high], step, say) {
  const y = (value) => bottom - ((value - low) / (high - low)) * (bottom - top);
  const values = range(Math.floor(high / step) - Math.ceil(low / step) + 1);
  const ticks = values.map((i) => {
    const value = (i + Math.ceil(low / step)) * step;
    return [
      line(LEFT - 4, y(value), LEFT, y(value), "axis"),
      label(LEFT - 7, y(value) + 4, say(value), "soft", "end"),
    ];
  });
  return { y, ticks, value: (py) => low + ((bottom - py) / (bottom - top)) * (high - low) };
}

const shares = (top, bottom, step) =>
  axis(top, bottom, [0, 1], step, (share) => `${Math.round(100 * share)} %`);

/** Axis of temperature in the unit of the panel; its values go in and come out in degC. */
function thermometer(top, bottom, ends, units) {
  const shown = ends.map((celsius) => fromCelsius(celsius, units));
  const scale = axis(top, bottom, shown, units === "C" ? 10 : 20, (value) => `${value}°`);
  return {
    ticks: scale.ticks,
    y: (celsius) => scale.y(fromCelsius(celsius, units)),
    value: (py) => toCelsius(scale.value(py), units),
  };
}

// --- a strip ---------------------------------------------------------------------------------

/** A strip: its name, a chart whose text is the finding, a key, controls, and what else is said. */
function strip(name, { key, controls, also = [] }) {
  const [headId, textId] = [newId(), newId()];
  const chart = svg("svg", { role: "img", "aria-labelledby": textId });
  const text = html("p", { id: textId, class: "said" });
  const items = key.map(([kind, said]) => html("li", {}, swatch(kind), said));
  const root = html(
    "section",
    { class: "strip", "aria-labelledby": headId },
    html("h3", { id: headId }, name),
    html("div", { class: "drawn" }, chart, html("ul", { class: "key" }, items)),
    html("div", { class: "controls" }, controls),
    html("div", { class: "words" }, text, also),
  );
  function show(width, height, ...content) {
    fill(chart, { width, height, viewBox: `0 0 ${width} ${height}` }, []);
    chart.replaceChildren();
    fill(chart, {}, content);
  }
  return { root, chart, text, show };
}

/** What a kind of mark looks like: "line first", or a box. */
function swatch(kind) {
  const mark = kind.startsWith("line ")
    ? line(1, 6, 21, 6, kind.slice(5))
    : box(1, 1, 20, 10, kind);
  return svg("svg", { width: 22, height: 12, "aria-hidden": "true" }, mark);
}

/** Follow a pointer on a chart: `grip` may take hold of a line, else it `pick`s a date. */
function handled(chart, { grip, pick }) {
  let held = null;
  const point = (event) => {
    const { left, top } = chart.getBoundingClientRect();
    return [event.clientX - left, event.clientY - top];
  };
  chart.addEventListener("pointerdown", (event) => {
    held = grip?.(...point(event)) ?? pick;
    chart.setPointerCapture(event.pointerId);
    held(...point(event));
  });
  chart.addEventListener("pointermove", (event) => held?.(...point(event)));
  for (const end of ["pointerup", "pointercancel"])
    chart.addEventListener(end, () => (held = null));
}
