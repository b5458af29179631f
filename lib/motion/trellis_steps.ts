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

/** A course from which others are told apart. */
export interface KnownCourse {
  /** Place of each step, in cells, with its turns. */
  readonly place: Float64Array;
  /** Steps at either end at which it does not matter who leaves it. */
  readonly ends: number;
}

/** States that are followed, and what they cost. */
export interface Front {
  readonly states: Int32Array;
  readonly costs: Float64Array;
}

/** Cost of a change of speed by one cell per step. */
const changeCost = 2;
/** Cost of a change the other way than the last: motions bend one way for long. */
const flipCost = 3;
/** Cost of a step by one cell more or less than the speed says. */
const strayCost = 1.2;
/** A step costs no more than this by its level, wherever it lies. */
const mostCost = 8;
/** Parts of a beam that are told apart where it holds more than is followed. */
const bins = 64;

/**
 * Courses that are followed: no dearer than the best of the same step by more than
 * `cost`, and no more than `courses`.
 */
interface Beam {
  readonly cost: number;
  readonly courses: number;
}

const usualBeam: Beam = { cost: 16, courses: 1000 };
/**
 * Beside a known course its own neighbours must not be lost: a wider beam, among
 * fewer states (with the usual one 3 of 48 right courses of the zoo were lost).
 */
const neighbourBeam: Beam = { cost: 24, courses: 2000 };

/**
 * A trellis of places and speeds, step by step (Viterbi 1967, with a beam as
 * Lowerre 1976). A state is a cell, a speed, and which way the speed last changed;
 * beside a known course also whether it has left that by half a turn.
 */
export class TrellisSteps {
  /** States that were reached in the last step. */
  active: Int32Array;
  /** How many. */
  count = 0;
  /** Cost of each state; infinite for those not reached. */
  cost: Float64Array;
  /** How each state was reached: see `wayTo`. */
  readonly codes: Uint8Array;
  /** States of one kind: those that stay near the known course, then the rest. */
  readonly statesPerKind: number;
  readonly #levels: Float64Array;
  readonly #seen: CellLevels;
  readonly #grid: Grid;
  readonly #known: KnownCourse | null;
  readonly #own: Float64Array;
  #next: Float64Array;
  #reached: Int32Array;

  constructor(
    levels: Float64Array,
    seen: CellLevels,
    grid: Grid,
    known: KnownCourse | null = null,
  ) {
    const { cells, most } = grid;
    this.#levels = levels;
    this.#seen = seen;
    this.#grid = grid;
    this.#known = known;
    this.#own = new Float64Array(cells);
    this.statesPerKind = 2 * (2 * most + 1) * cells;
    const states = (known === null ? 1 : 2) * this.statesPerKind;
    this.cost = new Float64Array(states).fill(Infinity);
    this.#next = new Float64Array(states).fill(Infinity);
    this.active = new Int32Array(states);
    this.#reached = new Int32Array(states);
    this.codes = new Uint8Array(states);
    this.#look(0);
    this.count = this.statesPerKind;
    for (let s = 0; s < this.count; s++) {
      this.cost[s] = this.#own[s % cells]!;
      this.active[s] = s;
    }
  }

