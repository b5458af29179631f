import { checkpoint } from "../progress/mod.ts";

/** The analogue-to-digital converter of the simulated bench. */
export interface DigitiserModel {
  /** Bits of one sample (1), a whole number from 1 to 32. */
  bits: number;
  /** Lowest value it can give, in the unit of the channel. */
  low: number;
  /** Highest value it can give, in the unit of the channel. */
  high: number;
}

/**
 * Rounds to the converter's steps and holds at its ends, in place: 2^bits codes
 * from `low`, the last one step below `high`.
 */
export function digitise(samples: Float64Array, model: DigitiserModel): void {
  const { bits, low, high } = model;
  if (!(Number.isInteger(bits) && bits >= 1 && bits <= 32 && high > low)) {
    throw new RangeError(
      `Cannot digitise as the converter must have 1 to 32 bits and 'high' above 'low': current values are ${bits}, ${low}, ${high}`,
    );
  }
  const last = 2 ** bits - 1;
  const step = (high - low) / 2 ** bits;
  for (let i = 0; i < samples.length; i++) {
    if ((i & 0x1ffff) === 0x1ffff) checkpoint(i / samples.length, "digitise");
    const code = Math.round((samples[i]! - low) / step);
    samples[i] = low + step * Math.min(last, Math.max(0, code));
  }
}
