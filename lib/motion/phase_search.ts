import type { FringeModel } from "./fringe_model.ts";
import { edge } from "./jump_labels.ts";
import type { FringeParameters } from "./phase_fit.ts";
import type { Jump, LabelledPiece, PhaseLabels } from "./phase_labels.ts";
import { phaseGrid } from "./phase_grid.ts";
import { likeliestCourse } from "./phase_trellis.ts";

/** The likeliest course of φ0 on a grid, with the labels that follow from it. */
export interface PhaseSearch {
  /** φ0 of every sample, in rad, good to about a cell of the grid. */
  readonly phase: Float64Array;
  readonly labels: PhaseLabels;
  /** Minus the logarithm of its likelihood, up to a constant. */
  readonly cost: number;
}

const turn = 2 * Math.PI;
/** What the levels of a fringe are not known to (1). */
const levelDoubt = 0.05;

/**
 * Finds the likeliest course of φ0 through a record for a known fringe: a search
 * over all places on the branch and all speeds (Viterbi 1967). Turning points,
 * jumps and lost fringes need not be known; what is unclear at one place is
 * settled by what comes before and after. Each step takes the mean of its samples.
 *
 * @param signal The signal; `NaN` says nothing.
 * @param parameters Feedback and levels of the fringe.
 * @param noise Noise over the amplitude (1).
 * @param fastest Samples of the shortest half fringe.
 * @param cellsPerTurn Cells of the grid per turn of φ0.
 * @param stepsPerLeg Steps in the shortest half fringe: few for long strokes,
 * whose speed changes slowly, more for short ones.
 * @returns The course, or `null` if the signal is too short.
 */
export function searchPhase(
  signal: Float64Array,
  parameters: FringeParameters,
  noise: number,
  fastest: number,
  cellsPerTurn = 64,
  stepsPerLeg = 4,
): PhaseSearch | null {
  const { model, cell, step, levels, seen, grid } = phaseGrid(
    signal,
    parameters,
    noise,
    fastest,
    { cellsPerTurn, stepsPerLeg, levelDoubt },
  );
  if (levels.length < 4) return null;
  const folded = model.feedback > 1;
  const { start, moves, wraps, cost } = likeliestCourse(levels, seen, grid);
  if (!Number.isFinite(cost)) return null;
  const first = (start + 0.5) * cell - model.reach - model.shift;
  const phase = drawn(moves, first, cell, step, signal.length);
  const jumps = folded ? jumpsOf(signal, wraps, step) : [];
  return {
    phase,
    cost,
    labels: {
      pieces: piecesOf(phase, wraps, step, model),
      jumps,
      trusted: folded ? { low: -0.8, high: 0.65 } : { low: -0.93, high: 0.93 },
      mayFold: folded,
      firstBranch: 0,
    },
  };
}

/** Courses that a beam leaves in one step, typically. */
const usualCourses = 350;

/**
 * How much a search has to do: steps times the courses that are followed, each
 * some 50 ns, as long as a sample takes in one iteration of a fit.
 *
 * @param length Samples.
 * @param fastest Samples of the shortest half fringe.
 * @param stepsPerLeg Steps in the shortest half fringe.
 * @returns Steps times courses (1).
 */
export function searchWork(
  length: number,
  fastest: number,
  stepsPerLeg: number,
): number {
  return usualCourses * length / Math.max(1, Math.floor(fastest / stepsPerLeg));
}

/** φ0 of every sample, straight between steps. */
function drawn(
  moves: Int16Array,
  start: number,
  cell: number,
  step: number,
  length: number,
): Float64Array {
  const phase = new Float64Array(length);
  let before = start;
  phase[0] = start;
  for (let k = 1; k < moves.length; k++) {
    const after = before + moves[k]! * cell;
    for (let i = 1; i <= step; i++) {
      phase[(k - 1) * step + i] = before + (after - before) * i / step;
    }
    before = after;
  }
  for (let i = (moves.length - 1) * step; i < length; i++) phase[i] = before;
  return phase;
}

/** Where the course leaves a branch, narrowed down to the edges of the signal. */
function jumpsOf(
  signal: Float64Array,
  wraps: Int8Array,
  step: number,
): Jump[] {
  const jumps: Jump[] = [];
  for (let k = 1; k < wraps.length; k++) {
    const sign = wraps[k]!;
    if (sign === 0) continue;
    const previous = jumps.at(-1)?.last ?? 0;
    const from = Math.max(previous, (k - 2) * step);
    const to = Math.min(signal.length - 1, (k + 1) * step);
    if (to <= from) continue;
    jumps.push(edge(signal, from, to - from, sign));
  }
  return jumps;
}

/** Half turns of φF along the course. */
function piecesOf(
  phase: Float64Array,
  wraps: Int8Array,
  step: number,
  model: FringeModel,
): LabelledPiece[] {
  const pieces: LabelledPiece[] = [];
  const folded = model.feedback > 1;
  const lastEntry = model.entryOf.length - 1;
  let branch = 0;
  let first = 0;
  let number = NaN;
  for (let i = 0; i <= phase.length; i++) {
    let here = NaN;
    if (i < phase.length) {
      if (i % step === 0) branch += wraps[i / step] ?? 0;
      const t = phase[i]! + model.shift;
      const turns = folded ? branch : Math.round(t / turn);
      const place = (t - turns * turn + model.reach) * model.perRadian;
      const j = model.entryOf[Math.max(0, Math.min(lastEntry, place)) | 0]!;
      // φ0 = φF + p sin φF + q cos φF.
      const theta = turn * turns + model.phase[j]! -
        model.p * model.sine[j]! - model.q * model.signal[j]!;
      here = Math.floor(theta / Math.PI);
    }
    if (here === number) continue;
    if (number === number) {
      const even = number % 2 === 0;
      pieces.push({
        first,
        last: i - 1,
        origin: Math.PI * (even ? number : number + 1),
        sign: even ? 1 : -1,
      });
    }
    number = here;
    first = i;
  }
  return pieces;
}