  /** What each cell costs in a step. */
  #look(k: number): void {
    const own = this.#own;
    const { level, factor, constant } = this.#seen;
    const y = this.#levels[k]!;
    for (let c = 0; c < own.length; c++) {
      const off = y - level[c]!;
      const by = factor[c]! * off * off + constant[c]!;
      // NaN compares as false: a step without signal costs nothing.
      own[c] = by < mostCost ? by : y === y ? mostCost : 0;
    }
  }

  /** One step on. */
  advance(k: number): void {
    if ((k & 63) === 0) checkpoint(NaN, "search phase");
    this.#look(k);
    const { cells, cellsPerTurn, most } = this.#grid;
    const speeds = 2 * most + 1;
    const known = this.#known;
    const kindSize = this.statesPerKind;
    const halfTurn = cellsPerTurn / 2;
    const before = known === null ? 0 : known.place[k - 1]!;
    const onwards = known === null ? 0 : known.place[k]! - before;
    const mayLeave = known !== null && k > known.ends &&
      k < this.#levels.length - known.ends;
    const [cost, next, codes, own] = [
      this.cost,
      this.#next,
      this.codes,
      this.#own,
    ];
    const [active, reached] = [this.active, this.#reached];
    let found = 0;
    for (let i = 0; i < this.count; i++) {
      const from = active[i]!;
      const spent = cost[from]!;
      cost[from] = Infinity;
      const far = from >= kindSize;
      const c = from % cells;
      const rest = ((far ? from - kindSize : from) - c) / cells;
      const bend = rest & 1;
      const speed = rest >> 1;
      const apart = c - before;
      const off = known === null
        ? 0
        : apart - cellsPerTurn * Math.round(apart / cellsPerTurn) - onwards;
      for (let d = -1; d <= 1; d++) {
        const to = speed + d;
        if (to < 0 || to >= speeds) continue;
        const bends = d === 0 ? bend : d > 0 ? 1 : 0;
        const moved = spent +
          (d === 0 ? 0 : bends === bend ? changeCost : changeCost + flipCost);
        const row = (2 * to + bends) * cells;
        for (let j = -1; j <= 1; j++) {
          const move = to - most + j;
          let cell = c + move;
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
          const leaves = far ||
            mayLeave && (off + move > halfTurn || off + move < -halfTurn);
          const state = (leaves ? kindSize : 0) + row + cell;
          const least = next[state]!;
          if (value < least) {
            if (least === Infinity) reached[found++] = state;
            next[state] = value;
            codes[state] = (d + 1) + 3 * (j + 1) + 9 * wrap + 27 * bend;
          }
        }
      }
    }
    [this.cost, this.#next] = [next, cost];
    [this.active, this.#reached] = [reached, active];
    this.count = this.#kept(found);
  }

  /** Drops the states that no beam holds; gives how many are left. */
  #kept(found: number): number {
    const { active, cost, statesPerKind } = this;
    const near = this.#known === null ? usualBeam : neighbourBeam;
    const dearest = dearestOf(active, cost, found, 0, statesPerKind, near);
    const dearestFar = this.#known === null ? 0 : dearestOf(
      active,
      cost,
      found,
      statesPerKind,
      2 * statesPerKind,
      usualBeam,
    );
    let left = 0;
    for (let i = 0; i < found; i++) {
      const state = active[i]!;
      if (cost[state]! <= (state < statesPerKind ? dearest : dearestFar)) {
        active[left++] = state;
      } else cost[state] = Infinity;
    }
    return left;
  }

  /** Least cost among the states of one kind. */
  least(kind: 0 | 1): number {
    const first = kind * this.statesPerKind;
    let least = Infinity;
    for (let i = 0; i < this.count; i++) {
      const state = this.active[i]!;
      if (state < first || state >= first + this.statesPerKind) continue;
      if (this.cost[state]! < least) least = this.cost[state]!;
    }
    return least;
  }

  /** Where it stands. */
  front(): Front {
    const states = this.active.slice(0, this.count);
    return { states, costs: Float64Array.from(states, (s) => this.cost[s]!) };
  }

  /** Goes on from where it stood. */
  goOnFrom({ states, costs }: Front): void {
    for (let i = 0; i < this.count; i++) this.cost[this.active[i]!] = Infinity;
    this.count = states.length;
    this.active.set(states);
    for (let i = 0; i < states.length; i++) this.cost[states[i]!] = costs[i]!;
  }

  /** How a state was reached from the step before. */
  wayTo(state: number, code: number) {
    const { cells, cellsPerTurn, most } = this.#grid;
    const cell = state % cells;
    const to = (state - cell) / cells >> 1;
    const move = to - most + (Math.floor(code / 3) % 3 - 1);
    const past = Math.floor(code / 9) % 3;
    const wrap = past === 1 ? 1 : past === 2 ? -1 : 0;
    const from = cell - move + wrap * cellsPerTurn;
    const bend = code >= 27 ? 1 : 0;
    return {
      move,
      wrap,
      before: (2 * (to - (code % 3 - 1)) + bend) * cells + from,
    };
  }
}

/** The highest cost that a beam lets pass among the states between two numbers. */
function dearestOf(
  reached: Int32Array,
  cost: Float64Array,
  found: number,
  first: number,
  end: number,
  beam: Beam,
): number {
  let [lowest, count] = [Infinity, 0];
  for (let i = 0; i < found; i++) {
    const state = reached[i]!;
    if (state < first || state >= end) continue;
    count++;
    if (cost[state]! < lowest) lowest = cost[state]!;
  }
  if (count <= beam.courses) return lowest + beam.cost;
  const parts = new Int32Array(bins);
  for (let i = 0; i < found; i++) {
    const state = reached[i]!;
    if (state < first || state >= end) continue;
    const place = (cost[state]! - lowest) / beam.cost * bins;
    if (place < bins) parts[place | 0]!++;
  }
  let [held, k] = [parts[0]!, 1];
  while (k < bins && held + parts[k]! <= beam.courses) held += parts[k++]!;
  return lowest + beam.cost * k / bins;
}
