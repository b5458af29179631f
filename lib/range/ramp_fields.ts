import type { Capture } from "../capture/mod.ts";
import { type Quantity, quantity } from "../result/mod.ts";
import type { CombinedStrokes } from "./combine_strokes.ts";
import { currentDoubts } from "./current_doubts.ts";
import type { Ramps } from "./ramps.ts";
import type { StrokeSteps } from "./steps_result.ts";

/**
 * The fields of a count that the ramps and the combined strokes tell.
 *
 * @param capture The capture on whose samples the strokes stand.
 */
export function rampFields(
  capture: Capture,
  ramps: Ramps,
  combined: CombinedStrokes,
  steps: Quantity,
) {
  const low = ramps.lowCurrent.value;
  const span = ramps.highCurrent.value - low;
  return {
    steps,
    // The ends of the ramp only scale the count; their scatter cancels here.
    stepsPerCurrent: quantity(
      steps.value / span,
      steps.standardUncertainty / span,
      "1/A",
      { degreesOfFreedom: steps.degreesOfFreedom },
    ),
    currentDoubts: currentDoubts(
      capture,
      ramps.diagnostics.strokes.filter((_, i) => combined.used[i]),
    ),
    stepsUp: combined.up?.steps ?? null,
    stepsDown: combined.down?.steps ?? null,
    currentSpan: quantity(
      span,
      Math.hypot(
        ramps.lowCurrent.standardUncertainty,
        ramps.highCurrent.standardUncertainty,
      ),
      "A",
    ),
    meanCurrent: low + span / 2,
    modulationFrequency: ramps.frequency.value,
    strokeDuration: ramps.strokeDuration,
    shape: ramps.shape,
  };
}

/**
 * The strokes as they were used, with their places in the whole capture.
 *
 * @param block Samples of the capture in one of those that were counted.
 */
export function usedStrokes(
  counted: readonly StrokeSteps[],
  { used }: CombinedStrokes,
  block: number,
): StrokeSteps[] {
  return counted.map((stroke, i) => ({
    ...stroke,
    start: block * stroke.start,
    end: block * stroke.end,
    used: used[i]!,
    reason: stroke.reason ??
      (used[i] ? null : "steps differ from the other strokes"),
  }));
}
