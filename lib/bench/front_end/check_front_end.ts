import {
  benchOptions,
  handedOption,
  modelOption,
  type Option,
  optional,
  optionOf,
  readOptions,
} from "../../options/mod.ts";
import {
  createResult,
  inDigits,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../../result/mod.ts";
import {
  amplifierDynamics,
  amplifierOption,
  completeAmplifier,
  couplingCorner,
  feedbackCapacitanceFor,
  totalInputCapacitance,
  type TransimpedanceAmplifier,
} from "./amplifier.ts";
import { type OutputNoise, outputNoise, shotNoiseDensity } from "./noise.ts";
import { type AmplifierResponse, amplifierResponse } from "./response.ts";

/** Relative standard uncertainties of the parts (1). */
export interface PartTolerances {
  /** Feedback resistor. @default {0.006} */
  feedbackResistance: number;
  /** Feedback capacitor. @default {0.06} */
  feedbackCapacitance: number;
  /** Gain-bandwidth product. @default {0.2} */
  gainBandwidth: number;
  /** Photodiode and input capacitance. @default {0.2} */
  totalInputCapacitance: number;
}

const usualTolerances: PartTolerances = {
  feedbackResistance: 0.006,
  feedbackCapacitance: 0.06,
  gainBandwidth: 0.2,
  totalInputCapacitance: 0.2,
};

/** Options of {@linkcode checkFrontEnd}. */
export interface CheckFrontEndOptions {
  /**
   * The amplifier, where it differs from the default.
   *
   * @default {{}}
   */
  amplifier?: Partial<TransimpedanceAmplifier>;
  /**
   * Standing monitor current, in A.
   *
   * @default {50e-6}
   */
  monitorCurrent?: number | string;
  /**
   * Modulation index m of the fringes (1).
   *
   * @default {0.01}
   */
  modulationIndex?: number | string;
  /**
   * Vacuum wavelength, in m.
   *
   * @default {650e-9}
   */
  wavelength?: number | string;
  /**
   * Greatest fringe rate that is to be seen, in Hz; `null` where unknown.
   *
   * @default {null}
   */
  fringeRate?: number | string | null;
  /**
   * The converter behind; `null` for an ideal one.
   *
   * @default {{ bits: 12, low: -10, high: 10 }}
   */
  converter?: { bits: number; low: number; high: number } | null;
  /**
   * Relative standard uncertainties of the parts.
   *
   * @default {{ feedbackResistance: 0.006, feedbackCapacitance: 0.06, gainBandwidth: 0.2, totalInputCapacitance: 0.2 }}
   */
  tolerances?: Partial<PartTolerances>;
}

export const checkSpec = {
  amplifier: optional(
    amplifierOption,
    {} as Partial<TransimpedanceAmplifier>,
    "the usual one",
  ),
  monitorCurrent: optional(
    optionOf.positive("Mean monitor current, in A.", "A", "50uA"),
    50e-6,
  ),
  modulationIndex: optional(
    optionOf.positive("Modulation index of the fringes (1)."),
    0.01,
  ),
  wavelength: optional(benchOptions.wavelength, 650e-9),
  fringeRate: optional(
    optionOf.frequency("Greatest fringe rate, in Hz.", "10kHz"),
    null,
  ),
  converter: optional(
    optional(
      handedOption<{ bits: number; low: number; high: number }>(
        "The converter behind the amplifier; `null` for none.",
        "{ bits, low, high }",
        (value) =>
          typeof value === "object" && value !== null && "bits" in value &&
          "low" in value && "high" in value,
      ),
      null,
    ),
    { bits: 12, low: -10, high: 10 },
    "12 bits from -10 V to 10 V",
  ),
  tolerances: optional(
    modelOption<PartTolerances>(
      "Tolerances of the parts (1).",
      usualTolerances,
    ),
    {} as Partial<PartTolerances>,
    "usual parts",
  ),
} satisfies Record<keyof CheckFrontEndOptions, Option>;

/** Whether an amplifier is fit for the fringes. */
export interface FrontEndCheck extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "bench.frontEnd";
  /** Gain for slow fringes, in V/A. */
  readonly transimpedance: Quantity;
  /** -3 dB frequency, in Hz. */
  readonly bandwidth: Quantity;
  /** Natural frequency of the two poles, in Hz. */
  readonly naturalFrequency: number;
  /** Quality factor of the two poles (1). */
  readonly qualityFactor: number;
  /** Phase margin, in rad. */
  readonly phaseMargin: Quantity;
  /** Rise of the gain before its fall, in dB. */
  readonly peaking: number;
  /** Overshoot of a step, relative (1). */
  readonly overshoot: number;
  /** C_f for the flattest gain, in F. */
  readonly suggestedFeedbackCapacitance: number;
  /** Least gain-bandwidth product for a stable loop with this C_f, in Hz. */
  readonly leastGainBandwidth: number;
  /** Standing voltage before the coupling capacitor, in V. */
  readonly standingVoltage: number;
  /** From there to the end of the swing, in V; negative where it is held. */
  readonly headroom: number;
  /** Greatest standing monitor current that fits, in A. */
  readonly greatestMonitorCurrent: number;
  /** Corner of the coupling capacitor, in Hz; `null` for DC. */
  readonly couplingCorner: number | null;
  /** Amplitude of a fringe at the output, in V. */
  readonly fringeAmplitude: number;
  /** Noise at the output by source, in V (rms). */
  readonly noise: OutputNoise;
  /** Fringe over noise, mean squares, in dB. */
  readonly signalToNoiseRatio: number;
  /** Displacement equivalent to the white noise, in m/√Hz. */
  readonly displacementNoiseDensity: number;
  /** Displacement equivalent to all noise in the band, in m (rms). */
  readonly displacementNoise: number;
  /** Greatest fringe rate whose saw-tooth edges still show, in Hz. */
  readonly greatestFringeRate: number;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** The amplifier with all defaults filled in. */
    readonly amplifier: TransimpedanceAmplifier;
    /** Response over frequency, relative to the middle of the band. */
    readonly response: AmplifierResponse;
  };
}

