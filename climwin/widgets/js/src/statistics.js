// Intervals of shares.

/** Wilson's interval of a share of `count`, for the standard normal quantile z; NaN where count is 0. */
export function wilsonInterval(hits, count, z) {
  const share = hits / count;
  const scale = 1 + (z * z) / count;
  const centre = (share + (z * z) / (2 * count)) / scale;
  const variance = (share * (1 - share)) / count + (z * z) / (4 * count ** 2);
  const half = (z * Math.sqrt(variance)) / scale;
  return { low: Math.max(centre - half, 0), high: Math.min(centre + half, 1) };
}

/**
 * Interval of the difference of two shares on the same `count` pairs, by Agresti and Min: half a
 * pair is added to each of the four cells. The arguments are the pairs in which only the first, and
 * only the second, is a hit.
 */
export function pairedInterval(onlyFirst, onlySecond, count, z) {
  if (!count) return { low: NaN, high: NaN };
  const total = count + 2;
  const first = onlyFirst + 0.5;
  const second = onlySecond + 0.5;
  const difference = (first - second) / total;
  const variance = first + second - (first - second) ** 2 / total;
  const half = (z * Math.sqrt(variance)) / total;
  const clamped = (value) => Math.min(Math.max(value, -1), 1);
  return { low: clamped(difference - half), high: clamped(difference + half) };
}
