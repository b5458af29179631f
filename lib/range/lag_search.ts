import type { Capture } from "../capture/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { type Quantity, quantity } from "../result/mod.ts";
import { describesAsWell, gainOf } from "./count_gain.ts";
import { countRamp, type RampCount } from "./count_ramp.ts";
import { fewStrokes, settleHops } from "./hop_search.ts";
import { lagFromPhase } from "./lag_phase.ts";
import { lagScores } from "./lag_score.ts";
import type { RampSettings } from "./ramps.ts";
import { fittedInPairs } from "./residual_scan.ts";
import { feedbackOf, leftOver, median, stepsOf } from "./stroke_selection.ts";
import { searchThermalLag } from "./thermal_lag.ts";

/** A count under a lag. */
export interface LagCount {
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

/** A lag that is none, in samples (1). */
const shortestLag = 0.3;

/**
 * Follows a lag from its first sign until the count asks for no other.
 *
 * @param plain The count without it.
 * @param known A first guess in s, or `null` to look for one.
 * @returns The count under the lag, marked as suspected only where it does not
 * settle; `null` where no lag is to be seen, or its first guess in s where one is
 * and cannot be followed.
 */
export function followLag(
  capture: Capture,
  options: RampSettings,
  plain: RampCount,
  course: (timeConstant: number) => Float64Array,
  known: number | null = null,
): LagCount | number | null {
  const few = stepsOf(plain) < 4;
  // Free fringes do not jump, and know nothing of hops.
  const free = few && !(feedbackOf(plain) > 1) && plain.hops.length === 0;
  const first = known ??
    (free ? firstOfFew(capture, options) : firstOfMany(plain, course));
  if (first === null) return null;
  checkpoint(0.5, "thermal lag");
  let tau = first;
  let latest = plain;
  let { hops } = plain;
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
  // Two strokes in each direction are enough to settle it. What the fits make up
  // for asks for too little: a secant through the last two changes.
  for (let pass = 0; pass < 3; pass++) {
    let before: { tau: number; change: number } | null = null;
    for (let round = 0; round < 8; round++) {
      const { change, deviation } = at(fewStrokes);
      if (!Number.isFinite(change)) return first;
      if (tau + change < 4 * deviation) {
        return deviation < first ? null : first;
      }
      const slope = before === null
        ? -1
        : (change - before.change) / (tau - before.tau);
      before = { tau, change };
      if (Math.abs(change) < 0.5 * deviation) break;
      const step = -change / Math.max(-1.5, Math.min(-0.1, slope));
      tau = Math.max(tau / 2, Math.min(2 * tau, tau + step));
    }
    if (hops.length === 0) break;
    // A lag that was not seen has put the hops wrong, and they the lag.
    const lagged = { ...options, thermalTimeConstant: tau };
    ({ hops } = settleHops(capture, lagged, latest, hops, []));
    latest = count(fewStrokes, null);
    const { change } = changeOf(latest, course, tau, few);
    if (!(Math.abs(change) > 0.03 * tau)) break;
    tau = Math.max(tau / 2, Math.min(2 * tau, tau + change));
  }
  // Jumps that were put in their place under the wrong lag may stay wrong.
  if (leftOver(latest) > 1.3) {
    const afresh = count(fewStrokes, null);
    if (leftOver(afresh) < leftOver(latest)) latest = afresh;
  }
  const { counted, change, deviation, sensitivity } = at(Infinity);
  const uncertainty = Math.hypot(deviation, change);
  const seen = Number.isFinite(change) && tau > 5 * uncertainty &&
    Math.abs(change) < Math.max(4 * deviation, 0.03 * tau);
  // A shorter one is no other than a delay of the amplifier.
  const resolved = tau * capture.samplingRate > 1;
  const settled = seen && describesAsWell(counted, plain);
  if (!resolved) return null;
  if (settled && !few) {
    // What only shifts the strokes may be no lag, or another by whole steps.
    const shortest = shortestLag / capture.samplingRate;
    const shifted = countRamp(
      capture,
      { ...options, thermalTimeConstant: shortest },
      fewStrokes,
      course,
      hops,
    );
    if (!(gainOf(shifted, counted, 1) > 0)) return null;
  }
  if (!settled && !(gainOf(plain, counted, 1) > 0)) return first;
  return {
    counted,
    lag: {
      timeConstant: quantity(tau, uncertainty, "s"),
      stepsUncertainty: Math.abs(sensitivity) * uncertainty,
      searched: true,
      suspected: settled ? 0 : first,
    },
  };
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
  options: RampSettings,
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
