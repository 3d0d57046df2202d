// The panel's state, what follows from it, and the moves that a hand can make.

import { rulerOf } from "./axes.js";
import { DAYS } from "./calendar.js";
import { degrees } from "./formatting.js";
import { freezeChance, freezeDates } from "./freezes.js";
import { countOutcomes, harvestShares, outcomeGrid } from "./outcomes.js";
import { needsOf, spellsOf } from "./spells.js";
import { unpackRecord } from "./unpack.js";
import { limitsOfToday, usableWindows, windowOfPlan } from "./windows.js";

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
        needDays: panel.grids[i].needDays(plan.start),
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
      return once("windows", [low, high, killed], () =>
        usableWindows(panel.record, { low, high, killed }),
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
        const moved = threshold - panel.record.freeze_shift; // years at today's level, or as they were
        const dates = freezeDates(panel.record, moved, threshold);
        return { dates, chance: freezeChance(panel.record, dates) };
      });
    },

    // --- plans: of each, what the last evaluation by Python says ---

    /** Outcome grids of the two plans, with the share of harvests by start day; [] before any. */
    get grids() {
      const evaluated = panel.results.plans;
      return once("grids", evaluated?.inputs, () =>
        (evaluated?.plans ?? []).map((packed) => {
          const grid = outcomeGrid(packed);
          return { ...grid, shares: harvestShares(grid, panel.constants) };
        }),
      );
    },
    get plans() {
      return panel.state.ways.map((way, i) => ({
        ...way,
        start: panel.state.starts[i] ?? panel.grids[i]?.bestDate ?? 1,
        isPerennial: panel.crop.is_perennial,
        isPlanted: panel.crop.is_planted,
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

/** Of the offered numbers the one nearest to what was asked, or the next one on the way to it. */
function nearestOffered(asked, before, offered) {
  const onTheWay = offered.filter((each) => (asked - before) * (each - before) > 0);
  const choice = onTheWay.length ? onTheWay : [before];
  return choice.reduce((a, b) => (Math.abs(b - asked) < Math.abs(a - asked) ? b : a));
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

  /** Move limits of the window. The night that kills is the crop's too, the band is not. */
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

  /** Change the two ways of growing: changesOf(way, i) gives what changes of each. */
  function moveWays(changesOf) {
    return move({ ways: panel.state.ways.map((way, i) => ({ ...way, ...changesOf(way, i) })) });
  }

  /** Raise the plants of a plan for some weeks; they are then the gardener's own. */
  function moveWeeks(which, weeks) {
    const most = panel.constants.most_weeks;
    if (panel.offeredWeeks) {
      const before = panel.state.ways[which].weeks;
      const chosen = nearestOffered(weeks, before, panel.offeredWeeks);
      return moveWays((_, i) => (i === which ? { weeks: chosen, plants: "own" } : {}));
    }
    if (!(weeks >= 0 && weeks <= most)) return `From 0 to ${most} weeks under cover.`;
    return moveWays((_, i) => (i === which ? { weeks, plants: "own" } : {}));
  }

  /** Start a plan on a day of the year; null for its best date. */
  function moveStart(which, day) {
    return move({ starts: panel.state.starts.map((start, i) => (i === which ? day : start)) });
  }

  /** Another crop begins with its own limits, its usual ways and its best dates. */
  function moveCrop(name) {
    const { weeks } = panel.numbers.crops.find((crop) => crop.name === name);
    const ways = panel.state.ways.map(({ cover }, i) => ({
      weeks: i === 0 ? weeks : 0,
      cover,
      fleece: 0,
      earliness: "main",
      bed: "bare",
      plants: "own",
    }));
    return move({
      crop: name,
      limits: null,
      killed: null,
      need: null,
      inside: "",
      window: "",
      ways,
      starts: [null, null],
    });
  }

  return { move, moveLimits, moveNeed, moveWays, moveWeeks, moveStart, moveCrop };
}
