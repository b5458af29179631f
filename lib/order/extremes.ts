import { checkpoint } from "../progress/mod.ts";

const stride = 0x1ffff;

/**
 * The lowest and the highest of some numbers, with checkpoints; `NaN` does not
 * count, and nothing gives `[Infinity, -Infinity]`.
 *
 * @param values The numbers.
 */
export function extremesOf(
  values: ArrayLike<number>,
): [low: number, high: number] {
  let low = Infinity;
  let high = -Infinity;
  for (let i = 0; i < values.length; i++) {
    if ((i & stride) === stride) checkpoint();
    const value = values[i]!;
    if (value < low) low = value;
    if (value > high) high = value;
  }
  return [low, high];
}
