import { checkpoint } from "../progress/mod.ts";
import type { SignalScale } from "./signal_scale.ts";

/**
 * Whether a capacitor stood between amplifier and recorder: light has a level above
 * 0, and a signal that swings about 0 has lost it. Behind a capacitor the levels of
 * a fringe move, and what is slower than its corner is not seen.
 *
 * @param scale Middle and amplitude of the signal.
 */
export function isCoupled(
  { middle, amplitude }: Pick<SignalScale, "middle" | "amplitude">,
): boolean {
  return Math.abs(middle) < amplitude;
}

/** Mask of the windows between two checkpoints. */
const stride = 0xfff;
/** Half fringes, and samples at least, in one window. */
const window = { legs: 8, samples: 32 } as const;
/**
 * In a rest so large a part of a window lies so near to 0, over the amplitude; of
 * fringes that pass it is a third (1).
 */
const rest = { share: 0.9, level: 0.5 } as const;

/**
 * Samples of the longest time in which a signal behind a capacitor stays near 0: no
 * fringe passes, or so slowly that the capacitor holds it back.
 *
 * @param signal The signal; `NaN` says nothing.
 * @param amplitude Half of the fringes' height, in its unit.
 * @param fastest Samples of the shortest half fringe.
 */
export function longestRest(
  signal: Float64Array,
  amplitude: number,
  fastest: number,
): number {
  const size = Math.max(window.samples, Math.round(window.legs * fastest));
  const most = rest.level * amplitude;
  let longest = 0;
  let length = 0;
  for (let k = 0, first = 0; first < signal.length; k++, first += size) {
    if ((k & stride) === stride) checkpoint(NaN, "look for rests");
    const last = Math.min(signal.length, first + size);
    let outside = 0;
    for (let i = first; i < last; i++) {
      if (Math.abs(signal[i]!) > most) outside++;
    }
    length = outside <= (1 - rest.share) * (last - first)
      ? length + last - first
      : 0;
    longest = Math.max(longest, length);
  }
  return longest;
}
