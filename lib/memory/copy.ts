import { checkpoint } from "../progress/mod.ts";

/** Numbers between two checkpoints: the first touch of 1 MB takes some ms. */
const stride = 1 << 17;
/** Numbers that are copied at once. */
const soon = 1 << 20;

/**
 * A part of an array as an array of its own. Unlike `slice` it can be
 * interrupted: the first touch of 80 MB takes a tenth of a second and more.
 *
 * @param values The numbers.
 * @param work What is done, for who looks at the progress.
 * @param from First that is copied.
 * @param to The one after the last.
 */
export function copyOf(
  values: ArrayLike<number>,
  work = "",
  from = 0,
  to = values.length,
): Float64Array {
  // Memory that is not filled with zeros first is quicker, and soon copied.
  if (to - from <= soon && values instanceof Float64Array) {
    return values.slice(from, to);
  }
  const out = new Float64Array(Math.max(0, to - from));
  copyInto(out, 0, values, work, from, to);
  return out;
}

/**
 * Copies a part of an array into another, with checkpoints.
 *
 * @param target Where to.
 * @param at Where the first is put.
 * @param values The numbers, of another array.
 * @param work What is done, for who looks at the progress.
 * @param from First that is copied.
 * @param to The one after the last.
 */
export function copyInto(
  target: Float64Array,
  at: number,
  values: ArrayLike<number>,
  work = "",
  from = 0,
  to = values.length,
): void {
  const typed = ArrayBuffer.isView(values) ? values as Float64Array : null;
  for (let first = from; first < to; first += stride) {
    if (to - from > stride) checkpoint(NaN, work);
    const last = Math.min(to, first + stride);
    const place = at + first - from;
    if (typed !== null) target.set(typed.subarray(first, last), place);
    else {
      for (let i = first; i < last; i++) target[place + i - first] = values[i]!;
    }
  }
}

/**
 * Arrays one after the other, with checkpoints.
 *
 * @param parts The arrays.
 * @param work What is done, for who looks at the progress.
 */
export function joinValues(
  parts: readonly ArrayLike<number>[],
  work = "",
): Float64Array {
  const all = new Float64Array(
    parts.reduce((sum, { length }) => sum + length, 0),
  );
  let at = 0;
  for (const part of parts) {
    copyInto(all, at, part, work);
    at += part.length;
  }
  return all;
}

/**
 * Bytes one after the other, put together with checkpoints.
 *
 * @param parts The bytes.
 * @param work What is done, for who looks at the progress.
 */
export function joinBytes(
  parts: readonly Uint8Array[],
  work: string,
): Uint8Array<ArrayBuffer> {
  const total = parts.reduce((sum, part) => sum + part.length, 0);
  const bytes = new Uint8Array(total);
  let at = 0;
  for (const part of parts) {
    for (let first = 0; first < part.length; first += 16 * stride) {
      const last = Math.min(part.length, first + 16 * stride);
      if (total > 16 * stride) checkpoint(at / total, work);
      bytes.set(part.subarray(first, last), at);
      at += last - first;
    }
  }
  return bytes;
}
