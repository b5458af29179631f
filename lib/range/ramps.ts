import type { Capture } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import { copyOf } from "../memory/mod.ts";
import {
  benchOptions,
  groupOption,
  type Option,
  optional,
  optionOf,
  quantityOption,
  type ReadOptions,
  readOptions,
  requireCapture,
  statedDriveOptions,
} from "../options/mod.ts";
import { checkpoint } from "../progress/mod.ts";
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
  driveInputs,
  driveOf,
  frequencyDiffers,
  lagging,
  wholeDrive,
} from "./drive.ts";
import { frequencyByPower } from "./stated_frequency.ts";
import { asItIs, createColumns, smoothCurrent } from "./stroke_current.ts";
import { findStrokes } from "./turning_points.ts";

const work = "find ramps";

/** A drive waveform that is known but was not captured. */
export interface StatedDrive {
  /** Shape of the drive. */
  readonly shape: "triangle" | "sawtooth" | "sine";
  /** Ramps (periods) per second, in Hz. */
  readonly frequency: number | string;
  /** Lowest current, in A. */
  readonly low: number | string;
  /** Highest current, in A. */
  readonly high: number | string;
  /**
   * Part of the period already over at the first sample (1).
   *
   * @default {found from the power in the monitor signal}
   */
  readonly start?: number;
}

/** {@linkcode StatedDrive} as read. */
export type ReadStatedDrive = ReadOptions<typeof statedDriveOptions>;

/** Options of {@linkcode findRamps}. */
export interface FindRampsOptions {
  /**
   * Part of each stroke left out at either end, where the drive turns round (1).
   *
   * @default {0.02}
   */
  turnRound?: number;
  /**
   * Part of each stroke left out after the fly-back of a sawtooth, where diode
   * and amplifier settle (1).
   *
   * @default {0.05}
   */
  settling?: number;
  /**
   * Current per voltage of a `"drive voltage"` channel, in A/V.
   *
   * @default {null}
   */
  currentPerVoltage?: number | string | null;
  /**
   * Current at a drive voltage of 0, in A.
   *
   * @default {0}
   */
  currentOffset?: number | string;
  /**
   * The drive waveform, where only the monitor was captured.
   *
   * @default {null}
   */
  drive?: StatedDrive | null;
  /**
   * Time constant with which the wavelength follows the current, in s; 0 takes
   * it to follow at once. With it, steps are counted against the current that
   * the wavelength has got to. See {@linkcode estimateThermalLag}.
   *
   * @default {0}
   */
  thermalTimeConstant?: number | string;
  /**
   * Part of the tuning that lags (1).
   *
   * @default {1}
   */
  thermalFraction?: number;
}

const leftOutPart = (doc: string) =>
  quantityOption({ doc, unit: "1", least: 0, most: 0.4, example: "2%" });

/** The options of {@linkcode findRamps}. */
export const rampSpec = {
  turnRound: optional(
    leftOutPart("Part of each stroke left out at either end (1)."),
    0.02,
  ),
  settling: optional(
    leftOutPart(
      "Part of each stroke left out after the fly-back of a sawtooth (1).",
    ),
    0.05,
  ),
  currentPerVoltage: benchOptions.currentPerVoltage,
  currentOffset: benchOptions.currentOffset,
  drive: optional(
    groupOption(
      "The drive waveform, where only the monitor was captured.",
      statedDriveOptions,
    ),
    null,
    "the drive channel",
  ),
  thermalTimeConstant: optional(
    optionOf.notNegative(
      "Time constant with which the wavelength follows the current, in s.",
      "s",
      "0.5ms",
    ),
    0,
    "0, it follows at once",
  ),
  thermalFraction: optional(
    optionOf.relative("Part of the tuning that lags (1)."),
    1,
  ),
} satisfies Record<keyof FindRampsOptions, Option>;

/** How ramps are found: {@linkcode FindRampsOptions} as read. */
export type RampSettings = Partial<ReadOptions<typeof rampSpec>>;

/** One stroke of the drive: a monotonic part of the ramp. */
export interface Stroke {
  /** Number of the stroke in the capture, from 0. */
  readonly index: number;
  /** Whether the current rises or falls. */
  readonly direction: "up" | "down";
  /** First sample used. */
  readonly start: number;
  /** Sample after the last one used. */
  readonly end: number;
  /**
   * Current at each sample used, smoothed along the stroke, in A; with a thermal
   * time constant the current that the wavelength has got to.
   */
  readonly current: Float64Array;
  /** Current that the power follows, in A; `null` where it is `current`. */
  readonly power: Float64Array | null;
  /**
   * Relative standard uncertainty of the change of the current along the stroke,
   * from the noise of its channel (1).
   */
  readonly currentRelativeUncertainty: number;
}

