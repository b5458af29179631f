import { type Capture, findChannel } from "../capture/mod.ts";
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
import { evenly, legendreColumns, solveColumns } from "./normal_equations.ts";
import { findStrokes } from "./turning_points.ts";

/** A drive waveform that is known but was not captured. */
export interface StatedDrive {
  /** Shape of the drive. */
  readonly shape: "triangle" | "sawtooth" | "sine";
  /** Ramps (periods) per second, in Hz. */
  readonly frequency: number;
  /** Lowest current, in A. */
  readonly low: number;
  /** Highest current, in A. */
  readonly high: number;
  /** Part of the period already over at the first sample (1). @default {0} */
  readonly start?: number;
}

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
  currentPerVoltage?: number | null;
  /**
   * Current at a drive voltage of 0, in A.
   *
   * @default {0}
   */
  currentOffset?: number;
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
  thermalTimeConstant?: number;
  /**
   * Part of the tuning that lags (1).
   *
   * @default {1}
   */
  thermalFraction?: number;
}

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
  /** Current at each sample used, smoothed along the stroke, in A. */
  readonly current: Float64Array;
}

/** The ramps of a capture. */
export interface Ramps extends Result {
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
  const { turnRound = 0.02, settling = 0.05 } = options;
  for (
    const [name, part] of [["turnRound", turnRound], [
      "settling",
      settling,
    ]] as const
  ) {
    if (!(part >= 0 && part < 0.4)) {
      throw new RangeError(
        `Cannot find ramps as '${name}' must lie between 0 and 0.4: current value is ${part}`,
      );
    }
  }
  const { thermalTimeConstant = 0, thermalFraction = 1 } = options;
  const drive = lagging(
    driveOf(capture, options),
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
  const whole = raw.filter(({ complete }) => complete);
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
  for (const stroke of pool) {
    if (stroke.rising === flyBack) continue;
    const duration = stroke.to - stroke.from;
    const before = flyBack === null ? turnRound : Math.max(turnRound, settling);
    const start = Math.max(0, Math.ceil(stroke.from + before * duration));
    const end = Math.min(
      drive.length,
      Math.floor(stroke.to - turnRound * duration) + 1,
    );
    if (end - start < 8) continue;
    const { current, edges, curvature } = smoothCurrent(
      drive,
      start,
      end,
      stroke.from,
      stroke.to,
    );
    bend = Math.max(bend, curvature);
    ends.push(edges);
    strokes.push({
      index: strokes.length,
      direction: stroke.rising ? "up" : "down",
      start,
      end,
      current,
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
    }),
    diagnostics: {
      strokes,
      turningPoints,
      leftOut: raw.length - strokes.length,
    },
  });
}

/** The drive current of a capture, in A. */
function driveOf(capture: Capture, options: FindRampsOptions): Float64Array {
  const { currentPerVoltage = null, currentOffset = 0, drive = null } = options;
  if (drive !== null) return statedCurrent(capture, drive);
  const current = findChannel(capture, "drive current");
  const voltage = findChannel(capture, "drive voltage");
  const channel = current ?? voltage;
  if (channel === null) {
    throw new NotMeasurableError(
      "no drive",
      `Cannot find ramps as the capture has neither a drive current nor a drive voltage channel: it has ${
        capture.channels.map(({ name, role }) => `'${name}' (${role})`)
          .join(", ")
      }. Give the channel's role, or state the waveform with 'drive'`,
    );
  }
  if (current === null && currentPerVoltage === null) {
    throw new RangeError(
      `Cannot find ramps as channel '${channel.name}' is a drive voltage and 'currentPerVoltage' is missing: give it in A/V`,
    );
  }
  const samples = Float64Array.from(channel.samples);
  if (current === null) {
    for (let i = 0; i < samples.length; i++) {
      samples[i] = currentOffset + currentPerVoltage! * samples[i]!;
    }
  }
  bridgeGaps(samples, channel.name);
  return samples;
}

/**
 * The current that the wavelength has got to: a part of it lags by one pole. The
 * record is run through twice, so that it starts as it would go on.
 */
