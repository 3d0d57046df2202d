// The figure that answers, as climwin.plot.summary draws it still: each year one mark by the length
// of its mild spell against what the crop needs, and below it the same years against the months.

import { LEFT } from "./axes.js";
import { DAYS, MONTH_STARTS, dayName, modulo, range } from "./calendar.js";
import { box, clamp, dot, label, line, svg } from "./elements.js";
import { needLabel, stackMarks } from "./spells.js";
import { MONTHS } from "./wording.js";

const MARKS = 124;
const WEEKS = 34; // room for the axis of weeks
const DATES = 176;
const YEARS = 24;

const NARROW = 520;
const LETTER = 6.4; // width of a letter, about [px]
const LEADING = 14;

/** Room for the counts, the names of the needs, and the head of the lower part, by width. [px] */
const roomOf = (width) =>
  width < NARROW
    ? { counts: 78, names: 3 * LEADING + 6, head: 36 }
    : { counts: 54, names: 2 * LEADING + 6, head: 24 };

/** Height of the whole, for any number of years. [px] */
export function figureHeight(width) {
  const { counts, names, head } = roomOf(width);
  return counts + names + MARKS + WEEKS + head + DATES + YEARS;
}

/** A text in lines of about so many pixels. */
function wrapped(text, width) {
  const lines = [];
  for (const word of text.split(" ")) {
    const longer = lines.length ? `${lines.at(-1)} ${word}` : word;
    if (lines.length && longer.length * LETTER <= width) lines[lines.length - 1] = longer;
    else lines.push(word);
  }
  return lines;
}

const labels = (x, y, lines, kind, anchor) =>
  lines.map((text, i) => label(x, y + LEADING * i, text, kind, anchor));

/**
 * Draw it from the top of a chart on. `spells` and `needs` are those of spells.js. Returns its
 * elements; `needGrips`, the lines of the needs with the days under a pointer; and `dayAt`, the day
 * of the year at a height of the lower part, null above it.
 */
export function spellFigure({ width, spells, needs, firstDay, date }) {
  const right = width - 10;
  const isNarrow = width < NARROW;
  const room = roomOf(width);
  const top = room.counts + room.names;
  const lengths = drawLengths({ spells, needs, right, top, isNarrow });
  const dates = drawDates({
    spells,
    right,
    top: top + MARKS + WEEKS + room.head,
    firstDay,
    date,
    isNarrow,
  });
  return {
    elements: [drawCounts({ spells, needs, right, isNarrow }), lengths.elements, dates.elements],
    needGrips: lengths.grips,
    dayAt: dates.dayAt,
  };
}

/** How many years lie in each zone, in large type. */
function drawCounts({ spells, needs, right, isNarrow }) {
  const names =
    needs.length === 1
      ? [
          [0, "too short"],
          [2, "long enough"],
        ]
      : [
          [0, "too short either way"],
          [1, `long enough ${needs[0].way}`],
          [2, "long enough either way"],
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
      labels(x + beside, y, lines, `words${zone}${isNarrow ? " small-type" : ""}`),
    ];
  });
}

function drawLengths({ spells, needs, right, top, isNarrow }) {
  const known = spells.years.filter(({ zone }) => zone !== null);
  const bottom = top + MARKS;
  const most = Math.max(...known.map(({ length }) => length), ...needs.map(({ days }) => days));
  const reach = most + Math.max(6, 0.05 * most);
  const left = 14;
  const x = (days) => left + (days / reach) * (right - left);
  const { marks, binDays, rows } = stackMarks(known, needs, reach, right - left, 13);
  const step = Math.min((MARKS - 6) / rows, 16);
  const size = clamp(Math.min((binDays / reach) * (right - left) * 0.86, step * 0.92, 13), 2.5, 13);
  const usual = reach < 200 ? 4 : reach < 340 ? 8 : 10;
  const weeks = x(7 * usual) - left < 64 ? 2 * usual : usual; // "0 weeks" takes its room
  const ticks = range(Math.floor(reach / (7 * weeks)) + 1).map((n) => {
    const at = x(7 * weeks * n);
    return [
      line(at, bottom, at, bottom + 4, "axis"),
      label(at, bottom + 17, n ? weeks * n : "0 weeks", "soft", n ? "middle" : "start"),
    ];
  });
  const lines = needs.map(({ days }) => [
    line(x(days), top - 4, x(days), bottom, "need"),
    dot(x(days), bottom, 6, "grip need"),
  ]);
  const drawn = marks.map((each) =>
    mark(each, x(each.column), bottom - (each.row - 0.5) * step, size / 2),
  );
  return {
    elements: [
      line(left, bottom, right, bottom, "axis"),
      ticks,
      lines,
      nameNeeds(needs, x, top - 8, isNarrow, right),
      drawn,
    ],
    grips: needs.map(({ days }) => ({
      x: x(days),
      top,
      bottom: bottom + 8,
      daysAt: (px) => clamp(Math.round(((px - left) / (right - left)) * reach), 1, DAYS),
    })),
  };
}

