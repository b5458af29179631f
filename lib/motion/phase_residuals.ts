import type { Detection } from "./detection.ts";
import { drawSpline } from "./drawn_spline.ts";
import { entryAt, fringeModels } from "./fringe_height.ts";
import { branchWalk } from "./height_system.ts";
import type { PhaseFit } from "./phase_fit.ts";

/** φF of every sample of a fit, and what the fit leaves. */
export interface PhaseTrace {
  /** φ0, in rad. */
  readonly phase: Float64Array;
  /** Signal minus fit over the amplitude (1); `NaN` where left out. */
  readonly residual: Float64Array;
  /** dy/dφ0 at the fit over the amplitude, in 1/rad. */
  readonly slope: Float64Array;
  /** Weight of each sample (1); 0 where left out. */
  readonly weight: Float64Array;
  /** sin φF (1). */
  readonly sine: Float64Array;
  /** cos φF (1). */
  readonly cosine: Float64Array;
}

const turn = 2 * Math.PI;

let latest:
  | { signal: Float64Array; fit: PhaseFit; trace: PhaseTrace }
  | null = null;

/** Takes a fit apart, sample by sample. */
export function tracePhase(signal: Float64Array, fit: PhaseFit): PhaseTrace {
  // One fit is looked at again and again before it is kept.
  if (latest?.signal !== signal || latest.fit !== fit) {
    latest = { signal, fit, trace: traced(signal, fit) };
  }
  return latest.trace;
}

function traced(signal: Float64Array, fit: PhaseFit): PhaseTrace {
  const { model, parameters, labels, coefficients, spacing } = fit;
  const { p, q, middle, amplitude, height } = parameters;
  const models = height === null
    ? null
    : fringeModels(parameters, fit.noise / amplitude);
  const n = signal.length;
  const phase = new Float64Array(n);
  drawSpline(coefficients, spacing, phase);
  const residual = new Float64Array(n);
  const slope = new Float64Array(n);
  const weight = new Float64Array(n);
  const sines = new Float64Array(n);
  const cosines = new Float64Array(n);
  // Without a height jumps count only where all fringes have them.
  const walk = branchWalk(
    model.feedback > 1 || models !== null
      ? labels
      : { ...labels, mayFold: false },
  );
  const plain = { model, height: 1 };
  for (let i = 0; i < n; i++) {
    const h = height === null ? 1 : height.values[i]!;
    const { model: own, height: near } = models?.at(h) ?? plain;
    const t = phase[i]! + own.shift;
    const branch = walk(i, own.feedback, t);
    const edge = branch !== branch;
    const base = turn * (edge ? Math.round(t / turn) : branch);
    const j = entryAt(fit.parameters, own, h - near, phase[i]! - base);
    const cosine = own.signal[j]!;
    const sine = own.sine[j]!;
    const miss = phase[i]! - own.phase[j]! - base -
      (h - near) * (p * sine + q * cosine);
    slope[i] = height === null ? own.slope[j]! : -h * sine /
      Math.max(1 + h * (p * cosine - q * sine), 1e-9);
    // At the fold the slope runs away and a step along it says nothing.
    const step = Math.abs(miss) < 0.02 && own.weight[j]! > 0.01
      ? slope[i]! * miss
      : 0;
    residual[i] = edge
      ? NaN
      : (signal[i]! - middle) / amplitude - h * cosine - step;
    sines[i] = sine;
    cosines[i] = cosine;
    weight[i] = residual[i] === residual[i] ? own.weight[j]! : 0;
  }
  return { phase, residual, slope, weight, sine: sines, cosine: cosines };
}

/** A stretch where the fit does not follow the signal. */
export interface Misfit {
  /** First sample. */
  readonly first: number;
  /** Last sample. */
  readonly last: number;
  /** Excess of the squared residuals, in standard deviations of chance. */
  readonly excess: number;
}

/**
 * Finds stretches whose residuals are larger than chance allows.
 *
 * @param trace The fit, sample by sample.
 * @param window Samples of one stretch.
 * @param noise Noise over the amplitude (1).
 * @returns Stretches in order of time; neighbours are merged.
 */
export function findMisfits(
  trace: PhaseTrace,
  window: number,
  noise: number,
): Misfit[] {
  const { residual, weight } = trace;
  const n = residual.length;
  const variance = Math.max(noise, 0.002) ** 2;
  const found: { first: number; last: number; excess: number }[] = [];
  for (let first = 0; first < n; first += window) {
    const last = Math.min(n, first + window) - 1;
    let squares = 0;
    let count = 0;
    for (let i = first; i <= last; i++) {
      const w = weight[i]!;
      if (w === 0) continue;
      squares += w * residual[i]! ** 2;
      count += w;
    }
    if (count < 1) continue;
    const excess = (squares / variance - count) / Math.sqrt(2 * count + 4);
    if (excess < 8 || squares < 1.5 * variance * count) continue;
    const previous = found.at(-1);
    if (previous !== undefined && previous.last >= first - 1) {
      previous.last = last;
      previous.excess = Math.max(previous.excess, excess);
    } else found.push({ first, last, excess });
  }
  return found;
}

/** The stretches where a fit does not follow, for the noise of its record. */
export function misfitsOfFit(
  trace: PhaseTrace,
  fit: PhaseFit,
  { scale, fastest }: Detection,
): Misfit[] {
  const noise = Math.max(
    0.01,
    Math.min(fit.noise, 1.5 * scale.noise) / fit.parameters.amplitude,
  );
  const window = Math.max(8, Math.round(Math.min(fit.spacing, fastest)));
  return findMisfits(trace, window, noise);
}
