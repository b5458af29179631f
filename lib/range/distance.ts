import type { Capture } from "../capture/mod.ts";
import {
  airRefractiveIndex,
  benchOptions,
  flagOption,
  handedOption,
  inputsOf,
  isCaptureLike,
  labelOf,
  measuredOption,
  type Option,
  optional,
  pickOptions,
  quantityOption,
  readOptions,
  requireForm,
} from "../options/mod.ts";
import {
  createResult,
  isResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type ResultInput,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import { currentScaleOption, scaleInputs } from "./current_scale.ts";
import { motionWarnings, rangeWarnings } from "./distance_warnings.ts";
import {
  measureSteps,
  type MeasureStepsOptions,
  type RampSteps,
  stepsSpec,
} from "./steps.ts";
import { type TuningModel, withCoverage } from "./tuning.ts";

/** A tuning coefficient that was not calibrated on this bench. */
export interface StatedTuning {
  /** dλ/dI, in m/A, of either sign: with its standard uncertainty, or a text such as `"8.3pm/mA"`. */
  readonly tuning: StatedValue;
  /** Vacuum wavelength at the mean current, in m, in the same forms. */
  readonly wavelength: StatedValue;
}

/** A value in its SI unit, a text with its unit, or either with how sure it is. */
export type StatedValue =
  | number
  | string
  | {
    readonly value: number | string;
    readonly standardUncertainty?: number | string;
  };

/**
 * Options of {@linkcode measureDistance}. A thermal lag that is not stated is
 * that of the calibration, or looked for without one.
 */
export interface MeasureDistanceOptions extends MeasureStepsOptions {
  /** The calibration, or a tuning coefficient with its wavelength. */
  tuning: TuningModel | StatedTuning;
  /**
   * Whether the bench that was calibrated measures now: same diode, ammeter and
   * ramp. Then wavelength, air and ammeter scale cancel.
   *
   * @default {true} with a calibration
   */
  sameBench?: boolean;
  /**
   * Relative standard uncertainty of the ammeter's scale (1); used where it
   * does not cancel.
   *
   * @default {that of the calibration, else 0}
   */
  currentScaleRelativeStandardUncertainty?: number | string;
  /**
   * Phase index of the air (1).
   *
   * @default {that of the calibration, else 1.00027}
   */
  refractiveIndex?: number | string;
}

export const distanceSpec = {
  ...stepsSpec,
  tuning: handedOption<MeasureDistanceOptions["tuning"]>(
    "The calibration, or a tuning coefficient with its wavelength.",
    'the result of calibrateTuning(…), or { tuning: "8.3pm/mA", wavelength: "650nm" }',
    (value) =>
      typeof value === "object" && value !== null && "tuning" in value &&
      "wavelength" in value,
  ),
  sameBench: optional(
    flagOption("Whether the bench that was calibrated measures now."),
    undefined,
    "true with a calibration",
  ),
  currentScaleRelativeStandardUncertainty: optional(
    currentScaleOption,
    undefined,
    "that of the calibration, else 0",
  ),
  refractiveIndex: optional(
    benchOptions.refractiveIndex,
    undefined,
    "that of the calibration, else 1.00027, the air of a room",
  ),
} satisfies Record<keyof MeasureDistanceOptions, Option>;

const statedTuningSpec = {
  tuning: measuredOption(quantityOption({
    doc: "Tuning of the diode, in m/A; negative where the wavelength falls.",
    unit: "m/A",
    least: -1e-6,
    most: 1e-6,
    customary: ["pm/mA", "nm/mA"],
    example: "8.3pm/mA",
  })),
  wavelength: measuredOption(benchOptions.wavelength),
};

/** One line of the uncertainty budget of a distance. */
export interface DistanceContribution {
  /** What it comes from, in plain words. */
  readonly source: string;
  /** Contribution to the standard uncertainty of the distance, in m. */
  readonly contribution: number;
  /** Degrees of freedom (1). */
  readonly degreesOfFreedom: number;
}

/** A distance measured by counting steps on a ramp. */
export interface DistanceMeasurement extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "range.distance";
  /** Distance on the scale of the reference distances, in m. */
  readonly distance: Quantity;
  /** Distance from where the light really starts, in m. */
  readonly opticalDistance: Quantity;
  /**
   * Velocity of the target, in m/s, positive receding; `null` where the capture
   * has strokes in one direction only.
   */
  readonly velocity: Quantity | null;
  /** Velocity above which its sign cannot be told, in m/s. */
  readonly criticalVelocity: number;
  /** Steps per ramp (1). */
  readonly steps: Quantity;
  /** Where the uncertainty comes from. */
  readonly budget: readonly DistanceContribution[];
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** The counted steps with their curves. */
    readonly steps: RampSteps;
    /** dλ/dI used, in m/A. */
    readonly tuning: number;
    /** Wavelength used, in m. */
    readonly wavelength: number;
    /** Whether the common factors were taken to cancel. */
    readonly sameBench: boolean;
  };
}

