import {
  fitLine,
  type LineFit,
  type SquareTable,
  studentQuantile,
} from "../fit/mod.ts";
import {
  inputsOf,
  pickOptions,
  readOptions,
  requireRecords,
} from "../options/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import { checkReferences } from "./check_references.ts";
import { findOutliers, testLinearity } from "./reference_outliers.ts";
import { countReferences } from "./count_references.ts";
import { type RampSteps, stepsSpec } from "./steps.ts";
import { scaleInputs } from "./current_scale.ts";
import {
  calibrateSpec,
  type CalibrateTuningOptions,
  type ReferencePoint,
} from "./tuning_options.ts";
import { speedOfLight } from "./wavelength.ts";

/** One point of the calibration as it was used. */
export interface TuningPoint {
  /** Known distance, in m. */
  readonly distance: number;
  /** Its standard uncertainty, in m. */
  readonly distanceStandardUncertainty: number;
  /** Steps per current, in 1/A. */
  readonly stepsPerCurrent: number;
  /** Its standard uncertainty, in 1/A. */
  readonly stepsStandardUncertainty: number;
  /** Steps per ramp (1). */
  readonly steps: number;
  /** Distance by the line minus known distance, in m. */
  readonly residual: number;
  /**
   * Difference from the line through the other points, over its standard
   * deviation (1); follows Student's t with n - 3.
   */
  readonly studentizedResidual: number;
  /** Whether it is flagged as an outlier. */
  readonly outlier: boolean;
}

/** How a diode tunes: all that {@linkcode measureDistance} needs of it. */
export interface TuningModel {
  /** dλ/dI, in m/A. */
  readonly tuning: Quantity;
  /** dν/dI = -c/λ² dλ/dI, in Hz/A. */
  readonly frequencyTuning: Quantity;
  /**
   * Steps per current and distance, in 1/(A m): the slope of the line, with the
   * uncertainty of the line alone. With the same bench this is all that a
   * distance needs: wavelength, air and ammeter scale cancel.
   */
  readonly stepsPerCurrentAndDistance: Quantity;
  /**
   * Reading of the distance scale at which there would be no steps: where the
   * distance really starts, in m.
   */
  readonly zeroOffset: Quantity;
  /** Correlation of slope and zero offset (1). */
  readonly correlation: number;
  /**
   * Covariances of the line's intercept (1/A) and slope (1/(A m)), in that
   * order, without what all points share.
   */
  readonly lineCovariance: SquareTable;
  /** Vacuum wavelength at the mean current, in m. */
  readonly wavelength: Quantity;
  /** Phase index of the air (1). */
  readonly refractiveIndex: number;
  /** Current range of the ramps, in A. */
  readonly currentRange: { readonly low: number; readonly high: number };
  /** Range of the reference distances, in m. */
  readonly distanceRange: { readonly low: number; readonly high: number };
  /** Ramps per second, in Hz. */
  readonly modulationFrequency: number;
  /**
   * Time constant of the thermal lag that all steps were counted with, in s;
   * left out where it is not known.
   */
  readonly thermalTimeConstant?: number;
  /** Relative standard uncertainties common to all points (1). */
  readonly common: {
    readonly currentScale: number;
    /**
     * Of the curve or corner by which a drive voltage became a current; left out
     * where the current was recorded.
     */
    readonly currentConversion?: number;
    readonly distanceScale: number;
    readonly distanceOffset: number;
    readonly wavelength: number;
  };
  /** Why to use it with care; passed on to every distance made with it. */
  readonly warnings: readonly Warning[];
}

