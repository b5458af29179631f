import { feedbackPhase } from "../laser/mod.ts";

/** Steps of the table along half a branch, for few samples and for many. */
const [fewSteps, manySteps] = [64, 256];
/** Samples from which on the finer table is worth its making. */
const many = 1000;
/**
 * The table ends where dt/dz = 1 + C cos z falls below this, times C above 1: a
 * fold is near.
 */
const leastSlope = 0.2;

/** Coefficients of the series of cos and sin. */
const [cos2, cos4, cos6, cos8] = [-1 / 2, 1 / 24, -1 / 720, 1 / 40320];
const [sin3, sin5, sin7] = [-1 / 6, 1 / 120, -1 / 5040];

/** Angles on the branch around 0. */
export interface BranchAngles {
  /** z of each sample, in rad. */
  readonly angle: Float64Array;
  readonly cosine: Float64Array;
  readonly sine: Float64Array;
}

/** z, dz/dt, cos z and sin z at even distances of t. */
interface BranchTable {
  readonly c: number;
  readonly reach: number;
  readonly nodes: Float64Array;
  readonly slopes: Float64Array;
  readonly cosines: Float64Array;
  readonly sines: Float64Array;
  /** Last node before the fold. */
  readonly last: number;
}

/** z of t = z + C sin z on the branch around 0, solved one by one. */
export function solveOnBranch(offset: Float64Array, c: number): Float64Array {
  return feedbackPhase(offset, {
    feedbackParameter: c,
    linewidthEnhancementFactor: 0,
    state: { branch: 0, sampleCount: 0 },
  }).phase;
}

/** The one made last: fits ask for one C many times. */
let latest: BranchTable | null = null;

function tableOf(c: number, reach: number, steps: number): BranchTable {
  if (
    latest !== null && latest.c === c && latest.reach === reach &&
    latest.nodes.length === steps + 1
  ) {
    return latest;
  }
  const step = reach / steps;
  const nodes = new Float64Array(steps + 1);
  const slopes = new Float64Array(steps + 1);
  const cosines = new Float64Array(steps + 1).fill(1);
  const sines = new Float64Array(steps + 1);
  const least = leastSlope * Math.max(1, c);
  let last = 0;
  slopes[0] = 1 / (1 + c);
  for (let k = 1; k <= steps; k++) {
    const before = nodes[k - 1]!;
    const rate = step * slopes[k - 1]!;
    let z = before +
      rate * (1 + 0.5 * rate * c * Math.sin(before) * slopes[k - 1]!);
    for (let round = 0; round < 2; round++) {
      z += (k * step - z - c * Math.sin(z)) / (1 + c * Math.cos(z));
    }
    const cosine = Math.cos(z);
    const slope = 1 + c * cosine;
    if (!(slope > least)) break;
    nodes[k] = z;
    cosines[k] = cosine;
    sines[k] = Math.sin(z);
    slopes[k] = 1 / slope;
    last = k;
  }
  return latest = { c, reach, nodes, slopes, cosines, sines, last };
}

/**
 * z of t = z + C sin z on the branch around 0: from a table of cubic pieces with
 * the slopes dz/dt = 1/(1 + C cos z) and one round of Newton's, good to 1e-7 rad;
 * near a fold the equation is solved.
 *
 * @param offset t of each sample, in rad, inside the branch.
 * @param c Feedback parameter C (1).
 * @param reach Half of the branch, in rad.
 */
export function followBranch(
  offset: Float64Array,
  c: number,
  reach: number,
): BranchAngles {
  const n = offset.length;
  const steps = n < many ? fewSteps : manySteps;
  const { nodes, slopes, cosines, sines, last } = tableOf(c, reach, steps);
  const step = reach / steps;
  const perStep = steps / reach;
  const angle = new Float64Array(n);
  const cosine = new Float64Array(n);
  const sine = new Float64Array(n);
  const rest: number[] = [];
  for (let i = 0; i < n; i++) {
    const t = offset[i]!;
    const size = Math.abs(t);
    const place = size * perStep;
    if (!(place < last)) {
      rest.push(i);
      continue;
    }
    const k = place | 0;
    const u = place - k;
    const v = 1 - u;
    const z = v * v * ((1 + 2 * u) * nodes[k]! + u * step * slopes[k]!) +
      u * u * ((1 + 2 * v) * nodes[k + 1]! - v * step * slopes[k + 1]!);
    // cos and sin of the way from the node, at most 0.4 rad, by their series.
    const way = z - nodes[k]!;
    const w = way * way;
    const wayCos = 1 + w * (cos2 + w * (cos4 + w * (cos6 + w * cos8)));
    const waySin = way * (1 + w * (sin3 + w * (sin5 + w * sin7)));
    const cos = cosines[k]! * wayCos - sines[k]! * waySin;
    const sin = sines[k]! * wayCos + cosines[k]! * waySin;
    const slope = 1 + c * cos;
    const first = (size - z - c * sin) / slope;
    // The second order of Newton's: sin z is the bend.
    const change = first + c * sin * first * first / (2 * slope);
    const half = 1 - change * change / 2;
    cosine[i] = cos * half - sin * change;
    const s = sin * half + cos * change;
    angle[i] = t < 0 ? -z - change : z + change;
    sine[i] = t < 0 ? -s : s;
  }
  if (rest.length === 0) return { angle, cosine, sine };
  const solved = solveOnBranch(
    Float64Array.from(rest, (i) => offset[i]!),
    c,
  );
  rest.forEach((i, k) => {
    const z = solved[k]!;
    angle[i] = z;
    cosine[i] = Math.cos(z);
    sine[i] = Math.sin(z);
  });
  return { angle, cosine, sine };
}
