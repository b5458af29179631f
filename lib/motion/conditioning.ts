import {
  type Capture,
  findChannel,
  requireChannel,
  type Samples,
} from "../capture/mod.ts";
import { copyOf } from "../memory/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import {
  benchOptions,
  flagOption,
  type Option,
  optional,
  readOptions,
  requireCapture,
} from "../options/mod.ts";
import {
  createResult,
  provenance,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import { removeHum, undoCoupling } from "../signal/mod.ts";
import { type Background, backgroundOf } from "./background.ts";
import { flattenFades } from "./fades.ts";
import { fillGaps } from "./gaps.ts";
import { longestJointRecord } from "./phase_stream.ts";
import { signalScale } from "./signal_scale.ts";

const task = "condition a signal";
/** Mask of the samples between two checkpoints. */
const stride = 0x1ffff;

/** Options of {@linkcode conditionSignal}. */
export interface ConditioningOptions {
  /**
   * Corner of a coupling capacitor in front of the recorder, in Hz: its
   * first-order high-pass is undone before anything else. `null` for a recording
   * that is coupled with DC.
   *
   * @default {null}
   */
  couplingCorner?: number | string | null;
  /**
   * Takes off the part of the signal that follows the drive current (power
   * modulation), by a least-squares line and parabola.
   *
   * @default {true}
   */
  removePowerModulation?: boolean;
  /**
   * Mains frequency, in Hz, whose hum is taken off: in a record of up to 131 072
   * samples as the middles of whole fringes show it, in a longer one by a filter.
   * `null` looks for 50 Hz and 60 Hz in the middles, and filters nothing.
   *
   * @default {null}
   */
  mainsFrequency?: number | string | null;
  /**
   * Evens out the height of the fringes where it changes by more than a third
   * (speckle), and leaves out what sinks into the noise.
   *
   * @default {true}
   */
  flattenFading?: boolean;
}

/** The options of the conditioning. */
export const conditioningSpec = {
  couplingCorner: benchOptions.couplingCorner,
  removePowerModulation: optional(
    flagOption(
      "Takes off the part of the signal that follows the drive current (power modulation).",
    ),
    true,
  ),
  mainsFrequency: optional(
    benchOptions.mainsFrequency,
    null,
    "50 Hz and 60 Hz looked for",
  ),
  flattenFading: optional(
    flagOption(
      "Evens out the height of the fringes where it changes by more than a third (speckle).",
    ),
    true,
  ),
} satisfies Record<keyof ConditioningOptions, Option>;

/** A monitor signal made ready for the phase. */
export interface Conditioning extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "motion.conditioning";
  /**
   * The signal, in its unit; `NaN` where it is not to be used. Shared with the
   * capture where nothing had to be changed.
   */
  readonly signal: Float64Array;
  /** Samples per second, in Hz. */
  readonly samplingRate: number;
  /** SI unit of the signal. */
  readonly unit: string;
  /** Middle level of the fringes, in the unit of the signal. */
  readonly middle: number;
  /** Half of the fringes' height, in the unit of the signal. */
  readonly amplitude: number;
  /** White noise, rms, in the unit of the signal. */
  readonly noise: number;
  /** Mean square of a fringe over that of the noise, in dB. */
  readonly signalToNoiseRatio: number;
  /** Samples at the rails, left out. */
  readonly clippedSamples: number;
  /** Samples missing in the capture. */
  readonly missingSamples: number;
  /** Samples where the fringes sink into the noise, left out. */
  readonly fadedSamples: number;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Height of the fringes over the largest (1), at `envelopePlaces`. */
    readonly envelope: Float64Array;
    /** Sample indices of `envelope`. */
    readonly envelopePlaces: Int32Array;
    /** Signal per drive current taken off, in the unit of the signal per A. */
    readonly powerSlope: number;
    /** Frequency of the mains whose hum was taken off, in Hz; `null` for none. */
    readonly humFrequency: number | null;
    /** Its rms, in the unit of the signal. */
    readonly humSize: number;
    /** Corner of the coupling that was undone, in Hz; `null` for none. */
    readonly couplingCorner: number | null;
  };
}

