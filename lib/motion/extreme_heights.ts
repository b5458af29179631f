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
  const levels = Float64Array.from(
    value,
    (level) => Math.abs(level - scale.middle) / scale.amplitude,
  );
  const weights = new Float64Array(levels.length).fill(1);
  let coefficients: Float64Array = new Float64Array(0);
  for (let round = 0, settled = false; round < rounds && !settled; round++) {
    clearSystem(system);
    for (let k = 0; k < index.length; k++) {
      const interval = Math.floor(index[k]! / spacing);
      addPhaseEquation(
        system,
        interval,
        basis,
        4 * (index[k]! - interval * spacing),
        0,
        0,
        levels[k]!,
        weights[k]!,
      );
    }
    addRoughness(system, null);
    const solution = solveSystem(system, []);
    if (solution === null) return null;
    coefficients = solution.coefficients;
    settled = true;
    for (let k = 0; k < index.length; k++) {
      const below = levels[k]! < phaseAt(coefficients, spacing, index[k]!);
      const weight = below ? weightBelow : 1;
      if (weight !== weights[k]) settled = false;
      weights[k] = weight;
    }
  }
  return heightOf({ spacing, coefficients }, sampleCount);
}
