import {
  type Option,
  optional,
  optionOf,
  type ReadOptions,
  readOptions,
  requireCapture,
} from "../../options/mod.ts";
import { checkpoint } from "../../progress/mod.ts";
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
import type { Capture, Channel, ChannelRole, Samples } from "../capture.ts";
import { findChannel } from "../channel.ts";
import { findDropouts } from "./dropouts.ts";
import { type FringeRate, measureFringeRate } from "./fringe_rate.ts";
import { findHum, type MainsHum } from "./hum.ts";
import {
  type ChannelLevels,
  findClipping,
  measureLevels,
  type SampleRun,
  shareAtExtremes,
} from "./levels.ts";
import { estimateNoise } from "./noise.ts";
import { withoutDrive } from "./without_drive.ts";

/** What was found in one channel; values in the channel's unit. */
export interface ChannelCheck {
  /** Name of the channel. */
  readonly name: string;
  /** What the channel carries. */
  readonly role: ChannelRole;
  /** SI unit of the values. */
  readonly unit: string;
  /** Extent and resolution. */
  readonly levels: ChannelLevels;
  /** Share of samples stuck at an extreme, 0 to 1. */
  readonly clippedFraction: number;
  /** Where samples are stuck; at most 1000 runs. */
  readonly clippedRuns: readonly SampleRun[];
  /** Whether the stuck samples sit at the digitiser's stated limit. */
  readonly atDigitiserRail: boolean;
  /** Stretches of equal samples entered or left by a jump. */
  readonly dropouts: readonly SampleRun[];
  /** White noise, standard deviation. */
  readonly noise: number;
  /** One-sided white noise density, unit per √Hz. */
  readonly noiseDensity: number;
  /** Signal power over noise power, in dB. */
  readonly signalToNoise: number;
  /** Mains hum; `null` if the capture is too short to tell. */
  readonly hum: MainsHum | null;
}

/** Result of {@linkcode checkCapture}. */
export interface CaptureCheck extends Result {
  /** Chooses the presenter. */
  readonly kind: "capture.check";
  /**
   * `"good"`: nothing found; `"doubtful"`: read the warnings; `"unusable"`: no
   * measurement can come from it.
   */
  readonly verdict: "good" | "doubtful" | "unusable";
  /** Name of the channel that the headline fields speak of. */
  readonly channel: string;
  /** Samples per second, in Hz. */
  readonly samplingRate: number;
  /** Length of the capture, in s. */
  readonly duration: number;
  /** White noise of the monitor signal, standard deviation in its unit. */
  readonly noise: Quantity;
  /** Signal power over noise power, in dB. */
  readonly signalToNoise: Quantity;
  /** Fringes per second where they come fastest, in Hz. */
  readonly fringeRate: Quantity;
  /** Fringe rate over half the sampling rate (1). */
  readonly nyquistFraction: number;
  /** Every channel. */
  readonly channels: readonly ChannelCheck[];
  /** What the figures need. */
  readonly diagnostics: {
    /** Rates and rises of the monitor signal. */
    readonly fringes: FringeRate;
    /** Monitor signal with the part proportional to the drive removed. */
    readonly fringeSignal: Samples;
    /** Band about the middle that a fringe rises through, in the monitor's unit. */
    readonly thresholds: { readonly low: number; readonly high: number };
  };
}

/** Options of {@linkcode checkCapture}. */
export interface CheckCaptureOptions {
  /**
   * Share of clipped samples above which to warn, 0 to 1.
   *
   * @default {0.0005}
   */
  largestClippedFraction?: number | string;
  /**
   * Least signal-to-noise ratio, in dB.
   *
   * @default {10}
   */
  leastSignalToNoise?: number | string;
  /**
   * Largest fringe rate as a part of half the sampling rate, 0 to 1.
   *
   * @default {0.5}
   */
  largestNyquistFraction?: number | string;
  /**
   * Largest hum amplitude as a part of the signal's peak-to-peak, 0 to 1.
   *
   * @default {0.05}
   */
  largestHum?: number | string;
}

