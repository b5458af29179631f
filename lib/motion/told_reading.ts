import { extremesOf } from "../order/mod.ts";
import type { Detection } from "./detection.ts";
import { marginOverOthers } from "./other_courses.ts";
import type { PhaseFit } from "./phase_fit.ts";
import { tracePhase } from "./phase_residuals.ts";
import { isFirm } from "./sought_reading.ts";

/** Noise over the amplitude that may hide strokes read the other way (1). */
const hidingNoise = 0.12;
/**
 * Height of the fitted fringes over that seen beforehand (1): beyond it the levels
 * or the fit are wrong (right ones of the zoo reach 1.12).
 */
const highest = 1.2;

/** Half fringes between knots so stiff that what they follow is beyond doubt. */
const stiff = 6;

/**
 * Whether a fit leaves no doubt of its reading: little noise, knots too far apart
 * to follow a wrong one, and nothing left but the noise.
 *
 * @param signal The signal.
 * @param detection Its fringes.
 * @param fit Its fit.
 */
export function isTold(
  signal: Float64Array,
  detection: Detection,
  fit: PhaseFit,
): boolean {
  const { noise, amplitude } = detection.scale;
  return noise < hidingNoise * amplitude && isFirm(signal, detection, fit) &&
    heightOfFit(signal, fit) < 2 * highest * amplitude;
}

/** From the lowest to the highest level of a fit, in the unit of the signal. */
function heightOfFit(signal: Float64Array, fit: PhaseFit): number {
  const { cosine } = tracePhase(signal, fit);
  const [low, high] = extremesOf(cosine);
  return fit.parameters.amplitude * (high - low);
}

/**
 * By how much the reading of a fit is likelier than another that is half a fringe
 * or more off somewhere.
 *
 * @param signal The signal.
 * @param detection Its fringes.
 * @param fit Its fit.
 * @returns Logarithm of the ratio of the likelihoods (1); `Infinity` where there is
 * no doubt of it.
 */
export function marginOf(
  signal: Float64Array,
  detection: Detection,
  fit: PhaseFit,
): number {
  const { scale, fastest } = detection;
  if (fit.spacing >= stiff * fastest && isTold(signal, detection, fit)) {
    return Infinity;
  }
  const { phase } = tracePhase(signal, fit);
  return marginOverOthers(signal, phase, fit.parameters, scale.noise, fastest);
}
