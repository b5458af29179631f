import { requireFields } from "../options/mod.ts";
import {
  type RampSteps,
  stepsFromScreen,
  type StepsFromScreenOptions,
} from "../range/mod.ts";
import type { Shown } from "../result/mod.ts";
import type { ReferenceReading } from "./reference_readings.ts";

/**
 * The steps of a reading that was counted by hand, as `calibrateTuning` takes
 * them.
 *
 * @param reading The reading, with `counted`.
 * @param drive The ramp as it was set or read: shape, frequency, lowest and highest
 * current (A).
 * @returns The steps, by `stepsFromScreen`.
 * @throws {RangeError} If the reading holds no count, or the ramp is not stated.
 *
 * @example
 * ```ts
 * import { stepsOfReading } from "fringebook/record";
 * import { expect } from "vitest";
 *
 * const { stepsPerCurrent } = stepsOfReading({
 *   file: null,
 *   counted: { steps: 7, standardUncertainty: 0.1 },
 *   distance: 0.018,
 *   standardUncertainty: 0.0002,
 * }, { shape: "triangle", frequency: 10, low: "35mA", high: "45mA" });
 * expect(stepsPerCurrent.value).toBeCloseTo(700, 9); // in 1/A
 * expect(stepsPerCurrent.standardUncertainty).toBeCloseTo(10, 9);
 * ```
 */
export function stepsOfReading(
  reading: ReferenceReading,
  drive: StepsFromScreenOptions["drive"] | null,
): RampSteps & Shown {
  const task = "take the steps of a reading";
  requireFields(reading, "reading", ["counted", "distance"], task);
  const { counted, distance } = reading;
  if (counted === null) {
    throw new RangeError(
      `Cannot ${task} as that at ${distance} m holds a capture: count it with measureSteps(capture)`,
    );
  }
  if (drive === null) {
    throw new RangeError(
      `Cannot ${task} as the ramp on which it was counted is not stated: give shape, frequency, low and high, such as { shape: "triangle", frequency: "10Hz", low: "39mA", high: "41mA" }`,
    );
  }
  if ("steps" in counted) {
    const { steps, standardUncertainty } = counted;
    return stepsFromScreen({
      drive,
      up: steps,
      ...(standardUncertainty === null
        ? {}
        : { countStandardUncertainty: standardUncertainty }),
    });
  }
  const { standardUncertainty, ...edges } = counted;
  return stepsFromScreen({
    drive,
    up: edges,
    currentStandardUncertainty: standardUncertainty,
  });
}
