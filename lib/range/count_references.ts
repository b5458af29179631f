import { measureSteps, type MeasureStepsOptions } from "./steps.ts";
import type { ReferencePoint } from "./tuning_options.ts";

/**
 * Counts every reference, all against the same thermal lag: where most captures
 * show one it is the median of theirs, else none.
 *
 * @returns The steps, the time constant in s, and whether all have it.
 */
export function countReferences(
  references: readonly ReferencePoint[],
  options: MeasureStepsOptions,
) {
  const count = (
    thermalTimeConstant: MeasureStepsOptions["thermalTimeConstant"],
  ) =>
    references.map(({ capture, steps }) =>
      steps ?? measureSteps(capture!, {
        ...options,
        ...(thermalTimeConstant !== undefined && { thermalTimeConstant }),
      })
    );
  const steps = count(options.thermalTimeConstant);
  const lags = steps.map((s) => s.thermalTimeConstant.value);
  const near = (values: readonly number[], to: number) =>
    values.every((value) => Math.abs(value - to) <= 1e-3 * to);
  if (near(lags, lags[0]!)) {
    return { steps, timeConstant: lags[0]!, alike: true };
  }
  const found = lags.filter((lag) => lag > 0).sort((a, b) => a - b);
  const timeConstant = 2 * found.length > lags.length
    ? found[found.length >> 1]!
    : 0;
  const again = count(timeConstant);
  return {
    steps: again,
    timeConstant,
    alike: near(again.map((s) => s.thermalTimeConstant.value), timeConstant),
  };
}