export const checkSpec = {
  largestClippedFraction: optional(
    optionOf.relative("Largest share of clipped samples, 0 to 1."),
    0.0005,
  ),
  leastSignalToNoise: optional(
    optionOf.finite("Least signal-to-noise ratio, in dB.", "dB", "10dB"),
    10,
  ),
  largestNyquistFraction: optional(
    optionOf.relative(
      "Largest fringe rate as a part of half the sampling rate, 0 to 1.",
    ),
    0.5,
  ),
  largestHum: optional(
    optionOf.relative(
      "Largest hum amplitude as a part of the signal's peak-to-peak, 0 to 1.",
    ),
    0.05,
  ),
} satisfies Record<keyof CheckCaptureOptions, Option>;

/**
 * Looks whether a capture can carry a measurement: clipping and saturation,
 * dropouts, missing values, uneven time, mains hum, noise floor,
 * signal-to-noise ratio, and the fringe rate against Nyquist. Every finding is a
 * warning that says what to change at the bench.
 *
 * Noise is white noise, from fourth differences or the floor of the spectrum
 * (whichever is lower; common practice, no source), and SNR = 10 lg((s² − σ²) / σ²)
 * with s² the variance of the fringe signal (the monitor signal without the part
 * proportional to the drive).
 *
 * @param capture The capture.
 * @param options Limits of the warnings.
 * @returns Findings per channel, headline numbers for the monitor signal.
 *
 * @example
 * ```ts
 * import { checkCapture, createCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const samples = Float64Array.from(
 *   { length: 1000 },
 *   (_, n) => Math.min(0.8, Math.sin(n / 10)),
 * );
 * const check = checkCapture(createCapture([{
 *   name: "monitor",
 *   role: "monitor signal",
 *   unit: "V",
 *   samples,
 * }], { samplingRate: 10e3 }));
 * expect(check.verdict).toBe("doubtful");
 * expect(check.warnings.map(({ code }) => code)).toContain("clipped");
 * ```
 */
export function checkCapture(
  capture: Capture,
  options: CheckCaptureOptions = {},
): CaptureCheck & Shown {
  const task = "check a capture";
  requireCapture(capture, task);
  const limits = readOptions(checkSpec, options, task);
  const {
    largestClippedFraction,
    leastSignalToNoise,
    largestNyquistFraction,
  } = limits;
  const { samplingRate, sampleCount } = capture;
  const warnings: Warning[] = capture.warnings.filter(({ severity }) =>
    severity === "doubtful"
  );
  const main = findChannel(capture, "monitor signal") ?? capture.channels[0]!;
  const drive = findChannel(capture, "drive current") ??
    findChannel(capture, "drive voltage");
  const fringeSignal = main.role === "monitor signal" && drive !== null
    ? withoutDrive(main.samples, drive.samples)
    : main.samples;
  // A junction voltage that stands in for the monitor signal is none of the list.
  const mainIndex = capture.channels.findIndex((channel) =>
    channel === main || channel.role === "junction voltage" &&
      main.name === channel.name
  );
  const channels = capture.channels.map((channel, index) =>
    checkChannel(
      channel,
      index === mainIndex ? fringeSignal : channel.samples,
      samplingRate,
      limits,
      warnings,
      (frequency) =>
        capture.channels.some((other) =>
          other !== channel && runsAtMains(other, samplingRate, frequency)
        ),
    )
  );
  const check = channels[mainIndex]!;
  const levels = fringeSignal === main.samples
    ? check.levels
    : measureLevels(fringeSignal);
  const rise = leastRise * (levels.high - levels.low);
  const middle = (levels.high + levels.low) / 2;
  const thresholds = { low: middle - rise / 2, high: middle + rise / 2 };
  const fringes = measureFringeRate(
    fringeSignal,
    samplingRate,
    thresholds.low,
    thresholds.high,
  );
  if (
    main.role === "monitor signal" && fringes.crossingCount >= 3 &&
    check.clippedFraction <= largestClippedFraction &&
    shareAtExtremes(main.samples, check.levels) > 0.3
  ) {
    warnings.push(warn(
      "saturated",
      `Channel '${main.name}' stays within 2 % of one end of its range most of the time: the amplifier may be saturated. Use less gain or less light`,
    ));
  }
  const clear = rise > 4 * check.noise;
  const rate = clear ? fringes.fastest : NaN;
  const nyquistFraction = 2 * rate / samplingRate;
  if (nyquistFraction > largestNyquistFraction) {
    warnings.push(warn(
      "near-nyquist",
      `Fringes come at up to ${inDigits(rate, 3)} Hz, only ${
        inDigits(samplingRate / rate, 2)
      } samples each: faster ones would be counted as slower ones. Raise the sampling rate or move the target slower`,
    ));
  }
  if (
    main.role === "monitor signal" && check.signalToNoise < leastSignalToNoise
  ) {
    if (
      !clear && kurtosis(fringeSignal) < leastKurtosis &&
      largestCorrelation(fringeSignal) < orderly
    ) {
      warnings.push(warn(
        "aliased",
        `The samples of '${main.name}' jump about between firm limits as fringes do that come faster than half the sampling rate of ${samplingRate} Hz. Raise the sampling rate`,
      ));
    }
    warnings.push(warn(
      "low-snr",
      `The signal-to-noise ratio of '${main.name}' is ${
        check.signalToNoise.toFixed(1)
      } dB, below ${leastSignalToNoise} dB. Align the beam, use a better reflecting target, or raise the gain`,
    ));
  }
  if (sampleCount < 16) {
    warnings.push(warn(
      "few-samples",
      `The capture has ${sampleCount} samples only: record longer`,
    ));
  }
  const flat = !(levels.maximum > levels.minimum);
  if (flat) {
    warnings.push(warn(
      "flat",
      `Channel '${main.name}' does not change: it stays at ${levels.mean} ${main.unit}. Check the cable, the amplifier and the coupling`,
    ));
  }
  const doubtful = warnings.some(({ severity }) => severity === "doubtful");
  const noiseFreedom = Math.max(1, (sampleCount - 4) / 2.63);
  return createResult({
    kind: "capture.check",
    verdict: flat || sampleCount < 2
      ? "unusable"
      : doubtful
      ? "doubtful"
      : "good",
    channel: main.name,
    samplingRate,
    duration: sampleCount / samplingRate,
    noise: quantity(
      check.noise,
      check.noise / Math.sqrt(2 * noiseFreedom),
      main.unit,
      { degreesOfFreedom: noiseFreedom },
    ),
    signalToNoise: quantity(check.signalToNoise, NaN, "dB"),
    fringeRate: quantity(rate, NaN, "Hz"),
    nyquistFraction,
    channels,
    warnings,
    provenance: provenance({
      method: "checkCapture",
      captures: [capture.source],
      options: limits,
    }),
    diagnostics: { fringes, fringeSignal, thresholds },
  });
}