/** A calibration of the tuning. */
export interface TuningCalibration extends Result, TuningModel {
  /** Kind of the result, by which it is shown. */
  readonly kind: "range.tuning";
  /** Doubts, each with a code and a sentence. */
  readonly warnings: readonly Warning[];
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** The points in the order given. */
    readonly points: readonly TuningPoint[];
    /** The fitted line: steps per current (1/A) against distance (m). */
    readonly line: LineFit;
    /** Test for a bend of the line. */
    readonly linearity: {
      /** Quadratic coefficient, in 1/(A m²). */
      readonly curvature: number;
      /** Its standard uncertainty, in 1/(A m²). */
      readonly standardUncertainty: number;
      /** Probability of a bend this large without one (1). */
      readonly probability: number;
    };
    /** The counted steps, in the order given. */
    readonly steps: readonly RampSteps[];
  };
}

/**
 * Calibrates the tuning of a diode: steps per current against known distances.
 * The slope of the line gives dλ/dI = (λ²/2n) d²N/dI dL; its zero tells where
 * the distance really starts (inside the diode package or behind a lens).
 *
 * The line is fitted with errors in both axes (York et al. 2004). What all
 * points share (scale of the ammeter, wavelength, scale and zero of the
 * distances) is kept apart, so that it can cancel when the same bench measures.
 *
 * @param references Captures or counted steps with their known distances; at
 * least 2.
 * @param options Wavelength, air, common uncertainties.
 * @returns Tuning in m/A and Hz/A with standard uncertainty, zero offset,
 * flagged points.
 * @throws {RangeError} If there are fewer than 2 distances or a number makes no
 * sense.
 *
 * Source: Gouaux, Servagent & Bosch 1998 (from memory); York et al. 2004.
 *
 * @example
 * ```ts
 * import { calibrateTuning, rampCurrent, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const references = [0.1, 0.15, 0.2].map((distance) => ({
 *   distance,
 *   standardUncertainty: 20e-6,
 *   capture: simulateCapture({
 *     distance,
 *     refractiveIndex: 1.00027,
 *     current: rampCurrent({ low: 0.038, high: 0.042, frequency: 10 }),
 *     samplingRate: 10e3,
 *     duration: 0.4,
 *   }),
 * }));
 * const tuning = calibrateTuning(references, { wavelength: 650e-9 });
 * expect(tuning.tuning.value * 1e9).toBeCloseTo(8, 2); // 8 pm/mA
 * ```
 */
