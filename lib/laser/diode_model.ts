import {
  requireFields,
  requireNumber,
  requireNumbers,
} from "../options/mod.ts";
import { checkpoint } from "../progress/mod.ts";
/**
 * A laser diode with its monitor photodiode, as the simulated bench knows it.
 * The defaults are those of an invented red diode; no real one is meant.
 */
export interface DiodeModel {
  /** Vacuum wavelength at `referenceCurrent`, in m. @default {650e-9} */
  wavelength: number;
  /** Current at which `wavelength` holds, in A. @default {0.04} */
  referenceCurrent: number;
  /** Tuning coefficient dλ/dI, in m/A. @default {8e-9} */
  tuning: number;
  /** Second derivative of λ by the current, halved, in m/A². @default {0} */
  tuningCurvature: number;
  /**
   * Time constant with which the tuning follows the current (warming), in s; 0
   * for no lag.
   *
   * @default {0}
   */
  thermalTimeConstant: number;
  /** Part of the tuning that lags (1). @default {1} */
  thermalFraction: number;
  /**
   * A mode hop: rising through `current` (A) the wavelength jumps by
   * `wavelengthStep` (m); it jumps back `hysteresis` (A) lower.
   *
   * @default {null}
   */
  modeHop: {
    current: number;
    wavelengthStep: number;
    hysteresis: number;
  } | null;
  /** Threshold current, in A. @default {0.025} */
  thresholdCurrent: number;
  /** Width over which the threshold is rounded, in A. @default {0} */
  thresholdWidth: number;
  /** Slope efficiency above threshold, in W/A. @default {0.3} */
  slopeEfficiency: number;
  /** Spontaneous light per current, in W/A. @default {0.003} */
  spontaneousEfficiency: number;
  /** Monitor current per light power, in A/W. @default {0.011} */
  monitorResponsivity: number;
  /** Linewidth enhancement factor α (1). @default {5} */
  linewidthEnhancementFactor: number;
}

/** The invented red diode: every option of {@linkcode DiodeModel} left out. */
export const defaultDiode: Readonly<DiodeModel> = Object.freeze({
  wavelength: 650e-9,
  referenceCurrent: 0.04,
  tuning: 8e-9,
  tuningCurvature: 0,
  thermalTimeConstant: 0,
  thermalFraction: 1,
  modeHop: null,
  thresholdCurrent: 0.025,
  thresholdWidth: 0,
  slopeEfficiency: 0.3,
  spontaneousEfficiency: 0.003,
  monitorResponsivity: 0.011,
  linewidthEnhancementFactor: 5,
});

/**
 * Light power of the model diode without feedback, in W:
 * P = η (u + sqrt(u² + w²))/2 + η_sp I with u = I - I_th.
 *
 * @param diode The model diode.
 * @param current Drive current, in A.
 * @returns Light power, in W.
 *
 * @example
 * ```ts
 * import { defaultDiode, modelPower } from "fringebook/laser";
 * import { expect } from "vitest";
 *
 * // 15 mA above the threshold of 25 mA, 0.3 W/A, and 3 mW/A of glow.
 * expect(modelPower(defaultDiode, 0.04)).toBeCloseTo(0.3 * 0.015 + 0.003 * 0.04);
 * ```
 */
export function modelPower(diode: DiodeModel, current: number): number {
  const task = "give the power of a diode";
  requireFields(diode, "diode", modelFields, task);
  requireNumber(current, "current", "A", task);
  return powerAt(diode, current);
}

const modelFields = ["thresholdCurrent", "wavelength", "tuning"];

/** {@linkcode modelPower} without looking at its arguments. */
export function powerAt(diode: DiodeModel, current: number): number {
  const above = current - diode.thresholdCurrent;
  const lasing = (above + Math.hypot(above, diode.thresholdWidth)) / 2;
  return diode.slopeEfficiency * lasing +
    diode.spontaneousEfficiency * Math.max(0, current);
}

/**
 * Wavelength of the model diode along a current waveform, in m. The lag starts
 * as if the waveform had been running before.
 *
 * @param diode The model diode.
 * @param current Drive current of each sample, in A.
 * @param samplingRate Samples per second, in Hz.
 * @returns Vacuum wavelength of each sample, in m.
 *
 * @example
 * ```ts
 * import { defaultDiode, modelWavelengths } from "fringebook/laser";
 * import { expect } from "vitest";
 *
 * const [low, high] = modelWavelengths(
 *   defaultDiode,
 *   Float64Array.of(0.040, 0.041),
 *   1e3,
 * );
 * expect(high! - low!).toBeCloseTo(defaultDiode.tuning * 1e-3, 15);
 * ```
 */
export function modelWavelengths(
  diode: DiodeModel,
  current: Float64Array,
  samplingRate: number,
): Float64Array {
  const task = "give the wavelength of a diode";
  requireFields(diode, "diode", modelFields, task);
  requireNumbers(current, "current", task);
  requireNumber(samplingRate, "samplingRate", "Hz", task);
  const { thermalTimeConstant, thermalFraction, modeHop } = diode;
  const wavelength = new Float64Array(current.length);
  const decay = thermalTimeConstant > 0
    ? Math.exp(-1 / (samplingRate * thermalTimeConstant))
    : 0;
  let lagging = 0;
  for (let i = 0; i < current.length; i++) {
    if ((i & 0xffff) === 0) checkpoint(i / current.length, "mean current");
    lagging += current[i]! / current.length;
  }
  for (let i = 0; decay > 0 && i < current.length; i++) {
    if ((i & 0xffff) === 0) checkpoint(i / current.length, "warming up");
    lagging = current[i]! + decay * (lagging - current[i]!);
  }
  let hopped = false;
  for (let i = 0; i < current.length; i++) {
    if ((i & 0xffff) === 0) checkpoint(i / current.length, "wavelength");
    const now = current[i]!;
    lagging = now + decay * (lagging - now);
    const change = now + thermalFraction * (lagging - now) -
      diode.referenceCurrent;
    wavelength[i] = diode.wavelength + diode.tuning * change +
      diode.tuningCurvature * change * change;
    if (modeHop !== null) {
      if (now >= modeHop.current) hopped = true;
      else if (now < modeHop.current - modeHop.hysteresis) hopped = false;
      if (hopped) wavelength[i]! += modeHop.wavelengthStep;
    }
  }
  return wavelength;
}
