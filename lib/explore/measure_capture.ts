import {
  type Capture,
  type CaptureCheck,
  checkCapture,
} from "../capture/mod.ts";
import { checkDiode } from "../bench/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import {
  countFringes,
  type Displacement,
  measureDisplacement,
  measureRingDown,
  measureVibration,
} from "../motion/mod.ts";
import {
  benchOptions,
  choiceOption,
  handedOption,
  type Option,
  optional,
  readOptions,
  requireCapture,
} from "../options/mod.ts";
import {
  measureDistance,
  type MeasureDistanceOptions,
  measureSteps,
  type MeasureStepsOptions,
} from "../range/mod.ts";
import { createResult, type Result, type Shown, warn } from "../result/mod.ts";
import { detrend } from "../signal/mod.ts";
import { measureSpeed } from "../speed/mod.ts";
import {
  type MeasurementKind,
  recogniseMeasurement,
  type Recognition,
} from "./recognise_measurement.ts";

/** Options of {@linkcode measureCapture}. */
export interface MeasureCaptureOptions {
  /** Vacuum wavelength of the diode, in m. */
  wavelength: number | string;
  /**
   * Standard uncertainty of the wavelength, in m.
   *
   * @default {0}
   */
  wavelengthStandardUncertainty?: number | string;
  /**
   * What the capture is a measurement of; recognised from the capture where left
   * out.
   *
   * @default {null}
   */
  measurement?: MeasurementKind | null;
  /**
   * Tuning of the diode, for a distance; without it the steps are counted.
   *
   * @default {null}
   */
  tuning?: MeasureDistanceOptions["tuning"] | null;
  /**
   * How the steps of a ramp are counted; see `measureSteps`.
   *
   * @default {"model fit"}
   */
  estimator?: NonNullable<MeasureStepsOptions["estimator"]>;
  /**
   * Angle between beam and velocity, in rad, for a speed; the speed along the
   * beam where left out.
   *
   * @default {null}
   */
  angle?: number | string | null;
  /**
   * Standard uncertainty of the angle, in rad.
   *
   * @default {0}
   */
  angleStandardUncertainty?: number | string;
  /**
   * Corner of the coupling capacitor in front of the recorder, in Hz, for a
   * motion; `null` for a recording that is coupled with DC.
   *
   * @default {null}
   */
  couplingCorner?: number | string | null;
  /**
   * Mains frequency, in Hz.
   *
   * @default {50}
   */
  mainsFrequency?: number | string;
}

export const measureCaptureSpec = {
  wavelength: benchOptions.wavelength,
  wavelengthStandardUncertainty: benchOptions.wavelengthStandardUncertainty,
  measurement: optional(
    choiceOption("What the capture is a measurement of.", [
      "distance",
      "motion",
      "speed",
      "light-current curve",
      "none",
    ]),
    null,
    "recognised from the capture",
  ),
  tuning: optional(
    handedOption<NonNullable<MeasureCaptureOptions["tuning"]>>(
      "Tuning of the diode, for a distance; without it the steps are counted.",
      'the result of calibrateTuning(…), or { tuning: "8.3pm/mA", wavelength: "650nm" }',
      (value) =>
        typeof value === "object" && value !== null && "tuning" in value &&
        "wavelength" in value,
    ),
    null,
  ),
  estimator: optional(
    choiceOption("How the steps of a ramp are counted.", [
      "model fit",
      "phase slope",
    ]),
    "model fit",
  ),
  angle: optional(benchOptions.angle, null, "the speed along the beam"),
  angleStandardUncertainty: benchOptions.angleStandardUncertainty,
  couplingCorner: benchOptions.couplingCorner,
  mainsFrequency: optional(benchOptions.mainsFrequency, 50),
} satisfies Record<keyof MeasureCaptureOptions, Option>;

/** Everything that was found in a capture. */
export interface CaptureMeasurements {
  /** Quality of the capture. */
  readonly check: CaptureCheck & Shown;
  /** What it seems to be, and why. */
  readonly recognition: Recognition & Shown;
  /** The results, the main one first; empty where nothing can be measured. */
  readonly results: readonly (Result & Shown)[];
}

