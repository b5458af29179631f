import {
  type Capture,
  type CaptureCheck,
  checkCapture,
} from "../capture/mod.ts";
import { checkDiode } from "../bench/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import { measureMotion } from "../motion/mod.ts";
import {
  benchOptions,
  choiceOption,
  groupOption,
  handedOption,
  type Option,
  optional,
  readOptions,
  requireCapture,
  statedDriveOptions,
} from "../options/mod.ts";
import { keepFinished } from "../progress/mod.ts";
import {
  measureDistance,
  type MeasureDistanceOptions,
  measureSteps,
  type MeasureStepsOptions,
  type StatedDrive,
} from "../range/mod.ts";
import {
  createResult,
  inDigits,
  type Result,
  type Shown,
  warn,
} from "../result/mod.ts";
import {
  contradictionsOfMotion,
  contradictionsOfSteps,
} from "./contradictions.ts";
import { formOfMotion } from "./form_of_motion.ts";
import { checkForLevel, levelOfCapture } from "./level_of_capture.ts";
import { type Analysis, revoked, settled } from "./settled.ts";
import { speedOfCapture, speedOfMotion } from "./speed_of_capture.ts";
import {
  airOptions,
  angleOptions,
  driveOptions,
  lightOptions,
} from "./given_options.ts";
import {
  type Evidence,
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
  /**
   * Phase index of the air (1).
   *
   * @default {that of the measurement}
   */
  refractiveIndex?: number | string;
  /**
   * Current per voltage of a `"drive voltage"` channel, in A/V, for a distance.
   *
   * @default {null}
   */
  currentPerVoltage?: number | string | null;
  /**
   * Current at a drive voltage of 0, in A, for a distance.
   *
   * @default {0}
   */
  currentOffset?: number | string;
  /**
   * The drive waveform, where only the monitor was captured, for a distance.
   *
   * @default {null}
   */
  drive?: StatedDrive | null;
}

