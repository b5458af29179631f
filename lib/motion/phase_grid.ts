import { checkpoint } from "../progress/mod.ts";
import { type FringeModel, fringeModel } from "./fringe_model.ts";
import type { FringeParameters } from "./phase_fit.ts";
import type { CellLevels, Grid } from "./trellis_steps.ts";

/** How fine a grid is. */
export interface GridSize {
  /** Cells per turn of φ0. */
  readonly cellsPerTurn: number;
  /** Steps in the shortest half fringe. */
  readonly stepsPerLeg: number;
  /** What the levels of a fringe are not known to (1). */
  readonly levelDoubt: number;
}

/** A record cut into steps, and a fringe cut into cells. */
export interface PhaseGrid {
  /** The fringe. */
  readonly model: FringeModel;
  /** Size of a cell, in rad. */
  readonly cell: number;
  /** Samples per step. */
  readonly step: number;
  /** Mean signal of each step, from -1 to 1; `NaN` where there is none. */
  readonly levels: Float64Array;
  readonly seen: CellLevels;
  readonly grid: Grid;
}

const turn = 2 * Math.PI;
/** Part of a cell by which a course may be off its middle (1). */
const blurredPart = 0.35;
/** Speed that is looked for, over that of the shortest half fringe (1). */
const fastestSpeed = 1.3;

/**
 * Cuts a record into steps and a fringe into cells; each step takes the mean of its
 * samples.
 *
 * @param signal The signal; `NaN` says nothing.
 * @param parameters Feedback and levels of the fringe.
 * @param noise Noise over the amplitude (1).
 * @param fastest Samples of the shortest half fringe.
 * @param size How fine the grid is.
 */
export function phaseGrid(
  signal: Float64Array,
  parameters: FringeParameters,
  noise: number,
  fastest: number,
  { cellsPerTurn, stepsPerLeg, levelDoubt }: GridSize,
): PhaseGrid {
  // Good to about a cell anyway: C is taken at the mean height.
  const model = fringeModel(
    parameters.p,
    parameters.q,
    Math.max(noise, 1e-3),
  );
  const cell = turn / cellsPerTurn;
  const step = Math.max(1, Math.floor(fastest / stepsPerLeg));
  const steps = Math.floor((signal.length - 1) / step) + 1;
  const reach = model.feedback > 1 ? model.reach : Math.PI;
  const cells = Math.max(cellsPerTurn, Math.round(2 * reach / cell));
  const most = Math.ceil(
    fastestSpeed * Math.PI / Math.max(1, fastest) * step / cell,
  );
  const deviation = Math.hypot(noise / Math.sqrt(step), levelDoubt);
  return {
    model,
    cell,
    step,
    levels: stepLevels(signal, parameters, step, steps),
    seen: cellLevels(model, cells, cell, deviation),
    grid: { cells, cellsPerTurn, most },
  };
}

/** Mean signal around each step, from -1 to 1; `NaN` where there is none. */
function stepLevels(
  signal: Float64Array,
  { middle, amplitude, height }: FringeParameters,
  step: number,
  steps: number,
): Float64Array {
  const levels = new Float64Array(steps);
  for (let k = 0; k < steps; k++) {
    if ((k & 0xfff) === 0xfff) checkpoint(NaN, "search phase");
    const from = Math.max(0, k * step - (step >> 1));
    const to = Math.min(signal.length, from + step);
    let [sum, count] = [0, 0];
    for (let i = from; i < to; i++) {
      const value = signal[i]!;
      if (value !== value) continue;
      sum += value;
      count++;
    }
    const h = height === null ? 1 : height.values[k * step]!;
    levels[k] = (sum / count - middle) / (amplitude * h);
  }
  return levels;
}

/** What each cell looks like, and how far off a step may be. */
function cellLevels(
  model: FringeModel,
  cells: number,
  cell: number,
  deviation: number,
): CellLevels {
  const level = new Float64Array(cells);
  const factor = new Float64Array(cells);
  const constant = new Float64Array(cells);
  const lastEntry = model.entryOf.length - 1;
  for (let c = 0; c < cells; c++) {
    const place = (c + 0.5) * cell * model.perRadian;
    const j = model.entryOf[Math.max(0, Math.min(lastEntry, place)) | 0]!;
    level[c] = model.signal[j]!;
    const slope = Math.abs(model.slope[j]!);
    const blur = Math.min(0.5, slope * cell * blurredPart);
    const variance = deviation * deviation + blur * blur;
    factor[c] = 0.5 / variance;
    constant[c] = 0.5 * Math.log(variance / (deviation * deviation));
  }
  return { level, factor, constant };
}
