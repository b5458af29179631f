import {
  benchOptions,
  type Option,
  readOptions,
  requireNumbers,
  requireResult,
} from "../options/mod.ts";
import type { PresenceCalibration } from "./calibrate_presence.ts";
import { decide } from "./find_presence.ts";

/** Options of {@linkcode createPresenceTracker}. */
export interface PresenceTrackerOptions {
  /** Samples per second, in Hz. */
  samplingRate: number | string;
}

export const presenceTrackerSpec = {
  samplingRate: benchOptions.samplingRate,
} satisfies Record<keyof PresenceTrackerOptions, Option>;

/** One decision of a tracker. */
export interface PresenceDecision {
  /** End of the average, in s after the first sample. */
  readonly time: number;
  /** Averaged level, in the unit of the calibration. */
  readonly level: number;
  /** Whether a target is there. */
  readonly present: boolean;
  /** Whether that changed with this decision. */
  readonly changed: boolean;
  /**
   * How far the level is on its way from the empty level, 0, to the threshold,
   * 1 (1).
   */
  readonly nearness: number;
}

/** Presence while the samples come in. */
export interface PresenceTracker {
  /** Takes samples of the monitor channel; gives out the decisions they make. */
  push(samples: ArrayLike<number>): PresenceDecision[];
  /** The last decision, or `null` before the first. */
  readonly last: PresenceDecision | null;
}

/**
 * Says whether a target is there while the samples come in, in constant memory:
 * one decision for each averaging time of the calibration.
 *
 * @param calibration From `calibratePresence`.
 * @param options Sampling rate in Hz.
 * @returns The tracker; it takes samples in the unit of the calibrated channel.
 *
 * @example
 * ```ts
 * import { calibratePresence, createCapture } from "fringebook";
 * import { createPresenceTracker } from "fringebook/level";
 * import { expect } from "vitest";
 *
 * const samples = Float64Array.from(
 *   { length: 20_000 },
 *   (_, i) => 1 + 0.01 * Math.sin(i * i),
 * );
 * const empty = createCapture([
 *   { name: "monitor", role: "monitor signal", unit: "V", samples },
 * ], { samplingRate: 10_000 });
 * const tracker = createPresenceTracker(calibratePresence(empty), {
 *   samplingRate: 10_000,
 * });
 * tracker.push(samples);
 * expect(tracker.last?.present).toBe(false);
 * tracker.push(samples.map((value) => 1.1 * value));
 * expect(tracker.last?.present).toBe(true);
 * ```
 */
export function createPresenceTracker(
  calibration: PresenceCalibration,
  options: PresenceTrackerOptions,
): PresenceTracker {
  const task = "track presence";
  requireResult(
    calibration,
    "level.threshold",
    "a threshold",
    "calibratePresence(empty, …)",
    task,
  );
  const { samplingRate } = readOptions(presenceTrackerSpec, options, task);
  const { averagingTime, factor, emptyLevel, threshold } = calibration;
  const length = Math.max(1, Math.round(averagingTime * samplingRate));
  const way = threshold - emptyLevel.value;
  let [sum, count, taken] = [0, 0, 0];
  let last: PresenceDecision | null = null;
  return {
    push(samples) {
      requireNumbers(samples, "samples", task);
      const decisions: PresenceDecision[] = [];
      for (let i = 0; i < samples.length; i++) {
        const value = samples[i]!;
        taken++;
        if (value - value === 0) {
          sum += value;
          count++;
        }
        if (taken % length !== 0) continue;
        const level = count > 0 ? factor * sum / count : NaN;
        [sum, count] = [0, 0];
        const before: boolean = last?.present ?? false;
        const present = decide(calibration, level, before);
        last = {
          time: taken / samplingRate,
          level,
          present,
          changed: present !== before,
          nearness: (level - emptyLevel.value) / way,
        };
        decisions.push(last);
      }
      return decisions;
    },
    get last() {
      return last;
    },
  };
}
