// The panel's state, what follows from it, and the moves that a hand can make.

import { rulerOf } from "./axes.js";
import { DAYS } from "./calendar.js";
import { degrees } from "./formatting.js";
import { freezeChance, freezeDates } from "./freezes.js";
import { countOutcomes, outcomeGrid, successShares } from "./outcomes.js";
import { unpackRecord } from "./unpack.js";
import { usableWindows, windowOfPlan } from "./windows.js";

const HOTTEST_C = 60;
const FIRST_WIDTH = 640;

const isSame = (a, b) => JSON.stringify(a) === JSON.stringify(b);

/**
 * A panel without elements. `given` is what chart.mount takes; onMove() is called after each move.
 *
 * Everything that follows from the state is a getter, worked out when it is read and kept until
 * what it depends on changes.
 */
export function createPanel(given, onMove) {
  const cached = {};
  let numbersTaken = 0;

  /** A value worked out once for each key, and again when Python sends new numbers. */
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

    get constants() {
      return panel.numbers.constants;
    },

    // --- the crop and its limits ---

    get crop() {
      return panel.numbers.crops.find((crop) => crop.name === panel.state.crop);
    },
    get firstStage() {
      return Object.keys(panel.crop.limits).find(Boolean); // the whole crop's name is empty
    },
    get stageInside() {
      return panel.state.inside || panel.firstStage;
    },
    get limits() {
      return panel.limitsOf(panel.state.stage);
    },
    /** Limits of a stage, or of the whole crop, which dies of what kills its first stage. */
    limitsOf(stage) {
      const own = panel.crop.limits[stage];
      const [low, high, ownKilled] = panel.state.limits[stage] ?? [own.low, own.high, own.killed];
      const need = panel.state.needs[stage] ?? own.need;
      const isWholeCrop = !stage && panel.firstStage;
      const killed = isWholeCrop ? panel.limitsOf(panel.firstStage).killed : ownKilled;
      return { low, high, killed, need };
    },

    // --- weather ---

    get windows() {
      const { low, high, killed } = panel.limits;
      return once("windows", [low, high, killed], () => usableWindows(panel.record, panel.limits));
    },
    /** The window that is shown: the one chosen, else the one that the first plan aims at. */
    get windowKind() {
      if (!panel.windows.hasTwoWindows) return "longest";
      if (panel.state.window) return panel.state.window;
      const start = panel.state.starts[0] ?? panel.grids[0]?.bestDate;
      if (!start) return "rise";
      return windowOfPlan(panel.windows, start, panel.state.ways[0].weeks);
    },
    get ruler() {
      const { firstDay } = panel.windows;
      return once("ruler", [panel.width, firstDay], () => rulerOf(panel.width, firstDay));
    },
    get freezes() {
      const { threshold } = panel.state;
      return once("freezes", threshold, () => {
        const dates = freezeDates(panel.record, threshold);
        return { dates, chance: freezeChance(panel.record, dates) };
      });
    },

    // --- plans: of each, what the last evaluation by Python says ---

    /** Outcome grids of the two plans, with the share that succeeds by start day; [] before any. */
    get grids() {
      const evaluated = panel.results.plans;
      return once("grids", evaluated?.inputs, () =>
        (evaluated?.plans ?? []).map((packed) => {
          const grid = outcomeGrid(packed);
          return { ...grid, shares: successShares(grid, panel.constants) };
        }),
      );
    },
    get plans() {
      return panel.state.ways.map((way, i) => ({
        ...way,
        start: panel.state.starts[i] ?? panel.grids[i]?.bestDate ?? 1,
        startsByItself: panel.crop.starts_by_itself,
      }));
    },
    /** Outcome codes of each year for the two plans' start days. */
    get planCodes() {
      return panel.grids.map((grid, i) => grid.on(panel.plans[i].start));
    },
    get planCounts() {
      return panel.planCodes.map((codes) => countOutcomes(codes, panel.constants));
    },

    // --- what Python has worked out ---

    /** A result by name, if it belongs to the state that is shown; else null. */
    currentResult(name) {
      const result = panel.results[name];
      if (!result) return null;
      const isCurrent = Object.keys(result.inputs).every((key) =>
        isSame(result.inputs[key], panel.state[key]),
      );
      return isCurrent ? result : null;
    },
    /** Take over what is new of { numbers, state, results, busy, message }. */
    take({ numbers, ...others }) {
      for (const [name, value] of Object.entries(others)) {
        if (value !== undefined) panel[name] = value;
      }
      if (!numbers || numbers === panel.numbers) return;
      panel.numbers = numbers;
      panel.record = numbers.record ? unpackRecord(numbers.record) : null;
      numbersTaken += 1;
    },
  };
  return Object.assign(panel, movesOf(panel, onMove));
}

