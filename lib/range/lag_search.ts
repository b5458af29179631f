import type { Capture } from "../capture/mod.ts";
import { normalProbability } from "../fit/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { type Quantity, quantity } from "../result/mod.ts";
import { countRamp, type RampCount } from "./count_ramp.ts";
import { lagFromPhase } from "./lag_phase.ts";
import { scanForHops } from "./hop_scan.ts";
import type { CommonBreak } from "./mode_hop.ts";
import { createLagCourse, lagScores } from "./lag_score.ts";
import type { FindRampsOptions } from "./ramps.ts";
import { median } from "./stroke_selection.ts";
import { searchThermalLag } from "./thermal_lag.ts";

/** A count with the lag that it takes into account. */
export interface LaggingCount {
  readonly counted: RampCount;
  readonly lag: {
    /** Time constant, in s; 0 for none. */
    readonly timeConstant: Quantity;
    /**
     * Standard uncertainty of the steps (1) from a lag that is not known better, or
     * that was looked for and may hide in the noise.
     */
    readonly stepsUncertainty: number;
    /** Whether it was searched here. */
    readonly searched: boolean;
    /**
     * First guess of a lag, in s, as under which the fringes bend and that no count
     * could settle; 0 without.
     */
    readonly suspected: number;
  };
}

/**
 * Counts the strokes; where no time constant is given and rising and falling
 * strokes bend to opposite sides, as with a wavelength that lags behind the
 * current, finds it and counts against the current that the wavelength has got
 * to.
 *
 * @param capture The capture.
 * @param options As for {@linkcode countRamp}, without a time constant.
 * @param given The time constant in s, or `null` to look for one.
 */
export function countWithLag(
  capture: Capture,
  options: FindRampsOptions,
  given: number | null,
): LaggingCount {
  const first = searchLag(capture, options, given);
  let counted = first.counted;
  const course = createLagCourse(capture, options);
  // One hop after another, as long as the fits leave one.
  for (let round = 0; round < 3; round++) {
    const found = scanForHops(counted, course);
    if (found.up === null && found.down === null) break;
    const add = (
      known: readonly CommonBreak[],
      more: CommonBreak | null,
    ) =>
      more === null || known.some(({ x }) => Math.abs(x - more.x) < 0.1)
        ? known
        : [...known, more].sort((a, b) => a.x - b.x);
    const hops = {
      up: add(counted.hops.up, found.up),
      down: add(counted.hops.down, found.down),
    };
    if (
      hops.up.length + hops.down.length ===
        counted.hops.up.length + counted.hops.down.length
    ) break;
    // Too few steps to count on either side: the hop is told, the count kept.
    if (stepsOf(counted) < 5) {
      counted = { ...counted, hops };
      break;
    }
    const next = countRamp(
      capture,
      { ...options, thermalTimeConstant: first.lag.timeConstant.value },
      Infinity,
      null,
      hops,
    );
    if (next.counts.every((count) => count === null)) break;
    counted = next;
  }
  const { lag } = first;
  return lag.searched && lag.timeConstant.value === 0
    ? {
      counted,
      lag: {
        ...lag,
        stepsUncertainty: hiddenLag(counted, course, lag.suspected),
      },
    }
    : { counted, lag };
}

/**
 * Standard uncertainty of the steps (1) from a lag too short to be found: what
 * the fits leave asks for some time constant, known to its deviation, and none is
 * negative. One that is suspected may be there in full.
 */
function hiddenLag(
  counted: RampCount,
  course: (timeConstant: number) => Float64Array,
  suspected: number,
): number {
  const step = 0.01 * counted.ramps.strokeDuration;
  const { change, deviation, sensitivity } = lagScores(
    counted,
    course,
    0,
    [step],
    fittedInPairs(counted),
  )[0]!;
  // Mean square of a normal distribution, what is below 0 taken as 0.
  const z = change / deviation;
  const hidden = deviation * Math.sqrt(
    (1 + z * z) * normalProbability(z) +
      z * Math.exp(-z * z / 2) / Math.sqrt(2 * Math.PI),
  );
  return Number.isFinite(hidden)
    ? Math.abs(sensitivity) * Math.hypot(hidden, suspected)
    : 0;
}

