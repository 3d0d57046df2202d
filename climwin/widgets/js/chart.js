// climwin's live chart: strips on one ruler of the year, drawn from plain numbers. In a notebook the
// default export renders the widget; a page calls mount(). Together with the files before it, in the
// order of climwin.widgets.payload.script, this is one module without imports.

/**
 * Put a panel into an element.
 *
 * given: { numbers: { place, crops, rules, cover }, state, behind, parts, busy, message }, as
 * climwin.widgets.panels.Panel holds them; `changed` hears of every state that a hand has made.
 * Returns { give, close }: give() takes new ones of these, close() ends it.
 */
export function mount(root, given, changed = () => {}) {
  const { parts } = given;
  const panel = panelOf(given, () => {
    changed(panel.state);
    ask();
  });
  const frame = frameOf(panel, parts);
  const strips = parts.map((part) => STRIPS[part](panel));
  const foremost = Math.max(parts.indexOf("window"), 0);
  const controls = [...frame.controls, ...strips.flatMap((each) => each.controls)];
  let due = 0;

  function ask() {
    due ||= requestAnimationFrame(draw);
  }
  function draw() {
    due = 0;
    root.classList.toggle("at-work", panel.busy);
    root.setAttribute("aria-busy", panel.busy);
    const ready = Boolean(panel.place);
    if (ready) {
      panel.width = Math.floor(root.querySelector(".drawn").clientWidth) || panel.width;
      const said = strips.map((each) => each.draw());
      controls.forEach((control) => control.refresh());
      frame.tell(said[foremost]);
      root.setAttribute("aria-label", ["climwin panel", panel.place.name].join(", "));
    } else frame.tell("");
    frame.wanting(ready);
  }
  function give(news) {
    panel.take(news);
    ask();
  }

  root.classList.add("climwin");
  root.setAttribute("role", "group");
  root.replaceChildren(...frame.roots, ...strips.map((each) => each.root));
  const watcher = new ResizeObserver(ask);
  watcher.observe(root);
  give(given);
  return {
    give,
    close() {
      watcher.disconnect();
      cancelAnimationFrame(due);
      frame.close();
    },
  };
}

// --- what is known, and how it is moved ------------------------------------------------------

