import { checkpoint } from "../progress/mod.ts";

/** Values that are sorted at once: some ms of work. */
const run = 1 << 16;
/** Values that are put together between two checkpoints. */
const stride = 1 << 17;

/**
 * Sorts values, as `sort` of the array does, and can be interrupted: long ones in
 * runs, which are then put together by twos (merge sort).
 *
 * @param values The values; their order changes. `NaN` comes last.
 * @returns The same array.
 */
export function sortValues(values: Float64Array): Float64Array {
  const count = values.length;
  if (count <= run) return values.sort();
  for (let from = 0; from < count; from += run) {
    checkpoint();
    values.subarray(from, from + run).sort();
  }
  let source: Float64Array = values;
  let target: Float64Array = new Float64Array(count);
  for (let width = run; width < count; width *= 2) {
    for (let from = 0; from < count; from += 2 * width) {
      mergeValues(source, target, from, width);
    }
    [source, target] = [target, source];
  }
  if (source !== values) {
    for (let from = 0; from < count; from += stride) {
      checkpoint();
      values.set(source.subarray(from, from + stride), from);
    }
  }
  return values;
}

/** Puts two sorted runs that follow on each other together. */
function mergeValues(
  source: Float64Array,
  target: Float64Array,
  from: number,
  width: number,
): void {
  const middle = Math.min(source.length, from + width);
  const end = Math.min(source.length, middle + width);
  let i = from;
  let j = middle;
  for (let k = from; k < end; k++) {
    if ((k & (stride - 1)) === 0) checkpoint();
    // The right one first where it is smaller, or the left one is NaN
    const right = i >= middle ||
      (j < end && (source[j]! < source[i]! || source[i]! !== source[i]!));
    target[k] = right ? source[j++]! : source[i++]!;
  }
}

/**
 * The places of values in order of their size; of equal ones the first comes
 * first.
 *
 * @param values The values, none of them `NaN`.
 * @returns Places, from that of the smallest to that of the largest.
 */
export function orderOf(values: Float64Array): Uint32Array {
  const count = values.length;
  let source = new Uint32Array(count);
  for (let i = 0; i < count; i++) {
    if ((i & (stride - 1)) === 0) checkpoint();
    source[i] = i;
  }
  let target = new Uint32Array(count);
  for (let width = 1; width < count; width *= 2) {
    for (let from = 0; from < count; from += 2 * width) {
      const middle = Math.min(count, from + width);
      const end = Math.min(count, middle + width);
      let i = from;
      let j = middle;
      for (let k = from; k < end; k++) {
        if ((k & (stride - 1)) === 0) checkpoint();
        const right = i >= middle ||
          (j < end && values[source[j]!]! < values[source[i]!]!);
        target[k] = right ? source[j++]! : source[i++]!;
      }
    }
    [source, target] = [target, source];
  }
  return source;
}
