import { warn, type Warning } from "../result/mod.ts";
import type { Displacement } from "./measure_displacement.ts";
import type { WaveformAverage } from "./waveform_average.ts";
import type { jackknife } from "./waveform_harmonics.ts";

/** Fewest periods of which the mean says how sure it is. */
export const fewPeriods = 4;
/** Below this part the motion is not that of a period. */
const leastPeriodicity = 0.98;

/** Why a mean period is to be used with care, beside the displacement's doubts. */
export function waveformWarnings(
  displacement: Displacement,
  { groups, leftOut, periods, periodicity }: WaveformAverage,
  features: ReturnType<typeof jackknife>,
  rests: boolean,
): Warning[] {
  const warnings: Warning[] = [...displacement.warnings];
  if (groups.length < fewPeriods) {
    warnings.push(warn(
      "few-periods",
      `The record holds only ${periods} whole periods, too few to tell by their scatter how sure their mean is: record at least four`,
    ));
  }
  if (periodicity < leastPeriodicity) {
    warnings.push(warn(
      "not-periodic",
      `Only ${
        (100 * periodicity).toFixed(1)
      } % of the motion's square comes back with the period: look at the displacement, or give 'frequency'`,
    ));
  }
  if (leftOut > 0) {
    warnings.push(warn(
      "periods-left-out",
      `${leftOut} of ${periods} periods were left out: they have gaps, or are unlike the others`,
      leftOut > 0.2 * periods ? "doubtful" : "note",
    ));
  }
  const fastest = Math.min(features.riseTime!.value, features.fallTime!.value);
  if (rests && fastest < 2 * displacement.diagnostics.knotSpacing) {
    warnings.push(warn(
      "fast-edges",
      `The edges take ${fastest.toPrecision(2)} s, less than two of the ${
        displacement.diagnostics.knotSpacing.toPrecision(2)
      } s within which the displacement may bend: they may be steeper, and overshoot more, than is seen`,
    ));
  }
  return warnings;
}
