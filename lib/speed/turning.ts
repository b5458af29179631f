/** Bins from the edge within which a line is near to it. */
export const nearBins = 10;

/** A place where the line runs into zero frequency (or the fold) and out again. */
export interface Reflection {
  /** When, in s from the first sample. */
  readonly time: number;
  /** Standard uncertainty, in s. */
  readonly standardUncertainty: number;
  /** First frame after it. */
  readonly frame: number;
  /** How fast the line runs in and out, in Hz/s. */
  readonly slope: number;
}

/** A time in which the line stays at zero frequency. */
export interface Standstill {
  /** When the line runs into zero, in s; 0 where it begins there. */
  readonly from: number;
  /** When it runs out of it, in s; the end where it never does. */
  readonly to: number;
  /** Standard uncertainty of both, in s. */
  readonly standardUncertainty: number;
  /** First frame after it. */
  readonly frame: number;
}

/** Frames without a line that are a standstill at an end of the record. */
const leastAtEnds = 4;

/**
 * Finds where the line runs into zero frequency along a straight line, stays away,
 * and runs out of it again; or does one of both, at an end of the record.
 *
 * @param time Time of the frames, in s.
 * @param frequency Frequency of the line, in Hz; `NaN` where it is not seen.
 * @param binWidth Distance of the bins, in Hz.
 */
export function findStandstills(
  time: Float64Array,
  frequency: Float64Array,
  binWidth: number,
): Standstill[] {
  const found: Standstill[] = [];
  const count = time.length;
  const step = count > 1 ? time[1]! - time[0]! : 0;
  const end = time.at(-1)! + time[0]!;
  for (const { first, next } of dipsOf(frequency, nearBins * binWidth)) {
    const unseen = frequency.subarray(first, next).filter(Number.isNaN).length;
    const before = first > 0 ? edgeLine(time, frequency, first - 1, -1) : null;
    const after = next < count ? edgeLine(time, frequency, next, 1) : null;
    const stops = before !== null && before.slope < 0 &&
      isInside(before.zero, time, first, next);
    const starts = after !== null && after.slope > 0 &&
      isInside(after.zero, time, first, next);
    const isLong = unseen >= leastAtEnds;
    const from = stops ? before.zero : first === 0 && isLong ? 0 : NaN;
    const to = starts ? after.zero : next === count && isLong ? end : NaN;
    // Tangents of a dip that only touches the edge lie half a gap apart.
    const gap = (next - first + 1) * step;
    const rests = isLong && to - from > Math.max(0.55 * gap, 4 * step);
    if (!(stops || starts) || !rests) continue;
    found.push({
      from,
      to,
      standardUncertainty: Math.max(
        stops ? before.uncertainty : 0,
        starts ? after.uncertainty : 0,
        step / Math.sqrt(12),
      ),
      frame: next,
    });
  }
  return found;
}

/** Whether a time lies between the frames about a dip, or hardly beside them. */
function isInside(
  zero: number,
  time: Float64Array,
  first: number,
  next: number,
): boolean {
  const step = time[1]! - time[0]!;
  return zero > time[Math.max(0, first - 1)]! - 2 * step &&
    zero < time[Math.min(time.length - 1, next)]! + 2 * step;
}

/** Frames in which the line is not seen, or nearer to the edge than `near`. */
function dipsOf(
  height: Float64Array,
  near: number,
): { first: number; next: number }[] {
  const dips: { first: number; next: number }[] = [];
  const isLow = (i: number) => Number.isNaN(height[i]!) || height[i]! < near;
  for (let i = 0; i < height.length; i++) {
    if (!isLow(i)) continue;
    const first = i;
    while (i < height.length && isLow(i)) i++;
    dips.push({ first, next: i });
  }
  return dips;
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
  for (const { first, next } of dipsOf(height, nearBins * binWidth)) {
    // A dip that is seen to stay clear of the edge is none.
    const reaches = height.subarray(first, next).some((value) =>
      !(value > 4 * binWidth)
    );
    const one = reaches && first > 0 && next < time.length
      ? reflectionBetween(time, height, first - 1, next)
      : null;
    if (one !== null) found.push(one);
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
  const between = after.zero - before.zero;
  const apart = Math.abs(between);
  const inside = [before.zero, after.zero].every((zero) =>
    zero > time[last]! - 0.5 * gap && zero < time[next]! + 0.5 * gap
  );
  const step = time[1]! - time[0]!;
  // A dip that only touches the edge as a parabola has tangents half a gap apart;
  // those of a turn that is fastest in its middle cross each other.
  const most = Math.max(0.25 * gap, 1.5 * step);
  if (!inside || between > most || between < -3 * most) return null;
  const crossing = (before.zero + after.zero) / 2;
  let frame = last + 1;
  while (frame < next && time[frame]! < crossing) frame++;
  return {
    time: crossing,
    // What bends both lines alike cancels in the mean of both.
    standardUncertainty: Math.hypot(
      Math.hypot(before.uncertainty, after.uncertainty) / 2,
      apart / 12,
      step / 20,
    ),
    frame,
    slope: (after.slope - before.slope) / 2,
  };
}

function edgeLine(
  time: Float64Array,
  height: Float64Array,
  start: number,
  way: 1 | -1,
): { slope: number; zero: number; uncertainty: number } | null {
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
  if (slope === 0) return null;
  let squares = 0;
  ts.forEach((t, k) => squares += (hs[k]! - h0 - slope * (t - t0)) ** 2);
  const zero = t0 - h0 / slope;
  // Three frames in four share samples: the residuals say a quarter.
  const single = 2 * Math.sqrt(squares / (ts.length - 2)) / Math.abs(slope);
  return {
    slope,
    zero,
    uncertainty: single *
      Math.sqrt(1 / ts.length + (zero - t0) ** 2 / bottom),
  };
}

/** While the surface rests there is no line: what was followed then is noise. */
export function leaveOutRests(
  rests: readonly Standstill[],
  time: Float64Array,
  courses: readonly Float64Array[],
): void {
  for (const { from, to } of rests) {
    time.forEach((middle, k) => {
      if (middle <= from || middle >= to) return;
      for (const course of courses) course[k] = NaN;
    });
  }
}
