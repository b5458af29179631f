import type { Capture } from "../capture/mod.ts";
import {
  inputsOf,
  isCaptureLike,
  type Option,
  optional,
  optionOf,
  readOptions,
  requireFields,
  requireRecords,
} from "../options/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import {
  createResult,
  inDigits,
  provenance,
  type Quantity,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import {
  type CurvePoint,
  drawBranches,
  type DrawnBranch,
  medianOf,
  missesOf,
  missFactor,
} from "./branches.ts";
import { transimpedanceOption } from "./level_samples.ts";
import { meanLevel } from "./mean_level.ts";

/** The level at one known distance. */
export interface LevelPoint {
  /** The known distance, in m. */
  readonly distance: number;
  /** Its standard uncertainty, in m. */
  readonly standardUncertainty: number;
  /** Capture taken there, coupled with DC. */
  readonly capture?: Capture;
  /** Level already measured, such as a meter's; used instead of `capture`. */
  readonly level?: Pick<Quantity, "value" | "standardUncertainty" | "unit">;
  /** Whether the level is an average over fringes that ran by. */
  readonly swept?: boolean;
}

/** Options of {@linkcode calibrateLevel}. */
export interface CalibrateLevelOptions {
  /**
   * Transimpedance of the monitor's amplifier, in V/A, negative if it inverts; not
   * used where the channel is in A.
   *
   * @default {100e3}
   */
  transimpedance?: number | string;
  /**
   * Standard deviation with which the level comes back when the target is set to
   * the same distance again, in A: the fringe on which it happens to stand, its
   * tilt, its grain.
   *
   * @default {from the scatter of the points about the curve}
   */
  repeatability?: number | string | null;
  /**
   * Level without a target at the time of the calibration, in A: with it,
   * `measureLevel` corrects for a diode whose power has changed.
   *
   * @default {null}
   */
  emptyLevel?: number | string | null;
}

export const calibrateLevelSpec = {
  transimpedance: transimpedanceOption,
  repeatability: optional(
    optionOf.notNegative(
      "Standard deviation with which the level comes back at one distance, in A.",
      "A",
      "0.1uA",
    ),
    null,
    "from the scatter of the points about the curve",
  ),
  emptyLevel: optional(
    optionOf.finite("Level without a target, in A.", "A", "200uA"),
    null,
  ),
} satisfies Record<keyof CalibrateLevelOptions, Option>;

/** Monitor current against distance. */
export interface LevelCalibration extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "level.calibration";
  /** Unit of the levels: `"A"`, or that of a channel in neither V nor A. */
  readonly unit: string;
  /** Stretches over which the level tells the distance, in order. */
  readonly branches: readonly DrawnBranch[];
  /** Range of the known distances, in m. */
  readonly distanceRange: { readonly low: number; readonly high: number };
  /** Standard deviation from one setting of a distance to the next, in `unit`. */
  readonly repeatability: number;
  /** Level without a target, in `unit`; `null` where it was not given. */
  readonly emptyLevel: number | null;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** The points in order of distance, those at one distance averaged. */
    readonly points: readonly CurvePoint[];
    /** How far each point lies from the curve through the others, in `unit`. */
    readonly misses: Float64Array;
    /** Whether the repeatability was stated, or found from what. */
    readonly repeatabilityFrom: "stated" | "repeats" | "scatter";
  };
}

const task = "calibrate a level";

