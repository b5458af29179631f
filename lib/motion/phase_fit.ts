import { checkpoint } from "../progress/mod.ts";
import { basisTable } from "./cubic_spline.ts";
import {
  type FringeHeight,
  fringeModels,
  heightOf,
  type HeightSpline,
  heightSpline,
} from "./fringe_height.ts";
import { type FringeModel, fringeModel } from "./fringe_model.ts";
import { accumulateHeight } from "./height_system.ts";
import type { PhaseLabels } from "./phase_labels.ts";
import {
  accumulateLabels,
  accumulatePhase,
  addRoughness,
  clearSystem,
  makeSystem,
  type PhaseSystem,
  solveSystem,
} from "./phase_system.ts";

/** Feedback and levels of a fringe signal. */
export interface FringeParameters {
  /** C cos ψ (1). */
  readonly p: number;
  /** C sin ψ (1). */
  readonly q: number;
  /** Level at cos φF = 0, in the unit of the signal. */
  readonly middle: number;
  /** Signal per cos φF at the mean height, in the unit of the signal. */
  readonly amplitude: number;
  /** Course of the fringes' height; `null` where it does not change. */
  readonly height: FringeHeight | null;
}

/** φ0 along a record as a cubic spline, with what it was fitted with. */
export interface PhaseFit {
  /** Samples between knots. */
  readonly spacing: number;
  /** Spline coefficients of φ0, in rad. */
  readonly coefficients: Float64Array;
  readonly parameters: FringeParameters;
  /** The fringe that goes with them. */
  readonly model: FringeModel;
  /** White noise, rms, in the unit of the signal, from the residuals. */
  readonly noise: number;
  /** Weighted sum of squared residuals over the squared amplitude (1). */
  readonly residualSquares: number;
  /** Sum of the weights: samples that count. */
  readonly effectiveSamples: number;
  /** Samples that are not missing. */
  readonly sampleCount: number;
  /** Cholesky factor of the spline's part, 4 × coefficients. */
  readonly factor: Float64Array;
  /** Minus the spline's change per parameter change, per free parameter. */
  readonly coupling: readonly Float64Array[];
  /** Covariance of the free parameters, row by row. */
  readonly covariance: Float64Array;
  /**
   * Which of p, q, middle/amplitude, amplitude/amplitude, and from 4 on the
   * coefficients of the height's spline, are free.
   */
  readonly free: readonly number[];
  readonly labels: PhaseLabels;
  /** Whether the iteration settled. */
  readonly settled: boolean;
}

/** What {@linkcode fitPhase} starts from. */
export interface PhaseFitInput {
  /** The signal; samples that are `NaN` are left out. */
  readonly signal: Float64Array;
  /** Samples between knots. */
  readonly spacing: number;
  /** First guess. */
  readonly parameters: FringeParameters;
  /** Noise, rms, in the unit of the signal. */
  readonly noise: number;
  readonly labels: PhaseLabels;
  /** Spline to start from instead of the labelled pieces. */
  readonly coefficients?: Float64Array | null;
  /** Whether p and q are fitted. */
  readonly fitFeedback: boolean;
  /**
   * Whether the first pass over the labels keeps the given p and q.
   *
   * @default {false}
   */
  readonly keepFeedbackAtStart?: boolean;
  /** Whether middle and amplitude are fitted. */
  readonly fitLevels: boolean;
  /**
   * Samples between knots of the height; `null` holds it.
   *
   * @default {null}
   */
  readonly heightSpacing?: number | null;
  /**
   * Weighted sum of squared residuals over the squared amplitude from which on a
   * fit is of no use: it is given up where it comes no nearer to that (1).
   *
   * @default {Infinity}
   */
  readonly mostSquares?: number;
  /** Most iterations. */
  readonly iterations: number;
}

/** Feedback above this is not looked for where nothing jumps. */
const mostSmoothFeedback = 0.998;
const mostFeedback = 12;
/**
 * A step is the last that lessens the squared residuals over the noise's by less,
 * and moves φ0 by less than so many times the noise: at an extreme of the fringe
 * φ0 may move far for nothing.
 */
const settledStep = { gain: 0.1, change: 0.15 } as const;
/** Part of the way to `mostSquares` that an iteration must make (1). */
const leastApproach = 0.1;

/**
 * Fits φ0 as a cubic spline together with the feedback and the levels, by
 * weighted least squares of the signal itself (Gauss–Newton). Every sample says
 * y - cos φF = (dy/dφ0) (δφ0 - sin φF δp - cos φF δq) + δb₀ + cos φF δb₁, which
 * is linear in all unknowns; the spline's part of the normal equations has four
 * bands, so one iteration costs a fixed time per sample.
 *
 * @param input Signal, spacing, first guess.
 * @returns The fit.
 */
