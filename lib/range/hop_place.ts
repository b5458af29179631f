import type { RampCount } from "./count_ramp.ts";
import type { HopStep } from "./hop_step.ts";
import { fittedRuns, type StrokeRun } from "./residual_scan.ts";

/** Places that are tried over the reach. */
const tries = 200;

/**
 * Where the strokes of one direction hop: the place at which the fringes fitted
 * on either side, carried on across it by whole steps, leave the least.
 *
 * @param count Strokes counted with the hop near its place.
 * @param hop The hop.
 * @param direction The direction.
 * @param reach How far to look on either side (1).
 */
export function placeHop(
  count: RampCount,
  hop: HopStep,
  direction: "up" | "down",
  reach: number,
): number {
  const at = hop[direction]!;
  const gains = new Float64Array(tries + 1);
  const placeOf = (k: number) => at + reach * (2 * k / tries - 1);
  for (const [member] of fittedRuns(count, false)) {
    const { run, stroke, steps } = member!;
    if (stroke.direction !== direction) continue;
    const other = otherSide(member!, at, hop.shift, 2 / steps);
    const noise = run.y.reduce((s, y, i) =>
      s + Math.abs(y - run.fitted[i]!), 0) /
      run.y.length;
    // What is gained by each sample's change of side, up to the place tried.
    const own = new Float64Array(tries + 1);
    for (let i = 0; i < run.y.length; i++) {
      const away = run.place[i]! - at;
      if (Math.abs(away) > reach || Number.isNaN(other[i])) continue;
      const gain = (limited(run.y[i]! - run.fitted[i]!, noise) -
        limited(run.y[i]! - other[i]!, noise)) / noise;
      // Above the place the samples up to the one tried change, below it from it.
      if (away > 0) {
        const k = Math.ceil((away / reach + 1) * tries / 2);
        for (let j = k; j <= tries; j++) own[j]! += gain;
      } else {
        const k = Math.floor((away / reach + 1) * tries / 2);
        for (let j = k; j >= 0; j--) own[j]! += gain;
      }
    }
    for (let k = 0; k <= tries; k++) gains[k]! += own[k]!;
  }
  let best = tries / 2;
  for (let k = 0; k <= tries; k++) if (gains[k]! > gains[best]!) best = k;
  // The middle of the places that do as well.
  let end = best;
  while (end < tries && gains[end + 1] === gains[best]) end++;
  return placeOf((best + end) / 2);
}

/** The fitted signal that each sample had on the other side of the hop. */
function otherSide(
  { run }: StrokeRun,
  at: number,
  shift: number,
  step: number,
): Float64Array {
  const { x, place, fitted, background } = run;
  const n = x.length;
  const rising = x[n - 1]! > x[0]!;
  const fringe = (to: number): number => {
    let [low, high] = rising ? [0, n - 1] : [n - 1, 0];
    if (to < x[low]! || to > x[high]!) return NaN;
    while (Math.abs(high - low) > 1) {
      const middle = (low + high) >> 1;
      if (x[middle]! <= to) low = middle;
      else high = middle;
    }
    // Across the hop itself there are no fringes.
    if ((place[low]! > at) !== (place[high]! > at)) return NaN;
    const [a, b] = [
      fitted[low]! - background[low]!,
      fitted[high]! - background[high]!,
    ];
    return a + (to - x[low]!) / (x[high]! - x[low]! || 1) * (b - a);
  };
  return Float64Array.from(x, (value, i) => {
    const to = value + (place[i]! > at ? -shift : shift);
    for (const whole of [0, -1, 1, -2, 2]) {
      const found = fringe(to + whole * step);
      if (!Number.isNaN(found)) return found + background[i]!;
    }
    return NaN;
  });
}

/** Absolute residuals, limited, as a knock next to the hop must not decide. */
function limited(residual: number, noise: number): number {
  return Math.min(Math.abs(residual), 8 * noise);
}
