import { extremesOf } from "../order/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import type { Detection } from "./detection.ts";
import { isExhausted } from "./effort.ts";
import { knotsAreClose } from "./knot_distance.ts";
import { cutParameters } from "./fringe_height.ts";
import { fringeModel } from "./fringe_model.ts";
import { type Reading, withJumpsOf } from "./hypotheses.ts";
import type { FringeParameters, PhaseFit } from "./phase_fit.ts";
import { misfitsOfFit, tracePhase } from "./phase_residuals.ts";
import { searchPhase, searchWork } from "./phase_search.ts";
import { fitAnew, score } from "./reading_fit.ts";

/** A reading with its fit. */
export interface FittedReading {
  readonly reading: Reading;
  readonly fit: PhaseFit;
}

/** C that are tried where the first fit is no help, and the α that goes along. */
const triedFeedbacks = [0.1, 0.3, 0.6, 0.95, 1.3, 1.8, 2.5, 3.5, 4.5] as const;
const triedAlpha = 4;
const mostFits = 3;
/** Steps of a search on which they are compared. */
const guessSteps = 1200;
/** Steps of a search in the shortest half fringe, and its cells per turn of φ0. */
interface SearchGrid {
  readonly steps: number;
  readonly cells: number;
}
const usualGrid: SearchGrid = { steps: 4, cells: 64 };
/** For short strokes, whose speed changes fast. */
const quickGrid: SearchGrid = { steps: 6, cells: 64 };
/** For weak feedback, whose fringes hardly lean. */
const fineGrid: SearchGrid = { steps: 3.5, cells: 128 };
const longRecord = 8000;

/** Whether the knots are so close that the fit may follow something else. */
function hasCloseKnots(fit: PhaseFit, detection: Detection): boolean {
  const { spacing, sampleCount, coefficients } = fit;
  const { fastest } = detection;
  return knotsAreClose(coefficients, {
    spacing,
    fastest,
    sampleCount,
    relativeNoise: fit.noise / fit.parameters.amplitude,
  });
}

/** Whether the knots are so close that the fit may follow a wrong reading. */
function isLoose(
  signal: Float64Array,
  fit: PhaseFit,
  detection: Detection,
): boolean {
  // Many fringes hardly leave a choice of readings.
  return signal.length <= longRecord && hasCloseKnots(fit, detection);
}

/** Whether a fit follows the signal everywhere and leaves only the noise. */
export function followsSignal(
  signal: Float64Array,
  detection: Detection,
  fit: PhaseFit,
): boolean {
  const { amplitude } = fit.parameters;
  return fit.noise < 1.15 * detection.scale.noise + 0.002 * amplitude &&
    misfitsOfFit(tracePhase(signal, fit), fit, detection).length === 0;
}

/**
 * Whether a fit follows the signal with knots far enough apart not to follow a
 * wrong reading.
 */
function isSound(
  signal: Float64Array,
  detection: Detection,
  fit: PhaseFit,
): boolean {
  return !isLoose(signal, fit, detection) &&
    followsSignal(signal, detection, fit);
}

/** The same with knots that are not close, however long the record. */
export function isFirm(
  signal: Float64Array,
  detection: Detection,
  fit: PhaseFit,
): boolean {
  return !hasCloseKnots(fit, detection) &&
    followsSignal(signal, detection, fit);
}

/**
 * Reads a record anew where a fit does not follow it: searches for the likeliest
 * course of φ0 with the feedback of the fit, then with others, and fits each.
 *
 * @param signal The signal.
 * @param detection Its fringes.
 * @param before The best so far.
 * @returns The better of the two.
 */
export function seekReading(
  signal: Float64Array,
  detection: Detection,
  before: FittedReading,
): FittedReading {
  // A long record has long strokes, and takes its time.
  const long = signal.length > longRecord;
  let best = before;
  const consider = (parameters: FringeParameters) => {
    checkpoint(NaN, "seek phase");
    for (const grid of long ? [usualGrid] : [usualGrid, quickGrid]) {
      if (isExhausted(detection)) return true;
      const found = fitSearched(signal, detection, parameters, grid);
      if (found !== null && score(found.fit) < score(best.fit)) best = found;
      if (isSound(signal, detection, best.fit)) return true;
    }
    return false;
  };
  const near = neighbours(before.fit.parameters);
  for (const parameters of long ? near.slice(0, 1) : near) {
    if (consider(parameters)) return best;
  }
  // The rest by the likelihood of their courses.
  const others = likeliestFringes(signal, detection, best.fit.parameters);
  for (const parameters of others.slice(0, mostFits)) {
    if (consider(parameters)) return best;
  }
  return best;
}