export const measureCaptureSpec = {
  wavelength: benchOptions.wavelength,
  wavelengthStandardUncertainty: benchOptions.wavelengthStandardUncertainty,
  measurement: optional(
    choiceOption("What the capture is a measurement of.", [
      "distance",
      "motion",
      "speed",
      "level",
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
  refractiveIndex: optional(
    benchOptions.refractiveIndex,
    undefined,
    "that of the measurement",
  ),
  currentPerVoltage: benchOptions.currentPerVoltage,
  currentOffset: benchOptions.currentOffset,
  drive: optional(
    groupOption(
      "The drive waveform, where only the monitor was captured.",
      statedDriveOptions,
    ),
    null,
    "the drive channel",
  ),
} satisfies Record<keyof MeasureCaptureOptions, Option>;

/** Everything that was found in a capture. */
export interface CaptureMeasurements {
  /** Quality of the capture. */
  readonly check: CaptureCheck & Shown;
  /** What it seems to be, and why; after the fit has been held against it. */
  readonly recognition: Recognition & Shown;
  /** The results, the main one first; empty where nothing can be measured. */
  readonly results: readonly (Result & Shown)[];
  /**
   * Results that the capture contradicts, as the recognition says: to look at, not
   * to quote.
   */
  readonly setAside: readonly (Result & Shown)[];
}

/**
 * Checks a capture, recognises what kind of measurement it is, and does the
 * first analysis of that kind. The same steps as by hand: `checkCapture`,
 * `recogniseMeasurement`, then for a motion `countFringes`,
 * `measureDisplacement` and `measureVibration` or `measureRingDown`, for a ramp
 * `measureSteps` and `measureDistance`, for a speed `measureSpeed`, or
 * `trackSpeed` where the surface turns round or stands still; both where the speed
 * changes; for a level `measureLevel`, for which an amplifier of 100 kΩ is assumed.
 * A motion of more than a hundred fringes each way has its speed too.
 *
 * What the fit found is held against what was seen before it: the number of
 * fringes, the Doppler line, what is left over. Where they contradict each other,
 * the recognition is `"none"` and says why, and there is no result. Where
 * `measurement` was given, the results stay and carry the doubt
 * `"contradiction"`.
 *
 * @param capture The capture.
 * @param options Wavelength in m, tuning where known.
 * @returns Check, recognition and results.
 * @throws {NotMeasurableError} If the capture does not hold what the given
 * `measurement` needs.
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
  const { mainsFrequency } = readOptions(measureCaptureSpec, options, task);
  // Who states the drive of the diode says that it is ramped.
  const measurement = options.measurement ??
    (options.drive ? "distance" : null);
  const check = checkCapture(capture);
  const recognition = keepFinished(
    { check },
    () => recogniseMeasurement(capture, { mainsFrequency }),
  );
  const kind = measurement ?? recognition.measurement;
  const found = keepFinished(
    { check, recognition },
    () => analysed(kind, capture, options, recognition, measurement),
  );
  if (found instanceof NotMeasurableError) {
    return {
      check,
      recognition: revoked(recognition, [found.message]),
      results: [],
      setAside: [],
    };
  }
  return {
    check: kind === "level" ? checkForLevel(check) : check,
    ...settled(recognition, found, measurement !== null),
  };
}

/** The analysis; where nobody said what it is, what cannot be measured is told. */
function analysed(
  kind: MeasurementKind,
  capture: Capture,
  options: MeasureCaptureOptions,
  recognition: Recognition,
  stated: MeasurementKind | null,
): Analysis | NotMeasurableError {
  try {
    return analyses[kind](capture, options, recognition.diagnostics);
  } catch (error) {
    if (stated === null && error instanceof NotMeasurableError) return error;
    throw error;
  }
}

const analyses: Record<
  MeasurementKind,
  (
    capture: Capture,
    options: MeasureCaptureOptions,
    evidence: Evidence,
  ) => Analysis
> = {
  distance: (capture, given) => {
    const { tuning = null, estimator = "model fit" } = given;
    const steps = measureSteps(capture, { estimator, ...driveOptions(given) });
    return {
      results: tuning === null
        ? [steps]
        : [measureDistance(steps, { tuning, ...airOptions(given) }), steps],
      contradictions: contradictionsOfSteps(steps),
    };
  },
  motion: (capture, given, evidence) => {
    const { couplingCorner = null } = given;
    const { fringes, displacement } = measureMotion(capture, {
      ...lightOptions(given),
      couplingCorner,
    });
    const contradictions = contradictionsOfMotion(
      evidence,
      displacement,
      fringes,
    );
    // The form of a motion that is doubted says nothing, and takes long to find.
    const { form, reason, release, contradicts } = contradictions.length === 0
      ? keepFinished(
        { results: [displacement, fringes] },
        () => formOfMotion(displacement),
      )
      : { form: null, reason: null, release: null, contradicts: false };
    if (contradicts) {
      contradictions.push(
        "the swings die away, while no decaying oscillation describes the displacement that the fit found",
      );
    }
    const isLoose = displacement.warnings.some(({ code }) =>
      code === "loose-fit"
    );
    if (reason !== null && isLoose && contradictions.length === 0) {
      contradictions.push(
        "the motion that fits changes within a fringe, and no vibration or ring-down describes it, so that nothing vouches for it",
      );
    }
    const more = [
      ...(reason === null ? [] : [warn("no-form", reason, "note")]),
      ...(release === null ? [] : [warn(
        "release-after-rest",
        `The target rests until ${
          inDigits(release, 3)
        } s: in a rest the fringes tell less of the place, and at the release the fit swings over, so that peak-to-peak value and net displacement of the record may be off by more than their uncertainty. Take the amplitude of the ring-down, or cut the rest off`,
      )]),
    ];
    const told = more.length === 0 ? displacement : createResult({
      ...displacement,
      warnings: [...displacement.warnings, ...more],
    });
    const track = keepFinished(
      { results: contradictions.length > 0 ? [] : [told, fringes] },
      () =>
        speedOfMotion(
          capture,
          { ...lightOptions(given), ...angleOptions(given) },
          evidence,
        ),
    );
    // So many fringes each way tell the speed where the place is not to be read.
    if (contradictions.length > 0) {
      if (track !== null && (given.measurement ?? null) === null) {
        return { results: [track], contradictions: [] };
      }
      return { results: [told, fringes], contradictions };
    }
    return {
      results: [form, told, fringes, track].filter((one) => one !== null),
      contradictions,
    };
  },
  speed: (capture, options, evidence) =>
    speedOfCapture(
      capture,
      { ...lightOptions(options), ...angleOptions(options) },
      evidence,
    ),
  level: levelOfCapture,
  "light-current curve": (capture, { wavelength }) => ({
    results: [checkDiode(capture, { wavelength })],
    contradictions: [],
  }),
  none: () => ({ results: [], contradictions: [] }),
};
