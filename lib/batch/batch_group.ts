import { type Quantity, quantity } from "../result/mod.ts";
import type { BatchRow } from "./batch_rows.ts";

/** One quantity over all captures that gave it. */
export interface BatchGroup {
  /** What the captures were measured as. */
  readonly measurement: string;
  /** Kind of the results. */
  readonly kind: string;
  /** What was measured. */
  readonly name: string;
  /** SI unit symbol without prefix. */
  readonly unit: string;
  /** Finite values. */
  readonly count: number;
  /** Of these, doubtful by a warning. */
  readonly doubtfulCount: number;
  /** Median, in `unit`; its uncertainty is that of the scatter. */
  readonly median: Quantity;
  /** Scatter about the median, in `unit`: 1.4826 median absolute deviations. */
  readonly scatter: number;
  /** Smallest value, in `unit`. */
  readonly smallest: number;
  /** Largest value, in `unit`. */
  readonly largest: number;
  /** Median of the stated standard uncertainties, in `unit`; `NaN` if none. */
  readonly typicalStandardUncertainty: number;
  /** Captures whose value stands apart from the others. */
  readonly outliers: readonly string[];
}

/** 1 / Φ⁻¹(3/4): makes the median absolute deviation a standard deviation. */
const normalScale = 1.482602218505602;
/** √(π/2): standard error of a median of normal values, over σ/√n. */
const medianEfficiency = Math.sqrt(Math.PI / 2);

/**
 * Puts rows of the same quantity together.
 *
 * The scatter is s = 1.4826 MAD; a value x stands apart where the modified
 * z-score 0.6745 |x − median| / MAD is above 3.5 (Iglewicz and Hoaglin 1993),
 * which needs at least five values to be of use.
 *
 * @param rows Rows of a batch.
 * @param threshold Modified z-score above which a value stands apart.
 * @returns One group per quantity, in order of first appearance.
 */
export function batchGroups(
  rows: readonly BatchRow[],
  threshold: number,
): BatchGroup[] {
  const groups = new Map<string, BatchRow[]>();
  for (const row of rows) {
    if (!Number.isFinite(row.value)) continue;
    const key = JSON.stringify([row.measurement, row.kind, row.name, row.unit]);
    const group = groups.get(key);
    if (group === undefined) groups.set(key, [row]);
    else group.push(row);
  }
  return [...groups.values()].map((group) => groupOf(group, threshold));
}

function groupOf(rows: readonly BatchRow[], threshold: number): BatchGroup {
  const { measurement, kind, name, unit } = rows[0]!;
  const values = rows.map(({ value }) => value);
  const middle = medianOf(values);
  const deviations = values.map((value) => Math.abs(value - middle));
  const scatter = normalScale * medianOf(deviations);
  const stated = rows.map((row) => row.standardUncertainty)
    .filter(Number.isFinite);
  const count = rows.length;
  const uncertainty = count === 1
    ? rows[0]!.standardUncertainty
    : count < 5
    ? NaN
    : medianEfficiency * scatter / Math.sqrt(count);
  return {
    measurement,
    kind,
    name,
    unit,
    count,
    doubtfulCount: rows.filter(({ doubtful }) => doubtful).length,
    median: quantity(middle, uncertainty, unit),
    scatter: count < 2 ? NaN : scatter,
    smallest: values.reduce((a, b) => Math.min(a, b)),
    largest: values.reduce((a, b) => Math.max(a, b)),
    typicalStandardUncertainty: stated.length === 0 ? NaN : medianOf(stated),
    outliers: count < 5 || scatter === 0 ? [] : rows
      .filter((_, k) => deviations[k]! > threshold * scatter)
      .map(({ file }) => file),
  };
}

function medianOf(values: readonly number[]): number {
  const sorted = values.toSorted((a, b) => a - b);
  const half = sorted.length >> 1;
  return sorted.length % 2 === 1
    ? sorted[half]!
    : (sorted[half - 1]! + sorted[half]!) / 2;
}
