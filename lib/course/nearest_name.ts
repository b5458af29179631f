/**
 * The name of a list that a misspelt one is nearest to.
 *
 * @param name As written.
 * @param names Those that there are.
 * @returns The nearest; `null` where the list is empty.
 *
 * @example
 * ```ts
 * import { nearestName } from "fringebook";
 * import { expect } from "vitest";
 *
 * expect(nearestName("distence", ["speed", "distance"])).toBe("distance");
 * ```
 */
export function nearestName(
  name: string,
  names: readonly string[],
): string | null {
  let nearest: string | null = null;
  let least = Infinity;
  for (const each of names) {
    const apart = editDistance(name.slice(0, 100), each);
    if (apart >= least) continue;
    least = apart;
    nearest = each;
  }
  return nearest;
}

/** Letters to put in, take out or change (Levenshtein 1966). */
function editDistance(a: string, b: string): number {
  let row = Array.from({ length: b.length + 1 }, (_, index) => index);
  for (let i = 1; i <= a.length; i++) {
    const next = [i];
    for (let j = 1; j <= b.length; j++) {
      const change = row[j - 1]! + (a[i - 1] === b[j - 1] ? 0 : 1);
      next.push(Math.min(change, row[j]! + 1, next[j - 1]! + 1));
    }
    row = next;
  }
  return row[b.length]!;
}
