import { checkpoint } from "../progress/mod.ts";
import { select } from "../order/mod.ts";

/**
 * Standard deviation of residuals from their median size, 1.4826 |r|, which a few
 * wild ones do not change.
 *
 * @param residuals The residuals.
 * @param weight Those of weight 0 do not count; `null` where all do.
 * @returns In the unit of the residuals; `NaN` where none counts.
 */
export function robustDeviation(
  residuals: Float64Array,
  weight: Float64Array | null = null,
): number {
  const sizes = new Float64Array(residuals.length);
  let count = 0;
  for (let i = 0; i < residuals.length; i++) {
    if (weight === null || weight[i]! > 0) {
      sizes[count++] = Math.abs(residuals[i]!);
    }
  }
  return 1.4826 * nthSmallest(sizes.subarray(0, count), count >> 1);
}

/** Values from which on each look at them is worth a checkpoint. */
const long = 1 << 17;
/** Values from which on they are counted in classes first. */
const many = 256;
/** Classes, a quarter of them up to about the mean; the last is open. */
const classes = 256;
/** Sizes in each, and the class of each size; made once. */
const counts = new Uint32Array(classes);
let classOf = new Uint8Array(0);

/**
 * The size that would stand at a place were the sizes sorted: many are counted in
 * classes first, so that one class alone is left to look through.
 *
 * @param sizes None is negative; their order may change.
 * @param place From 0.
 * @returns `NaN` where there is no such place.
 */
export function nthSmallest(sizes: Float64Array, place: number): number {
  const n = sizes.length;
  if (!(place >= 0 && place < n)) return NaN;
  if (n < many) return select(sizes, place);
  // Some of them tell how wide the classes are to be.
  const every = n >> 7;
  let [sum, seen] = [0, 0];
  for (let i = 0; i < n; i += every, seen++) sum += sizes[i]!;
  const scale = classes / 4 / (sum / seen);
  if (!(scale > 0 && scale < Infinity)) return select(sizes, place);
  const last = classes - 1;
  const open = last / scale;
  if (n > long) checkpoint();
  counts.fill(0);
  if (classOf.length < n) classOf = new Uint8Array(n);
  for (let i = 0; i < n; i++) {
    const size = sizes[i]!;
    const k = size < open ? (size * scale) | 0 : last;
    counts[k]!++;
    classOf[i] = k;
  }
  let [own, before] = [0, 0];
  while (before + counts[own]! <= place) before += counts[own++]!;
  if (n > long) checkpoint();
  const inside = new Float64Array(counts[own]!);
  for (let i = 0, count = 0; i < n; i++) {
    if (classOf[i] === own) inside[count++] = sizes[i]!;
  }
  return select(inside, place - before);
}

/**
 * Weights of Huber 1964: as given up to a limit, and beyond it falling as the
 * limit over the residual.
 *
 * @param residuals The residuals.
 * @param weight Their weights.
 * @param limit In the unit of the residuals.
 * @returns One weight per residual.
 */
export function huberWeights(
  residuals: Float64Array,
  weight: Float64Array,
  limit: number,
): Float64Array {
  const out = new Float64Array(residuals.length);
  for (let i = 0; i < out.length; i++) {
    const size = Math.abs(residuals[i]!);
    out[i] = size > limit ? weight[i]! * limit / size : weight[i]!;
  }
  return out;
}
