import type { Trend } from "./advice.ts";
import type { LiveReading } from "./meter.ts";

/** Changes below this are those of the noise (1). */
const leastChange = 0.05;
/** Changes below this many times the noise are none (1). */
const leastInNoise = 1;
/** Change of the level by which something else than the fringes was turned (1). */
const otherLevel = 0.1;
/** How far back "before" is, in s. */
const lookBack = 0.8;

/** What is taken of a reading. */
type StrengthReading = Pick<
  LiveReading,
  "fringes" | "contrast" | "level" | "noise"
>;

/** Follows how strong the fringes are: the best so far, and which way they go. */
export class Strength {
  #best = 0;
  #level = NaN;
  readonly #recent: { readonly time: number; readonly value: number }[] = [];

  /** The best so far, in the unit of the signal. */
  get best(): number {
    return this.#best;
  }

  /**
   * Takes the height of the fringes in.
   *
   * @param time Time, in s.
   * @param reading Height, level and noise, in the unit of the signal.
   * @param counts Whether it may count as the best: not where it is clipped.
   */
  push(
    time: number,
    { fringes: value, contrast, level, noise }: StrengthReading,
    counts: boolean,
  ): Trend {
    // Behind another gain, or with another current, heights are not the same.
    const known = Number.isFinite(contrast);
    if (known && Math.abs(level / this.#level - 1) > otherLevel) {
      this.#best = 0;
      this.#recent.length = 0;
    }
    this.#level = known ? level : NaN;
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
      direction: !(Math.abs(change) >
          Math.max(leastChange * scale, leastInNoise * noise))
        ? "steady"
        : change > 0
        ? "stronger"
        : "weaker",
    };
  }
}