/**
 * Measures the distance of a target from the steps on a current ramp:
 * L = L₀ + N/ΔI / K with the calibrated steps per current and distance K and
 * zero L₀; without a calibration L = N λ²/(2 n ΔI dλ/dI).
 *
 * Rising and falling strokes are averaged, so that a steady motion cancels; from
 * their difference comes the velocity v = λ (f_down - f_up)/(4n), positive
 * receding, as long as it is below the critical velocity λf/(2n). A stated tuning
 * may be negative, where the wavelength falls as the current rises: the distance
 * goes by its size, and the sign of the velocity turns.
 *
 * @param measured A capture, or steps already counted.
 * @param options The tuning, and how to count.
 * @returns Distance with standard uncertainty and budget; velocity.
 * @throws {NotMeasurableError} If there is no ramp or there are no fringes.
 * @throws {RangeError} If the tuning is 0, or no number.
 *
 * Source: Gouaux, Servagent & Bosch 1998 (from memory); Shinohara et al. 1992 (from memory).
 *
 * @example
 * ```ts
 * import { measureDistance, rampCurrent, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: 0.2,
 *   refractiveIndex: 1.00027,
 *   current: rampCurrent({ low: 0.038, high: 0.042, frequency: 10 }),
 *   samplingRate: 20e3,
 *   duration: 0.4,
 * });
 * const { distance } = measureDistance(capture, {
 *   tuning: {
 *     tuning: { value: 8e-9, standardUncertainty: 8e-12 },
 *     wavelength: { value: 650e-9, standardUncertainty: 0.1e-9 },
 *   },
 * });
 * expect(distance.value).toBeCloseTo(0.2, 3);
 * ```
 */