/** Fringe rate to bandwidth: saw-tooth edges need ten harmonics. */
const edgeFactor = 10;

/**
 * Checks the amplifier behind the monitor photodiode: gain, bandwidth, phase
 * margin, peaking, headroom for the standing current, coupling corner, noise by
 * source, fringe over noise, the C_f for the flattest gain.
 *
 * @param options Amplifier, monitor current, modulation index, converter.
 * @returns The check; warnings say what does not fit and what to change.
 * @throws {RangeError} If a value is negative or not finite.
 *
 * Source: two-pole model (Graeme 1996 (from memory); Hobbs 2001, from memory); shot noise √(2eI), thermal
 * noise √(4kTR); displacement noise (λ/(4πm)) √(2e/I) and its like.
 *
 * @example 1 µA in 100 kΩ is 100 mV
 * ```ts
 * import { checkFrontEnd } from "fringebook";
 * import { expect } from "vitest";
 *
 * const check = checkFrontEnd({ monitorCurrent: 1e-6 });
 * expect(check.standingVoltage).toBeCloseTo(0.1, 9);
 * expect(check.transimpedance.value).toBe(100e3);
 * ```
 */
export function checkFrontEnd(
  options: CheckFrontEndOptions = {},
): FrontEndCheck & Shown {
  const read = readOptions(checkSpec, options, "check a front end");
  const { monitorCurrent, modulationIndex, wavelength, fringeRate, converter } =
    read;
  const tolerances: PartTolerances = {
    ...usualTolerances,
    ...read.tolerances,
  };
  const amplifier = completeAmplifier(read.amplifier);
  const dynamics = amplifierDynamics(amplifier);
  const r = amplifier.feedbackResistance;
  const cf = amplifier.feedbackCapacitance;
  const { rails, railMargin, voltageGain } = amplifier;

  const standing = monitorCurrent * r * (amplifier.inverting ? -1 : 1);
  const swing = amplifier.inverting
    ? -(rails.low + railMargin)
    : rails.high - railMargin;
  const headroom = swing - monitorCurrent * r * (1 + modulationIndex);
  const step = converter === null
    ? 0
    : (converter.high - converter.low) / 2 ** converter.bits;
  const noise = outputNoise(amplifier, monitorCurrent, step);
  const fringeAmplitude = monitorCurrent * modulationIndex * r * voltageGain;
  const signalToNoiseRatio = 20 *
    Math.log10(fringeAmplitude / Math.SQRT2 / noise.total);
  const slope = 4 * Math.PI / wavelength * fringeAmplitude;
  const density = Math.hypot(
    shotNoiseDensity(monitorCurrent) * r,
    Math.sqrt(4 * 1.380649e-23 * amplifier.temperature * r),
    amplifier.currentNoise * r,
    amplifier.voltageNoise,
  ) * voltageGain;
  const corner = couplingCorner(amplifier);

  const vary = (of: (a: TransimpedanceAmplifier) => number) =>
    propagate(amplifier, tolerances, of);
  const gain = r * voltageGain;
  const suggestedFeedbackCapacitance = feedbackCapacitanceFor(amplifier);
  const check = {
    kind: "bench.frontEnd" as const,
    transimpedance: quantity(
      amplifier.inverting ? -gain : gain,
      gain * tolerances.feedbackResistance,
      "V/A",
    ),
    bandwidth: quantity(
      dynamics.bandwidth,
      vary((a) => amplifierDynamics(a).bandwidth),
      "Hz",
    ),
    naturalFrequency: dynamics.naturalFrequency,
    qualityFactor: dynamics.qualityFactor,
    phaseMargin: quantity(
      dynamics.phaseMargin,
      vary((a) => amplifierDynamics(a).phaseMargin),
      "rad",
    ),
    peaking: dynamics.peaking,
    overshoot: dynamics.overshoot,
    suggestedFeedbackCapacitance,
    leastGainBandwidth: (totalInputCapacitance(amplifier) + cf) /
      (2 * Math.PI * r * cf * cf),
    standingVoltage: standing,
    headroom,
    greatestMonitorCurrent: swing / r,
    couplingCorner: corner,
    fringeAmplitude,
    noise,
    signalToNoiseRatio,
    displacementNoiseDensity: density / slope,
    displacementNoise: noise.total / slope,
    greatestFringeRate: dynamics.bandwidth / edgeFactor,
  };
  return createResult<FrontEndCheck>({
    ...check,
    warnings: findWarnings(check, amplifier, converter, fringeRate),
    provenance: provenance({
      method: "checkFrontEnd",
      options: {
        amplifier,
        monitorCurrent,
        modulationIndex,
        wavelength,
        fringeRate,
        converter,
        tolerances,
      },
      sources: [
        "Graeme 1996 (from memory)",
        "Hobbs 2001 (from memory)",
        "Schottky 1918",
        "Nyquist 1928",
      ],
    }),
    diagnostics: {
      amplifier,
      response: amplifierResponse(
        amplifier,
        logarithmic(
          Math.min(1, (corner ?? 10) / 10),
          dynamics.naturalFrequency * 10,
          400,
        ),
      ),
    },
  });
}

