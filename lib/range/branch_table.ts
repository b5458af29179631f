import { feedbackPhase } from "../laser/mod.ts";

/** Steps of the table along half a branch. */
const steps = 1024;
/**
 * The table ends where dt/dz = 1 + C cos z falls below this, times C above 1: a
 * fold is near.
 */
const leastSlope = 0.2;
/** Fewer samples are solved one by one. */
const shortest = 2 * steps;

/** z of t = z + C sin z on the branch around 0, solved one by one. */
export function solveOnBranch(offset: Float64Array, c: number): Float64Array {
  return feedbackPhase(offset, {
    feedbackParameter: c,
    linewidthEnhancementFactor: 0,
    state: { branch: 0, sampleCount: 0 },
  }).phase;
}

/**
 * z of t = z + C sin z on the branch around 0 for many t: a table of cubic pieces
 * with the slopes dz/dt = 1/(1 + C cos z), good to 1e-7 rad; near a fold the
 * equation is solved.
 *
 * @param offset t of each sample, in rad, inside the branch.
 * @param c Feedback parameter C (1).
 * @param reach Half of the branch, in rad.
 * @returns z of each sample, in rad.
 */
export function followBranch(
  offset: Float64Array,
  c: number,
  reach: number,
): Float64Array {
  const n = offset.length;
  if (n < shortest) return solveOnBranch(offset, c);
  const step = reach / steps;
  const nodes = solveOnBranch(
    Float64Array.from({ length: steps + 1 }, (_, k) => k * step),
    c,
  );
  const slopes = nodes.map((z) => 1 / (1 + c * Math.cos(z)));
  let last = 0;
  const steepest = 1 / (leastSlope * Math.max(1, c));
  while (
    last < steps && slopes[last + 1]! > 0 && slopes[last + 1]! <= steepest
  ) last++;
  const result = new Float64Array(n);
  const rest: number[] = [];
  for (let i = 0; i < n; i++) {
    const t = offset[i]!;
    const place = Math.abs(t) / step;
    const k = Math.floor(place);
    if (!(k < last)) {
      rest.push(i);
      continue;
    }
    const u = place - k;
    const v = 1 - u;
    const z = v * v * ((1 + 2 * u) * nodes[k]! + u * step * slopes[k]!) +
      u * u * ((1 + 2 * v) * nodes[k + 1]! - v * step * slopes[k + 1]!);
    result[i] = t < 0 ? -z : z;
  }
  const solved = solveOnBranch(
    Float64Array.from(rest, (i) => offset[i]!),
    c,
  );
  rest.forEach((i, k) => result[i] = solved[k]!);
  return result;
}
