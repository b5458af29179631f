import { checkpoint } from "../progress/mod.ts";
import {
  benchOptions,
  type Option,
  optionOf,
  readOptions,
  requireNumbers,
} from "../options/mod.ts";
import { excessSlope } from "./excess_slope.ts";
import { basisTable, factorBand, inverseBand } from "./cubic_spline.ts";

/** Options of {@linkcode displacementBound}. */
export interface DisplacementBoundOptions {
  /** Vacuum wavelength of the diode, in m. */
  wavelength: number | string;
  /** Feedback parameter C (1). */
  feedbackParameter: number;
  /**
   * Linewidth enhancement factor α (1).
   *
   * @default {5}
   */
  linewidthEnhancementFactor?: number;
  /** White noise over the amplitude of the fringe (1). */
  relativeNoise: number;
  /** Samples between the knots of the motion's spline (1), a whole number. */
  knotSpacing: number;
  /**
   * Phase index of the air (1).
   *
   * @default {1.00027, the air of a room}
   */
  refractiveIndex?: number | string;
}

/** Mask of the samples between two checkpoints. */
const stride = 0xffff;

export const boundSpec = {
  wavelength: benchOptions.wavelength,
  feedbackParameter: benchOptions.feedbackParameter,
  linewidthEnhancementFactor: benchOptions.linewidthEnhancementFactor,
  relativeNoise: optionOf.positive(
    "White noise over the amplitude of the fringe (1).",
  ),
  knotSpacing: optionOf.whole(
    "Samples between the knots of the motion's spline (1).",
    { least: 1 },
  ),
  refractiveIndex: benchOptions.refractiveIndex,
} satisfies Record<keyof DisplacementBoundOptions, Option>;

/** The least standard uncertainty that any unbiased estimate can have. */
export interface DisplacementBound {
  /** Bound of each sample, in m. */
  readonly standardUncertainty: Float64Array;
  /** Root mean square over the record, in m. */
  readonly rms: number;
}

/**
 * Cramér–Rao bound of a displacement from the fringes, with C, α and the levels
 * known.
 *
 * The samples are y_i = cos φF(φ0(t_i)) + e_i with independent normal noise of
 * standard deviation σ. The motion is φ0(t) = Σ_k c_k B_k(t) with cubic
 * B-splines B_k on knots h samples apart: without such a limit of its band the
 * samples where sin φF = 0 would say nothing, and no bound would exist. The
 * log-likelihood is -Σ_i (y_i - cos φF(φ0(t_i)))² / 2σ², so that the Fisher
 * information of the coefficients is
 *
 *   J_kl = Σ_i g_i² B_k(t_i) B_l(t_i) / σ²,
 *   g = d cos φF / dφ0 = -sin φF / (1 + C cos(φF + arctan α)),
 *
 * where the second expression follows from the excess-phase equation
 * φ0 = φF + C sin(φF + arctan α). Any unbiased estimate of the coefficients has
 * a covariance of at least J⁻¹ (Cramér 1946, Rao 1945), and of the displacement
 * x = λ φ0/(4πn) at t_i of at least
 *
 *   u²(x_i) ≥ (λ/4πn)² b_iᵀ J⁻¹ b_i,  b_ik = B_k(t_i).
 *
 * With g² averaged over a fringe this is near (λ/4πn)² σ² / (h ⟨g²⟩). For C > 1
 * the times of the jumps say more than this bound knows of, as they follow the
 * phase with no noise; near them g grows without limit, and the sum leaves out
 * samples with 1 + C cos(φF + arctan α) < 0.05.
 *
 * @param feedbackPhase φF of each sample, in rad.
 * @param options Wavelength in m, C, α, noise, knots.
 * @returns The bound of each sample in m, and its root mean square.
 * @throws {RangeError} If the noise or the knot spacing is not positive.
 *
 * @example
 * ```ts
 * import { simulateCapture } from "fringebook";
 * import { displacementBound } from "fringebook/motion";
 * import { expect } from "vitest";
 *
 * const { truth } = simulateCapture({
 *   distance: (time) => 0.1 + 1e-6 * Math.sin(300 * time),
 *   samplingRate: 100e3,
 *   duration: 0.05,
 * });
 * const { rms } = displacementBound(truth.feedbackPhase, {
 *   wavelength: 650e-9,
 *   feedbackParameter: 0.5,
 *   relativeNoise: 0.02,
 *   knotSpacing: 100,
 * });
 * expect(rms).toBeLessThan(1e-9);
 * ```
 */
export function displacementBound(
  feedbackPhase: ArrayLike<number>,
  options: DisplacementBoundOptions,
): DisplacementBound {
  const task = "bound a displacement";
  requireNumbers(feedbackPhase, "feedbackPhase", task);
  const {
    wavelength,
    feedbackParameter,
    linewidthEnhancementFactor,
    relativeNoise,
    knotSpacing,
    refractiveIndex,
  } = readOptions(boundSpec, options, task);
  const n = feedbackPhase.length;
  const size = Math.ceil(n / knotSpacing) + 3;
  const basis = basisTable(knotSpacing);
  const band = new Float64Array(4 * size);
  let trace = 0;
  for (let i = 0; i < n; i++) {
    if ((i & stride) === 0) checkpoint(0.4 * i / n, task);
    const g = excessSlope(
      feedbackPhase[i]!,
      feedbackParameter,
      linewidthEnhancementFactor,
    );
    const k = Math.floor(i / knotSpacing);
    const o = 4 * (i - k * knotSpacing);
    const w = (g / relativeNoise) ** 2;
    trace += w;
    for (let a = 0; a < 4; a++) {
      for (let b = 0; b <= a; b++) {
        band[4 * (k + a) + 3 - (a - b)]! += w * basis[o + a]! * basis[o + b]!;
      }
    }
  }
  for (let k = 0; k < size; k++) band[4 * k + 3]! += 1e-9 * trace / size;
  if (!factorBand(band, size)) {
    throw new RangeError(
      "Cannot bound a displacement as the samples do not determine the motion: put the knots farther apart",
    );
  }
  const inverse = inverseBand(band, size);
  const scale = wavelength / refractiveIndex / (4 * Math.PI);
  const standardUncertainty = new Float64Array(n);
  let squares = 0;
  for (let i = 0; i < n; i++) {
    if ((i & stride) === 0) checkpoint(0.6 + 0.4 * i / n, task);
    const k = Math.floor(i / knotSpacing);
    const o = 4 * (i - k * knotSpacing);
    let variance = 0;
    for (let a = 0; a < 4; a++) {
      for (let b = a; b < 4; b++) {
        variance += (a === b ? 1 : 2) * basis[o + a]! * basis[o + b]! *
          inverse[4 * (k + a) + b - a]!;
      }
    }
    const u = scale * Math.sqrt(variance);
    standardUncertainty[i] = u;
    squares += u * u;
  }
  return { standardUncertainty, rms: Math.sqrt(squares / n) };
}