/**
 * Makes a monitor signal ready for the phase: undoes a coupling capacitor, takes
 * off the power modulation and hum, evens out fading, and leaves out clipped, missing and faded samples. No
 * sample is made up; left-out ones are `NaN`.
 *
 * @param capture A capture with a monitor signal.
 * @param options What to take off.
 * @returns The signal, its levels and noise, and what was left out.
 * @throws {NotMeasurableError} If there is no monitor signal.
 * @throws {RangeError} If the coupling's corner is not positive.
 *
 * @example
 * ```ts
 * import { simulateCapture } from "fringebook";
 * import { conditionSignal } from "fringebook/motion";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 2e-6 * Math.sin(300 * time),
 *   samplingRate: 50e3,
 *   duration: 0.1,
 *   noise: { signalToNoiseRatio: 30 },
 * });
 * const { signalToNoiseRatio } = conditionSignal(capture);
 * expect(Math.abs(signalToNoiseRatio - 30)).toBeLessThan(1);
 * ```
 */
export function conditionSignal(
  capture: Capture,
  options: ConditioningOptions = {},
): Conditioning & Shown {
  requireCapture(capture, task);
  const {
    couplingCorner,
    removePowerModulation,
    mainsFrequency,
    flattenFading,
  } = readOptions(conditioningSpec, options, task);
  const channel = requireChannel(capture, "monitor signal");
  const { samplingRate } = capture;
  const warnings: Warning[] = [];
  const range = survey(channel.samples);
  const { missing: missingSamples, lowest, highest } = range;
  if (missingSamples > channel.samples.length / 2) {
    throw new NotMeasurableError(
      "no signal",
      `Cannot condition the signal as ${missingSamples} of its ${channel.samples.length} samples are missing: record again`,
    );
  }
  // The capture's own samples until something has to be changed in them.
  let signal: Float64Array = channel.samples instanceof Float64Array
    ? channel.samples
    : copyOf(channel.samples, task);
  const own = () => {
    if (signal === channel.samples) signal = copyOf(signal, task);
    return signal;
  };
  if (missingSamples > 0) {
    const values = own();
    for (let i = 0; i < values.length; i++) {
      if ((i & stride) === stride) checkpoint(NaN, task);
      if (!Number.isFinite(values[i])) values[i] = NaN;
    }
  }
  const rails = railsOf(signal, range, channel.fullScale);
  const clippedSamples = lowest <= rails.low || highest >= rails.high
    ? dropOutside(own(), rails)
    : 0;
  if (clippedSamples > 0) {
    warnings.push(warn(
      "clipped",
      `${clippedSamples} samples sit at the rail and were left out: lower the gain`,
      clippedSamples > 0.05 * signal.length ? "doubtful" : "note",
    ));
  }
  if (couplingCorner !== null) {
    // What the rail hides is bridged in the integral only.
    const level = undoCoupling(fillGaps(signal), couplingCorner, {
      samplingRate,
    });
    signal = withGapsOf(signal, level);
  }
  let powerSlope = 0;
  const drive = findChannel(capture, "drive current");
  if (removePowerModulation && drive !== null) {
    const power = powerOf(signal, drive.samples);
    if (power !== null) powerSlope = dropPower(own(), drive.samples, power);
  }
  let background: Background | null = null;
  if (signal.length <= longestJointRecord) {
    background = backgroundOf(signal, {
      samplingRate,
      mainsFrequency,
      findsCoupling: couplingCorner === null,
    });
    signal = background.signal;
    warnings.push(...background.warnings);
  } else if (mainsFrequency !== null) {
    const filled = fillGaps(signal);
    const cleaned = removeHum(filled, mainsFrequency, { samplingRate });
    signal = withGapsOf(signal, cleaned);
  }
  const flat = flattenFading ? flattenFades(signal) : null;
  if (flat !== null) signal = flat.signal;
  const fadedSamples = flat?.fadedSamples ?? 0;
  if (flat !== null) {
    warnings.push(warn(
      "fading",
      `The height of the fringes falls to ${
        (100 * flat.least).toFixed(0)
      } % of its largest${
        fadedSamples > 0
          ? `, and ${fadedSamples} samples were left out where they sink into the noise`
          : ""
      }: the feedback changes with it, so C is a mean`,
    ));
  }
  const { middle, amplitude, noise } = signalScale(signal);
  return createResult({
    kind: "motion.conditioning" as const,
    signal,
    samplingRate,
    unit: channel.unit,
    middle,
    amplitude,
    noise,
    signalToNoiseRatio: 20 * Math.log10(amplitude / Math.SQRT2 / noise),
    clippedSamples,
    missingSamples,
    fadedSamples,
    warnings,
    provenance: provenance({
      method: "conditionSignal",
      captures: [capture.source],
      options: {
        couplingCorner,
        removePowerModulation,
        mainsFrequency,
        flattenFading,
      },
    }),
    diagnostics: {
      envelope: flat?.envelope ?? new Float64Array(0),
      envelopePlaces: flat?.places ?? new Int32Array(0),
      powerSlope,
      humFrequency: background?.hum?.frequency ?? null,
      humSize: background?.hum?.size ?? 0,
      couplingCorner: couplingCorner ?? background?.couplingCorner ?? null,
    },
  });
}