type Measured = Omit<FrontEndCheck, "warnings" | "provenance" | "diagnostics">;

function findWarnings(
  check: Measured,
  amplifier: TransimpedanceAmplifier,
  converter: { bits: number; low: number; high: number } | null,
  fringeRate: number | null,
): Warning[] {
  const warnings: Warning[] = [];
  const degrees = check.phaseMargin.value * 180 / Math.PI;
  const suggested = `${
    inDigits(check.suggestedFeedbackCapacitance * 1e12, 2)
  } pF`;
  if (check.headroom < 0) {
    warnings.push(warn(
      "no-headroom",
      `The standing monitor current would put the output at ${
        inDigits(check.standingVoltage, 3)
      } V, beyond its swing: at most ${
        inDigits(check.greatestMonitorCurrent * 1e6, 3)
      } µA fit. Take a smaller feedback resistor, subtract the standing current or run the diode lower`,
    ));
  }
  if (degrees < 45) {
    warnings.push(warn(
      "low-phase-margin",
      `The phase margin is ${inDigits(degrees, 2)}° and the gain peaks by ${
        inDigits(check.peaking, 2)
      } dB: fringes ring. Put ${suggested} across the feedback resistor`,
    ));
  } else if (check.peaking > 1) {
    warnings.push(warn(
      "peaking",
      `The gain peaks by ${inDigits(check.peaking, 2)} dB near ${
        inDigits(check.naturalFrequency, 2)
      } Hz: put ${suggested} across the feedback resistor`,
      "note",
    ));
  }
  if (fringeRate !== null && fringeRate > check.greatestFringeRate) {
    warnings.push(warn(
      "too-slow",
      `Fringes at ${inDigits(fringeRate, 3)} Hz need a bandwidth of ${
        inDigits(edgeFactor * fringeRate, 3)
      } Hz for their edges: it is ${
        inDigits(check.bandwidth.value, 3)
      } Hz. Take a smaller feedback resistor or a faster amplifier`,
    ));
  }
  if (
    fringeRate !== null && check.couplingCorner !== null &&
    fringeRate < check.couplingCorner
  ) {
    warnings.push(warn(
      "coupling",
      `The coupling capacitor cuts off at ${
        inDigits(check.couplingCorner, 3)
      } Hz, above the fringe rate of ${
        inDigits(fringeRate, 3)
      } Hz: the fringes droop. Take a larger capacitor`,
    ));
  }
  if (check.noise.converter > 0.7 * check.noise.total) {
    warnings.push(warn(
      "converter-noise",
      `The converter's steps are the greatest noise, ${
        inDigits(check.noise.converter * 1e6, 3)
      } µV: use a smaller range, or more gain behind a coupling capacitor`,
      "note",
    ));
  }
  if (check.signalToNoiseRatio < 10) {
    warnings.push(warn(
      "noisy",
      `A fringe is only ${
        inDigits(check.signalToNoiseRatio, 2)
      } dB above the noise: look for more returning light or a narrower band`,
    ));
  }
  if (converter !== null && amplifier.coupling === null) {
    const output = check.standingVoltage * amplifier.voltageGain;
    if (output > converter.high || output < converter.low) {
      warnings.push(warn(
        "converter-range",
        `The standing output of ${
          inDigits(output, 3)
        } V lies outside of the converter's range of ${converter.low} to ${converter.high} V: couple through a capacitor`,
      ));
    }
  }
  return warnings;
}

