// Strips of the weather: freezes, and windows. Each makes its elements once and draws itself anew from
// the panel's numbers; draw() returns the finding in a sentence.

// --- freezes -------------------------------------------------------------------------------

const CHANCES = { "9 in 10": 0.9, even: 0.5, "1 in 10": 0.1 };
const HALVES = ["spring", "autumn"];

/** Odds of a freeze by date, at any threshold. */
function freezeStrip(panel) {
  const cold = heat(panel, {
    label: "A freeze is a night at or below",
    ends: [-15, 8],
    get: () => panel.state.threshold,
    set: (threshold) => panel.move({ threshold }),
  });
  const table = html("table");
  const { root, chart, text, show } = strip("The odds of a freeze", {
    key: [
      ["spring", "in spring, on this day or later"],
      ["autumn", "in autumn, on this day or earlier"],
    ],
    controls: [cold.root, table],
  });
  handled(chart, { pick: (px) => panel.move({ date: panel.ruler.day(px) }) });

  function tabulate(at) {
    const intervals = panel.fresh("freeze");
    const cell = (half, row) => {
      const ends = intervals ? words.span(...intervals[half].map((end) => end[row])) : "…";
      return html("td", {}, words.date(at[half][row]), html("small", {}, ends));
    };
    const head = ["Chance", "In spring, or later", "In autumn, or earlier"];
    const names = head.map((name) => html("th", { scope: "col" }, name));
    const rows = Object.keys(CHANCES).map((name, row) =>
      html(
        "tr",
        {},
        html("th", { scope: "row" }, name),
        HALVES.map((half) => cell(half, row)),
      ),
    );
    table.replaceChildren(
      html("caption", {}, "Dates, and between which they lie nine times in ten"),
      html("thead", {}, html("tr", {}, names)),
      html("tbody", {}, rows),
    );
  }

  function draw() {
    const { state, ruler } = panel;
    const { dates, chance } = panel.freezes;
    const [top, bottom] = [10, 128];
    const { y, ticks } = shares(top, bottom, 0.5);
    const base = range(DAYS).map((d) => [ruler.x(d + 0.5), bottom]);
    const shapes = HALVES.map((half) => {
      const heights = chance[half].map((share) => (share === null ? bottom : y(share)));
      return svg("path", { d: area(ruler.turned(heights), base), class: half });
    });
    show(
      ruler.width,
      bottom + 20,
      shapes,
      ruler.months(top, bottom),
      ticks,
      ruler.reading(state.date, top, bottom),
    );
    const levels = Object.values(CHANCES);
    const at = Object.fromEntries(
      HALVES.map((half) => [half, levels.map((level) => freezeDay(dates, half, level))]),
    );
    tabulate(at);
    const day = (half, row) => words.date(at[half][row]);
    text.textContent =
      `A night of ${degrees(state.threshold, state.units)} or colder comes in half of the years on ` +
      `${day("spring", 1)} or later, in one year of ten on ${day("spring", 2)} or later; before ` +
      `winter in half of the years on ${day("autumn", 1)} or earlier.`;
    return text.textContent;
  }
  return { root, draw, controls: [cold] };
}

// --- windows -------------------------------------------------------------------------------

