import { requireNumber } from "../../options/mod.ts";
import {
  amplifierDynamics,
  totalInputCapacitance,
  type TransimpedanceAmplifier,
} from "./amplifier.ts";

/** Elementary charge, in C, and Boltzmann constant, in J/K (exact, SI 2019). */
export const elementaryCharge = 1.602176634e-19;
export const boltzmannConstant = 1.380649e-23;

/**
 * Density of the shot noise of a current, √(2eI).
 *
 * Source: Schottky 1918.
 *
 * @param current Current I, in A.
 * @returns Density, in A/√Hz.
 *
 * @example
 * ```ts
 * import { shotNoiseDensity } from "fringebook/bench";
 * import { expect } from "vitest";
 *
 * // 50 µA: 4.0 pA/√Hz
 * expect(shotNoiseDensity(50e-6) * 1e12).toBeCloseTo(4.00, 2);
 * ```
 */
export function shotNoiseDensity(current: number): number {
  requireNumber(current, "current", "A", "give a shot noise");
  return Math.sqrt(2 * elementaryCharge * Math.abs(current));
}

/**
 * Density of the thermal noise voltage of a resistor √(4kTR), in V/√Hz.
 *
 * @param resistance In Ω, not negative.
 * @param temperature In K, not negative.
 * @returns Density, in V/√Hz.
 *
 * @example
 * ```ts
 * import { thermalNoiseDensity } from "fringebook/bench";
 * import { expect } from "vitest";
 *
 * // 100 kΩ at 300 K: 40.7 nV/√Hz
 * expect(thermalNoiseDensity(100e3, 300) * 1e9).toBeCloseTo(40.70, 2);
 * ```
 */
export function thermalNoiseDensity(
  resistance: number,
  temperature: number,
): number {
  const task = "give a thermal noise";
  requireNumber(resistance, "resistance", "Ω", task);
  requireNumber(temperature, "temperature", "K", task);
  return Math.sqrt(4 * boltzmannConstant * temperature * resistance);
}

/** Noise at the output, by source, each in V (rms). */
export interface OutputNoise {
  /** Shot noise of the monitor current. */
  readonly shot: number;
  /** Thermal noise of the feedback resistor. */
  readonly resistor: number;
  /** Voltage noise of the amplifier, raised by the input capacitance. */
  readonly amplifierVoltage: number;
  /** Current noise of the amplifier. */
  readonly amplifierCurrent: number;
  /** Step of the converter over √12. */
  readonly converter: number;
  /** Root of the sum of squares. */
  readonly total: number;
}

/**
 * Noise at the output over the whole bandwidth of the amplifier. The noise
 * bandwidth of two poles is (π/2) f0 Q, and as much again, times
 * (f0/f_z)², for the voltage noise, whose gain rises from
 * f_z = 1/(2πR_f(C_T + C_f)) on.
 */
export function outputNoise(
  amplifier: TransimpedanceAmplifier,
  monitorCurrent: number,
  converterStep: number,
): OutputNoise {
  const { naturalFrequency, qualityFactor } = amplifierDynamics(amplifier);
  const r = amplifier.feedbackResistance;
  const width = Math.sqrt(Math.PI / 2 * naturalFrequency * qualityFactor);
  const rise = 2 * Math.PI * naturalFrequency * r *
    (totalInputCapacitance(amplifier) + amplifier.feedbackCapacitance);
  const gain = amplifier.voltageGain;
  const shot = gain * shotNoiseDensity(monitorCurrent) * r * width;
  const resistor = gain * thermalNoiseDensity(r, amplifier.temperature) * width;
  const amplifierVoltage = gain * amplifier.voltageNoise * width *
    Math.hypot(1, rise);
  const amplifierCurrent = gain * amplifier.currentNoise * r * width;
  const converter = converterStep / Math.sqrt(12);
  return {
    shot,
    resistor,
    amplifierVoltage,
    amplifierCurrent,
    converter,
    total: Math.hypot(
      shot,
      resistor,
      amplifierVoltage,
      amplifierCurrent,
      converter,
    ),
  };
}
