import { checkpoint } from "../progress/mod.ts";

/**
 * The value that would stand at a place were the values sorted (Hoare 1961, Commun.
 * ACM 4, 321, "find").
 *
 * @param values The values, none of them `NaN`; their order changes: no larger one
 * is left before the place, no smaller one behind it.
 * @param place From 0 to the last.
 */
export function select(values: Float64Array, place: number): number {
  let from = 0;
  let to = values.length - 1;
  while (from < to) {
    if (to - from > 1e6) checkpoint();
    const { i, j } = partition(values, from, to);
    if (place <= j) to = j;
    else if (place >= i) from = i;
    else break;
  }
  return values[place]!;
}

/** Puts the smaller values of a part up to place j, the larger ones from i on. */
function partition(
  values: Float64Array,
  from: number,
  to: number,
): { readonly i: number; readonly j: number } {
  const pivot = values[(from + to) >> 1]!;
  let i = from;
  let j = to;
  let turns = 0;
  while (i <= j) {
    if ((++turns & 0x1ffff) === 0) checkpoint();
    while (values[i]! < pivot) i++;
    while (values[j]! > pivot) j--;
    if (i > j) break;
    const value = values[i]!;
    values[i++] = values[j]!;
    values[j--] = value;
  }
  return { i, j };
}
