import { type Capture, checkCapture, requireChannel } from "../capture/mod.ts";
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
import {
  bandSource,
  nextPowerOfTwo,
  type NumberSequence,
  welch,
} from "../signal/mod.ts";
import {
  chooseLine,
  classifyLines,
  humOrder,
  type SpectrumLine,
} from "./classify_lines.ts";
import { type Direction, directionFromHarmonic } from "./direction.ts";
import { dopplerFrequency } from "./doppler.ts";
import {
  type DopplerLine,
  lineCoverageFactor,
  measureDopplerLine,
} from "./doppler_line.ts";
import { findLines, type LineCandidate } from "./find_lines.ts";
import type { LineShape } from "./line_shape.ts";
import type { UncertaintyBudget } from "../uncertainty/mod.ts";
import { type SpeedInputs, speedWithBudget } from "./speed_budget.ts";

/** Options of {@linkcode measureSpeed}. */
export interface MeasureSpeedOptions extends SpeedInputs {
  /**
   * Band in which the line is looked for, in Hz.
   *
   * @default {from 20 periods per record, or 1/4096 of the sampling rate if that
   * is more, to 98 % of half the sampling rate}
   */
  searchBand?: { low: number; high: number } | null;
  /**
   * A capture without the target, at the same sampling rate and gain: what is in
   * it does not count as a line.
   *
   * @default {null}
   */
  background?: Capture | null;
  /**
   * Mains frequencies whose multiples do not count as the line, in Hz.
   *
   * @default {[50, 60]}
   */
  mains?: readonly number[];
  /**
   * −3 dB frequency of the amplifier, in Hz; its slope across a broad line is
   * taken out.
   *
   * @default {Infinity}
   */
  bandwidth?: number;
  /**
   * Form of a broadened line; `null` takes the one that fits better.
   *
   * @default {null}
   */
  lineShape?: LineShape | null;
  /**
   * Sign of the amplifier: 1 where more light gives more signal, -1 where it
   * gives less.
   *
   * @default {1}
   */
  polarity?: 1 | -1;
  /**
   * The speed that is roughly expected, in m/s: tells a line that was folded at
   * half the sampling rate.
   *
   * @default {null}
   */
  expectedSpeed?: number | null;
}

/** Speed of a surface from the Doppler line of one capture. */
export interface SpeedMeasurement extends Result {
  readonly kind: "speed.doppler";
  /** Speed of the surface, in m/s, without sign. */
  readonly speed: Quantity;
  /** Frequency of the line, in Hz. */
  readonly dopplerFrequency: Quantity;
  /** Full width of the line at half maximum, in Hz; 0 for a clean line. */
  readonly lineWidth: Quantity;
  /** Power of the line over the background within its width, in dB. */
  readonly signalToNoise: number;
  /** `"clean"`: one steady frequency; `"broadened"`: speckle, spread of angles. */
  readonly lineForm: "clean" | "broadened";
  /** Which way the surface moves along the beam. */
  readonly direction: Direction;
  /** What the uncertainty of the speed is made of, in m/s. */
  readonly budget: UncertaintyBudget;
  readonly diagnostics: {
    /** Bins of the averaged spectrum, in Hz. */
    readonly frequency: Float64Array;
    /** Its one-sided density, in unit²/Hz. */
    readonly density: Float64Array;
    /** Density without the target, in unit²/Hz; `null` if none was given. */
    readonly backgroundDensity: Float64Array | null;
    /** Frequencies of the fitted points, in Hz; empty for a clean line. */
    readonly fitFrequency: Float64Array;
    /** Densities the fit was made to, in unit²/Hz. */
    readonly fitDensity: Float64Array;
    /** Fitted line with background, in unit²/Hz. */
    readonly fitted: Float64Array;
    /** Form of the fitted line; `null` for a clean one. */
    readonly lineShape: LineShape | null;
    /** χ² per degree of freedom of the fit (1); `NaN` for a clean line. */
    readonly reducedChiSquare: number;
    /** Correlation times of the line in the record (1); `NaN` if clean. */
    readonly independentParts: number;
    /** Every line seen, with its role. */
    readonly lines: readonly SpectrumLine[];
    /** Mean imaginary part of the bicoherence of the 2nd harmonic (1). */
    readonly sawToothAsymmetry: number;
    /** How far it is from 0, in standard deviations (1). */
    readonly sawToothSignificance: number;
    /** Unit of the monitor signal. */
    readonly signalUnit: string;
    /** Samples per second, in Hz. */
    readonly samplingRate: number;
    /** Length of the record, in s. */
    readonly duration: number;
    /** Cramér–Rao bound of a clean line's frequency, in Hz. */
    readonly frequencyBound: number;
  };
}

