import type { FeedbackCourse } from "./feedback_course.ts";
import { legendreColumns } from "./normal_equations.ts";

/** What the times of the jumps say of the phase. */
export interface JumpRows {
  /** Derivatives by offset, phase coefficients, C and jump offset. */
  readonly rows: number[][];
  /** Measured minus modelled, in rad. */
  readonly differences: number[];
  /** Standard deviation of each difference, in rad. */
  readonly deviations: number[];
  readonly chiSquare: number;
}

/**
 * One row for each jump: t there is the end of the branch, but for an offset
 * that all jumps share (delay of the amplifier), itself within a sample of 0.
 * A sharp jump is known to 1/√12 of a sample; where the amplifier spreads it
 * over several samples the scatter of the rows sets their weight.
 */
export function jumpRows(
  jumps: FeedbackCourse["jumps"],
  offset: number,
  phase: readonly number[],
  c: number,
  jumpOffset: number,
  order: number,
): JumpRows {
  if (jumps.length === 0) {
    return { rows: [], differences: [], deviations: [], chiSquare: 0 };
  }
  const perSample = jumps[0]!.perSample;
  const places = Float64Array.from(jumps, ({ x }) => x);
  const columns = legendreColumns(places, Math.max(1, order));
  // d/dC of arccos(-1/C) + √(C² - 1) = √(C² - 1)/C
  const byFeedback = -Math.sqrt(Math.max(0, c * c - 1)) / c;
  const rows = jumps.map(({ sign }, k) => [
    1,
    ...phase.map((_, j) => -columns[j + 1]![k]!),
    sign * byFeedback,
    -sign,
  ]);
  const differences = jumps.map(({ end, sign }, k) => {
    let t = offset;
    phase.forEach((value, j) => t -= value * columns[j + 1]![k]!);
    return end + sign * jumpOffset - t;
  });
  const mean = differences.reduce((s, d) => s + d, 0) / jumps.length;
  const scatter = Math.sqrt(
    differences.reduce((s, d) => s + (d - mean) ** 2, 0) /
      Math.max(1, jumps.length - 2),
  );
  const widest = perSample / Math.sqrt(12);
  const resolved = jumps.filter(({ resolved }) => resolved).length;
  const deviation = jumps.length < 5 ? widest : Math.max(
    resolved < 0.5 * jumps.length ? widest / 2 : widest / 10,
    Math.min(widest, scatter),
  );
  const deviations = differences.map(() => deviation);
  rows.push([0, ...phase.map(() => 0), 0, 1]);
  differences.push(-jumpOffset);
  deviations.push(perSample);
  return {
    rows,
    differences,
    deviations,
    chiSquare: differences.reduce((s, d, k) =>
      // A jump that is far off counts as 4 deviations: it may be misplaced.
      s + Math.min(16, (d / deviations[k]!) ** 2), 0),
  };
}

/** Samples and jumps in one system, each row over its standard deviation. */
export function assemble(
  linear: readonly Float64Array[],
  derivatives: readonly Float64Array[],
  y: Float64Array,
  robust: Float64Array,
  noise: number,
  jumps: JumpRows,
) {
  const n = y.length;
  const extra = jumps.rows.length;
  const scaled = new Float64Array(n);
  for (let i = 0; i < n; i++) scaled[i] = robust[i]! / noise ** 2;
  if (extra === 0) {
    return { columns: [...linear, ...derivatives], weights: scaled, y };
  }
  const widen = (column: Float64Array, tail: (k: number) => number) => {
    const out = new Float64Array(n + extra);
    out.set(column);
    for (let k = 0; k < extra; k++) out[n + k] = tail(k);
    return out;
  };
  const none = new Float64Array(n);
  const columns = [
    ...linear.map((column) => widen(column, () => 0)),
    ...derivatives.map((column, j) => widen(column, (k) => jumps.rows[k]![j]!)),
    widen(none, (k) => jumps.rows[k]![derivatives.length]!),
  ];
  const weights = widen(scaled, (k) => {
    const ratio = Math.abs(jumps.differences[k]! / jumps.deviations[k]!);
    return Math.min(1, 4 / ratio) ** 2 / jumps.deviations[k]! ** 2;
  });
  return { columns, weights, y: widen(y, (k) => jumps.differences[k]!) };
}
