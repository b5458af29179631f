/**
 * A mode hop on the ramp: above a current the wavelength is longer by a step, as
 * if the current were higher by a shift. Fringes against the current with its
 * shift are even across the hop, and the strokes can be counted whole.
 */
export interface HopStep {
  /**
   * Where rising strokes hop, from -1 at the lower to 1 at the upper end of the
   * ramp (1); `null` without rising strokes.
   */
  readonly up: number | null;
  /** Where falling strokes hop back, at or below that (1). */
  readonly down: number | null;
  /** Shift of the current above it, on the same scale, less whole steps (1). */
  readonly shift: number;
}

/** How far below the rising the falling strokes may hop back, and above (1). */
export const hysteresis = { below: 0.3, above: 0.06 };

/**
 * Farthest from the middle of the ramp that a hop is told (1): next to where the
 * current turns round a lag looks the same.
 */
export const farthest = 0.85;

/** Whether a hop is within the ramp, and back below where it hopped. */
export function isPossible({ up, down }: HopStep): boolean {
  if (Math.abs(up ?? 0) > farthest || Math.abs(down ?? 0) > farthest) {
    return false;
  }
  if (up === null || down === null) return true;
  return up - down < hysteresis.below && up - down > -hysteresis.above;
}

/** Shift of the current at each place of a stroke. */
export function hopShifts(
  place: Float64Array,
  hops: readonly HopStep[],
  direction: "up" | "down",
): Float64Array {
  const shifts = new Float64Array(place.length);
  for (const hop of hops) {
    const at = hop[direction];
    if (at === null) continue;
    for (let i = 0; i < shifts.length; i++) {
      if (place[i]! > at) shifts[i]! += hop.shift;
    }
  }
  return shifts;
}

/**
 * A shift less whole steps: the nearest to 0, or, for fringes that jump, the
 * least above 0, as the phase runs on across a hop the way that it runs before.
 */
export function lessWholeSteps(
  shift: number,
  steps: number,
  jumping: boolean,
): number {
  const turns = shift * steps / 2;
  const rest = turns - (jumping ? Math.floor(turns) : Math.round(turns));
  return 2 / steps * rest;
}
