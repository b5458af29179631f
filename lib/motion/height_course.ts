import { checkpoint } from "../progress/mod.ts";
import { basisTable } from "./cubic_spline.ts";
import type { Detection } from "./detection.ts";
import { isExhausted } from "./effort.ts";
import { fringeModels, heightOf, heightSpline } from "./fringe_height.ts";
import { accumulateHeight } from "./height_system.ts";
import { type Reading, withJumpsOf } from "./hypotheses.ts";
import type { PhaseFit } from "./phase_fit.ts";
import { addRoughness, makeSystem, solveSystem } from "./phase_system.ts";
import {
  chooseSpacing,
  firstSpacings,
  fitReading,
  fitsNoise,
  score,
} from "./reading_fit.ts";

/** Intervals between knots of the height that are tried. */
const triedIntervals = [4, 8, 16, 32, 64] as const;
/** Distances of the phase's knots that are worth more than one trial. */
const keptSpacings = 2;
/** Half fringes between knots at least: fewer do not tell height from phase. */
const leastLegs = 2;
/** Akaike's criterion must improve by so much. */
const leastGain = 20;
/**
 * What one step must gain per sample where φF jumps: the tables of fringes of all
 * heights are no better there (1).
 */
const foldedGain = 0.01;
/** Far more than noise makes of a height that does not change. */
const muchGain = 200;

/**
 * Fits the course of the fringes' height along with the phase.
 *
 * @param signal The signal.
 * @param detection Its fringes.
 * @param reading How the record is read.
 * @param before Its fit so far.
 * @returns The fit with the height, or `null` if it is no better.
 */
export function fitHeight(
  signal: Float64Array,
  detection: Detection,
  reading: Reading,
  before: PhaseFit,
): PhaseFit | null {
  const n = signal.length;
  const own = withJumpsOf(reading, before);
  let best: PhaseFit | null = null;
  let wide = 0;
  const consider = (fit: PhaseFit, spacing: number) => {
    if (best !== null && !(score(fit) < score(best))) return false;
    best = fit;
    wide = spacing;
    return true;
  };
  // Beside a fit that leaves only noise the knots need not be sought afresh.
  const thorough = !fitsNoise(before, detection);
  if (!thorough) {
    const between = Math.ceil(n / triedIntervals[1]);
    const least = before.model.feedback > 1
      ? Math.max(leastGain, foldedGain * before.effectiveSamples)
      : leastGain;
    // Much gain shows in a part of the samples.
    const every = least > muchGain ? 3 : 1;
    if (gainOfHeight(signal, before, between, every) < least) return null;
  }
  let spacings = [
    ...new Set([
      before.spacing,
      ...(thorough ? firstSpacings(signal, detection) : []),
    ]),
  ];
  for (const intervals of triedIntervals) {
    const between = Math.ceil(n / intervals);
    if (between < leastLegs * detection.fastest || isExhausted(detection)) {
      break;
    }
    checkpoint(NaN, "fit height");
    let better = false;
    const scores = new Map<number, number>();
    for (const spacing of spacings) {
      const from: PhaseFit = best ?? before;
      const fit = fitReading(
        signal,
        detection,
        own,
        spacing,
        from.parameters,
        12,
        {
          coefficients: spacing === from.spacing ? from.coefficients : null,
          heightSpacing: between,
        },
      );
      scores.set(spacing, score(fit));
      if (consider(fit, between)) better = true;
    }
    spacings = spacings
      .sort((a, b) => scores.get(a)! - scores.get(b)!)
      .slice(0, keptSpacings);
    if (intervals < triedIntervals[1]) continue;
    const helps = score(best!) < score(before);
    if (!better || !helps) break;
  }
  if (best === null || !(score(best) < score(before))) return null;
  const chosen = chooseSpacing(
    signal,
    detection,
    own,
    best,
    thorough,
    wide,
  );
  return score(chosen) < score(before) - leastGain ? chosen : null;
}

/** By how much one step with the height free lessens more than one with it held. */
function gainOfHeight(
  signal: Float64Array,
  { spacing, labels, coefficients, noise, parameters }: PhaseFit,
  heightSpacing: number,
  every: number,
): number {
  const n = signal.length;
  const spline = heightSpline(parameters.height, heightSpacing, n);
  const height = parameters.height === null
    ? new Float64Array(n).fill(1)
    : heightOf(spline, n).values;
  const relativeNoise = noise / parameters.amplitude;
  const columns = 4 + spline.coefficients.length;
  const system = makeSystem(coefficients.length, columns);
  accumulateHeight(
    system,
    signal,
    spacing,
    basisTable(spacing),
    coefficients,
    { ...parameters, height },
    fringeModels(parameters, relativeNoise),
    relativeNoise,
    labels,
    5 * relativeNoise,
    spline,
    every,
  );
  addRoughness(system, coefficients);
  const gainOf = (count: number) => {
    const free = Array.from({ length: count }, (_, j) => j);
    const own = { ...system, band: system.band.slice() };
    return solveSystem(own, free, coefficients)?.gain ?? NaN;
  };
  return gainOf(columns) - gainOf(4);
}
