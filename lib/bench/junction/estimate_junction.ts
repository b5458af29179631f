import {
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

/** Options of {@linkcode estimateJunctionSignal}. */
export interface EstimateJunctionSignalOptions {
  /** Operating current of the diode, in A. */
  operatingCurrent: number | string;
  /** Threshold current of the diode, in A. */
  thresholdCurrent: number | string;
  /**
   * Amplitude of the fringes of the light over its mean (1).
   *
   * @default {0.003}
   */
  modulationIndex?: number | string;
  /**
   * Part of the carriers at threshold that is above transparency (1).
   *
   * @default {0.5}
   */
  gainPart?: number | string;
  /**
   * Temperature of the junction, in °C.
   *
   * @default {25}
   */
  temperature?: number | string;
  /**
   * Differential resistance of the diode above threshold, in Ω.
   *
   * @default {5}
   */
  differentialResistance?: number | string;
  /**
   * Resistance of what drives the diode, seen from it, in Ω: large for a current
   * source, near 0 for a constant voltage.
   *
   * @default {1000}
   */
  sourceResistance?: number | string;
  /**
   * Noise of the amplifier at the junction, in V/√Hz.
   *
   * @default {5e-9}
   */
  voltageNoise?: number | string;
  /**
   * Bandwidth in which the signal is looked at, in Hz.
   *
   * @default {100e3}
   */
  bandwidth?: number | string;
  /**
   * Mean monitor current of the photodiode beside, in A.
   *
   * @default {100e-6}
   */
  monitorCurrent?: number | string;
  /**
   * Feedback resistance of the photodiode's amplifier, in Ω.
   *
   * @default {100e3}
   */
  feedbackResistance?: number | string;
}

export const estimateJunctionSignalSpec = {
  operatingCurrent: optionOf.current("Operating current of the diode, in A."),
  thresholdCurrent: optionOf.current("Threshold current of the diode, in A."),
  modulationIndex: optional(
    optionOf.between(
      "Amplitude of the fringes of the light over its mean (1).",
      1e-7,
      1,
      "1",
      "0.3%",
    ),
    0.003,
  ),
  gainPart: optional(
    optionOf.between(
      "Part of the carriers at threshold that is above transparency (1).",
      0.05,
      1,
      "1",
      "0.5",
    ),
    0.5,
  ),
  temperature: optional(
    optionOf.between(
      "Temperature of the junction, in °C.",
      -60,
      150,
      "°C",
      "25°C",
    ),
    25,
  ),
  differentialResistance: optional(
    optionOf.positive(
      "Differential resistance of the diode above threshold, in Ω.",
      "Ω",
      "5Ω",
    ),
    5,
  ),
  sourceResistance: optional(
    optionOf.notNegative(
      "Resistance of what drives the diode, seen from it, in Ω.",
      "Ω",
      "1kΩ",
    ),
    1000,
  ),
  voltageNoise: optional(
    optionOf.positive(
      "Noise of the amplifier at the junction, in V/√Hz.",
      "V/√Hz",
      "5nV/√Hz",
    ),
    5e-9,
  ),
  bandwidth: optional(
    optionOf.frequency(
      "Bandwidth in which the signal is looked at, in Hz.",
      "100kHz",
    ),
    100e3,
  ),
  monitorCurrent: optional(
    optionOf.between(
      "Mean monitor current of the photodiode beside, in A.",
      1e-9,
      1,
      "A",
      "100uA",
    ),
    100e-6,
  ),
  feedbackResistance: optional(
    optionOf.positive(
      "Feedback resistance of the photodiode's amplifier, in Ω.",
      "Ω",
      "100kΩ",
    ),
    100e3,
  ),
} satisfies Record<keyof EstimateJunctionSignalOptions, Option>;

/** What the junction voltage shows of the fringes, beside the photodiode. */
export interface JunctionSignal extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "bench.junction";
  /**
   * Amplitude of the fringes of the junction voltage, in V: good to a factor of
   * three. The voltage falls where the light grows.
   */
  readonly amplitude: Quantity;
  /** Part of it that the drive leaves at the diode's terminals (1). */
  readonly loading: number;
  /** Noise of the junction voltage in the bandwidth, rms, in V. */
  readonly noise: number;
  /** Signal-to-noise ratio of the junction voltage, in dB. */
  readonly signalToNoise: number;
  /** Amplitude of the fringes of the monitor current, in A. */
  readonly monitorAmplitude: number;
  /** Noise of the monitor current in the bandwidth, rms, in A. */
  readonly monitorNoise: number;
  /** Signal-to-noise ratio of the photodiode, in dB. */
  readonly monitorSignalToNoise: number;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Change of the losses that the feedback makes (1). */
    readonly lossChange: number;
    /** Noise of the junction by source, rms, in V. */
    readonly noiseParts: readonly {
      readonly source: string;
      readonly value: number;
    }[];
  };
}

