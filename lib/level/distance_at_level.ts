import { inDigits } from "../result/mod.ts";
import type { DrawnBranch } from "./branches.ts";
import type { LevelCalibration } from "./calibrate_level.ts";

/** A distance that a level may mean. */
export interface LevelDistance {
  /** The distance, in m; at the end of a stretch that only touches the level. */
  readonly value: number;
  /** Its standard uncertainty, in m; `NaN` where it leads beyond the stretch. */
  readonly standardUncertainty: number;
  /** Least distance of the stretch that the level leads to within ± 2 u, in m. */
  readonly low: number;
  /** The greatest, in m. */
  readonly high: number;
  /** Whether ± 2 u stays within the stretch. */
  readonly inside: boolean;
}

/** What a level says of the distance. */
export interface FoundDistance {
  readonly distance: LevelDistance | null;
  /** In words. */
  readonly finding: string;
  readonly candidates: readonly LevelDistance[];
}

/** Coverage factor of the levels that are led to distances (1). */
const k = 2;

/** The distance at which a curve has a level, or why there is none. */
export function distanceAtLevel(
  calibration: LevelCalibration,
  level: number,
  u: number,
  within: { readonly low: number; readonly high: number } | null,
): FoundDistance {
  const { branches, unit } = calibration;
  const candidates = branches
    .map((branch) => onBranch(branch, level, u))
    .filter((found) => found !== null)
    .filter(({ low, high }) =>
      within === null || low <= within.high && high >= within.low
    );
  const given = `${inMicro(level, unit)}`;
  const not = (why: string): FoundDistance => ({
    distance: null,
    finding: `The distance is not determined: ${why}`,
    candidates,
  });
  if (branches.length === 0) return not("the level nowhere tells the distance");
  if (candidates.length === 0) {
    const low = Math.min(...branches.map(({ levels }) => levels.low));
    const high = Math.max(...branches.map(({ levels }) => levels.high));
    return level > low && level < high
      ? not(
        `no stretch ${
          within === null ? "" : "between the given distances "
        }reaches the level of ${given}`,
      )
      : not(
        `the level of ${given} lies ${
          level >= high ? "above" : "below"
        } all that was calibrated, ${inMicro(low, unit)} to ${
          inMicro(high, unit)
        }`,
      );
  }
  const inside = candidates.filter((each) => each.inside);
  if (candidates.length > 1) {
    return not(
      `the level of ${given} is reached at ${
        candidates.map(({ value }) => `${inDigits(1e3 * value, 3)} mm`)
          .join(" and at ")
      }. Say with 'within' between which distances the target is`,
    );
  }
  const [only] = inside;
  if (only === undefined) {
    const { value, low, high } = candidates[0]!;
    return not(
      `near ${
        inDigits(1e3 * value, 3)
      } mm the level turns round, is flat or ends, and ± 2 u lead beyond (${
        inDigits(1e3 * low, 3)
      } to ${inDigits(1e3 * high, 3)} mm and on)`,
    );
  }
  return {
    distance: only,
    finding: `The level of ${given} means ${
      inDigits(1e3 * only.value, 4)
    } mm, between ${inDigits(1e3 * only.low, 4)} and ${
      inDigits(1e3 * only.high, 4)
    } mm`,
    candidates,
  };
}

/** Where one stretch has the level; `null` where it does not reach it. */
function onBranch(
  branch: DrawnBranch,
  level: number,
  u: number,
): LevelDistance | null {
  const { distances, levels } = branch;
  const clamped = Math.min(levels.high, Math.max(levels.low, level));
  const value = placeOf(branch, clamped);
  const total = Math.hypot(u, branch.uncertaintyAt(value));
  if (Math.abs(level - clamped) > k * total) return null;
  const ends = [level - k * total, level + k * total];
  const inside = ends.every((end) => end > levels.low && end < levels.high);
  const places = ends
    .map((end) =>
      placeOf(branch, Math.min(levels.high, Math.max(levels.low, end)))
    )
    .sort((a, b) => a - b);
  const low = Math.max(distances.low, places[0]!);
  const high = Math.min(distances.high, places[1]!);
  return {
    value,
    // The farther end counts: the curve is bent.
    standardUncertainty: inside ? Math.max(high - value, value - low) / k : NaN,
    low,
    high,
    inside,
  };
}

/** The distance at which a stretch has a level, by halving. */
function placeOf({ curve, distances, direction }: DrawnBranch, level: number) {
  let { low, high } = distances;
  const rises = direction === "rises";
  for (let step = 0; step < 60; step++) {
    const middle = (low + high) / 2;
    if ((curve.at(middle) < level) === rises) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

function inMicro(level: number, unit: string): string {
  return unit === "A"
    ? `${inDigits(1e6 * level, 5)} µA`
    : `${inDigits(level, 5)}${unit === "1" ? "" : ` ${unit}`}`;
}
