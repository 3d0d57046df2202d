// Strips of growing: two plans, and the covered space. Made like those of the weather.

// --- plans ---------------------------------------------------------------------------------

const PLANS = ["first", "second"];

/** Two plans on the same years: the odds of every start date, and what became of each year. */
function plansStrip(panel) {
  const sets = PLANS.map((_, i) => planControls(panel, i));
  const share = whole({
    label: "Days of each stage that must be right",
    unit: "%",
    ends: () => [0, 100],
    get: () => 100 * panel.state.ways[0].share,
    set: (value) => panel.moveWays(() => ({ share: value / 100 })),
    say: (value) => `${Math.round(value)} %`,
  });
  const { root, chart, text, show } = strip("Two plans on the same years", {
    key: [
      ["line first", "first plan, by start date"],
      ["line second", "second plan"],
      ["enough", "succeeds"],
      ["short", "fails"],
      ["covered", "under cover"],
    ],
    controls: [...sets.map((set) => set.root), share.root],
    also: html(
      "div",
      { class: "pair" },
      sets.map((set) => set.text),
    ),
  });
  let finding = "Judging every start date …";
  handled(chart, {
    grip(px) {
      if (panel.crop.wakes) return null;
      const away = panel.plans.map((plan) => Math.abs(panel.ruler.middle(plan.start) - px));
      const i = away[0] <= away[1] ? 0 : 1;
      return away[i] < GRIP ? (to) => panel.moveStart(i, panel.ruler.day(to)) : null;
    },
    pick: (px) => panel.move({ date: panel.ruler.day(px) }),
  });

  /** Odds by start date: the map on which the best dates are found. */
  function curve(i, y, bottom) {
    const { ruler, fates, outcomes, plans } = panel;
    if (!fates[i]) return null;
    const at = ruler.middle(plans[i].start);
    const odds = outcomes[i].succeeded / outcomes[i].known;
    const points = ruler.turned(
      fates[i].share.map((share) => (Number.isNaN(share) ? null : y(share))),
    );
    const [first, last] = fates[i].best ?? [];
    const best = first ? ruler.stretches(first, modulo(last - first, DAYS) + 1) : [];
    const height = Number.isNaN(odds) ? bottom : y(odds);
    return [
      best.map(([x, width]) => box(x, bottom + 3 + 5 * i, width, 4, PLANS[i])),
      svg("path", { d: path(points), class: PLANS[i] }),
      line(at, y(1), at, bottom, `start ${PLANS[i]}`),
      dot(at, height, 7, `grip ${PLANS[i]}`),
      label(at, height + 4, i + 1, "on", "middle"),
    ];
  }

  /** A plan's life: weeks under cover, then outdoors. */
  function life(i, y) {
    const { ruler, plans, crop } = panel;
    const out = 7 * plans[i].weeks;
    const bar = (from, days, kind) =>
      ruler.stretches(plans[i].start + from, days).map(([x, width]) => box(x, y, width, 12, kind));
    return [
      label(LEFT - 7, y + 10, i + 1, "", "end"),
      bar(out, Math.max(crop.days - out, 0), PLANS[i]),
      out ? bar(0, out, `covered ${PLANS[i]}`) : null,
    ];
  }

  /** What became of each year: tall where the plan succeeds, short where it fails. */
  function years(i, y) {
    const { ruler, place, outcomes, rules } = panel;
    const width = (ruler.right - LEFT) / (place.last_year - place.first_year + 1);
    const kinds = { [rules.succeeded]: [20, "enough"], [rules.open]: [2, "open"] };
    const cells = (outcomes[i]?.years ?? []).map((fate, n) => {
      const [tall, kind] = kinds[fate] ?? [9, "short"];
      return box(LEFT + n * width, y + 20 - tall, width - (width > 4 ? 1.5 : 0.5), tall, kind);
    });
    return [cells, label(LEFT - 7, y + 16, i + 1, "", "end")];
  }

  function decades(y) {
    const { ruler, place } = panel;
    const all = range(place.last_year - place.first_year + 1);
    const width = (ruler.right - LEFT) / all.length;
    const named = all.filter((n) => (place.first_year + n) % 10 === 0);
    return named.map((n) =>
      label(LEFT + (n + 0.5) * width, y, place.first_year + n, "soft", "middle"),
    );
  }

  function draw() {
    const { ruler, state, plans, outcomes, crop } = panel;
    const [top, bottom] = [14, 154];
    const { y, ticks } = shares(top, bottom, 0.25);
    const ways = crop.wakes ? PLANS.slice(0, 1) : PLANS; // what wakes by itself has one
    const both = (each) => ways.map((_, i) => each(i));
    show(
      ruler.width,
      bottom + 142,
      ruler.months(top, bottom + 56),
      ticks,
      line(LEFT, bottom, ruler.right, bottom, "axis"),
      ruler.reading(state.date, top, bottom + 56),
      both((i) => curve(i, y, bottom)),
      both((i) => life(i, bottom + 17 + 18 * i)),
      both((i) => years(i, bottom + 76 + 24 * i)),
      decades(bottom + 136),
    );
    sets.forEach((set) => set.ready());
    const fresh = panel.fresh("plans");
    root.classList.toggle("waiting", !fresh);
    if (!fresh) return finding; // what was said stays as it was said, of what was judged then
    sets.forEach((set) => set.tell());
    finding = plans.slice(0, ways.length).map((plan, i) => `${words.planOdds(plan, crop.name, outcomes[i])}.`).join(" ");
    const rest = crop.wakes
      ? "It begins where it stands: there is no start to choose."
      : words.comparison(...plans, compared(...outcomes, panel.rules));
    text.textContent = `${finding} ${rest}`;
    return finding;
  }
  return { root, draw, controls: [...sets.flatMap((set) => set.controls), share] };
}

