import { Matrix, solve } from "ml-matrix";
import { strongestLine } from "./line_search.ts";

/** Values looked at before a frequency is chosen, and of the longest stretch. */
const longest = 1 << 15;
const periodsPerStretch = 64;
const leastPeriods = 4;
const harmonicCount = 5;

/** What a {@linkcode StretchVibration} has gathered; plain data. */
export interface StretchVibrationState {
  readonly waiting: readonly number[];
  /** Index of the first value that waits. */
  readonly first: number;
  /** Cycles per value; 0 before it is known, -1 where there is none. */
  readonly frequency: number;
  readonly length: number;
  readonly stretches: number;
  /**
   * Per harmonic, against the fundamental's phase: sums of its amplitude in phase
   * and out of phase, and sum of squares of that in phase with its own mean.
   */
  readonly sums: readonly number[];
  readonly across: readonly number[];
  readonly squares: readonly number[];
  /** Phase of the fundamental against the oscillator: last, and sums. */
  readonly phase: number;
  readonly line: readonly number[];
}

/** Vibration found in the stretches of a long record. */
export interface FoundVibration {
  /** Stretches fitted. */
  readonly stretches: number;
  /** Values per stretch. */
  readonly length: number;
  /** Cycles per value. */
  readonly frequency: number;
  readonly frequencyStandardUncertainty: number;
  /**
   * Amplitude of the mean of each harmonic, its phase against the fundamental's
   * held, in the unit of the values.
   */
  readonly amplitudes: readonly number[];
  /** Standard deviation of the mean. */
  readonly standardUncertainties: readonly number[];
}

/**
 * A periodic motion in a record of any length: stretches of some 64 periods are
 * fitted one by one with a straight line and the harmonics of one frequency; the
 * advance of the phase from stretch to stretch refines that frequency.
 */
export class StretchVibration {
  readonly #waiting = new Float64Array(longest);
  #filled = 0;
  #first = 0;
  #frequency = 0;
  #length = longest;
  #stretches = 0;
  readonly #sums = new Float64Array(harmonicCount);
  readonly #across = new Float64Array(harmonicCount);
  /** Sums of squares: in phase, out of phase, and their products. */
  readonly #squares = new Float64Array(3 * harmonicCount);
  #phase = 0;
  /** Σ1, Σk, Σφ, Σk², Σkφ, Σφ². */
  readonly #line = new Float64Array(6);

  constructor(state: StretchVibrationState | null = null) {
    if (state === null) return;
    this.#waiting.set(state.waiting);
    this.#filled = state.waiting.length;
    this.#first = state.first;
    this.#frequency = state.frequency;
    this.#length = state.length;
    this.#stretches = state.stretches;
    this.#sums.set(state.sums);
    this.#across.set(state.across);
    this.#squares.set(state.squares);
    this.#phase = state.phase;
    this.#line.set(state.line);
  }

