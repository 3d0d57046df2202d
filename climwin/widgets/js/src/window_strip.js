// The strip of mild spells: how long each year's was against what the crop needs, when it came, and
// the place's temperatures with the crop's limits over them.

import { LEFT, temperatureAxis } from "./axes.js";
import { DAYS } from "./calendar.js";
import { button, radios, temperatureDial, wholeDial } from "./controls.js";
import { box, clamp, dot, label, line, pathThrough, svg } from "./elements.js";
import { degrees } from "./formatting.js";
import { averageWindow, howSure, inComfortOnly, spellFinding } from "./sentences.js";
import { figureHeight, spellFigure } from "./spell_figure.js";
import { GRIP, emptyStrip, followPointer } from "./strip.js";
import { oddsShorter, runLength } from "./windows.js";
import { say } from "./wording.js";

const LIMITS = ["high", "low", "killed"];

/** Odds of the window in today's climate; of the longest where the moved year has one alone. */
export function oddsOfToday({ windowsOfToday: moved, limits, constants }, kind) {
  if (!moved) return null;
  const shown = moved.hasTwoWindows ? kind : "longest";
  return oddsShorter(moved, shown, limits.need, constants, "today");
}

/** A strip makes its elements once; draw() brings them up to date and returns the finding. */
export function windowStrip(panel) {
  const limitDial = (key, text, ends) =>
    temperatureDial(panel, {
      label: text,
      ends,
      get: () => panel.limits[key],
      set: (celsius) => panel.moveLimits({ [key]: celsius }),
    });
  const need = wholeDial({
    label: "Days it needs",
    unit: "days",
    ends: () => [1, DAYS],
    get: () => panel.limits.need,
    set: panel.moveNeed,
  });
  const windowKind = radios({
    legend: "Which mild spell",
    options: { rise: "spring", fall: "autumn", longest: "the longer" },
    get: () => panel.windowKind,
    set: (kind) => panel.move({ window: kind }),
  });
  const controls = [
    limitDial("high", "Too hot above", [0, 45]),
    limitDial("low", "Too cold below", [-5, 35]),
    limitDial("killed", "Killed by a night of", [-35, 15]),
    need,
    windowKind,
  ];
  const backToOwn = button("Back to the crop's own limits and need", () =>
    panel.move({ limits: null, killed: null, need: null }),
  );
  const { root, title, chart, text, show } = emptyStrip("The mild spell of every year", {
    key: [["band", "days it can take; darker, in comfort"]],
    controls: [...controls.map((control) => control.root), backToOwn],
  });
  let limitLines = []; // as they were drawn last, for the pointer to take hold of
  let figure = null; // none of a crop that stands through the winter, which waits for no mild spell
  const heightOfSpells = () => (figure ? figureHeight(panel.ruler.width) : 0);
  followPointer(chart, {
    grip(px, py) {
      const hold = figure?.needGrips.find(
        ({ x, top, bottom }) => Math.abs(x - px) < GRIP && top <= py && py <= bottom,
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
      const date = py < heightOfSpells() ? figure.dayAt(py) : panel.ruler.dayAt(px);
      if (date !== null) panel.move({ date });
    },
  });

  /** The spread of temperatures, and the limits to take hold of. */
  function drawTemperatures(top, bottom) {
    const { record, limits, ruler, state } = panel;
    const present = record.bands.map((band) => band.filter((t) => t !== null));
    const ends = [Math.min(...present.at(0), limits.killed) - 6, Math.max(...present.at(-1)) + 4];
    const { y, valueAt, ticks } = temperatureAxis(top, bottom, ends, state.units);
    const pointsOf = (band) => ruler.pointsOf(band.map((t) => (t === null ? null : y(t))));
    const [cold, usual, warm] = [0, 2, 4].map((place) => pointsOf(record.bands[place]));
    limitLines = LIMITS.map((key) => ({ key, y: clamp(y(limits[key]), top, bottom), valueAt }));
    const [high, low, killed] = limitLines.map((each) => each.y);
    const names = [
      ["too hot above", limits.high, high - 5 < top + 8 ? high + 14 : high - 5],
      ["too cold below", limits.low, low + 14],
      ["a night of this kills:", limits.killed, killed + 14],
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
        dot(ruler.right - 6, each.y, 5, `grip ${each.key}`),
      ]),
      names.map(([name, celsius, py]) =>
        label(LEFT + 5, py, `${name} ${degrees(celsius, state.units)}`, "over"),
      ),
      ticks,
    ];
  }

  /** Names of the lines of cold and of warm years, the warmest and the coldest tenth. */
  function nameLines(usual, cold, warm) {
    const known = usual.map((_, i) => i).filter((i) => usual[i][1] !== null);
    if (!known.length) return null;
    const peak = known.reduce((best, i) => (usual[i][1] < usual[best][1] ? i : best));
    const isAmid = peak >= 50 && peak <= DAYS - 50; // or else the year begins in summer
    const steep = isAmid ? peak - 50 : (peak + 75) % DAYS; // the line is steep before and after it
    const [at, end] = [warm[peak][0], panel.ruler.right];
    const side = at < LEFT + 40 ? "start" : at > end - 40 ? "end" : "middle";
    const [x, y] = cold[steep];
    return [
      label(at, warm[peak][1] - 5, "warm years", "over", side),
      label(x + (isAmid ? 6 : -6), y + 12, "cold years", "over", isAmid ? "start" : "end"),
    ];
  }

  /** The days in which it is comfortable, within those that it bears. */
  function drawComfortable(y) {
    const { limits, ruler, crop } = panel;
    const low = Math.max(crop.comfortable[0], limits.low);
    const high = Math.min(crop.comfortable[1], limits.high);
    if (!(low < high)) return null;
    return box(LEFT, y(high), ruler.right - LEFT, y(low) - y(high), "band");
  }

  /** The window that the average curve promises, which no year need keep. */
  function drawAverage(y) {
    const { ruler, windows } = panel;
    const run = windows.average[panel.windowKind];
    const days = runLength(run);
    if (!days) return null;
    const from = ruler.x(run.start);
    const to = ruler.x(run.end + 1);
    const middle = clamp((from + to) / 2, LEFT + 72, ruler.right - 72); // so that the name fits
    return [
      box(from, y, to - from, 4, "mean"),
      label(middle, y - 5, `the average year: ${days} days`, "", "middle"),
    ];
  }

  function drawChart() {
    const { ruler, windows, state, spells, needs } = panel;
    figure = panel.standsThroughWinter
      ? null
      : spellFigure({
          width: ruler.width,
          spells,
          needs,
          firstDay: windows.firstDay,
          date: state.date,
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
      ruler.readingMark(state.date, top, bottom),
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
      const finding = `${say("spell_through_winter", { crop: crop.plural })}.`;
      text.textContent = finding;
      return finding;
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
      panel.currentResult("trend")?.sentences[kind] ?? "",
    ];
    text.textContent = sentences.filter(Boolean).join(" ");
    return finding;
  }
  return { root, draw, controls };
}
