import { copyOf } from "../memory/mod.ts";
import { checkpoint } from "../progress/mod.ts";

const work = "look for gaps";
/** Mask of the samples between two checkpoints. */
const stride = 0x1ffff;

/** Stretch of samples, both ends included. */
export interface Stretch {
  /** First sample. */
  readonly first: number;
  /** Last sample. */
  readonly last: number;
}

/** Straight lines over missing samples: for finding fringes, never for fits. */
export function fillGaps(signal: Float64Array): Float64Array {
  const filled = copyOf(signal, work);
  let last = -1;
  for (let i = 0; i <= filled.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, work);
    if (i < filled.length && Number.isNaN(filled[i]!)) continue;
    if (i - last > 1) {
      const a = last >= 0 ? filled[last]! : filled[i] ?? 0;
      const b = i < filled.length ? filled[i]! : a;
      for (let k = last + 1; k < i; k++) {
        filled[k] = a + (b - a) * (k - last) / (i - last);
      }
    }
    last = i;
  }
  return filled;
}

/**
 * Stretches between gaps that are too long to be bridged.
 *
 * @param signal The signal; `NaN` where samples are missing.
 * @param longest Longest gap that is bridged, in samples.
 * @param shortest Shortest stretch that counts, in samples.
 * @returns The stretches in order of time.
 */
export function stretchesOf(
  signal: Float64Array,
  longest: number,
  shortest: number,
): Stretch[] {
  if (!signal.includes(NaN)) {
    const last = signal.length - 1;
    return last + 1 >= shortest ? [{ first: 0, last }] : [];
  }
  const stretches: Stretch[] = [];
  let first = -1;
  let last = -1;
  const close = () => {
    if (first >= 0 && last - first + 1 >= shortest) {
      stretches.push({ first, last });
    }
  };
  for (let i = 0; i < signal.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, work);
    if (signal[i] !== signal[i]) continue;
    if (first < 0 || i - last > longest + 1) {
      close();
      first = i;
    }
    last = i;
  }
  close();
  return stretches;
}