/**
 * Calibrates the level of the monitor current against distance, from captures at
 * known distances (or from levels already read off a meter). The curve is drawn
 * through the points without extremes of its own (Fritsch, Butland 1984), apart
 * for each stretch over which the level only rises or only falls; where it turns
 * round by more than its noise, a new stretch begins.
 *
 * The noise is not that of the record alone: a target at rest stands on one place
 * of a fringe, and on another the next time. How much that matters is found from
 * distances that were set more than once, else from the scatter of the points
 * about the curve.
 *
 * @param points At least 5 known distances with their captures or levels.
 * @param options Gain of the amplifier in V/A, repeatability in A.
 * @returns The curve by stretches.
 * @throws {RangeError} If there are fewer than 5 distances, or units differ.
 *
 * Source: Fritsch and Butland 1984 (from memory); isotonic least squares,
 * Barlow et al. 1972 (from memory).
 *
 * @example
 * ```ts
 * import { calibrateLevel, quantity } from "fringebook";
 * import { expect } from "vitest";
 *
 * const points = [10, 15, 20, 30, 40, 60, 80].map((millimetres) => ({
 *   distance: millimetres / 1000,
 *   standardUncertainty: 1e-4,
 *   level: quantity(2e-4 + 1e-8 / (millimetres / 1000) ** 2, 1e-7, "A"),
 * }));
 * const { branches } = calibrateLevel(points);
 * expect(branches.length).toBe(1);
 * expect(branches[0]!.direction).toBe("falls");
 * ```
 */
export function calibrateLevel(
  points: readonly LevelPoint[],
  options: CalibrateLevelOptions = {},
): LevelCalibration & Shown {
  requireRecords(points, "points", ["distance", "standardUncertainty"], task);
  const read = readOptions(calibrateLevelSpec, options, task);
  const warnings: Warning[] = [];
  const restsOn = new Set<string>();
  const readings = points.map((point, k) => {
    checkpoint(k / points.length, task);
    return readingOf(point, k, read.transimpedance, warnings, restsOn);
  });
  const unit = readings[0]?.unit ?? "A";
  const other = readings.find((reading) => reading.unit !== unit);
  if (other !== undefined) {
    throw new RangeError(
      `Cannot ${task} as the levels have different units: '${unit}' and '${other.unit}'`,
    );
  }
  const grouped = groupByDistance(readings);
  if (grouped.points.length < 5) {
    throw new RangeError(
      `Cannot ${task} from ${grouped.points.length} distances: take at least 5, closest where the level changes most`,
    );
  }
  const curvePoints = grouped.points;
  const misses = missesOf(curvePoints);
  const repeatabilityFrom = read.repeatability !== null
    ? "stated" as const
    : grouped.repeats >= 3
    ? "repeats" as const
    : "scatter" as const;
  const repeatability = repeatabilityFrom === "stated"
    ? read.repeatability!
    : repeatabilityFrom === "repeats"
    ? grouped.scatter
    : scatterOf(misses);
  const branches = drawBranches(curvePoints, repeatability);
  if (branches.length === 0) {
    warnings.push(warn(
      "no-branch",
      `The level nowhere changes by more than its scatter of ${
        repeatability.toPrecision(2)
      } ${unit}: it does not tell the distance. Bring the target nearer, use a retroreflecting sheet, or average over moving fringes`,
    ));
  }
  if (branches.length > 1) {
    warnings.push(warn(
      "turns-round",
      `The level turns round at ${
        branches.slice(1).map(({ distances }) =>
          `${inDigits(1e3 * distances.low, 4)} mm`
        ).join(", ")
      }: near there it tells no distance, and a level that two stretches reach needs 'within'`,
      "note",
    ));
  }
  if (repeatabilityFrom === "scatter" && curvePoints.length < 8) {
    warnings.push(warn(
      "few-points",
      `The scatter was found from ${curvePoints.length} points: set three of the distances twice, or give 'repeatability'`,
      "note",
    ));
  }
  if (
    repeatabilityFrom === "scatter" &&
    points.some(({ swept }) => swept === true)
  ) {
    warnings.push(warn(
      "fringes-averaged-out",
      "The curve comes from a sweep, in which the fringes average out, and a target at rest stands on one place of a fringe: for such a one give 'repeatability', the amplitude of the fringes over √2",
      "note",
    ));
  }
  return createResult<LevelCalibration>({
    kind: "level.calibration",
    unit,
    branches,
    distanceRange: {
      low: curvePoints[0]!.distance,
      high: curvePoints.at(-1)!.distance,
    },
    repeatability,
    emptyLevel: read.emptyLevel,
    warnings,
    provenance: provenance({
      method: "calibrateLevel",
      captures: [
        ...new Set(
          points.flatMap(({ capture }) =>
            capture === undefined ? [] : [capture]
          ),
        ),
      ].map(({ source }) => source),
      options: { ...read },
      inputs: inputsOf(calibrateLevelSpec, options, read, [...restsOn]),
      sources: [
        "Fritsch and Butland 1984 (from memory)",
        "Barlow et al. 1972 (from memory)",
      ],
    }),
    diagnostics: { points: curvePoints, misses, repeatabilityFrom },
  });
}