export function measureDistance(
  measured: Capture | RampSteps,
  options: MeasureDistanceOptions,
): DistanceMeasurement & Shown {
  const task = "measure a distance";
  requireForm(measured, {
    what: "a capture or the steps of measureSteps(…)",
    is: (value) => isCaptureLike(value) || isSteps(value),
    remedy: "readCapture(…) reads a capture from a file",
    awaited: "await readCapture(…)",
  }, task);
  const read = readOptions(distanceSpec, options, task);
  const calibration = "zeroOffset" in read.tuning ? read.tuning : null;
  const tuning = calibration ??
    readOptions(
      statedTuningSpec,
      pickOptions(statedTuningSpec, read.tuning),
      task,
      { within: "tuning" },
    );
  const {
    sameBench = calibration !== null,
    currentScaleRelativeStandardUncertainty =
      calibration?.common.currentScale ?? 0,
    refractiveIndex = calibration?.refractiveIndex ?? airRefractiveIndex,
  } = read;
  const given = options.tuning;
  const beta = tuning.tuning.value;
  const lambda = tuning.wavelength.value;
  if (!(lambda > 0 && Number.isFinite(lambda))) {
    throw new RangeError(
      `Cannot measure a distance as 'wavelength' must be positive: current value is ${lambda}`,
    );
  }
  if (!(beta !== 0 && Number.isFinite(beta))) {
    throw new RangeError(
      `Cannot measure a distance as 'tuning' must not be 0: current value is ${beta}`,
    );
  }
  if (sameBench && calibration === null) {
    throw new RangeError(
      "Cannot measure a distance with 'sameBench' as the tuning is not a calibration of this bench: give the result of calibrateTuning()",
    );
  }
  const {
    thermalTimeConstant = calibration?.thermalTimeConstant ?? null,
  } = options;
  const steps = isSteps(measured) ? measured : measureSteps(measured, {
    ...pickOptions(stepsSpec, options),
    thermalTimeConstant,
  });
  const warnings: Warning[] = [...steps.warnings];
  const lag = calibration?.thermalTimeConstant;
  const counted = steps.thermalTimeConstant.value;
  if (
    lag !== undefined && Math.abs(lag - counted) > 0.01 * Math.max(lag, counted)
  ) {
    warnings.push(warn(
      "lags-differ",
      `The calibration was counted with a thermal lag of ${
        (1e3 * lag).toPrecision(3)
      } ms and these steps with ${
        (1e3 * counted).toPrecision(3)
      } ms: count both with the same 'thermalTimeConstant'`,
    ));
  }
  if (calibration !== null && lag === undefined && counted > 0) {
    warnings.push(warn(
      "lag-unknown",
      `These steps were counted with a thermal lag of ${
        (1e3 * counted).toPrecision(3)
      } ms, and the calibration does not say with which: calibrate again, or give 'thermalTimeConstant' as it was counted with`,
    ));
  }
  const perCurrent = steps.stepsPerCurrent;
  // Steps are counted as of a wavelength that rises with the current. Where it
  // falls and one stroke runs against the other, the lean has given them the other
  // sign; where both run backward it has said nothing.
  const sense = beta < 0 && perCurrent.value < 0 ? -1 : 1;
  const zero = calibration?.zeroOffset.value ?? 0;

  const budget: DistanceContribution[] = [];
  const add = (
    source: string,
    contribution: number,
    degreesOfFreedom = Infinity,
  ) => {
    budget.push({
      source,
      contribution: Math.abs(contribution),
      degreesOfFreedom,
    });
  };
  let factor: number;
  if (sameBench && calibration !== null) {
    const slope = calibration.stepsPerCurrentAndDistance.value;
    factor = sense / slope;
    const [[va, cab], [, vb]] = calibration.lineCovariance as [
      [number, number],
      [number, number],
    ];
    const distance = zero + perCurrent.value * factor;
    add(
      "step count",
      perCurrent.standardUncertainty * factor,
      perCurrent.degreesOfFreedom,
    );
    add(
      "calibration line",
      Math.sqrt(va + 2 * distance * cab + distance ** 2 * vb) * factor,
      calibration.stepsPerCurrentAndDistance.degreesOfFreedom,
    );
    add(
      "scale of the reference distances",
      distance * calibration.common.distanceScale,
    );
    add("zero of the reference distances", calibration.common.distanceOffset);
  } else {
    factor = sense * lambda ** 2 / (2 * refractiveIndex * Math.abs(beta));
    const optical = perCurrent.value * factor;
    add(
      "step count",
      perCurrent.standardUncertainty * factor,
      perCurrent.degreesOfFreedom,
    );
    add(
      "tuning coefficient",
      optical * tuning.tuning.standardUncertainty / beta,
    );
    add(
      "wavelength",
      optical * 2 * tuning.wavelength.standardUncertainty / lambda,
    );
    add("ammeter scale", optical * currentScaleRelativeStandardUncertainty);
    if (calibration !== null) {
      add("zero offset", calibration.zeroOffset.standardUncertainty);
    }
  }
  const optical = perCurrent.value * factor;
  const value = zero + optical;
  for (const doubt of steps.currentDoubts) {
    // A curve or a corner that was given is off alike on the same bench.
    const cancels = sameBench && !doubt.found &&
      (calibration?.common.currentConversion ?? 0) > 0;
    if (cancels) continue;
    add(
      doubt.source,
      optical * doubt.relativeStandardUncertainty,
      doubt.degreesOfFreedom,
    );
  }
  const variance = budget.reduce(
    (sum, { contribution }) => sum + contribution ** 2,
    0,
  );
  // Welch–Satterthwaite, JCGM 100:2008, G.2b.
  const below = budget.reduce(
    (sum, { contribution, degreesOfFreedom }) =>
      sum + contribution ** 4 / degreesOfFreedom,
    0,
  );
  const nu = below > 0 ? variance ** 2 / below : Infinity;
  if (calibration !== null) {
    warnings.push(...rangeWarnings(calibration, steps, value));
  }

  const duration = steps.strokeDuration;
  const perStep = lambda / (2 * refractiveIndex);
  const criticalVelocity = sense * perStep * steps.steps.value / duration;
  let velocity: Quantity | null = null;
  const { stepsUp, stepsDown } = steps;
  if (stepsUp !== null && stepsDown !== null) {
    const speed = (beta < 0 && sense > 0 ? -1 : 1) * perStep *
      (stepsDown.value - stepsUp.value) / 2 / duration;
    velocity = quantity(
      speed,
      perStep / 2 / duration *
        Math.hypot(stepsUp.standardUncertainty, stepsDown.standardUncertainty),
      "m/s",
    );
    warnings.push(
      ...motionWarnings(
        velocity,
        criticalVelocity,
        steps.leanKnown,
        value - optical,
        optical,
        calibration,
      ),
    );
  } else {
    warnings.push(warn(
      "one-direction",
      "Strokes of one direction only were counted, so a motion of the target cannot be told from distance: use a triangle, and both of its flanks, if the target may move",
      "note",
    ));
  }
  return createResult({
    kind: "range.distance" as const,
    distance: withCoverage(value, Math.sqrt(variance), "m", nu),
    opticalDistance: withCoverage(optical, Math.sqrt(variance), "m", nu),
    velocity,
    criticalVelocity,
    steps: steps.steps,
    budget,
    warnings,
    provenance: provenance({
      method: "measureDistance",
      captures: steps.provenance.captures,
      options: {
        sameBench,
        currentScaleRelativeStandardUncertainty,
        refractiveIndex,
        tuning: beta,
        wavelength: lambda,
        zeroOffset: zero,
      },
      // With the same bench wavelength, air and scale cancel.
      inputs: sameBench ? [] : [
        statedInput("tuning", beta, "m/A", given.tuning),
        statedInput("wavelength", lambda, "m", given.wavelength),
        ...inputsOf(distanceSpec, options, { ...read, refractiveIndex }, [
          "refractiveIndex",
        ]),
        ...scaleInputs(steps, currentScaleRelativeStandardUncertainty),
      ],
      sources: [
        "Gouaux, Servagent & Bosch 1998 (from memory)",
        "Shinohara et al. 1992 (from memory)",
        "JCGM 100:2008, G.2b",
      ],
    }),
    diagnostics: { steps, tuning: beta, wavelength: lambda, sameBench },
  });
}

/** A stated value as an input: taken as exact where no uncertainty came along. */
function statedInput(
  name: string,
  value: number,
  unit: string,
  given: StatedValue,
): ResultInput {
  const uncertainty = typeof given === "object"
    ? Number(given.standardUncertainty ?? NaN)
    : NaN;
  return {
    name,
    label: labelOf(name),
    value,
    unit,
    standardUncertainty: uncertainty > 0 ? uncertainty : null,
    origin: "stated",
  };
}

function isSteps(measured: unknown): measured is RampSteps {
  return isResult(measured) && measured.kind === "range.steps";
}