/** Standard uncertainty of a figure by the tolerances of the parts. */
function propagate(
  amplifier: TransimpedanceAmplifier,
  tolerances: PartTolerances,
  of: (amplifier: TransimpedanceAmplifier) => number,
): number {
  const half = 0.005;
  const scaled: ((by: number) => Partial<TransimpedanceAmplifier>)[] = [
    (by) => ({ feedbackResistance: amplifier.feedbackResistance * by }),
    (by) => ({ feedbackCapacitance: amplifier.feedbackCapacitance * by }),
    (by) => ({ gainBandwidth: amplifier.gainBandwidth * by }),
    (by) => ({
      photodiodeCapacitance: amplifier.photodiodeCapacitance * by,
      inputCapacitance: amplifier.inputCapacitance * by,
    }),
  ];
  const relative = [
    tolerances.feedbackResistance,
    tolerances.feedbackCapacitance,
    tolerances.gainBandwidth,
    tolerances.totalInputCapacitance,
  ];
  return Math.hypot(...scaled.map((change, i) => {
    const up = of({ ...amplifier, ...change(1 + half) });
    const down = of({ ...amplifier, ...change(1 - half) });
    return (up - down) / (2 * half) * relative[i]!;
  }));
}

function logarithmic(low: number, high: number, count: number): number[] {
  const ratio = Math.log(high / low) / (count - 1);
  return Array.from({ length: count }, (_, i) => low * Math.exp(ratio * i));
}