const boltzmann = 1.380649e-23;
const charge = 1.602176634e-19;

/**
 * Estimates the fringes of the diode's own junction voltage, for a diode without a
 * monitor photodiode. Feedback lowers the losses by a part y; the carriers follow,
 * ΔN/N = -g y with the part g of the carriers above transparency, and the junction
 * voltage is 2 kT/e ln N: amplitude = (2 kT/e) g y. The light changes by
 * m = y (1 + g I_th/(I - I_th)), so that
 *
 * amplitude = (2 kT/e) g m (I - I_th)/(I - I_th + g I_th).
 *
 * The voltage falls where the light grows. A drive of low resistance takes it away:
 * loading R_s/(R_s + R_d). The noise is that of the amplifier and of the
 * differential resistance; that of the drive current comes on top, and is mostly
 * larger on a simple bench.
 *
 * @param options Currents in A, modulation index, resistances in Ω, bandwidth.
 * @returns Amplitude, noise and signal-to-noise ratio, beside the photodiode's.
 * @throws {RangeError} If the operating current is not above the threshold.
 *
 * Source: rate equations of Lang and Kobayashi 1980 in their steady state, worked
 * out here; use of the junction voltage, Lim et al. 2006 (from memory).
 *
 * @example
 * ```ts
 * import { estimateJunctionSignal } from "fringebook/bench";
 * import { expect } from "vitest";
 *
 * const { amplitude } = estimateJunctionSignal({
 *   operatingCurrent: "40mA",
 *   thresholdCurrent: "24mA",
 *   modulationIndex: 0.01,
 * });
 * // Some tenth of a millivolt for 1 % of the light.
 * expect(amplitude.value).toBeGreaterThan(0.5e-4);
 * expect(amplitude.value).toBeLessThan(2e-4);
 * ```
 */
export function estimateJunctionSignal(
  options: EstimateJunctionSignalOptions,
): JunctionSignal & Shown {
  const task = "estimate the junction signal";
  const read = readOptions(estimateJunctionSignalSpec, options, task);
  const above = read.operatingCurrent - read.thresholdCurrent;
  if (!(above > 0 && read.thresholdCurrent > 0)) {
    throw new RangeError(
      `Cannot ${task} as the diode must run above its threshold: the currents are ${
        1e3 * read.operatingCurrent
      } and ${1e3 * read.thresholdCurrent} mA`,
    );
  }
  const kelvin = read.temperature + 273.15;
  const { gainPart: g, modulationIndex: m, bandwidth } = read;
  const lossChange = m * above / (above + g * read.thresholdCurrent);
  const whole = 2 * boltzmann * kelvin / charge * g * lossChange;
  const { sourceResistance, differentialResistance } = read;
  const loading = sourceResistance /
    (sourceResistance + differentialResistance);
  const amplitude = whole * loading;
  const parallel = loading * differentialResistance;
  const noiseParts = [
    {
      source: "amplifier",
      value: read.voltageNoise * Math.sqrt(bandwidth),
    },
    {
      source: "resistance of the junction",
      value: Math.sqrt(4 * boltzmann * kelvin * parallel * bandwidth),
    },
  ];
  const noise = Math.hypot(...noiseParts.map(({ value }) => value));
  const monitorAmplitude = m * read.monitorCurrent;
  const monitorNoise = Math.sqrt(
    bandwidth *
      (2 * charge * read.monitorCurrent +
        4 * boltzmann * kelvin / read.feedbackResistance),
  );
  const inDecibels = (peak: number, rms: number) =>
    20 * Math.log10(peak / Math.SQRT2 / rms);
  const signalToNoise = inDecibels(amplitude, noise);
  const warnings: Warning[] = [];
  if (loading < 0.5) {
    warnings.push(warn(
      "loaded",
      `The drive of ${inDigits(sourceResistance, 2)} Ω takes ${
        Math.round(100 * (1 - loading))
      } % of the junction voltage away: put a resistor of 100 Ω and more between drive and diode, or drive it by a current`,
    ));
  }
  if (signalToNoise < 10) {
    warnings.push(warn(
      "junction-weak",
      `The fringes of the junction voltage stand ${
        signalToNoise.toFixed(0)
      } dB above the noise: look at less bandwidth, or bring more light back`,
    ));
  }
  return createResult<JunctionSignal>({
    kind: "bench.junction",
    amplitude: quantity(amplitude, amplitude, "V"),
    loading,
    noise,
    signalToNoise,
    monitorAmplitude,
    monitorNoise,
    monitorSignalToNoise: inDecibels(monitorAmplitude, monitorNoise),
    warnings,
    provenance: provenance({
      method: "estimateJunctionSignal",
      options: { ...read },
      sources: [
        "Lang and Kobayashi 1980 (rate equations)",
        "Lim et al. 2006 (from memory)",
      ],
    }),
    diagnostics: { lossChange, noiseParts },
  });
}