/** Whether rising and falling strokes share the parameters of their fits. */
function fittedInPairs({ counts, signals }: RampCount): boolean {
  return counts.some((count, i) =>
    count?.model !== null && count?.model !== undefined &&
    (count.model.drift !== undefined ||
      count.model.fitted.length > (signals[i]?.x.length ?? Infinity))
  );
}

function searchLag(
  capture: Capture,
  options: FindRampsOptions,
  given: number | null,
): LaggingCount {
  const plain = countRamp(capture, {
    ...options,
    thermalTimeConstant: given ?? 0,
  });
  const none: LaggingCount = {
    counted: plain,
    lag: {
      timeConstant: quantity(given ?? 0, 0, "s"),
      stepsUncertainty: 0,
      searched: given === null,
      suspected: 0,
    },
  };
  if (given !== null) return none;
  // A strong lag looks like a hop where the current turns round.
  if (plain.hops.up.length + plain.hops.down.length > 0) {
    const noHops = { up: [], down: [] };
    const whole = countRamp(
      capture,
      { ...options, thermalTimeConstant: 0 },
      Infinity,
      null,
      noHops,
    );
    const found = followLag(capture, options, whole, noHops);
    if (
      found !== null && typeof found === "object" &&
      leftOver(found.counted) < 1.1 * leftOver(plain)
    ) return found;
  }
  const found = followLag(capture, options, plain, null);
  return found !== null && typeof found === "object" &&
      leftOver(found.counted) < 1.1 * leftOver(plain)
    ? found
    : {
      ...none,
      lag: {
        ...none.lag,
        suspected: typeof found === "number" ? found : 0,
      },
    };
}

/**
 * Follows a lag from its first sign until the count asks for no other.
 *
 * @param plain The count without it.
 * @param hops Mode hops that all counts are to have, or `null` to look for them.
 * @returns The count under the lag, `null` where no lag is to be seen, or its
 * first guess in s where one is and cannot be followed.
 */
function followLag(
  capture: Capture,
  options: FindRampsOptions,
  plain: RampCount,
  hops: RampCount["hops"] | null,
): LaggingCount | number | null {
  const course = createLagCourse(capture, options);
  const few = stepsOf(plain) < 4;
  const first = few
    ? jumps(plain) ? null : firstOfFew(capture, options)
    : firstOfMany(plain, course);
  if (first === null) return null;
  checkpoint(0.5, "thermal lag");
  let tau = first;
  let latest = plain;
  const count = (most: number, before: RampCount | null) =>
    countRamp(
      capture,
      { ...options, thermalTimeConstant: tau },
      most,
      course,
      hops,
      before,
    );
  const at = (most: number) => {
    latest = count(most, latest);
    return { counted: latest, ...changeOf(latest, course, tau, few) };
  };
  // Two strokes in each direction are enough to settle it.
  for (let round = 0; round < 5; round++) {
    const { change, deviation } = at(4);
    if (!Number.isFinite(change)) return first;
    if (tau + change < 4 * deviation) {
      return deviation < first ? null : first;
    }
    tau = Math.max(tau / 2, Math.min(1.5 * tau, tau + change));
    if (Math.abs(change) < 0.5 * deviation) break;
  }
  // Jumps that were put in their place under the wrong lag may stay wrong.
  if (leftOver(latest) > 1.3) {
    const afresh = count(4, null);
    if (leftOver(afresh) < leftOver(latest)) latest = afresh;
  }
  const { counted, change, deviation, sensitivity } = at(Infinity);
  const uncertainty = Math.hypot(deviation, change);
  const seen = Number.isFinite(change) && tau > 5 * uncertainty &&
    Math.abs(change) < Math.max(4 * deviation, 0.03 * tau);
  // A shorter one is no other than a delay of the amplifier.
  const resolved = tau * capture.samplingRate > 1;
  return seen && resolved
    ? {
      counted,
      lag: {
        timeConstant: quantity(tau, uncertainty, "s"),
        stepsUncertainty: Math.abs(sensitivity) * uncertainty,
        searched: true,
        suspected: 0,
      },
    }
    : resolved
    ? first
    : null;
}