const task = "measure a speed";

/**
 * Measures the speed of a moving surface from the Doppler line in the spectrum
 * of the monitor signal: v = f λ / (2 n cos θ). Finds the line at any width,
 * past hum, 1/f noise and harmonics; measures it as a steady tone
 * (maximum-likelihood frequency) or, where speckle or a spread of angles
 * broadens it, by fitting its form.
 *
 * @param capture A capture with a monitor signal.
 * @param options Wavelength in m, angle in rad, their uncertainties, search.
 * @returns Speed in m/s, line, direction, uncertainty budget.
 * @throws {NotMeasurableError} If there is no line, or it is too slow for the
 * record.
 * @throws {RangeError} If an option is out of range or a sample is missing.
 *
 * @example A surface that recedes with 2 mm/s
 * ```ts
 * import { measureSpeed, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 2e-3 * time,
 *   samplingRate: 100_000,
 *   duration: 0.1,
 *   feedbackParameter: 0.7,
 * });
 * const { speed, direction } = measureSpeed(capture, { wavelength: 650e-9 });
 * expect(speed.value).toBeCloseTo(2e-3, 5);
 * expect(direction).toBe("receding");
 * ```
 */
export function measureSpeed(
  capture: Capture,
  options: MeasureSpeedOptions,
): SpeedMeasurement & Shown {
  const {
    searchBand = null,
    background = null,
    mains = [50, 60],
    bandwidth = Infinity,
    lineShape = null,
    polarity = 1,
    expectedSpeed = null,
  } = options;
  const channel = requireChannel(capture, "monitor signal");
  const { samplingRate, sampleCount } = capture;
  const samples = withoutMean(channel.samples);
  const duration = sampleCount / samplingRate;
  // Options are checked before the long work.
  speedWithBudget(quantity(0, 0, "Hz"), options, task);
  if (!(bandwidth > 0)) {
    throw new RangeError(
      `Cannot ${task} as 'bandwidth' must be a positive number of Hz: current value is ${bandwidth}`,
    );
  }
  const { low, high } = requireBand(searchBand, samplingRate, duration);
  const reference = requireBackground(background, samplingRate);
  const lines = findLines(samples, {
    samplingRate,
    lowest: low,
    highest: high,
    background: reference,
    most: 24,
  });
  const seen = chooseLine(lines, mains);
  if (seen === null) {
    throw noLine(samples, samplingRate, low, high, searchBand !== null);
  }
  const line = measureDopplerLine(samples, samplingRate, seen, {
    lowest: low,
    highest: high,
    shape: lineShape,
    bandwidth,
  });
  const evidence = directionFromHarmonic(
    bandSource(samples, samplingRate),
    line.frequency,
    line.width,
    polarity,
  );
  const frequency = quantity(line.frequency, line.standardUncertainty, "Hz", {
    degreesOfFreedom: line.degreesOfFreedom,
    coverageFactor: lineCoverageFactor(line.degreesOfFreedom),
  });
  const { speed, budget } = speedWithBudget(frequency, options, task);
  const classified = classifyLines(
    lines,
    seen,
    line.frequency,
    line.width,
    samplingRate,
    mains,
  );
  const shown = displaySpectrum(samples, samplingRate, line);
  const { broadened } = line;
  return createResult<SpeedMeasurement>({
    kind: "speed.doppler",
    speed,
    dopplerFrequency: frequency,
    lineWidth: quantity(line.width, line.widthStandardUncertainty, "Hz"),
    signalToNoise: 10 * Math.log10(line.signalToNoise),
    lineForm: line.form,
    direction: evidence.direction,
    budget,
    warnings: [
      ...captureWarnings(capture, channel.name),
      ...lineWarnings(line, seen, classified, {
        samplingRate,
        duration,
        mains,
        options,
        expectedSpeed,
      }),
    ],
    provenance: provenance({
      method: "measureSpeed",
      captures: background === null
        ? [capture.source]
        : [capture.source, background.source],
      options: {
        ...options,
        background: background === null ? null : "capture",
        searchBand: { low, high },
        mains: [...mains],
        lineShape,
        polarity,
        expectedSpeed,
        bandwidth: Number.isFinite(bandwidth) ? bandwidth : null,
      },
      sources: [
        "Shinohara et al. 1986, Appl. Opt. 25, 1417",
        "Rife and Boorstyn 1974, IEEE Trans. Inf. Theory 20, 591",
        "Whittle 1953, Ark. Mat. 2, 423",
      ],
    }),
    diagnostics: {
      frequency: shown.frequency,
      density: shown.density,
      backgroundDensity: reference === null ||
          reference.length < shown.segmentLength
        ? null
        : welch(reference, {
          samplingRate,
          segmentLength: shown.segmentLength,
        }).density,
      fitFrequency: broadened?.fitFrequency ?? new Float64Array(0),
      fitDensity: broadened?.fitDensity ?? new Float64Array(0),
      fitted: broadened?.fitted ?? new Float64Array(0),
      lineShape: broadened?.shape ?? null,
      reducedChiSquare: broadened?.reducedChiSquare ?? NaN,
      independentParts: broadened?.independentParts ?? NaN,
      lines: classified,
      sawToothAsymmetry: evidence.asymmetry,
      sawToothSignificance: evidence.significance,
      signalUnit: channel.unit,
      samplingRate,
      duration,
      frequencyBound: line.clean.bound,
    },
  });
}