/** The ramps of a capture. */
export interface Ramps extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "range.ramps";
  /** Shape of the drive. */
  readonly shape: "triangle" | "sawtooth" | "sine" | "other";
  /** Ramps (periods) per second, in Hz; `NaN` value for a single stroke. */
  readonly frequency: Quantity;
  /** Current at the lower turning points, in A. */
  readonly lowCurrent: Quantity;
  /** Current at the upper turning points, in A. */
  readonly highCurrent: Quantity;
  /** Duration of a stroke, in s. */
  readonly strokeDuration: number;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** The strokes in use. */
    readonly strokes: readonly Stroke[];
    /** Turning points found, in samples. */
    readonly turningPoints: readonly number[];
    /** Strokes left out: fly-backs and parts of ramps. */
    readonly leftOut: number;
  };
}

/**
 * Finds the ramps of a capture from its drive channel (or from a stated
 * waveform): turning points, strokes, and the current along each stroke with
 * the channel's noise smoothed away. The samples next to the turning points are
 * left out (2 % of the stroke at either end, 5 % after a fly-back).
 *
 * @param capture The capture; needs a `"drive current"` channel, a
 * `"drive voltage"` channel with `currentPerVoltage`, or a stated drive.
 * @param options What to leave out, the conversion, a stated drive.
 * @returns Shape, frequency, ends of the ramp, strokes.
 * @throws {NotMeasurableError} If there is no drive or it does not ramp.
 *
 * @example
 * ```ts
 * import { findRamps, rampCurrent, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const ramps = findRamps(simulateCapture({
 *   distance: 0.2,
 *   current: rampCurrent({ low: 0.035, high: 0.045, frequency: 10 }),
 *   samplingRate: 20e3,
 *   duration: 0.5,
 * }));
 * expect(ramps.shape).toBe("triangle");
 * expect(ramps.frequency.value).toBeCloseTo(10, 2);
 * ```
 */
export function findRamps(
  capture: Capture,
  options: FindRampsOptions = {},
): Ramps & Shown {
  const task = "find ramps";
  requireCapture(capture, task);
  return rampsOf(capture, readOptions(rampSpec, options, task));
}

/** {@linkcode findRamps} with options that were read. */
export function rampsOf(
  capture: Capture,
  settings: RampSettings = {},
): Ramps & Shown {
  return findFirstRamps(capture, settings, Infinity);
}