function planControls(panel, i) {
  const start = dateDial(panel, {
    label: "Sown on",
    get: () => panel.plans[i].start,
    set: (day) => panel.moveStart(i, day),
  });
  const weeks = whole({
    label: "Weeks under cover",
    unit: "weeks",
    ends: () => [0, Math.min(Math.floor(panel.crop.days / 7), 16)],
    get: () => panel.plans[i].weeks,
    set: (value) => panel.moveWeeks(i, value),
    say: (value) => (Math.round(value) ? `${Math.round(value)} weeks` : "none, sown in place"),
  });
  const cover = choice({
    label: "Raised in",
    options: () => panel.rules.covers.map((each) => [each, each]),
    get: () => panel.plans[i].cover,
    set: (chosen) => panel.moveWays((_, j) => (i === j ? { cover: chosen } : {})),
  });
  const best = button("Go to its best date", () => panel.moveStart(i, null));
  const legend = html("legend", {}, `${PLANS[i][0].toUpperCase()}${PLANS[i].slice(1)} plan`);
  const root = html(
    "fieldset",
    { class: PLANS[i] },
    legend,
    start.root,
    weeks.root,
    cover.root,
    best,
  );
  const text = html("p", { class: PLANS[i] });
  function ready() {
    root.hidden = panel.crop.wakes;
    text.hidden = panel.crop.wakes && i > 0;
    cover.root.hidden = !panel.plans[i].weeks;
    best.disabled = panel.state.starts[i] === null;
  }
  function tell() {
    const [found, odds] = [panel.fates[i], panel.outcomes[i]];
    const top = Math.max(...found.share.filter((share) => !Number.isNaN(share)));
    const best = `${legend.textContent}: best start dates here ${words.bestDates(found.best, top)}. `;
    text.textContent =
      (panel.crop.wakes ? "" : best) +
      `True odds of its date, nine chances in ten: ${words.interval(odds)}. What failed the other ` +
      `years: ${words.failures(odds, panel.rules.reasons)}.`;
  }
  return { root, text, ready, tell, controls: [start, weeks, cover] };
}

// --- the covered space ---------------------------------------------------------------------

/** A covered space, day by day, as its own logger saw it. */
function coverStrip(panel) {
  const whose = choice({
    label: "Grown inside",
    options: () =>
      Object.keys(panel.crop.limits)
        .filter(Boolean)
        .map((of) => [of, of]),
    get: () => panel.inside,
    set: (inside) => panel.move({ inside }),
  });
  const hot = heat(panel, {
    label: "Scorches at",
    ends: [20, 50],
    get: () => panel.state.hot,
    set: (value) => panel.move({ hot: value }),
  });
  const { root, text, show } = strip("The covered space and its logger", {
    key: [
      ["logged", "inside, coldest to hottest"],
      ["short", "too cold or too hot"],
      ["spread", "outdoors"],
      ["line median", "the line fitted to it"],
    ],
    controls: [whose.root, hot.root],
  });

  function draw() {
    const { state, ruler } = panel;
    const { dates, inside, outdoors, line: fitted } = panel.numbers.cover;
    const limits = panel.limitsOf(panel.inside);
    const [top, bottom] = [8, 190];
    const all = [...inside.flat(), ...outdoors.flat(), limits.killed, state.hot].filter(
      (t) => t !== null,
    );
    const { y, ticks } = thermometer(
      top,
      bottom,
      [Math.min(...all) - 2, Math.max(...all) + 3],
      state.units,
    );
    const width = (ruler.right - LEFT) / dates.length;
    const x = (i) => LEFT + i * width;
    const days = ([colds, warms], inset, kind) =>
      dates.map((_, i) =>
        colds[i] === null || warms[i] === null
          ? null
          : box(
              x(i) + inset,
              y(warms[i]),
              width - 2 * inset,
              y(colds[i]) - y(warms[i]),
              kind(colds[i], warms[i]),
            ),
      );
    const bad = (cold, warm) => cold <= limits.killed + SLACK_C || warm >= state.hot - SLACK_C;
    const lines = fitted.map((values) =>
      svg("path", {
        d: path(values.map((t, i) => [x(i + 0.5), t === null ? null : y(t)])),
        class: "median",
      }),
    );
    const marks = [
      ["kills", limits.killed],
      ["scorches", state.hot],
    ].map(([said, at]) => [
      line(LEFT, y(at), ruler.right, y(at), "limit killed"),
      label(ruler.right - 3, y(at) - 4, said, "over", "end"),
    ]);
    const named = dates
      .map((date, i) => [date.slice(5), i])
      .filter(([day]) => /-(01|15)$/.test(day));
    const names = named.map(([day, i]) =>
      label(x(i), bottom + 15, dayName(dayNumber(day)), "soft", "middle"),
    );
    show(
      ruler.width,
      bottom + 22,
      box(LEFT, y(limits.high), ruler.right - LEFT, y(limits.low) - y(limits.high), "band"),
      days(outdoors, 0, () => "spread"),
      days(inside, width * 0.22, (...ends) => (bad(...ends) ? "short" : "logged")),
      lines,
      marks,
      ticks,
      names,
      line(LEFT, bottom, ruler.right, bottom, "axis"),
    );
    const said = panel.fresh("cover");
    text.textContent = said ? said.text.join(" ") : text.textContent || "Reading the logger …";
    root.classList.toggle("waiting", !said);
    return said?.text[0] ?? "";
  }
  return { root, draw, controls: [whose, hot] };
}

const STRIPS = { freeze: freezeStrip, window: windowStrip, plans: plansStrip, cover: coverStrip };
