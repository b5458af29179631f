import { solveOnBranch } from "./branch_table.ts";

/** Pieces of a turn. */
const pieces = 4096;
/** Turns to either side of 0 that are told apart. */
const farthest = 1 << 17;
/** Numbers of a piece: four coefficients of cos z, and four of sin z. */
const perPiece = 8;

/** The one made last: strokes that are alike share one C. */
let latest: { readonly c: number; readonly table: Float64Array } | null = null;

/**
 * cos z and sin z of t = z + C sin z over a turn of t, as cubic pieces that share
 * values and slopes, dz/dt = 1/(1 + C cos z): good to 1e-8 up to a C of 0.9.
 */
function tableOf(c: number): Float64Array {
  if (latest !== null && latest.c === c) return latest.table;
  const step = 2 * Math.PI / pieces;
  const angle = solveOnBranch(
    Float64Array.from({ length: pieces + 1 }, (_, k) => k * step - Math.PI),
    c,
  );
  const table = new Float64Array(perPiece * pieces);
  for (let k = 0; k < pieces; k++) {
    const [z, next] = [angle[k]!, angle[k + 1]!];
    const [rate, nextRate] = [z, next].map((one) =>
      step / (1 + c * Math.cos(one))
    ) as [number, number];
    table.set(
      cubic(
        Math.cos(z),
        -Math.sin(z) * rate,
        Math.cos(next),
        -Math.sin(next) * nextRate,
      ),
      perPiece * k,
    );
    table.set(
      cubic(
        Math.sin(z),
        Math.cos(z) * rate,
        Math.sin(next),
        Math.cos(next) * nextRate,
      ),
      perPiece * k + 4,
    );
  }
  latest = { c, table };
  return table;
}

/** Coefficients of a cubic from values and slopes at 0 and 1. */
function cubic(a: number, slopeA: number, b: number, slopeB: number) {
  const rise = b - a;
  return [
    a,
    slopeA,
    3 * rise - 2 * slopeA - slopeB,
    slopeA + slopeB - 2 * rise,
  ];
}

/**
 * cos z and sin z of t = z + C sin z, for fringes that do not jump.
 *
 * @param t t of each sample, in rad, within 100 000 turns of 0.
 * @param c Feedback parameter C (1), below 0.9.
 * @param cosine Where cos z comes to stand.
 * @param sine Where sin z comes to stand.
 */
export function turnTo(
  t: Float64Array,
  c: number,
  cosine: Float64Array,
  sine: Float64Array,
): void {
  const table = tableOf(c);
  const perRadian = pieces / (2 * Math.PI);
  // The table starts at -π; nothing is negative.
  const start = pieces / 2 + pieces * farthest;
  for (let i = 0; i < t.length; i++) {
    const place = t[i]! * perRadian + start;
    const whole = place | 0;
    const u = place - whole;
    const k = perPiece * (whole & (pieces - 1));
    cosine[i] = table[k]! +
      u * (table[k + 1]! + u * (table[k + 2]! + u * table[k + 3]!));
    sine[i] = table[k + 4]! +
      u * (table[k + 5]! + u * (table[k + 6]! + u * table[k + 7]!));
  }
}