function checkChannel(
  channel: Channel,
  signal: Samples,
  samplingRate: number,
  limits: ReadOptions<typeof checkSpec>,
  warnings: Warning[],
  driven: (frequency: number) => boolean,
): ChannelCheck {
  const { name, role, unit, samples, fullScale } = channel;
  const levels = measureLevels(samples);
  const dropouts = findDropouts(samples, levels);
  const clipping = findClipping(samples, levels, fullScale, dropouts);
  const clippedCount = clipping.highCount + clipping.lowCount;
  const clippedFraction = clippedCount / samples.length;
  const atDigitiserRail = clippedCount > 0 && fullScale !== null &&
    (levels.maximum >= fullScale.high || levels.minimum <= fullScale.low);
  if (levels.missingCount > 0) {
    warnings.push(warn(
      "missing-samples",
      `Channel '${name}' has ${levels.missingCount} of ${samples.length} samples missing (NaN). Record again, or cut the capture there`,
    ));
  }
  if (clippedFraction > limits.largestClippedFraction) {
    const where = clipping.highCount > 0 && clipping.lowCount > 0
      ? "top and bottom"
      : clipping.highCount > 0
      ? "top"
      : "bottom";
    warnings.push(warn(
      atDigitiserRail ? "at-rail" : "clipped",
      `${
        inDigits(100 * clippedFraction, 2)
      } % of the samples of '${name}' are stuck at the ${where}${
        atDigitiserRail ? ", the digitiser's limit" : ""
      }: use a larger range, less gain, or shift the offset`,
    ));
  }
  if (dropouts.length > 0) {
    warnings.push(warn(
      "dropout",
      `Channel '${name}' stands still ${dropouts.length} ${
        dropouts.length === 1 ? "time" : "times"
      }, first at sample ${
        dropouts[0]!.start
      }: samples were lost. Record again with a slower rate or a larger buffer`,
    ));
  }
  // Of the samples as recorded: what takes the drive off brings its noise in.
  const noise = estimateNoise(samples);
  const fringes = signal === samples ? levels : measureLevels(signal);
  const deviation = fringes.standardDeviation;
  const ratio = (deviation ** 2 - noise ** 2) / noise ** 2;
  const hum = findHum(signal, samplingRate);
  const span = fringes.high - fringes.low;
  if (
    hum !== null && role === "monitor signal" &&
    hum.standsOut && hum.amplitudes[0]! > limits.largestHum * span &&
    !driven(hum.frequency)
  ) {
    warnings.push(warn(
      "mains-hum",
      `Channel '${name}' carries ${
        inDigits(hum.amplitudes[0]!, 2)
      } ${unit} at ${hum.frequency} Hz (resolved to ${
        inDigits(hum.resolution, 2)
      } Hz): block the beam to see whether it stays. If it does, check shielding, ground loops and room light; if not, the target moves at this frequency by less than a fringe`,
    ));
  }
  return {
    name,
    role,
    unit,
    levels,
    clippedFraction,
    clippedRuns: clipping.runs,
    atDigitiserRail,
    dropouts,
    noise,
    noiseDensity: noise * Math.sqrt(2 / samplingRate),
    signalToNoise: noise === 0
      ? Infinity
      : 10 * Math.log10(Math.max(ratio, Number.MIN_VALUE)),
    hum,
  };
}

