import type { Extremes } from "./extremes.ts";
import type { Legs } from "./legs.ts";

/** Which way the target went during each leg. */
export interface Directions {
  /** 1 receding, -1 approaching, per leg. */
  readonly direction: Int8Array;
  /** Mean of the asymmetry along the chosen directions (1); ≥ 0. */
  readonly asymmetry: number;
  /** How far it is from 0, in standard uncertainties of that mean. */
  readonly significance: number;
}

/** Angle between 20 % and 80 % of the height of cos, in rad. */
const steepAngle = 2 * Math.asin(0.6);

/**
 * Decides at each extreme whether the phase passed through it or turned back,
 * and which way the target went overall.
 *
 * Three pieces of evidence, weighed in one search over all choices (Viterbi
 * 1967): a passed extreme reaches the full level and takes half a fringe at the
 * speed of its neighbours; a turned one reaches less, or takes longer; and legs
 * of a receding target rise slower than they fall.
 *
 * @param extremes The extremes.
 * @param legs The legs between them.
 * @param middle Middle level of the fringes, in the unit of the extremes.
 * @param amplitude Half of the full height, in the unit of the extremes.
 * @param noise Noise of an extreme over the amplitude (1).
 * @param expectedAsymmetry Logarithm of slow over fast legs' duration where it is
 * known; `null` takes it from the legs.
 * @returns Direction of each leg, and how sure the overall sign is.
 */
export function decideDirections(
  extremes: Extremes,
  legs: Legs,
  middle: number,
  amplitude: number,
  noise: number,
  expectedAsymmetry: number | null = null,
): Directions {
  const { count } = legs;
  const evidence = asymmetries(legs);
  const typical = expectedAsymmetry ?? typicalAsymmetry(evidence);
  const spread = 0.25 + 0.5 * typical;
  // Strong asymmetry makes the timing and the levels of cos meaningless.
  const trust = 1 / (1 + (typical / 0.6) ** 2);
  const levelSpread = 0.06 + 1.5 * noise;
  const ratioSpread = 0.12 + 1.5 * noise;
  const cost = new Float64Array(2);
  const before = new Uint8Array(2 * count);
  for (let k = 0; k < count; k++) {
    const emission = (direction: number) =>
      Math.min(
        12,
        ((evidence[k]! - direction * typical) / spread) ** 2 / 2,
      );
    let pass = 0;
    let turn = 0;
    if (k > 0) {
      const level = Math.abs(extremes.value[k]! - middle) / amplitude;
      const speed = steepAngle *
        (1 / legs.duration[k - 1]! + 1 / legs.duration[k]!) / 2;
      const ratio = speed * (legs.middle[k]! - legs.middle[k - 1]!) / Math.PI;
      const short = Math.max(0, 1 - level) / levelSpread;
      pass = trust *
        Math.min(30, short ** 2 / 2 + (Math.log(ratio) / ratioSpread) ** 2 / 2);
      const reached = Math.sin(Math.min(ratio, 2) * Math.PI / 4);
      const excess = Math.max(0, Math.log(ratio / 3.3)) / 0.3;
      turn = 3 + trust * Math.min(
            30,
            ((Math.min(level, 1) - reached) / 0.2) ** 2 / 2 + excess ** 2 / 2,
          );
    }
    // Index 0: receding, 1: approaching.
    const [c0, c1] = [cost[0]!, cost[1]!];
    const from0 = c0 + pass <= c1 + turn ? 0 : 1;
    const from1 = c1 + pass <= c0 + turn ? 1 : 0;
    before[2 * k] = from0;
    before[2 * k + 1] = from1;
    cost[0] = (from0 === 0 ? c0 + pass : c1 + turn) + emission(1);
    cost[1] = (from1 === 1 ? c1 + pass : c0 + turn) + emission(-1);
  }
  const direction = new Int8Array(count);
  let state = cost[0]! <= cost[1]! ? 0 : 1;
  for (let k = count - 1; k >= 0; k--) {
    direction[k] = state === 0 ? 1 : -1;
    state = before[2 * k + state]!;
  }
  return withOverallSign(direction, evidence);
}

/** Turns all directions about where the asymmetries say so. */
function withOverallSign(
  direction: Int8Array,
  evidence: Float64Array,
): Directions {
  let sum = 0;
  let squares = 0;
  let n = 0;
  for (let k = 1; k < direction.length - 1; k++) {
    if (
      direction[k - 1] !== direction[k] || direction[k + 1] !== direction[k]
    ) continue;
    const value = Math.max(-1.5, Math.min(1.5, evidence[k]!)) * direction[k]!;
    sum += value;
    squares += value * value;
    n++;
  }
  if (sum < 0) {
    for (let k = 0; k < direction.length; k++) direction[k] = -direction[k]!;
  }
  const mean = n > 0 ? Math.abs(sum) / n : 0;
  const variance = n > 1 ? Math.max(0, squares / n - mean * mean) : Infinity;
  // Neighbouring asymmetries share legs: about two in three are independent.
  const uncertainty = Math.sqrt(1.5 * variance / Math.max(1, n - 1)) + 1e-3;
  return { direction, asymmetry: mean, significance: mean / uncertainty };
}

/**
 * Logarithm of each leg's duration over that of its neighbours, positive where
 * rising legs are slow (receding target), negative where they are fast.
 */
function asymmetries(legs: Legs): Float64Array {
  const result = new Float64Array(legs.count);
  for (let k = 1; k < legs.count - 1; k++) {
    const others =
      (Math.log(legs.duration[k - 1]!) + Math.log(legs.duration[k + 1]!)) / 2;
    result[k] = legs.slope[k]! * (Math.log(legs.duration[k]!) - others);
  }
  return result;
}

/** Typical size of the asymmetry without its scatter. */
function typicalAsymmetry(evidence: Float64Array): number {
  const products: number[] = [];
  for (let k = 1; k + 4 < evidence.length; k++) {
    products.push(evidence[k]! * evidence[k + 3]!);
  }
  if (products.length === 0) return 0;
  products.sort((a, b) => a - b);
  const middle = products[Math.floor(products.length / 2)]!;
  return Math.min(2, Math.sqrt(Math.max(0, middle)));
}
