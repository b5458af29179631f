import type { Capture } from "../capture/mod.ts";
import {
  groupOption,
  handedOption,
  inputsOf,
  type Option,
  optional,
  optionOf,
  quantityOption,
  readOptions,
  requireCapture,
} from "../options/mod.ts";
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
} from "../result/mod.ts";
import type { LevelCalibration } from "./calibrate_level.ts";
import { distanceAtLevel, type LevelDistance } from "./distance_at_level.ts";
import { transimpedanceOption } from "./level_samples.ts";
import { meanLevel } from "./mean_level.ts";

/** Options of {@linkcode measureLevel}. */
export interface MeasureLevelOptions {
  /**
   * The level against distance, for a distance.
   *
   * @default {null}
   */
  calibration?: LevelCalibration | null;
  /**
   * Distances between which the target is known to be, in m: picks one of several
   * stretches that reach the level.
   *
   * @default {null}
   */
  within?:
    | { readonly low: number | string; readonly high: number | string }
    | null;
  /**
   * Level without a target now, in A, where the calibration has one: the level is
   * corrected for a diode whose power has changed.
   *
   * @default {null}
   */
  emptyLevel?: number | string | null;
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

export const measureLevelSpec = {
  calibration: optional(
    handedOption<LevelCalibration>(
      "The level against distance.",
      "the result of calibrateLevel(…)",
      (value) =>
        typeof value === "object" && value !== null &&
        (value as { kind?: unknown }).kind === "level.calibration",
    ),
    null,
  ),
  within: optional(
    groupOption("Distances between which the target is known to be, in m.", {
      low: place("Least distance, in m."),
      high: place("Greatest distance, in m."),
    }),
    null,
    "anywhere",
  ),
  emptyLevel: optional(
    optionOf.finite("Level without a target now, in A.", "A", "200uA"),
    null,
  ),
  transimpedance: transimpedanceOption,
} satisfies Record<keyof MeasureLevelOptions, Option>;

/** A level of the monitor current, and the distance that it means. */
export interface LevelMeasurement extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "level.level";
  /** Mean level, in A, or in the unit of a channel in neither V nor A. */
  readonly level: Quantity;
  /** Standard deviation of the samples: fringes and noise, in the same unit. */
  readonly deviation: number;
  /**
   * Distance of the target, in m; `null` where it is not determined, and
   * `finding` says why.
   */
  readonly distance: Quantity | null;
  /** What the level says of the distance, in words. */
  readonly finding: string;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** The curve; `null` where none was given. */
    readonly calibration: LevelCalibration | null;
    /** Level after the correction for the diode's power. */
    readonly correctedLevel: number;
    /** Standard uncertainty that counts for the distance. */
    readonly levelStandardUncertainty: number;
    /** Distances that the level may mean, in m. */
    readonly candidates: readonly LevelDistance[];
  };
}

/**
 * Measures the mean level of the monitor current and, with a calibration, the
 * distance that it means. The distance is that at which the curve has the level;
 * its uncertainty comes from the ends of the distances at which the curve has the
 * level ± 2 u, where u holds the mean of the record, the repeatability of a
 * setting and the curve itself. The distance is not determined, and not guessed,
 * where several stretches of the curve reach the level, where ± 2 u leads beyond
 * the turn or the end of a stretch, and where no stretch reaches it.
 *
 * @param capture The capture, coupled with DC, with the amplifier and the diode
 * current of the calibration.
 * @param options The calibration; where the target is known to be.
 * @returns Level in A, distance in m or why there is none.
 * @throws {NotMeasurableError} If there is no monitor signal or too little of it.
 *
 * @example
 * ```ts
 * import { measureLevel, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: 0.05,
 *   samplingRate: 10e3,
 *   duration: 0.5,
 *   noise: { shot: true },
 * });
 * const { level, distance, finding } = measureLevel(capture);
 * expect(level.unit).toBe("A");
 * expect(distance).toBe(null);
 * expect(finding).toContain("no calibration");
 * ```
 */
export function measureLevel(
  capture: Capture,
  options: MeasureLevelOptions = {},
): LevelMeasurement & Shown {
  const task = "measure a level";
  requireCapture(capture, task);
  const read = readOptions(measureLevelSpec, options, task);
  const { calibration, within, emptyLevel, transimpedance } = read;
  const { level, deviation, warnings, scale } = meanLevel(
    capture,
    transimpedance,
    task,
  );
  const found: Warning[] = [...warnings];
  if (calibration !== null && calibration.unit !== level.unit) {
    throw new RangeError(
      `Cannot ${task} as the calibration is in ${calibration.unit} and the capture in ${level.unit}: read both with the same 'unit'`,
    );
  }
  const power = powerFactor(calibration, emptyLevel, found);
  const corrected = level.value * power;
  const u = Math.hypot(
    level.standardUncertainty * Math.abs(power),
    calibration?.repeatability ?? 0,
  );
  const { distance, finding, candidates } = calibration === null
    ? {
      distance: null,
      finding:
        "There is no calibration of the level: calibrateLevel(…) makes one",
      candidates: [],
    }
    : distanceAtLevel(calibration, corrected, u, within);
  if (calibration !== null && distance === null) {
    found.push(warn("distance-not-determined", finding));
  }
  for (const warning of calibration?.warnings ?? []) {
    if (warning.severity === "doubtful") found.push(warning);
  }
  return createResult<LevelMeasurement>({
    kind: "level.level",
    level,
    deviation,
    distance: distance === null ? null : quantity(
      distance.value,
      distance.standardUncertainty,
      "m",
    ),
    finding,
    warnings: found,
    provenance: provenance({
      method: "measureLevel",
      captures: [
        capture.source,
        ...(calibration?.provenance.captures ?? []),
      ],
      options: { within, emptyLevel, transimpedance },
      inputs: inputsOf(measureLevelSpec, options, read, scale.restsOn),
      sources: calibration?.provenance.sources ?? [],
    }),
    diagnostics: {
      calibration,
      correctedLevel: corrected,
      levelStandardUncertainty: u,
      candidates,
    },
  });
}

/** By how much the diode's power differs from that of the calibration. */
function powerFactor(
  calibration: LevelCalibration | null,
  emptyLevel: number | null,
  warnings: Warning[],
): number {
  if (emptyLevel === null || calibration === null) return 1;
  if (calibration.emptyLevel === null) {
    warnings.push(warn(
      "no-empty-level",
      "The calibration has no level without a target, so that 'emptyLevel' corrects nothing: give it to calibrateLevel too",
      "note",
    ));
    return 1;
  }
  const factor = calibration.emptyLevel / emptyLevel;
  if (!(factor > 0.5 && factor < 2)) {
    throw new RangeError(
      `Cannot measure a level as the level without a target is ${emptyLevel} A now and was ${calibration.emptyLevel} A: that is another bench. Calibrate again`,
    );
  }
  if (Math.abs(factor - 1) > 0.02) {
    warnings.push(warn(
      "power-changed",
      `The diode gives ${inDigits(100 * Math.abs(1 / factor - 1), 2)} % ${
        factor < 1 ? "more" : "less"
      } light than at the calibration: the level is corrected for it, and what the target adds is taken to go with the power`,
      "note",
    ));
  }
  return factor;
}
