import { checkpoint } from "../progress/mod.ts";
import type { Detection } from "./detection.ts";
import { isExhausted } from "./effort.ts";
import { labelsOf, type Reading } from "./hypotheses.ts";
import { suitedSpacing } from "./knot_gain.ts";
import { onOtherKnots } from "./other_knots.ts";
import { fitPhase, type FringeParameters, type PhaseFit } from "./phase_fit.ts";
import { splineThrough } from "./spline_through.ts";

/** Samples between knots that are tried first: stiff splines before loose. */
export function firstSpacings(
  signal: Float64Array,
  detection: Detection,
): number[] {
  const most = Math.max(4, Math.floor(signal.length / 6));
  const all = [24, 6, 1.5].map((factor) =>
    Math.max(4, Math.min(most, Math.round(factor * detection.fastest)))
  );
  return [...new Set(all)];
}

/** Whether a fit leaves no more than the noise that was seen beforehand. */
export function fitsNoise(fit: PhaseFit, detection: Detection): boolean {
  return fit.settled && reachesNoise(fit, detection);
}

/** The same of a fit that may still move a little. */
export function reachesNoise(fit: PhaseFit, { scale }: Detection): boolean {
  const { amplitude } = fit.parameters;
  return fit.noise < 1.05 * scale.noise + 0.002 * amplitude &&
    fit.effectiveSamples > 2 * fit.coefficients.length;
}

/** What a sample costs where the height changes, over one where it does not. */
const heightCost = 3;
/** What the tables of all heights cost, in samples. */
const tableCost = 8000;

/** What a fit to a reading may start from. */
interface FitStart {
  /** C that is held at first; `null` where it is free at once (1). */
  readonly startFeedback?: number | null;
  /** Spline of φ0 to start from; `null` takes it from the labels. */
  readonly coefficients?: Float64Array | null;
  /** Samples between knots of the height; `null` where it is held. */
  readonly heightSpacing?: number | null;
  /**
   * Weighted squared residuals over the squared amplitude: a fit that comes no
   * nearer to leaving so little is given up (1).
   */
  readonly mostSquares?: number;
}

/** Fits phase, feedback and levels to a record read in one way. */
export function fitReading(
  signal: Float64Array,
  detection: Detection,
  reading: Reading,
  spacing: number,
  parameters: FringeParameters | null,
  iterations: number,
  {
    startFeedback = null,
    coefficients = null,
    heightSpacing = null,
    mostSquares = Infinity,
  }: FitStart = {},
): PhaseFit {
  const { middle, amplitude, noise } = detection.scale;
  const hasHeight = heightSpacing !== null || parameters?.height;
  detection.effort.spent += iterations *
    (hasHeight ? heightCost * signal.length + tableCost : signal.length);
  const feedback = startFeedback ?? (reading.kind === "jumps" ? 1.5 : 0.3);
  return fitPhase({
    signal,
    spacing,
    labels: labelsOf(reading, detection, signal.length),
    coefficients: coefficients ??
      (reading.kind === "searched"
        ? splineThrough(reading.phase, spacing)
        : null),
    noise: Math.max(noise, 0.02 * amplitude),
    parameters: parameters ?? {
      p: 0.2 * feedback,
      q: 0.98 * feedback,
      middle,
      amplitude,
      height: detection.height,
    },
    fitFeedback: true,
    keepFeedbackAtStart: startFeedback !== null,
    fitLevels: true,
    heightSpacing,
    mostSquares,
    iterations,
  });
}

/** No closer fit than this is worth more knots (1). */
const leastVariance = 1e-8;

/** Akaike's criterion of a fit: smaller is better. */
export function score(fit: PhaseFit): number {
  const { residualSquares, effectiveSamples, coefficients, parameters } = fit;
  // All samples in the first term: what they weigh is no merit of a fit.
  const k = coefficients.length + 4 + (parameters.height?.size ?? 0);
  if (!(effectiveSamples > 1.5 * k)) return Infinity;
  const value = fit.sampleCount *
      (Math.log(residualSquares / effectiveSamples + leastVariance) +
        2 * Math.log(parameters.amplitude)) +
    2 * k * effectiveSamples / (effectiveSamples - k - 1);
  return Number.isFinite(value) ? value : Infinity;
}

const ladder = 1.6;
const fineLadder = 1.25;

/** A reading's fit with the knots that suit it, stiff splines tried first. */
export function fitAnew(
  signal: Float64Array,
  detection: Detection,
  reading: Reading,
  parameters: FringeParameters,
): PhaseFit {
  let best: PhaseFit | null = null;
  for (const spacing of firstSpacings(signal, detection)) {
    const fit = fitReading(
      signal,
      detection,
      reading,
      spacing,
      parameters,
      10,
    );
    if (best === null || score(fit) < score(best)) best = fit;
  }
  return chooseSpacing(signal, detection, reading, best!);
}

