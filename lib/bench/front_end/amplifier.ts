import type { FrontEndModel } from "../../laser/mod.ts";
import {
  modelOption,
  optional,
  optionOf,
  readOptions,
} from "../../options/mod.ts";

/** A transimpedance amplifier behind the monitor photodiode. */
export interface TransimpedanceAmplifier {
  /** Feedback resistor R_f, in Ω. @default {100e3} */
  feedbackResistance: number;
  /** Capacitor across it C_f, in F. @default {2.2e-12} */
  feedbackCapacitance: number;
  /** Gain-bandwidth product of the amplifier, in Hz. @default {10e6} */
  gainBandwidth: number;
  /** Capacitance of the photodiode, in F. @default {20e-12} */
  photodiodeCapacitance: number;
  /** Input capacitance of the amplifier and the wiring, in F. @default {8e-12} */
  inputCapacitance: number;
  /** Voltage noise of the amplifier, in V/√Hz. @default {10e-9} */
  voltageNoise: number;
  /** Current noise of the amplifier, in A/√Hz. @default {10e-15} */
  currentNoise: number;
  /** Supply rails, in V. @default {{ low: -9, high: 9 }} */
  rails: { low: number; high: number };
  /** How near to a rail the output can go, in V. @default {1.5} */
  railMargin: number;
  /** Whether more light gives less voltage. @default {false} */
  inverting: boolean;
  /**
   * Coupling capacitor and the resistor behind it, in F and Ω; `null` for DC.
   *
   * @default {null}
   */
  coupling: { capacitance: number; resistance: number } | null;
  /** Gain of the stage after the coupling capacitor (1). @default {1} */
  voltageGain: number;
  /** Temperature of the resistor, in K. @default {295} */
  temperature: number;
}

/** Every option of {@linkcode TransimpedanceAmplifier} left out. */
export const defaultAmplifier: Readonly<TransimpedanceAmplifier> = Object
  .freeze({
    feedbackResistance: 100e3,
    feedbackCapacitance: 2.2e-12,
    gainBandwidth: 10e6,
    photodiodeCapacitance: 20e-12,
    inputCapacitance: 8e-12,
    voltageNoise: 10e-9,
    currentNoise: 10e-15,
    rails: { low: -9, high: 9 },
    railMargin: 1.5,
    inverting: false,
    coupling: null,
    voltageGain: 1,
    temperature: 295,
  });

/** An amplifier of which some parts are given. */
export const amplifierOption = modelOption("The amplifier.", defaultAmplifier);

/** Fills in defaults and refuses what no amplifier has. */
export function completeAmplifier(
  amplifier: Partial<TransimpedanceAmplifier>,
): TransimpedanceAmplifier {
  const complete = {
    ...defaultAmplifier,
    ...amplifierOption.read(amplifier, "amplifier", "work out the amplifier"),
  };
  const positive = [
    "feedbackResistance",
    "gainBandwidth",
    "voltageGain",
    "temperature",
  ] as const;
  const notNegative = [
    "feedbackCapacitance",
    "photodiodeCapacitance",
    "inputCapacitance",
    "voltageNoise",
    "currentNoise",
    "railMargin",
  ] as const;
  for (const name of positive) {
    const value = complete[name];
    if (!(value > 0 && Number.isFinite(value))) throw refuse(name, value, "");
  }
  for (const name of notNegative) {
    const value = complete[name];
    if (!(value >= 0 && Number.isFinite(value))) {
      throw refuse(name, value, "0 or ");
    }
  }
  const { low, high } = complete.rails;
  if (!(high > low)) throw refuse("rails", high - low, "");
  if (complete.coupling !== null) {
    const { capacitance, resistance } = complete.coupling;
    if (!(capacitance > 0)) throw refuse("capacitance", capacitance, "");
    if (!(resistance > 0)) throw refuse("resistance", resistance, "");
  }
  return complete;
}