/**
 * Below this, samples without order are taken for aliased fringes: kurtosis is
 * 1.5 for a sine sampled at random and 3 for Gaussian noise.
 */
const leastKurtosis = 2.1;
/** Least rise of a fringe over the whole swing (1). */
const leastRise = 0.3;

/**
 * A correlation of neighbouring samples above this is order: fringes that are seen
 * at all have it, whatever the noise.
 */
const orderly = 0.35;
const lags = 64;
const correlatedSamples = 1 << 15;

/** Largest autocorrelation of the samples over 1 to 64 samples, without sign (1). */
function largestCorrelation(samples: Samples): number {
  const part = samples.subarray(0, correlatedSamples);
  const present = Float64Array.from(part).filter(Number.isFinite);
  const mean = present.reduce((a, b) => a + b, 0) / present.length;
  const values = present.map((value) => value - mean);
  const power = values.reduce((sum, value) => sum + value * value, 0);
  let largest = 0;
  for (let lag = 1; lag <= lags && lag < values.length / 4; lag++) {
    let sum = 0;
    for (let i = lag; i < values.length; i++) {
      sum += values[i]! * values[i - lag]!;
    }
    largest = Math.max(largest, Math.abs(sum) / power);
  }
  return largest;
}

/** Part of a drive at the mains frequency from which on it is the drive's own (1). */
const leastOfDrive = 0.05;

/**
 * Whether a channel is a drive with a part at a mains frequency: its own frequency,
 * or a harmonic of it, as the third of a triangle of 20 Hz.
 */
function runsAtMains(
  { samples, role }: Channel,
  samplingRate: number,
  frequency: number,
): boolean {
  if (role === "monitor signal") return false;
  const hum = findHum(samples, samplingRate, [frequency]);
  if (hum === null) return false;
  const { standardDeviation } = measureLevels(samples);
  return hum.amplitudes[0]! > leastOfDrive * standardDeviation;
}

/** Fourth central moment over the square of the second; 3 for Gaussian noise. */
function kurtosis(samples: Samples): number {
  let mean = 0;
  let count = 0;
  for (let index = 0; index < samples.length; index++) {
    if ((index & 0x1ffff) === 0) checkpoint(NaN, "check samples");
    const value = samples[index]!;
    if (value - value !== 0) continue;
    mean += value;
    count++;
  }
  mean /= count;
  let second = 0;
  let fourth = 0;
  for (let index = 0; index < samples.length; index++) {
    if ((index & 0x1ffff) === 0) checkpoint(NaN, "check samples");
    const value = samples[index]!;
    if (value - value !== 0) continue;
    const square = (value - mean) ** 2;
    second += square;
    fourth += square * square;
  }
  return count * fourth / (second * second);
}
