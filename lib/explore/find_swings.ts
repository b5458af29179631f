import { checkpoint } from "../progress/mod.ts";

/** A signal's way from one extreme to the next. */
export interface Swing {
  /** Sample of the first extreme. */
  readonly from: number;
  /** Sample of the second. */
  readonly to: number;
  /** Value at the first, in the unit of the signal. */
  readonly start: number;
  /** Value at the second. */
  readonly end: number;
}

/** Height of a swing, in the unit of the signal. */
export const heightOf = ({ start, end }: Swing): number =>
  Math.abs(end - start);

/** Length of a swing, in samples. */
export const lengthOf = ({ from, to }: Swing): number => to - from;

/** The median of a few values, whose order changes. */
export function medianOfFew(values: number[]): number {
  return values.sort((a, b) => a - b)[values.length >> 1] ?? NaN;
}

/**
 * Finds the swings of a signal: from extreme to extreme, where an extreme counts
 * once the signal has come back from it by the hysteresis.
 *
 * @param signal The signal.
 * @param hysteresis In its unit.
 * @returns Swings in order; what comes before the first and after the last extreme
 * is left out.
 */
export function findSwings(signal: Float64Array, hysteresis: number): Swing[] {
  const swings: Swing[] = [];
  let previous = -1;
  let way = 0;
  let high = 0;
  let low = 0;
  const take = (at: number) => {
    if (previous >= 0) {
      swings.push({
        from: previous,
        to: at,
        start: signal[previous]!,
        end: signal[at]!,
      });
    }
    previous = at;
  };
  for (let i = 1; i < signal.length; i++) {
    if ((i & 0x1ffff) === 0) checkpoint(NaN, "look for swings");
    const value = signal[i]!;
    if (value > signal[high]!) high = i;
    if (value < signal[low]!) low = i;
    if (way >= 0 && signal[high]! - value > hysteresis) {
      // The start of the record is no extreme.
      if (way > 0) take(high);
      way = -1;
      low = i;
    } else if (way <= 0 && value - signal[low]! > hysteresis) {
      if (way < 0) take(low);
      way = 1;
      high = i;
    }
  }
  return swings;
}