export function lagging(
  drive: Float64Array,
  samples: number,
  fraction: number,
): Float64Array {
  if (!(samples > 0)) {
    if (samples === 0) return drive;
    throw new RangeError(
      `Cannot find ramps as 'thermalTimeConstant' must not be negative: current value in samples is ${samples}`,
    );
  }
  const keep = Math.exp(-1 / samples);
  let state = drive.reduce((sum, value) => sum + value, 0) / drive.length;
  for (const value of drive) state = value + keep * (state - value);
  return drive.map((value) => {
    state = value + keep * (state - value);
    return value + fraction * (state - value);
  });
}

/** Replaces missing samples by a straight line between their neighbours. */
function bridgeGaps(samples: Float64Array, name: string): void {
  let last = -1;
  let missing = 0;
  for (let i = 0; i < samples.length; i++) {
    if (!Number.isFinite(samples[i])) {
      missing++;
      continue;
    }
    if (last < i - 1 && last >= 0) {
      for (let k = last + 1; k < i; k++) {
        samples[k] = samples[last]! +
          (samples[i]! - samples[last]!) * (k - last) / (i - last);
      }
    } else if (last === -1 && i > 0) samples.fill(samples[i]!, 0, i);
    last = i;
  }
  if (missing > 0.1 * samples.length) {
    throw new NotMeasurableError(
      "missing samples",
      `Cannot find ramps as ${missing} of the ${samples.length} samples of '${name}' are missing: record it again`,
    );
  }
  if (last < samples.length - 1) samples.fill(samples[last]!, last + 1);
}

function statedCurrent(capture: Capture, drive: StatedDrive): Float64Array {
  const { shape, frequency, low, high, start = 0 } = drive;
  if (!(frequency > 0) || !(high > low)) {
    throw new RangeError(
      `Cannot find ramps as the stated drive must have a positive 'frequency' and 'high' above 'low': current values are ${frequency} Hz, ${low} A, ${high} A`,
    );
  }
  return Float64Array.from({ length: capture.sampleCount }, (_, i) => {
    const turns = i * frequency / capture.samplingRate + start;
    const part = turns - Math.floor(turns);
    const rise = shape === "sawtooth"
      ? part
      : shape === "triangle"
      ? 1 - Math.abs(2 * part - 1)
      : (1 - Math.cos(2 * Math.PI * part)) / 2;
    return low + (high - low) * rise;
  });
}

/**
 * Current along a stroke as a polynomial of time, of the lowest order that
 * leaves no more than the channel's own noise.
 */
function smoothCurrent(
  drive: Float64Array,
  start: number,
  end: number,
  from: number,
  to: number,
) {
  const count = end - start;
  const y = drive.slice(start, end);
  const u = evenly(count);
  let noise = 0;
  for (let i = 2; i < count; i++) {
    noise += (y[i]! - 2 * y[i - 1]! + y[i - 2]!) ** 2 / 6;
  }
  noise = Math.sqrt(noise / Math.max(1, count - 2));
  const span = Math.abs(y[count - 1]! - y[0]!);
  const limit = Math.max(1.3 * noise, 1e-7 * span);
  let fit = solveColumns(legendreColumns(u, 1), y)!;
  const rms = (sum: number) => Math.sqrt(sum / count);
  const curvature = Math.max(...fit.residuals.map(Math.abs)) / (span || 1);
  let order = 1;
  while (order < 9 && rms(fit.residualSum) > limit && count > 4 * order) {
    order += 2;
    fit = solveColumns(legendreColumns(u, order), y)!;
  }
  const current = y.map((value, i) => value - fit.residuals[i]!);
  // The ends of the ramp, where the fitted course reaches the turning points.
  const at = (sample: number) => {
    const x = Float64Array.of(2 * (sample - start) / (count - 1) - 1);
    return legendreColumns(x, order).reduce(
      (sum, column, k) => sum + column[0]! * fit.coefficients[k]!,
      0,
    );
  };
  const [a, b] = [at(from), at(to)];
  return {
    current,
    curvature,
    edges: { low: Math.min(a, b), high: Math.max(a, b) },
  };
}

function meanAndDeviation(values: readonly number[]): [number, number] {
  const n = values.length;
  if (n === 0) return [NaN, NaN];
  const mean = values.reduce((sum, value) => sum + value, 0) / n;
  if (n === 1) return [mean, 0];
  const squares = values.reduce((sum, value) => sum + (value - mean) ** 2, 0);
  return [mean, Math.sqrt(squares / (n - 1) / n)];
}
