import { type Capture, requireChannel } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
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
import { decideDirections } from "./directions.ts";
import { findExtremes } from "./extremes.ts";
import { cutLegs } from "./legs.ts";
import { signalScale } from "./signal_scale.ts";
import { smooth } from "./smooth.ts";

/** Options of {@linkcode countFringes}. */
export interface CountFringesOptions {
  /** Vacuum wavelength of the diode, in m. */
  wavelength: number;
  /**
   * Standard uncertainty of the wavelength, in m.
   *
   * @default {0}
   */
  wavelengthUncertainty?: number;
  /**
   * Phase index of the air (1).
   *
   * @default {1}
   */
  refractiveIndex?: number;
  /**
   * Sign of the amplifier: 1 where more light gives more signal, -1 where it
   * gives less.
   *
   * @default {1}
   */
  polarity?: 1 | -1;
}

/** Fringes of a moving target. */
export interface FringeCount extends Result {
  readonly kind: "motion.fringes";
  /** Fringes passed both ways together, with the fraction (1). */
  readonly fringeCount: Quantity;
  /**
   * Fringes receding minus approaching, with the fraction (1); positive where
   * the target ends farther away. Uncertainty `NaN` where the direction is not
   * determined.
   */
  readonly netFringeCount: Quantity;
  /** Way passed both ways together, in m: λ/2n per fringe. */
  readonly path: Quantity;
  /** Distance at the end minus that at the start, in m. */
  readonly displacement: Quantity;
  /** Which way the target went. */
  readonly direction: "receding" | "approaching" | "both" | "not determined";
  /** Whether the sense of motion follows from the capture. */
  readonly directionDetermined: boolean;
  /** Time of each fringe, in s from the first sample. */
  readonly times: Float64Array;
  /** Way of each fringe: 1 receding, -1 approaching. */
  readonly signs: Int8Array;
  /** Times of the turning points, in s from the first sample. */
  readonly turningPoints: Float64Array;
  readonly diagnostics: {
    /** Middle level of the fringes, in the unit of the signal. */
    readonly middle: number;
    /** Half of the peak-to-peak value, in the unit of the signal. */
    readonly amplitude: number;
    /** Noise, rms, in the unit of the signal. */
    readonly noise: number;
    /** Samples of one mean of the smoothing (1). */
    readonly smoothing: number;
    /** Mean logarithmic asymmetry of the legs (1). */
    readonly asymmetry: number;
    /** How far it is from 0, in standard uncertainties (1). */
    readonly significance: number;
    /** Sample index of each extreme. */
    readonly extremes: Int32Array;
  };
}

/**
 * Counts the fringes of a moving target: one fringe is half a wavelength,
 * ΔL = λ/2n. Counts with the fraction at both ends, and with the sense of motion
 * where the saw-tooth form of the fringes tells it.
 *
 * @param capture A capture with a monitor signal.
 * @param options Wavelength in m, polarity of the amplifier.
 * @returns Fringes with sign and time, way and displacement in m.
 * @throws {NotMeasurableError} If there is no monitor signal or no fringe.
 * @throws {RangeError} If an option is out of range.
 *
 * Source: Donati, Giuliani, Merlo 1995 (sign from the saw-tooth form).
 *
 * @example A target that recedes by two wavelengths makes four fringes
 * ```ts
 * import { countFringes, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 1.3e-6 * time,
 *   samplingRate: 1000,
 *   duration: 1,
 *   feedbackParameter: 0.7,
 * });
 * const { netFringeCount } = countFringes(capture, { wavelength: 650e-9 });
 * expect(Math.abs(netFringeCount.value - 4)).toBeLessThan(0.2);
 * ```
 */
