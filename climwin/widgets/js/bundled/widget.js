// Bundled from climwin/widgets/js/src by "make js" with esbuild 0.28.2: do not edit.
// sources d44c165bd52190128dee0b090e17799e93ebe5c2395305d61612575135d87fe2
// text 5cf4c76f705acf7470069d451acc010be6f52571174af54dabc872f589199e6c
// ../../core/wording.json
var wording_default = {
  months: ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"],
  window_names: {
    longest: "The longest mild spell",
    rise: "Spring's mild spell",
    fall: "Autumn's mild spell"
  },
  templates: {
    percent: "{number} %",
    temperature: "{number} °{units}",
    span: "{first} to {last}",
    open_end: "…",
    unknown: "unknown",
    never_so_likely: "not even that often",
    years: {
      one: "{count} year",
      other: "{count} years"
    },
    spell_long_enough: "{spell} was long enough for {crop} in {enough} of {years}",
    spell_long_enough_ways: "{spell} was long enough for {crop} {easier} in {enough_of_easier} of {years}, and for {crop} {way} in {enough} of them",
    spell_through_winter: "No mild spell has to be long enough for {crop}: the plants stand through the winter",
    spell_in_comfort: "Counting only days in which {crop} would be comfortable, it lasted the {need} days in {enough} of {years}.",
    spells_as_recorded: "Each mark is a past year, as recorded.",
    spells_as_recorded_today: "Each mark is a past year, as recorded: not moved to today's climate.",
    days_needed: {
      one: "{count} day needed",
      other: "{count} days needed"
    },
    needed_by_way: "{needed} {way}, from {since}",
    needed_once_up: "{needed} once up, {way} {since}",
    after_cover: {
      one: "after {count} week under cover",
      other: "after {count} weeks under cover"
    },
    sown_outdoors: "sown outdoors",
    planted_outdoors: "planted outdoors",
    sown_under_fleece: "sown outdoors under fleece",
    planted_under_fleece: "planted outdoors under fleece",
    set_out_bought: "set out as bought plants",
    next_years_too_short: "The mild spell is likely to be too short in {next} of the next ten years.",
    next_years_too_short_today: "In today's climate the mild spell is likely to be too short in {next} of the next ten years.",
    next_years_by_the_record: "Counting all years alike gives {next}.",
    next_years_by_the_record_too: "Counting all years alike gives the same.",
    long_run_too_short: "From {years} of weather, the long-run share of years too short is likely {low} to {high}.",
    long_run_too_short_today: "From {years} of weather, the long-run share of years too short in today's climate is likely {low} to {high}.",
    what_odds_cover: "Likely ranges hold nine times in ten. They allow for the luck of the weather, not for doubt about the crop's limits or your garden's own spot.",
    unknown_number: "an unknown number",
    years_hidden_by_gaps: {
      one: "{count} year is left out: a gap in its record hides the answer.",
      other: "{count} years are left out: gaps in the record hide the answer."
    },
    few_years: "Fewer than ten years: take these odds as a hint, no more.",
    average_window: {
      one: "The average year suggests {count} day; half of the real years had {median} or fewer.",
      other: "The average year suggests {count} days; half of the real years had {median} or fewer."
    },
    average_window_all_year: "The average year stays mild throughout, and so do most of the real years.",
    average_window_none: "In the average year it is never mild enough, nor in most of the real years.",
    average_window_only: {
      one: "The average year suggests {count} day; no real year is known to compare it with.",
      other: "The average year suggests {count} days; no real year is known to compare it with."
    },
    plan_perennial: "established plants",
    plan_sown: "sown outdoors {start}",
    plan_planted: "planted outdoors {start}",
    plan_bought: "bought plants, set out {start}",
    plan_raised: "sown {where} {start}",
    plan_raised_planted: "planted {where} {start}",
    under_fleece: "under fleece",
    in_cover: "in {article} {cover}",
    with_fleece: {
      one: "{plan}, {count} week of fleece",
      other: "{plan}, {count} weeks of fleece"
    },
    harvest_begins: "The harvest begins about {middle}, and in eight years out of ten between {first} and {last}.",
    no_harvest: "No year so far gave a harvest.",
    years_failed_by: "{count} {reason}",
    plans_compared: "Of the same {years}, “{first}” alone gave a harvest in {only_first}, “{second}” alone in {only_second}, both in {both}, neither in {neither}.",
    both_always: "Both gave a harvest in the same {both} of {years}.",
    both_never: "Neither gave a harvest in any of {years}.",
    first_is_better: "The first is the better bet here.",
    second_is_better: "The second is the better bet here.",
    neither_is_better: "That is too close to call.",
    best_dates: "{dates} (about {date}, a harvest in {best} of the years that had no part in choosing it)",
    any_time: "almost any time of year",
    other_dates: "Also safe: {dates}.",
    no_best_dates: "none: no date gives a harvest"
  }
};

// src/wording.js
var MONTHS = wording_default.months;
var WINDOW_NAMES = wording_default.window_names;
function say(name, values = {}) {
  let template = wording_default.templates[name];
  if (template === void 0) throw new Error(`There is no template ${name} in wording.json.`);
  if (typeof template !== "string") template = template[values.count === 1 ? "one" : "other"];
  return template.replace(/\{(\w+)\}/g, (_, placeholder) => {
    if (!(placeholder in values)) {
      throw new Error(`Template ${name} needs a value for ${placeholder}.`);
    }
    return String(values[placeholder]);
  });
}
var article = (noun) => "aeiou".includes(noun[0]) ? "an" : "a";
var capitalized = (text) => text[0].toUpperCase() + text.slice(1);

// src/calendar.js
var DAYS = 365;
var MONTH_STARTS = [0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334];
var modulo = (a, n) => (a % n + n) % n;
var range = (n) => Array.from({ length: n }, (_, i) => i);
var seasonOffset = (firstDay) => firstDay <= 183 ? firstDay - 1 : firstDay - 1 - DAYS;
function dayName(day) {
  const number2 = modulo(Math.floor(day + 0.5) - 1, DAYS) + 1;
  const month = MONTH_STARTS.findLastIndex((start) => start < number2);
  return `${number2 - MONTH_STARTS[month]} ${MONTHS[month]}`;
}
function dayNumber(text) {
  const numeric = /^(\d{1,2})-(\d{1,2})$/.exec(text.trim());
  const named = /^(?:(\d{1,2}) ([A-Za-z]{3,9})|([A-Za-z]{3,9}) (\d{1,2}))$/.exec(text.trim());
  let month = 0;
  let day = 0;
  if (numeric) {
    month = Number(numeric[1]);
    day = Number(numeric[2]);
  } else if (named) {
    const name = (named[2] ?? named[3]).slice(0, 3).toLowerCase();
    month = MONTHS.findIndex((known) => known.toLowerCase() === name) + 1;
    day = Number(named[1] ?? named[4]);
  }
  const daysInMonth = (MONTH_STARTS[month] ?? DAYS) - MONTH_STARTS[month - 1];
  return day >= 1 && day <= daysInMonth ? MONTH_STARTS[month - 1] + day : 0;
}

// src/elements.js
var idsMade = 0;
var OWN = Math.random().toString(36).slice(2, 10);
function newId() {
  idsMade += 1;
  return `climwin-${OWN}-${idsMade}`;
}
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
var svg = (tag, attributes = {}, ...children) => fill(document.createElementNS("http://www.w3.org/2000/svg", tag), attributes, children);
var label = (x, y, text, kind = "", anchor = "start") => svg("text", { x, y, class: kind, "text-anchor": anchor }, String(text));
var line = (x1, y1, x2, y2, kind) => svg("line", { x1, y1, x2, y2, class: kind });
var box = (x, y, width, height, kind) => svg("rect", { x, y, width: Math.max(width, 0), height: Math.max(height, 0), class: kind });
var dot = (cx, cy, r, kind) => svg("circle", { cx, cy, r, class: kind });
function pathThrough(points) {
  let command = "M";
  let data = "";
  for (const [x, y] of points) {
    if (y === null || Number.isNaN(y)) {
      command = "M";
    } else {
      data += `${command}${x.toFixed(1)} ${y.toFixed(1)}`;
      command = "L";
    }
  }
  return data;
}
var areaBetween = (upper, lower) => `${pathThrough(upper)}L${pathThrough([...lower].reverse()).slice(1)}Z`;
var clamp = (value, low, high) => Math.min(Math.max(value, low), high);

// src/formatting.js
function fixed(value, digits = 0) {
  const magnitude = Math.abs(value);
  const scaled = magnitude * 10 ** digits;
  const isExactHalf = Number.isInteger(magnitude * 4) && scaled % 1 === 0.5;
  const rounded = isExactHalf ? 2 * Math.round(scaled / 2) / 10 ** digits : magnitude;
  const text = rounded.toFixed(digits);
  return value < 0 && Number(text) !== 0 ? `-${text}` : text;
}
var number = (value, digits = 0) => fixed(value, digits).replace("-", "−");
var fromCelsius = (celsius, units) => units === "C" ? celsius : celsius * 1.8 + 32;
function temperature(celsius, units, digits = 0) {
  const rounded = Number(fixed(fromCelsius(celsius, units), digits));
  const shown = `${rounded}`.replace("-", "−");
  return say("temperature", { number: shown, units });
}
var degrees = (celsius, units) => temperature(celsius, units, units === "C" ? 1 : 0);
function toCelsius(value, units) {
  const celsius = units === "C" ? value : (Math.round(value) - 32) / 1.8;
  return Math.round(celsius * 10) / 10;
}
var percent = (share) => Number.isNaN(share) ? say("unknown") : say("percent", { number: fixed(100 * share) });
var years = (count) => say("years", { count });
var date = (day) => Number.isNaN(day) ? say("never_so_likely") : dayName(day);
function span(first, last) {
  const end = (day) => day === null || Number.isNaN(day) ? say("open_end") : dayName(day);
  return say("span", { first: end(first), last: end(last) });
}

// src/axes.js
var LEFT = 46;
var MARGIN_RIGHT = 10;
var NARROWEST = 160;
var NARROW = 520;
function rulerOf(width, firstDay) {
  const right = Math.max(width, NARROWEST) - MARGIN_RIGHT;
  const position = (day) => modulo(day - firstDay, DAYS);
  const x = (days) => LEFT + days / DAYS * (right - LEFT);
  const middleOf = (day) => x(position(day) + 0.5);
  function dayAt(px) {
    const days = Math.floor((px - LEFT) / (right - LEFT) * DAYS);
    return modulo(days + firstDay - 1, DAYS) + 1;
  }
  const pointsOf = (values) => range(DAYS).map((days) => [x(days + 0.5), values[(days + firstDay - 1) % DAYS]]);
  function stretches(firstOfSpan, length) {
    const start = position(firstOfSpan);
    const overhang = start + length - DAYS;
    const parts = [[start, Math.min(start + length, DAYS)]];
    if (overhang > 0) parts.push([0, overhang]);
    return parts.map(([from, to]) => [x(from), x(to) - x(from)]);
  }
  function months(top, bottom) {
    const every = right < NARROW ? 2 : 1;
    const marks = MONTH_STARTS.map((start, month) => {
      const begins = x(position(start + 1));
      const middle = x(position(start + 16));
      return [
        line(begins, top, begins, bottom, "month"),
        month % every ? null : label(middle, bottom + 13, MONTHS[month], "soft", "middle")
      ];
    });
    return [marks, line(LEFT, bottom, right, bottom, "axis")];
  }
  const readingMark = (day, top, bottom) => line(middleOf(day), top, middleOf(day), bottom, "reading");
  return {
    width,
    firstDay,
    right,
    position,
    x,
    middleOf,
    dayAt,
    pointsOf,
    stretches,
    months,
    readingMark
  };
}
function axis(top, bottom, [low, high], step, say2) {
  const y = (value) => bottom - (value - low) / (high - low) * (bottom - top);
  const firstTick = Math.ceil(low / step);
  const count = Math.floor(high / step) - firstTick + 1;
  const ticks = range(count).map((i) => {
    const value = (firstTick + i) * step;
    return [
      line(LEFT - 4, y(value), LEFT, y(value), "axis"),
      label(LEFT - 7, y(value) + 4, say2(value), "soft", "end")
    ];
  });
  const valueAt = (py) => low + (bottom - py) / (bottom - top) * (high - low);
  return { y, ticks, valueAt };
}
var shareAxis = (top, bottom, step) => axis(top, bottom, [0, 1], step, percent);
function temperatureAxis(top, bottom, ends, units) {
  const shown = ends.map((celsius) => fromCelsius(celsius, units));
  const scale = axis(
    top,
    bottom,
    shown,
    units === "C" ? 10 : 20,
    (value) => `${String(value).replace("-", "−")}°`
  );
  return {
    ticks: scale.ticks,
    y: (celsius) => scale.y(fromCelsius(celsius, units)),
    valueAt: (py) => toCelsius(scale.valueAt(py), units)
  };
}

