import { warn, type Warning } from "../result/mod.ts";
import { median } from "./stroke_selection.ts";

/**
 * Clipping, and too few samples to a step.
 *
 * @param strokes Monitor samples of each stroke, in its unit.
 * @param steps Steps per ramp (1).
 */
export function samplingWarnings(
  strokes: readonly ArrayLike<number>[],
  steps: number,
): Warning[] {
  const warnings: Warning[] = [];
  const { low, high, count, atLow, atHigh } = strokes.reduce(
    withEnds,
    { low: Infinity, high: -Infinity, count: 0, atLow: 0, atHigh: 0 },
  );
  for (
    const [end, found, name] of [
      [low, atLow, "lowest"],
      [high, atHigh, "highest"],
    ] as const
  ) {
    const share = found / count;
    if (share > 0.03) {
      warnings.push(warn(
        "clipped",
        `${
          (100 * share).toFixed(0)
        } % of the samples sit at the ${name} value (${
          end.toPrecision(4)
        }): the signal seems clipped. Take a larger range or less gain`,
      ));
    }
  }
  const perStep = median(strokes.map(({ length }) => length)) /
    Math.abs(steps);
  if (perStep < 4) {
    warnings.push(warn(
      "few-samples-per-step",
      `There are only ${
        perStep.toFixed(1)
      } samples to a step: faster fringes would be counted as slower ones. Raise the sampling rate or ramp more slowly`,
    ));
  }
  return warnings;
}

/** Lowest and highest value, and how many samples there are, and at these. */
interface Ends {
  readonly low: number;
  readonly high: number;
  readonly count: number;
  readonly atLow: number;
  readonly atHigh: number;
}

/** The ends with more samples; missing ones do not count. */
function withEnds(ends: Ends, samples: ArrayLike<number>): Ends {
  let { low, high, count, atLow, atHigh } = ends;
  for (let i = 0; i < samples.length; i++) {
    const y = samples[i]!;
    if (y > low && y < high) {
      count++;
      continue;
    }
    if (y <= low) {
      atLow = y < low ? 1 : atLow + 1;
      low = y;
    }
    if (y >= high) {
      atHigh = y > high ? 1 : atHigh + 1;
      high = y;
    }
    if (y - y === 0) count++;
  }
  return { low, high, count, atLow, atHigh };
}