/** Temperatures of the place, the crop's limits over them, and the window of every year. */
function windowStrip(panel) {
  const limit = (key, text, ends) =>
    heat(panel, {
      label: text,
      ends,
      get: () => panel.limits[key],
      set: (value) => panel.moveLimits({ [key]: value }),
    });
  const whose = choice({
    label: "Limits of",
    options: () => Object.keys(panel.crop.limits).map((of) => [of, of || "the whole crop"]),
    get: () => panel.state.of,
    set: (of) => panel.move({ of }),
  });
  const need = whole({
    label: "Days it needs",
    unit: "days",
    ends: () => [1, 240],
    get: () => panel.limits.need,
    set: (days) => panel.moveNeed(days),
  });
  const part = radios({
    legend: "Of the two windows in a year",
    options: { rise: "spring", fall: "autumn", longest: "the longer" },
    get: () => panel.part,
    set: (chosen) => panel.move({ part: chosen }),
  });
  const controls = [
    limit("high", "Too hot above", [0, 45]),
    limit("low", "Too cold below", [-5, 35]),
    limit("killed", "Killed by a night of", [-35, 15]),
    need,
    whose,
    part,
  ];
  const back = button("Back to the crop’s own limits", () => panel.move({ limits: {}, needs: {} }));
  const { root, chart, text, show } = strip("The window of every year", {
    key: [
      ["middle", "half of all days"],
      ["spread", "8 in 10"],
      ["band", "the crop’s temperatures"],
      ["enough", "long enough"],
      ["short", "too short"],
      ["lacks", "days it lacks"],
    ],
    controls: [...controls.map((control) => control.root), back],
  });
  const hatch = newId();
  let lines = [];
  handled(chart, {
    grip(_, py) {
      const away = ([, y]) => Math.abs(y - py);
      const [near] = lines.filter((each) => away(each) < GRIP).sort((a, b) => away(a) - away(b));
      return near ? (_, to) => panel.moveLimits({ [near[0]]: near[2](to) }) : null;
    },
    pick: (px) => panel.move({ date: panel.ruler.day(px) }),
  });

  /** The spread of temperatures, and the limits to take hold of. */
  function temperatures(top, bottom) {
    const { place, limits, ruler, state } = panel;
    const [p10, p25, p50, p75, p90] = place.bands.map((band) => band.filter((t) => t !== null));
    const ends = [Math.min(...p10, limits.killed) - 6, Math.max(...p90) + 2];
    const { y, value, ticks } = thermometer(top, bottom, ends, state.units);
    const curve = (i) => ruler.turned(place.bands[i].map((t) => (t === null ? null : y(t))));
    const [high, low, killed] = ["high", "low", "killed"].map((key) =>
      between(y(limits[key]), top, bottom),
    );
    lines = [
      ["high", high, value],
      ["low", low, value],
      ["killed", killed, value],
    ];
    const said = [
      ["too hot above", limits.high, high - 5],
      ["too cold below", limits.low, low + 14],
      ["a night of this kills:", limits.killed, killed + 14],
    ];
    return [
      svg("path", { d: area(curve(4), curve(0)), class: "spread" }),
      svg("path", { d: area(curve(3), curve(1)), class: "middle" }),
      svg("path", { d: path(curve(2)), class: "median" }),
      box(LEFT, high, ruler.right - LEFT, low - high, "band"),
      lines.map(([key, py]) => [
        line(LEFT, py, ruler.right, py, `limit ${key}`),
        dot(ruler.right - 6, py, 5, `grip ${key}`),
      ]),
      said.map(([name, celsius, py]) =>
        label(LEFT + 5, py, `${name} ${degrees(celsius, state.units)}`, "over"),
      ),
      ticks,
    ];
  }

  /** The window that the average curve promises, which no year needs to keep. */
  function promised(y) {
    const { ruler, windows, part: shown } = panel;
    const run = windows.average[shown];
    if (!lengthOf(run)) return null;
    const [from, to] = [ruler.x(run.start), ruler.x(run.end + 1)];
    const middle = between((from + to) / 2, LEFT + 72, ruler.right - 72);
    const name = `average curve: ${lengthOf(run)} days`;
    return [box(from, y, to - from, 4, "mean"), label(middle, y - 5, name, "", "middle")];
  }

  function bar(row, before, y, height) {
    const { ruler, part: shown, limits } = panel;
    const found = row[shown];
    if (found.status !== "observed") {
      if (before?.[shown].status === found.status) return null; // said once for years in a row
      const said = found.status === "none" ? "no window" : "a gap in the record";
      return label(LEFT + 5, y + height, said, "soft small");
    }
    const [from, to] = [ruler.x(found.start), ruler.x(found.end + 1)];
    if (found.length >= limits.need) return box(from, y, to - from, height - 1, "enough");
    const needed = Math.min(ruler.x(found.start + limits.need), ruler.right);
    const lacks = box(to, y, needed - to, height - 1, "lacks");
    lacks.setAttribute("fill", `url(#${hatch})`);
    return [lacks, box(from, y, to - from, height - 1, "short")];
  }

  function draw() {
    const { ruler, windows, state, part: shown, limits, crop } = panel;
    const height = between(Math.round(240 / windows.rows.length), 4, 12);
    const [top, middle, start] = [8, 186, 212];
    const bottom = start + windows.rows.length * height;
    const bars = windows.rows.map((row, i) => {
      const y = start + i * height;
      const name = row.year % 5 ? null : label(LEFT - 7, y + height, row.year, "soft", "end");
      return [name, bar(row, windows.rows[i - 1], y, height)];
    });
    show(
      ruler.width,
      bottom + 20,
      hatching(hatch),
      ruler.months(top, bottom),
      temperatures(top, middle),
      promised(middle + 18),
      bars,
      ruler.reading(state.date, top, bottom),
    );
    part.root.hidden = !windows.two;
    back.disabled = !Object.keys({ ...state.limits, ...state.needs }).length;
    const found = oddsShorter(windows, shown, limits.need, panel.rules.z);
    const name = state.of ? `${crop.name} (${state.of})` : crop.name;
    const finding = `${words.tooShort(shown, limits.need, name, found)}.`;
    const drift = panel.fresh("drift")?.parts[shown] ?? "";
    text.textContent = [finding, words.howSure(found), words.average(windows, shown), drift].join(
      " ",
    );
    return finding;
  }
  return { root, draw, controls };
}

function hatching(id) {
  const paper = {
    id,
    width: 5,
    height: 5,
    patternUnits: "userSpaceOnUse",
    patternTransform: "rotate(45)",
  };
  return svg(
    "defs",
    {},
    svg("pattern", paper, box(0, 0, 5, 5, "missing"), line(0, 0, 0, 5, "hatch")),
  );
}