/** Akaike's criterion must be worse by so much to be worse on a longer record, too. */
const clearlyWorse = 30;

/** Squared residuals from which on a fit with so many coefficients is clearly worse. */
function mostSquaresWith(size: number, best: PhaseFit): number {
  const { residualSquares, sampleCount, coefficients } = best;
  const most = clearlyWorse + 2 * (coefficients.length - size);
  return residualSquares * Math.exp(most / sampleCount);
}

/** A fit with the knots that suit it. */
export interface SuitedFit {
  readonly fit: PhaseFit;
  /** Distance from which on knots are clearly too far apart, in samples. */
  readonly most: number;
}

/**
 * A fit that leaves only noise with the knots that suit it: as close as what it
 * leaves asks for, else further apart as long as Akaike's criterion improves.
 *
 * @param most Distance from which on knots are known to be too far apart.
 */
export function withSuitedKnots(
  signal: Float64Array,
  detection: Detection,
  reading: Reading,
  start: PhaseFit,
  most = Infinity,
): SuitedFit {
  let best = start;
  const improves = (spacing: number) => {
    if (spacing >= Math.min(most, signal.length / 4)) return false;
    const coefficients = onOtherKnots(signal, best, spacing);
    const { parameters } = best;
    const fit = fitReading(signal, detection, reading, spacing, parameters, 8, {
      coefficients,
      mostSquares: mostSquaresWith(coefficients.length, best),
    });
    const worse = score(fit) - score(best);
    if (worse > clearlyWorse && spacing > best.spacing) most = spacing;
    if (worse < 0) best = fit;
    return worse < 0 && !isExhausted(detection);
  };
  let closer = suitedSpacing(signal, best);
  while (closer < best.spacing && improves(closer)) {
    closer = suitedSpacing(signal, best);
  }
  if (best === start) {
    for (const factor of [ladder, fineLadder]) {
      while (improves(Math.round(best.spacing * factor)));
    }
  }
  return { fit: best, most };
}

/** Whether a fit is not caught where another is not. */
function isAsClose(fit: PhaseFit, other: PhaseFit): boolean {
  return fit.noise < 1.1 * other.noise;
}

/** A fit that leaves more than so many times the noise reads something wrong. */
const misreadNoise = 3;

/** Whether a fit leaves so much that something must be misread. */
export function isMisread(fit: PhaseFit, { scale }: Detection): boolean {
  const { amplitude } = fit.parameters;
  return fit.noise > misreadNoise * Math.max(scale.noise, 0.01 * amplitude);
}

/** Knots further apart or closer, as long as Akaike's criterion improves. */
export function chooseSpacing(
  signal: Float64Array,
  detection: Detection,
  reading: Reading,
  start: PhaseFit,
  thorough = true,
  heightSpacing: number | null = null,
): PhaseFit {
  let best = start;
  const tried = new Map<number, PhaseFit>([[start.spacing, start]]);
  // Where something is misread, the best knots for that are of little use.
  const looksClose = () => thorough && !isMisread(best, detection);
  const walk = (factor: number) => {
    let failures = 0;
    let { spacing } = best;
    while (failures < (looksClose() ? 2 : 1) && !isExhausted(detection)) {
      const next = Math.round(spacing * factor);
      if (next === spacing || next < 3 || next > signal.length / 4) return;
      spacing = next;
      const before = tried.get(spacing);
      // One that was not caught is no better the second time.
      if (before !== undefined && isAsClose(before, best)) {
        failures++;
        continue;
      }
      checkpoint(NaN, "choose knots");
      // From the spline so far, and afresh from the labels: either may be
      // caught where the other is not.
      let fit: PhaseFit | null = null;
      const onwards = onOtherKnots(signal, best, spacing);
      for (const from of looksClose() ? [onwards, null] : [onwards]) {
        const next = fitReading(
          signal,
          detection,
          reading,
          spacing,
          best.parameters,
          8,
          { coefficients: from, heightSpacing },
        );
        if (fit === null || score(next) < score(fit)) fit = next;
        if (fitsNoise(fit, detection) || isAsClose(fit, best)) break;
      }
      if (fit === null) return;
      tried.set(spacing, fit);
      if (score(fit) < score(best)) {
        best = fit;
        failures = 0;
      } else failures++;
    }
  };
  // A fit caught on the way may be freed by one from the other side.
  for (let round = 0; round < (looksClose() ? 3 : 1); round++) {
    const before = best;
    walk(1 / ladder);
    walk(ladder);
    if (best.spacing === before.spacing || fitsNoise(best, detection)) break;
  }
  // What a cubic spline cuts off goes with the fourth power of the distance: a
  // step of the ladder is six times more or less of it.
  if (looksClose()) {
    walk(1 / fineLadder);
    walk(fineLadder);
  }
  return best;
}