/** A copy as doubles without its mean; throws where samples are missing. */
export function withoutMean(samples: NumberSequence): Float64Array {
  const count = samples.length;
  if (count < 64) {
    throw new RangeError(
      `Cannot ${task} from ${count} samples: record at least 64`,
    );
  }
  let mean = 0;
  for (let i = 0; i < count; i++) {
    const value = samples[i]!;
    if (value - value !== 0) {
      throw new RangeError(
        `Cannot ${task} as sample ${i} of ${count} is ${value}: cut the capture around missing samples first`,
      );
    }
    mean += value / count;
  }
  const out = new Float64Array(count);
  for (let i = 0; i < count; i++) out[i] = samples[i]! - mean;
  return out;
}

/** The band to search; filled in where the caller gave none. */
export function requireBand(
  band: { low: number; high: number } | null,
  samplingRate: number,
  duration: number,
): { low: number; high: number } {
  const nyquist = samplingRate / 2;
  const low = band?.low ?? Math.max(20 / duration, samplingRate / 4096);
  const high = band?.high ?? 0.98 * nyquist;
  if (!(low > 0 && low < high && high < nyquist)) {
    throw new RangeError(
      `Cannot ${task} as the search band must lie between 0 and half the sampling rate, ${nyquist} Hz: current band is ${low} to ${high} Hz (${
        duration * samplingRate
      } samples)`,
    );
  }
  return { low, high };
}

function requireBackground(
  background: Capture | null,
  samplingRate: number,
): Float64Array | null {
  if (background === null) return null;
  if (Math.abs(background.samplingRate / samplingRate - 1) > 1e-6) {
    throw new RangeError(
      `Cannot ${task} as the background capture has another sampling rate: ${background.samplingRate} Hz instead of ${samplingRate} Hz`,
    );
  }
  return withoutMean(requireChannel(background, "monitor signal").samples);
}

/** Averaged spectrum for the figure: fine enough for the line, at most 2¹⁴. */
function displaySpectrum(
  samples: Float64Array,
  samplingRate: number,
  line: DopplerLine,
) {
  const longest = nextPowerOfTwo(samples.length + 1) / 2;
  const wanted = line.width > 0
    ? nextPowerOfTwo(12 * samplingRate / line.width)
    : 1 << 14;
  const segmentLength = Math.min(longest, 1 << 14, Math.max(1024, wanted));
  return welch(samples, {
    samplingRate,
    segmentLength: Math.min(segmentLength, longest),
  });
}

function noLine(
  samples: Float64Array,
  samplingRate: number,
  low: number,
  high: number,
  banded: boolean,
): Error {
  const duration = samples.length / samplingRate;
  let energy = 0;
  for (const value of samples) energy += value * value;
  if (energy === 0) {
    return new NotMeasurableError(
      "no signal",
      `Cannot ${task} as the monitor signal is constant over ${duration} s: check the amplifier and the light path`,
    );
  }
  const slow = banded ? [] : findLines(samples, {
    samplingRate,
    lowest: 3 / duration,
    highest: 1.5 * low,
    background: null,
    most: 1,
  });
  const first = slow[0];
  if (first !== undefined) {
    return new NotMeasurableError(
      "too slow",
      `Cannot ${task} as the only line, at ${
        first.frequency.toPrecision(3)
      } Hz, has ${
        (first.frequency * duration).toFixed(1)
      } periods in the record: record longer, or give 'searchBand' if it is the Doppler line`,
    );
  }
  return new NotMeasurableError(
    "no line",
    `Cannot ${task} as no line rises above the noise between ${
      low.toPrecision(3)
    } and ${
      high.toPrecision(3)
    } Hz: check focus and aim, record longer, or raise the sampling rate`,
  );
}

