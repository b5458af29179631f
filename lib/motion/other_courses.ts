import { phaseGrid } from "./phase_grid.ts";
import type { FringeParameters } from "./phase_fit.ts";
import { costOfLeaving } from "./phase_trellis.ts";

/**
 * Grids on which it is sought. On the first long slow strokes of little noise, whose
 * speeds lie between its cells, lose to others (one of ten benches of the grid);
 * on the second no wrong reading of the zoo wins but one, 0.2 of a fringe off. The
 * levels are known to less than of a search: with 0.05 one more of 52 wrong
 * readings of the zoo wins, and as many right ones lose.
 */
const grids = [
  { cellsPerTurn: 64, stepsPerLeg: 4, levelDoubt: 0.08 },
  { cellsPerTurn: 128, stepsPerLeg: 3.5, levelDoubt: 0.08 },
] as const;
/** So far behind another course none comes up on a finer grid. */
const hopeless = -500;
/** Half fringes at either end that may go either way. */
const openEnds = 2;

/**
 * By how much the course of a fit is likelier than the likeliest that leaves it by
 * half a fringe or more, somewhere but at the very ends of the record: both are
 * sought through a grid of places and speeds, with the fringe of the fit, and
 * through a finer one where it is no likelier.
 *
 * @param signal The signal; `NaN` says nothing.
 * @param phase φ0 of every sample by its fit, in rad.
 * @param parameters Feedback and levels of the fringe by its fit.
 * @param noise White noise of the signal, in its unit.
 * @param fastest Samples of the shortest half fringe.
 * @returns Logarithm of the ratio of the likelihoods (1): below 0 another course is
 * likelier, `Infinity` where none comes near.
 */
export function marginOverOthers(
  signal: Float64Array,
  phase: Float64Array,
  parameters: FringeParameters,
  noise: number,
  fastest: number,
): number {
  const relativeNoise = Math.max(0.01, noise / parameters.amplitude);
  let margin = -Infinity;
  for (const size of grids) {
    const { model, cell, step, levels, seen, grid } = phaseGrid(
      signal,
      parameters,
      relativeNoise,
      fastest,
      size,
    );
    if (levels.length < 4) return Infinity;
    const place = levels.map((_, k) =>
      (phase[k * step]! + model.reach + model.shift) / cell - 0.5
    );
    const ends = openEnds * size.stepsPerLeg;
    margin = Math.max(
      margin,
      costOfLeaving(levels, seen, grid, { place, ends }),
    );
    if (margin >= 0 || margin < hopeless) break;
  }
  return margin;
}
