/** Lowest and highest of the samples that fall into one column of a picture. */
export interface TraceColumns {
  /** Lowest of each column. */
  readonly low: Float64Array;
  /** Highest of each column. */
  readonly high: Float64Array;
}

/**
 * Thins samples to what a picture can show: nothing that sticks out is lost.
 *
 * @param samples The samples.
 * @param columns Columns of the picture.
 * @returns Lowest and highest of each; `NaN` where all samples are missing.
 */
export function traceColumns(
  samples: Float64Array,
  columns: number,
): TraceColumns {
  const count = Math.max(1, Math.min(columns, samples.length));
  const low = new Float64Array(count).fill(NaN);
  const high = new Float64Array(count).fill(NaN);
  for (let column = 0; column < count; column++) {
    const from = Math.floor(column * samples.length / count);
    const to = Math.floor((column + 1) * samples.length / count);
    for (let i = from; i < to; i++) {
      const value = samples[i]!;
      if (!(value >= low[column]!)) {
        if (value === value) low[column] = value;
      }
      if (!(value <= high[column]!)) {
        if (value === value) high[column] = value;
      }
    }
  }
  return { low, high };
}
