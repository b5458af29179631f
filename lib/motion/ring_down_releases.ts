import { strongestLine } from "./line_search.ts";

/** A stretch of the record in which a motion decays, as sample indices. */
export interface DecaySpan {
  /** The first turn after the release. */
  readonly first: number;
  /** The sample after the last. */
  readonly end: number;
}

const mostValues = 1 << 16;
/** Swing of a release over the largest one, at least. */
const leastSwing = 0.2;
/** Swing before a release over that after it, at most. */
const mostBefore = 0.4;
/** Half periods within which the swing must rise. */
const quick = 5;
/** Periods that a decay must have. */
const leastPeriods = 3;
/** Swing over the least one from which on a target rests. */
const resting = 1.5;
/** Swing over the least one before, from which on it is deflected anew. */
const growing = 3;
/** Swing at the end of a decay over that of its start, at most. */
const mostAfter = 0.7;

/**
 * Finds where a target was let go or tapped, again and again: the swing within one
 * period rises from small to large within two, and dies away until the next time.
 *
 * @param x The displacement, in m; `NaN` in gaps.
 * @param samplingRate Samples per second, in Hz.
 * @returns The decays in order of time; none where no swing rises so.
 */
export function findDecays(
  x: Float64Array,
  samplingRate: number,
): DecaySpan[] {
  const step = Math.max(1, Math.ceil(x.length / mostValues));
  const rate = samplingRate / step;
  const values = thinMeans(x, step);
  // A release holds all frequencies and a slow drift the lowest: the speed shows
  // the ringing.
  const speed = values.slice(1).map((value, i) => value - values[i]!);
  // The line through both ends is taken off: a release there is no slope.
  speed[0] = speed[speed.length - 1] = 0;
  const frequency = strongestLine(speed, rate);
  const half = Math.max(2, Math.round(rate / frequency / 2));
  const swings = swingsOf(values, half);
  const largest = Math.max(...swings);
  const spans: { from: number; to: number }[] = [];
  for (let j = 0; j < swings.length; j++) {
    const own = swings[j]!;
    const isTop = own >= (swings[j - 1] ?? 0) && own >= (swings[j + 1] ?? 0) &&
      own > leastSwing * largest;
    const before = swings.slice(Math.max(0, j - quick), j);
    const rises = j < quick || before.some((one) => one < mostBefore * own);
    if (!isTop || !rises) continue;
    const last = spans.at(-1);
    // The swing of the release itself may be cut in two by the windows.
    if (last !== undefined && j - last.from <= quick) {
      if (own > swings[last.from]!) last.from = j;
      continue;
    }
    spans.push({ from: j, to: swings.length });
  }
  for (let k = 0; k + 1 < spans.length; k++) {
    const { from } = spans[k]!;
    spans[k]!.to = from + 1 + restOf(swings.slice(from, spans[k + 1]!.from));
  }
  return spans
    .filter(({ from, to }) =>
      to - from >= 2 * leastPeriods &&
      swings[Math.min(to, swings.length) - 1]! < mostAfter * swings[from]!
    )
    .map(({ from, to }) => ({
      first: step * firstTurn(values, from, half),
      end: Math.min(x.length, step * half * to),
    }));
}

/**
 * Where a decay ends: it comes to rest, or it is deflected again, as its swing
 * grows to several times what it had fallen to.
 */
function restOf(swings: readonly number[]): number {
  const floor = resting * Math.min(...swings);
  let least = 0;
  for (let j = 0; j < swings.length; j++) {
    const own = swings[j]!;
    if (own < floor) return j;
    if (own < swings[least]!) least = j;
    if (own > growing * swings[least]!) return least;
  }
  return least;
}

/** Largest minus smallest value of a period, every half of one. */
function swingsOf(values: Float64Array, half: number): number[] {
  const swings: number[] = [];
  for (let i = 0; i + 2 * half <= values.length; i += half) {
    let low = Infinity, high = -Infinity;
    for (let k = i; k < i + 2 * half; k++) {
      if (values[k]! < low) low = values[k]!;
      if (values[k]! > high) high = values[k]!;
    }
    swings.push(high - low);
  }
  return swings;
}

/** The first turn after the target ran fastest. */
function firstTurn(
  values: Float64Array,
  window: number,
  half: number,
): number {
  const from = Math.max(1, (window - 1) * half);
  const to = Math.min(values.length - 1, (window + 2) * half);
  const reach = Math.max(1, half >> 3);
  const speedAt = (i: number) =>
    values[Math.min(values.length - 1, i + reach)]! -
    values[Math.max(0, i - reach)]!;
  let fastest = from;
  for (let i = from; i < to; i++) {
    if (Math.abs(speedAt(i)) > Math.abs(speedAt(fastest))) fastest = i;
  }
  const way = Math.sign(speedAt(fastest));
  let i = fastest;
  while (i < values.length - 1 && speedAt(i) * way > 0) i++;
  return i;
}

/** Means of so many neighbours; the value before in gaps. */
function thinMeans(x: Float64Array, step: number): Float64Array {
  const thin = new Float64Array(Math.floor(x.length / step));
  let last = x.find((value) => value === value) ?? 0;
  for (let k = 0; k < thin.length; k++) {
    let sum = 0, count = 0;
    for (let i = k * step; i < (k + 1) * step; i++) {
      if (x[i] !== x[i]) continue;
      sum += x[i]!;
      count++;
    }
    if (count > 0) last = sum / count;
    thin[k] = last;
  }
  return thin;
}