  /** Takes the next value. */
  take(value: number): void {
    if (this.#frequency < 0) return;
    this.#waiting[this.#filled++] = value;
    if (this.#filled === this.#length) this.#run();
  }

  /** The vibration; `null` where there is none of at least four periods. */
  finish(): FoundVibration | null {
    if (this.#stretches === 0 && this.#filled >= 64) this.#run();
    const n = this.#stretches;
    if (n === 0) return null;
    const [count, sx, sy, sxx, sxy, syy] = this.#line as unknown as [
      number,
      number,
      number,
      number,
      number,
      number,
    ];
    const spread = sxx - sx * sx / count;
    const slope = n < 3 ? 0 : (sxy - sx * sy / count) / spread;
    const left = n < 3
      ? NaN
      : Math.max(0, syy - sy * sy / count - slope * slope * spread) / (n - 2);
    const perValue = 2 * Math.PI * this.#length;
    const size = (k: number) => Math.hypot(this.#sums[k]!, this.#across[k]!);
    /** Standard deviation of the mean along its own direction. */
    const deviation = (k: number) => {
      if (n < 2) return NaN;
      const [x, y] = [this.#sums[k]!, this.#across[k]!];
      const whole = Math.max(size(k), Number.MIN_VALUE);
      const [c, s] = [x / whole, y / whole];
      const [xx, yy, xy] = this.#squares.subarray(3 * k, 3 * k + 3);
      const squares = c * c * (xx! - x * x / n) + s * s * (yy! - y * y / n) +
        2 * c * s * (xy! - x * y / n);
      return Math.sqrt(Math.max(0, squares) / (n - 1) / n);
    };
    return {
      stretches: n,
      length: this.#length,
      frequency: this.#frequency + slope / perValue,
      frequencyStandardUncertainty: Math.sqrt(left / spread) / perValue,
      amplitudes: Array.from(this.#sums, (_, k) => size(k) / n),
      standardUncertainties: Array.from(this.#sums, (_, k) => deviation(k)),
    };
  }

  /** What was gathered, as plain data. */
  state(): StretchVibrationState {
    return {
      waiting: Array.from(this.#waiting.subarray(0, this.#filled)),
      first: this.#first,
      frequency: this.#frequency,
      length: this.#length,
      stretches: this.#stretches,
      sums: Array.from(this.#sums),
      across: Array.from(this.#across),
      squares: Array.from(this.#squares),
      phase: this.#phase,
      line: Array.from(this.#line),
    };
  }

  #run(): void {
    if (this.#frequency === 0) {
      const found = strongestLine(this.#waiting.slice(0, this.#filled), 1);
      if (!(found * this.#filled >= leastPeriods)) {
        this.#frequency = -1;
        this.#filled = 0;
        return;
      }
      this.#frequency = found;
      // At least six stretches, so that their scatter says something.
      const periods = Math.max(
        leastPeriods,
        Math.min(periodsPerStretch, Math.floor(found * this.#filled / 6)),
      );
      this.#length = Math.min(
        this.#filled,
        Math.max(64, Math.round(periods / found)),
      );
    }
    const length = this.#length;
    let at = 0;
    for (; at + length <= this.#filled; at += length) {
      this.#fit(this.#waiting.subarray(at, at + length), this.#first + at);
    }
    this.#waiting.copyWithin(0, at, this.#filled);
    this.#filled -= at;
    this.#first += at;
  }

  /** One stretch by least squares; phases are those at the middle of it. */
  #fit(values: Float64Array, first: number): void {
    const n = values.length;
    const size = 2 + 2 * harmonicCount;
    const normal = new Float64Array(size * size);
    const right = new Float64Array(size);
    const row = new Float64Array(size);
    row[0] = 1;
    const middle = (n - 1) / 2;
    for (let i = 0; i < n; i++) {
      const value = values[i]!;
      if (value !== value) continue;
      row[1] = (i - middle) / n;
      const angle = 2 * Math.PI * this.#frequency * (i - middle);
      const c = Math.cos(angle), s = Math.sin(angle);
      let ch = 1, sh = 0;
      for (let h = 1; h <= harmonicCount; h++) {
        [ch, sh] = [ch * c - sh * s, sh * c + ch * s];
        row[2 * h] = ch;
        row[2 * h + 1] = sh;
      }
      for (let a = 0; a < size; a++) {
        right[a]! += row[a]! * value;
        for (let b = 0; b <= a; b++) normal[a * size + b]! += row[a]! * row[b]!;
      }
    }
    const matrix = new Matrix(size, size);
    for (let a = 0; a < size; a++) {
      for (let b = 0; b <= a; b++) {
        matrix.set(a, b, normal[a * size + b]!);
        matrix.set(b, a, normal[a * size + b]!);
      }
    }
    const solution = solve(matrix, Matrix.columnVector(right)).getColumn(0);
    const k = this.#stretches++;
    // Turned back by the fundamental's own phase: a mean of sizes would hold the
    // noise of a weak harmonic.
    const own = Math.atan2(solution[3]!, solution[2]!);
    for (let h = 1; h <= harmonicCount; h++) {
      const [a, b] = [solution[2 * h]!, solution[2 * h + 1]!];
      const c = Math.cos(h * own), s = Math.sin(h * own);
      const [along, across] = [a * c + b * s, b * c - a * s];
      this.#sums[h - 1]! += along;
      this.#across[h - 1]! += across;
      this.#squares[3 * h - 3]! += along * along;
      this.#squares[3 * h - 2]! += across * across;
      this.#squares[3 * h - 1]! += along * across;
    }
    // Phase at the middle, less the turns of the oscillator up to there.
    const turns = this.#frequency * (first + middle);
    const phase = Math.atan2(-solution[3]!, solution[2]!) -
      2 * Math.PI * (turns - Math.floor(turns));
    const step = phase - this.#phase;
    const whole = 2 * Math.PI;
    this.#phase = k === 0 ? phase : this.#phase + step -
      whole * Math.round(step / whole);
    const line = this.#line;
    line[0]!++;
    line[1]! += k;
    line[2]! += this.#phase;
    line[3]! += k * k;
    line[4]! += k * this.#phase;
    line[5]! += this.#phase ** 2;
  }
}
