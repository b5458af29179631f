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
  finder.take(samples, 0);
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
    const threshold = this.#threshold;
    const { indices, values } = this;
    let highest = this.#highest, highestIndex = this.#highestIndex;
    let lowest = this.#lowest, lowestIndex = this.#lowestIndex;
    let sought = this.#sought;
    for (let i = 0; i < samples.length; i++) {
      const value = samples[i]!;
      if (value > highest) {
        highest = value;
        highestIndex = first + i;
      }
      if (value < lowest) {
        lowest = value;
        lowestIndex = first + i;
      }
      if (sought >= 0 && value < highest - threshold) {
        if (sought === 0) this.startsWithMaximum = true;
        indices.push(highestIndex);
        values.push(highest);
        lowest = highest = value;
        lowestIndex = highestIndex = first + i;
        sought = -1;
      } else if (sought <= 0 && value > lowest + threshold) {
        indices.push(lowestIndex);
        values.push(lowest);
        lowest = highest = value;
        lowestIndex = highestIndex = first + i;
        sought = 1;
      }
    }
    this.#highest = highest;
    this.#highestIndex = highestIndex;
    this.#lowest = lowest;
    this.#lowestIndex = lowestIndex;
    this.#sought = sought;
  }
}
