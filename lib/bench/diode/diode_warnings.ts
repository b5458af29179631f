import { inDigits, warn, type Warning } from "../../result/mod.ts";
import type { Kink } from "./kinks.ts";
import type { DiodeFinding } from "./recognise_diode.ts";
import type { LightCurrentSweep } from "./sweep.ts";
import type { TwoSegmentFit } from "./threshold.ts";

/** What is doubtful about a diode, and what to do. */
export function diodeWarnings(
  fault: DiodeFinding | null,
  fit: { lines: TwoSegmentFit | null; kinks: Kink[] } | null,
  points: LightCurrentSweep,
  ratedCurrent: number | null,
): Warning[] {
  const warnings: Warning[] = [];
  if (fault !== null) {
    warnings.push(warn(fault.state.replaceAll(" ", "-"), fault.sentence));
  }
  if (fit !== null && fit.lines === null) {
    warnings.push(warn(
      "few-points",
      "There are too few points below or above the threshold for two lines: take finer steps, from 0 to well above it",
    ));
  }
  const highest = points.current.at(-1)!;
  for (const { low, high, slopeChange } of fit?.kinks ?? []) {
    const level = slopeChange < -0.9 && high > highest - (high - low) / 10;
    warnings.push(
      level
        ? warn(
          "saturated",
          `From ${
            milli(low)
          } mA on the signal stays level: the amplifier or the converter is at its rail. Take a smaller feedback resistor`,
        )
        : warn(
          "kink",
          `From ${milli(low)} to ${milli(high)} mA the slope changes by ${
            Math.round(100 * slopeChange)
          } %: a mode hop or another kink. Keep ramps out of there`,
          "note",
        ),
    );
  }
  if (highest > 5) {
    warnings.push(warn(
      "implausible-current",
      `The sweep goes up to ${
        inDigits(highest, 3)
      } A, too much for a small laser diode: is the channel in mA?`,
    ));
  }
  // 1 %: noise of the current channel is no over-driving.
  if (ratedCurrent !== null && highest > 1.01 * ratedCurrent) {
    warnings.push(warn(
      "over-driven",
      `The sweep goes up to ${milli(highest)} mA, above the rated ${
        milli(ratedCurrent)
      } mA: the diode may be damaged. Stop at the rated current`,
    ));
  }
  if (ratedCurrent === null) {
    warnings.push(warn(
      "no-rated-current",
      "The operating point does not know the rated current: give 'ratedCurrent' from the label",
      "note",
    ));
  }
  return warnings;
}

function milli(value: number): string {
  return inDigits(value * 1e3, 3);
}