/** {@linkcode findRamps} with the first strokes alone. */
export function findFirstRamps(
  capture: Capture,
  options: RampSettings,
  mostStrokes: number,
): Ramps & Shown {
  const { turnRound = 0.02, settling = 0.05 } = options;
  const { thermalTimeConstant = 0, thermalFraction = 1 } = options;
  const lags = thermalTimeConstant !== 0;
  // Smoothed first: the lagging course itself needs no smoothing then.
  const captured = driveOf(capture, options);
  const still = !lags
    ? null
    : rampsOf(capture, { ...options, thermalTimeConstant: 0, turnRound: 0 });
  const power = still === null ? null : wholeDrive(still, captured);
  const stillUncertainty = Math.max(
    0,
    ...still?.diagnostics.strokes.map((stroke) =>
      stroke.currentRelativeUncertainty
    ).slice(0, 16) ?? [],
  );
  const drive = power === null ? captured : lagging(
    power,
    thermalTimeConstant * capture.samplingRate,
    thermalFraction,
  );
  const raw = findStrokes(drive);
  if (raw.length === 0) {
    throw new NotMeasurableError(
      "no ramp",
      `Cannot find ramps as the drive current does not change: it stays at ${
        (1e3 * drive[0]!).toPrecision(4)
      } mA. Record while the ramp runs`,
    );
  }
  // What lags may turn round where the record starts, and the drive does not.
  const firstTurn = still?.diagnostics.turningPoints[0] ?? 0;
  const whole = raw.filter(({ complete, from }) =>
    complete && from >= firstTurn - 1
  );
  const pool = whole.length > 0 ? whole : raw;
  const median = (values: number[]) =>
    values.sort((a, b) => a - b)[Math.floor(values.length / 2)] ?? NaN;
  const length = (rising: boolean) =>
    median(
      pool.filter((stroke) => stroke.rising === rising)
        .map(({ from, to }) => to - from),
    );
  const [up, down] = [length(true), length(false)];
  const flyBack = up < 0.2 * down ? true : down < 0.2 * up ? false : null;

  const strokes: Stroke[] = [];
  const ends: { low: number; high: number }[] = [];
  let bend = 0;
  const columnsOf = createColumns();
  for (const stroke of pool) {
    if (strokes.length >= mostStrokes) break;
    if (stroke.rising === flyBack) continue;
    checkpoint(stroke.from / drive.length, work);
    const duration = stroke.to - stroke.from;
    const before = flyBack === null ? turnRound : Math.max(turnRound, settling);
    const start = Math.max(0, Math.ceil(stroke.from + before * duration));
    const end = Math.min(
      drive.length,
      Math.floor(stroke.to - turnRound * duration) + 1,
    );
    if (end - start < 8) continue;
    const { current, edges, curvature, relativeUncertainty } = lags
      ? { ...asItIs(drive, start, end), relativeUncertainty: stillUncertainty }
      : smoothCurrent(drive, start, end, stroke.from, stroke.to, columnsOf);
    bend = Math.max(bend, curvature);
    ends.push(edges);
    strokes.push({
      index: strokes.length,
      direction: stroke.rising ? "up" : "down",
      start,
      end,
      current,
      power: power && copyOf(power, work, start, end),
      currentRelativeUncertainty: relativeUncertainty,
    });
  }
  if (strokes.length === 0) {
    throw new NotMeasurableError(
      "no ramp",
      "Cannot find ramps as no stroke has 8 samples or more: raise the sampling rate or ramp more slowly",
    );
  }
  const warnings: Warning[] = [];
  if (whole.length === 0) {
    warnings.push(warn(
      "no-whole-ramp",
      "The capture holds no whole stroke between two turning points: what there is of a ramp is used. Record two ramps or more",
      "note",
    ));
  }
  if (options.drive) {
    const found = frequencyByPower(capture, options.drive);
    if (frequencyDiffers(options.drive, found)) {
      const own = `The power in the monitor signal turns at ${
        found.frequency.toPrecision(6)
      } Hz, and the stated drive at ${options.drive.frequency} Hz`;
      warnings.push(
        options.drive.start === undefined
          ? warn(
            "drive-frequency-found",
            `${own}: that of the power is used. Read it off the generator's counter, not off its knob`,
            "note",
          )
          : warn(
            "drive-frequency-differs",
            `${own}: the steps are off by as much. Leave 'start' out, and both are found`,
          ),
      );
    }
  }
  if (options.drive && options.drive.start === undefined) {
    warnings.push(warn(
      "drive-start-found",
      "Where the stated drive starts was found from the power in the monitor signal, which is taken to grow with the light: give 'start' if it is known, above all with an inverting amplifier",
      "note",
    ));
  }
  const turningPoints = raw.slice(1).map(({ from }) => from);
  // The first and last turning point have a part of a stroke on one side.
  const sound = turningPoints.length > 4
    ? turningPoints.slice(1, -1)
    : turningPoints;
  const periods: number[] = [];
  for (let k = 2; k < sound.length; k++) {
    periods.push((sound[k]! - sound[k - 2]!) / capture.samplingRate);
  }
  const [period, periodDeviation] = meanAndDeviation(periods);
  const [low, lowDeviation] = meanAndDeviation(ends.map(({ low }) => low));
  const [high, highDeviation] = meanAndDeviation(ends.map(({ high }) => high));
  return createResult({
    kind: "range.ramps" as const,
    shape: flyBack !== null
      ? "sawtooth" as const
      : bend < 0.02
      ? "triangle" as const
      : bend < 0.2
      ? "sine" as const
      : "other" as const,
    frequency: quantity(1 / period, periodDeviation / period ** 2, "Hz"),
    lowCurrent: quantity(low, lowDeviation, "A"),
    highCurrent: quantity(high, highDeviation, "A"),
    strokeDuration: median(
      pool.filter((s) => s.rising !== flyBack)
        .map(({ from, to }) => (to - from) / capture.samplingRate),
    ),
    warnings,
    provenance: provenance({
      method: "findRamps",
      captures: [capture.source],
      options: { turnRound, settling, thermalTimeConstant, thermalFraction },
      inputs: driveInputs(capture, options),
    }),
    diagnostics: {
      strokes,
      turningPoints,
      leftOut: raw.length - strokes.length,
    },
  });
}

function meanAndDeviation(values: readonly number[]): [number, number] {
  const n = values.length;
  if (n === 0) return [NaN, NaN];
  const mean = values.reduce((sum, value) => sum + value, 0) / n;
  if (n === 1) return [mean, 0];
  const squares = values.reduce((sum, value) => sum + (value - mean) ** 2, 0);
  return [mean, Math.sqrt(squares / (n - 1) / n)];
}
