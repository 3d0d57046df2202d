// The frame around the strips: the place, the finding, what all strips share, the date that is read.

import { modulo, DAYS, dayName } from "./calendar.js";
import { choice, dateDial, radios } from "./controls.js";
import { KEEP_KEYS, html } from "./elements.js";
import { degrees, percent, temperature, years } from "./formatting.js";

/** How long the hand must rest before a screen reader is told the finding. [ms] */
const REST_MS = 700;

/** Rows of the 25th and the 75th percentile in a record's bands. */
const MIDDLE_HALF = [1, 3];

export function createFrame(panel, parts) {
  const place = html("p", { class: "place" });
  const finding = html("p", { class: "finding" });
  const message = html("p", { class: "message", role: "alert", hidden: true });
  const caveats = html("ul", {
    class: "caveats",
    "aria-label": "Where these numbers could mislead",
  });
  const spoken = html("p", { class: "unseen", role: "status" });
  const busy = html("p", { class: "busy" }, html("span", { "aria-hidden": "true" }), "working …");
  const reading = html("p", { class: "read" });
  const crops = choice({
    label: "Crop",
    options: () => panel.numbers.crops.map(({ name }) => [name, nameWithOdds(panel, name)]),
    get: () => panel.state.crop,
    set: panel.moveCrop,
  });
  const units = radios({
    legend: "Temperatures in",
    options: { C: "°C", F: "°F" },
    get: () => panel.state.units,
    set: (chosen) => panel.move({ units: chosen }),
  });
  const span = yearFields(panel);
  const date = dateDial(panel, {
    label: "Read a date",
    get: () => panel.state.date,
    set: (day) => panel.move({ date: day }),
  });
  const hasRuler = parts.some((part) => part !== "cover");
  const hasCrop = parts.some((part) => part !== "freeze");
  const bar = html("div", { class: "bar" }, hasCrop ? crops.root : null, span.root, units.root);
  const head = html("div", { class: "head" }, busy, place, finding, message, caveats, bar, spoken);
  const ruler = html("div", { class: "ruler" }, date.root, reading);
  let resting = 0;

  function showCaveats() {
    const sentences = panel.currentResult("caveats")?.sentences;
    if (sentences) caveats.replaceChildren(...sentences.map((text) => html("li", {}, text)));
    caveats.hidden = !caveats.children.length;
  }

  /** Show the finding: at once for the eye, and for the ear once the hand rests. */
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
    controls: hasCrop ? [crops, units, span, date] : [units, span, date],
    refresh,
    close: () => clearTimeout(resting),
  };
}

function placeAndYears({ name, scenario, first_year: first, last_year: last }, shownUnits) {
  const span = `${years(last - first + 1)}, ${first} to ${last}`;
  return [name, scenario[shownUnits], span].filter(Boolean).join(" · ");
}

/** A crop's name, and in how many years the best way of growing it gives a harvest here. */
function nameWithOdds(panel, name) {
  const best = panel.currentResult("crops")?.best[name];
  if (!best) return name;
  const [harvested, known] = best;
  return `${name} (${harvested} of ${years(known)})`;
}

/** Two fields for the first and the last year that count. */
function yearFields(panel) {
  const setYear = (which, field) => {
    const year = Number.isNaN(field.valueAsNumber) ? null : field.valueAsNumber;
    panel.move({ years: panel.state.years.map((old, i) => (i === which ? year : old)) });
  };
  const fields = ["from", "to"].map((end, i) =>
    html("input", {
      type: "number",
      "aria-label": `Years ${end}`,
      onchange: ({ target }) => setYear(i, target),
      ...KEEP_KEYS,
    }),
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

/** What the place's history says of the date that is read. */
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
  const known = panel.windows.rows
    .map((row) => row[panel.windowKind])
    .filter((window) => window.status !== "unknown");
  const around = known.filter((window) => window.start <= day && day <= window.end);
  return `It was mild enough in ${around.length} of ${years(known.length)}.`;
}