function refuse(name: string, value: number, or: string): RangeError {
  return new RangeError(
    `Cannot work out the amplifier as '${name}' must be ${or}a positive number in SI units: current value is ${value}`,
  );
}

/** How a transimpedance amplifier behaves: two poles. */
export interface AmplifierDynamics {
  /** Natural frequency f0 of the two poles, in Hz. */
  readonly naturalFrequency: number;
  /** Quality factor Q of the two poles (1). */
  readonly qualityFactor: number;
  /** -3 dB frequency, in Hz. */
  readonly bandwidth: number;
  /** Phase margin of the loop, in rad. */
  readonly phaseMargin: number;
  /** Rise of the gain above its low-frequency value, in dB; 0 for Q ≤ 0.707. */
  readonly peaking: number;
  /** Overshoot of a step, relative (1); 0 for Q ≤ 0.5. */
  readonly overshoot: number;
}

/** Total capacitance at the amplifier's input, without C_f, in F. */
export function totalInputCapacitance(
  amplifier: TransimpedanceAmplifier,
): number {
  return amplifier.photodiodeCapacitance + amplifier.inputCapacitance;
}

/**
 * Works out the closed loop of a transimpedance amplifier with open-loop gain
 * GBW/(i f): Z = R_f / (1 + s (R_f C_f + 1/ω_g) + s² R_f (C_T + C_f)/ω_g) with
 * ω_g = 2π GBW.
 *
 * @param amplifier What differs from the default amplifier.
 * @returns Poles, bandwidth, phase margin, peaking, overshoot.
 * @throws {RangeError} If a value is negative or not finite.
 *
 * Source: Graeme 1996 (from memory); Hobbs 2001 (from memory) (the two-pole model follows from the circuit).
 *
 * @example
 * ```ts
 * import { amplifierDynamics } from "fringebook/bench";
 * import { expect } from "vitest";
 *
 * const { bandwidth, phaseMargin } = amplifierDynamics({
 *   feedbackResistance: 100e3,
 *   feedbackCapacitance: 1.1e-12,
 *   gainBandwidth: 50e6,
 *   photodiodeCapacitance: 20e-12,
 *   inputCapacitance: 0,
 * });
 * expect(bandwidth / 1e6).toBeCloseTo(1.988, 3);
 * expect(phaseMargin * 180 / Math.PI).toBeCloseTo(65.05, 2);
 * ```
 */
export function amplifierDynamics(
  amplifier: Partial<TransimpedanceAmplifier> = {},
): AmplifierDynamics {
  const complete = completeAmplifier(amplifier);
  const { feedbackResistance: r, feedbackCapacitance: cf } = complete;
  const unity = 2 * Math.PI * complete.gainBandwidth;
  const zero = r * (totalInputCapacitance(complete) + cf);
  const pole = r * cf;
  const natural = Math.sqrt(unity / zero);
  const quality = 1 / (natural * (pole + 1 / unity));
  const x = 1 - 1 / (2 * quality * quality);
  const damping = 1 / (2 * quality);
  return {
    naturalFrequency: natural / (2 * Math.PI),
    qualityFactor: quality,
    bandwidth: natural / (2 * Math.PI) *
      Math.sqrt(x + Math.sqrt(x * x + 1)),
    phaseMargin: phaseMargin(unity, zero, pole),
    peaking: quality > Math.SQRT1_2
      ? 20 * Math.log10(quality / Math.sqrt(1 - damping * damping))
      : 0,
    overshoot: damping < 1
      ? Math.exp(-Math.PI * damping / Math.sqrt(1 - damping * damping))
      : 0,
  };
}

/** Where the loop gain ω_g/ω · |1 + iω pole|/|1 + iω zero| is 1. */
function phaseMargin(unity: number, zero: number, pole: number): number {
  // |T| = 1: zero² ω⁴ + (1 - ω_g² pole²) ω² - ω_g² = 0.
  const b = 1 - (unity * pole) ** 2;
  const root = Math.sqrt(b * b + 4 * (zero * unity) ** 2);
  const squared = (root - b) / (2 * zero * zero);
  const crossover = Math.sqrt(squared);
  return Math.PI / 2 - Math.atan(crossover * zero) +
    Math.atan(crossover * pole);
}

