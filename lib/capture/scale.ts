/**
 * (number − zero) × scale in place; divides by the inverse where that is the
 * exact whole number, so that 0.001 gives the nearest number.
 */
export function scaleRange(
  samples: Float64Array,
  start: number,
  end: number,
  zero: number,
  scale: number,
): void {
  if (zero !== 0) {
    for (let i = start; i < end; i++) samples[i] = samples[i]! - zero;
  }
  if (scale === 1) return;
  const inverse = Math.round(1 / scale);
  if (scale < 1 && scale > 0 && 1 / inverse === scale) {
    for (let i = start; i < end; i++) samples[i] = samples[i]! / inverse;
  } else {
    for (let i = start; i < end; i++) samples[i] = samples[i]! * scale;
  }
}