/** What a hand can move. Each move returns a sentence on what is wrong with it, or nothing. */
function movesOf(panel, onMove) {
  function move(changes) {
    panel.state = { ...panel.state, ...changes };
    panel.message = "";
    onMove();
  }

  /** What is wrong with limits, in a sentence, or nothing. */
  function faultOf({ low, high, killed }) {
    const say = (celsius) => degrees(celsius, panel.state.units);
    const beyond = [low, high, killed].find((celsius) => !(Math.abs(celsius) <= HOTTEST_C));
    if (beyond !== undefined) return `No crop has a limit of ${say(beyond)}.`;
    if (!(low < high)) {
      return `Too cold below ${say(low)} and too hot above ${say(high)} leave nothing between.`;
    }
    if (!(killed < low)) {
      return `A night that kills is colder than ${say(low)}, below which it is too cold.`;
    }
    return undefined;
  }

  /** Move limits of what is shown: a stage, or the whole crop. */
  function moveLimits(changes) {
    const before = panel.limits;
    const after = { ...before, ...changes };
    const fault = faultOf(after);
    if (fault) return fault;
    const { low, high, killed } = after;
    const { stage } = panel.state;
    const limits = { ...panel.state.limits };
    if (stage) {
      limits[stage] = [low, high, killed];
      return move({ limits });
    }
    if (low !== before.low || high !== before.high) limits[""] = [low, high];
    if (killed !== before.killed) {
      // What kills the whole crop is what kills its first stage.
      const first = panel.limitsOf(panel.firstStage);
      limits[panel.firstStage] = [Math.max(first.low, killed), first.high, killed];
    }
    return move({ limits });
  }

  function moveNeed(days) {
    if (!(days >= 1 && days <= DAYS)) return `A crop needs from 1 to ${DAYS} days.`;
    return move({ needs: { ...panel.state.needs, [panel.state.stage]: days } });
  }

  /** Change the two ways of growing: changesOf(way, i) gives what changes of each. */
  function moveWays(changesOf) {
    return move({ ways: panel.state.ways.map((way, i) => ({ ...way, ...changesOf(way, i) })) });
  }

  function moveWeeks(which, weeks) {
    const most = Math.floor(panel.crop.days / 7);
    if (!(weeks >= 0 && weeks <= most)) {
      return `${panel.crop.name} lives ${most} weeks: from 0 to ${most}.`;
    }
    return moveWays((_, i) => (i === which ? { weeks } : {}));
  }

  /** Start a plan on a day of the year; null for its best date. */
  function moveStart(which, day) {
    return move({ starts: panel.state.starts.map((start, i) => (i === which ? day : start)) });
  }

  /** Another crop begins with its own limits, its usual weeks and its best dates. */
  function moveCrop(name) {
    const { weeks } = panel.numbers.crops.find((crop) => crop.name === name);
    const ways = panel.state.ways.map((way, i) => ({
      ...way,
      weeks: i === 0 ? weeks : 0,
      fleece: 0,
    }));
    return move({
      crop: name,
      stage: "",
      limits: {},
      needs: {},
      inside: "",
      window: "",
      ways,
      starts: [null, null],
    });
  }

  return { move, moveLimits, moveNeed, moveWays, moveWeeks, moveStart, moveCrop };
}
