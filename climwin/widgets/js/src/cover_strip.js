// The strip of a covered space, day by day, as its own logger saw it.

import { LEFT, temperatureAxis } from "./axes.js";
import { dayName, dayNumber } from "./calendar.js";
import { choice, temperatureDial } from "./controls.js";
import { box, label, line, pathThrough, svg } from "./elements.js";
import { emptyStrip } from "./strip.js";
import { SLACK_C } from "./windows.js";

/** A strip makes its elements once; draw() brings them up to date and returns the finding. */
export function coverStrip(panel) {
  const stage = choice({
    label: "Grown inside",
    options: () => Object.keys(panel.crop.stages).map((name) => [name, name]),
    get: () => panel.stageInside,
    set: (inside) => panel.move({ inside }),
  });
  const hot = temperatureDial(panel, {
    label: "Scorches at",
    ends: [20, 50],
    get: () => panel.state.hot,
    set: (celsius) => panel.move({ hot: celsius }),
  });
  const { root, text, show } = emptyStrip("The covered space and its logger", {
    key: [
      ["logged", "inside, coldest to hottest"],
      ["short", "too cold or too hot"],
      ["spread", "outdoors"],
      ["line median", "the line fitted to it"],
    ],
    controls: [stage.root, hot.root],
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

    /** A box from the minimum to the maximum of each day that has both. */
    const dayBoxes = ([minima, maxima], inset, kindOf) =>
      dates.map((_, i) => {
        const [least, most] = [minima[i], maxima[i]];
        if (least === null || most === null) return null;
        const height = y(least) - y(most);
        return box(x(i) + inset, y(most), width - 2 * inset, height, kindOf(least, most));
      });
    const isHarmful = (coldest, hottest) =>
      coldest <= killed + SLACK_C || hottest >= state.hot - SLACK_C;
    const fittedLines = fitted.map((values) => {
      const points = values.map((t, i) => [x(i + 0.5), t === null ? null : y(t)]);
      return svg("path", { d: pathThrough(points), class: "median" });
    });
    const thresholds = [
      ["kills", killed],
      ["scorches", state.hot],
    ].map(([name, celsius]) => [
      line(LEFT, y(celsius), ruler.right, y(celsius), "limit killed"),
      label(ruler.right - 3, y(celsius) - 4, name, "over", "end"),
    ]);
    const dateNames = dates.map((date, i) => {
      const day = date.slice("2001-".length);
      const isNamed = /-(01|15)$/.test(day);
      return isNamed ? label(x(i), bottom + 15, dayName(dayNumber(day)), "soft", "middle") : null;
    });
    show(
      ruler.width,
      bottom + 22,
      box(LEFT, y(high), ruler.right - LEFT, y(low) - y(high), "band"),
      dayBoxes(outdoors, 0, () => "spread"),
      dayBoxes(inside, width * 0.22, (...ofDay) => (isHarmful(...ofDay) ? "short" : "logged")),
      fittedLines,
      thresholds,
      ticks,
      dateNames,
      line(LEFT, bottom, ruler.right, bottom, "axis"),
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
