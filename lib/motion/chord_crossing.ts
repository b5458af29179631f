/**
 * Where a signal passes a level between two places: a straight line through the
 * samples around the first crossing in the given sense, so that noise averages.
 *
 * @param signal The signal.
 * @param from First place, in samples.
 * @param to Last place, in samples.
 * @param level The level, in the unit of the signal.
 * @param rising Whether it is passed upwards.
 * @returns The place, or `null` if it is not passed.
 */
export function findChordCrossing(
  signal: Float64Array,
  from: number,
  to: number,
  level: number,
  rising: boolean,
): number | null {
  const sign = rising ? 1 : -1;
  const first = Math.ceil(from) + 1;
  const last = Math.floor(to) - 1;
  // Half of the samples below, half above: the count of those below is robust.
  let below = 0;
  for (let i = first; i <= last; i++) {
    if (sign * (signal[i]! - level) < 0) below++;
  }
  if (below < 1 || below > last - first) return null;
  const centre = first + below - 0.5;
  const half = Math.max(1, Math.min(below, last - first + 1 - below) / 2);
  /** Where the line through the samples nearer than `reach` crosses. */
  const lineCrossing = (reach: number): number | null => {
    let n = 0, sx = 0, sy = 0, sxx = 0, sxy = 0;
    for (
      let i = Math.max(first, Math.ceil(centre - reach));
      i <= Math.min(last, Math.floor(centre + reach));
      i++
    ) {
      const x = i - centre;
      const y = signal[i]! - level;
      n++;
      sx += x;
      sy += y;
      sxx += x * x;
      sxy += x * y;
    }
    const determinant = n * sxx - sx * sx;
    if (n < 2 || determinant === 0) return null;
    const slope = (n * sxy - sx * sy) / determinant;
    const intercept = (sy - slope * sx) / n;
    if (!(sign * slope > 0)) return null;
    return centre + Math.max(-reach, Math.min(reach, -intercept / slope));
  };
  const wide = lineCrossing(half);
  if (wide === null) return centre;
  // What the curve bends within a chord goes with the square of its length.
  const narrow = half < 6 ? null : lineCrossing(half / 2);
  return narrow === null ? wide : (4 * narrow - wide) / 3;
}
