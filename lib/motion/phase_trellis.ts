import { checkpoint } from "../progress/mod.ts";

/** Places on the branch and speeds among which a course is sought. */
export interface Grid {
  /** Cells of the branch. */
  readonly cells: number;
  /** Cells per turn: past one end of the branch the course goes on so much away. */
  readonly cellsPerTurn: number;
  /** Cells per step at most. */
  readonly most: number;
}

/** What the cells look like. */
export interface CellLevels {
  /** Signal of each cell (1). */
  readonly level: Float64Array;
  /** Half of one over the variance of a step there (1). */
  readonly factor: Float64Array;
  /** Logarithm of its deviation over the least (1). */
  readonly constant: Float64Array;
}

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

/** Cost of a change of speed by one cell per step. */
const changeCost = 2;
/** Cost of a change the other way than the last: motions bend one way for long. */
const flipCost = 3;
/** Cost of a step by one cell more or less than the speed says. */
const strayCost = 1.2;
/** A step costs no more than this by its level, wherever it lies. */
const mostCost = 8;
/** Courses so much dearer than the best of the same step are given up. */
const beam = 16;
/** Courses that are followed at most. */
const mostCourses = 1000;
/** Parts of the beam that are told apart where it holds more. */
const bins = 64;
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
  const { cells, cellsPerTurn, most } = grid;
  const steps = levels.length;
  const speeds = 2 * most + 1;
  const states = 2 * speeds * cells;
  let cost = new Float64Array(states).fill(Infinity);
  let next = new Float64Array(states).fill(Infinity);
  let active = new Int32Array(states);
  let reached = new Int32Array(states);
  const codes = new Uint8Array(states);
  const own = new Float64Array(cells);
  const look = (k: number) => {
    const y = levels[k]!;
    for (let c = 0; c < cells; c++) {
      const off = y - seen.level[c]!;
      const by = seen.factor[c]! * off * off + seen.constant[c]!;
      // NaN compares as false: a step without signal costs nothing.
      own[c] = by < mostCost ? by : y === y ? mostCost : 0;
    }
  };
  let count = states;
  let lowest = Infinity;
  look(0);
  for (let s = 0; s < states; s++) {
    cost[s] = own[s % cells]!;
    active[s] = s;
    lowest = Math.min(lowest, cost[s]!);
  }
  /** One step on. */
  const advance = (k: number) => {
    look(k);
    const limit = lowest + beam;
    lowest = Infinity;
    let found = 0;
    for (let i = 0; i < count; i++) {
      const from = active[i]!;
      const before = cost[from]!;
      cost[from] = Infinity;
      if (before > limit) continue;
      const c = from % cells;
      const rest = (from - c) / cells;
      const bend = rest & 1;
      const speed = rest >> 1;
      for (let d = -1; d <= 1; d++) {
        const to = speed + d;
        if (to < 0 || to >= speeds) continue;
        const bends = d === 0 ? bend : d > 0 ? 1 : 0;
        const moved = before +
          (d === 0 ? 0 : bends === bend ? changeCost : changeCost + flipCost);
        const row = (2 * to + bends) * cells;
        for (let j = -1; j <= 1; j++) {
          let cell = c + to - most + j;
          let wrap = 0;
          if (cell >= cells) {
            cell -= cellsPerTurn;
            wrap = 1;
          } else if (cell < 0) {
            cell += cellsPerTurn;
            wrap = 2;
          }
          if (cell < 0 || cell >= cells) continue;
          const value = moved + own[cell]! + (j === 0 ? 0 : strayCost);
          const state = row + cell;
          const known = next[state]!;
          if (value < known) {
            if (known === Infinity) reached[found++] = state;
            next[state] = value;
            codes[state] = (d + 1) + 3 * (j + 1) + 9 * wrap + 27 * bend;
            if (value < lowest) lowest = value;
          }
        }
      }
    }
    const dearest = lowest + beamOf(reached, next, found, lowest);
    let left = 0;
    for (let i = 0; i < found; i++) {
      const state = reached[i]!;
      if (next[state]! <= dearest) reached[left++] = state;
      else next[state] = Infinity;
    }
    [cost, next] = [next, cost];
    [active, reached] = [reached, active];
    count = left;
  };
  const ways = createWaysBack();
  // Of a long record the way back is found part by part, each advanced again.
  const part = steps <= mostKept
    ? steps
    : Math.max(1024, Math.ceil(Math.sqrt(32 * steps)));
  const fronts: Front[] = [];
  for (let k = 1; k < steps; k++) {
    if ((k & 63) === 0) checkpoint(NaN, "search phase");
    if ((k - 1) % part === 0) {
      fronts.push(frontOf(active, cost, count, lowest));
      ways.clear();
    }
    advance(k);
    ways.keep(active, codes, count);
  }
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
      for (let i = 0; i < count; i++) cost[active[i]!] = Infinity;
      const front = fronts[m]!;
      count = front.states.length;
      lowest = front.lowest;
      active.set(front.states);
      for (let i = 0; i < count; i++) cost[front.states[i]!] = front.costs[i]!;
      ways.clear();
      for (let k = first; k <= last; k++) {
        if ((k & 63) === 0) checkpoint(NaN, "search phase");
        advance(k);
        ways.keep(active, codes, count);
      }
    }
    for (let k = last; k >= first; k--) {
      const code = ways.codeOf(k - first, state);
      const cell = state % cells;
      const to = (state - cell) / cells >> 1;
      const move = to - most + (Math.floor(code / 3) % 3 - 1);
      const wrap = Math.floor(code / 9) % 3;
      moves[k] = move;
      wraps[k] = wrap === 1 ? 1 : wrap === 2 ? -1 : 0;
      const from = cell - move + (wrap === 1 ? cellsPerTurn : 0) -
        (wrap === 2 ? cellsPerTurn : 0);
      const bend = code >= 27 ? 1 : 0;
      state = (2 * (to - (code % 3 - 1)) + bend) * cells + from;
    }
  }
  return { start: state % cells, moves, wraps, cost: total };
}

/** The beam that leaves no more courses than are followed. */
function beamOf(
  reached: Int32Array,
  cost: Float64Array,
  found: number,
  lowest: number,
): number {
  if (found <= mostCourses) return beam;
  const parts = new Int32Array(bins);
  for (let i = 0; i < found; i++) {
    const place = (cost[reached[i]!]! - lowest) / beam * bins;
    if (place < bins) parts[place | 0]!++;
  }
  let [count, k] = [parts[0]!, 1];
  while (k < bins && count + parts[k]! <= mostCourses) count += parts[k++]!;
  return beam * k / bins;
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

/** Where a part of the record begins. */
interface Front {
  readonly states: Int32Array;
  readonly costs: Float64Array;
  readonly lowest: number;
}

function frontOf(
  active: Int32Array,
  cost: Float64Array,
  count: number,
  lowest: number,
): Front {
  const states = active.slice(0, count);
  const costs = new Float64Array(count);
  for (let i = 0; i < count; i++) costs[i] = cost[states[i]!]!;
  return { states, costs, lowest };
}
