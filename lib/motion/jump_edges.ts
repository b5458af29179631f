import { entryAt, fringeModels } from "./fringe_height.ts";
import type { FringeModel } from "./fringe_model.ts";
import { branchWalk } from "./height_system.ts";
import type { PhaseFit } from "./phase_fit.ts";
import type { Jump, PhaseLabels } from "./phase_labels.ts";
import { phaseAt } from "./phase_system.ts";

/** Samples around an edge that are looked at. */
const reach = 4;
/** Samples of an edge at most. */
const widest = 1;

/**
 * Moves the edges of jumps to where a fit says they are: the split of the samples
 * around each between the branch before and the branch after that leaves least;
 * and adds a jump close to an end of the record that went unseen.
 *
 * @param signal The signal.
 * @param fit Its fit.
 * @returns Labels with the edges moved, or `null` if all is well.
 */
export function moveJumps(
  signal: Float64Array,
  fit: PhaseFit,
): PhaseLabels | null {
  const { labels, model, parameters } = fit;
  const largest = parameters.height?.values.reduce(
    (most, h) => Math.max(most, h),
    0,
  );
  if (!(model.feedback * (largest ?? 1) > 1)) return null;
  const off = distances(signal, fit);
  const branchAt = branchesOf(fit);
  let moved = false;
  const jumps: Jump[] = [];
  labels.jumps.forEach((jump, k) => {
    const low = Math.max(jumps.at(-1)?.last ?? 0, jump.first - reach);
    const high = Math.min(
      signal.length - 1,
      labels.jumps[k + 1]?.first ?? Infinity,
      jump.last + reach,
    );
    const branch = branchAt(jump.first);
    // What samples up to each leave on the branch before, from each on after.
    const before = new Float64Array(high - low + 1);
    const after = new Float64Array(high - low + 1);
    let sum = 0;
    for (let i = low; i <= high; i++) before[i - low] = sum += off(i, branch);
    sum = 0;
    for (let i = high; i >= low; i--) {
      after[i - low] = sum += off(i, branch + jump.sign);
    }
    let least = Infinity;
    let found = jump;
    for (let first = low; first < high; first++) {
      const end = Math.min(high, first + 1 + widest);
      for (let last = first + 1; last <= end; last++) {
        // A sample left out counts as one that is off by a little.
        const left = before[first - low]! + after[last - low]! +
          0.02 * (last - first - 1);
        if (left < least - 1e-12) {
          least = left;
          found = { first, last, sign: jump.sign };
        }
      }
    }
    if (found.first !== jump.first || found.last !== jump.last) moved = true;
    jumps.push(found);
  });
  const atEnds = jumpsAtEnds(
    fit,
    off,
    jumps,
    branchAt(signal.length - 1),
    signal.length,
  );
  if (atEnds !== null) return atEnds;
  return moved ? { ...labels, jumps } : null;
}

/** Samples from an end in which a jump may have gone unseen. */
const endReach = 12;

/** The labels with a jump more close to an end of the record, where one shows. */
function jumpsAtEnds(
  fit: PhaseFit,
  off: (sample: number, branch: number) => number,
  jumps: readonly Jump[],
  lastBranch: number,
  n: number,
): PhaseLabels | null {
  const { labels, noise, parameters } = fit;
  const least = 36 * (noise / parameters.amplitude) ** 2 + 0.05;
  const between = (first: number, last: number) =>
    jumps.every((jump) => jump.last <= first || jump.first >= last);
  let found: { jump: Jump; gain: number; atStart: boolean } | null = null;
  for (const atStart of [false, true]) {
    const branch = atStart ? labels.firstBranch : lastBranch;
    for (const sign of [1, -1]) {
      let gain = 0;
      for (let k = 0; k < Math.min(endReach, n - 1); k++) {
        const i = atStart ? k : n - 1 - k;
        const first = atStart ? i : i - 1;
        if (!between(first, first + 1)) break;
        // Before the start the branch is the one that `sign` leads away from.
        const other = atStart ? branch - sign : branch + sign;
        gain += off(i, branch) - off(i, other);
        if (gain > least && gain > (found?.gain ?? 0)) {
          found = { jump: { first, last: first + 1, sign }, gain, atStart };
        }
      }
    }
  }
  if (found === null) return null;
  return found.atStart
    ? {
      ...labels,
      jumps: [found.jump, ...jumps],
      firstBranch: labels.firstBranch - found.jump.sign,
    }
    : { ...labels, jumps: [...jumps, found.jump] };
}

/** Number of the branch of a sample that no edge covers, asked in order. */
function branchesOf(
  { labels, parameters, model, noise, coefficients, spacing }: PhaseFit,
): (sample: number) => number {
  const { height, amplitude } = parameters;
  const walk = branchWalk(labels);
  const models = fringeModels(parameters, noise / amplitude);
  return (sample) => {
    const own = height === null
      ? model
      : models.at(height.values[sample]!).model;
    const t = phaseAt(coefficients, spacing, sample) + own.shift;
    return walk(sample, own.feedback, t);
  };
}

/** Squared distance of a sample from the fit on one branch (1). */
function distances(
  signal: Float64Array,
  { parameters, coefficients, spacing, model, noise }: PhaseFit,
): (sample: number, branch: number) => number {
  const { middle, amplitude, height } = parameters;
  const models = fringeModels(parameters, noise / amplitude);
  return (i, branch) => {
    const y = (signal[i]! - middle) / amplitude;
    if (y !== y) return 0;
    const phase = phaseAt(coefficients, spacing, i) - 2 * Math.PI * branch;
    if (height === null) return (y - levelAt(model, phase)) ** 2;
    const h = height.values[i]!;
    const { model: own, height: near } = models.at(h);
    const entry = entryAt(parameters, own, h - near, phase);
    return (y - h * own.signal[entry]!) ** 2;
  };
}

/** Signal on one branch, from -1 to 1; beyond its ends that of the end. */
function levelAt(model: FringeModel, phase: number): number {
  const place = (phase + model.shift + model.reach) * model.perRadian;
  const last = model.entryOf.length - 1;
  return model.signal[
    model.entryOf[place < 0 ? 0 : place > last ? last : place | 0]!
  ]!;
}
