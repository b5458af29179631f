import { type Capture, requireChannel } from "../capture/mod.ts";
import {
  benchOptions,
  choiceOption,
  groupOption,
  handedOption,
  isCaptureLike,
  listOption,
  type Option,
  optional,
  optionOf,
  type ReadOptions,
  readOptions,
  requireCapture,
  textOption,
} from "../options/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
} from "../result/mod.ts";
import { bandSource, nextPowerOfTwo, welch } from "../signal/mod.ts";
import {
  chooseLine,
  classifyLines,
  type SpectrumLine,
} from "./classify_lines.ts";
import { type Direction, directionFromHarmonic } from "./direction.ts";
import {
  type DirectionChannel,
  directionFromDrive,
  directionSamples,
} from "./drive_direction.ts";
import {
  type DopplerLine,
  lineCoverageFactor,
  measureDopplerLine,
} from "./doppler_line.ts";
import { findLines } from "./find_lines.ts";
import { type LineShape, lineShapes } from "./line_shape.ts";
import type { UncertaintyBudget } from "../uncertainty/mod.ts";
import {
  type SpeedInputs,
  speedInputs,
  speedInputSpec,
  speedWithBudget,
} from "./speed_budget.ts";
import {
  requireBackground,
  requireBand,
  withoutMean,
} from "./speed_samples.ts";
import { captureWarnings, lineWarnings, noLine } from "./speed_warnings.ts";

/** Options of {@linkcode measureSpeed}. */
export interface MeasureSpeedOptions extends SpeedInputs {
  /**
   * Band in which the line is looked for, in Hz.
   *
   * @default {from 20 periods per record, or 1/4096 of the sampling rate if that
   * is more, to 98 % of half the sampling rate}
   */
  searchBand?: { low: number | string; high: number | string } | null;
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
  mains?: readonly (number | string)[];
  /**
   * −3 dB frequency of the amplifier, in Hz; its slope across a broad line is
   * taken out.
   *
   * @default {Infinity}
   */
  bandwidth?: number | string;
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
   * A channel that tells which way the target is driven; then the saw-tooth form
   * is not asked.
   *
   * @default {null}
   */
  directionChannel?: DirectionChannel | null;
  /**
   * The speed that is roughly expected, in m/s: tells a line that was folded at
   * half the sampling rate.
   *
   * @default {null}
   */
  expectedSpeed?: number | string | null;
}

/** Options that every speed has beside its inputs. */
export const lineSearchSpec = {
  searchBand: optional(
    optionOf.band("Band in which the line is looked for, in Hz."),
    null,
    "most of the spectrum",
  ),
  mains: optional(
    listOption(
      "Mains frequencies whose multiples do not count as the line, in Hz.",
      benchOptions.mainsFrequency,
    ),
    [50, 60],
    "50 Hz and 60 Hz",
  ),
  polarity: optional(
    choiceOption(
      "Sign of the amplifier: 1 where more light gives more signal, -1 where it gives less.",
      [1, -1],
    ),
    1,
  ),
  directionChannel: optional(
    groupOption("A channel that tells which way the target is driven.", {
      name: textOption("Name of the channel."),
      reading: choiceOption("What of it goes with the velocity.", [
        "value",
        "slope",
      ]),
      polarity: optional(
        choiceOption("1 where positive means receding, −1 where approaching.", [
          1,
          -1,
        ]),
        1,
      ),
    }),
    null,
  ),
} as const;

/** The options of {@linkcode measureSpeed}. */
export const measureSpeedSpec = {
  ...speedInputSpec,
  ...lineSearchSpec,
  background: optional(
    handedOption<Capture>(
      "A capture without the target, at the same sampling rate and gain.",
      "a capture (readCapture(…) reads one)",
      isCaptureLike,
    ),
    null,
  ),
  bandwidth: optional(
    optionOf.frequency("−3 dB frequency of the amplifier, in Hz.", "200kHz"),
    Infinity,
    "so high that it does not matter",
  ),
  lineShape: optional(
    choiceOption("Form of a broadened line.", lineShapes),
    null,
    "the one that fits better",
  ),
  expectedSpeed: optional(
    optionOf.finite(
      "The speed that is roughly expected, in m/s.",
      "m/s",
      "30mm/s",
    ),
    null,
  ),
} satisfies Record<keyof MeasureSpeedOptions, Option>;

/** {@linkcode MeasureSpeedOptions} as read. */
export type ReadMeasureSpeedOptions = ReadOptions<typeof measureSpeedSpec>;

/** Speed of a surface from the Doppler line of one capture. */
export interface SpeedMeasurement extends Result {
  /** Kind of the result, by which it is shown. */
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
  /** What figures and further checks need beside the result. */
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
 * (maximum-likelihood frequency, without bias in white noise and at the
 * Cramér–Rao bound from some 18 dB per bin) or, where speckle or a spread of
 * angles broadens it, by fitting its form (without bias for a symmetric line).
 *
 * On a rough surface a record shorter than the time in which the speckle changes
 * shows one grain only: its line is clean, but may lie off the centre by about
 * the line's width, which that record cannot tell. Let several grains pass.
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
  requireCapture(capture, task);
  const read = readOptions(measureSpeedSpec, options, task);
  const {
    searchBand,
    background,
    mains,
    bandwidth,
    lineShape,
    polarity,
    directionChannel,
    expectedSpeed,
  } = read;
  const driven = directionChannel === null
    ? null
    : directionSamples(capture, directionChannel, task);
  const channel = requireChannel(capture, "monitor signal");
  const { samplingRate, sampleCount } = capture;
  const samples = withoutMean(channel.samples);
  const duration = sampleCount / samplingRate;
  // Options are checked before the long work.
  speedWithBudget(quantity(0, 0, "Hz"), read, task);
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
  const source = bandSource(samples, samplingRate);
  const line = measureDopplerLine(samples, source, seen, {
    lowest: low,
    highest: high,
    shape: lineShape,
    bandwidth,
  });
  const evidence = directionFromHarmonic(
    source,
    line.frequency,
    line.width,
    polarity,
  );
  const frequency = quantity(line.frequency, line.standardUncertainty, "Hz", {
    degreesOfFreedom: line.degreesOfFreedom,
    coverageFactor: lineCoverageFactor(line.degreesOfFreedom),
  });
  const { speed, budget } = speedWithBudget(frequency, read, task);
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
    direction: directionChannel === null || driven === null
      ? evidence.direction
      : directionFromDrive(driven, directionChannel, 0, sampleCount),
    budget,
    warnings: [
      ...captureWarnings(capture, channel.name),
      ...lineWarnings(line, seen, classified, {
        samplingRate,
        duration,
        mains,
        options: read,
        expectedSpeed,
      }),
    ],
    provenance: provenance({
      method: "measureSpeed",
      captures: background === null
        ? [capture.source]
        : [capture.source, background.source],
      options: {
        ...read,
        background: background === null ? null : "capture",
        searchBand: { low, high },
        mains: [...mains],
        lineShape,
        polarity,
        directionChannel,
        expectedSpeed,
        bandwidth: Number.isFinite(bandwidth) ? bandwidth : null,
      },
      inputs: speedInputs(options, read),
      sources: [
        "Shinohara et al. 1986, Appl. Opt. 25, 1417",
        "Rife and Boorstyn 1974, IEEE Trans. Inf. Theory 20, 591",
        "Whittle 1953, Ark. Mat. 2, 423 (from memory)",
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