/** The state, what follows from it, and its moves; `moved` hears of each move of a hand. */
function panelOf(given, moved) {
  const panel = { state: given.state, behind: {}, busy: false, message: "", width: 640, age: 0 };
  const memo = {};
  const once = (name, key, work) => {
    const now = JSON.stringify([panel.age, key]);
    if (memo[name]?.now !== now) memo[name] = { now, value: work() };
    return memo[name].value;
  };
  const firstStage = () => Object.keys(panel.crop.limits).find(Boolean);

  /** Limits of a stage, or of the whole crop, which dies of what kills its first stage. */
  function limitsOf(of) {
    const own = panel.crop.limits[of];
    const [low, high, killed] = panel.state.limits[of] ?? [own.low, own.high, own.killed];
    const need = panel.state.needs[of] ?? own.need;
    return {
      low,
      high,
      killed: of || !firstStage() ? killed : limitsOf(firstStage()).killed,
      need,
    };
  }
  /** The window that the first plan aims at; the first of the year while its date is not known. */
  function aimed() {
    const start = panel.state.starts[0] ?? panel.fates[0]?.middle;
    return start ? partOf(panel.windows, start, panel.state.ways[0].weeks) : "rise";
  }
  function opened(found) {
    const rows = openFates(found.fates);
    const share = range(DAYS).map((d) => {
      const odds = planOdds(rows, d + 1, panel.rules);
      return odds.known ? odds.succeeded / odds.known : NaN;
    });
    return { ...found, rows, share };
  }

  const known = {
    rules: () => panel.numbers.rules,
    crop: () => panel.numbers.crops.find((crop) => crop.name === panel.state.crop),
    limits: () => limitsOf(panel.state.of),
    inside: () => panel.state.inside || firstStage(),
    windows() {
      const { low, high, killed } = panel.limits;
      return once("windows", [low, high, killed], () => usableWindows(panel.place, panel.limits));
    },
    part: () => (panel.windows.two ? panel.state.part || aimed() : "longest"),
    ruler: () =>
      once("ruler", [panel.width, panel.windows.first], () =>
        rulerOf(panel.width, panel.windows.first),
      ),
    freezes() {
      return once("freezes", panel.state.threshold, () => {
        const dates = freezeDates(panel.place, panel.state.threshold);
        return { dates, chance: freezeChance(panel.place, dates) };
      });
    },
    fates: () =>
      once("fates", panel.behind.plans?.of, () => (panel.behind.plans?.each ?? []).map(opened)),
    plans: () =>
      panel.state.ways.map((way, i) => ({
        ...way,
        start: panel.state.starts[i] ?? panel.fates[i]?.middle ?? 1,
        wakes: panel.crop.wakes,
      })),
    outcomes: () =>
      panel.plans.map(
        (plan, i) => panel.fates[i] && planOdds(panel.fates[i].rows, plan.start, panel.rules),
      ),
  };
  for (const [name, get] of Object.entries(known)) Object.defineProperty(panel, name, { get });

  /** What the library has worked out behind, if it is for the state that is shown. */
  function fresh(name) {
    const found = panel.behind[name];
    const same = (key) => JSON.stringify(found.of[key]) === JSON.stringify(panel.state[key]);
    return found && Object.keys(found.of).every(same) ? found : null;
  }

  // Moves say what is wrong with them, in a sentence, or nothing.
  function move(patch) {
    panel.state = { ...panel.state, ...patch };
    panel.message = "";
    moved();
  }
  function moveLimits(patch) {
    const { low, high, killed } = { ...panel.limits, ...patch };
    const say = (celsius) => degrees(celsius, panel.state.units);
    const beyond = [low, high, killed].find((celsius) => !(Math.abs(celsius) <= 60));
    if (beyond !== undefined) return `No crop has a limit of ${say(beyond)}.`;
    if (!(low < high)) {
      return `Too cold below ${say(low)} and too hot above ${say(high)} leave nothing between.`;
    }
    if (!(killed < low)) {
      return `A night that kills is colder than ${say(low)}, below which it is too cold.`;
    }
    const { of } = panel.state;
    const limits = { ...panel.state.limits };
    if (of) limits[of] = [low, high, killed];
    else if (low !== panel.limits.low || high !== panel.limits.high) limits[of] = [low, high];
    if (!of && killed !== panel.limits.killed) {
      const first = limitsOf(firstStage());
      limits[firstStage()] = [Math.max(first.low, killed), first.high, killed];
    }
    return move({ limits });
  }
  function moveNeed(days) {
    if (!(days >= 1 && days <= DAYS)) return `A crop needs from 1 to ${DAYS} days.`;
    return move({ needs: { ...panel.state.needs, [panel.state.of]: days } });
  }
  const moveWays = (patch) =>
    move({ ways: panel.state.ways.map((way, i) => ({ ...way, ...patch(way, i) })) });
  function moveWeeks(i, weeks) {
    const most = Math.floor(panel.crop.days / 7);
    if (!(weeks >= 0 && weeks <= most))
      return `${panel.crop.name} lives ${most} weeks: from 0 to ${most}.`;
    return moveWays((_, j) => (i === j ? { weeks } : {}));
  }
  const moveStart = (i, day) =>
    move({ starts: panel.state.starts.map((start, j) => (i === j ? day : start)) });
  /** Another crop begins with its own limits, its usual weeks and its best dates. */
  function moveCrop(name) {
    const { weeks } = panel.numbers.crops.find((crop) => crop.name === name);
    const ways = panel.state.ways.map((way, i) => ({ ...way, weeks: i ? 0 : weeks, fleece: 0 }));
    const own = { of: "", limits: {}, needs: {}, inside: "", part: "" };
    return move({ crop: name, ...own, ways, starts: [null, null] });
  }

  function take({ numbers, ...news }) {
    for (const [name, value] of Object.entries(news)) if (value !== undefined) panel[name] = value;
    if (!numbers || numbers === panel.numbers) return;
    panel.numbers = numbers;
    panel.place = numbers.place ? openPlace(numbers.place) : null;
    panel.age += 1;
  }
  const moves = { move, moveLimits, moveNeed, moveWays, moveWeeks, moveStart, moveCrop };
  return Object.assign(panel, { fresh, limitsOf, take }, moves);
}

// --- the frame around the strips -------------------------------------------------------------

