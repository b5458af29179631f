import { checkpoint } from "../progress/mod.ts";

/** Samples that are looked at between two checkpoints. */
const block = 1 << 16;

/** Maxima and minima in turn. */
export interface Extremes {
  /** Sample index of each extreme. */
  readonly index: Int32Array;
  /** Value at each extreme, in the unit of the signal. */
  readonly value: Float64Array;
  /** Whether the first extreme is a maximum; they alternate after it. */
  readonly startsWithMaximum: boolean;
}

/**
 * Finds the maxima and minima of a signal that stand out by more than a
 * threshold: after a maximum the signal must fall by the threshold before a
 * minimum counts, and the other way round.
 *
 * @param samples The signal; `NaN` is passed over.
 * @param threshold In the unit of the signal.
 * @returns Maxima and minima in turn.
 */
export function findExtremes(
  samples: ArrayLike<number>,
  threshold: number,
): Extremes {
  const finder = new ExtremeFinder(threshold);
  const part = samples instanceof Float64Array ? samples : null;
  if (part === null) finder.take(samples, 0);
  else {
    for (let first = 0; first < part.length; first += block) {
      if (first > 0) checkpoint();
      finder.take(part.subarray(first, first + block), first);
    }
  }
  return {
    index: Int32Array.from(finder.indices),
    value: Float64Array.from(finder.values),
    startsWithMaximum: finder.startsWithMaximum,
  };
}

/** Where an {@linkcode ExtremeFinder} stands; plain data. */
export type ExtremeFinderState = readonly (number | string)[];

/** Finds extremes of a signal that comes in pieces. */
export class ExtremeFinder {
  /** Sample index of each extreme so far. */
  readonly indices: number[] = [];
  /** Value at each extreme, in the unit of the signal. */
  readonly values: number[] = [];
  /** Whether the first extreme is a maximum. */
  startsWithMaximum = false;
  readonly #threshold: number;
  #highest = -Infinity;
  #highestIndex = 0;
  #lowest = Infinity;
  #lowestIndex = 0;
  /** 1 while a maximum is sought, -1 for a minimum, 0 before the first. */
  #sought = 0;

  constructor(threshold: number) {
    this.#threshold = threshold;
  }

  /** Where it stands, its extremes left out; plain data. */
  state(): ExtremeFinderState {
    return [
      this.#highest,
      this.#highestIndex,
      this.#lowest,
      this.#lowestIndex,
      this.#sought,
    ].map((value) => Number.isFinite(value) ? value : String(value));
  }

  /** Goes on from where another stood. */
  restore(state: ExtremeFinderState): void {
    const [highest, highestIndex, lowest, lowestIndex, sought] = state.map(
      Number,
    ) as [number, number, number, number, number];
    this.#highest = highest;
    this.#highestIndex = highestIndex;
    this.#lowest = lowest;
    this.#lowestIndex = lowestIndex;
    this.#sought = sought;
  }

  /** Goes on with the samples from index `first` on. */
  take(samples: ArrayLike<number>, first: number): void {
    const count = samples.length;
    let i = 0;
    while (i < count) {
      if (this.#sought > 0) i = this.#seekMaximum(samples, first, i);
      else if (this.#sought < 0) i = this.#seekMinimum(samples, first, i);
      else i = this.#seekEither(samples, first, i);
    }
  }

  /** Goes on from sample `i` up to the next extreme; gives where to go on. */
  #seekMaximum(samples: ArrayLike<number>, first: number, i: number): number {
    const threshold = this.#threshold;
    const count = samples.length;
    let highest = this.#highest;
    let at = this.#highestIndex - first;
    let fallen = highest - threshold;
    for (; i < count; i++) {
      const value = samples[i]!;
      if (value > highest) {
        highest = value;
        at = i;
        fallen = highest - threshold;
      } else if (value < fallen) break;
    }
    this.#highest = highest;
    this.#highestIndex = first + at;
    if (i < count) this.#turn(samples[i]!, first + i, -1);
    return i + 1;
  }

  #seekMinimum(samples: ArrayLike<number>, first: number, i: number): number {
    const threshold = this.#threshold;
    const count = samples.length;
    let lowest = this.#lowest;
    let at = this.#lowestIndex - first;
    let risen = lowest + threshold;
    for (; i < count; i++) {
      const value = samples[i]!;
      if (value < lowest) {
        lowest = value;
        at = i;
        risen = lowest + threshold;
      } else if (value > risen) break;
    }
    this.#lowest = lowest;
    this.#lowestIndex = first + at;
    if (i < count) this.#turn(samples[i]!, first + i, 1);
    return i + 1;
  }

  /** One sample before the first extreme. */
  #seekEither(samples: ArrayLike<number>, first: number, i: number): number {
    const threshold = this.#threshold;
    const value = samples[i]!;
    if (value > this.#highest) {
      this.#highest = value;
      this.#highestIndex = first + i;
    }
    if (value < this.#lowest) {
      this.#lowest = value;
      this.#lowestIndex = first + i;
    }
    if (value < this.#highest - threshold) {
      this.startsWithMaximum = true;
      this.#turn(value, first + i, -1);
    } else if (value > this.#lowest + threshold) {
      this.#turn(value, first + i, 1);
    }
    return i + 1;
  }

  /** Keeps the extreme that was sought; the other kind is sought from here. */
  #turn(value: number, index: number, next: 1 | -1): void {
    this.indices.push(next < 0 ? this.#highestIndex : this.#lowestIndex);
    this.values.push(next < 0 ? this.#highest : this.#lowest);
    this.#lowest = this.#highest = value;
    this.#lowestIndex = this.#highestIndex = index;
    this.#sought = next;
  }
}
