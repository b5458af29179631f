import type { Shown } from "../result/mod.ts";
import type { KnownFringes } from "./known_fringes.ts";
import type { Stroke } from "./ramps.ts";
import type { RampSteps } from "./steps_result.ts";
import { median } from "./stroke_selection.ts";
import { perStep } from "./thin_capture.ts";

/** What a part of a long record tells of the next; plain data. */
export interface EarlierPart {
  /** Samples in one of those that are counted; `null` where that is open. */
  readonly block: number | null;
  /** `null` where the next strokes are to be searched. */
  readonly fringes: KnownFringes | null;
  /** Parts that were counted like others since one was searched. */
  readonly like: number;
}

/** Steps of a part of a record, and what it tells of the next. */
export interface CountedSteps {
  readonly steps: RampSteps & Shown;
  readonly told: EarlierPart;
}

/**
 * Samples in one for the next part, as long as enough of them are left to a step;
 * else `null`.
 *
 * @param block Samples in one of this part.
 * @param strokes Its strokes, in samples that were counted.
 * @param steps Steps on a stroke (1).
 */
export function nextBlock(
  block: number,
  strokes: readonly Stroke[],
  steps: number,
): number | null {
  const length = median(strokes.map(({ start, end }) => end - start));
  return block === 1 || length > 0.9 * perStep * Math.abs(steps) ? block : null;
}
