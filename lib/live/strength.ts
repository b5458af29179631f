import type { Trend } from "./advice.ts";

/** Changes below this are those of the noise (1). */
const leastChange = 0.05;
/** How far back "before" is, in s. */
const lookBack = 0.8;

/** Follows how strong the fringes are: the best so far, and which way they go. */
export class Strength {
  #best = 0;
  readonly #recent: { readonly time: number; readonly value: number }[] = [];

  /** The best so far, in the unit of the signal. */
  get best(): number {
    return this.#best;
  }

  /**
   * Takes the height of the fringes in.
   *
   * @param time Time, in s.
   * @param value Height, in the unit of the signal.
   * @param counts Whether it may count as the best: not where it is clipped.
   */
  push(time: number, value: number, counts: boolean): Trend {
    // The one before stays, however long ago it was
    while (this.#recent.length > 1 && this.#recent[0]!.time < time - lookBack) {
      this.#recent.shift();
    }
    const before = this.#recent[0]?.value ?? value;
    this.#recent.push({ time, value });
    // What was the best behind another gain is not to be had any more.
    if (!counts) this.#best = 0;
    else if (value > this.#best) this.#best = value;
    const change = value - before;
    const scale = Math.max(before, value);
    return {
      part: this.#best > 0 ? Math.min(1, value / this.#best) : 1,
      direction: !(Math.abs(change) > leastChange * scale)
        ? "steady"
        : change > 0
        ? "stronger"
        : "weaker",
    };
  }
}