export function fitPhase(input: PhaseFitInput): PhaseFit {
  const { signal, spacing, labels, iterations } = input;
  const n = signal.length;
  let sampleCount = 0;
  for (let i = 0; i < n; i++) if (signal[i]! === signal[i]!) sampleCount++;
  let spline = input.heightSpacing
    ? heightSpline(input.parameters.height, input.heightSpacing, n)
    : null;
  const free = [
    ...(input.fitFeedback ? [0, 1] : []),
    ...(input.fitLevels ? [2, 3] : []),
    ...Array.from(spline?.coefficients ?? [], (_, m) => 4 + m),
  ];
  const size = Math.max(1, Math.ceil(n / spacing)) + 3;
  const system = makeSystem(size, 4 + (spline?.coefficients.length ?? 0));
  const basis = basisTable(spacing);
  let parameters = spline === null
    ? input.parameters
    : { ...input.parameters, height: heightOf(spline, n) };
  let relativeNoise = Math.max(input.noise / parameters.amplitude, 1e-5);
  const outlier = 5 * Math.max(input.noise / parameters.amplitude, 0.01);
  let coefficients = input.coefficients ?? null;
  if (coefficients === null) {
    accumulateLabels(
      system,
      signal,
      spacing,
      basis,
      parameters,
      relativeNoise,
      labels,
    );
    checkpoint();
    addRoughness(system, null);
    const fitsFeedback = input.fitFeedback && !input.keepFeedbackAtStart;
    if (!fitsFeedback) holdFeedback(system, parameters);
    const start = solveSystem(system, fitsFeedback ? [0, 1] : []);
    if (start === null) coefficients = new Float64Array(size);
    else {
      coefficients = start.coefficients;
      if (fitsFeedback) {
        parameters = limitFeedback({
          ...parameters,
          p: start.parameters[0]!,
          q: start.parameters[1]!,
        }, labels);
      }
    }
  }
  const { mostSquares = Infinity } = input;
  let settled = false;
  let last = Infinity;
  let lastSquares = Infinity;
  for (let i = 0;; i++) {
    checkpoint(i / iterations, "fit phase");
    const model = fringeModel(parameters.p, parameters.q, relativeNoise);
    clearSystem(system);
    const { height } = parameters;
    const sums = height === null
      ? accumulatePhase(
        system,
        signal,
        spacing,
        basis,
        coefficients,
        parameters,
        model,
        relativeNoise,
        labels,
        outlier,
        free.length > 0,
      )
      : accumulateHeight(
        system,
        signal,
        spacing,
        basis,
        coefficients,
        { ...parameters, height: height.values },
        fringeModels(parameters, relativeNoise),
        relativeNoise,
        labels,
        outlier,
        spline,
      );
    checkpoint();
    addRoughness(system, coefficients);
    const solution = solveSystem(system, free, coefficients);
    const freedom = Math.max(1, sums.count - size - free.length);
    const residual = Math.max(Math.sqrt(sums.squares / freedom), 1e-5);
    const beyond = sums.squares - mostSquares;
    const hopeless = beyond > 0 &&
      lastSquares - sums.squares < leastApproach * beyond;
    lastSquares = sums.squares;
    if (settled || hopeless || i >= iterations || solution === null) {
      return {
        spacing,
        coefficients,
        parameters,
        model,
        noise: residual * parameters.amplitude,
        residualSquares: sums.squares,
        effectiveSamples: sums.count,
        sampleCount,
        factor: system.band,
        coupling: solution?.coupling ?? [],
        covariance: solution?.covariance ?? new Float64Array(free.length ** 2),
        free,
        labels,
        settled,
      };
    }
    const step = new Float64Array(system.columns);
    free.forEach((j, a) => step[j] = solution.parameters[a]!);
    const change = Math.hypot(
      rmsChange(solution.coefficients, coefficients),
      ...step,
    );
    // The system was weighed with the noise of the step before.
    const gain = solution.gain * (relativeNoise / residual) ** 2;
    settled =
      (gain < settledStep.gain && change < settledStep.change * residual) ||
      (change < 1e-3 && change > 0.5 * last);
    last = change;
    coefficients = solution.coefficients;
    parameters = limitFeedback(advance(parameters, step), labels);
    if (spline !== null) {
      spline = advanceHeight(spline, step.subarray(4));
      parameters = { ...parameters, height: heightOf(spline, n) };
    }
    relativeNoise = Math.max(residual, 1e-5);
  }
}

/** Moves the known p and q of the labels' equations to the right side. */
function holdFeedback(
  system: PhaseSystem,
  { p, q }: FringeParameters,
): void {
  const { size, right, border } = system;
  for (let k = 0; k < size; k++) {
    right[k]! -= border[k]! * p + border[size + k]! * q;
  }
}

function rmsChange(next: Float64Array, before: Float64Array): number {
  let sum = 0;
  for (let k = 0; k < next.length; k++) sum += (next[k]! - before[k]!) ** 2;
  return Math.sqrt(sum / next.length);
}

function limited(value: number, most: number): number {
  return Math.max(-most, Math.min(most, value));
}

/** A step of the height, no larger than half of what it is. */
function advanceHeight(spline: HeightSpline, step: Float64Array): HeightSpline {
  const { spacing, coefficients } = spline;
  return {
    spacing,
    coefficients: coefficients.map((value, m) =>
      value + limited(step[m]!, 0.3 * Math.max(0.2, value))
    ),
  };
}

function advance(
  parameters: FringeParameters,
  step: Float64Array,
): FringeParameters {
  const { p, q, middle, amplitude } = parameters;
  const most = 0.3 + 0.2 * Math.hypot(p, q);
  return {
    ...parameters,
    p: p + limited(step[0]!, most),
    q: q + limited(step[1]!, most),
    middle: middle + amplitude * limited(step[2]!, 0.3),
    amplitude: amplitude * (1 + limited(step[3]!, 0.3)),
  };
}

function limitFeedback(
  parameters: FringeParameters,
  labels: PhaseLabels,
): FringeParameters {
  const most = labels.mayFold ? mostFeedback : mostSmoothFeedback;
  const feedback = Math.hypot(parameters.p, parameters.q);
  if (feedback <= most) return parameters;
  const factor = most / feedback;
  return {
    ...parameters,
    p: parameters.p * factor,
    q: parameters.q * factor,
  };
}