/**
 * Checks a capture, recognises what kind of measurement it is, and does the
 * first analysis of that kind. The same steps as by hand: `checkCapture`,
 * `recogniseMeasurement`, then for a motion `countFringes`,
 * `measureDisplacement` and `measureVibration` or `measureRingDown`, for a ramp
 * `measureSteps` and `measureDistance`, for a speed `measureSpeed`.
 *
 * @param capture The capture.
 * @param options Wavelength in m, tuning where known.
 * @returns Check, recognition and results.
 * @throws {NotMeasurableError} If the capture does not hold what the measurement
 * needs.
 *
 * @example
 * ```ts
 * import { measureCapture, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 2e-6 * Math.sin(2 * Math.PI * 20 * time),
 *   samplingRate: 50_000,
 *   duration: 0.2,
 *   drive: null,
 * });
 * const { results } = measureCapture(capture, { wavelength: 650e-9 });
 * expect(results.map(({ kind }) => kind)).toEqual([
 *   "motion.vibration",
 *   "motion.displacement",
 *   "motion.fringes",
 * ]);
 * ```
 */
export function measureCapture(
  capture: Capture,
  options: MeasureCaptureOptions,
): CaptureMeasurements {
  const task = "measure a capture";
  requireCapture(capture, task);
  const { measurement, mainsFrequency } = readOptions(
    measureCaptureSpec,
    options,
    task,
  );
  const check = checkCapture(capture);
  const recognition = recogniseMeasurement(capture, { mainsFrequency });
  const kind = measurement ?? recognition.measurement;
  return { check, recognition, results: analyses[kind](capture, options) };
}

const analyses: Record<
  MeasurementKind,
  (capture: Capture, options: MeasureCaptureOptions) => (Result & Shown)[]
> = {
  distance: (capture, { tuning = null, estimator = "model fit" }) => {
    const steps = measureSteps(capture, { estimator });
    return tuning === null
      ? [steps]
      : [measureDistance(steps, { tuning }), steps];
  },
  motion: (capture, given) => {
    const {
      wavelength,
      wavelengthStandardUncertainty = 0,
      couplingCorner = null,
    } = given;
    const options = {
      wavelength,
      wavelengthStandardUncertainty,
      couplingCorner,
    };
    const fringes = countFringes(capture, options);
    const displacement = measureDisplacement(capture, options);
    const { form, reason } = formOfMotion(displacement);
    const told = reason === null ? displacement : createResult({
      ...displacement,
      warnings: [
        ...displacement.warnings,
        warn("no-form", reason, "note"),
      ],
    });
    return [...form, told, fringes];
  },
  speed: (capture, options) => [
    measureSpeed(capture, {
      wavelength: options.wavelength,
      wavelengthStandardUncertainty: options.wavelengthStandardUncertainty ?? 0,
      ...(options.angle === undefined || options.angle === null
        ? {}
        : { angle: options.angle }),
      angleStandardUncertainty: options.angleStandardUncertainty ?? 0,
    }),
  ],
  "light-current curve": (capture, { wavelength }) => [
    checkDiode(capture, { wavelength }),
  ],
  none: () => [],
};

/**
 * The motion as a vibration or, where its swings die away to less than half from
 * the first quarter to the last, as a ring-down; nothing where it is neither (a
 * steady motion, or less than a period) or the fit is refused, with the reason.
 */
function formOfMotion(
  displacement: Displacement,
): { form: (Result & Shown)[]; reason: string | null } {
  const quarter = displacement.displacement.length >> 2;
  const swing = (from: number) => spread(displacement, from, from + quarter);
  const dies = swing(3 * quarter) < 0.5 * swing(0);
  try {
    const form = dies
      ? measureRingDown(displacement)
      : measureVibration(displacement);
    return { form: [form], reason: null };
  } catch (error) {
    if (error instanceof NotMeasurableError) {
      return { form: [], reason: error.message };
    }
    throw error;
  }
}

/** Standard deviation of the displacement without its drift, in m. */
function spread(
  { displacement }: Displacement,
  from: number,
  to: number,
): number {
  const part = displacement.subarray(from, to).filter(Number.isFinite);
  const level = detrend(part, "linear");
  return Math.sqrt(
    level.reduce((sum, value) => sum + value ** 2, 0) / level.length,
  );
}
