/** Most bins of a {@linkcode MotionCourse}. */
const mostBins = 2048;

/** What a {@linkcode MotionCourse} has gathered; plain data. */
export interface MotionCourseState {
  readonly perBin: number;
  readonly count: number;
  readonly lowest: readonly number[];
  readonly highest: readonly number[];
  readonly sum: readonly number[];
}

/**
 * Lowest, mean and highest value of bins along a record of any length: at most
 * 2048 bins, which become twice as wide whenever they are full.
 */
export class MotionCourse {
  /** Samples per bin. */
  perBin = 256;
  /** Samples taken. */
  count = 0;
  readonly #lowest = new Float64Array(mostBins).fill(Infinity);
  readonly #highest = new Float64Array(mostBins).fill(-Infinity);
  readonly #sum = new Float64Array(mostBins);

  constructor(state: MotionCourseState | null = null) {
    if (state === null) return;
    this.perBin = state.perBin;
    this.count = state.count;
    this.#lowest.set(state.lowest);
    this.#highest.set(state.highest);
    this.#sum.set(state.sum);
  }

  /** Goes on with more values. */
  take(values: Float64Array): void {
    for (let i = 0; i < values.length;) {
      let bin = Math.floor(this.count / this.perBin);
      if (bin === mostBins) {
        this.#halve();
        bin = mostBins / 2;
      }
      const end = Math.min(
        values.length,
        i + (bin + 1) * this.perBin - this.count,
      );
      let low = this.#lowest[bin]!, high = this.#highest[bin]!, sum = 0;
      this.count += end - i;
      for (; i < end; i++) {
        const value = values[i]!;
        if (value < low) low = value;
        if (value > high) high = value;
        sum += value;
      }
      this.#lowest[bin] = low;
      this.#highest[bin] = high;
      this.#sum[bin]! += sum;
    }
  }

  /** The bins that hold a value. */
  bins(): { lowest: Float64Array; mean: Float64Array; highest: Float64Array } {
    const used = Math.ceil(this.count / this.perBin);
    const inLast = this.count - (used - 1) * this.perBin;
    return {
      lowest: this.#lowest.slice(0, used),
      mean: this.#sum.slice(0, used).map((sum, bin) =>
        sum / (bin === used - 1 ? inLast : this.perBin)
      ),
      highest: this.#highest.slice(0, used),
    };
  }

  /** What was gathered, as plain data. */
  state(): MotionCourseState {
    const used = Math.ceil(this.count / this.perBin);
    return {
      perBin: this.perBin,
      count: this.count,
      lowest: Array.from(this.#lowest.subarray(0, used)),
      highest: Array.from(this.#highest.subarray(0, used)),
      sum: Array.from(this.#sum.subarray(0, used)),
    };
  }

  #halve(): void {
    for (let bin = 0; bin < mostBins / 2; bin++) {
      const [a, b] = [2 * bin, 2 * bin + 1];
      this.#lowest[bin] = Math.min(this.#lowest[a]!, this.#lowest[b]!);
      this.#highest[bin] = Math.max(this.#highest[a]!, this.#highest[b]!);
      this.#sum[bin] = this.#sum[a]! + this.#sum[b]!;
    }
    this.#lowest.fill(Infinity, mostBins / 2);
    this.#highest.fill(-Infinity, mostBins / 2);
    this.#sum.fill(0, mostBins / 2);
    this.perBin *= 2;
  }
}
