import { checkpoint } from "../progress/mod.ts";

/** Parts of a record that are taken as independent of one another. */
const blockCounts = [12, 32] as const;

/** A ratio of variances up to this may be chance with so few blocks. */
const chance = 2.5;

/**
 * Covariance of a least-squares fit where the residuals are larger than the noise
 * or hang together over many rows: C s² for white residuals of s times the noise,
 * and, where it is clearly larger, C (Σ_b g_b g_bᵀ) C with g_b = Σ_{i in b} J_i
 * r_i/σ² over blocks of neighbouring rows.
 *
 * @param covariance C = (JᵀJ/σ²)⁻¹ for white noise.
 * @param excess Residuals over the noise, at least 1 (1).
 * @param columns Columns of J, one per parameter; rows in order of time.
 * @param residuals What the fit leaves, one per row.
 * @param noise Standard deviation σ of the noise of each row.
 * @returns The covariance.
 *
 * Source: Liang, Zeger 1986, Biometrika 73, 13 (clusters).
 */
export function widenedByBlocks(
  covariance: readonly (readonly number[])[],
  excess: number,
  columns: readonly Float64Array[],
  residuals: Float64Array,
  noise: number,
): number[][] {
  const n = residuals.length;
  return widestOf(covariance, excess, (first, last) =>
    columns.map((column) => {
      let sum = 0;
      const end = Math.floor(last * n + 1e-9);
      for (let i = Math.floor(first * n + 1e-9); i < end; i++) {
        sum += column[i]! * residuals[i]!;
      }
      return sum / (noise * noise);
    }), blockCounts.filter((count) => n >= 4 * count));
}

/** So many blocks say more: how far their ratio goes by chance. */
const manyBlocks: readonly (readonly [number, number])[] = [
  [64, 1.6],
  [256, 1.25],
];

/**
 * The same where the gradients Σ J_i r_i/σ² of many short pieces of the record are
 * known: blocks are put together from these.
 *
 * @param covariance C = (JᵀJ/σ²)⁻¹ for white noise.
 * @param excess Residuals over the noise, at least 1 (1).
 * @param scores Gradients of the pieces, in order of time.
 * @returns The covariance.
 */
export function widenedByPieces(
  covariance: readonly (readonly number[])[],
  excess: number,
  scores: readonly Float64Array[],
): number[][] {
  const n = scores.length;
  const counts = [...blockCounts, ...manyBlocks.map(([count]) => count)];
  return widestOf(covariance, excess, (first, last) => {
    const sum = new Array<number>(covariance.length).fill(0);
    const end = Math.floor(last * n + 1e-9);
    for (let i = Math.floor(first * n + 1e-9); i < end; i++) {
      for (let j = 0; j < sum.length; j++) sum[j]! += scores[i]![j]!;
    }
    return sum;
  }, counts.filter((count) => n >= count));
}

/** The widest of C s² and of those from several numbers of blocks. */
function widestOf(
  covariance: readonly (readonly number[])[],
  excess: number,
  pullOf: (first: number, last: number) => readonly number[],
  counts: readonly number[],
): number[][] {
  const p = covariance.length;
  const white = covariance.map((row) =>
    row.map((value) => value * excess * excess)
  );
  let widest = white;
  let most = 1;
  for (const count of counts) {
    const robust = white.map((row) => row.map(() => 0));
    for (let b = 0; b < count; b++) {
      checkpoint();
      const pull = pullOf(b / count, (b + 1) / count);
      const moved = covariance.map((row) =>
        row.reduce((sum, value, k) => sum + value * pull[k]!, 0)
      );
      for (let j = 0; j < p; j++) {
        for (let k = 0; k < p; k++) {
          robust[j]![k]! += moved[j]! * moved[k]! * count / (count - 1);
        }
      }
    }
    const ratio = Math.max(
      ...robust.map((row, j) => row[j]! / Math.max(white[j]![j]!, 1e-300)),
    );
    const limit = manyBlocks.find(([own]) => own === count)?.[1] ?? chance;
    if (ratio > Math.max(most, limit)) {
      most = ratio;
      widest = robust.map((row, j) =>
        row.map((value, k) => j === k ? Math.max(value, white[j]![k]!) : value)
      );
    }
  }
  return widest;
}
