/**
 * The name that a misspelt one was most likely meant to be.
 *
 * @param given The name as given.
 * @param known The names that exist.
 * @returns The nearest one, or `null` where none is near.
 */
export function nearestName(
  given: string,
  known: readonly string[],
): string | null {
  const most = Math.max(2, Math.min(4, Math.floor(given.length / 3)));
  let nearest: string | null = null;
  let least = most + 1;
  for (const name of known) {
    const distance = editDistance(given, name);
    if (distance < least) [nearest, least] = [name, distance];
  }
  if (nearest !== null) return nearest;
  const word = given.toLowerCase();
  const within = known.filter((name) => {
    const other = name.toLowerCase();
    return word.length > 2 && (other.includes(word) || word.includes(other));
  });
  return within.sort((a, b) => a.length - b.length)[0] ?? null;
}

/** Levenshtein distance without regard to case, of the first 40 characters. */
function editDistance(first: string, second: string): number {
  const a = first.slice(0, 40).toLowerCase();
  const b = second.slice(0, 40).toLowerCase();
  let row = Array.from({ length: b.length + 1 }, (_, at) => at);
  for (let i = 1; i <= a.length; i++) {
    const next = [i];
    for (let j = 1; j <= b.length; j++) {
      next.push(Math.min(
        row[j]! + 1,
        next[j - 1]! + 1,
        row[j - 1]! + (a[i - 1] === b[j - 1] ? 0 : 1),
      ));
    }
    row = next;
  }
  return row[b.length]!;
}
