import { type Capture, requireChannel } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import {
  benchOptions,
  type Option,
  optional,
  optionOf,
  quantityOption,
  readOptions,
  requireCapture,
} from "../options/mod.ts";
import { quantity } from "../result/mod.ts";
import type { LevelPoint } from "./calibrate_level.ts";
import {
  blockMeans,
  levelScale,
  momentsOf,
  transimpedanceOption,
} from "./level_samples.ts";

/** Options of {@linkcode levelsOfSweep}. */
export interface LevelsOfSweepOptions {
  /** Distance at the first sample, in m. */
  from: number | string;
  /** Distance at the last sample, in m. */
  to: number | string;
  /**
   * Standard uncertainty of a distance on the way, in m: how steadily the target
   * was moved.
   *
   * @default {0}
   */
  standardUncertainty?: number | string;
  /**
   * Points of the curve (1).
   *
   * @default {24}
   */
  points?: number;
  /**
   * Transimpedance of the monitor's amplifier, in V/A, negative if it inverts; not
   * used where the channel is in A.
   *
   * @default {100e3}
   */
  transimpedance?: number | string;
}

const place = (doc: string) =>
  quantityOption({ doc, unit: "m", least: 0, most: 100, example: "30mm" });

export const levelsOfSweepSpec = {
  from: place("Distance at the first sample, in m."),
  to: place("Distance at the last sample, in m."),
  standardUncertainty: optional(
    optionOf.lengthUncertainty(
      "Standard uncertainty of a distance on the way, in m.",
      "0.5mm",
    ),
    0,
    benchOptions.radiusStandardUncertainty.whenMissing!,
  ),
  points: optional(
    optionOf.whole("Points of the curve (1).", { least: 5, most: 400 }),
    24,
  ),
  transimpedance: transimpedanceOption,
} satisfies Record<keyof LevelsOfSweepOptions, Option>;

/**
 * The points of a level curve from one slow, even sweep of the target: the record
 * is cut into parts, and each part is a point at its middle. The fringes that run
 * by while the target moves average out.
 *
 * @param capture The capture of the sweep, coupled with DC.
 * @param options Distances at both ends, in m.
 * @returns Points for `calibrateLevel`.
 * @throws {NotMeasurableError} If the record is too short for the points.
 *
 * @example
 * ```ts
 * import { createCapture } from "fringebook";
 * import { levelsOfSweep } from "fringebook/level";
 * import { expect } from "vitest";
 *
 * const sweep = createCapture([{
 *   name: "monitor",
 *   role: "monitor signal",
 *   unit: "V",
 *   samples: Float64Array.from({ length: 1000 }, (_, i) => 1 + 1 / (i + 100)),
 * }], { samplingRate: 100 });
 * const points = levelsOfSweep(sweep, { from: "10mm", to: "60mm" });
 * expect(points.length).toBe(24);
 * ```
 */
export function levelsOfSweep(
  capture: Capture,
  options: LevelsOfSweepOptions,
): LevelPoint[] {
  const task = "read levels off a sweep";
  requireCapture(capture, task);
  const { from, to, standardUncertainty, points, transimpedance } = readOptions(
    levelsOfSweepSpec,
    options,
    task,
  );
  if (from === to) {
    throw new RangeError(
      `Cannot ${task} as it begins and ends at ${from} m: give the distances at both ends`,
    );
  }
  const scale = levelScale(capture, transimpedance, task);
  const { samples } = requireChannel(capture, "monitor signal");
  const length = Math.floor(samples.length / points);
  if (length < 8) {
    throw new NotMeasurableError(
      "record too short",
      `Cannot ${task} as ${samples.length} samples are too few for ${points} points: record faster, or take fewer 'points'`,
    );
  }
  return Array.from({ length: points }, (_, k) => {
    const part = samples.subarray(k * length, (k + 1) * length);
    const middle = (k + 0.5) * length / samples.length;
    const fine = blockMeans(part, Math.max(1, length >> 3), scale.factor);
    const { count, mean } = momentsOf(fine);
    // Within a part the level goes on: differences of neighbours are its noise.
    let squares = 0;
    for (let i = 1; i < fine.length; i++) {
      squares += (fine[i]! - fine[i - 1]!) ** 2;
    }
    const deviation = Math.sqrt(squares / 2 / Math.max(1, fine.length - 1));
    return {
      distance: from + (to - from) * middle,
      standardUncertainty,
      swept: true,
      capture,
      level: quantity(mean, deviation / Math.sqrt(count), scale.unit),
    };
  });
}
