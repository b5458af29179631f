import type { RampSteps } from "fringebook";
import { trueSteps } from "./bench.ts";

/** A record of many strokes: 76 whole ones of 256 samples, of which 24 are searched. */
export const longBench = {
  distance: 0.25,
  frequency: 19.6,
  samplingRate: 10e3,
  duration: 2,
} as const;

/** Ends of its ramp, in A. */
export const [low, high] = [0.038, 0.042] as const;

/** Steps on its ramp. */
export const truth = trueSteps(longBench.distance, low, high);

/** Steps on its ramp as measured, from steps per current. */
export function perRamp(
  { stepsPerCurrent }: RampSteps,
): { value: number; standardUncertainty: number } {
  return {
    value: stepsPerCurrent.value * (high - low),
    standardUncertainty: stepsPerCurrent.standardUncertainty * (high - low),
  };
}