/**
 * The feedback capacitor that gives a wanted quality factor; 0.707 (Butterworth,
 * the flattest gain) where left out. Near C_f = sqrt(C_T/(π R_f GBW)).
 *
 * @param amplifier What differs from the default amplifier; its C_f is not used.
 * @param options Wanted quality factor (1).
 * @returns C_f in F; 0 where the amplifier is already flatter without one.
 * @throws {RangeError} If a value is negative or not finite.
 *
 * @example
 * ```ts
 * import { feedbackCapacitanceFor } from "fringebook/bench";
 * import { expect } from "vitest";
 *
 * const capacitance = feedbackCapacitanceFor({
 *   feedbackResistance: 100e3,
 *   gainBandwidth: 50e6,
 *   photodiodeCapacitance: 20e-12,
 *   inputCapacitance: 0,
 * });
 * expect(capacitance * 1e12).toBeCloseTo(1.13, 2);
 * ```
 */
export function feedbackCapacitanceFor(
  amplifier: Partial<TransimpedanceAmplifier> = {},
  options: { qualityFactor?: number } = {},
): number {
  const { qualityFactor } = readOptions(
    {
      qualityFactor: optional(
        optionOf.positive("Quality factor that is wanted (1)."),
        Math.SQRT1_2,
      ),
    },
    options,
    "choose a feedback capacitance",
  );
  const complete = completeAmplifier(amplifier);
  const r = complete.feedbackResistance;
  const unity = 2 * Math.PI * complete.gainBandwidth;
  // (R C + 1/ω_g)² = R (C_T + C)/(ω_g Q²), a quadratic in C.
  const a = r * r;
  const b = 2 * r / unity - r / (unity * qualityFactor ** 2);
  const c = 1 / unity ** 2 -
    r * totalInputCapacitance(complete) / (unity * qualityFactor ** 2);
  const root = b * b - 4 * a * c;
  if (root < 0) return 0;
  return Math.max(0, (-b + Math.sqrt(root)) / (2 * a));
}

/** Corner frequency of the coupling capacitor, in Hz; `null` for DC. */
export function couplingCorner(
  amplifier: TransimpedanceAmplifier,
): number | null {
  if (amplifier.coupling === null) return null;
  const { capacitance, resistance } = amplifier.coupling;
  return 1 / (2 * Math.PI * resistance * capacitance);
}

/**
 * The amplifier in the form that {@linkcode simulateCapture} takes.
 *
 * @param amplifier What differs from the default amplifier.
 * @returns Gain, two poles, coupling corner, rails.
 * @throws {RangeError} If a value is negative or not finite.
 *
 * @example
 * ```ts
 * import { simulateCapture } from "fringebook";
 * import { amplifierModel } from "fringebook/bench";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: 0.1,
 *   samplingRate: 1e6,
 *   duration: 1e-3,
 *   frontEnd: amplifierModel({ feedbackResistance: 10e3 }),
 * });
 * expect(capture.channels[0]!.samples[0]!).toBeCloseTo(0.5, 1);
 * ```
 */
export function amplifierModel(
  amplifier: Partial<TransimpedanceAmplifier> = {},
): FrontEndModel {
  const complete = completeAmplifier(amplifier);
  const { naturalFrequency, qualityFactor } = amplifierDynamics(complete);
  const { rails, railMargin } = complete;
  return {
    transimpedance: complete.feedbackResistance,
    inverting: complete.inverting,
    bandwidth: naturalFrequency,
    qualityFactor,
    couplingCorner: couplingCorner(complete),
    voltageGain: complete.voltageGain,
    offset: 0,
    rails: { low: rails.low + railMargin, high: rails.high - railMargin },
  };
}