export function countFringes(
  capture: Capture,
  options: CountFringesOptions,
): FringeCount & Shown {
  const {
    wavelength,
    wavelengthUncertainty = 0,
    refractiveIndex = 1,
    polarity = 1,
  } = options;
  if (!(wavelength > 0 && Number.isFinite(wavelength))) {
    throw new RangeError(
      `Cannot count fringes as 'wavelength' must be a positive number of m: current value is ${wavelength}`,
    );
  }
  const channel = requireChannel(capture, "monitor signal");
  const raw = Float64Array.from(channel.samples, (value) => polarity * value);
  const scale = signalScale(raw);
  const { middle, noise } = scale;
  const rough = findExtremes(
    raw,
    Math.min(1.3, Math.max(0.35, 7 * noise / scale.amplitude)) *
      scale.amplitude,
  );
  if (
    rough.index.length < 2 || !(scale.amplitude > 2 * noise)
  ) {
    throw new NotMeasurableError(
      "no fringes",
      `Cannot count fringes as the monitor signal has none: its peak-to-peak value is ${
        (2 * scale.amplitude).toPrecision(3)
      } ${channel.unit} with a noise of ${
        noise.toPrecision(3)
      } ${channel.unit}. Move the target by more than half a wavelength, or raise the feedback`,
    );
  }
  const fastest = fastestLeg(rough.index);
  const width = 2 * Math.floor(fastest / 12) + 1;
  const smoothed = smooth(raw, width);
  const smoothedNoise = noise / Math.sqrt(1.5 * width);
  const { amplitude } = scale;
  const extremes = findExtremes(
    smoothed,
    Math.max(0.25 * amplitude, Math.min(7 * smoothedNoise, 1.3 * amplitude)),
  );
  const legs = cutLegs(smoothed, extremes, 2 * amplitude);
  const { direction, asymmetry, significance } = decideDirections(
    extremes,
    legs,
    middle,
    amplitude,
    smoothedNoise / amplitude,
  );
  const directionDetermined = significance > 5;
  const warnings: Warning[] = [];
  if (!directionDetermined) {
    warnings.push(warn(
      "direction-not-determined",
      `The fringes are too symmetric to tell the way of the target (asymmetry ${
        asymmetry.toPrecision(2)
      }): raise the feedback, or take the way from the drive`,
    ));
  }

  const angle = (value: number) =>
    Math.acos(Math.max(-1, Math.min(1, (value - middle) / amplitude)));
  const count = legs.count;
  let total = 0;
  let net = 0;
  const add = (k: number, from: number, to: number) => {
    const part = Math.abs(angle(to) - angle(from)) / (2 * Math.PI);
    total += part;
    net += part * direction[k]!;
  };
  const passed = (k: number) =>
    k > 0 && k < count && direction[k - 1] === direction[k];
  const levelAt = (k: number) => {
    const isMaximum = extremes.startsWithMaximum === (k % 2 === 0);
    return passed(k) ? middle + (isMaximum ? amplitude : -amplitude) : extremes
      .value[k]!;
  };
  const times: number[] = [];
  const signs: number[] = [];
  const turningPoints: number[] = [];
  for (let k = 0; k < count; k++) {
    add(k, levelAt(k), levelAt(k + 1));
    if (k > 0 && !passed(k)) turningPoints.push(extremes.index[k]!);
    // One fringe per steep side: falling while receding, rising while approaching.
    if (legs.slope[k]! === -direction[k]! && legs.height[k]! > 0.5) {
      times.push(legs.middle[k]! / capture.samplingRate);
      signs.push(direction[k]!);
    }
  }
  const last = smoothed.length - 1;
  add(0, smoothed[0]!, levelAt(0));
  add(count - 1, levelAt(count), smoothed[last]!);

  // Ends: noise, and the unknown form of the fringe, up to C/2π of a fringe.
  const end = Math.hypot(
    smoothedNoise / amplitude / Math.PI,
    Math.min(0.25, asymmetry / (2 * Math.PI)) / Math.sqrt(3),
    0.01,
  );
  const turns = turningPoints.length;
  const countUncertainty = end * Math.sqrt(2 + 2 * turns);
  const netUncertainty = directionDetermined ? end * Math.SQRT2 : NaN;
  const half = wavelength / 2 / refractiveIndex;
  const relative = wavelengthUncertainty / wavelength;
  const toLength = (value: number, uncertainty: number) =>
    quantity(
      value * half,
      half * Math.hypot(uncertainty, value * relative),
      "m",
    );
  const signed = signs.some((sign) => sign > 0)
    ? signs.some((sign) => sign < 0) ? "both" : "receding"
    : "approaching";
  return createResult({
    kind: "motion.fringes" as const,
    fringeCount: quantity(total, countUncertainty, "1"),
    netFringeCount: quantity(net, netUncertainty, "1"),
    path: toLength(total, countUncertainty),
    displacement: toLength(net, netUncertainty),
    direction: directionDetermined ? signed : "not determined",
    directionDetermined,
    times: Float64Array.from(times),
    signs: Int8Array.from(signs),
    turningPoints: Float64Array.from(
      turningPoints,
      (i) => i / capture.samplingRate,
    ),
    warnings,
    provenance: provenance({
      method: "countFringes",
      captures: [capture.source],
      options: { wavelength, wavelengthUncertainty, refractiveIndex, polarity },
      sources: ["Donati, Giuliani, Merlo 1995, IEEE J. Quantum Electron. 31"],
    }),
    diagnostics: {
      middle,
      amplitude,
      noise,
      smoothing: width,
      asymmetry,
      significance,
      extremes: extremes.index,
    },
  });
}

/** Shortest time between extremes two legs apart, halved; in samples. */
function fastestLeg(index: Int32Array): number {
  const spans: number[] = [];
  for (let k = 2; k < index.length; k++) {
    spans.push((index[k]! - index[k - 2]!) / 2);
  }
  if (spans.length === 0) return index[1]! - index[0]!;
  spans.sort((a, b) => a - b);
  return spans[Math.floor(spans.length * 0.02)]!;
}