// src/dialect.js
var LONG = ["January", "February", "March", "April", "June", "July", "August", "September"];
var NAMES = [...LONG, "October", "November", "December", ...MONTHS].join("|");
var DATE = new RegExp(
  `(?<![\\w.,-])(\\d{1,2}(?:–\\d{1,2})?)(\\s)(${NAMES})\\b(?:\\s((?:18|19|20)\\d\\d)\\b)?`,
  "g"
);
var americanDates = (text) => text.replace(
  DATE,
  (_, days, blank, month, year) => [`${month}${blank}${days}`, year].filter(Boolean).join(", ")
);
var FREEZE = /(?<![\w/\\.])([Ff])reeze(s?)(?![\w/\\]|\.\w)/g;
var inDialect = (text, units) => units === "F" ? americanDates(text) : text.replace(FREEZE, "$1rost$2");
var BEFORE_UNIT = new RegExp(
  `(\\d) (?=(?:${MONTHS.join("|")})[a-z]*\\b|[°%]|years?\\b|days?\\b)`,
  "g"
);
var unbroken = (text) => text.replace(/(\d) of (?=\d+\b)/g, "$1 of ").replace(BEFORE_UNIT, "$1 ");
var TURNED = /* @__PURE__ */ new WeakMap();
var SPOKEN = ["aria-label", "aria-valuetext", "title"];
var TURNED_ATTRIBUTES = /* @__PURE__ */ new WeakMap();
function speakAttributes(element, units) {
  const turned = TURNED_ATTRIBUTES.get(element) ?? {};
  for (const name of SPOKEN) {
    const now = element.getAttribute(name);
    if (now === null) continue;
    const last = turned[name];
    const written = last?.shown === now ? last.written : now;
    const shown = inDialect(written, units);
    if (shown === now) continue;
    element.setAttribute(name, shown);
    turned[name] = { written, shown };
    TURNED_ATTRIBUTES.set(element, turned);
  }
}
function speak(root, units) {
  const walker = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const node = walker.currentNode;
    const last = TURNED.get(node);
    const written = last && last.shown === node.data ? last.written : node.data;
    const wraps = !(node.parentElement instanceof SVGElement);
    const shown = inDialect(wraps ? unbroken(written) : written, units);
    if (shown === node.data) continue;
    node.data = shown;
    TURNED.set(node, { written, shown });
  }
  for (const element of root.querySelectorAll("*")) speakAttributes(element, units);
}

