import { checkpoint } from "../progress/mod.ts";
import { type Quantity, quantity } from "../result/mod.ts";
import type { MotionTrack } from "./motion_track.ts";

/** Mask of the samples between two checkpoints. */
const stride = 0x3ffff;

/** Parts of a record whose fringe heights are compared. */
const parts = 40;
/**
 * Spread of C over that of the heights: the spline follows most of what a change
 * of height does, so that little of it is left to be seen (simulated speckle of
 * contrast 0.1 to 0.5).
 */
const hiddenFactor = 2.5;
/** A spread of heights below this is of no account (1). */
const leastSpread = 2e-3;

/**
 * Relative spread of the fringes' height along a record beyond what noise makes of
 * it: in each part the residuals are projected on cos φF.
 *
 * @param trace What each sample says, and its cos φF (1).
 * @param relativeNoise Noise over the amplitude (1).
 * @returns Standard deviation over the mean (1) of C, to which it belongs; 0 if it
 * may be chance.
 */
export function heightSpread(
  { residual, weight, cosine }: {
    readonly residual: ArrayLike<number>;
    readonly weight: ArrayLike<number>;
    readonly cosine: ArrayLike<number>;
  },
  relativeNoise: number,
): number {
  const n = residual.length;
  const size = Math.max(16, Math.ceil(n / parts));
  let scaled = 0;
  let squares = 0;
  let chance = 0;
  let count = 0;
  for (let first = 0; first < n; first += size) {
    const last = Math.min(n, first + size);
    const rc = product(residual, cosine, weight, first, last);
    const cc = product(cosine, cosine, weight, first, last);
    if (!(cc > 4)) continue;
    const height = rc / cc;
    const variance = relativeNoise * relativeNoise / cc;
    count++;
    scaled += height * height / variance;
    squares += height * height;
    chance += variance;
  }
  if (count < 4 || scaled < count + 5 * Math.sqrt(2 * count)) return 0;
  const spread = Math.sqrt(Math.max(0, squares - chance) / count);
  return spread < leastSpread ? 0 : hiddenFactor * spread;
}

/** Weighted sum of products. */
function product(
  a: ArrayLike<number>,
  b: ArrayLike<number>,
  weight: ArrayLike<number>,
  from: number,
  to: number,
): number {
  let sum = 0;
  for (let i = from; i < to; i++) {
    const w = weight[i]!;
    if (w > 0) sum += w * a[i]! * b[i]!;
  }
  return sum;
}

/** How much worse C and α are known than the fit says, at least, in doubt (1). */
const doubtFactor = 2;

/**
 * A track with the uncertainties that a fit does not know of. C follows the light
 * that comes back as the height of the fringes does; where that changes by a part
 * e, one C for the whole record leaves C e sin(φF + ψ) in φ0. And where samples do
 * not follow the fit, C and α are less sure than white noise makes them.
 *
 * @param track The track; its uncertainty is widened in place.
 * @param spread Relative spread of the fringes' height (1).
 * @param beyond What the fit leaves over the noise (1).
 * @returns The track with C and α widened.
 */
export function withFeedbackDoubt(
  track: MotionTrack,
  spread: number,
  beyond: number,
): MotionTrack {
  const { feedback, uncertainty, trace } = track;
  const { feedbackParameter, linewidthEnhancementFactor } = feedback;
  const c = feedbackParameter.value;
  if (spread > 0) {
    const psi = Math.atan(linewidthEnhancementFactor.value);
    for (let i = 0; i < uncertainty.length; i++) {
      if ((i & stride) === stride) checkpoint(NaN, "widen the uncertainty");
      const sine = trace === null
        ? Math.SQRT1_2
        : Math.sin(Math.abs(trace.feedbackPhase[i]!) + psi);
      // The rest at least as large as a third of it: it is not known that well.
      const part = Math.max(0.3, Math.abs(sine));
      uncertainty[i] = Math.sqrt(
        uncertainty[i]! ** 2 + (c * spread * part) ** 2,
      );
    }
  }
  const doubtful = track.doubtfulSamples > 0 || beyond > 1.25;
  const factor = doubtful ? Math.max(doubtFactor, beyond) : 1;
  if (factor === 1 && spread === 0) return track;
  const widened = (q: Quantity, other: number) =>
    quantity(q.value, Math.hypot(factor * q.standardUncertainty, other), "1");
  return {
    ...track,
    feedback: {
      ...feedback,
      feedbackParameter: widened(feedbackParameter, c * spread / 2),
      linewidthEnhancementFactor: widened(
        linewidthEnhancementFactor,
        linewidthEnhancementFactor.value * spread / 2,
      ),
    },
  };
}
