import { type MonotoneCubic, monotoneCubic } from "../fit/mod.ts";

/** One point of a level curve, with what is known of it. */
export interface CurvePoint {
  /** Distance, in m. */
  readonly distance: number;
  /** Standard uncertainty of that distance, in m. */
  readonly distanceStandardUncertainty: number;
  /** Level, in the unit of the curve. */
  readonly level: number;
  /** Standard uncertainty of the level, without that of the distance. */
  readonly levelStandardUncertainty: number;
}

/** A stretch of distances over which the level only rises or only falls. */
export interface LevelBranch {
  /** Whether the level rises or falls with the distance. */
  readonly direction: "rises" | "falls";
  /** Nearest and farthest distance, in m. */
  readonly distances: { readonly low: number; readonly high: number };
  /** Lowest and highest level. */
  readonly levels: { readonly low: number; readonly high: number };
}

/** A branch with its curve and how sure that is. */
export interface DrawnBranch extends LevelBranch {
  /** Level against distance. */
  readonly curve: MonotoneCubic;
  /** Standard uncertainty of the curve at a distance, in the unit of the level. */
  readonly uncertaintyAt: (distance: number) => number;
}

/**
 * The distances at which the level turns round: a reversal by more than the noise
 * makes one, wiggles below it do not.
 *
 * @returns Places in the list, the first and the last included.
 */
export function turningPlaces(
  levels: readonly number[],
  reversal: number,
): number[] {
  const turns = [0];
  let sense = 0;
  let extreme = 0;
  let [lowest, highest] = [0, 0];
  for (let k = 1; k < levels.length; k++) {
    const value = levels[k]!;
    if (sense === 0) {
      if (value < levels[lowest]!) lowest = k;
      if (value > levels[highest]!) highest = k;
      if (levels[highest]! - levels[lowest]! > reversal) {
        sense = highest > lowest ? 1 : -1;
        extreme = sense > 0 ? highest : lowest;
        const first = sense > 0 ? lowest : highest;
        // What lies before the first extreme by less than the noise belongs to it.
        if (first > 0 && Math.abs(levels[0]! - levels[first]!) > reversal) {
          turns.push(first);
        }
      }
      continue;
    }
    if (sense * (value - levels[extreme]!) > 0) extreme = k;
    else if (sense * (levels[extreme]! - value) > reversal) {
      turns.push(extreme);
      sense = -sense;
      extreme = k;
    }
  }
  if (turns.at(-1) !== levels.length - 1) turns.push(levels.length - 1);
  return turns;
}

/** How far each point lies from the curve through the others; ends: 0. */
export function missesOf(points: readonly CurvePoint[]): Float64Array {
  const misses = new Float64Array(points.length);
  for (let k = 1; k < points.length - 1; k++) {
    const others = points.filter((_, i) => i !== k);
    if (others.length < 2) continue;
    const curve = monotoneCubic(
      others.map(({ distance }) => distance),
      others.map(({ level }) => level),
    );
    misses[k] = points[k]!.level - curve.at(points[k]!.distance);
  }
  return misses;
}

/**
 * How much farther than its own noise a point scatters about the curve through
 * the others: weights -1/16, 9/16, 9/16, -1/16 of the neighbours.
 */
export const missFactor = Math.hypot(1, 9 / 16, 9 / 16, 1 / 16, 1 / 16);

/**
 * The branches of a level curve. A point's uncertainty is that of its level and
 * that of its distance by the slope; between points it grows by a quarter of what
 * the curve without the nearest point misses it by beyond the noise: with the
 * point the spacing is half, and the error of a cubic a sixteenth of that, of a
 * straight line a quarter.
 */
export function drawBranches(
  points: readonly CurvePoint[],
  repeatability: number,
): DrawnBranch[] {
  const levels = points.map(({ level }) => level);
  const typical = Math.hypot(
    repeatability,
    medianOf(points.map((point) => point.levelStandardUncertainty)),
  );
  const turns = turningPlaces(levels, 4 * typical);
  const branches: DrawnBranch[] = [];
  for (let k = 1; k < turns.length; k++) {
    const part = points.slice(turns[k - 1]!, turns[k]! + 1);
    const branch = part.length < 2 ? null : drawBranch(part, repeatability);
    if (branch === null) continue;
    // Less than twice the noise from end to end tells no distance.
    if (branch.levels.high - branch.levels.low > 4 * typical) {
      branches.push(branch);
    }
  }
  return branches;
}

function drawBranch(
  part: readonly CurvePoint[],
  repeatability: number,
): DrawnBranch | null {
  const rises = part.at(-1)!.level > part[0]!.level;
  const sign = rises ? 1 : -1;
  const pooled = pooledLevels(part.map(({ level }) => sign * level));
  const distances = part.map(({ distance }) => distance);
  const curve = monotoneCubic(distances, pooled.map((level) => sign * level));
  const misses = missesOf(part);
  const expected = missFactor * repeatability;
  const between = Array.from(misses, (miss, k) => {
    const near = Math.max(
      Math.abs(misses[k - 1] ?? 0),
      Math.abs(miss),
      Math.abs(misses[k + 1] ?? 0),
    );
    return Math.sqrt(Math.max(0, near ** 2 - expected ** 2)) / 4;
  });
  const uncertainties = part.map((point) =>
    Math.hypot(
      point.levelStandardUncertainty,
      repeatability,
      curve.slopeAt(point.distance) * point.distanceStandardUncertainty,
    )
  );
  const [first, last] = [distances[0]!, distances.at(-1)!];
  const ends = [curve.at(first), curve.at(last)];
  return {
    direction: rises ? "rises" : "falls",
    distances: { low: first, high: last },
    levels: { low: Math.min(...ends), high: Math.max(...ends) },
    curve,
    uncertaintyAt: (distance) => {
      let k = 0;
      while (k < distances.length - 2 && distances[k + 1]! < distance) k++;
      const width = distances[k + 1]! - distances[k]!;
      const part = Math.min(
        1,
        Math.max(0, (distance - distances[k]!) / width),
      );
      return Math.hypot(
        (1 - part) * uncertainties[k]!,
        part * uncertainties[k + 1]!,
        Math.max(between[k]!, between[k + 1]!),
      );
    },
  };
}

/** Levels made to rise by pooling neighbours that do not (isotonic least squares). */
function pooledLevels(levels: readonly number[]): number[] {
  const pools: { sum: number; count: number }[] = [];
  for (const level of levels) {
    pools.push({ sum: level, count: 1 });
    while (pools.length > 1) {
      const last = pools.at(-1)!;
      const before = pools.at(-2)!;
      if (before.sum / before.count < last.sum / last.count) break;
      pools.splice(-2, 2, {
        sum: before.sum + last.sum,
        count: before.count + last.count,
      });
    }
  }
  return pools.flatMap(({ sum, count }) =>
    Array<number>(count).fill(sum / count)
  );
}

export function medianOf(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length === 0
    ? NaN
    : sorted.length % 2 === 1
    ? sorted[middle]!
    : (sorted[middle - 1]! + sorted[middle]!) / 2;
}