/** Values that become `NaN` where a signal is; in their own place. */
function withGapsOf(signal: Float64Array, values: Float64Array): Float64Array {
  for (let i = 0; i < values.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, task);
    if (Number.isNaN(signal[i]!)) values[i] = NaN;
  }
  return values;
}

/** Range of a signal. */
interface SignalRange {
  /** Samples that are not finite. */
  readonly missing: number;
  /** Lowest and highest finite value. */
  readonly lowest: number;
  readonly highest: number;
  /** Samples that have the lowest and the highest value. */
  readonly atLowest: number;
  readonly atHighest: number;
}

function survey(samples: Samples): SignalRange {
  let missing = 0;
  let lowest = Infinity;
  let highest = -Infinity;
  let atLowest = 0, atHighest = 0;
  for (let i = 0; i < samples.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, task);
    const value = samples[i]!;
    // Few samples are at an end.
    if (value > lowest && value < highest) continue;
    if (value - value !== 0) {
      missing++;
      continue;
    }
    if (value < lowest) {
      lowest = value;
      atLowest = 0;
    }
    if (value > highest) {
      highest = value;
      atHighest = 0;
    }
    if (value === lowest) atLowest++;
    if (value === highest) atHighest++;
  }
  return { missing, lowest, highest, atLowest, atHighest };
}

/** Levels at which the converter cannot follow; infinite where it can. */
interface Rails {
  readonly low: number;
  readonly high: number;
}

function railsOf(
  signal: Float64Array,
  range: SignalRange,
  fullScale: Rails | null,
): Rails {
  if (fullScale === null) return flatEnds(signal, range);
  const { low, high } = fullScale;
  const { highest } = range;
  // The topmost code lies one step below the full scale.
  const margin = (high - low) / 500;
  let top = highest < high ? highest : -Infinity;
  if (highest >= high) {
    for (let i = 0; i < signal.length; i++) {
      if ((i & stride) === stride) checkpoint(NaN, task);
      const value = signal[i]!;
      if (value > top && value < high) top = value;
    }
  }
  return { low, high: high - top < margin ? Math.min(high, top) : high };
}

/** Samples at the rails become `NaN`. */
function dropOutside(signal: Float64Array, { low, high }: Rails): number {
  let count = 0;
  for (let i = 0; i < signal.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, task);
    if (signal[i]! <= low || signal[i]! >= high) {
      signal[i] = NaN;
      count++;
    }
  }
  return count;
}

