// Arrays as climwin.widgets.payload packs them: little-endian numbers in base64.

/** Days of the running mean, and those on either side of its middle one. */
export const MEAN_DAYS = 7;
export const HALF = 3;

const bytes = (packed) => Uint8Array.from(atob(packed), (letter) => letter.charCodeAt(0));

const float64 = (packed) => new Float64Array(bytes(packed).buffer);
const float32 = (packed) => new Float32Array(bytes(packed).buffer);
const int32 = (packed) => new Int32Array(bytes(packed).buffer);

/** Least and greatest value that each day can have; they differ on the days that a gap touches. */
function bounds({ least, differs_on: differsOn, greatest }) {
  const low = float64(least);
  const high = low.slice();
  const values = float64(greatest);
  int32(differsOn).forEach((day, i) => {
    high[day] = values[i];
  });
  return { low, high };
}

/** What each draw says on some days: `days`, and `values` of each draw, missing where undrawn. */
function drawnValues({ days: packedDays, values: packedValues }) {
  const days = int32(packedDays);
  const all = float32(packedValues);
  const count = days.length ? all.length / days.length : 0;
  const values = Array.from({ length: count }, (_, draw) =>
    all.subarray(draw * days.length, (draw + 1) * days.length),
  );
  return { days, values };
}

/** Running mean in one draw: each drawn day takes the place of what was assumed of it before. */
function meanOfDraw({ low, high }, days, values, least, greatest) {
  const drawn = { low: low.slice(), high: high.slice() };
  values.forEach((value, n) => {
    const [moreThanLeast, moreThanGreatest] = [value - least[n], value - greatest[n]];
    if (!Number.isFinite(moreThanLeast) || !Number.isFinite(moreThanGreatest)) return;
    for (let day = days[n] - HALF; day <= days[n] + HALF; day++) {
      drawn.low[day] += moreThanLeast / MEAN_DAYS;
      drawn.high[day] += moreThanGreatest / MEAN_DAYS;
    }
  });
  return drawn;
}

/** Minimum in one draw; where nothing is drawn its bounds stay what they are. */
function minimumOfDraw({ low, high }, days, values) {
  const drawn = { low: low.slice(), high: high.slice() };
  values.forEach((value, n) => {
    if (Number.isNaN(value)) return;
    drawn.low[days[n]] = value;
    drawn.high[days[n]] = value;
  });
  return drawn;
}

/**
 * A place's record with its daily values unpacked. Its rows are calendar years, the first and the
 * last without values, so that a season that reaches over the record's end finds a gap there.
 * `draws` has, for each draw of the gaps, functions that give the same two with the missing days
 * drawn; there are none where nothing is drawn.
 */
export function unpackRecord(record) {
  const [mean, minimum] = [record.running_mean, record.minimum].map(
    (each) => ("low" in each ? each : bounds(each)), // a page has worked them out already
  );
  const [least, greatest] = [record.drawn_tmean.least, record.drawn_tmean.greatest].map(float64);
  const tmean = drawnValues(record.drawn_tmean);
  const tmin = drawnValues(record.drawn_tmin);
  const count = Math.max(tmean.values.length, tmin.values.length);
  const draws = Array.from({ length: count }, (_, draw) => ({
    /** Worked out when they are asked for: a long record's draws together would fill the memory. */
    running_mean: () => meanOfDraw(mean, tmean.days, tmean.values[draw] ?? [], least, greatest),
    minimum: () => minimumOfDraw(minimum, tmin.days, tmin.values[draw] ?? []),
  }));
  return { ...record, running_mean: mean, minimum, draws };
}

/**
 * Outcome codes, or texts, one for each year (rows) and each day of the year to start on (columns),
 * from runs: a code and how often it follows itself, then the next.
 */
export function unpackOutcomes(runs) {
  const codes = [];
  for (let i = 0; i < runs.length; i += 2) {
    for (let count = 0; count < runs[i + 1]; count += 1) codes.push(runs[i]);
  }
  return codes;
}
