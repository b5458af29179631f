import { joinValues } from "./copy.ts";

/** Numbers of one part. */
const partLength = 1 << 16;

/**
 * A list of numbers that grows part by part. An array of a million numbers that
 * grows is copied into fresh memory as a whole, which takes a twentieth of a
 * second that no interrupt gets through.
 */
export class NumberList {
  readonly #full: Float64Array[] = [];
  #part = new Float64Array(16);
  #used = 0;

  /** Numbers in the list. */
  get length(): number {
    return this.#full.length * partLength + this.#used;
  }

  /** Adds a number at the end. */
  push(value: number): void {
    if (this.#used === this.#part.length) this.#grow();
    this.#part[this.#used++] = value;
  }

  /** The numbers as one array, put together with checkpoints. */
  toArray(): Float64Array {
    return joinValues([...this.#full, this.#part.subarray(0, this.#used)]);
  }

  #grow(): void {
    if (this.#used < partLength) {
      const longer = new Float64Array(Math.min(partLength, 4 * this.#used));
      longer.set(this.#part);
      this.#part = longer;
    } else {
      this.#full.push(this.#part);
      this.#part = new Float64Array(partLength);
      this.#used = 0;
    }
  }
}
