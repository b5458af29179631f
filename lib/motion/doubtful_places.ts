import { checkpoint } from "../progress/mod.ts";

/** Standard uncertainty of φ0 from a place where the fit does not follow, rad. */
export const doubtfulUncertainty = Math.PI / 2;

/**
 * Finds the places where the fit does not follow the signal. At each of them a
 * turning point or a fringe may be misread, so that what comes after is off by a
 * fringe: half a fringe of standard uncertainty each, taken as independent.
 *
 * @param uncertainty Standard uncertainty of φ0 of each sample, in rad.
 * @returns First sample of each place.
 */
export function doubtfulPlaces(uncertainty: Float32Array): number[] {
  // Stored in 32 bit, so a little below.
  const limit = 0.999 * doubtfulUncertainty;
  const places: number[] = [];
  let inside = false;
  for (let i = 0; i < uncertainty.length; i++) {
    if ((i & 0xfffff) === 0xfffff) checkpoint();
    const doubtful = uncertainty[i]! >= limit;
    if (doubtful && !inside) places.push(i);
    inside = doubtful;
  }
  return places;
}
