import type { Samples } from "../capture/mod.ts";
import { requireNumbers } from "../options/mod.ts";
import { extremesOf } from "../order/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { inDigits, warn, type Warning } from "../result/mod.ts";
import { signalScale } from "./signal_scale.ts";

const work = "look for leaps";

/** Leaps of a signal between rests. */
export interface Leaps {
  /** How many there are (1). */
  readonly count: number;
  /** Share of the record in which the signal rests between them (1). */
  readonly restShare: number;
  /** Samples that the middle one of them takes (1). */
  readonly samples: number;
  /** Whether they are so many, and it rests so long, as edges of a square. */
  readonly areHardEdges: boolean;
}

/** Samples over which a change is looked at. */
const reach = 3;
/** Change over the reach that is no rest, over the noise and over the fringe. */
const change = { noise: 7, height: 0.1 } as const;
/** Samples of an edge whose fringes nobody can count. */
const mostSamples = 8;
/** Samples of an edge with fringes of too few samples each, at most. */
const mostOfRow = 64;
const fewestPerFringe = 5;
/** Samples of a rest, at least. */
const leastRest = 16;
/** What the signal may do in a rest, over the height of the fringe. */
const flat = 0.2;
/** Change from rest to rest, or on the way, over the height of the fringe. */
const leastLeap = 0.15;

/** Leaps from which on it is a drive with hard edges, and no mishap. */
const fewestLeaps = 2;
/** Share of the record in rest from which on: at turns fringes rest for half. */
const leastRestShare = 0.75;

/**
 * Looks for leaps: rests at one level, and edges in between of so few samples that
 * nobody can say how many fringes passed on them. A target under a square drive
 * makes such; fringes themselves leap from slope to slope and do not rest.
 *
 * @param samples The monitor signal, in any unit; `NaN` where there is none.
 * @returns How many leaps there are, and how long it rests between them.
 *
 * @example
 * ```ts
 * import { simulateCapture } from "fringebook";
 * import { findLeaps } from "fringebook/motion";
 * import { expect } from "vitest";
 *
 * const leaps = (rise: number) =>
 *   findLeaps(
 *     simulateCapture({
 *       // A square of 1 µm each way, whose edges take `rise` of 12.5 ms
 *       distance: (time) => {
 *         const part = 40 * time % 0.5 * 2 / rise;
 *         const side = 40 * time % 1 < 0.5 ? 1e-6 : -1e-6;
 *         return 0.1 + side * Math.min(1, 2 * part - 1);
 *       },
 *       samplingRate: 20e3,
 *       duration: 0.2,
 *       drive: null,
 *     }).channels[0]!.samples,
 *   );
 * expect(leaps(0.01).areHardEdges).toBe(true);
 * expect(leaps(0.5).areHardEdges).toBe(false);
 * ```
 */
export function findLeaps(samples: Samples): Leaps {
  requireNumbers(samples, "samples", work);
  const { amplitude, noise } = signalScale(samples);
  const height = 2 * amplitude;
  const found = leapsOf(samples, noise, height, {
    limit: Math.max(change.noise * noise, change.height * height),
    most: flat * height + 2 * noise,
  });
  if (found.areHardEdges) return found;
  // Where a square moves by nearly whole fringes both its levels are alike, and
  // only the few samples of its edges show the height.
  const [low, high] = extremesOf(samples);
  const whole = high - low - 2 * noiseReach * noise;
  const other = whole > height
    ? leapsOf(samples, noise, whole, {
      limit: change.noise * noise,
      most: quiet * noise,
    })
    : found;
  return other.areHardEdges ? other : found;
}

/** Half of what noise alone spreads over a record, over its standard deviation. */
const noiseReach = 4.5;
/** What the means of eight samples of a rest spread by chance, over the noise. */
const quiet = 4;

/** The leaps between rests whose samples change by no more than the limits. */
function leapsOf(
  samples: Samples,
  noise: number,
  height: number,
  { limit, most }: { readonly limit: number; readonly most: number },
): Leaps {
  const rests = restsOf(samples, limit, most);
  const least = Math.max(leastLeap * height, 4 * noise);
  let resting = 0;
  const lengths: number[] = [];
  for (let k = 0; k < rests.length; k++) {
    const { from, to, level } = rests[k]!;
    resting += to - from;
    const next = rests[k + 1];
    if (next === undefined) continue;
    // The change is seen over the reach, on either side.
    const long = Math.max(1, next.from - to - reach);
    if (long > mostOfRow) continue;
    const { way, course } = edgeOf(samples, to, next);
    if (!(Math.max(way, Math.abs(next.level - level)) > least)) continue;
    const perFringe = 2 * long * height / course;
    if (long <= mostSamples || perFringe < fewestPerFringe) lengths.push(long);
  }
  lengths.sort((a, b) => a - b);
  const restShare = resting / samples.length;
  return {
    count: lengths.length,
    restShare,
    samples: lengths[lengths.length >> 1] ?? NaN,
    areHardEdges: lengths.length >= fewestLeaps && restShare > leastRestShare,
  };
}

/** The doubt about a motion with hard edges; none where there are none. */
export function hardEdgesWarning(samples: Samples): Warning[] {
  const { count, restShare, areHardEdges, samples: long } = findLeaps(samples);
  return areHardEdges
    ? [warn(
      "hard-edges",
      `The signal rests for ${
        inDigits(100 * restShare, 2)
      } % of the record and leaps ${count} times in between, within ${
        inDigits(long, 2)
      } samples, as where a square drives the target: how many fringes passed at each edge, and which way, is not determined, and neither is the displacement. Drive with softer edges (a rounded square, a triangle, a sine), or record at least ten samples per fringe of the edges`,
    )]
    : [];
}

/** How far the signal goes from a rest on an edge, and its whole way to and fro. */
function edgeOf(samples: Samples, from: number, next: Rest) {
  let [way, course] = [0, 0];
  for (let i = from; i < next.from; i++) {
    way = Math.max(way, Math.abs(samples[i]! - samples[from - 1]!));
    course += Math.abs(samples[i]! - samples[i - 1]!);
  }
  return { way, course };
}

interface Rest {
  readonly from: number;
  readonly to: number;
  /** Mean of its samples. */
  readonly level: number;
}

/** Runs of small changes that stay at one level. */
function restsOf(samples: Samples, limit: number, most: number): Rest[] {
  const rests: Rest[] = [];
  let from = 0;
  const close = (to: number) => {
    if (to - from < leastRest) return;
    const level = levelOf(samples, from, to, most);
    if (level === level) rests.push({ from, to, level });
  };
  for (let i = reach; i < samples.length; i++) {
    if ((i & 0x1ffff) === 0) checkpoint(NaN, work);
    // Also where a sample is missing.
    if (Math.abs(samples[i]! - samples[i - reach]!) <= limit) continue;
    close(i - reach);
    from = i;
  }
  close(samples.length);
  return rests;
}

/** Mean of a run; `NaN` where the means of eight samples leave a level. */
function levelOf(
  samples: Samples,
  from: number,
  to: number,
  most: number,
): number {
  let [low, high, total, sum] = [Infinity, -Infinity, 0, 0];
  for (let i = from; i < to; i++) {
    total += samples[i]!;
    sum += samples[i]!;
    if ((i - from) % 8 !== 7) continue;
    if (sum < 8 * low) low = sum / 8;
    if (sum > 8 * high) high = sum / 8;
    if (high - low > most) return NaN;
    sum = 0;
  }
  return total / (to - from);
}