// src/controls.js
var STRIDES_OF_KEY = {
  ArrowRight: 1,
  ArrowUp: 1,
  PageUp: 10,
  ArrowLeft: -1,
  ArrowDown: -1,
  PageDown: -10
};
function dial({
  label: label2,
  ends,
  get,
  set,
  say: say2,
  read = null,
  unit = () => "",
  stride = () => 1,
  digits = () => 0
}) {
  const sliderId = newId();
  const faultId = newId();
  const slider = html("input", { id: sliderId, type: "range", step: "any", ...KEEP_KEYS });
  const field = html("input", {
    type: read ? "text" : "number",
    "aria-label": `${label2}, in figures`,
    "aria-describedby": faultId,
    ...KEEP_KEYS
  });
  const fault = html("span", { id: faultId, class: "wrong" });
  const units = html("span", { class: "unit" });
  function refresh() {
    const value = get();
    const [min, max] = ends();
    Object.assign(slider, { min, max, value });
    slider.setAttribute("aria-valuetext", say2(value));
    units.textContent = unit();
    if (document.activeElement === field) return;
    if (!read) Object.assign(field, { min, max, step: 10 ** -digits() });
    field.value = read ? say2(value) : fixed(value, digits());
  }
  function showFault(sentence) {
    fault.textContent = sentence ?? "";
    if (sentence) field.setAttribute("aria-invalid", "true");
    else field.removeAttribute("aria-invalid");
  }
  function setFromField() {
    if (read) {
      const value2 = read(field.value);
      return value2 ? set(value2, true) : `${label2}: write a date, such as 20 Apr.`;
    }
    const value = field.valueAsNumber;
    return Number.isNaN(value) ? `${label2}: write a number.` : set(value, true);
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
  const name = html("label", { for: sliderId }, label2);
  return { root: html("div", { class: "dial" }, name, slider, figures, fault), refresh };
}
function temperatureDial(panel, { label: label2, ends, get, set }) {
  const units = () => panel.state.units;
  const digits = () => units() === "C" ? 1 : 0;
  return dial({
    label: label2,
    ends: () => ends.map((end) => Math.round(fromCelsius(end, units()))),
    get: () => fromCelsius(get(), units()),
    set: (value) => set(toCelsius(value, units())),
    say: (value) => `${number(value, digits())} °${units()}`,
    unit: () => `°${units()}`,
    stride: () => units() === "C" ? 0.5 : 1,
    digits
  });
}
function wholeDial({ label: label2, ends, get, set, unit, say: say2 = null }) {
  return dial({
    label: label2,
    ends,
    get,
    set: (value) => set(Math.round(value)),
    say: say2 ?? ((value) => `${Math.round(value)} ${unit}`),
    unit: () => unit
  });
}
function dateDial(panel, { label: label2, get, set }) {
  const dayAt = (position) => modulo(Math.round(position) + panel.ruler.firstDay - 1, DAYS) + 1;
  return dial({
    label: label2,
    ends: () => [0, DAYS - 1],
    get: () => panel.ruler.position(get()),
    set: (value, isWritten) => set(isWritten ? value : dayAt(value)),
    say(position) {
      return inDialect(dayName(dayAt(position)), panel.state.units);
    },
    read: dayNumber
  });
}
function choice({ label: label2, options, get, set }) {
  const id = newId();
  const select = html("select", { id, onchange: () => set(select.value), ...KEEP_KEYS });
  let listed = "";
  function refresh() {
    const pairs = options();
    const text = JSON.stringify(pairs);
    if (text !== listed) {
      select.replaceChildren(...pairs.map(([value, name2]) => html("option", { value }, name2)));
      listed = text;
    }
    select.value = get();
  }
  const name = html("label", { for: id }, label2);
  return { root: html("div", { class: "choice" }, name, select), refresh };
}
function radios({ legend, options, get, set }) {
  const name = newId();
  const inputs = Object.keys(options).map(
    (value) => html("input", {
      type: "radio",
      id: newId(),
      name,
      value,
      onchange: () => set(value),
      ...KEEP_KEYS
    })
  );
  const pairs = inputs.map(
    (input) => html("span", {}, input, html("label", { for: input.id }, options[input.value]))
  );
  function refresh() {
    for (const input of inputs) input.checked = input.value === get();
  }
  return {
    root: html("fieldset", { class: "radios" }, html("legend", {}, legend), pairs),
    refresh
  };
}
var button = (text, onclick) => html("button", { type: "button", onclick, ...KEEP_KEYS }, text);

// src/strip.js
var GRIP = 9;
function emptyStrip(name, { key, controls, more = [] }) {
  const headId = newId();
  const textId = newId();
  const chart = svg("svg", { role: "img", "aria-labelledby": textId });
  const text = html("p", { id: textId, class: "said" });
  const title = html("h3", { id: headId }, name);
  const items = key.map(([kind, meaning]) => html("li", {}, swatch(kind), meaning));
  const root = html(
    "section",
    { class: "strip", "aria-labelledby": headId },
    title,
    html("div", { class: "drawn" }, chart, html("ul", { class: "key" }, items)),
    html("div", { class: "controls" }, controls),
    html("div", { class: "words" }, text, more)
  );
  function show(width, height, ...content) {
    fill(chart, { width, height, viewBox: `0 0 ${width} ${height}` }, []);
    chart.replaceChildren();
    fill(chart, {}, content);
  }
  return { root, title, items, chart, text, show };
}
function swatch(kind) {
  const mark2 = kind.startsWith("line ") ? line(1, 6, 21, 6, kind.slice("line ".length)) : box(1, 1, 20, 10, kind);
  return svg("svg", { width: 22, height: 12, "aria-hidden": "true" }, mark2);
}
function followPointer(chart, { grip = () => null, pick }) {
  let follow = null;
  function placeOf(event) {
    const { left, top } = chart.getBoundingClientRect();
    return [event.clientX - left, event.clientY - top];
  }
  chart.addEventListener("pointerdown", (event) => {
    follow = grip(...placeOf(event)) ?? pick;
    chart.setPointerCapture(event.pointerId);
    follow(...placeOf(event));
  });
  chart.addEventListener("pointermove", (event) => follow?.(...placeOf(event)));
  for (const end of ["pointerup", "pointercancel"]) {
    chart.addEventListener(end, () => {
      follow = null;
    });
  }
}

// src/statistics.js
function pairedInterval(onlyFirst, onlySecond, count, z) {
  if (!count) return { low: NaN, high: NaN };
  const total = count + 2;
  const first = onlyFirst + 0.5;
  const second = onlySecond + 0.5;
  const difference = (first - second) / total;
  const variance = first + second - (first - second) ** 2 / total;
  const half = z * Math.sqrt(variance) / total;
  const clamped = (value) => Math.min(Math.max(value, -1), 1);
  return { low: clamped(difference - half), high: clamped(difference + half) };
}
function countOverDraws(happened, drawn) {
  const chances = [];
  let [leaning, between] = [0, 0];
  happened.forEach((known, i) => {
    if (known !== null) chances.push(known);
    else if (drawn[i]) {
      const draws = drawn[i].length;
      const chance = drawn[i].reduce((sum, each) => sum + each, 0) / draws;
      chances.push(chance);
      leaning += 1;
      between += chance * (1 - chance) * (draws + 1) / Math.max(draws - 1, 1);
    }
  });
  const years2 = chances.length;
  if (!years2) return { share: NaN, years: years2, leaning, worth: 0 };
  const share = chances.reduce((sum, each) => sum + each, 0) / years2;
  const among = years2 * share * (1 - share);
  const worth = among > 0 ? years2 * among / (among + between) : years2;
  return { share, years: years2, leaning, worth };
}
function samplesByDraw(values) {
  const there = values.filter((each) => each !== null);
  const drawn = there.find((each) => Array.isArray(each));
  return (drawn ?? [0]).map(
    (_, draw) => there.map((each) => Array.isArray(each) ? each[draw] : each)
  );
}
function median(values) {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length / 2;
  return (sorted[Math.ceil(middle) - 1] + sorted[Math.floor(middle)]) / 2;
}
var meanOf = (values) => values.reduce((sum, each) => sum + each, 0) / values.length;
function normalBelow(z) {
  if (z === Infinity) return 1;
  if (z === -Infinity) return 0;
  const x = Math.abs(z) / Math.SQRT2;
  const tail = x < 2.5 ? (1 - errorSeries(x)) / 2 : errorFraction(x) / 2;
  return z > 0 ? 1 - tail : tail;
}
function errorSeries(x) {
  let term = x;
  let sum = x;
  for (let n = 1; Math.abs(term) > 1e-17 * Math.abs(sum) && n < 200; n++) {
    term *= -x * x / n;
    sum += term / (2 * n + 1);
    if (term === 0) break;
  }
  return 2 / Math.sqrt(Math.PI) * sum;
}
function errorFraction(x) {
  let value = 0;
  for (let n = 60; n > 0; n--) value = n / 2 / (x + value);
  return Math.exp(-x * x) / (Math.sqrt(Math.PI) * (x + value));
}
var LANCZOS = [
  0.9999999999998099,
  676.5203681218851,
  -1259.1392167224028,
  771.3234287776531,
  -176.6150291621406,
  12.507343278686905,
  -0.13857109526572012,
  9984369578019572e-21,
  15056327351493116e-23
];
function logGamma(x) {
  const shifted = x - 1;
  const t = shifted + 7.5;
  const sum = LANCZOS.reduce((total, each, i) => total + (i ? each / (shifted + i) : each), 0);
  return 0.5 * Math.log(2 * Math.PI) + (shifted + 0.5) * Math.log(t) - t + Math.log(sum);
}
var logBeta = (a, b) => logGamma(a) + logGamma(b) - logGamma(a + b);
function betaBelow(x, a, b) {
  if (x <= 0) return 0;
  if (x >= 1) return 1;
  if (x > (a + 1) / (a + b + 2)) return 1 - betaBelow(1 - x, b, a);
  const tiny = 1e-300;
  let c = 1;
  let d = 1 / (1 - (a + b) * x / (a + 1) || tiny);
  let fraction = d;
  for (let m = 1; m < 300; m++) {
    const even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m));
    const odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1));
    const before = fraction;
    for (const each of [even, odd]) {
      d = 1 / (1 + each * d || tiny);
      c = 1 + each / c || tiny;
      fraction *= c * d;
    }
    if (Math.abs(fraction - before) < 1e-16 * Math.abs(fraction)) break;
  }
  return Math.exp(a * Math.log(x) + b * Math.log(1 - x) - logBeta(a, b)) * fraction / a;
}
function betaQuantile(share, a, b) {
  let [low, high] = [0, 1];
  for (let n = 0; n < 60; n++) {
    const middle = (low + high) / 2;
    if (betaBelow(middle, a, b) < share) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
function oddsInterval(odds, worth, level) {
  if (!(worth > 0) || Number.isNaN(odds)) return { low: NaN, high: NaN };
  const [a, b] = [odds * worth + 0.5, (1 - odds) * worth + 0.5];
  const tail = (1 - level) / 2;
  return {
    low: odds <= 0 ? 0 : betaQuantile(tail, a, b),
    high: odds >= 1 ? 1 : betaQuantile(1 - tail, a, b)
  };
}
function nextInterval(odds, worth, years2, level) {
  if (!(worth > 0) || Number.isNaN(odds)) return { nextLow: NaN, nextHigh: NaN };
  const [a, b] = [odds * worth + 0.5, (1 - odds) * worth + 0.5];
  const tail = (1 - level) / 2;
  const below = [];
  let sum = 0;
  for (let k = 0; k < years2; k++) {
    const ways = logGamma(years2 + 1) - logGamma(k + 1) - logGamma(years2 - k + 1);
    sum += Math.exp(ways + logBeta(k + a, years2 - k + b) - logBeta(a, b));
    below.push(sum);
  }
  const countBelow = (share) => below.filter((each) => each < share).length;
  return { nextLow: countBelow(tail), nextHigh: countBelow(1 - tail) };
}
function worthAtLevel(worth, odds, spread) {
  const least = 0.5 / (worth + 1);
  const among = Math.min(Math.max(odds, least), 1 - least);
  return worth / (1 + worth * spread ** 2 / (among * (1 - among)));
}
function intervals(odds, worth, drift, { level, next_years: years2 }, spread = 0) {
  const ahead = worth * drift / (worth + drift);
  const atLevel = worthAtLevel(worth, odds, spread);
  return { ...oddsInterval(odds, atLevel, level), ...nextInterval(odds, ahead, years2, level) };
}
var isFinite = (value) => Number.isFinite(value);
function linearQuantile(sorted, share) {
  const at = share * (sorted.length - 1);
  const index = Math.floor(at);
  const high = sorted[Math.min(index + 1, sorted.length - 1)];
  return sorted[index] + (high - sorted[index]) * (at - index);
}
function kernelOf(values) {
  const sorted = values.filter(isFinite).sort((a, b) => a - b);
  const n = sorted.length;
  const middle = n ? meanOf(sorted) : NaN;
  const variance = sorted.reduce((sum, each) => sum + (each - middle) ** 2, 0) / (n - 1);
  if (n < 2 || !variance) return { centres: values, width: 0.5 };
  const quarters = linearQuantile(sorted, 0.75) - linearQuantile(sorted, 0.25);
  const width = 0.9 * Math.min(Math.sqrt(variance), quarters / 1.34) * n ** -0.2;
  const scale = 1 / Math.sqrt(1 + width ** 2 / variance);
  return {
    centres: values.map((each) => middle + (each - middle) * scale),
    width: Math.max(0.5, width * scale)
  };
}
var kernelShareAbove = (values, at) => kernelSharesAbove(values, [at])[0];
function kernelSharesAbove(values, ats) {
  const n = values.length;
  if (!n) return ats.map(() => NaN);
  const { centres, width } = kernelOf(values);
  const least = 0.5 / (n + 1);
  const below = (z) => Math.abs(z) < 8 ? normalBelow(z) : Number(z > 0);
  return ats.map((at) => {
    const sum = centres.reduce((total, each) => total + below((each - at) / width), 0);
    return Math.min(Math.max(sum / n, least), 1 - least);
  });
}
function kernelQuantile(values, share) {
  const n = values.length;
  const before = values.filter((each) => each === -Infinity).length / n;
  const beyond = values.filter((each) => each === Infinity).length / n;
  if (share <= beyond) return Infinity;
  if (share >= 1 - before) return -Infinity;
  const { centres, width } = kernelOf(values);
  const there = centres.filter(isFinite);
  const first = Math.min(...there) - 5 * width;
  const steps = Math.ceil((Math.max(...there) + 5 * width - first) / 0.1);
  const above = (i) => {
    const sum = there.reduce(
      (total, each) => total + normalBelow((each - (first + i * 0.1)) / width),
      0
    );
    return sum / there.length * (1 - before - beyond) + beyond;
  };
  let [low, high] = [0, steps - 1];
  if (share >= above(low)) return first;
  if (share <= above(high)) return first + high * 0.1;
  while (high - low > 1) {
    const middle = Math.floor((low + high) / 2);
    if (above(middle) > share) low = middle;
    else high = middle;
  }
  const part = (above(low) - share) / (above(low) - above(high));
  return first + (low + part) * 0.1;
}

// src/windows.js
var SLACK_C = 0.05;
function slackOf(threshold, step) {
  const marks = threshold / step;
  const isReading = Math.abs(marks - Math.round(marks)) * step <= SLACK_C + 1e-9;
  return isReading ? Math.max(step / 2, SLACK_C) : SLACK_C;
}
function nightLimits(record, row, firstDay, threshold, asked = threshold) {
  const ofYear = record.minimum_steps.map((step) => threshold + slackOf(asked, step));
  const start = row * DAYS + seasonOffset(firstDay);
  return range(DAYS).map((day) => ofYear[Math.floor((start + day) / DAYS)]);
}
var BRIDGED_DAYS = 3;
var TURN_DAYS = 30;
var KINDS = Object.keys(WINDOW_NAMES);
var NO_RUN = { start: -1, end: -1, usable: 0 };
var runLength = (run) => run === NO_RUN ? 0 : run.end - run.start + 1;
function indexOfExtreme(values, isBetter) {
  let best = 0;
  values.forEach((value, i) => {
    if (isBetter(value, values[best])) best = i;
  });
  return best;
}
var isGreater = (a, b) => a > b;
var isLess = (a, b) => a < b;
function cropYear(usual, { low, high }) {
  const outside = usual.map((t) => Math.max(low - t, t - high));
  const first = indexOfExtreme(outside, isGreater);
  const startsInCold = low - usual[first] >= usual[first] - high;
  const opposite = indexOfExtreme(usual, startsInCold ? isGreater : isLess);
  return {
    firstDay: first + 1,
    turn: modulo(opposite - first, DAYS),
    startsInCold,
    hasTwoWindows: outside[opposite] > SLACK_C
  };
}
function halvesOf(year) {
  const before = [0, year.turn];
  const after = [year.turn, DAYS];
  return year.startsInCold ? { rise: before, fall: after } : { rise: after, fall: before };
}
function seasonOf(values, row, firstDay) {
  const start = row * DAYS + seasonOffset(firstDay);
  return values.slice(start, start + DAYS);
}
function closedByFreezes(kills, year) {
  if (!year.startsInCold && !year.hasTwoWindows) return kills;
  const closed = kills.slice();
  const { rise, fall } = halvesOf(year);
  for (let day = rise[1] - 2; day >= rise[0]; day--) closed[day] |= closed[day + 1];
  for (let day = fall[0] + 1; day < fall[1]; day++) closed[day] |= closed[day - 1];
  return closed;
}
function usableRuns(usable, closed) {
  const runs = [];
  let lastRun = null;
  let lastClosed = -1;
  for (let day = 0; day < DAYS; day++) {
    if (closed[day]) lastClosed = day;
    if (!usable[day] || closed[day]) continue;
    const isNear = lastRun && day - lastRun.end - 1 <= BRIDGED_DAYS;
    if (isNear && lastClosed <= lastRun.end) {
      lastRun.end = day;
      lastRun.usable += 1;
    } else {
      lastRun = { start: day, end: day, usable: 1 };
      runs.push(lastRun);
    }
  }
  return runs;
}
function longestRuns(runs, year) {
  const beginsBeforeTurn = (run) => run.start < year.turn - TURN_DAYS;
  const endsAfterTurn = (run) => run.end >= year.turn + TURN_DAYS;
  const [onRise, onFall] = year.startsInCold ? [beginsBeforeTurn, endsAfterTurn] : [endsAfterTurn, beginsBeforeTurn];
  const longest = (chosen) => chosen.reduce((best, run) => runLength(run) > runLength(best) ? run : best, NO_RUN);
  return {
    longest: longest(runs),
    rise: year.hasTwoWindows ? longest(runs.filter(onRise)) : NO_RUN,
    fall: year.hasTwoWindows ? longest(runs.filter(onFall)) : NO_RUN
  };
}
function windowBetween(worst, best) {
  const least = runLength(worst);
  const most = runLength(best);
  const isKnown = ["start", "end", "usable"].every((key) => worst[key] === best[key]);
  if (!isKnown) return { least, most, status: "unknown" };
  const { start, end, usable } = worst;
  const known = { least, most, length: least, usable };
  return least ? { ...known, status: "observed", start, end } : { ...known, status: "none" };
}
function daysThat(n, passes) {
  const days = new Uint8Array(n);
  for (let i = 0; i < n; i++) days[i] = passes(i);
  return days;
}
var bandOf = ({ low, high }) => [low - SLACK_C, high + SLACK_C];
function windowsOfSeason(record, limits, year, row, means, minima) {
  const [low, high] = bandOf(limits);
  const [meanLow, meanHigh, minLow, minHigh] = [means.low, means.high, minima.low, minima.high].map(
    (values) => seasonOf(values, row, year.firstDay)
  );
  const killedAt = limits.killed === null ? new Array(DAYS).fill(-Infinity) : nightLimits(record, row, year.firstDay, limits.killed, limits.asked);
  const runsOf = (usable, kills) => longestRuns(usableRuns(usable, closedByFreezes(kills, year)), year);
  const sure = runsOf(
    daysThat(DAYS, (i) => meanLow[i] >= low && meanHigh[i] <= high),
    daysThat(DAYS, (i) => minLow[i] <= killedAt[i])
  );
  const possible = runsOf(
    daysThat(DAYS, (i) => meanHigh[i] >= low && meanLow[i] <= high),
    daysThat(DAYS, (i) => minHigh[i] <= killedAt[i])
  );
  return Object.fromEntries(KINDS.map((kind) => [kind, windowBetween(sure[kind], possible[kind])]));
}
var openKinds = (windows) => KINDS.filter((kind) => windows[kind].status === "unknown");
function settleOpenWindows(record, limits, year, seasons) {
  const withGaps = seasons.filter(({ windows }) => openKinds(windows).length);
  const isDrawn = ({ row }) => record.drawn_windows[year.firstDay].includes(row);
  for (const { windows } of withGaps.filter((season) => !isDrawn(season))) {
    for (const kind of openKinds(windows)) Object.assign(windows[kind], { least: 0, most: DAYS });
  }
  const open = record.draws.length ? withGaps.filter(isDrawn) : [];
  for (const { windows } of open) {
    for (const kind of openKinds(windows)) windows[kind].drawn = [];
  }
  for (const draw of open.length ? record.draws : []) {
    const [means, minima] = [draw.running_mean(), draw.minimum()];
    for (const { row, windows } of open) {
      const inDraw = windowsOfSeason(record, limits, year, row, means, minima);
      for (const kind of openKinds(windows)) {
        windows[kind].drawn.push(inDraw[kind].length ?? NaN);
      }
    }
  }
}
function averageRuns(curve, limits, year) {
  const [low, high] = bandOf(limits);
  const inBand = curve.map((t) => t !== null && t >= low && t <= high);
  const inSeason = range(DAYS).map((day) => inBand[(day + year.firstDay - 1) % DAYS]);
  return longestRuns(usableRuns(inSeason, new Uint8Array(DAYS)), year);
}
function usableWindows(record, limits) {
  const year = cropYear(record.usual, limits);
  const seasons = record.season_rows[year.firstDay].map((row) => ({
    row,
    windows: windowsOfSeason(record, limits, year, row, record.running_mean, record.minimum)
  }));
  settleOpenWindows(record, limits, year, seasons);
  const rows = seasons.map(({ row, windows }) => ({ year: record.first_row + row, ...windows }));
  return { ...year, rows, average: averageRuns(record.average_curve, limits, year) };
}
function limitsOfToday({ low, high, killed }, { tmin, tmean }) {
  const moved = killed === null ? null : killed - tmin;
  return { low: low - tmean, high: high - tmean, killed: moved, asked: killed };
}
function oddsShorter(windows, kind, needDays, constants, climate = "record") {
  const all = windows.rows.map((row) => row[kind]);
  const isShorter = all.map((window) => {
    if (window.most < needDays) return 1;
    return window.least >= needDays ? 0 : null;
  });
  const drawn = all.map((window) => window.drawn?.every(Number.isFinite) ? window.drawn : null);
  const { leaning, worth } = countOverDraws(
    isShorter,
    drawn.map((lengths2) => lengths2 && lengths2.map((length) => Number(length < needDays)))
  );
  const known = isShorter.filter((each) => each !== null).length;
  const smoothable = (length) => length > 0 ? length : -Infinity;
  const lengths = all.map(
    (window, i) => isShorter[i] === null ? drawn[i] && drawn[i].map(smoothable) : smoothable((window.least + window.most) / 2)
  );
  const samples = samplesByDraw(lengths);
  const odds = 1 - meanOf(samples.map((sample) => kernelShareAbove(sample, needDays - 0.5)));
  return {
    shorter: isShorter.filter((each) => each === 1).length,
    known,
    unknown: all.length - known,
    leaning,
    odds,
    ...intervals(odds, worth, constants.drifts.window[climate], constants)
  };
}
function windowOfPlan(windows, startDay, weeksUnderCover) {
  if (!windows.hasTwoWindows) return "longest";
  const outdoors = startDay + 7 * weeksUnderCover;
  const distance = (kind) => {
    const run = windows.average[kind];
    if (run === NO_RUN) return DAYS;
    const begins = run.start + seasonOffset(windows.firstDay) + 1;
    return Math.abs(modulo(outdoors - begins + DAYS / 2, DAYS) - DAYS / 2);
  };
  return distance("fall") < distance("rise") ? "fall" : "rise";
}

// src/cover_strip.js
function coverStrip(panel) {
  const stage = choice({
    label: "Grown inside",
    options: () => Object.keys(panel.crop.stages).map((name) => [name, name]),
    get: () => panel.stageInside,
    set: (inside) => panel.move({ inside })
  });
  const hot = temperatureDial(panel, {
    label: "Scorches at",
    ends: [20, 50],
    get: () => panel.state.hot,
    set: (celsius) => panel.move({ hot: celsius })
  });
  const { root, text, show } = emptyStrip("The covered space and its logger", {
    key: [
      ["logged", "inside, coldest to hottest"],
      ["short", "too cold or too hot"],
      ["spread", "outdoors"],
      ["line median", "the line fitted to it"]
    ],
    controls: [stage.root, hot.root]
  });
  function drawChart() {
    const { state, ruler } = panel;
    const { dates, inside, outdoors, fitted } = panel.numbers.cover;
    const { low, high } = panel.limits;
    const killed = panel.killedAt(panel.stageInside);
    const [top, bottom] = [8, 190];
    const all = [...inside.flat(), ...outdoors.flat(), killed, state.hot].filter((t) => t !== null);
    const ends = [Math.min(...all) - 2, Math.max(...all) + 3];
    const { y, ticks } = temperatureAxis(top, bottom, ends, state.units);
    const width = (ruler.right - LEFT) / dates.length;
    const x = (i) => LEFT + i * width;
    const dayBoxes = ([minima, maxima], inset, kindOf) => dates.map((_, i) => {
      const [least, most] = [minima[i], maxima[i]];
      if (least === null || most === null) return null;
      const height = y(least) - y(most);
      return box(x(i) + inset, y(most), width - 2 * inset, height, kindOf(least, most));
    });
    const isHarmful = (coldest, hottest) => coldest <= killed + SLACK_C || hottest >= state.hot - SLACK_C;
    const fittedLines = fitted.map((values) => {
      const points = values.map((t, i) => [x(i + 0.5), t === null ? null : y(t)]);
      return svg("path", { d: pathThrough(points), class: "median" });
    });
    const thresholds = [
      ["kills", killed],
      ["scorches", state.hot]
    ].map(([name, celsius]) => [
      line(LEFT, y(celsius), ruler.right, y(celsius), "limit killed"),
      label(ruler.right - 3, y(celsius) - 4, name, "over", "end")
    ]);
    const dateNames = dates.map((date2, i) => {
      const day = date2.slice("2001-".length);
      const isNamed = /-(01|15)$/.test(day);
      return isNamed ? label(x(i), bottom + 15, dayName(dayNumber(day)), "soft", "middle") : null;
    });
    show(
      ruler.width,
      bottom + 22,
      box(LEFT, y(high), ruler.right - LEFT, y(low) - y(high), "band"),
      dayBoxes(outdoors, 0, () => "spread"),
      dayBoxes(inside, width * 0.22, (...ofDay) => isHarmful(...ofDay) ? "short" : "logged"),
      fittedLines,
      thresholds,
      ticks,
      dateNames,
      line(LEFT, bottom, ruler.right, bottom, "axis")
    );
  }
  function draw() {
    drawChart();
    const sentences = panel.currentResult("cover")?.sentences;
    if (sentences) text.textContent = sentences.join(" ");
    else text.textContent ||= "Reading the logger …";
    root.classList.toggle("waiting", !sentences);
    return sentences?.[0] ?? "";
  }
  return { root, draw, controls: [stage, hot] };
}

// src/frame.js
var REST_MS = 700;
var MIDDLE_HALF = [1, 3];
function createFrame(panel, parts) {
  const place = html("p", { class: "place" });
  const finding = html("p", { class: "finding" });
  const message = html("p", { class: "message", role: "alert", hidden: true });
  const caveats = html("ul", {
    class: "caveats",
    "aria-label": "Where these numbers could mislead"
  });
  const spoken = html("p", { class: "unseen", role: "status" });
  const busy = html("p", { class: "busy" }, html("span", { "aria-hidden": "true" }), "working …");
  const reading = html("p", { class: "read" });
  const crops = choice({
    label: "Crop",
    options: () => panel.numbers.crops.map(({ name }) => [name, nameWithOdds(panel, name)]),
    get: () => panel.state.crop,
    set: panel.moveCrop
  });
  const units = radios({
    legend: "Temperatures in",
    options: { C: "°C", F: "°F" },
    get: () => panel.state.units,
    set: (chosen) => panel.move({ units: chosen })
  });
  const span2 = yearFields(panel);
  const date2 = dateDial(panel, {
    label: "Read a date",
    get: () => panel.state.date,
    set: (day) => panel.move({ date: day })
  });
  const hasRuler = parts.some((part) => part !== "cover");
  const hasCrop = parts.some((part) => part !== "freeze");
  const bar = html("div", { class: "bar" }, hasCrop ? crops.root : null, span2.root, units.root);
  const head = html("div", { class: "head" }, busy, place, finding, message, caveats, bar, spoken);
  const ruler = html("div", { class: "ruler" }, date2.root, reading);
  let resting = 0;
  function showCaveats() {
    const sentences = panel.currentResult("caveats")?.sentences;
    if (sentences) caveats.replaceChildren(...sentences.map((text) => html("li", {}, text)));
    caveats.hidden = !caveats.children.length;
  }
  function refresh(sentence) {
    finding.textContent = sentence;
    message.textContent = panel.message;
    message.hidden = !panel.message;
    showCaveats();
    clearTimeout(resting);
    resting = setTimeout(() => {
      spoken.textContent = sentence;
    }, REST_MS);
    const isReady = Boolean(panel.record);
    bar.hidden = !isReady;
    ruler.hidden = !isReady;
    if (!isReady) return;
    place.textContent = placeAndYears(panel.record, panel.state.units);
    reading.textContent = readingOf(panel, parts);
  }
  return {
    roots: hasRuler ? [head, ruler] : [head],
    controls: hasCrop ? [crops, units, span2, date2] : [units, span2, date2],
    refresh,
    close: () => clearTimeout(resting)
  };
}
function placeAndYears({ name, scenario, first_year: first, last_year: last }, shownUnits) {
  const span2 = `${years(last - first + 1)}, ${first} to ${last}`;
  return [name, scenario[shownUnits], span2].filter(Boolean).join(" · ");
}
function nameWithOdds(panel, name) {
  const best = panel.currentResult("crops")?.best[name];
  if (!best) return name;
  const [harvested, known] = best;
  return `${name} (${harvested} of ${years(known)})`;
}
function yearFields(panel) {
  const setYear = (which, field) => {
    const year = Number.isNaN(field.valueAsNumber) ? null : field.valueAsNumber;
    panel.move({ years: panel.state.years.map((old, i) => i === which ? year : old) });
  };
  const fields = ["from", "to"].map(
    (end, i) => html("input", {
      type: "number",
      "aria-label": `Years ${end}`,
      onchange: ({ target }) => setYear(i, target),
      ...KEEP_KEYS
    })
  );
  const [from, to] = fields;
  const root = html("fieldset", { class: "years" }, html("legend", {}, "Years"), from, " to ", to);
  function refresh() {
    fields.forEach((field, i) => {
      if (document.activeElement !== field) field.value = panel.state.years[i] ?? "";
    });
  }
  return { root, refresh };
}
function readingOf(panel, parts) {
  const sentences = [temperaturesOn(panel), freezeChanceOn(panel)];
  if (parts.includes("window")) sentences.push(windowsOn(panel));
  return sentences.filter(Boolean).join(" ");
}
function temperaturesOn({ record, state }) {
  const [low, high] = MIDDLE_HALF.map((row) => record.bands[row][state.date - 1]);
  if (low === null) return "";
  const ends = `${temperature(low, state.units)} and ${temperature(high, state.units)}`;
  return `${dayName(state.date)}: half of all days have a mean between ${ends}.`;
}
function freezeChanceOn({ record, state, freezes }) {
  const sinceColdest = modulo(state.date - record.coldest_day, DAYS);
  const isSpring = sinceColdest < modulo(record.warmest_day - record.coldest_day, DAYS);
  const chance = freezes.chance[isSpring ? "spring" : "autumn"][state.date - 1];
  if (chance === null) return "";
  const night = degrees(state.threshold, state.units);
  const when = isSpring ? "or later in spring" : "or earlier in autumn";
  return `Chance of ${night} or colder on this day ${when}: ${percent(chance)}.`;
}
function windowsOn(panel) {
  const day = panel.ruler.position(panel.state.date);
  const known = panel.windows.rows.map((row) => row[panel.windowKind]).filter((window) => window.status !== "unknown");
  const around = known.filter((window) => window.start <= day && day <= window.end);
  return `It was mild enough in ${around.length} of ${years(known.length)}.`;
}

// src/freezes.js
var HALVES = ["spring", "autumn"];
function freezeDates(record, thresholdC, asked = thresholdC) {
  const { minimum, coldest_day: coldest, warmest_day: warmest } = record;
  const midsummer = modulo(warmest - coldest, DAYS);
  const start = seasonOffset(coldest) + 1;
  const freezesOf = (minima2, row) => {
    const season = seasonOf(minima2, row, coldest);
    const limits = nightLimits(record, row, coldest, thresholdC, asked);
    const nights = daysThat(DAYS, (i) => season[i] <= limits[i]);
    return {
      spring: midsummer ? nights.lastIndexOf(1, midsummer - 1) : -1,
      autumn: nights.indexOf(1, midsummer)
    };
  };
  const datesOf = ({ low, high }, row) => {
    const sure = freezesOf(high, row);
    const possible = freezesOf(low, row);
    const settled = (half) => {
      if (sure[half] !== possible[half]) return null;
      return sure[half] < 0 ? NaN : sure[half] + start;
    };
    return { spring: settled("spring"), autumn: settled("autumn") };
  };
  const rows = record.season_rows[coldest];
  const dates = rows.map((row) => ({ year: record.first_row + row, ...datesOf(minimum, row) }));
  const open = rows.map((row, i) => ({ row, date: dates[i] })).filter(({ row }) => record.drawn_freezes.includes(row)).filter(({ date: date2 }) => HALVES.some((half) => date2[half] === null));
  if (!open.length) return dates;
  const minima = record.draws.map((draw) => draw.minimum());
  for (const { row, date: date2 } of open) {
    const byDraw = minima.map((each) => datesOf(each, row));
    for (const half of HALVES.filter((each) => date2[each] === null)) {
      const days = byDraw.map((drawn) => drawn[half]);
      date2[`drawn_${half}`] = days.includes(null) ? null : days.map((day) => endlessly(half, day));
    }
  }
  return dates;
}
function endlessly(half, day) {
  if (!Number.isNaN(day)) return day;
  return half === "spring" ? -Infinity : Infinity;
}
function samplesOf(dates, half) {
  return samplesByDraw(
    dates.map(
      (date2) => date2[half] === null ? date2[`drawn_${half}`] ?? null : endlessly(half, date2[half])
    )
  );
}
function freezeChance(record, dates) {
  const start = seasonOffset(record.coldest_day) + 1;
  const sharesAbove = (half, later) => {
    const samples = samplesOf(dates, half);
    const shares = new Array(DAYS).fill(null);
    if (!samples[0].length) return shares;
    const ats = range(DAYS).map((i) => start + i + later);
    const byDraw = samples.map((days) => kernelSharesAbove(days, ats));
    for (const i of range(DAYS)) {
      shares[modulo(start + i - 1, DAYS)] = meanOf(byDraw.map((each) => each[i]));
    }
    return shares;
  };
  return {
    spring: sharesAbove("spring", -0.5),
    autumn: sharesAbove("autumn", 0.5).map((share) => share === null ? null : 1 - share)
  };
}
function freezeDay(dates, half, level) {
  const samples = samplesOf(dates, half);
  if (!samples[0].length) return NaN;
  const share = half === "spring" ? level : 1 - level;
  const endless = half === "spring" ? -Infinity : Infinity;
  const byDraw = samples.map((days) => kernelQuantile(days, share)).map((day2) => Number.isFinite(day2) ? day2 : endless);
  const day = median(byDraw);
  return Number.isFinite(day) ? day : NaN;
}

// src/freeze_strip.js
var CHANCES = { "9 in 10": 0.9, even: 0.5, "1 in 10": 0.1 };
var HALVES2 = ["spring", "autumn"];
function freezeStrip(panel) {
  const threshold = temperatureDial(panel, {
    label: "A freeze is a night at or below",
    ends: [-15, 8],
    get: () => panel.state.threshold,
    set: (celsius) => panel.move({ threshold: celsius })
  });
  const table = html("table");
  const { root, chart, text, show } = emptyStrip("The odds of a freeze", {
    key: [
      ["spring", "in spring, on this day or later"],
      ["autumn", "in autumn, on this day or earlier"]
    ],
    controls: [threshold.root, table]
  });
  followPointer(chart, { pick: (px) => panel.move({ date: panel.ruler.dayAt(px) }) });
  function tabulate(dates) {
    const intervals2 = panel.currentResult("freeze");
    const cell = (half, row) => {
      const ends = intervals2 ? span(...intervals2[half].map((end) => end[row])) : "…";
      return html("td", {}, date(dates[half][row]), html("small", {}, ends));
    };
    const heads = ["Chance", "In spring, or later", "In autumn, or earlier"];
    const rows = Object.keys(CHANCES).map(
      (name, row) => html(
        "tr",
        {},
        html("th", { scope: "row" }, name),
        HALVES2.map((half) => cell(half, row))
      )
    );
    const headCells = heads.map((name) => html("th", { scope: "col" }, name));
    table.replaceChildren(
      html("caption", {}, "Dates, and between which they lie nine times in ten"),
      html("thead", {}, html("tr", {}, headCells)),
      html("tbody", {}, rows)
    );
  }
  function drawChart(chance) {
    const { state, ruler } = panel;
    const [top, bottom] = [10, 128];
    const { y, ticks } = shareAxis(top, bottom, 0.5);
    const base = range(DAYS).map((day) => [ruler.x(day + 0.5), bottom]);
    const shapes = HALVES2.map((half) => {
      const heights = chance[half].map((share) => share === null ? bottom : y(share));
      return svg("path", { d: areaBetween(ruler.pointsOf(heights), base), class: half });
    });
    show(
      ruler.width,
      bottom + 20,
      shapes,
      ruler.months(top, bottom),
      ticks,
      ruler.readingMark(state.date, top, bottom)
    );
  }
  function draw() {
    const { dates, chance } = panel.freezes;
    drawChart(chance);
    const levels = Object.values(CHANCES);
    const datesOf = (half) => levels.map((level) => freezeDay(dates, half, level));
    const byChance = { spring: datesOf("spring"), autumn: datesOf("autumn") };
    tabulate(byChance);
    const [, even, oneInTen] = byChance.spring.map(date);
    const autumn = date(byChance.autumn[1]);
    const night = degrees(panel.state.threshold, panel.state.units);
    text.textContent = `A night of ${night} or colder comes in half of the years on ${even} or later, in one year of ten on ${oneInTen} or later; before winter in half of the years on ${autumn} or earlier.`;
    return text.textContent;
  }
  return { root, draw, controls: [threshold] };
}

// src/unpack.js
var MEAN_DAYS = 7;
var HALF = 3;
var NEAR = 15;
var FIRST_LETTER = "#".codePointAt(0);
var NO_LETTERS = { first: 55296, count: 2048 };
var numbers = (list) => Float64Array.from(list, (value) => value ?? NaN);
function readings({ decimals, steps }) {
  const scale = 10 ** decimals;
  let whole = 0;
  return Float64Array.from(steps, (step) => {
    if (step === null) return NaN;
    whole += step;
    return whole / scale;
  });
}
function withEmptyYears(values) {
  const padded = new Float64Array(values.length + 2 * DAYS).fill(NaN);
  padded.set(values, DAYS);
  return padded;
}
function seenRange(values) {
  const low = new Float64Array(DAYS).fill(Infinity);
  const high = new Float64Array(DAYS).fill(-Infinity);
  values.forEach((value, i) => {
    if (Number.isNaN(value)) return;
    low[i % DAYS] = Math.min(low[i % DAYS], value);
    high[i % DAYS] = Math.max(high[i % DAYS], value);
  });
  const near = (day) => range(2 * NEAR + 1).map((i) => modulo(day + i - NEAR, DAYS));
  const lowest = range(DAYS).map((day) => Math.min(...near(day).map((each) => low[each])));
  const highest = range(DAYS).map((day) => Math.max(...near(day).map((each) => high[each])));
  const isSeen = (day) => lowest[day] <= highest[day];
  return {
    lowest: lowest.map((value, day) => isSeen(day) ? value : -Infinity),
    highest: highest.map((value, day) => isSeen(day) ? value : Infinity)
  };
}
function runningMean(values, assumed) {
  const at = (i) => {
    const value = values[i] ?? NaN;
    return Number.isNaN(value) ? assumed[modulo(i, DAYS)] : value;
  };
  return values.map((_, day) => {
    let sum = 0;
    for (let i = day - HALF; i <= day + HALF; i++) sum += at(i);
    return sum / MEAN_DAYS;
  });
}
function minimumBounds(values) {
  const { lowest } = seenRange(values);
  return {
    low: values.map((value, i) => Number.isNaN(value) ? lowest[i % DAYS] : value),
    high: values.map((value) => Number.isNaN(value) ? Infinity : value)
  };
}
function meanOfDraw({ low, high }, days, values, { lowest, highest }) {
  const drawn = { low: low.slice(), high: high.slice() };
  values.forEach((value, n) => {
    const assumed = days[n] % DAYS;
    const [moreThanLeast, moreThanGreatest] = [value - lowest[assumed], value - highest[assumed]];
    if (!Number.isFinite(moreThanLeast) || !Number.isFinite(moreThanGreatest)) return;
    for (let day = days[n] - HALF; day <= days[n] + HALF; day++) {
      drawn.low[day] += moreThanLeast / MEAN_DAYS;
      drawn.high[day] += moreThanGreatest / MEAN_DAYS;
    }
  });
  return drawn;
}
function minimumOfDraw({ low, high }, days, values) {
  const drawn = { low: low.slice(), high: high.slice() };
  values.forEach((value, n) => {
    if (Number.isNaN(value)) return;
    drawn.low[days[n]] = value;
    drawn.high[days[n]] = value;
  });
  return drawn;
}
function unpackRecord(record) {
  const [tmean, tmin] = [record.tmean, record.tmin].map((each) => withEmptyYears(readings(each)));
  const seen = seenRange(tmean);
  const mean = { low: runningMean(tmean, seen.lowest), high: runningMean(tmean, seen.highest) };
  const minimum = minimumBounds(tmin);
  const [means, minima] = [record.drawn_tmean, record.drawn_tmin].map(({ days, values }) => ({
    days,
    values: values.map(numbers)
  }));
  const count = Math.max(means.values.length, minima.values.length);
  const draws = range(count).map((draw) => ({
    /** Worked out when they are asked for: a long record's draws together would fill the memory. */
    running_mean: () => meanOfDraw(mean, means.days, means.values[draw] ?? [], seen),
    minimum: () => minimumOfDraw(minimum, minima.days, minima.values[draw] ?? [])
  }));
  return { ...record, running_mean: mean, minimum, draws };
}
function fromLetters(text) {
  return Array.from(text, (letter) => {
    const place = letter.codePointAt(0);
    return place - FIRST_LETTER - (place < NO_LETTERS.first ? 0 : NO_LETTERS.count);
  });
}
var signed = (places) => places.map((place) => place % 2 ? -(place + 1) / 2 : place / 2);
function fromRuns(values, counts) {
  return fromLetters(counts).flatMap((count, i) => new Array(count).fill(values[i]));
}
function fromSteps(text) {
  let value = 0;
  return signed(fromLetters(text)).map((step) => {
    value += step;
    return value;
  });
}

// src/outcomes.js
var MIDDLE = 1;
function outcomeGrid(packed) {
  const codes = fromRuns(signed(fromLetters(packed.codes)), packed.code_counts);
  const draws = fromRuns(packed.draws, packed.draw_counts);
  const outcomeAt = (i) => ({
    code: codes[i],
    harvested: draws[i] ? [...draws[i]].map(Number) : null
  });
  const years2 = range(codes.length / DAYS);
  const harvestDays = packed.harvest_days.map(fromSteps);
  const needDays = fromSteps(packed.need_days);
  const levelSpread = fromSteps(packed.level_spread ?? "");
  return {
    bestDates: packed.best_dates,
    otherDates: packed.other_dates,
    bestDate: packed.best_date,
    bestShare: packed.best_share,
    bestInterval: packed.best_interval,
    on: (startDay) => years2.map((row) => outcomeAt(row * DAYS + startDay - 1)),
    needDays: (startDay) => needDays[startDay - 1],
    climate: packed.climate,
    levelSpread: (startDay) => (levelSpread[startDay - 1] ?? 0) / 1e3,
    harvestDays: (startDay) => harvestDays.map((days) => days[startDay - 1]).map((day) => day < 0 ? NaN : day)
  };
}
var isHarvest = (code, constants) => code === constants.harvest || code === constants.good_harvest;
var hasHarvest = (code, constants) => code === constants.unknown ? null : Number(isHarvest(code, constants));
function countOutcomes(outcomes, constants) {
  const count = (code) => outcomes.filter((each) => each.code === code).length;
  const good = count(constants.good_harvest);
  const harvested = good + count(constants.harvest);
  const known = outcomes.length - count(constants.unknown);
  const { share, leaning, worth } = countOverDraws(
    outcomes.map(({ code }) => hasHarvest(code, constants)),
    outcomes.map((each) => each.harvested)
  );
  return {
    share,
    leaning,
    worth,
    harvested,
    good,
    known,
    failed: constants.failure_reasons.map((_, code) => count(code))
  };
}
function harvestIntervals({ share, worth }, grid, startDay, constants) {
  const drift = constants.drifts.harvest[grid.climate];
  const spread = grid.levelSpread(startDay);
  const ahead = intervals(share, constants.counted_year * worth, drift, constants, spread);
  if (startDay !== grid.bestDate || !grid.bestInterval) return ahead;
  const [low, high] = grid.bestInterval;
  return { ...ahead, low, high };
}
function harvestShares(grid, constants) {
  return range(DAYS).map((i) => countOutcomes(grid.on(i + 1), constants).share);
}
function comparePlans(firstOutcomes, secondOutcomes, constants) {
  const known = [firstOutcomes, secondOutcomes].map(
    (outcomes) => outcomes.map(({ code }) => hasHarvest(code, constants))
  );
  const count = (byFirst, bySecond) => known[0].filter((first, i) => first === byFirst && known[1][i] === bySecond).length;
  const [both, neither] = [count(1, 1), count(0, 0)];
  const [onlyFirst, onlySecond] = [count(1, 0), count(0, 1)];
  const byDraw = firstOutcomes.map((first, i) => [
    known[0][i] === null ? first.harvested : known[0][i],
    known[1][i] === null ? secondOutcomes[i].harvested : known[1][i]
  ]);
  const answered = byDraw.filter((pair) => !pair.includes(null));
  const aloneInDraws = (place) => answered.reduce(
    (sum, pair) => sum + meanOf(samplesByDraw(pair).map((each) => Number(each[place] > each[1 - place]))),
    0
  );
  return {
    known: both + neither + onlyFirst + onlySecond,
    both,
    onlyFirst,
    onlySecond,
    neither,
    ...pairedInterval(aloneInDraws(0), aloneInDraws(1), answered.length, constants.z)
  };
}

// src/spells.js
var BINS = [2, 3, 4, 5, 7, 10, 14, 21, 28];
function wayOfNeed({ plants, weeks, fleece, isPerennial, isPlanted }) {
  if (plants === "own" && weeks) return say("after_cover", { count: weeks });
  if (isPerennial) return "";
  if (plants === "bought") return say("set_out_bought");
  if (isPlanted) return say(fleece ? "planted_under_fleece" : "planted_outdoors");
  return say(fleece ? "sown_under_fleece" : "sown_outdoors");
}
var sinceOf = ({ plants, weeks, start }) => dayName(start + 7 * (plants === "own" ? weeks : 0));
var areSetOut = ({ plants, weeks }) => plants === "bought" || plants === "own" && weeks > 0;
function needLabel({ days, way, since, isSetOut }) {
  const needed = say("days_needed", { count: days });
  return way ? say(isSetOut ? "needed_by_way" : "needed_once_up", { needed, way, since }) : needed;
}
function needsOf(plans, given) {
  if (given !== null) return [{ days: given, way: "" }];
  const found = /* @__PURE__ */ new Map();
  for (const plan of plans) {
    const way = wayOfNeed(plan);
    const need = { days: plan.needDays, way, since: sinceOf(plan), isSetOut: areSetOut(plan) };
    if (!found.has(way)) found.set(way, need);
  }
  const two = [...found.values()].slice(0, 2).sort((a, b) => a.days - b.days);
  if (two.length > 1 && two[0].days !== two[1].days) return two;
  return [{ days: plans[0].needDays, way: "" }];
}
function spellsOf(windows, kind, needs) {
  const [first, last] = [needs[0].days, needs.at(-1).days];
  const zoneOf = (days) => Number(days >= first) + Number(days >= last);
  const years2 = windows.rows.map((row) => {
    const { least, most, length = least, start = null } = row[kind];
    const zone = zoneOf(least) === zoneOf(most) ? zoneOf(least) : null;
    return { year: row.year, length, start, zone };
  });
  const counts = [0, 1, 2].map((zone) => years2.filter((each) => each.zone === zone).length);
  return { years: years2, counts };
}
function stackMarks(years2, needs, reach, width, narrowest) {
  const daysOf = (px) => px * reach / width;
  const binDays = BINS.find((days) => days >= daysOf(narrowest)) ?? BINS.at(-1);
  const edges = [.../* @__PURE__ */ new Set([0, ...needs.map(({ days }) => days)])].sort((a, b) => a - b);
  const columnOf = (length) => {
    if (length === 0) return 0;
    const part = edges.findLastIndex((edge) => edge <= length);
    const room = (edges[part + 1] ?? Infinity) - edges[part];
    const days = room === Infinity ? binDays : room / Math.max(1, Math.floor(room / binDays));
    return edges[part] + (Math.floor((length - edges[part]) / days) + 0.5) * days;
  };
  const filled = /* @__PURE__ */ new Map();
  const ordered = [...years2].sort((a, b) => a.zone - b.zone || a.length - b.length);
  const marks = ordered.map((year) => {
    const column = columnOf(year.length);
    const row = (filled.get(column) ?? 0) + 1;
    filled.set(column, row);
    return { ...year, column, row };
  });
  return { marks, binDays, rows: Math.max(5, ...filled.values()) };
}

// src/panel.js
var HOTTEST_C = 60;
var FIRST_WIDTH = 640;
var isSame = (a, b) => JSON.stringify(a) === JSON.stringify(b);
function createPanel(given, onMove) {
  const cached = {};
  let numbersTaken = 0;
  function once(name, key, work) {
    const now = JSON.stringify([numbersTaken, key]);
    if (cached[name]?.key !== now) cached[name] = { key: now, value: work() };
    return cached[name].value;
  }
  const panel = {
    state: given.state,
    numbers: null,
    record: null,
    results: {},
    busy: false,
    message: "",
    width: FIRST_WIDTH,
    /** Weeks under cover that can be answered for the crop; null for any, as in a notebook. */
    get offeredWeeks() {
      if (!given.offered) return null;
      return given.offered.crop === panel.state.crop ? given.offered.weeks : [];
    },
    get constants() {
      return panel.numbers.constants;
    },
    // --- the crop and its limits ---
    get crop() {
      return panel.numbers.crops.find((crop) => crop.name === panel.state.crop);
    },
    get stageInside() {
      return panel.state.inside || Object.keys(panel.crop.stages)[0];
    },
    /** The night that kills a stage; that of the first one is what a hand may move. */
    killedAt(stage) {
      const [first] = Object.keys(panel.crop.stages);
      return stage === first ? panel.limits.killed : panel.crop.stages[stage];
    },
    /** Limits and days needed of the window that is shown. */
    get limits() {
      const [low, high] = panel.state.limits ?? [panel.crop.low, panel.crop.high];
      const killed = panel.state.killed ?? panel.crop.killed;
      return { low, high, killed, need: panel.state.need ?? panel.daysOutdoors };
    },
    /** Days that the first plan stands outdoors; before Python has told them, those of lists. */
    get daysOutdoors() {
      const isOfCrop = panel.results.plans?.inputs.crop === panel.state.crop;
      if (!isOfCrop) return panel.crop.listed_days;
      return panel.grids[0].needDays(panel.plans[0].start);
    },
    /** Days that the two ways of growing need of a mild spell, as `needsOf` has them. */
    get needs() {
      const isKnown = panel.results.plans?.inputs.crop === panel.state.crop;
      if (!isKnown) return needsOf([{ needDays: panel.limits.need }], panel.limits.need);
      const plans = panel.plans.map((plan, i) => ({
        ...plan,
        needDays: panel.grids[i].needDays(plan.start)
      }));
      return needsOf(plans, panel.state.need);
    },
    /** Whether the crop stands outdoors for so long that no mild spell could hold its life. */
    get standsThroughWinter() {
      return panel.crop.through_winter && panel.limits.need > DAYS / 2;
    },
    // --- weather ---
    get windows() {
      const { low, high, killed } = panel.limits;
      return once(
        "windows",
        [low, high, killed],
        () => usableWindows(panel.record, { low, high, killed })
      );
    },
    /** The windows of the years moved to today's climate; null where the record cannot be moved. */
    get windowsOfToday() {
      const shift = panel.record.todays_shift;
      if (!shift) return null;
      const limits = limitsOfToday(panel.limits, shift);
      return once("today", limits, () => usableWindows(panel.record, limits));
    },
    /** The windows of the days in which the crop is comfortable; null under limits of the hand. */
    get comfortableWindows() {
      if (panel.state.limits) return null;
      const [low, high] = panel.crop.comfortable;
      const limits = { low, high, killed: panel.limits.killed };
      return once("comfort", limits, () => usableWindows(panel.record, limits));
    },
    /** The window that is shown: the one chosen, else the one that the first plan aims at. */
    get windowKind() {
      if (!panel.windows.hasTwoWindows) return "longest";
      if (panel.state.window) return panel.state.window;
      const start = panel.state.starts[0] ?? panel.grids[0]?.bestDate;
      if (!start) return "rise";
      return windowOfPlan(panel.windows, start, panel.state.ways[0].weeks);
    },
    /** The mild spell of each year against those needs. */
    get spells() {
      return spellsOf(panel.windows, panel.windowKind, panel.needs);
    },
    get ruler() {
      const { firstDay } = panel.windows;
      return once("ruler", [panel.width, firstDay], () => rulerOf(panel.width, firstDay));
    },
    get freezes() {
      const { threshold } = panel.state;
      return once("freezes", threshold, () => {
        const moved = threshold - panel.record.freeze_shift;
        const dates = freezeDates(panel.record, moved, threshold);
        return { dates, chance: freezeChance(panel.record, dates) };
      });
    },
    // --- plans: of each, what the last evaluation by Python says ---
    /** Outcome grids of the two plans, with the share of harvests by start day; [] before any. */
    get grids() {
      const evaluated = panel.results.plans;
      return once(
        "grids",
        evaluated?.inputs,
        () => (evaluated?.plans ?? []).map((packed) => {
          const grid = outcomeGrid(packed);
          return { ...grid, shares: harvestShares(grid, panel.constants) };
        })
      );
    },
    get plans() {
      return panel.state.ways.map((way, i) => ({
        ...way,
        start: panel.state.starts[i] ?? panel.grids[i]?.bestDate ?? 1,
        isPerennial: panel.crop.is_perennial,
        isPlanted: panel.crop.is_planted
      }));
    },
    /** Outcomes of each year for the two plans' start days. */
    get planOutcomes() {
      return panel.grids.map((grid, i) => grid.on(panel.plans[i].start));
    },
    get planCounts() {
      return panel.planOutcomes.map((outcomes) => countOutcomes(outcomes, panel.constants));
    },
    // --- what Python has worked out ---
    /** A result by name, if it belongs to the state that is shown; else null. */
    currentResult(name) {
      const result = panel.results[name];
      if (!result) return null;
      const isCurrent = Object.keys(result.inputs).every(
        (key) => isSame(result.inputs[key], panel.state[key])
      );
      return isCurrent ? result : null;
    },
    /** Take over what is new of { numbers, state, results, busy, message }. */
    take({ numbers: numbers2, ...others }) {
      for (const [name, value] of Object.entries(others)) {
        if (value !== void 0) panel[name] = value;
      }
      if (!numbers2 || numbers2 === panel.numbers) return;
      panel.numbers = numbers2;
      panel.record = numbers2.record ? unpackRecord(numbers2.record) : null;
      numbersTaken += 1;
    }
  };
  return Object.assign(panel, movesOf(panel, onMove));
}
function nearestOffered(asked, before, offered) {
  const onTheWay = offered.filter((each) => (asked - before) * (each - before) > 0);
  const choice2 = onTheWay.length ? onTheWay : [before];
  return choice2.reduce((a, b) => Math.abs(b - asked) < Math.abs(a - asked) ? b : a);
}
function movesOf(panel, onMove) {
  function move(changes) {
    panel.state = { ...panel.state, ...changes };
    panel.message = "";
    onMove();
  }
  function faultOf({ low, high, killed }) {
    const say2 = (celsius) => degrees(celsius, panel.state.units);
    const beyond = [low, high, killed].find((celsius) => !(Math.abs(celsius) <= HOTTEST_C));
    if (beyond !== void 0) return `No crop has a limit of ${say2(beyond)}.`;
    if (!(low < high)) {
      return `Too cold below ${say2(low)} and too hot above ${say2(high)} leave nothing between.`;
    }
    if (!(killed < low)) {
      return `A night that kills is colder than ${say2(low)}, below which it is too cold.`;
    }
    return void 0;
  }
  function moveLimits(changes) {
    const before = panel.limits;
    const after = { ...before, ...changes };
    const fault = faultOf(after);
    if (fault) return fault;
    const moved = {};
    if (after.low !== before.low || after.high !== before.high) {
      moved.limits = [after.low, after.high];
    }
    if (after.killed !== before.killed) moved.killed = after.killed;
    return move(moved);
  }
  function moveNeed(days) {
    if (!(days >= 1 && days <= DAYS)) return `A crop needs from 1 to ${DAYS} days.`;
    return move({ need: days });
  }
  function moveWays(changesOf) {
    return move({ ways: panel.state.ways.map((way, i) => ({ ...way, ...changesOf(way, i) })) });
  }
  function moveWeeks(which, weeks) {
    const most = panel.constants.most_weeks;
    if (panel.offeredWeeks) {
      const before = panel.state.ways[which].weeks;
      const chosen = nearestOffered(weeks, before, panel.offeredWeeks);
      return moveWays((_, i) => i === which ? { weeks: chosen, plants: "own" } : {});
    }
    if (!(weeks >= 0 && weeks <= most)) return `From 0 to ${most} weeks under cover.`;
    return moveWays((_, i) => i === which ? { weeks, plants: "own" } : {});
  }
  function moveStart(which, day) {
    return move({ starts: panel.state.starts.map((start, i) => i === which ? day : start) });
  }
  function moveCrop(name) {
    const { weeks } = panel.numbers.crops.find((crop) => crop.name === name);
    const ways = panel.state.ways.map(({ cover }, i) => ({
      weeks: i === 0 ? weeks : 0,
      cover,
      fleece: 0,
      earliness: "main",
      bed: "bare",
      plants: "own"
    }));
    return move({
      crop: name,
      limits: null,
      killed: null,
      need: null,
      inside: "",
      window: "",
      ways,
      starts: [null, null]
    });
  }
  return { move, moveLimits, moveNeed, moveWays, moveWeeks, moveStart, moveCrop };
}

// src/sentences.js
function spellFinding(kind, cropName, needs, { counts }) {
  const common = {
    spell: WINDOW_NAMES[kind],
    crop: cropName,
    enough: counts[2],
    years: years(counts[0] + counts[1] + counts[2])
  };
  if (needs.length === 1 || counts[1] === 0) return say("spell_long_enough", common);
  const [shorter, longer] = needs;
  return say("spell_long_enough_ways", {
    ...common,
    way: longer.way,
    easier: shorter.way,
    enough_of_easier: counts[1] + counts[2]
  });
}
function inComfortOnly(cropName, need, odds, inComfort) {
  const isFewer = inComfort && inComfort.known === odds.known && inComfort.shorter > odds.shorter;
  if (!isFewer) return "";
  return say("spell_in_comfort", {
    crop: cropName,
    need,
    enough: odds.known - inComfort.shorter,
    years: years(odds.known)
  });
}
function nextYears({ nextLow: first, nextHigh: last }) {
  if (Number.isNaN(first)) return say("unknown_number");
  return first === last ? String(first) : say("span", { first, last });
}
function howSure(odds, today, leastYears) {
  const [leads, ofToday] = today ? [today, "_today"] : [odds, ""];
  const sentences = [say(`next_years_too_short${ofToday}`, { next: nextYears(leads) })];
  if (today) {
    const [now, before] = [nextYears(today), nextYears(odds)];
    const name = now === before ? "next_years_by_the_record_too" : "next_years_by_the_record";
    sentences.push(say(name, { next: before }));
  }
  sentences.push(
    say(`long_run_too_short${ofToday}`, {
      years: years(leads.known),
      low: percent(leads.low),
      high: percent(leads.high)
    }),
    say("what_odds_cover")
  );
  const leftOut = odds.unknown - odds.leaning;
  if (leftOut) sentences.push(say("years_hidden_by_gaps", { count: leftOut }));
  if (odds.known < leastYears) sentences.push(say("few_years"));
  return sentences.join(" ");
}
function averageWindow(windows, kind) {
  const lengths = windows.rows.map((row) => row[kind].length).filter((n) => n !== void 0);
  const middle = median(lengths);
  const count = runLength(windows.average[kind]);
  if (Number.isNaN(middle)) return say("average_window_only", { count });
  if (!count && !middle) return say("average_window_none");
  if (count === DAYS && middle === DAYS) return say("average_window_all_year");
  return say("average_window", { count, median: fixed(middle) });
}
function planName(plan) {
  if (plan.isPerennial) return say("plan_perennial");
  const start = dayName(plan.start);
  let name = say(plan.isPlanted ? "plan_planted" : "plan_sown", { start });
  if (plan.plants === "bought") name = say("plan_bought", { start });
  else if (plan.weeks) {
    const where = plan.cover === "fleece" ? say("under_fleece") : say("in_cover", { article: article(plan.cover), cover: plan.cover });
    name = say(plan.isPlanted ? "plan_raised_planted" : "plan_raised", { where, start });
  }
  return plan.fleece ? say("with_fleece", { plan: name, count: plan.fleece }) : name;
}
function planOdds(plan, crops, odds) {
  const harvests = `${odds.harvested} of ${years(odds.known)}, a good one in ${odds.good}`;
  return `${capitalized(planName(plan))}: ${crops} gave a harvest in ${harvests}`;
}
function harvestBegins([first, middle, last]) {
  if (Number.isNaN(middle)) return say("no_harvest");
  const [from, about, to] = [first, middle, last].map(dayName);
  return say("harvest_begins", { middle: about, first: from, last: to });
}
function failures(odds, reasons) {
  const counts = reasons.map((reason, code) => ({ reason, count: odds.failed[code] }));
  const mostFirst = counts.filter(({ count }) => count).sort((a, b) => b.count - a.count);
  if (!mostFirst.length) return "";
  const said = mostFirst.map((each) => say("years_failed_by", each)).join(", ");
  return `Why ${odds.harvested ? "the other years" : "all of them"} failed: ${said}.`;
}
var interval = (odds) => say("span", { first: percent(odds.low), last: percent(odds.high) });
function comparison(plan, other, pairs) {
  if (pairs.known && !pairs.onlyFirst && !pairs.onlySecond) {
    if (!pairs.both) return say("both_never", { years: years(pairs.known) });
    return say("both_always", { both: pairs.both, years: years(pairs.known) });
  }
  const text = say("plans_compared", {
    years: years(pairs.known),
    first: planName(plan),
    second: planName(other),
    only_first: pairs.onlyFirst,
    only_second: pairs.onlySecond,
    both: pairs.both,
    neither: pairs.neither
  });
  let verdict = "neither_is_better";
  if (pairs.low > 0) verdict = "first_is_better";
  else if (pairs.high < 0) verdict = "second_is_better";
  return `${text} ${say(verdict)}`;
}
function bestDates({ bestDates: best, bestDate, bestShare, shares }) {
  if (!best || !shares.some((share) => share > 0)) return say("no_best_dates");
  const dates = runOfDates(best);
  return say("best_dates", { dates, date: dayName(bestDate), best: percent(bestShare) });
}
var ANY_TIME_DAYS = 330;
function runOfDates([from, to]) {
  if (modulo(to - from, DAYS) >= ANY_TIME_DAYS) return say("any_time");
  const [first, last] = [from, to].map(dayName);
  return first === last ? first : say("span", { first, last });
}
function otherDates(runs) {
  return runs.length ? say("other_dates", { dates: runs.map(runOfDates).join(" and ") }) : "";
}

// src/plans_strip.js
var PLANS = ["first", "second"];
var ROOM_FOR_YEAR = 36;
var TWO_PLANS = "Two plans on the same years";
var MARKS_OF_START = [0, 1, 4];
var EARLINESS = ["early", "main", "late"];
function plansStrip(panel) {
  const sides = PLANS.map((_, i) => planControls(panel, i));
  const texts = sides.map((side) => side.text);
  const { root, title, items, chart, text, show } = emptyStrip(TWO_PLANS, {
    key: [
      ["line first", "first plan, by date"],
      ["line second", "second plan"],
      ["enough", "a harvest (lower: not a good one)"],
      ["short", "none"],
      ["covered", "under cover"]
    ],
    controls: sides.map((side) => side.root),
    more: html("div", { class: "pair" }, texts)
  });
  let finding = "Growing it from every date …";
  followPointer(chart, {
    grip(px) {
      if (panel.crop.is_perennial) return null;
      const distances = panel.plans.map((plan) => Math.abs(panel.ruler.middleOf(plan.start) - px));
      const nearest = distances[0] <= distances[1] ? 0 : 1;
      if (distances[nearest] >= GRIP) return null;
      return (to) => panel.moveStart(nearest, panel.ruler.dayAt(to));
    },
    pick: (px) => {
      if (!panel.crop.is_perennial) panel.move({ date: panel.ruler.dayAt(px) });
    }
  });
  function drawOdds(i, y, bottom) {
    const { ruler } = panel;
    const grid = panel.grids[i];
    if (!grid) return null;
    const kind = PLANS[i];
    const x = ruler.middleOf(panel.plans[i].start);
    const { share } = panel.planCounts[i];
    const gripY = Number.isNaN(share) ? bottom : y(share);
    const points = ruler.pointsOf(grid.shares.map((each) => Number.isNaN(each) ? null : y(each)));
    return [
      bestStretches(grid).map(([from, width]) => box(from, bottom + 3 + 5 * i, width, 4, kind)),
      svg("path", { d: pathThrough(points), class: kind }),
      line(x, y(1), x, bottom, `start ${kind}`),
      dot(x, gripY, 7, `grip ${kind}`),
      label(x, gripY + 4, i + 1, "on", "middle")
    ];
  }
  function bestStretches({ bestDates: best, otherDates: others }) {
    const runs = best ? [best, ...others] : [];
    return runs.flatMap(
      ([first, last]) => panel.ruler.stretches(first, modulo(last - first, DAYS) + 1)
    );
  }
  function drawLife(i, y) {
    const { ruler } = panel;
    const { start, weeks } = panel.plans[i];
    const covered = 7 * weeks;
    const harvest = panel.grids[i]?.harvestDays(start)[MIDDLE] ?? NaN;
    const outdoors = Number.isNaN(harvest) ? 0 : Math.max(harvest - start - covered, 0);
    const bar = (from, days, kind) => ruler.stretches(from, days).map(([x, width]) => box(x, y, width, 12, kind));
    return [
      label(LEFT - 7, y + 10, i + 1, "", "end"),
      outdoors ? bar(start + covered, outdoors, PLANS[i]) : null,
      covered ? bar(start, covered, `covered ${PLANS[i]}`) : null
    ];
  }
  function drawOutcomes(i, y) {
    const { ruler, record, constants } = panel;
    const count = record.last_year - record.first_year + 1;
    const width = (ruler.right - LEFT) / count;
    const gap = width > 4 ? 1.5 : 0.5;
    const cells = (panel.planOutcomes[i] ?? []).map(({ code }, n) => {
      const [height, kind] = lookOfOutcome(code, constants);
      return box(LEFT + n * width, y + 20 - height, width - gap, height, kind);
    });
    return [cells, label(LEFT - 7, y + 16, i + 1, "", "end")];
  }
  function drawDecades(y) {
    const { ruler, record } = panel;
    const all = range(record.last_year - record.first_year + 1);
    const width = (ruler.right - LEFT) / all.length;
    const every = all.length * ROOM_FOR_YEAR > 10 * (ruler.right - LEFT) ? 20 : 10;
    const decades = all.filter((n) => (record.first_year + n) % every === 0);
    return decades.map(
      (n) => label(LEFT + (n + 0.5) * width, y, record.first_year + n, "soft", "middle")
    );
  }
  function drawByStart(shown) {
    const { ruler, state } = panel;
    const [top, bottom] = [14, 154];
    const { y, ticks } = shareAxis(top, bottom, 0.25);
    return [
      ruler.months(top, bottom + 56),
      ticks,
      line(LEFT, bottom, ruler.right, bottom, "axis"),
      ruler.readingMark(state.date, top, bottom + 56),
      shown.map((i) => drawOdds(i, y, bottom)),
      shown.map((i) => drawLife(i, bottom + 17 + 18 * i))
    ];
  }
  function drawChart(shown) {
    const byStart = panel.crop.is_perennial ? [] : drawByStart(shown);
    const top = panel.crop.is_perennial ? 4 : 230;
    const bottom = top + 24 * shown.length;
    show(
      panel.ruler.width,
      bottom + 18,
      byStart,
      shown.map((i) => drawOutcomes(i, top + 24 * i)),
      drawDecades(bottom + 12)
    );
  }
  function draw() {
    const { crop, plans, constants } = panel;
    const shown = crop.is_perennial ? [0] : [0, 1];
    drawChart(shown);
    title.textContent = crop.is_perennial ? "The harvest of every year" : TWO_PLANS;
    for (const mark2 of MARKS_OF_START) items[mark2].hidden = crop.is_perennial;
    sides.forEach((side) => side.refresh());
    const isCurrent = Boolean(panel.currentResult("plans"));
    root.classList.toggle("waiting", !isCurrent);
    if (!isCurrent) return finding;
    sides.forEach((side) => side.write());
    const isSame2 = !crop.is_perennial && planName(plans[0]) === planName(plans[1]);
    texts[1].hidden ||= isSame2;
    finding = (isSame2 ? [0] : shown).map((i) => `${planOdds(plans[i], crop.plural, panel.planCounts[i])}.`).join(" ");
    const compare = () => comparison(...plans, comparePlans(...panel.planOutcomes, constants));
    let rest = "There is no date to choose.";
    if (isSame2) rest = "Both plans are the same: move one of them to compare two dates.";
    else if (!crop.is_perennial) rest = compare();
    text.textContent = `${finding} ${rest}`;
    return finding;
  }
  return { root, draw, controls: sides.flatMap((side) => side.controls) };
}
function lookOfOutcome(code, { good_harvest: good, harvest, unknown }) {
  if (code === good) return [20, "enough"];
  if (code === harvest) return [13, "enough"];
  if (code === unknown) return [2, "open"];
  return [7, "short"];
}
function planControls(panel, i) {
  const start = dateDial(panel, {
    label: "Sown or planted on",
    get: () => panel.plans[i].start,
    set: (day) => panel.moveStart(i, day)
  });
  const weeks = wholeDial({
    label: "Weeks under cover",
    unit: "weeks",
    ends: () => [0, Math.max(1, ...panel.offeredWeeks ?? [panel.constants.most_weeks])],
    get: () => panel.plans[i].weeks,
    set: (value) => panel.moveWeeks(i, value),
    say: (value) => Math.round(value) ? `${Math.round(value)} weeks` : "none, sown outdoors"
  });
  const cover = choice({
    label: "Raised in",
    options: () => panel.constants.covers.map((name2) => [name2, name2]),
    get: () => panel.plans[i].cover,
    set: (chosen) => panel.moveWays((_, j) => i === j ? { cover: chosen } : {})
  });
  const earliness = choice({
    label: "Variety",
    options: () => earlinessOptions(panel.plans[i].earliness),
    get: () => String(panel.plans[i].earliness),
    set: (chosen) => panel.moveWays(
      (_, j) => i === j ? { earliness: EARLINESS.includes(chosen) ? chosen : Number(chosen) } : {}
    )
  });
  const toBest = button("Go to its best date", () => panel.moveStart(i, null));
  const name = `${capitalized(PLANS[i])} plan`;
  const root = html(
    "fieldset",
    { class: PLANS[i] },
    html("legend", {}, name),
    start.root,
    weeks.root,
    cover.root,
    earliness.root,
    toBest
  );
  const text = html("p", { class: PLANS[i] });
  function refresh() {
    root.hidden = panel.crop.is_perennial;
    text.hidden = panel.crop.is_perennial && i > 0;
    weeks.root.hidden = panel.offeredWeeks?.length === 0;
    cover.root.hidden = weeks.root.hidden || !panel.plans[i].weeks;
    toBest.disabled = panel.state.starts[i] === null;
  }
  function write() {
    const grid = panel.grids[i];
    const counts = panel.planCounts[i];
    const startDay = panel.plans[i].start;
    const ahead = harvestIntervals(counts, grid, startDay, panel.constants);
    const sentences = [
      harvestBegins(grid.harvestDays(startDay)),
      `${WHOSE_YEARS[grid.climate]} a harvest is likely in ${nextYears(ahead)} of the next ten years, and in the long run in ${interval(ahead)} of years.`,
      failures(counts, panel.constants.failure_reasons)
    ];
    if (!panel.crop.is_perennial) {
      const others = otherDates(grid.otherDates);
      const dates = `best dates here ${varieties(panel.plans[i].earliness)}`;
      sentences.unshift(`${name}: ${dates} ${bestDates(grid)}.`, others);
    }
    text.textContent = sentences.filter(Boolean).join(" ");
  }
  return { root, text, refresh, write, controls: [start, weeks, cover, earliness] };
}
var WHOSE_YEARS = { record: "Counting all years alike,", today: "In today's climate" };
function varieties(earliness) {
  if (EARLINESS.includes(earliness)) return `for ${earliness} varieties alone`;
  return `for a variety of ${earliness} days`;
}
function earlinessOptions(own) {
  const named = EARLINESS.map((kind) => [kind, kind]);
  return EARLINESS.includes(own) ? named : [...named, [String(own), `${own} days on the packet`]];
}

// src/spell_figure.js
var MARKS = 124;
var WEEKS = 34;
var DATES = 176;
var YEARS = 24;
var NARROW2 = 520;
var LETTER = 6.4;
var LEADING = 14;
var roomOf = (width) => width < NARROW2 ? { counts: 78, names: 3 * LEADING + 6, head: 36 } : { counts: 54, names: 2 * LEADING + 6, head: 24 };
function figureHeight(width) {
  const { counts, names, head } = roomOf(width);
  return counts + names + MARKS + WEEKS + head + DATES + YEARS;
}
function wrapped(text, width) {
  const lines = [];
  for (const word of text.split(" ")) {
    const longer = lines.length ? `${lines.at(-1)} ${word}` : word;
    if (lines.length && longer.length * LETTER <= width) lines[lines.length - 1] = longer;
    else lines.push(word);
  }
  return lines;
}
var labels = (x, y, lines, kind, anchor) => lines.map((text, i) => label(x, y + LEADING * i, text, kind, anchor));
function spellFigure({ width, spells, needs, firstDay, date: date2 }) {
  const right = width - 10;
  const isNarrow = width < NARROW2;
  const room = roomOf(width);
  const top = room.counts + room.names;
  const lengths = drawLengths({ spells, needs, right, top, isNarrow });
  const dates = drawDates({
    spells,
    right,
    top: top + MARKS + WEEKS + room.head,
    firstDay,
    date: date2,
    isNarrow
  });
  return {
    elements: [drawCounts({ spells, needs, right, isNarrow }), lengths.elements, dates.elements],
    needGrips: lengths.grips,
    dayAt: dates.dayAt
  };
}
function drawCounts({ spells, needs, right, isNarrow }) {
  const names = needs.length === 1 ? [
    [0, "too short"],
    [2, "long enough"]
  ] : [
    [0, "too short either way"],
    [1, `long enough ${needs[0].way}`],
    [2, "long enough either way"]
  ];
  const room = (right - 8) / names.length;
  return names.map(([zone, name], i) => {
    const x = 8 + i * room;
    const count = String(spells.counts[zone]);
    const beside = isNarrow ? 0 : 16 * count.length + 6;
    const lines = wrapped(name, Math.min(room - beside - 6, 150)).slice(0, isNarrow ? 3 : 2);
    const y = isNarrow ? 38 : lines.length > 1 ? 18 : 25;
    return [
      label(x, 26, count, `count words${zone}`),
      labels(x + beside, y, lines, `words${zone}${isNarrow ? " small-type" : ""}`)
    ];
  });
}
function drawLengths({ spells, needs, right, top, isNarrow }) {
  const known = spells.years.filter(({ zone }) => zone !== null);
  const bottom = top + MARKS;
  const most = Math.max(...known.map(({ length }) => length), ...needs.map(({ days }) => days));
  const reach = most + Math.max(6, 0.05 * most);
  const left = 14;
  const x = (days) => left + days / reach * (right - left);
  const { marks, binDays, rows } = stackMarks(known, needs, reach, right - left, 13);
  const step = Math.min((MARKS - 6) / rows, 16);
  const size = clamp(Math.min(binDays / reach * (right - left) * 0.86, step * 0.92, 13), 2.5, 13);
  const usual = reach < 200 ? 4 : reach < 340 ? 8 : 10;
  const weeks = x(7 * usual) - left < 64 ? 2 * usual : usual;
  const ticks = range(Math.floor(reach / (7 * weeks)) + 1).map((n) => {
    const at = x(7 * weeks * n);
    return [
      line(at, bottom, at, bottom + 4, "axis"),
      label(at, bottom + 17, n ? weeks * n : "0 weeks", "soft", n ? "middle" : "start")
    ];
  });
  const lines = needs.map(({ days }) => [
    line(x(days), top - 4, x(days), bottom, "need"),
    dot(x(days), bottom, 6, "grip need")
  ]);
  const drawn = marks.map(
    (each) => mark(each, x(each.column), bottom - (each.row - 0.5) * step, size / 2)
  );
  return {
    elements: [
      line(left, bottom, right, bottom, "axis"),
      ticks,
      lines,
      nameNeeds(needs, x, top - 8, isNarrow, right),
      drawn
    ],
    grips: needs.map(({ days }) => ({
      x: x(days),
      top,
      bottom: bottom + 8,
      daysAt: (px) => clamp(Math.round((px - left) / (right - left) * reach), 1, DAYS)
    }))
  };
}
function mark({ year, length, start, zone }, x, y, half) {
  const kind = `year zone${zone}${start === null && length > 0 ? " hollow" : ""}`;
  const title = svg("title", {}, `${year}: ${length} days`);
  if (zone === 0) return svg("circle", { cx: x, cy: y, r: half, class: kind }, title);
  if (zone === 1) {
    const d = `M${x} ${y - half}L${x + half} ${y}L${x} ${y + half}L${x - half} ${y}Z`;
    return svg("path", { d, class: kind }, title);
  }
  const side = 1.72 * half;
  const [left, top] = [x - side / 2, y - side / 2];
  return svg("rect", { x: left, y: top, width: side, height: side, class: kind }, title);
}
function nameNeeds(needs, x, y, isNarrow, right) {
  const isPair = needs.length > 1;
  const room = isNarrow ? 104 : 150;
  const isTight = isPair && (x(needs[0].days) < room || x(needs[1].days) > right - room);
  if (isTight) {
    return needs.map(({ days }, i) => {
      const [shift, anchor] = [
        [-4, "end"],
        [4, "start"]
      ][i];
      return label(x(days) + shift, y, `${days} days`, "", anchor);
    });
  }
  return needs.map((need, i) => {
    const at = x(need.days);
    const lines = wrapped(needLabel(need), room);
    let anchor = isPair ? ["end", "start"][i] : "middle";
    if (anchor !== "start" && at < room) anchor = "start";
    if (anchor !== "end" && at > right - room) anchor = "end";
    const shift = { start: 4, middle: 0, end: -4 }[anchor];
    return labels(at + shift, y - LEADING * (lines.length - 1), lines, "", anchor);
  });
}
function yearsBetweenNames(count, isNarrow) {
  if (count > 100 || isNarrow && count > 45) return 20;
  return count > 45 || isNarrow ? 10 : 5;
}
function drawDates({ spells, right, top, firstDay, date: date2, isNarrow }) {
  const { years: years2 } = spells;
  const dated = years2.filter(({ start, length }) => start !== null && length > 0);
  const missing = years2.filter(({ start, length }) => start === null || length === 0);
  const edges = MONTH_STARTS.map((start) => modulo(start + 1 - firstDay, DAYS));
  const begins = Math.min(...dated.map(({ start }) => start), DAYS);
  const ends = Math.max(...dated.map(({ start, length }) => start + length), 0);
  const low = dated.length ? Math.max(0, ...edges.filter((edge) => edge <= begins)) : 0;
  const high = Math.max(ends, Math.min(...edges.filter((edge) => edge >= ends), DAYS));
  const first = years2[0].year;
  const slot = (right - LEFT) / (years2.at(-1).year - first + 1);
  const [from, to] = [top + (missing.length ? 14 : 2), top + DATES];
  const y = (days) => from + (days - low) / (high - low) * (to - from);
  const x = (year) => LEFT + (year - first) * slot;
  const every = high - low < 220 ? 1 : 2;
  const shown = range(12).filter((month) => low <= edges[month] && edges[month] < high).sort((a, b) => edges[a] - edges[b]);
  const months = shown.map((month, n) => {
    const next = Math.min(...edges.filter((edge) => edge > edges[month]), high);
    return [
      line(LEFT, y(edges[month]), right, y(edges[month]), "month"),
      n % every ? null : label(LEFT - 7, y((edges[month] + next) / 2) + 4, MONTHS[month], "", "end")
    ];
  });
  const bars = dated.map(({ year, start, length, zone }) => {
    const kind = `spell zone${zone ?? "Open"}`;
    const [left, height] = [x(year) + slot * 0.13, y(start + length) - y(start)];
    const bar = box(left, y(start), slot * 0.74, height, kind);
    const days = [start, start + length - 1].map((day) => dayName(day + firstDay));
    bar.append(svg("title", {}, `${year}: ${days.join(" to ")}`));
    return bar;
  });
  const yearsApart = yearsBetweenNames(years2.length, isNarrow);
  const named = years2.filter(({ year }) => year % yearsApart === 0);
  const place = modulo(date2 - firstDay, DAYS);
  const whyMissing = missing.length ? "× a gap hides it, or there was none" : "";
  return {
    elements: [
      label(8, isNarrow ? top - 20 : top - 8, "When those spells came", "head"),
      isNarrow ? label(8, top - 5, whyMissing, "soft") : label(right, top - 8, whyMissing, "soft", "end"),
      months,
      bars,
      missing.map(({ year }) => label(x(year) + slot / 2, top + 9, "×", "soft", "middle")),
      named.map(({ year }) => label(x(year) + slot / 2, to + 15, year, "soft", "middle")),
      low <= place && place <= high ? line(LEFT, y(place + 0.5), right, y(place + 0.5), "reading") : null
    ],
    dayAt(py) {
      if (py < from || py > to) return null;
      const days = low + (py - from) / (to - from) * (high - low);
      return modulo(Math.floor(days) + firstDay - 1, DAYS) + 1;
    }
  };
}

// src/window_strip.js
var LIMITS = ["high", "low", "killed"];
function oddsOfToday({ windowsOfToday: moved, limits, constants }, kind) {
  if (!moved) return null;
  const shown = moved.hasTwoWindows ? kind : "longest";
  return oddsShorter(moved, shown, limits.need, constants, "today");
}
function windowStrip(panel) {
  const limitDial = (key, text2, ends) => temperatureDial(panel, {
    label: text2,
    ends,
    get: () => panel.limits[key],
    set: (celsius) => panel.moveLimits({ [key]: celsius })
  });
  const need = wholeDial({
    label: "Days it needs",
    unit: "days",
    ends: () => [1, DAYS],
    get: () => panel.limits.need,
    set: panel.moveNeed
  });
  const windowKind = radios({
    legend: "Which mild spell",
    options: { rise: "spring", fall: "autumn", longest: "the longer" },
    get: () => panel.windowKind,
    set: (kind) => panel.move({ window: kind })
  });
  const controls = [
    limitDial("high", "Too hot above", [0, 45]),
    limitDial("low", "Too cold below", [-5, 35]),
    limitDial("killed", "Killed by a night of", [-35, 15]),
    need,
    windowKind
  ];
  const backToOwn = button(
    "Back to the crop's own limits and need",
    () => panel.move({ limits: null, killed: null, need: null })
  );
  const { root, title, chart, text, show } = emptyStrip("The mild spell of every year", {
    key: [["band", "days it can take; darker, in comfort"]],
    controls: [...controls.map((control) => control.root), backToOwn]
  });
  let limitLines = [];
  let figure = null;
  const heightOfSpells = () => figure ? figureHeight(panel.ruler.width) : 0;
  followPointer(chart, {
    grip(px, py) {
      const hold = figure?.needGrips.find(
        ({ x, top, bottom }) => Math.abs(x - px) < GRIP && top <= py && py <= bottom
      );
      if (hold) return (to) => panel.moveNeed(hold.daysAt(to));
      const distance = (each) => Math.abs(each.y - py);
      const near = limitLines.filter((each) => distance(each) < GRIP);
      const [nearest] = near.sort((a, b) => distance(a) - distance(b));
      if (!nearest) return null;
      const { key, valueAt } = nearest;
      return (_px, to) => panel.moveLimits({ [key]: valueAt(to) });
    },
    pick(px, py) {
      const date2 = py < heightOfSpells() ? figure.dayAt(py) : panel.ruler.dayAt(px);
      if (date2 !== null) panel.move({ date: date2 });
    }
  });
  function drawTemperatures(top, bottom) {
    const { record, limits, ruler, state } = panel;
    const present = record.bands.map((band) => band.filter((t) => t !== null));
    const ends = [Math.min(...present.at(0), limits.killed) - 6, Math.max(...present.at(-1)) + 4];
    const { y, valueAt, ticks } = temperatureAxis(top, bottom, ends, state.units);
    const pointsOf = (band) => ruler.pointsOf(band.map((t) => t === null ? null : y(t)));
    const [cold, usual, warm] = [0, 2, 4].map((place) => pointsOf(record.bands[place]));
    limitLines = LIMITS.map((key) => ({ key, y: clamp(y(limits[key]), top, bottom), valueAt }));
    const [high, low, killed] = limitLines.map((each) => each.y);
    const names = [
      ["too hot above", limits.high, high - 5 < top + 8 ? high + 14 : high - 5],
      ["too cold below", limits.low, low + 14],
      ["a night of this kills:", limits.killed, killed + 14]
    ];
    return [
      box(LEFT, high, ruler.right - LEFT, low - high, "band"),
      drawComfortable((celsius) => clamp(y(celsius), top, bottom)),
      svg("path", { d: pathThrough(warm), class: "warm" }),
      svg("path", { d: pathThrough(cold), class: "cold" }),
      svg("path", { d: pathThrough(usual), class: "median" }),
      nameLines(usual, cold, warm),
      limitLines.map((each) => [
        line(LEFT, each.y, ruler.right, each.y, `limit ${each.key}`),
        dot(ruler.right - 6, each.y, 5, `grip ${each.key}`)
      ]),
      names.map(
        ([name, celsius, py]) => label(LEFT + 5, py, `${name} ${degrees(celsius, state.units)}`, "over")
      ),
      ticks
    ];
  }
  function nameLines(usual, cold, warm) {
    const known = usual.map((_, i) => i).filter((i) => usual[i][1] !== null);
    if (!known.length) return null;
    const peak = known.reduce((best, i) => usual[i][1] < usual[best][1] ? i : best);
    const isAmid = peak >= 50 && peak <= DAYS - 50;
    const steep = isAmid ? peak - 50 : (peak + 75) % DAYS;
    const [at, end] = [warm[peak][0], panel.ruler.right];
    const side = at < LEFT + 40 ? "start" : at > end - 40 ? "end" : "middle";
    const [x, y] = cold[steep];
    return [
      label(at, warm[peak][1] - 5, "warm years", "over", side),
      label(x + (isAmid ? 6 : -6), y + 12, "cold years", "over", isAmid ? "start" : "end")
    ];
  }
  function drawComfortable(y) {
    const { limits, ruler, crop } = panel;
    const low = Math.max(crop.comfortable[0], limits.low);
    const high = Math.min(crop.comfortable[1], limits.high);
    if (!(low < high)) return null;
    return box(LEFT, y(high), ruler.right - LEFT, y(low) - y(high), "band");
  }
  function drawAverage(y) {
    const { ruler, windows } = panel;
    const run = windows.average[panel.windowKind];
    const days = runLength(run);
    if (!days) return null;
    const from = ruler.x(run.start);
    const to = ruler.x(run.end + 1);
    const middle = clamp((from + to) / 2, LEFT + 72, ruler.right - 72);
    return [
      box(from, y, to - from, 4, "mean"),
      label(middle, y - 5, `the average year: ${days} days`, "", "middle")
    ];
  }
  function drawChart() {
    const { ruler, windows, state, spells, needs } = panel;
    figure = panel.standsThroughWinter ? null : spellFigure({
      width: ruler.width,
      spells,
      needs,
      firstDay: windows.firstDay,
      date: state.date
    });
    const above = heightOfSpells();
    const [head, top] = [above + 24, above + 32];
    const bottomOfCurves = top + 160;
    const bottom = bottomOfCurves + 26;
    show(
      ruler.width,
      bottom + 20,
      figure?.elements ?? [],
      label(8, head, figure ? "The weather that made them" : "The weather of the year", "head"),
      ruler.months(top, bottom),
      drawTemperatures(top, bottomOfCurves),
      figure && drawAverage(bottomOfCurves + 18),
      ruler.readingMark(state.date, top, bottom)
    );
  }
  function draw() {
    const { windows, state, limits, crop, constants, spells, needs } = panel;
    const kind = panel.windowKind;
    drawChart();
    title.textContent = figure ? "The mild spell of every year" : "The weather and its limits";
    need.root.hidden = !figure;
    windowKind.root.hidden = !figure || !windows.hasTwoWindows;
    backToOwn.disabled = [state.limits, state.killed, state.need].every((moved) => moved === null);
    if (panel.standsThroughWinter) {
      const finding2 = `${say("spell_through_winter", { crop: crop.plural })}.`;
      text.textContent = finding2;
      return finding2;
    }
    const odds = oddsShorter(windows, kind, limits.need, constants);
    const comfortable = panel.comfortableWindows;
    const inComfort = comfortable && oddsShorter(comfortable, kind, limits.need, constants);
    const today = oddsOfToday(panel, kind);
    const finding = `${spellFinding(kind, crop.plural, needs, spells)}.`;
    const sentences = [
      finding,
      say(today ? "spells_as_recorded_today" : "spells_as_recorded"),
      inComfortOnly(crop.plural, limits.need, odds, inComfort),
      howSure(odds, today, constants.least_years),
      averageWindow(windows, kind),
      panel.currentResult("trend")?.sentences[kind] ?? ""
    ];
    text.textContent = sentences.filter(Boolean).join(" ");
    return finding;
  }
  return { root, draw, controls };
}

// src/chart.js
var STRIPS = { freeze: freezeStrip, window: windowStrip, plans: plansStrip, cover: coverStrip };
function mount(root, given, onState = () => {
}) {
  const { parts } = given;
  const panel = createPanel(given, () => {
    onState(panel.state);
    askForDrawing();
  });
  const frame = createFrame(panel, parts);
  const strips = parts.map((part) => STRIPS[part](panel));
  const controls = [...frame.controls, ...strips.flatMap((strip) => strip.controls)];
  const foremost = Math.max(parts.indexOf("window"), 0);
  let drawingDue = 0;
  function askForDrawing() {
    drawingDue ||= requestAnimationFrame(draw);
  }
  function draw() {
    drawingDue = 0;
    root.classList.toggle("at-work", panel.busy);
    root.setAttribute("aria-busy", panel.busy);
    if (!panel.record) {
      frame.refresh("");
      return;
    }
    panel.width = Math.floor(root.querySelector(".drawn").clientWidth) || panel.width;
    const findings = strips.map((strip) => strip.draw());
    for (const control of controls) control.refresh();
    frame.refresh(findings[foremost]);
    speak(root, panel.state.units);
    root.setAttribute("aria-label", `climwin panel, ${panel.record.name}`);
  }
  function give(news) {
    panel.take(news);
    askForDrawing();
  }
  root.classList.add("climwin");
  root.setAttribute("role", "group");
  root.replaceChildren(...frame.roots, ...strips.map((strip) => strip.root));
  const watcher = new ResizeObserver(askForDrawing);
  watcher.observe(root);
  give(given);
  return {
    give,
    close() {
      watcher.disconnect();
      cancelAnimationFrame(drawingDue);
      frame.close();
    }
  };
}

// src/widget.js
var TRAITS = ["numbers", "state", "results", "busy", "message"];
function render({ model, el }) {
  const root = html("div");
  el.append(root);
  const given = Object.fromEntries([...TRAITS, "parts"].map((name) => [name, model.get(name)]));
  const chart = mount(root, given, (state) => {
    model.set("state", state);
    model.save_changes();
  });
  const listeners = TRAITS.map((name) => [
    `change:${name}`,
    () => chart.give({ [name]: model.get(name) })
  ]);
  for (const [event, listener] of listeners) model.on(event, listener);
  return () => {
    for (const [event, listener] of listeners) model.off(event, listener);
    chart.close();
  };
}
var widget_default = { render };
export {
  widget_default as default,
  mount
};
