import { extremes } from "../axis.ts";

/** A part of a record, by its samples. */
export interface Stretch {
  /** First sample. */
  readonly from: number;
  /** One past the last sample. */
  readonly to: number;
  /** Whether it is the whole record. */
  readonly whole: boolean;
}

/** More fringes than this make a solid block of a line. */
const mostFringes = 200;

/** So many fringes are seen one by one. */
const shownFringes = 40;

/**
 * The part of a record in which fringes can be seen one by one: all of it where
 * there are few, else some forty fringes in its middle whose rate is the usual
 * one.
 *
 * @param samples The signal (N), any unit.
 * @returns The part.
 */
export function legibleStretch(samples: ArrayLike<number>): Stretch {
  const all = { from: 0, to: samples.length, whole: true };
  const rises = risesOf(samples);
  if (rises.length <= mostFringes) return all;
  const spans: { at: number; length: number }[] = [];
  for (let k = 0; k + shownFringes < rises.length; k += shownFringes / 4) {
    spans.push({ at: k, length: rises[k + shownFringes]! - rises[k]! });
  }
  const usual = spans.map(({ length }) => length)
    .sort((a, b) => a - b)[Math.floor(spans.length / 2)]!;
  // Of those with the usual rate the one nearest to the middle.
  const cost = ({ at, length }: (typeof spans)[number]) =>
    Math.abs(Math.log(length / usual)) +
    Math.abs(at / rises.length - 0.5) / 4;
  const [best] = spans.sort((a, b) => cost(a) - cost(b));
  const from = rises[best!.at]!;
  return { from, to: from + best!.length + 1, whole: false };
}

/** Samples at which the signal rises through its middle, with hysteresis. */
function risesOf(samples: ArrayLike<number>): number[] {
  const stride = Math.max(1, Math.floor(samples.length / 5000));
  const some = Array.from(
    { length: Math.floor(samples.length / stride) },
    (_, k) => samples[k * stride]!,
  ).filter(Number.isFinite).sort((a, b) => a - b);
  const at = (part: number) => some[Math.floor(part * (some.length - 1))] ?? 0;
  const middle = (at(0.05) + at(0.95)) / 2;
  const reach = (at(0.95) - at(0.05)) / 5;
  const found: number[] = [];
  if (!(reach > 0)) return found;
  let low = false;
  for (let k = 0; k < samples.length; k++) {
    const value = samples[k]!;
    if (value < middle - reach) low = true;
    else if (low && value > middle + reach) {
      low = false;
      found.push(k);
    }
  }
  return found;
}

/**
 * The lowest and the highest value of each of many equal parts of a record.
 *
 * @param samples The signal (N), any unit.
 * @param parts How many parts.
 * @returns First sample, lowest and highest value of each part that has any.
 */
export function envelope(
  samples: ArrayLike<number>,
  parts = 380,
): { at: number[]; low: number[]; high: number[] } {
  const count = Math.min(parts, samples.length);
  const result = {
    at: [] as number[],
    low: [] as number[],
    high: [] as number[],
  };
  for (let part = 0; part < count; part++) {
    const from = Math.floor(part * samples.length / count);
    const to = Math.floor((part + 1) * samples.length / count);
    const values = Array.from(
      { length: to - from },
      (_, k) => samples[from + k]!,
    );
    const [low, high] = extremes([values]);
    if (low > high) continue;
    result.at.push((from + to - 1) / 2);
    result.low.push(low);
    result.high.push(high);
  }
  return result;
}