/** Head of a panel: the place, the finding, what all strips share, and the date that is read. */
function frameOf(panel, parts) {
  const where = html("p", { class: "place" });
  const finding = html("p", { class: "finding" });
  const message = html("p", { class: "message", role: "alert", hidden: true });
  const minds = html("ul", { class: "minds", "aria-label": "Where these numbers could mislead" });
  const spoken = html("p", { class: "unseen", role: "status" });
  const busy = html("p", { class: "busy" }, html("span", { "aria-hidden": "true" }), "working …");
  const read = html("p", { class: "read" });
  const crops = choice({
    label: "Crop",
    options: () => panel.numbers.crops.map(({ name }) => [name, suiting(panel, name)]),
    get: () => panel.state.crop,
    set: panel.moveCrop,
  });
  const units = radios({
    legend: "Temperatures in",
    options: { C: "°C", F: "°F" },
    get: () => panel.state.units,
    set: (chosen) => panel.move({ units: chosen }),
  });
  const years = yearFields(panel);
  const date = dateDial(panel, {
    label: "Read a date",
    get: () => panel.state.date,
    set: (day) => panel.move({ date: day }),
  });
  const onRuler = parts.some((part) => part !== "cover");
  const grows = parts.some((part) => part !== "freeze");
  const bar = html("div", { class: "bar" }, grows ? crops.root : null, years.root, units.root);
  const ruler = html("div", { class: "ruler" }, date.root, read);
  const roots = [
    html("header", {}, busy, where, finding, message, minds, bar, spoken),
    onRuler ? ruler : "",
  ];
  let calm = 0;

  /** The finding, at once for the eye, and for the ear once the hand rests. */
  function tell(sentence) {
    finding.textContent = sentence;
    message.textContent = panel.message;
    message.hidden = !panel.message;
    const told = panel.fresh("doubts")?.told;
    if (told) minds.replaceChildren(...told.map((text) => html("li", {}, text)));
    minds.hidden = !minds.children.length;
    clearTimeout(calm);
    calm = setTimeout(() => (spoken.textContent = sentence), 700);
    if (!panel.place) return;
    const { name, scenario, first_year: first, last_year: last } = panel.place;
    const span = `${words.years(last - first + 1)}, ${first} to ${last}`;
    where.textContent = [name, scenario, span].filter(Boolean).join(" · ");
    read.textContent = reading(panel, parts);
  }
  const wanting = (ready) =>
    [bar, ...roots.slice(1)].forEach((each) => each instanceof Node && (each.hidden = !ready));
  const controls = [...(grows ? [crops] : []), units, years, date];
  return { roots, controls, tell, wanting, close: () => clearTimeout(calm) };
}

/** A crop's name, and in how many years the best way of growing it succeeds here. */
function suiting(panel, name) {
  const best = panel.fresh("crops")?.best[name];
  return best ? `${name} (${best[0]} of ${words.years(best[1])})` : name;
}

function yearFields(panel) {
  const fields = ["from", "to"].map((end, i) =>
    html("input", {
      ...{ type: "number", "aria-label": `Years ${end}`, ...QUIET },
      onchange: ({ target }) => {
        const year = Number.isNaN(target.valueAsNumber) ? null : target.valueAsNumber;
        panel.move({ years: panel.state.years.map((old, j) => (i === j ? year : old)) });
      },
    }),
  );
  const root = html(
    "fieldset",
    { class: "years" },
    html("legend", {}, "Years"),
    fields[0],
    " to ",
    fields[1],
  );
  const refresh = () =>
    fields.forEach(
      (field, i) => document.activeElement === field || (field.value = panel.state.years[i] ?? ""),
    );
  return { root, refresh };
}

/** What the place's history says of the date that is read. */
function reading(panel, parts) {
  const { place, state, freezes } = panel;
  const [low, high] = [1, 3].map((i) => place.bands[i][state.date - 1]);
  const told = [];
  if (low !== null) {
    const span = `${temperature(low, state.units)} and ${temperature(high, state.units)}`;
    told.push(`${dayName(state.date)}: half of all days have a mean between ${span}.`);
  }
  const rising =
    modulo(state.date - place.coldest, DAYS) < modulo(place.warmest - place.coldest, DAYS);
  const [half, when] = rising
    ? ["spring", "or later in spring"]
    : ["autumn", "or earlier in autumn"];
  const chance = freezes.chance[half][state.date - 1];
  if (chance !== null) {
    const night = degrees(state.threshold, state.units);
    told.push(`Chance of ${night} or colder on this day ${when}: ${words.percent(chance)}.`);
  }
  if (parts.includes("window")) {
    const day = panel.ruler.at(state.date);
    const known = panel.windows.rows
      .map((row) => row[panel.part])
      .filter((found) => found.status !== "unknown");
    const held = known.filter((found) => found.start <= day && day <= found.end);
    told.push(`It lies in the window of ${held.length} of ${words.years(known.length)}.`);
  }
  return told.join(" ");
}

// --- the widget ----------------------------------------------------------------------------

const HEARD = ["numbers", "state", "behind", "busy", "message"];

function render({ model, el }) {
  const root = html("div");
  el.append(root);
  const given = Object.fromEntries([...HEARD, "parts"].map((name) => [name, model.get(name)]));
  const view = mount(root, given, (state) => {
    model.set("state", state);
    model.save_changes();
  });
  const listeners = HEARD.map((name) => [
    `change:${name}`,
    () => view.give({ [name]: model.get(name) }),
  ]);
  listeners.forEach(([event, hear]) => model.on(event, hear));
  return () => {
    listeners.forEach(([event, hear]) => model.off(event, hear));
    view.close();
  };
}

export default { render };
