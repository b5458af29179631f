import {
  inputsOf,
  type Option,
  optional,
  optionOf,
  pickOptions,
  readOptions,
  requireNumber,
} from "../options/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import {
  dopplerFrequency,
  type DopplerGeometry,
  geometrySpec,
} from "./doppler.ts";

/** Options of {@linkcode planSpeed}. */
export interface PlanSpeedOptions extends DopplerGeometry {
  /**
   * Relative width of the line (full width at half maximum over frequency) that
   * the surface is expected to give (1); 0 for a mirror.
   *
   * @default {0.05}
   */
  relativeLineWidth?: number | string;
  /**
   * Relative standard uncertainty of the frequency that is wanted (1).
   *
   * @default {1e-3}
   */
  relativeStandardUncertainty?: number | string;
  /**
   * Samples and bandwidth per Doppler frequency (1): 10 keeps the edges of the
   * saw-tooth and with them the direction (common practice, no source).
   *
   * @default {10}
   */
  oversampling?: number;
}

export const planSpec = {
  ...geometrySpec,
  relativeLineWidth: optional(
    optionOf.relative(
      "Relative width of the line that the surface is expected to give (1).",
    ),
    0.05,
  ),
  relativeStandardUncertainty: optional(
    optionOf.positive(
      "Relative standard uncertainty of the frequency that is wanted (1).",
    ),
    1e-3,
  ),
  oversampling: optional(
    optionOf.positive("Samples and bandwidth per Doppler frequency (1)."),
    10,
  ),
} satisfies Record<keyof PlanSpeedOptions, Option>;

/** What a speed needs of sampling rate, amplifier and record. */
export interface SpeedPlan extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "speed.plan";
  /** Doppler frequency of the speed, in Hz. */
  readonly dopplerFrequency: Quantity;
  /** Sampling rate that keeps the fringes' form, in Hz. */
  readonly samplingRate: Quantity;
  /** Sampling rate below which the line folds, in Hz. */
  readonly leastSamplingRate: Quantity;
  /** −3 dB bandwidth of the amplifier, in Hz. */
  readonly amplifierBandwidth: Quantity;
  /** Length of the record, in s. */
  readonly duration: Quantity;
  /** Samples of the record (1). */
  readonly sampleCount: number;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Full width at half maximum assumed for the line, in Hz. */
    readonly lineWidth: number;
  };
}

/**
 * u(f) √(T w) / w of a Gaussian line whose top is 10 dB above the background:
 * (√(8 ln 2) J)^(−1/2), J = ∫ (x S / (1 + S))² dx, S = 10 exp(−x²/2).
 */
const averagingFactor = 0.32;

/**
 * The reverse plan: which sampling rate, amplifier bandwidth and record length a
 * speed needs. The record follows from the line: a width w is averaged over T w
 * independent parts, so u(f) ≈ 0.32 w / √(T w) for a Gaussian line 10 dB above
 * the background (Fisher information of a Gaussian process, Whittle 1953, from memory), and at least 20 periods are needed.
 *
 * @param speed Highest speed to be measured, in m/s.
 * @param options Wavelength in m, angle in rad, line width and goal.
 * @returns Sampling rate, bandwidth and record length.
 * @throws {RangeError} If the speed gives no Doppler shift or a number is out of
 * range.
 *
 * @example
 * ```ts
 * import { planSpeed } from "fringebook";
 * import { expect } from "vitest";
 *
 * const plan = planSpeed(0.1, { wavelength: 650e-9, angle: Math.PI / 3 });
 * // 2 × 1.00027 × 0.1 m/s × cos 60° / 650 nm = 153.9 kHz
 * expect(plan.dopplerFrequency.value).toBeCloseTo(153_888, 0);
 * ```
 */
export function planSpeed(
  speed: number,
  options: PlanSpeedOptions,
): SpeedPlan & Shown {
  const task = "plan a speed";
  requireNumber(speed, "speed", "m/s", task);
  const read = readOptions(planSpec, options, task);
  const {
    angle,
    relativeLineWidth,
    relativeStandardUncertainty,
    oversampling,
  } = read;
  const frequency = Math.abs(
    dopplerFrequency(speed, pickOptions(geometrySpec, read)),
  );
  if (!(frequency > 0)) {
    throw new RangeError(
      `Cannot plan as a speed of ${speed} m/s at ${angle} rad gives no Doppler shift: tilt the beam toward the motion`,
    );
  }
  if (!(relativeLineWidth >= 0 && relativeLineWidth < 1)) {
    throw new RangeError(
      `Cannot plan as 'relativeLineWidth' must be at least 0 and below 1: current value is ${relativeLineWidth}`,
    );
  }
  if (!(relativeStandardUncertainty > 0 && oversampling >= 2)) {
    throw new RangeError(
      `Cannot plan as 'relativeStandardUncertainty' must be positive and 'oversampling' at least 2: current values are ${relativeStandardUncertainty} and ${oversampling}`,
    );
  }
  const lineWidth = relativeLineWidth * frequency;
  const averaged = lineWidth === 0
    ? 0
    : (averagingFactor * relativeLineWidth / relativeStandardUncertainty) ** 2 /
      lineWidth;
  const duration = Math.max(
    20 / frequency,
    lineWidth === 0 ? 0 : 20 / lineWidth,
    averaged,
  );
  const warnings: Warning[] = [];
  if (Math.abs(Math.cos(angle)) < 0.05) {
    warnings.push(warn(
      "steep-angle",
      "The beam is within 3° of a right angle to the motion, where the speed hangs on the angle: tilt it or calibrate against a known speed",
    ));
  }
  const exact = (value: number, unit: string) => quantity(value, NaN, unit);
  return createResult<SpeedPlan>({
    kind: "speed.plan",
    dopplerFrequency: exact(frequency, "Hz"),
    samplingRate: exact(oversampling * frequency, "Hz"),
    leastSamplingRate: exact(2 * (frequency + 2 * lineWidth), "Hz"),
    amplifierBandwidth: exact(oversampling / 2 * frequency, "Hz"),
    duration: exact(duration, "s"),
    sampleCount: Math.ceil(oversampling * frequency * duration),
    warnings,
    provenance: provenance({
      method: "planSpeed",
      options: {
        speed,
        ...read,
      },
      inputs: inputsOf(planSpec, options, read, [
        "wavelength",
        "angle",
        "refractiveIndex",
      ]),
      sources: ["Shinohara et al. 1986, Appl. Opt. 25, 1417"],
    }),
    diagnostics: { lineWidth },
  });
}
