import { checkpoint } from "../progress/mod.ts";
import type { RampCount } from "./count_ramp.ts";
import { legendreColumns, solveColumns } from "./normal_equations.ts";
import { median } from "./stroke_selection.ts";

/** Pairs of strokes that are used, evenly spread over the record. */
const mostPairs = 200;

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
  { strokes, counts, waveforms, signals, ramps, low, span }: RampCount,
  course: (timeConstant: number) => Float64Array,
): PhaseLag | null {
  const pieces = strokes.map((stroke, i) => {
    // A strong bend may be left to the waveform of free shape.
    const [signal, fit] = [signals[i], counts[i]?.model ?? waveforms[i]];
    if (
      !signal || !fit || signal.x.length !== stroke.end - stroke.start
    ) return null;
    const length = signal.x.length;
    const every = Math.max(1, Math.floor(length / 40));
    const at: number[] = [];
    for (let j = 0; j < length; j += every) at.push(j);
    // Without the shift of a hop, which is no bend.
    const x = Float64Array.from(
      at,
      (j) => 2 * (stroke.current[j]! - low) / span - 1,
    );
    const polynomials = legendreColumns(x, fit.phase.length);
    const phase = new Float64Array(at.length);
    fit.phase.forEach((value, k) => {
      const column = polynomials[k + 1]!;
      for (let j = 0; j < at.length; j++) phase[j]! += value * column[j]!;
    });
    return { samples: at.map((j) => j + stroke.start), x, phase };
  });
  const pairs = strokes.flatMap((stroke, i) => {
    const [a, b] = [pieces[i], pieces[i + 1]];
    return a && b && strokes[i + 1]!.direction !== stroke.direction
      ? [[a, b]]
      : [];
  });
  if (pairs.length === 0) return null;
  const duration = ramps.strokeDuration;
  // A course of the whole record takes long: each time constant is tried on all
  // pairs at once.
  const used = spread(pairs, mostPairs);
  const residuals = (tau: number) => {
    checkpoint(NaN, "thermal lag");
    const lagged = course(tau);
    return used.map((pair) => {
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
    });
  };
  const none = residuals(0);
  const coarse = leastOf(
    Array.from({ length: 14 }, (_, k) => duration / 400 * 1.6 ** k),
    residuals,
  );
  // A short lag is a mere shift, which the offsets make up for.
  const first = coarse.map(({ place, least }, i) =>
    least < 0.9 * none[i]! ? place : 0
  );
  const centre = median(first);
  const fine = centre === 0 ? [] : leastOf(
    Array.from({ length: 13 }, (_, k) => centre * 1.09 ** (k - 6)),
    residuals,
  );
  const found = first.map((place, i) =>
    place > 0 && fine[i]?.inside ? fine[i]!.place : place
  );
  const middle = median(found);
  const scatter = 1.4826 *
    median(found.map((tau) => Math.abs(tau - middle)));
  return {
    timeConstant: middle,
    deviation: Math.max(scatter, 0.005 * middle) / Math.sqrt(found.length),
    share: found.filter((tau) => tau > 0.2 * middle).length / found.length,
    pairs: found.length,
  };
}

/** Every n-th of a list, so that no more than `most` are left. */
function spread<T>(list: readonly T[], most: number): T[] {
  const every = Math.ceil(list.length / most);
  return list.filter((_, k) => k % every === 0);
}

/**
 * Where the residuals of each pair are least on a geometric grid, by a parabola
 * through the least and its neighbours over the logarithm.
 */
function leastOf(
  grid: readonly number[],
  residuals: (tau: number) => number[],
): { place: number; least: number; inside: boolean }[] {
  const sums = grid.map(residuals);
  return sums[0]!.map((_, pair) => {
    const own = sums.map((values) => values[pair]!);
    const k = own.indexOf(Math.min(...own));
    const least = own[k]!;
    const inside = k > 0 && k < grid.length - 1;
    if (!inside) return { place: grid[k]!, least, inside };
    const [before, after] = [own[k - 1]!, own[k + 1]!];
    const bend = before - 2 * least + after;
    const shift = bend > 0 ? 0.5 * (before - after) / bend : 0;
    const ratio = grid[1]! / grid[0]!;
    return { place: grid[k]! * ratio ** shift, least, inside };
  });
}
