import { basisTable } from "./cubic_spline.ts";
import type { Detection } from "./detection.ts";
import { type FringeHeight, heightOf } from "./fringe_height.ts";
import {
  addPhaseEquation,
  addRoughness,
  clearSystem,
  makeSystem,
  phaseAt,
  solveSystem,
} from "./phase_system.ts";

/** Extremes between knots. */
const extremesPerKnot = 5;
const leastIntervals = 4;
const mostIntervals = 32;
/** Weight of an extreme below the course: turning points lie there (1). */
const weightBelow = 0.02;
const rounds = 12;

/**
 * Course of the fringes' height as their extremes show it: a spline that leans on
 * the outermost of them, as turning points and the lesser swings of strong
 * feedback lie below (least squares with unequal weights on both sides).
 *
 * Source: Newey, Powell 1987, Econometrica 55, 819 (asymmetric least squares).
 *
 * @param sampleCount Samples of the record.
 * @param detection Its fringes.
 * @returns The height, or `null` if there are too few extremes.
 */
export function heightByExtremes(
  sampleCount: number,
  { extremes, scale }: Detection,
): FringeHeight | null {
  const { index, value } = extremes;
  const intervals = Math.min(
    mostIntervals,
    Math.floor(index.length / extremesPerKnot),
  );
  if (intervals < leastIntervals) return null;
  const spacing = Math.ceil(sampleCount / intervals);
  const system = makeSystem(intervals + 3);
  const basis = basisTable(spacing);
  let coefficients: Float64Array | null = null;
  for (let round = 0; round < rounds; round++) {
    clearSystem(system);
    for (let k = 0; k < index.length; k++) {
      const i = index[k]!;
      const level = Math.abs(value[k]! - scale.middle) / scale.amplitude;
      const below = coefficients !== null &&
        level < phaseAt(coefficients, spacing, i);
      const interval = Math.floor(i / spacing);
      addPhaseEquation(
        system,
        interval,
        basis,
        4 * (i - interval * spacing),
        0,
        0,
        level,
        below ? weightBelow : 1,
      );
    }
    addRoughness(system, null);
    const solution = solveSystem(system, []);
    if (solution === null) return null;
    ({ coefficients } = solution);
  }
  return coefficients && heightOf({ spacing, coefficients }, sampleCount);
}
