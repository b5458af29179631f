import type { Capture } from "../capture/mod.ts";
import { requireChannel } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import { requireCapture, requireResult } from "../options/mod.ts";
import {
  createResult,
  provenance,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import {
  averagedLevels,
  type PresenceCalibration,
} from "./calibrate_presence.ts";

/** One stay of a target. */
export interface PresenceStay {
  /** When it came, in s after the first sample. */
  readonly from: number;
  /** When it went, in s; the end of the record where it was still there. */
  readonly to: number;
  /** Whether it was there already at the first decision. */
  readonly fromStart: boolean;
  /** Whether it was still there at the last decision. */
  readonly toEnd: boolean;
  /** Level farthest from the empty one, in the unit of the calibration. */
  readonly peakLevel: number;
}

/** When a target was there. */
export interface Presence extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "level.presence";
  /** Unit of the levels. */
  readonly unit: string;
  /** The stays, in order. */
  readonly stays: readonly PresenceStay[];
  /** Part of the time in which a target was there (1). */
  readonly presentPart: number;
  /** Whether a target is there at the end. */
  readonly presentAtEnd: boolean;
  /** Standard uncertainty of each time, in s. */
  readonly timeStandardUncertainty: number;
  /** False alarms that the noise alone makes in a record this long (1). */
  readonly expectedFalseAlarms: number;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Averaged levels, in `unit`. */
    readonly levels: Float64Array;
    /** Whether a target was taken to be there, at each of them. */
    readonly present: readonly boolean[];
    /** The threshold that decided. */
    readonly calibration: PresenceCalibration;
  };
}

/** Whether a level means a target; keeps the state where it lies between. */
export function decide(
  { change, threshold, release }: PresenceCalibration,
  level: number,
  before: boolean,
): boolean {
  // A level that is missing says nothing.
  if (level !== level) return before;
  const sign = change === "rise" ? 1 : -1;
  return before ? sign * (level - release) > 0 : sign * (level - threshold) > 0;
}

/**
 * Finds when a target was there: presence begins where the averaged level passes
 * the threshold, and ends where it comes back past the release.
 *
 * @param capture The capture, coupled with DC, with the amplifier and the diode
 * current of the calibration.
 * @param calibration From `calibratePresence`.
 * @returns The stays, with times in s.
 * @throws {NotMeasurableError} If the capture is shorter than one average.
 *
 * @example
 * ```ts
 * import { calibratePresence, createCapture, findPresence } from "fringebook";
 * import { expect } from "vitest";
 *
 * // 1 V without a target, 1.1 V with it, some noise.
 * const bench = (there: (time: number) => boolean) =>
 *   createCapture([{
 *     name: "monitor",
 *     role: "monitor signal",
 *     unit: "V",
 *     samples: Float64Array.from({ length: 20_000 }, (_, i) =>
 *       (there(i / 1e4) ? 1.1 : 1) + 0.01 * Math.sin(i * i)),
 *   }], { samplingRate: 10_000 });
 * const calibration = calibratePresence(bench(() => false));
 * const { stays } = findPresence(
 *   bench((time) => time > 0.5 && time < 1.5),
 *   calibration,
 * );
 * expect(stays.length).toBe(1);
 * expect(stays[0]!.from).toBeCloseTo(0.5, 1);
 * ```
 */
export function findPresence(
  capture: Capture,
  calibration: PresenceCalibration,
): Presence & Shown {
  const task = "find presence";
  requireCapture(capture, task);
  requireResult(
    calibration,
    "level.threshold",
    "a threshold",
    "calibratePresence(empty, …)",
    task,
  );
  const { averagingTime, factor, unit } = calibration;
  const channel = requireChannel(capture, "monitor signal");
  const own = channel.unit === "V" ? "A" : channel.unit;
  if (own !== unit) {
    throw new RangeError(
      `Cannot ${task} as the monitor channel '${channel.name}' is in ${channel.unit} and the threshold in ${unit}: read both captures with the same 'unit'`,
    );
  }
  const levels = averagedLevels(capture, averagingTime, factor);
  if (levels.length === 0) {
    throw new NotMeasurableError(
      "record too short",
      `Cannot ${task} as the capture is shorter than the ${averagingTime} s over which a level is averaged: record longer`,
    );
  }
  const length = Math.max(1, Math.round(averagingTime * capture.samplingRate));
  const timeOf = (block: number) => block * length / capture.samplingRate;
  const sign = calibration.change === "rise" ? 1 : -1;
  const present: boolean[] = [];
  const stays: PresenceStay[] = [];
  let open: { from: number; fromStart: boolean; peak: number } | null = null;
  let before = false;
  const close = (to: number, toEnd: boolean) => {
    const { from, fromStart, peak } = open!;
    stays.push({ from, to, fromStart, toEnd, peakLevel: peak });
    open = null;
  };
  levels.forEach((level, k) => {
    const now = decide(calibration, level, before);
    if (now && open === null) {
      open = { from: timeOf(k), fromStart: k === 0, peak: level };
    } else if (!now && open !== null) close(timeOf(k), false);
    if (open !== null && sign * (level - open.peak) > 0) open.peak = level;
    present.push(now);
    before = now;
  });
  if (open !== null) close(timeOf(levels.length), true);
  return createResult<Presence>({
    kind: "level.presence",
    unit,
    stays,
    presentPart: present.filter(Boolean).length / present.length,
    presentAtEnd: before,
    timeStandardUncertainty: timeOf(1) / Math.sqrt(12),
    expectedFalseAlarms: calibration.falseAlarmProbability * levels.length,
    warnings: warningsOf(calibration, levels, sign),
    provenance: provenance({
      method: "findPresence",
      captures: [capture.source, ...calibration.provenance.captures],
      options: { ...calibration.provenance.options },
      inputs: calibration.provenance.inputs,
      sources: calibration.provenance.sources,
    }),
    diagnostics: { levels, present, calibration },
  });
}

/** A level on the other side of the empty one: the bench is another. */
function warningsOf(
  calibration: PresenceCalibration,
  levels: Float64Array,
  sign: number,
): Warning[] {
  const { emptyLevel, threshold, change, warnings } = calibration;
  const limit = 2 * emptyLevel.value - threshold;
  const beyond = levels.filter((level) => sign * (limit - level) > 0).length;
  const more = beyond > 0.1 * levels.length
    ? [warn(
      "level-beyond-empty",
      `In ${
        Math.round(100 * beyond / levels.length)
      } % of the record the level lies on the other side of the empty one, where a target that makes it ${change} cannot bring it: the diode's power, the amplifier or the room's light changed. Calibrate again`,
    )]
    : [];
  return [
    ...warnings.filter(({ code }) =>
      ["level-drifts", "no-level", "no-unit"].includes(code)
    ),
    ...more,
  ];
}
