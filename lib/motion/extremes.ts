/** Maxima and minima in turn. */
export interface Extremes {
  /** Sample index of each extreme. */
  readonly index: Int32Array;
  /** Value at each extreme, in the unit of the signal. */
  readonly value: Float64Array;
  /** Whether the first extreme is a maximum; they alternate after it. */
  readonly startsWithMaximum: boolean;
}

/**
 * Finds the maxima and minima of a signal that stand out by more than a
 * threshold: after a maximum the signal must fall by the threshold before a
 * minimum counts, and the other way round.
 *
 * @param samples The signal; `NaN` is passed over.
 * @param threshold In the unit of the signal: one value, or a function of the
 * sample index.
 * @returns Maxima and minima in turn.
 */
export function findExtremes(
  samples: ArrayLike<number>,
  threshold: number | ((index: number) => number),
): Extremes {
  const indices: number[] = [];
  const values: number[] = [];
  let startsWithMaximum = false;
  let highest = -Infinity, highestIndex = 0;
  let lowest = Infinity, lowestIndex = 0;
  /** 1 while a maximum is sought, -1 for a minimum, 0 before the first. */
  let sought = 0;
  let step = typeof threshold === "number" ? threshold : threshold(0);
  for (let i = 0; i < samples.length; i++) {
    const value = samples[i]!;
    if (typeof threshold !== "number" && (i & 63) === 0) step = threshold(i);
    if (value > highest) {
      highest = value;
      highestIndex = i;
    }
    if (value < lowest) {
      lowest = value;
      lowestIndex = i;
    }
    if (sought >= 0 && value < highest - step) {
      if (sought === 0) startsWithMaximum = true;
      indices.push(highestIndex);
      values.push(highest);
      lowest = value;
      lowestIndex = i;
      highest = value;
      highestIndex = i;
      sought = -1;
    } else if (sought <= 0 && value > lowest + step) {
      indices.push(lowestIndex);
      values.push(lowest);
      lowest = value;
      lowestIndex = i;
      highest = value;
      highestIndex = i;
      sought = 1;
    }
  }
  return {
    index: Int32Array.from(indices),
    value: Float64Array.from(values),
    startsWithMaximum,
  };
}