/** One year: a circle, a diamond or a square by its zone, hollow where a gap hides its dates. */
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

/** The words of the needs, above their lines; to either side of a pair. */
function nameNeeds(needs, x, y, isNarrow, right) {
  const isPair = needs.length > 1;
  const room = isNarrow ? 104 : 150;
  // Where both would stand on one side of their lines, the days are enough to name them by.
  const isTight = isPair && (x(needs[0].days) < room || x(needs[1].days) > right - room);
  if (isTight) {
    return needs.map(({ days }, i) => {
      const [shift, anchor] = [
        [-4, "end"],
        [4, "start"],
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
    const shift = { start: 4, middle: 0, end: -4 }[anchor]; // so that those of a pair stay apart
    return labels(at + shift, y - LEADING * (lines.length - 1), lines, "", anchor);
  });
}

/** Every so many years one is named below the bars. */
function yearsBetweenNames(count, isNarrow) {
  if (count > 100 || (isNarrow && count > 45)) return 20;
  return count > 45 || isNarrow ? 10 : 5;
}

/** The same years from left to right, each spell as a bar against the months. */
function drawDates({ spells, right, top, firstDay, date, isNarrow }) {
  const { years } = spells;
  const dated = years.filter(({ start, length }) => start !== null && length > 0);
  const missing = years.filter(({ start, length }) => start === null || length === 0);
  const edges = MONTH_STARTS.map((start) => modulo(start + 1 - firstDay, DAYS));
  const begins = Math.min(...dated.map(({ start }) => start), DAYS);
  const ends = Math.max(...dated.map(({ start, length }) => start + length), 0);
  const low = dated.length ? Math.max(0, ...edges.filter((edge) => edge <= begins)) : 0;
  const high = Math.max(ends, Math.min(...edges.filter((edge) => edge >= ends), DAYS));
  const first = years[0].year;
  const slot = (right - LEFT) / (years.at(-1).year - first + 1);
  const [from, to] = [top + (missing.length ? 14 : 2), top + DATES];
  const y = (days) => from + ((days - low) / (high - low)) * (to - from);
  const x = (year) => LEFT + (year - first) * slot;
  const every = high - low < 220 ? 1 : 2;
  const shown = range(12)
    .filter((month) => low <= edges[month] && edges[month] < high)
    .sort((a, b) => edges[a] - edges[b]);
  const months = shown.map((month, n) => {
    const next = Math.min(...edges.filter((edge) => edge > edges[month]), high);
    return [
      line(LEFT, y(edges[month]), right, y(edges[month]), "month"),
      n % every
        ? null
        : label(LEFT - 7, y((edges[month] + next) / 2) + 4, MONTHS[month], "", "end"),
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
  const yearsApart = yearsBetweenNames(years.length, isNarrow);
  const named = years.filter(({ year }) => year % yearsApart === 0);
  const place = modulo(date - firstDay, DAYS);
  const whyMissing = missing.length ? "× a gap hides it, or there was none" : "";
  return {
    elements: [
      label(8, isNarrow ? top - 20 : top - 8, "When those spells came", "head"),
      isNarrow
        ? label(8, top - 5, whyMissing, "soft")
        : label(right, top - 8, whyMissing, "soft", "end"),
      months,
      bars,
      missing.map(({ year }) => label(x(year) + slot / 2, top + 9, "×", "soft", "middle")),
      named.map(({ year }) => label(x(year) + slot / 2, to + 15, year, "soft", "middle")),
      low <= place && place <= high
        ? line(LEFT, y(place + 0.5), right, y(place + 0.5), "reading")
        : null,
    ],
    dayAt(py) {
      if (py < from || py > to) return null;
      const days = low + ((py - from) / (to - from)) * (high - low);
      return modulo(Math.floor(days) + firstDay - 1, DAYS) + 1;
    },
  };
}