export function calibrateTuning(
  references: readonly ReferencePoint[],
  options: CalibrateTuningOptions,
): TuningCalibration & Shown {
  const task = "calibrate the tuning";
  requireRecords(
    references,
    "references",
    ["distance", "standardUncertainty"],
    task,
  );
  const read = readOptions(calibrateSpec, options, task);
  const {
    wavelength,
    wavelengthStandardUncertainty,
    refractiveIndex,
    currentScaleRelativeStandardUncertainty,
    distanceScaleRelativeStandardUncertainty,
    distanceOffsetStandardUncertainty,
  } = read;
  checkReferences(references);
  const { steps, timeConstant, alike } = countReferences(
    references,
    pickOptions(stepsSpec, options),
  );
  const warnings: Warning[] = [];
  if (!alike) {
    warnings.push(warn(
      "lags-differ",
      "The steps were not counted with one time constant of the thermal lag: count all with the same 'thermalTimeConstant'",
    ));
  }
  const distances = references.map(({ distance }) => distance);
  const counts = steps.map(({ stepsPerCurrent }) => stepsPerCurrent.value);
  const uDistances = references.map((point) => point.standardUncertainty);
  const uCounts = steps.map((counted, i) => {
    const { stepsPerCurrent, steps } = counted;
    const u = Math.hypot(
      stepsPerCurrent.standardUncertainty,
      // What was found from each capture is off by something else in each.
      Math.abs(stepsPerCurrent.value) * doubtOf(counted, true),
    );
    // A single noiseless stroke has no scatter; keep its point in the fit.
    return u > 0 ? u : 1e-9 * Math.abs(counts[i]!) / Math.max(1, steps.value);
  });
  const known = uDistances.every((u) => u > 0) || uCounts.every((u) => u > 0);
  let line = fitLine(distances, counts, {
    standardUncertaintiesX: uDistances,
    standardUncertaintiesY: known ? uCounts : null,
    unitX: "m",
    unitY: "1/A",
  });
  if (line.chiSquareProbability < 0.01) {
    warnings.push(warn(
      "scatter-exceeds-uncertainty",
      `The points scatter ${
        line.residualStandardDeviation.toFixed(1)
      } times as much as their stated uncertainties allow: the uncertainty of the tuning is widened to the scatter. Look for a wrong distance or a disturbed capture`,
    ));
    line = fitLine(distances, counts, {
      standardUncertaintiesX: uDistances,
      standardUncertaintiesY: uCounts,
      scaleByScatter: true,
      unitX: "m",
      unitY: "1/A",
    });
  }
  const slope = line.slope.value;
  const zero = -line.intercept.value / slope;
  const outliers = findOutliers(distances, counts, uDistances, uCounts);
  outliers.forEach(({ outlier, studentizedResidual }, i) => {
    if (!outlier) return;
    warnings.push(warn(
      "reference-outlier",
      `The point at ${
        (1e3 * distances[i]!).toFixed(2)
      } mm does not fit the others (studentised residual ${
        studentizedResidual.toFixed(1)
      }): check that distance and that capture, or leave the point out`,
    ));
  });
  const linearity = testLinearity(
    distances,
    counts,
    uDistances,
    uCounts,
    slope,
  );
  if (
    linearity.probability < 0.01 &&
    // One wrong point bends a parabola; several are a bend.
    outliers.filter(({ outlier }) => outlier).length !== 1
  ) {
    warnings.push(warn(
      "not-linear",
      `The points bend away from the line (probability ${
        linearity.probability.toExponential(1)
      } without a bend): check the distances and the alignment`,
    ));
  }
  const frequencies = steps.map((step) => step.modulationFrequency);
  const frequency = frequencies[0]!;
  if (frequencies.some((f) => Math.abs(f / frequency - 1) > 0.02)) {
    warnings.push(warn(
      "modulation-frequencies-differ",
      `The ramps have different frequencies (${
        Math.min(...frequencies).toPrecision(3)
      } to ${
        Math.max(...frequencies).toPrecision(3)
      } Hz): tuning depends on the frequency, so calibrate at one`,
    ));
  }
  for (const step of steps) {
    for (const { code, message } of step.warnings) {
      if (!warnings.some((w) => w.code === code)) {
        warnings.push(warn(code, message, "note"));
      }
    }
  }

  const sign = read.wavelengthGets === "shorter" ? -1 : 1;
  const tuning = sign * slope * wavelength ** 2 / (2 * refractiveIndex);
  const relativeWavelength = wavelengthStandardUncertainty / wavelength;
  // What was given is the same in all: the mean of what it does to each.
  const currentConversion =
    steps.reduce((sum, each) => sum + doubtOf(each, false), 0) / steps.length;
  const relative = Math.hypot(
    line.slope.standardUncertainty / slope,
    currentScaleRelativeStandardUncertainty,
    currentConversion,
    distanceScaleRelativeStandardUncertainty,
    2 * relativeWavelength,
  );
  // dν/dI = -c/λ² dλ/dI = -slope c / 2n: the wavelength cancels.
  const relativeFrequency = Math.hypot(
    line.slope.standardUncertainty / slope,
    currentScaleRelativeStandardUncertainty,
    currentConversion,
    distanceScaleRelativeStandardUncertainty,
  );
  const nu = line.slope.degreesOfFreedom;
  const effective = (total: number) =>
    nu * (total / (line.slope.standardUncertainty / slope)) ** 4;
  const low = Math.min(
    ...steps.map((s) => s.meanCurrent - s.currentSpan.value / 2),
  );
  const high = Math.max(
    ...steps.map((s) => s.meanCurrent + s.currentSpan.value / 2),
  );
  const [[va, cab], [, vb]] = line.covariance as [
    [number, number],
    [number, number],
  ];
  // L0 = -a/b
  const uZero = Math.sqrt(va + 2 * zero * cab + zero * zero * vb) / slope;
  const covarianceZero = -(cab + zero * vb) / slope;
  return createResult({
    kind: "range.tuning" as const,
    tuning: withCoverage(tuning, tuning * relative, "m/A", effective(relative)),
    frequencyTuning: withCoverage(
      -sign * slope * speedOfLight / (2 * refractiveIndex),
      slope * speedOfLight / (2 * refractiveIndex) * relativeFrequency,
      "Hz/A",
      effective(relativeFrequency),
    ),
    stepsPerCurrentAndDistance: withCoverage(
      slope,
      line.slope.standardUncertainty,
      "1/(A m)",
      nu,
    ),
    zeroOffset: withCoverage(
      zero,
      Math.hypot(
        uZero,
        distanceOffsetStandardUncertainty,
        zero * distanceScaleRelativeStandardUncertainty,
      ),
      "m",
      nu,
    ),
    correlation: covarianceZero / (uZero * line.slope.standardUncertainty),
    lineCovariance: line.covariance,
    wavelength: quantity(wavelength, wavelengthStandardUncertainty, "m"),
    refractiveIndex,
    currentRange: { low, high },
    distanceRange: {
      low: Math.min(...distances),
      high: Math.max(...distances),
    },
    modulationFrequency: frequency,
    thermalTimeConstant: timeConstant,
    common: {
      currentScale: currentScaleRelativeStandardUncertainty,
      ...(currentConversion > 0 && { currentConversion }),
      distanceScale: distanceScaleRelativeStandardUncertainty,
      distanceOffset: distanceOffsetStandardUncertainty,
      wavelength: relativeWavelength,
    },
    warnings,
    provenance: provenance({
      method: "calibrateTuning",
      captures: steps.flatMap((step) => step.provenance.captures),
      options: {
        wavelength,
        wavelengthStandardUncertainty,
        refractiveIndex,
        currentScaleRelativeStandardUncertainty,
        distanceScaleRelativeStandardUncertainty,
        distanceOffsetStandardUncertainty,
        wavelengthGets: read.wavelengthGets,
      },
      inputs: [
        ...inputsOf(calibrateSpec, options, read, [
          "wavelength",
          "refractiveIndex",
        ]),
        ...scaleInputs(steps[0]!, currentScaleRelativeStandardUncertainty),
      ],
      sources: [
        "Gouaux, Servagent & Bosch 1998 (from memory)",
        "York et al. 2004, eqs. 13a-13d",
      ],
    }),
    diagnostics: {
      points: references.map((point, i): TuningPoint => ({
        distance: point.distance,
        distanceStandardUncertainty: point.standardUncertainty,
        stepsPerCurrent: counts[i]!,
        stepsStandardUncertainty: uCounts[i]!,
        steps: steps[i]!.steps.value,
        residual: zero + counts[i]! / slope - point.distance,
        studentizedResidual: outliers[i]!.studentizedResidual,
        outlier: outliers[i]!.outlier,
      })),
      line,
      linearity,
      steps,
    },
  });
}

/** What makes the current of a count off, found from it or given (1). */
function doubtOf({ currentDoubts }: RampSteps, found: boolean): number {
  return Math.hypot(
    ...currentDoubts.filter((doubt) => doubt.found === found)
      .map(({ relativeStandardUncertainty }) => relativeStandardUncertainty),
  );
}

/** A quantity whose k gives 95.45 % with its degrees of freedom, at least 2. */
export function withCoverage(
  value: number,
  standardUncertainty: number,
  unit: string,
  degreesOfFreedom: number,
): Quantity {
  const nu = Number.isFinite(degreesOfFreedom)
    ? Math.max(1, degreesOfFreedom)
    : Infinity;
  return quantity(value, Math.abs(standardUncertainty), unit, {
    degreesOfFreedom: nu,
    coverageFactor: nu === Infinity
      ? 2
      : Math.max(2, studentQuantile(0.97725, nu)),
  });
}
