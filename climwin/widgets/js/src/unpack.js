// Arrays as climwin.widgets.payload packs them: little-endian numbers in base64.

const bytes = (packed) => Uint8Array.from(atob(packed), (letter) => letter.charCodeAt(0));

const float64 = (packed) => new Float64Array(bytes(packed).buffer);
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

/**
 * A place's record with its daily values unpacked. Its rows are calendar years, the first and the
 * last without values, so that a season that reaches over the record's end finds a gap there.
 */
export function unpackRecord(record) {
  return {
    ...record,
    running_mean: bounds(record.running_mean),
    minimum: bounds(record.minimum),
  };
}

/**
 * Outcome codes, one for each year (rows) and each day of the year to start on (columns), from runs:
 * a code and how often it follows itself, then the next.
 */
export function unpackOutcomes(runs) {
  const codes = [];
  for (let i = 0; i < runs.length; i += 2) {
    for (let count = 0; count < runs[i + 1]; count += 1) codes.push(runs[i]);
  }
  return codes;
}
