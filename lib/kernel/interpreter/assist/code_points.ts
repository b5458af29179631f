/**
 * Positions in the messages of clients count Unicode code points; the parser
 * counts UTF-16 units.
 *
 * @returns The offset in UTF-16 units, within the text.
 */
export function unitsOf(text: string, codePoints: number): number {
  let units = 0;
  let points = 0;
  for (const character of text) {
    if (points >= codePoints) break;
    units += character.length;
    points++;
  }
  return units;
}

/** The number of code points before an offset in UTF-16 units. */
export function codePointsOf(text: string, units: number): number {
  return [...text.slice(0, units)].length;
}
