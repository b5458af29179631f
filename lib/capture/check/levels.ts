import { checkpoint } from "../../progress/mod.ts";
import type { Samples } from "../capture.ts";

/** A stretch of samples. */
export interface SampleRun {
  /** Index of the first sample. */
  readonly start: number;
  /** Number of samples. */
  readonly length: number;
}

/** Extent and resolution of a channel; values in the channel's unit. */
export interface ChannelLevels {
  /** Smallest sample. */
  readonly minimum: number;
  /** Largest sample. */
  readonly maximum: number;
  /** Mean of the samples. */
  readonly mean: number;
  /** Experimental standard deviation of the samples. */
  readonly standardDeviation: number;
  /** Value at 1 % of a sorted subset. */
  readonly low: number;
  /** Value at 50 % of a sorted subset. */
  readonly median: number;
  /** Value at 99 % of a sorted subset. */
  readonly high: number;
  /** Smallest step between values of a subset; `NaN` if none or no grid. */
  readonly resolution: number;
  /** Samples that are `NaN` or infinite. */
  readonly missingCount: number;
}

const subsetSize = 65536;

/** Measures extent and resolution; one pass and one sorted subset. */
export function measureLevels(samples: Samples): ChannelLevels {
  let minimum = Infinity;
  let maximum = -Infinity;
  let sum = 0;
  let missingCount = 0;
  const count = samples.length;
  for (let index = 0; index < count; index++) {
    if ((index & 0x1ffff) === 0) checkpoint(index / count, "check levels");
    const value = samples[index]!;
    if (value - value !== 0) {
      missingCount++;
      continue;
    }
    sum += value;
    if (value < minimum) minimum = value;
    if (value > maximum) maximum = value;
  }
  const present = count - missingCount;
  const mean = present > 0 ? sum / present : NaN;
  let squares = 0;
  for (let index = 0; index < count; index++) {
    if ((index & 0x1ffff) === 0) checkpoint(index / count, "check levels");
    const d = samples[index]! - mean;
    if (d - d === 0) squares += d * d;
  }
  const sorted = sortedSubset(samples);
  const at = (part: number) =>
    sorted[Math.round(part * (sorted.length - 1))] ?? NaN;
  return {
    minimum: present > 0 ? minimum : NaN,
    maximum: present > 0 ? maximum : NaN,
    mean,
    standardDeviation: present > 1 ? Math.sqrt(squares / (present - 1)) : NaN,
    low: at(0.01),
    median: at(0.5),
    high: at(0.99),
    resolution: findResolution(sorted),
    missingCount,
  };
}

function sortedSubset(samples: Samples): Float64Array {
  const stride = Math.max(1, Math.ceil(samples.length / subsetSize));
  const subset = new Float64Array(Math.ceil(samples.length / stride));
  let kept = 0;
  for (let index = 0; index < samples.length; index += stride) {
    const value = samples[index]!;
    if (value - value === 0) subset[kept++] = value;
  }
  return subset.subarray(0, kept).sort();
}

/** The grid step, where the sorted values repeat enough to show a grid. */
function findResolution(sorted: Float64Array): number {
  let step = Infinity;
  let distinct = sorted.length > 0 ? 1 : 0;
  const range = (sorted.at(-1) ?? 0) - (sorted[0] ?? 0);
  for (let index = 1; index < sorted.length; index++) {
    const d = sorted[index]! - sorted[index - 1]!;
    if (d <= range * 1e-9) continue;
    distinct++;
    if (d < step) step = d;
  }
  const gridded = distinct > 1 && distinct <= sorted.length / 2;
  return gridded ? step : NaN;
}

/** Samples stuck at the top or the bottom of a channel. */
export interface Clipping {
  /** Samples at the upper limit, in runs of three or more. */
  readonly highCount: number;
  /** Samples at the lower limit, in runs of three or more. */
  readonly lowCount: number;
  /** First runs, at most 1000. */
  readonly runs: readonly SampleRun[];
}

/**
 * Finds clipping: runs of three or more samples at the extreme value (or at the
 * digitiser's limit), far more of them than one resolution step further in. A
 * smooth top of a quantised fringe has at most about 2.4 times as many. Runs
 * that are dropouts are left out.
 */
export function findClipping(
  samples: Samples,
  levels: ChannelLevels,
  fullScale: { readonly low: number; readonly high: number } | null,
  dropouts: readonly SampleRun[],
): Clipping {
  const lost = new Set(dropouts.map(({ start }) => start));
  const { minimum, maximum, resolution } = levels;
  const range = maximum - minimum;
  const runs: SampleRun[] = [];
  if (!(range > 0)) return { highCount: 0, lowCount: 0, runs };
  const step = resolution > 0 ? resolution : range * 1e-6;
  const side = (limit: number, sign: 1 | -1): number => {
    let atLimit = 0;
    let inside = 0;
    let start = -1;
    const found: SampleRun[] = [];
    for (let index = 0; index <= samples.length; index++) {
      if ((index & 0x1ffff) === 0) checkpoint(NaN, "check levels");
      const distance = index < samples.length
        ? (limit - samples[index]!) * sign
        : Infinity;
      if (distance < 0.5 * step) {
        if (start < 0) start = index;
        continue;
      }
      if (distance < 1.5 * step) inside++;
      if (start >= 0) {
        if (index - start >= 3 && !lost.has(start)) {
          atLimit += index - start;
          if (found.length < 1000) found.push({ start, length: index - start });
        }
        start = -1;
      }
    }
    const atRail = fullScale !== null &&
      (sign === 1 ? limit >= fullScale.high : limit <= fullScale.low);
    if (atLimit === 0 || (!atRail && atLimit < 4 * inside + 3)) return 0;
    runs.push(...found);
    return atLimit;
  };
  const highCount = side(
    fullScale !== null ? Math.min(fullScale.high, maximum) : maximum,
    1,
  );
  const lowCount = side(
    fullScale !== null ? Math.max(fullScale.low, minimum) : minimum,
    -1,
  );
  runs.sort((a, b) => a.start - b.start);
  return { highCount, lowCount, runs: runs.slice(0, 1000) };
}

/**
 * Share of samples within 2 % of the range of the upper or lower extreme,
 * whichever is larger: 9 % for a sine, 2 % for a sawtooth, far more for a
 * signal flattened by a saturated amplifier with noise on top.
 */
export function shareAtExtremes(
  samples: Samples,
  levels: ChannelLevels,
): number {
  const { low, high } = levels;
  const margin = 0.02 * (high - low);
  let top = 0;
  let bottom = 0;
  let count = 0;
  for (let index = 0; index < samples.length; index++) {
    if ((index & 0x1ffff) === 0) checkpoint(NaN, "check levels");
    const value = samples[index]!;
    if (value !== value) continue;
    count++;
    if (value >= high - margin) top++;
    else if (value <= low + margin) bottom++;
  }
  return count === 0 ? NaN : Math.max(top, bottom) / count;
}
