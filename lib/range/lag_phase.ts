import type { RampCount } from "./count_ramp.ts";
import { legendreColumns, solveColumns } from "./normal_equations.ts";

/** A lag as the bends of rising and falling strokes show it. */
export interface PhaseLag {
  /** Time constant, in s. */
  readonly timeConstant: number;
  /** Its standard deviation from the scatter of the pairs, in s. */
  readonly deviation: number;
  /** Share of the pairs that show a fifth of it or more (1). */
  readonly share: number;
  /** Pairs of strokes (1). */
  readonly pairs: number;
}

/**
 * The time constant with which the fitted phases of rising and falling strokes
 * follow the same course: φ = a + b x_τ + c P₂(x) + d P₃(x), where b, c and d are
 * those of the diode and a is free on each stroke. A lag bends the phase to
 * opposite sides on the two; a curved tuning bends it to the same.
 *
 * @param count Strokes counted without regard to the lag.
 * @param course Lagging current in A for a time constant in s.
 * @returns `null` where there are no such pairs.
 */
export function lagFromPhase(
  { strokes, counts, signals, ramps, low, span }: RampCount,
  course: (timeConstant: number) => Float64Array,
): PhaseLag | null {
  const pieces = strokes.map((stroke, i) => {
    const [signal, count] = [signals[i], counts[i]];
    if (
      !signal || !count?.model || signal.x.length !== stroke.end - stroke.start
    ) return null;
    return count.parts.flatMap(({ from, to, model }) => {
      if (model === null) return [];
      const every = Math.max(1, Math.floor((to - from) / 40));
      const at: number[] = [];
      for (let j = from; j < to; j += every) at.push(j);
      const x = Float64Array.from(at, (j) => signal.x[j]!);
      const polynomials = legendreColumns(x, model.phase.length);
      const phase = new Float64Array(at.length);
      model.phase.forEach((value, k) => {
        const column = polynomials[k + 1]!;
        for (let j = 0; j < at.length; j++) phase[j]! += value * column[j]!;
      });
      return [{ samples: at.map((j) => j + stroke.start), x, phase }];
    });
  });
  const pairs = strokes.flatMap((stroke, i) => {
    const [a, b] = [pieces[i], pieces[i + 1]];
    return a && b && a.length + b.length > 1 &&
        strokes[i + 1]!.direction !== stroke.direction
      ? [[...a, ...b]]
      : [];
  });
  if (pairs.length === 0) return null;
  const duration = ramps.strokeDuration;
  const residual = (pair: (typeof pairs)[number], tau: number) => {
    const lagged = course(tau);
    const total = pair.reduce((sum, { x }) => sum + x.length, 0);
    const phase = new Float64Array(total);
    const along = new Float64Array(total);
    const place = new Float64Array(total);
    const offsets = pair.map(() => new Float64Array(total));
    let k = 0;
    pair.forEach((piece, p) => {
      piece.samples.forEach((sample, j) => {
        phase[k] = piece.phase[j]!;
        along[k] = 2 * (lagged[sample]! - low) / span - 1;
        place[k] = piece.x[j]!;
        offsets[p]![k] = 1;
        k++;
      });
    });
    const bends = legendreColumns(place, 3);
    return solveColumns(
      [...offsets, along, bends[2]!, bends[3]!],
      phase,
    )?.residualSum ?? Infinity;
  };
  const grid = Array.from(
    { length: 14 },
    (_, k) => duration / 400 * 1.6 ** k,
  );
  const found = pairs.map((pair) => {
    const sums = grid.map((tau) => residual(pair, tau));
    const none = residual(pair, 0);
    const best = sums.indexOf(Math.min(...sums));
    // A short lag is a mere shift, which the offsets make up for.
    if (!(sums[best]! < 0.9 * none)) return 0;
    let low = best === 0 ? 0 : grid[best - 1]!;
    let high = grid[Math.min(grid.length - 1, best + 1)]!;
    const golden = (Math.sqrt(5) - 1) / 2;
    while (high - low > 0.005 * high) {
      const [left, right] = [
        high - golden * (high - low),
        low + golden * (high - low),
      ];
      if (residual(pair, left) < residual(pair, right)) high = right;
      else low = left;
    }
    return (low + high) / 2;
  });
  const sorted = [...found].sort((a, b) => a - b);
  const middle = sorted[sorted.length >> 1]!;
  const spread = 1.4826 *
    [...found.map((tau) => Math.abs(tau - middle))]
      .sort((a, b) => a - b)[found.length >> 1]!;
  return {
    timeConstant: middle,
    deviation: Math.max(spread, 0.005 * middle) / Math.sqrt(found.length),
    share: found.filter((tau) => tau > 0.2 * middle).length / found.length,
    pairs: found.length,
  };
}
