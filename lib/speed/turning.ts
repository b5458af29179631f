/** A place where the line runs into zero frequency (or the fold) and out again. */
export interface Reflection {
  /** When, in s from the first sample. */
  readonly time: number;
  /** Standard uncertainty, in s. */
  readonly standardUncertainty: number;
  /** First frame after it. */
  readonly frame: number;
}

/**
 * Finds where a frequency that is known without its sign goes through zero: it
 * falls to zero along one straight line and rises again along another of the
 * opposite slope. Also finds, on `limit − frequency`, where a line is folded at
 * half the sampling rate.
 *
 * @param time Time of the frames, in s.
 * @param height Distance of the line from the reflecting edge, in Hz; `NaN`
 * where it is not seen.
 * @param binWidth Distance of the bins, in Hz.
 */
export function findReflections(
  time: Float64Array,
  height: Float64Array,
  binWidth: number,
): Reflection[] {
  const found: Reflection[] = [];
  const near = 10 * binWidth;
  let i = 0;
  while (i < time.length) {
    if (Number.isNaN(height[i]!) || height[i]! < near) {
      let j = i;
      while (
        j < time.length && (Number.isNaN(height[j]!) || height[j]! < near)
      ) j++;
      // A dip that is seen to stay clear of the edge is none.
      const reaches = height.subarray(i, j).some((value) =>
        !(value > 4 * binWidth)
      );
      const one = reaches && i > 0 && j < time.length
        ? reflectionBetween(time, height, i - 1, j)
        : null;
      if (one !== null) found.push(one);
      i = j;
    } else i++;
  }
  return found;
}

/** Straight lines before and after a dip that meet the edge at one time. */
function reflectionBetween(
  time: Float64Array,
  height: Float64Array,
  last: number,
  next: number,
): Reflection | null {
  const before = edgeLine(time, height, last, -1);
  const after = edgeLine(time, height, next, 1);
  if (before === null || after === null) return null;
  if (!(before.slope < 0 && after.slope > 0)) return null;
  const ratio = -after.slope / before.slope;
  if (!(ratio > 0.4 && ratio < 2.5)) return null;
  const gap = time[next]! - time[last]!;
  const apart = Math.abs(after.zero - before.zero);
  const inside = [before.zero, after.zero].every((zero) =>
    zero > time[last]! - 0.5 * gap && zero < time[next]! + 0.5 * gap
  );
  const step = time[1]! - time[0]!;
  // A dip that only touches the edge as a parabola has tangents half a gap apart.
  if (!inside || apart > Math.max(0.25 * gap, 1.5 * step)) return null;
  const crossing = (before.zero + after.zero) / 2;
  let frame = last + 1;
  while (frame < next && time[frame]! < crossing) frame++;
  return {
    time: crossing,
    standardUncertainty: Math.max(apart / 2, step / Math.sqrt(12)),
    frame,
  };
}

function edgeLine(
  time: Float64Array,
  height: Float64Array,
  start: number,
  way: 1 | -1,
): { slope: number; zero: number } | null {
  const ts: number[] = [];
  const hs: number[] = [];
  for (
    let i = start;
    i >= 0 && i < time.length && ts.length < 8 && !Number.isNaN(height[i]!);
    i += way
  ) {
    ts.push(time[i]!);
    hs.push(height[i]!);
  }
  if (ts.length < 4) return null;
  const mean = (values: number[]) =>
    values.reduce((sum, value) => sum + value, 0) / values.length;
  const t0 = mean(ts), h0 = mean(hs);
  let top = 0, bottom = 0;
  ts.forEach((t, k) => {
    top += (t - t0) * (hs[k]! - h0);
    bottom += (t - t0) ** 2;
  });
  const slope = top / bottom;
  return slope === 0 ? null : { slope, zero: t0 - h0 / slope };
}
