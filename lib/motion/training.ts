import { extremeSpread } from "./extreme_spread.ts";
import { feedbackQuantities } from "./feedback_quantities.ts";
import type { PhaseFit } from "./phase_fit.ts";
import { fitsNoise } from "./reading_fit.ts";
import { type Unwrapped, unwrapPhase } from "./unwrap_phase.ts";

/** What a stream learns from its first samples. */
export interface StreamTraining {
  readonly unwrapped: Unwrapped;
  readonly fit: PhaseFit;
  /** Whether the fringes are others than the excess-phase equation makes. */
  readonly isForeign: boolean;
}

/** Samples of a part, longer where the fringes are slow. */
const trainingLengths = [1 << 15, 1 << 17] as const;
/** Fewer fringes than this say too little of their form. */
const leastFringes = 60;
const trainingPlaces = [0.5, 0.1, 0.85, 0.3, 0.7] as const;
/** So many places that no reading describes are no accident. */
const enoughForeign = 3;

/**
 * Feedback and levels from a part of a record: the first of a few places where a
 * fit leaves only noise and tells the way, else the best of them.
 *
 * @returns The part's phase, or `null` if none has fringes.
 */
export function trainOn(signal: Float64Array): StreamTraining | null {
  let best: { unwrapped: Unwrapped; part: Float64Array } | null = null;
  let least = Infinity;
  let foreign = 0;
  let tried = 0;
  const trials = trainingLengths.flatMap((length) =>
    (signal.length > length ? trainingPlaces : [0]).map((place) => ({
      length,
      place,
    }))
  );
  for (const { length, place } of trials) {
    if (best !== null && length !== trainingLengths[0]) break;
    const last = Math.max(0, signal.length - length);
    const first = Math.floor(place * last);
    const part = signal.slice(first, first + length);
    const unwrapped = unwrapPhase(part, { mends: false });
    if (unwrapped === null) continue;
    const { fit, detection } = unwrapped;
    const fringes = detection.extremes.index.length / 2;
    if (fringes < leastFringes && length < signal.length) {
      if (length === trainingLengths[0]) continue;
    }
    const { directionSignificance, feedbackParameter } = feedbackQuantities(
      fit,
    );
    if (fitsNoise(fit, detection) && directionSignificance > 10) {
      return { unwrapped, fit, isForeign: false };
    }
    const excess = fit.noise / Math.max(detection.scale.noise, 1e-12);
    const value = feedbackParameter.standardUncertainty *
      Math.max(1, excess) ** 4 * (directionSignificance < 4 ? 3 : 1);
    if (value < least) {
      least = value;
      best = { unwrapped, part };
    }
    tried++;
    if (isForeign(part, unwrapped)) foreign++;
    if (foreign === tried && foreign === enoughForeign) break;
  }
  if (best === null) return null;
  if (foreign === tried) {
    const { unwrapped } = best;
    return { unwrapped, fit: unwrapped.fit, isForeign: true };
  }
  const unwrapped = unwrapPhase(best.part) ?? best.unwrapped;
  return { unwrapped, fit: unwrapped.fit, isForeign: false };
}

/** Knots closer than so many of the shortest half fringes bend each fringe. */
const foreignKnots = 0.65;
/** No noise is so much more than what was seen beforehand (1). */
const foreignExcess = 2.5;

/**
 * Whether a fit follows fringes that are no others than those of the excess-phase
 * equation only by a motion within each fringe, or not at all though all have one
 * height.
 *
 * Chosen on simulated fringes: triangles, saw teeth, two reflections beside C from
 * 0.3 to 6 at 12 to 30 dB.
 */
export function isForeign(
  part: Float64Array,
  { fit, detection }: Unwrapped,
): boolean {
  if (fitsNoise(fit, detection)) return false;
  return fit.spacing < foreignKnots * detection.fastest ||
    (fit.noise > foreignExcess * detection.scale.noise &&
      extremeSpread(part, detection.scale) === 0);
}
