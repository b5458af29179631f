import type { ReferencePoint } from "./tuning_options.ts";

/**
 * Refuses references that no tuning can be calibrated from.
 *
 * @throws {RangeError} If there are too few, all alike, or one is out of range.
 * @throws {TypeError} If one has nothing that was counted.
 */
export function checkReferences(references: readonly ReferencePoint[]): void {
  const what = "calibrate the tuning";
  if (references.length < 2) {
    throw new RangeError(
      `Cannot ${what} from ${references.length} distances: take 2 or more, better 5 to 10`,
    );
  }
  references.forEach(({ distance, standardUncertainty, capture, steps }, i) => {
    if (!Number.isFinite(distance)) {
      throw new RangeError(
        `Cannot ${what} as the distance of point ${i} is ${distance}: give it in m`,
      );
    }
    if (!(standardUncertainty >= 0)) {
      throw new RangeError(
        `Cannot ${what} as 'standardUncertainty' of point ${i} must not be negative: current value is ${standardUncertainty}`,
      );
    }
    if (capture === undefined && steps === undefined) {
      throw new TypeError(
        `Cannot ${what} as point ${i} has neither 'capture' nor 'steps'`,
      );
    }
  });
  if (
    references.every(({ distance }) => distance === references[0]!.distance)
  ) {
    throw new RangeError(
      `Cannot ${what} as all distances are ${
        references[0]!.distance
      } m: take different ones`,
    );
  }
}
