import { extremesOf } from "../order/mod.ts";
import type { Displacement } from "../motion/mod.ts";
import { inDigits } from "../result/mod.ts";
import type { Burst, BurstEvidence } from "./burst_evidence.ts";

/**
 * Warnings that a fit to a motion without rests may carry. In a rest nothing tells
 * whether the target went on a little or came back after the last top of a fringe,
 * and all steps may be misread the same way.
 */
const doubtsOfSteps: Readonly<Record<string, string>> = {
  "misfit": "it does not follow all samples",
  "loose-fit": "the motion that fits changes within a fringe",
  "ambiguous-turn":
    "a rest may as well lie on the other side of a top or bottom of the fringes",
  "undersampled": "the fringes at the edges have few samples",
  "model-misfit": "it leaves more than the noise",
};

/** What a fit may leave in the bursts, over what it leaves between them … */
const mostMore = 2;
/** … where that is more than this part of the height of a fringe. */
const leastLeft = 0.05;
/** Fringes at the two ends of a burst that no swing shows. */
const hiddenFringes = 1.25;
/** Fringes by which edges that repeat may differ from each other. */
const mostApart = 0.35;
/** Intervals between edges this much alike are a drive that repeats (1). */
const alike = 0.02;

/**
 * What the edges of a motion in steps have that the fit contradicts. A cubic
 * spline bends at an edge as fast as its knots allow, and where it cannot follow it
 * drops or adds fringes that no other part of the record would miss: so each edge
 * is held against the fringes seen in it, against what is left between the edges,
 * and against the other edges.
 *
 * @param evidence The bursts of fringes.
 * @param displacement The displacement that was fitted.
 * @returns One clause each, none where all agrees.
 */
export function contradictionsAtEdges(
  { bursts }: BurstEvidence,
  displacement: Displacement,
): string[] {
  if (bursts.length === 0) return [];
  const found: string[] = [];
  const doubts = Object.entries(doubtsOfSteps).filter(([code]) =>
    displacement.warnings.some((one) => one.code === code)
  );
  if (doubts.length > 0) {
    found.push(
      `a fit to steps stands only where it leaves no doubt, and here ${
        doubts.map(([, words]) => words).join(", and ")
      }`,
    );
  }
  const fringe = 2 * Math.PI * displacement.diagnostics.metresPerRadian;
  const lost = bursts.filter((burst) => isLost(burst, displacement)).length;
  if (lost > 0) {
    found.push(
      `at ${lost} of ${bursts.length} edges of the steps the fit does not follow the fringes`,
    );
  }
  const within = leftOver(bursts, displacement, true);
  const between = leftOver(bursts, displacement, false);
  if (within > leastLeft && within > mostMore * between) {
    found.push(
      `the fit leaves ${
        percent(within)
      } of the height of the fringes at the edges of the steps, and ${
        percent(between)
      } between them`,
    );
  }
  const miscounted =
    bursts.filter((burst) =>
      Math.abs(wayIn(burst, displacement) / fringe - burst.swings / 2) >
        hiddenFringes
    ).length;
  if (miscounted > 0) {
    found.push(
      `at ${miscounted} of ${bursts.length} edges of the steps the fit passes another number of fringes than the signal shows`,
    );
  }
  const apart = edgesApart(bursts, displacement) / fringe;
  if (apart > mostApart) {
    found.push(
      `the steps repeat in time, but their heights differ by up to ${
        inDigits(apart, 2)
      } fringes`,
    );
  }
  return found;
}

const percent = (value: number) => `${inDigits(100 * value, 2)} %`;

/** Whether the uncertainty of a sample at the edge is that of a lost phase. */
function isLost(
  { from, to }: Burst,
  { standardUncertainty, diagnostics }: Displacement,
): boolean {
  // Half a fringe for each place; stored in 32 bit, so a little below.
  const limit = 0.999 * Math.PI / 2 * diagnostics.metresPerRadian;
  const beside = Math.ceil((to - from) / 4);
  for (let i = Math.max(0, from - beside); i <= to + beside; i++) {
    if (standardUncertainty[i]! >= limit) return true;
  }
  return false;
}

/** Root mean square of what the fit leaves in the bursts or between them (1). */
function leftOver(
  bursts: readonly Burst[],
  { diagnostics: { trace } }: Displacement,
  inside: boolean,
): number {
  if (trace === null) return NaN;
  const { residual } = trace;
  let [sum, count, next] = [0, 0, 0];
  const start = bursts[0]!.from;
  const end = bursts.at(-1)!.to;
  for (let i = start; i <= end && i < residual.length; i++) {
    while (next < bursts.length && i > bursts[next]!.to) next++;
    const own = next < bursts.length && i >= bursts[next]!.from;
    const value = residual[i]!;
    if (own !== inside || value !== value) continue;
    sum += value * value;
    count++;
  }
  return Math.sqrt(sum / count);
}

/** The way to and fro within a burst, in m. */
function wayIn({ from, to }: Burst, { displacement }: Displacement): number {
  const [low, high] = extremesOf(displacement.subarray(from, to + 1));
  return high - low;
}

/**
 * By how much edges that repeat differ, in m; `NaN` where they do not repeat. The
 * level before and after an edge is the mean of the rest there.
 */
function edgesApart(
  bursts: readonly Burst[],
  { displacement }: Displacement,
): number {
  if (bursts.length < 4) return NaN;
  const times = bursts.map(({ from, to }) => (from + to) / 2);
  // Up and down edges may lie unevenly: like ones are two apart.
  const periods = times.slice(2).map((time, k) => time - times[k]!);
  const period = periods.reduce((a, b) => a + b, 0) / periods.length;
  if (periods.some((own) => Math.abs(own / period - 1) > alike)) return NaN;
  const levels = bursts.slice(1).map((burst, k) =>
    meanOf(displacement, bursts[k]!.to, burst.from)
  );
  let most = 0;
  for (let k = 2; k < levels.length; k++) {
    most = Math.max(most, Math.abs(levels[k]! - levels[k - 2]!));
  }
  return most;
}

function meanOf(values: Float64Array, from: number, to: number): number {
  let sum = 0;
  for (let i = from; i <= to; i++) sum += values[i]!;
  return sum / (to - from + 1);
}
