import type { TuningCalibration } from "../range/mod.ts";

/** One line of the uncertainty budget of a recorded tuning (JCGM 100:2008, 5.1.2). */
export interface RecordedContribution {
  /** What is uncertain. */
  readonly source: string;
  /** Its relative standard uncertainty (1). */
  readonly relativeStandardUncertainty: number;
  /** Relative change of the tuning with a relative change of it (1). */
  readonly sensitivity: number;
  /** What it adds to the standard uncertainty of the tuning, in m/A. */
  readonly contribution: number;
  /** How it was found (JCGM 100:2008, 4.2 and 4.3). */
  readonly evaluation: "A" | "B" | "A and B";
  /** Degrees of freedom (1); `null` where not limited. */
  readonly degreesOfFreedom: number | null;
}

/**
 * The budget of dλ/dI = (λ²/2n) d²N/dI dL: its lines add in squares to the
 * standard uncertainty of the calibration.
 */
export function tuningBudget(
  calibration: TuningCalibration,
): RecordedContribution[] {
  const { tuning, stepsPerCurrentAndDistance: slope, common } = calibration;
  const line = (
    source: string,
    relative: number,
    sensitivity: number,
    evaluation: RecordedContribution["evaluation"],
    degreesOfFreedom: number | null = null,
  ): RecordedContribution => ({
    source,
    relativeStandardUncertainty: relative,
    sensitivity,
    contribution: Math.abs(tuning.value * relative * sensitivity),
    evaluation,
    degreesOfFreedom,
  });
  const limited = Number.isFinite(slope.degreesOfFreedom);
  return [
    line(
      "slope of the line: counts and distances of the points",
      slope.standardUncertainty / Math.abs(slope.value),
      1,
      // From the scatter of the points, or from what is stated of each.
      limited ? "A" : "A and B",
      limited ? slope.degreesOfFreedom : null,
    ),
    line("scale of the ammeter", common.currentScale, -1, "B"),
    ...(common.currentConversion === undefined ? [] : [
      line("current from the drive voltage", common.currentConversion, -1, "B"),
    ]),
    line("scale of the distances", common.distanceScale, -1, "B"),
    line("wavelength", common.wavelength, 2, "B"),
  ];
}
