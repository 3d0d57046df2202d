// Scales: the ruler of the year that all strips share, and vertical axes.

import { DAYS, MONTH_STARTS, modulo, range } from "./calendar.js";
import { label, line } from "./elements.js";
import { fromCelsius, percent, toCelsius } from "./formatting.js";
import { MONTHS } from "./wording.js";

/** Where every chart begins, room for the labels of its axis left free. [px] */
export const LEFT = 46;

const MARGIN_RIGHT = 10;
const NARROWEST = 160;
/** Width below which every other month is named. [px] */
const NARROW = 520;

/** Where the days of the year lie on charts of a width that all begin on the same day. */
export function rulerOf(width, firstDay) {
  const right = Math.max(width, NARROWEST) - MARGIN_RIGHT;

  /** Days from the ruler's first day to a day of the year. */
  const position = (day) => modulo(day - firstDay, DAYS);
  const x = (days) => LEFT + (days / DAYS) * (right - LEFT);
  const middleOf = (day) => x(position(day) + 0.5);

  /** Day of the year under a pointer. */
  function dayAt(px) {
    const days = Math.floor(((px - LEFT) / (right - LEFT)) * DAYS);
    return modulo(days + firstDay - 1, DAYS) + 1;
  }

  /** Values by day of the year as points, in the order of the ruler. */
  const pointsOf = (values) =>
    range(DAYS).map((days) => [x(days + 0.5), values[(days + firstDay - 1) % DAYS]]);

  /** Place and width of a span of days, in two where it runs over the ruler's end. */
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
        month % every ? null : label(middle, bottom + 13, MONTHS[month], "soft", "middle"),
      ];
    });
    return [marks, line(LEFT, bottom, right, bottom, "axis")];
  }

  /** The mark of the date that is read. */
  const readingMark = (day, top, bottom) =>
    line(middleOf(day), top, middleOf(day), bottom, "reading");

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
    readingMark,
  };
}

/** Vertical axis with a tick at each multiple of a step. */
function axis(top, bottom, [low, high], step, say) {
  const y = (value) => bottom - ((value - low) / (high - low)) * (bottom - top);
  const firstTick = Math.ceil(low / step);
  const count = Math.floor(high / step) - firstTick + 1;
  const ticks = range(count).map((i) => {
    const value = (firstTick + i) * step;
    return [
      line(LEFT - 4, y(value), LEFT, y(value), "axis"),
      label(LEFT - 7, y(value) + 4, say(value), "soft", "end"),
    ];
  });
  const valueAt = (py) => low + ((bottom - py) / (bottom - top)) * (high - low);
  return { y, ticks, valueAt };
}

/** Axis of shares, 0 to 1. */
export const shareAxis = (top, bottom, step) => axis(top, bottom, [0, 1], step, percent);

/** Axis of temperature in the unit of the panel; its values go in and come out in degC. */
export function temperatureAxis(top, bottom, ends, units) {
  const shown = ends.map((celsius) => fromCelsius(celsius, units));
  const scale = axis(
    top,
    bottom,
    shown,
    units === "C" ? 10 : 20,
    (value) => `${String(value).replace("-", "−")}°`,
  );
  return {
    ticks: scale.ticks,
    y: (celsius) => scale.y(fromCelsius(celsius, units)),
    valueAt: (py) => toCelsius(scale.valueAt(py), units),
  };
}
