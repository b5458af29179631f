import { checkpoint } from "../progress/mod.ts";
import { fringeModel } from "./fringe_model.ts";
import { edge } from "./jump_labels.ts";
import type { FringeParameters } from "./phase_fit.ts";
import type { Jump, LabelledPiece, PhaseLabels } from "./phase_labels.ts";

/** The likeliest course of φ0 on a grid, with the labels that follow from it. */
export interface PhaseSearch {
  /** φ0 of every sample, in rad, good to about a cell of the grid. */
  readonly phase: Float64Array;
  readonly labels: PhaseLabels;
  /** Minus the logarithm of its likelihood, up to a constant. */
  readonly cost: number;
}

const turn = 2 * Math.PI;
/** Cost of a change of speed by one cell per step. */
const changeCost = 2;
/** A sample costs no more than this, wherever it lies. */
const mostCost = 12;
/** States and steps whose way back is kept at once, in bytes. */
const mostMemory = 1 << 26;

/**
 * Finds the likeliest course of φ0 through a record for a known fringe: a search
 * over all places on the branch and all speeds (Viterbi 1967), in which the speed
 * changes by at most one cell per step. Turning points, jumps and lost fringes
 * need not be known; what is unclear at one place is settled by what comes after.
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
  cellsPerTurn = 128,
  stepsPerLeg = 3.5,
): PhaseSearch | null {
  const { p, q, middle, amplitude, height } = parameters;
  // Good to about a cell anyway: C is taken at the mean height.
  const model = fringeModel(p, q, Math.max(noise, 1e-3));
  const folded = model.feedback > 1;
  const cell = turn / cellsPerTurn;
  const { cells, step, steps, most } = sizeOf(
    signal.length,
    folded ? model.reach : Math.PI,
    fastest,
    cellsPerTurn,
    stepsPerLeg,
  );
  if (steps < 4) return null;
  const speeds = 2 * most + 1;
  const states = cells * speeds;
  // What each cell looks like, and how far off a sample may be.
  const level = new Float64Array(cells);
  const factor = new Float64Array(cells);
  const constant = new Float64Array(cells);
  const floor = Math.max(noise, 0.02);
  for (let c = 0; c < cells; c++) {
    const t = (c + 0.5) * cell - model.reach;
    const place = (t + model.reach) * model.perRadian;
    const j = model.entryOf[
      Math.max(0, Math.min(model.entryOf.length - 1, place)) | 0
    ]!;
    level[c] = model.signal[j]!;
    const blur = Math.min(0.5, Math.abs(model.slope[j]!) * cell * 0.6);
    const variance = floor * floor + blur * blur;
    factor[c] = 0.5 / variance;
    constant[c] = 0.5 * Math.log(variance / (floor * floor));
  }
  let cost = new Float64Array(states);
  let next = new Float64Array(states);
  const best = new Float64Array(cells);
  const change = new Uint8Array(cells);
  const seen = new Float64Array(cells);
  const advance = (k: number, back: Uint8Array | null, offset: number) => {
    const h = height === null ? 1 : height.values[k * step]!;
    const y = (signal[k * step]! - middle) / (amplitude * h);
    for (let c = 0; c < cells && y === y; c++) {
      const off = y - level[c]!;
      seen[c] = Math.min(mostCost, factor[c]! * off * off + constant[c]!);
    }
    if (y !== y) seen.fill(0);
    for (let s = 0; s < speeds; s++) {
      const own = s * cells;
      for (let c = 0; c < cells; c++) {
        best[c] = cost[own + c]!;
        change[c] = 0;
      }
      for (const [other, code] of [[s - 1, 1], [s + 1, 2]] as const) {
        if (other < 0 || other >= speeds) continue;
        const from = other * cells;
        for (let c = 0; c < cells; c++) {
          const value = cost[from + c]! + changeCost;
          if (value < best[c]!) {
            best[c] = value;
            change[c] = code;
          }
        }
      }
      const move = s - most;
      const low = Math.max(0, move);
      const high = Math.min(cells, cells + move);
      next.fill(Infinity, own, own + low);
      next.fill(Infinity, own + high, own + cells);
      for (let c = low; c < high; c++) next[own + c] = best[c - move]!;
      if (back !== null) {
        for (let c = low; c < high; c++) {
          back[offset + own + c] = change[c - move]!;
        }
      }
      // Past one end of the branch φF goes on a turn away.
      const shift = move > 0 ? cellsPerTurn - move : -cellsPerTurn - move;
      const wrapFrom = move > 0 ? cells - cellsPerTurn : cellsPerTurn + move;
      const wrapTo = move > 0 ? cells - shift : Math.min(cells, cellsPerTurn);
      for (let c = wrapFrom; move !== 0 && c < wrapTo; c++) {
        const before = c + shift;
        if (best[before]! < next[own + c]!) {
          next[own + c] = best[before]!;
          if (back !== null) {
            back[offset + own + c] = (move > 0 ? 4 : 8) | change[before]!;
          }
        }
      }
      for (let c = 0; c < cells; c++) next[own + c]! += seen[c]!;
    }
    [cost, next] = [next, cost];
  };
  // The way back is found part by part, so that memory grows with the root.
  const part = states * steps < mostMemory
    ? steps
    : Math.ceil(Math.sqrt(steps));
  const starts: Float64Array[] = [];
  const whole = part === steps;
  const back = new Uint8Array(states * part);
  for (let k = 1; k < steps; k++) {
    if ((k - 1) % part === 0) starts.push(cost.slice());
    if (k % 32 === 0) checkpoint(NaN, "search phase");
    advance(k, whole ? back : null, (k - 1) * states);
  }
  let state = 0;
  for (let s = 1; s < states; s++) if (cost[s]! < cost[state]!) state = s;
  const total = cost[state]!;
  if (!Number.isFinite(total)) return null;
  const moves = new Int16Array(steps);
  const wraps = new Int8Array(steps);
  for (let m = starts.length - 1; m >= 0; m--) {
    checkpoint(NaN, "search phase");
    const first = 1 + m * part;
    const last = Math.min(steps - 1, first + part - 1);
    if (!whole) {
      cost.set(starts[m]!);
      for (let k = first; k <= last; k++) {
        advance(k, back, (k - first) * states);
      }
    }
    for (let k = last; k >= first; k--) {
      const code = back[(k - first) * states + state]!;
      const s = Math.floor(state / cells);
      const c = state - s * cells;
      const move = s - most;
      const wrap = code >> 2;
      const from = c - move + (wrap === 1 ? cellsPerTurn : 0) -
        (wrap === 2 ? cellsPerTurn : 0);
      moves[k] = move;
      wraps[k] = wrap === 1 ? 1 : wrap === 2 ? -1 : 0;
      const own = code & 3;
      state = (s + (own === 1 ? -1 : own === 2 ? 1 : 0)) * cells + from;
    }
  }
  const start = (state % cells + 0.5) * cell - model.reach - model.shift;
  const phase = drawn(moves, start, cell, step, signal.length);
  const jumps = folded ? jumpsOf(signal, wraps, step) : [];
  return {
    phase,
    cost: total,
    labels: {
      pieces: piecesOf(phase, wraps, step, model),
      jumps,
      trusted: folded ? { low: -0.8, high: 0.65 } : { low: -0.93, high: 0.93 },
      mayFold: folded,
      firstBranch: 0,
    },
  };
}

/** Cells of a branch, samples per step, steps, and cells per step at most. */
function sizeOf(
  length: number,
  reach: number,
  fastest: number,
  cellsPerTurn: number,
  stepsPerLeg: number,
) {
  const cell = turn / cellsPerTurn;
  const step = Math.max(1, Math.floor(fastest / stepsPerLeg));
  return {
    cells: Math.max(cellsPerTurn, Math.round(2 * reach / cell)),
    step,
    steps: Math.floor((length - 1) / step) + 1,
    most: Math.ceil(1.4 * Math.PI / Math.max(1, fastest) * step / cell),
  };
}

/**
 * How much a search has to do: states times steps, twice where the way back is
 * found part by part. Some 5 ns each.
 *
 * @param length Samples.
 * @param feedback C.
 * @param fastest Samples of the shortest half fringe.
 * @param cellsPerTurn Cells of the grid per turn of φ0.
 * @param stepsPerLeg Steps in the shortest half fringe.
 * @returns States times steps (1).
 */
export function searchWork(
  length: number,
  feedback: number,
  fastest: number,
  cellsPerTurn: number,
  stepsPerLeg: number,
): number {
  // A branch reaches from fold to fold: at most π + √(C² − 1) from its middle.
  const reach = Math.PI + Math.sqrt(Math.max(0, feedback * feedback - 1));
  const { cells, steps, most } = sizeOf(
    length,
    reach,
    fastest,
    cellsPerTurn,
    stepsPerLeg,
  );
  const work = cells * (2 * most + 1) * steps;
  return work < mostMemory ? work : 2 * work;
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
  model: ReturnType<typeof fringeModel>,
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