interface Reading extends CurvePoint {
  readonly unit: string;
}

function readingOf(
  point: LevelPoint,
  k: number,
  transimpedance: number,
  warnings: Warning[],
  restsOn: Set<string>,
): Reading {
  const { distance, standardUncertainty } = point;
  if (!(Number.isFinite(distance) && standardUncertainty >= 0)) {
    throw new RangeError(
      `Cannot ${task} as point ${
        k + 1
      } has the distance ${distance} m with the standard uncertainty ${standardUncertainty} m: give numbers in m`,
    );
  }
  const place = {
    distance,
    distanceStandardUncertainty: standardUncertainty,
  };
  if (point.level !== undefined) {
    requireFields(
      point.level,
      `points[${k}].level`,
      ["value", "standardUncertainty", "unit"],
      task,
    );
    const { value, standardUncertainty: u, unit } = point.level;
    if (!(Number.isFinite(value) && u >= 0)) {
      throw new RangeError(
        `Cannot ${task} as point ${
          k + 1
        } has the level ${value} ± ${u} ${unit}`,
      );
    }
    return { ...place, level: value, levelStandardUncertainty: u, unit };
  }
  if (!isCaptureLike(point.capture)) {
    throw new TypeError(
      `Cannot ${task} as point ${
        k + 1
      } has neither 'capture' nor 'level': give a capture, or { value, standardUncertainty, unit: "A" }`,
    );
  }
  const { level, warnings: found, scale } = meanLevel(
    point.capture!,
    transimpedance,
    task,
  );
  for (const name of scale.restsOn) restsOn.add(name);
  for (const warning of found) {
    if (!warnings.some(({ code }) => code === warning.code)) {
      warnings.push(warning);
    }
  }
  return {
    ...place,
    level: level.value,
    levelStandardUncertainty: level.standardUncertainty,
    unit: level.unit,
  };
}

/** Points in order of distance; those at one distance become one. */
function groupByDistance(readings: readonly Reading[]): {
  points: CurvePoint[];
  repeats: number;
  scatter: number;
} {
  const sorted = [...readings].sort((a, b) => a.distance - b.distance);
  const groups: Reading[][] = [];
  for (const reading of sorted) {
    const last = groups.at(-1);
    if (last !== undefined && last[0]!.distance === reading.distance) {
      last.push(reading);
    } else groups.push([reading]);
  }
  let squares = 0;
  let repeats = 0;
  const points = groups.map((group): CurvePoint => {
    const count = group.length;
    const level = group.reduce((sum, each) => sum + each.level, 0) / count;
    for (const each of group) squares += (each.level - level) ** 2;
    repeats += count - 1;
    return {
      distance: group[0]!.distance,
      distanceStandardUncertainty: group[0]!.distanceStandardUncertainty,
      level,
      levelStandardUncertainty: Math.hypot(
        ...group.map((each) => each.levelStandardUncertainty),
      ) / count,
    };
  });
  return { points, repeats, scatter: Math.sqrt(squares / repeats) };
}

/** Scatter of one point, from the middle of what the curves miss points by. */
function scatterOf(misses: Float64Array): number {
  const inner = Array.from(misses.subarray(1, -1), Math.abs);
  return 1.4826 * medianOf(inner) / missFactor;
}