/** Values that occur in long flat runs at the very ends of the signal. */
function flatEnds(
  signal: Float64Array,
  { lowest, highest, atLowest, atHighest }: SignalRange,
): Rails {
  const many = Math.max(20, 0.005 * signal.length);
  const none: Rails = { low: -Infinity, high: Infinity };
  if (atLowest <= many && atHighest <= many || lowest === highest) return none;
  const near = (highest - lowest) / 50;
  const low = lowest + near;
  const high = highest - near;
  let nearLow = 0, nearHigh = 0;
  for (let i = 0; i < signal.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, task);
    const value = signal[i]!;
    if (value < low) nearLow++;
    else if (value > high) nearHigh++;
  }
  // The rounded tops of whole fringes spread over this strip.
  const flat = (at: number, near: number) => at > many && at > 2 * (near - at);
  return {
    low: flat(atLowest, nearLow) ? lowest : none.low,
    high: flat(atHighest, nearHigh) ? highest : none.high,
  };
}

/** What of the signal is linear and quadratic in the drive current. */
interface Power {
  /** Mean of the drive current, in A. */
  readonly mean: number;
  /** Its standard deviation, in A. */
  readonly spread: number;
  /** Signal per u and per u² - 1, u = (I - mean)/spread, in its unit. */
  readonly linear: number;
  readonly quadratic: number;
}

function powerOf(
  signal: Float64Array,
  drive: Samples,
): Power | null {
  const n = signal.length;
  // Sums about a value of the drive itself lose no digits.
  const origin = drive.find(Number.isFinite) ?? 0;
  let sum = 0;
  let squares = 0;
  let count = 0;
  for (let i = 0; i < n; i++) {
    if ((i & stride) === stride) checkpoint(NaN, task);
    const step = drive[i]! - origin;
    if (step - step !== 0) continue;
    count++;
    sum += step;
    squares += step * step;
  }
  const mean = origin + sum / Math.max(1, count);
  const spread = Math.sqrt(
    Math.max(0, squares - sum * sum / Math.max(1, count)) / Math.max(1, count),
  );
  if (!(spread > 1e-4 * Math.abs(mean))) return null;
  // Normal equations in u = (I - mean)/spread: 1, u, u².
  const inverse = 1 / spread;
  let m0 = 0, m1 = 0, m2 = 0, m3 = 0, m4 = 0, r0 = 0, r1 = 0, r2 = 0;
  for (let i = 0; i < n; i++) {
    if ((i & stride) === stride) checkpoint(NaN, task);
    const u = (drive[i]! - mean) * inverse;
    const y = signal[i]!;
    if (u - u !== 0 || y - y !== 0) continue;
    const square = u * u;
    m0++;
    m1 += u;
    m2 += square;
    m3 += square * u;
    m4 += square * square;
    r0 += y;
    r1 += u * y;
    r2 += square * y;
  }
  const solution = solve3(
    [
      [m0, m1, m2],
      [m1, m2, m3],
      [m2, m3, m4],
    ],
    [r0, r1, r2],
  );
  if (solution === null) return null;
  return { mean, spread, linear: solution[1]!, quadratic: solution[2]! };
}

/** Takes it off; gives the signal per drive current at the mean. */
function dropPower(
  signal: Float64Array,
  drive: Samples,
  { mean, spread, linear, quadratic }: Power,
): number {
  for (let i = 0; i < signal.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, task);
    const u = (drive[i]! - mean) / spread;
    signal[i]! -= linear * u + quadratic * (u * u - 1);
  }
  return linear / spread;
}

function solve3(a: number[][], b: number[]): number[] | null {
  const rows = a.map((row, i) => [...row, b[i]!]);
  for (let i = 0; i < 3; i++) {
    const pivot = rows.slice(i).reduce(
      (best, row, k) =>
        Math.abs(row[i]!) > Math.abs(rows[best]![i]!) ? k + i : best,
      i,
    );
    [rows[i], rows[pivot]] = [rows[pivot]!, rows[i]!];
    const head = rows[i]![i]!;
    if (Math.abs(head) < 1e-9) return null;
    for (let k = 0; k < 3; k++) {
      if (k === i) continue;
      const factor = rows[k]![i]! / head;
      for (let j = i; j < 4; j++) rows[k]![j]! -= factor * rows[i]![j]!;
    }
  }
  return rows.map((row, i) => row[3]! / row[i]!);
}