/**
 * Fringes of several C in the order of the likelihood of their courses, on the part
 * in the middle of the fringes; those less likely than a known fringe left out.
 */
export function likeliestFringes(
  signal: Float64Array,
  detection: Detection,
  known: FringeParameters | null = null,
): FringeParameters[] {
  const noise = relativeNoise(detection, detection.scale.amplitude);
  const { extremes: { index }, fastest } = detection;
  const length = Math.round(
    guessSteps * Math.max(1, Math.floor(fastest / usualGrid.steps)),
  );
  const middle = index[index.length >> 1]!;
  const from = Math.max(
    0,
    Math.min(middle - (length >> 1), signal.length - length),
  );
  const part = signal.subarray(from, from + length);
  const { steps, cells } = usualGrid;
  const costOf = (parameters: FringeParameters) => {
    checkpoint(NaN, "seek phase");
    const own = cutParameters(parameters, from, from + part.length);
    return searchPhase(part, own, noise, fastest, cells, steps)?.cost ??
      Infinity;
  };
  detection.effort.spent += triedFeedbacks.length *
    searchWork(part.length, fastest, usualGrid.steps);
  const own = known === null ? Infinity : costOf(known);
  return triedFeedbacks.map((feedback) => {
    const parameters = guessOf(feedback, detection);
    return { parameters, cost: costOf(parameters) };
  }).filter(({ cost }) => cost < own).sort((a, b) => a.cost - b.cost)
    .map(({ parameters }) => parameters);
}

/** The parameters of a fit, and at the border of C = 1 those across it. */
function neighbours(parameters: FringeParameters): FringeParameters[] {
  const { p, q } = parameters;
  const feedback = Math.hypot(p, q);
  const scaled = (c: number) => ({
    ...parameters,
    p: p * c / feedback,
    q: q * c / feedback,
  });
  if (feedback > 0.85 && feedback <= 1) return [parameters, scaled(1.1)];
  if (feedback > 1 && feedback < 1.4) return [parameters, scaled(0.95)];
  return [parameters];
}

/** A fringe of one C that spans the levels of the signal. */
function guessOf(
  feedback: number,
  { scale, height }: Detection,
): FringeParameters {
  const psi = Math.atan(triedAlpha);
  const p = feedback * Math.cos(psi);
  const q = feedback * Math.sin(psi);
  const [low, high] = extremesOf(fringeModel(p, q, 0.03).signal);
  const amplitude = 2 * scale.amplitude / (high - low);
  return {
    p,
    q,
    middle: scale.middle - amplitude * (high + low) / 2,
    amplitude,
    height,
  };
}

function relativeNoise(detection: Detection, amplitude: number): number {
  return Math.max(0.01, detection.scale.noise / amplitude);
}

/** The likeliest reading of a record for a known fringe, or `null`. */
export function searchedReading(
  signal: Float64Array,
  detection: Detection,
  parameters: FringeParameters,
  { steps, cells }: SearchGrid = usualGrid,
): Reading | null {
  const { fastest } = detection;
  detection.effort.spent += searchWork(signal.length, fastest, steps);
  const found = searchPhase(
    signal,
    parameters,
    relativeNoise(detection, parameters.amplitude),
    fastest,
    cells,
    steps,
  );
  return found === null ? null : { kind: "searched", ...found };
}

/** The likeliest course through a whole record, fitted; `null` for none. */
export function decodedReading(
  signal: Float64Array,
  detection: Detection,
): FittedReading | null {
  const [parameters] = likeliestFringes(signal, detection);
  if (parameters === undefined) return null;
  let best: FittedReading | null = null;
  // Decoded, fitted, and decoded again by what the fit says of the fringe.
  let fringe = parameters;
  for (const grid of [usualGrid, fineGrid, usualGrid, fineGrid]) {
    const found = fitSearched(signal, detection, fringe, grid);
    if (found === null) continue;
    if (best === null || score(found.fit) < score(best.fit)) best = found;
    fringe = best.fit.parameters;
  }
  return best === null
    ? null
    : { reading: withJumpsOf(best.reading, best.fit), fit: best.fit };
}

function fitSearched(
  signal: Float64Array,
  detection: Detection,
  parameters: FringeParameters,
  grid: SearchGrid,
): FittedReading | null {
  const reading = searchedReading(signal, detection, parameters, grid);
  return reading === null
    ? null
    : { reading, fit: fitAnew(signal, detection, reading, parameters) };
}
