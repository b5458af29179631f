import {
  createDisplacementTracker,
  type DisplacementTracker,
  type DisplacementTrackerOptions,
} from "../motion/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import type { LiveState } from "./advice.ts";
import { type LiveRow, textRow } from "./live_row.ts";

/** Where there is nothing to follow. */
const lost: ReadonlySet<LiveState> = new Set([
  ...["no signal", "clipped", "aliased", "no fringes"] as const,
]);

/** Time after a vain attempt to learn before the next, in s. */
const pause = 2;

/** Follows the displacement sample by sample, and learns anew after a gap. */
export class LiveDisplacement {
  readonly #options: DisplacementTrackerOptions;
  readonly #clock: () => number;
  #tracker: DisplacementTracker | null = null;
  #last = NaN;
  #uncertainty = NaN;
  #low = NaN;
  #high = NaN;
  #why = "waits for fringes";
  #notBefore = -Infinity;

  /**
   * @param options How the displacement is measured.
   * @param clock Time, in s.
   * @throws {RangeError} If an option is out of range.
   */
  constructor(options: DisplacementTrackerOptions, clock: () => number) {
    this.#options = options;
    this.#clock = clock;
    createDisplacementTracker(options);
  }

  /**
   * Takes samples of the monitor signal in.
   *
   * @param samples The samples.
   * @param joined Whether they follow on from those before.
   * @param state What the signal looks like; `null` before that is known.
   */
  push(samples: Float64Array, joined: boolean, state: LiveState | null): void {
    if (!joined) this.#restart("samples were lost: it starts from zero again");
    if (this.#tracker !== null && state !== null && lost.has(state)) {
      this.#restart("the fringes were lost: it starts from zero again");
    }
    if (this.#tracker === null) {
      if (state !== "good" || this.#clock() < this.#notBefore) return;
      this.#tracker = createDisplacementTracker(this.#options);
      this.#why = "learns from the first samples";
    }
    try {
      for (const block of this.#tracker.push(samples)) this.#take(block);
    } catch (error) {
      if (!(error instanceof NotMeasurableError)) throw error;
      this.#restart("no fringes to learn from: does the target move?");
      this.#notBefore = this.#clock() + pause;
    }
  }

  /** What is shown. */
  rows(): LiveRow[] {
    if (Number.isNaN(this.#last)) return [textRow("displacement", this.#why)];
    const row = (label: string, value: number, standardUncertainty = NaN) => ({
      label,
      value,
      unit: "m",
      standardUncertainty,
    });
    return [
      row("displacement", this.#last, this.#uncertainty),
      row("peak to peak, last block", this.#high - this.#low),
    ];
  }

  #take(
    block: {
      readonly displacement: Float64Array;
      readonly standardUncertainty: Float32Array;
    },
  ): void {
    const { displacement, standardUncertainty } = block;
    if (displacement.length === 0) return;
    this.#last = displacement.at(-1)!;
    this.#uncertainty = standardUncertainty.at(-1)!;
    this.#low = Infinity;
    this.#high = -Infinity;
    for (const value of displacement) {
      if (value < this.#low) this.#low = value;
      if (value > this.#high) this.#high = value;
    }
  }

  #restart(why: string): void {
    this.#tracker = null;
    this.#last = NaN;
    this.#why = why;
  }
}
