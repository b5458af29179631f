import { type Quantity, warn, type Warning } from "../result/mod.ts";
import type { RampSteps } from "./steps_result.ts";
import type { TuningModel } from "./tuning.ts";

/** What may be wrong with distance and velocity of a moving target. */
export function motionWarnings(
  velocity: Quantity,
  critical: number,
  leanKnown: boolean,
  zero: number,
  optical: number,
  calibration: TuningModel | null,
): Warning[] {
  const ratio = Math.abs(velocity.value) / critical;
  const moves = Math.abs(velocity.value) > 5 * velocity.standardUncertainty;
  const shown = `${(1e3 * velocity.value).toPrecision(3)} mm/s`;
  if (leanKnown) {
    return ratio < 0.8 ? [] : [warn(
      "near-critical-velocity",
      `The target moves at ${shown}, near or above the critical ${
        (1e3 * critical).toPrecision(3)
      } mm/s; the lean of the fringes tells its direction. Ramp faster or further for a better value`,
      "note",
    )];
  }
  // Without the lean, distance and velocity may have changed places.
  const other = zero + optical * ratio;
  const range = calibration?.distanceRange;
  const possible = range === undefined
    ? ratio > 0.15
    : other > 0.5 * range.low && other < 2 * range.high;
  return moves && possible
    ? [warn(
      "motion-ambiguous",
      `The target moves (${shown}) and the fringes are too even to tell above or below the critical ${
        (1e3 * critical).toPrecision(3)
      } mm/s: the distance could also be ${
        (1e3 * other).toPrecision(4)
      } mm. Record it at rest, or ramp faster`,
    )]
    : [];
}

/** Why a calibration may not fit this capture. */
export function rangeWarnings(
  calibration: TuningModel,
  steps: RampSteps,
  distance: number,
): Warning[] {
  const warnings = calibration.warnings.filter(({ severity }) =>
    severity === "doubtful"
  );
  const { low, high } = calibration.currentRange;
  const half = steps.currentSpan.value / 2;
  const room = 0.05 * (high - low);
  if (
    steps.meanCurrent - half < low - room ||
    steps.meanCurrent + half > high + room
  ) {
    warnings.push(warn(
      "outside-current-range",
      `The ramp runs from ${(1e3 * (steps.meanCurrent - half)).toFixed(2)} to ${
        (1e3 * (steps.meanCurrent + half)).toFixed(2)
      } mA, outside of the calibrated ${(1e3 * low).toFixed(2)} to ${
        (1e3 * high).toFixed(2)
      } mA: calibrate there`,
    ));
  }
  const f = calibration.modulationFrequency;
  if (Math.abs(steps.modulationFrequency / f - 1) > 0.02) {
    warnings.push(warn(
      "outside-frequency",
      `The ramp has ${
        steps.modulationFrequency.toPrecision(4)
      } Hz and the tuning was calibrated at ${
        f.toPrecision(4)
      } Hz: tuning depends on the frequency, so calibrate at this one`,
    ));
  }
  const range = calibration.distanceRange;
  const margin = 0.1 * (range.high - range.low);
  if (distance < range.low - margin || distance > range.high + margin) {
    warnings.push(warn(
      "outside-distance-range",
      `The distance lies outside of the calibrated ${
        (1e3 * range.low).toFixed(1)
      } to ${(1e3 * range.high).toFixed(1)} mm: the line is continued there`,
      "note",
    ));
  }
  return warnings;
}
