import {
  type CellLevels,
  type Front,
  type Grid,
  type KnownCourse,
  TrellisSteps,
} from "./trellis_steps.ts";

/** The likeliest course on the grid. */
export interface Course {
  /** Cell of the first step. */
  readonly start: number;
  /** Cells that each step goes on by. */
  readonly moves: Int16Array;
  /** 1 or -1 where a step goes past an end of the branch. */
  readonly wraps: Int8Array;
  /** Minus the logarithm of its likelihood, up to a constant. */
  readonly cost: number;
}

/** Steps whose way back is kept at once. */
const mostKept = 1 << 14;

/**
 * The likeliest course through a grid of places and speeds (Viterbi 1967, with a
 * beam as Lowerre 1976): the speed changes by at most one cell per step, and what
 * a step goes on by is the speed or one cell beside it.
 *
 * @param levels Signal of each step (1); `NaN` says nothing.
 * @param seen What the cells look like.
 * @param grid Places and speeds.
 * @returns The course.
 */
export function likeliestCourse(
  levels: Float64Array,
  seen: CellLevels,
  grid: Grid,
): Course {
  const steps = levels.length;
  const trellis = new TrellisSteps(levels, seen, grid);
  const ways = createWaysBack();
  // Of a long record the way back is found part by part, each advanced again.
  const part = steps <= mostKept
    ? steps
    : Math.max(1024, Math.ceil(Math.sqrt(32 * steps)));
  const fronts: Front[] = [];
  const advance = (k: number) => {
    trellis.advance(k);
    ways.keep(trellis.active, trellis.codes, trellis.count);
  };
  for (let k = 1; k < steps; k++) {
    if ((k - 1) % part === 0) {
      fronts.push(trellis.front());
      ways.clear();
    }
    advance(k);
  }
  const { active, cost, count } = trellis;
  let state = active[0]!;
  for (let i = 1; i < count; i++) {
    if (cost[active[i]!]! < cost[state]!) state = active[i]!;
  }
  const total = cost[state]!;
  const moves = new Int16Array(steps);
  const wraps = new Int8Array(steps);
  for (let m = fronts.length - 1; m >= 0; m--) {
    const first = 1 + m * part;
    const last = Math.min(steps - 1, first + part - 1);
    if (m < fronts.length - 1) {
      trellis.goOnFrom(fronts[m]!);
      ways.clear();
      for (let k = first; k <= last; k++) advance(k);
    }
    for (let k = last; k >= first; k--) {
      const way = trellis.wayTo(state, ways.codeOf(k - first, state));
      moves[k] = way.move;
      wraps[k] = way.wrap;
      state = way.before;
    }
  }
  return { start: state % grid.cells, moves, wraps, cost: total };
}

/**
 * How much dearer the likeliest course is that leaves a known one by half a turn or
 * more than the likeliest near it.
 *
 * @param levels Signal of each step (1); `NaN` says nothing.
 * @param seen What the cells look like.
 * @param grid Places and speeds.
 * @param known The course.
 * @returns Logarithm of the ratio of their likelihoods (1): negative where another
 * course is likelier, `Infinity` where there is none within the beam.
 */
export function costOfLeaving(
  levels: Float64Array,
  seen: CellLevels,
  grid: Grid,
  known: KnownCourse,
): number {
  const trellis = new TrellisSteps(levels, seen, grid, known);
  for (let k = 1; k < levels.length; k++) trellis.advance(k);
  const [near, far] = [trellis.least(0), trellis.least(1)];
  return near === Infinity ? -Infinity : far - near;
}

/** For each step the states that were reached, and how. */
function createWaysBack() {
  let states = new Int32Array(1 << 16);
  let ways = new Uint8Array(1 << 16);
  const ends: number[] = [];
  let end = 0;
  return {
    clear() {
      end = ends.length = 0;
    },
    keep(active: Int32Array, codes: Uint8Array, count: number) {
      if (end + count > states.length) {
        const size = Math.max(2 * states.length, end + count);
        const [before, how] = [states, ways];
        states = new Int32Array(size);
        ways = new Uint8Array(size);
        states.set(before.subarray(0, end));
        ways.set(how.subarray(0, end));
      }
      for (let i = 0; i < count; i++) {
        const state = active[i]!;
        states[end] = state;
        ways[end++] = codes[state]!;
      }
      ends.push(end);
    },
    codeOf(step: number, state: number): number {
      let i = step === 0 ? 0 : ends[step - 1]!;
      while (states[i] !== state) i++;
      return ways[i]!;
    },
  };
}
