import type { Capture } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import { measureDistance, type MeasureDistanceOptions } from "../range/mod.ts";
import type { Quantity } from "../result/mod.ts";
import { measureSpeed, type MeasureSpeedOptions } from "../speed/mod.ts";
import { type LiveRow, textRow } from "./live_row.ts";

/** Part of the time that one of these may compute (1). */
const share = 0.2;
/** Shortest time between two looks, in s. */
const shortest = 0.4;

/**
 * A quantity that is measured on the last stretch again and again, as often as a
 * fifth of the time allows.
 */
export class LookedAt {
  readonly #label: string;
  readonly #measure: (capture: Capture) => Quantity;
  #next = 0;
  #row: LiveRow;

  constructor(label: string, measure: (capture: Capture) => Quantity) {
    this.#label = label;
    this.#measure = measure;
    this.#row = textRow(label, "waiting for samples");
  }

  /** Whether it is time to look again. */
  isDue(now: number): boolean {
    return now >= this.#next;
  }

  /** Measures on a stretch. */
  look(capture: Capture, clock: () => number): void {
    const start = clock();
    try {
      const { value, unit, standardUncertainty } = this.#measure(capture);
      this.#row = { label: this.#label, value, unit, standardUncertainty };
    } catch (error) {
      if (
        !(error instanceof NotMeasurableError) && !(error instanceof RangeError)
      ) throw error;
      this.#row = textRow(this.#label, error.message);
    }
    const end = clock();
    this.#next = end + Math.max(shortest, (end - start) / share);
  }

  /** What is shown. */
  rows(): LiveRow[] {
    return [this.#row];
  }
}

/** Speed of the line in the last stretch. */
export function lookAtSpeed(options: MeasureSpeedOptions): LookedAt {
  return new LookedAt(
    "speed",
    (capture) => measureSpeed(capture, options).speed,
  );
}

/** Distance by the ramps of the last stretch, counted by the slope of the phase. */
export function lookAtDistance(options: MeasureDistanceOptions): LookedAt {
  return new LookedAt(
    "distance",
    (capture) =>
      measureDistance(capture, { estimator: "phase slope", ...options })
        .distance,
  );
}
