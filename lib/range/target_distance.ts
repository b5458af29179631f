import {
  airRefractiveIndex,
  benchOptions,
  measuredOption,
  pickOptions,
  quantityOption,
  readOptions,
} from "../options/mod.ts";
import { type Quantity, quantity } from "../result/mod.ts";
import type { MeasureDistanceOptions } from "./distance.ts";

const statedSpec = {
  tuning: measuredOption(quantityOption({
    doc: "Tuning of the diode, in m/A.",
    unit: "m/A",
    least: -1e-6,
    most: 1e-6,
    customary: ["pm/mA", "nm/mA"],
    example: "8.3pm/mA",
  })),
  wavelength: measuredOption(benchOptions.wavelength),
};

/**
 * Distance of steps per current, with the uncertainty of count and tuning: as
 * `measureDistance` has it, on the bench that was calibrated.
 */
export function distanceOfSteps(
  perCurrent: Quantity,
  tuning: MeasureDistanceOptions["tuning"],
): Quantity {
  const count = Math.abs(perCurrent.value);
  const uCount = perCurrent.standardUncertainty;
  if ("zeroOffset" in tuning) {
    const slope = tuning.stepsPerCurrentAndDistance.value;
    const [[va = 0, cab = 0] = [], [, vb = 0] = []] = tuning.lineCovariance;
    const distance = tuning.zeroOffset.value + count / Math.abs(slope);
    return quantity(
      distance,
      Math.hypot(
        uCount / slope,
        Math.sqrt(va + 2 * distance * cab + distance ** 2 * vb) / slope,
        distance * tuning.common.distanceScale,
        tuning.common.distanceOffset,
      ),
      "m",
    );
  }
  const task = "find targets";
  const read = readOptions(
    statedSpec,
    pickOptions(statedSpec, tuning),
    task,
    { within: "tuning" },
  );
  const { tuning: own, wavelength } = read;
  if (own.value === 0) {
    throw new RangeError(
      `Cannot ${task} as 'tuning' must not be 0: current value is 0 m/A`,
    );
  }
  const distance = count * wavelength.value ** 2 /
    (2 * airRefractiveIndex * Math.abs(own.value));
  return quantity(
    distance,
    distance * Math.hypot(
      uCount / count,
      own.standardUncertainty / own.value,
      2 * wavelength.standardUncertainty / wavelength.value,
    ),
    "m",
  );
}