function captureWarnings(capture: Capture, name: string): Warning[] {
  const found = checkCapture(capture).channels.find((one) => one.name === name);
  const clipped = found?.clippedFraction ?? 0;
  if (clipped < 1e-3) return [];
  return [warn(
    "clipped",
    `${
      (100 * clipped).toPrecision(2)
    } % of the samples of '${name}' sit at a rail, which raises the harmonics: lower the gain or the light`,
    clipped > 0.05 ? "doubtful" : "note",
  )];
}

interface WarningContext {
  readonly samplingRate: number;
  readonly duration: number;
  readonly mains: readonly number[];
  readonly options: MeasureSpeedOptions;
  readonly expectedSpeed: number | null;
}

function lineWarnings(
  line: DopplerLine,
  seen: LineCandidate,
  lines: readonly SpectrumLine[],
  context: WarningContext,
): Warning[] {
  const { samplingRate, duration, mains } = context;
  const warnings: Warning[] = [];
  const nyquist = samplingRate / 2;
  const text = (frequency: number) => `${frequency.toPrecision(5)} Hz`;
  if (humOrder(seen, mains) !== null) {
    warnings.push(warn(
      "mains-hum",
      `The line at ${
        text(line.frequency)
      } is a multiple of the mains frequency and the only one: block the beam to see whether it stays`,
    ));
  }
  const other = lines.find((one) =>
    one.role === "other" && one.relativePower > 0.05
  );
  if (other !== undefined) {
    warnings.push(warn(
      "two-targets",
      `A second line at ${text(other.frequency)} has ${
        (100 * other.relativePower).toPrecision(2)
      } % of the power of the one at ${
        text(line.frequency)
      } and is no harmonic of it: give 'searchBand' to choose, or block one of the paths`,
    ));
  }
  if (line.frequency + line.width > 0.9 * nyquist) {
    warnings.push(warn(
      "near-nyquist",
      `The line at ${
        text(line.frequency)
      } lies close to half the sampling rate (${
        text(nyquist)
      }) and may be folded: sample faster`,
    ));
  }
  warnings.push(...aliasWarnings(line, context));
  const parts = line.broadened?.independentParts ?? Infinity;
  if (parts < 20) {
    warnings.push(warn(
      "few-speckles",
      `The record holds ${
        parts.toFixed(1)
      } correlation times of the line only, too few for a sure interval: record longer`,
      parts < 10 ? "doubtful" : "note",
    ));
  }
  const chi = line.broadened?.reducedChiSquare ?? 1;
  if (chi > 2) {
    warnings.push(warn(
      "line-shape",
      `The line does not have the fitted form (χ² per degree of freedom ${
        chi.toPrecision(3)
      }): the speed may change within the record; follow it with trackSpeed()`,
    ));
  }
  if (line.form === "clean" && line.clean.excess > 30) {
    warnings.push(warn(
      "unsteady",
      `The line is wider than a steady tone of ${duration} s: the speed may change within the record; follow it with trackSpeed()`,
    ));
  }
  const angle = context.options.angle ?? 0;
  const spread = (context.options.angleStandardUncertainty ?? 0) *
    Math.abs(Math.tan(angle));
  if (spread > 0.1) {
    warnings.push(warn(
      "steep-angle",
      `The angle's uncertainty alone makes ${
        (100 * spread).toPrecision(2)
      } % of the speed, where the linear budget no longer holds: tilt the beam toward the motion or calibrate against a known speed`,
    ));
  }
  return warnings;
}

function aliasWarnings(line: DopplerLine, context: WarningContext): Warning[] {
  const { samplingRate, expectedSpeed, options } = context;
  if (expectedSpeed === null) return [];
  const expected = Math.abs(dopplerFrequency(expectedSpeed, options));
  if (expected <= samplingRate / 2) return [];
  const turns = expected / samplingRate;
  const folded = Math.abs(turns - Math.round(turns)) * samplingRate;
  return [warn(
    "aliased",
    `The expected speed of ${expectedSpeed} m/s gives ${
      expected.toPrecision(5)
    } Hz, beyond half the sampling rate, and would show at ${
      folded.toPrecision(5)
    } Hz (a line was found at ${
      line.frequency.toPrecision(5)
    } Hz): sample faster`,
  )];
}
