import type { Samples } from "./capture.ts";

/** The whole number that a scale is the exact inverse of; 0 if of none. */
function inverseOf(scale: number): number {
  const inverse = Math.round(1 / scale);
  return scale < 1 && scale > 0 && 1 / inverse === scale ? inverse : 0;
}

/**
 * Whether {@linkcode scaleRange} multiplies, or gives what a multiplication
 * gives: the inverse of a power of two is exact.
 */
export function multiplies(scale: number): boolean {
  const inverse = inverseOf(scale);
  return inverse === 0 || 2 ** Math.round(Math.log2(inverse)) === inverse;
}

/**
 * (number − zero) × scale in place; divides by the inverse where that is the
 * exact whole number, so that 0.001 gives the nearest number.
 */
export function scaleRange(
  samples: Samples,
  start: number,
  end: number,
  zero: number,
  scale: number,
): void {
  if (zero !== 0) {
    for (let i = start; i < end; i++) samples[i] = samples[i]! - zero;
  }
  if (scale === 1) return;
  const inverse = inverseOf(scale);
  if (inverse !== 0) {
    for (let i = start; i < end; i++) samples[i] = samples[i]! / inverse;
  } else {
    for (let i = start; i < end; i++) samples[i] = samples[i]! * scale;
  }
}