/** A first time constant from the bends; `null` where they show none. */
function firstOfMany(
  plain: RampCount,
  course: (timeConstant: number) => Float64Array,
): number | null {
  const stroke = plain.ramps.strokeDuration;
  const left = (paired: boolean) => {
    const steps = [0.01, 0.03, 0.1].map((part) => part * stroke);
    const best = lagScores(plain, course, 0, steps, paired)
      .map((score, k) => ({ step: steps[k]!, ...score }))
      .reduce((a, b) => b.significance > a.significance ? b : a);
    return best.significance > 5
      ? Math.max(0.3 * best.step, Math.min(best.change, 0.1 * stroke))
      : null;
  };
  // Pairs that were fitted together bend alike: what they leave tells.
  if (fittedInPairs(plain)) return left(true);
  const found = lagFromPhase(plain, course);
  return found !== null && found.timeConstant > 2 * found.deviation &&
      found.share > 0.6 &&
      found.timeConstant > stroke / 1000
    ? found.timeConstant
    : left(false);
}

/** A first time constant from what free fringes leave. */
function firstOfFew(
  capture: Capture,
  options: FindRampsOptions,
): number | null {
  const found = searchThermalLag(capture, options, 4);
  return found.significant ? found.timeConstant.value : null;
}

/** By how much a count asks the time constant to change, in s. */
function changeOf(
  counted: RampCount,
  course: (timeConstant: number) => Float64Array,
  tau: number,
  few: boolean,
) {
  const free = counted.counts.flatMap((count) =>
    count?.model?.lagChange === undefined ? [] : [{
      change: count.model.lagChange,
      // Both strokes of a pair have the same.
      deviation: Math.SQRT2 * count.model.lagUncertainty!,
    }]
  );
  if (free.length > 1) {
    // A tap spoils single pairs.
    const middle = median(free.map((f) => f.change));
    const spread = 1.4826 *
      median(free.map((f) => Math.abs(f.change - middle)));
    const used = free.filter((f) =>
      Math.abs(f.change - middle) <= 4 * Math.max(spread, f.deviation)
    );
    const below = used.reduce((sum, f) => sum + f.deviation ** -2, 0);
    return {
      change: used.reduce((sum, f) => sum + f.change / f.deviation ** 2, 0) /
        below,
      deviation: Math.max(
        1 / Math.sqrt(below),
        spread / Math.sqrt(used.length / 2),
      ),
      // The pairs were counted with the time constant free.
      sensitivity: 0,
    };
  }
  const score = lagScores(counted, course, tau, [0.05 * tau], few)[0]!;
  if (few) return score;
  const found = lagFromPhase(counted, course);
  return found === null ? score : {
    change: found.timeConstant - tau,
    deviation: found.deviation,
    sensitivity: score.sensitivity,
  };
}

/** Whether the fringes jump. */
function jumps({ counts }: RampCount): boolean {
  return median(
    counts.flatMap((c) => c?.model ? [c.model.feedbackParameter] : []),
  ) > 1;
}

function stepsOf({ counts }: RampCount): number {
  return median(counts.flatMap((c) => c === null ? [] : [c.steps]));
}

/** What the fits leave over the noise, as the median over the strokes (1). */
function leftOver({ counts }: RampCount): number {
  return median(
    counts.flatMap((c) => c === null ? [] : [c.misfit / c.sampleNoise]),
  );
}
