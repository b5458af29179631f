import { heightOf, lengthOf, medianOfFew } from "./find_swings.ts";
import type { LeaningSwing } from "./swing_evidence.ts";

/** Fringes in bursts between rests, as a target that is driven in steps makes. */
export interface BurstEvidence {
  /** Bursts in order of time, as sample indices; none where fringes come evenly. */
  readonly bursts: readonly Burst[];
  /** Share of the time between the first and the last burst that is rest (1). */
  readonly restShare: number;
  /** Samples per fringe where the fringes of half the bursts come fastest (1). */
  readonly fewestSamples: number;
  /**
   * Height of the fastest fringes of half the bursts over the usual one (1): below
   * 1 where the amplifier or the sampling is too slow for them.
   */
  readonly fastHeight: number;
}

/** One burst of fringes. */
export interface Burst {
  /** First sample. */
  readonly from: number;
  /** Last sample. */
  readonly to: number;
  /** Swings in it (1). */
  readonly swings: number;
}

const none: BurstEvidence = {
  bursts: [],
  restShare: 0,
  fewestSamples: NaN,
  fastHeight: NaN,
};

/** A swing so many times as long as the usual one is a rest. */
const restLength = 8;
/** Swings of a rest, with the end of the burst before, at most. */
const mostInRest = 4;
/**
 * Share of rest from which on the fringes come in bursts: the turns of a sinusoidal
 * motion, where they are so long at all, take 36 % of the time at most.
 */
const leastRest = 0.5;
/** Swings of the smallest over those of the largest inner burst, at least. */
const leastRegular = 0.4;

/**
 * Looks for fringes that come in bursts, with rests in between. A ring-down has
 * bursts too, but of fewer and fewer fringes.
 *
 * @param course The swings in order of time.
 * @returns What was found.
 */
export function burstEvidence(course: readonly LeaningSwing[]): BurstEvidence {
  if (course.length < 6) return none;
  const usual = medianOfFew(course.map(lengthOf));
  const runs: LeaningSwing[][] = [[]];
  for (const swing of course) {
    if (lengthOf(swing) > restLength * usual) runs.push([]);
    else runs.at(-1)!.push(swing);
  }
  // Two swings are a fringe: less is what noise makes of a rest.
  const own = runs.filter((run) => run.length >= 2);
  if (own.length === 0) return none;
  // A slow way back is no rest: it has fringes too.
  if (runs.length - 1 > mostInRest * (own.length + 1)) return none;
  const first = own[0]![0]!.from;
  const last = own.at(-1)!.at(-1)!.to;
  const moving = own.reduce(
    (sum, run) => sum + run.at(-1)!.to - run[0]!.from,
    0,
  );
  const restShare = 1 - moving / (last - first);
  const inner = own.slice(1, -1).map((run) => run.length);
  const regular = inner.length === 0 ||
    Math.min(...inner) >= leastRegular * Math.max(...inner);
  if (!(restShare > leastRest && regular)) return none;
  const height = medianOfFew(course.map(heightOf));
  const fastest = own.map(fastestOf);
  return {
    bursts: own.map((run) => ({
      from: run[0]!.from,
      to: run.at(-1)!.to,
      swings: run.length,
    })),
    restShare,
    fewestSamples: medianOfFew(fastest.map(({ samples }) => samples)),
    fastHeight: medianOfFew(fastest.map((one) => one.height)) / height,
  };
}

/** The three swings of a burst that are shortest together. */
function fastestOf(run: readonly LeaningSwing[]) {
  const width = Math.min(3, run.length);
  let best = { samples: Infinity, height: NaN };
  for (let k = 0; k + width <= run.length; k++) {
    const part = run.slice(k, k + width);
    const samples = 2 * (part.at(-1)!.to - part[0]!.from) / width;
    if (samples < best.samples) {
      best = { samples, height: medianOfFew(part.map(heightOf)) };
    }
  }
  return best;
}
