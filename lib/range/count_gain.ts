import { checkpoint } from "../progress/mod.ts";
import type { RampCount } from "./count_ramp.ts";
import { difference } from "./normal_equations.ts";
import type { Stroke } from "./ramps.ts";
import { leftOver, median } from "./stroke_selection.ts";

/** Chance that a count is preferred for nothing (1). */
const falseAlarms = 1e-3;

/** Misfit over the noise from which on a stroke is one that nothing explains. */
const unexplained = 1.5;

/**
 * How much each stroke may say of which count is right: the square of what the best
 * of the counts leaves of it over the noise. A stroke that a knock disturbed fits
 * by chance better here or there.
 *
 * @param compared Counts of the same strokes.
 */
export function strokeWeights(compared: readonly RampCount[]): number[] {
  return compared[0]!.counts.map((_, i) => {
    const left = Math.min(
      ...compared.flatMap(({ counts }) => {
        const count = counts[i];
        return count ? [count.misfit / count.sampleNoise] : [];
      }),
    );
    return weightOf(left);
  });
}

function weightOf(leftOver: number): number {
  return Math.min(1, (unexplained / leftOver) ** 2);
}

/**
 * -2 ln L of the strokes of a count, up to a constant: n ln s² of each, with s
 * what the fit leaves without the largest 5 %.
 *
 * @param weights From {@linkcode strokeWeights}.
 */
export function deviance(
  { counts, signals }: RampCount,
  weights: readonly number[],
): number {
  let sum = 0;
  for (let i = 0; i < counts.length; i++) {
    const [count, signal] = [counts[i], signals[i]];
    if (!signal) continue;
    if (!count) return Infinity;
    sum += weights[i]! * 2 * signal.x.length * Math.log(count.misfit);
  }
  return sum;
}

/**
 * By how much a count describes the strokes better than another, less what it
 * may for its further unknowns: Δ(-2 ln L) - k ln n - 2 ln(1/p), with n the
 * samples that tell something new, as neighbouring ones share their noise, and p
 * the chance of a false alarm. Negative where fewer than half of the strokes gain,
 * as where a knock disturbs one.
 *
 * Source: Schwarz, Ann. Statist. 6, 461 (1978), for k ln n.
 *
 * @param before The count to compare with.
 * @param after The count with more unknowns.
 * @param unknowns Further unknowns k.
 */
export function gainOf(
  before: RampCount,
  after: RampCount,
  unknowns: number,
): number {
  let [gain, samples, better, strokes] = [0, 0, 0, 0];
  before.counts.forEach((was, i) => {
    const k = sameStroke(before.strokes[i]!, after.strokes, i);
    const is = after.counts[k];
    const signal = after.signals[k];
    if (!was || !signal) return;
    if (!is) {
      gain = -Infinity;
      return;
    }
    const n = signal.x.length *
      newPart(difference(signal.y, is.fitted));
    const own = 2 * n * Math.log(was.misfit / is.misfit);
    gain += own * weightOf(Math.min(was.misfit, is.misfit) / is.sampleNoise);
    samples += n;
    strokes++;
    if (own > 0) better++;
  });
  if (better < 0.5 * strokes) return -Infinity;
  return gain - unknowns * Math.log(samples) + 2 * Math.log(falseAlarms);
}

/**
 * Number of a stroke among those of another count, which has one more or less at
 * the ends where it was counted against a current that lags otherwise; -1 for none.
 */
function sameStroke(
  { direction, start, end }: Stroke,
  others: readonly Stroke[],
  near: number,
): number {
  return [near, near - 1, near + 1].find((k) => {
    const other = others[k];
    return other?.direction === direction &&
      Math.abs(other.start + other.end - start - end) < end - start;
  }) ?? -1;
}

/** Nearly all that is left beside noise: rms of noise without its largest 5 %. */
const noMoreThanNoise = 0.95;

/**
 * Whether a count leaves nearly as little as another, or no more than noise: then
 * what it was counted with may be so.
 */
export function describesAsWell(count: RampCount, other: RampCount): boolean {
  return leftOver(count) < Math.max(1.1 * leftOver(other), noMoreThanNoise);
}

/** With so few samples to a step what is left of fringes may look like noise. */
const fewSamples = 8;

/**
 * Whether what the fits leave is noise: on half of the strokes neighbouring samples
 * share next to nothing, as they would where fringes are left.
 */
export function leavesNoise({ counts, signals }: RampCount): boolean {
  const parts = counts.flatMap((count, i) => {
    const signal = signals[i];
    if (!count || !signal) return [];
    if (signal.x.length < fewSamples * count.steps) return [0];
    const left = difference(signal.y, count.fitted);
    checkpoint();
    return [newPart(left)];
  });
  return median(parts) > 0.8;
}

/** Part of the samples that tells something new: (1 - ρ)/(1 + ρ). */
function newPart(residuals: Float64Array): number {
  let [both, own] = [0, 0];
  for (let i = 1; i < residuals.length; i++) {
    both += residuals[i]! * residuals[i - 1]!;
    own += residuals[i]! ** 2;
  }
  const likeness = own > 0 ? Math.max(0, Math.min(0.95, both / own)) : 0;
  return (1 - likeness) / (1 + likeness);
}
