import type { Capture } from "../capture/mod.ts";
import {
  benchOptions,
  handedOption,
  modelOption,
  type Option,
  optional,
  optionOf,
  type ReadOptions,
} from "../options/mod.ts";
import type { Course } from "./course.ts";
import type { DigitiserModel } from "./digitiser_model.ts";
import { defaultDiode, type DiodeModel } from "./diode_model.ts";
import { defaultFrontEnd, type FrontEndModel } from "./front_end_model.ts";
import { defaultNoise, type NoiseModel } from "./noise_model.ts";
import type { RandomStream } from "../signal/mod.ts";
import type { SpeckleModel } from "./speckle.ts";

/** The recorded drive channel of a simulated capture. */
export interface DriveChannelModel {
  /** What is recorded. @default {"drive current"} */
  role: "drive current" | "drive voltage";
  /**
   * For a drive voltage: current per voltage, in A/V (the sense resistor's
   * 1/R, or the driver's modulation input).
   *
   * @default {1}
   */
  conversion: number;
  /** White noise of the channel, in its unit (rms). @default {0} */
  noise: number;
  /** Its converter; `null` for none. @default {null} */
  digitiser: DigitiserModel | null;
}

/** Options of {@linkcode simulateCapture}. */
export interface SimulateCaptureOptions {
  /**
   * One-way distance from diode to target, in m: constant, a function of time
   * in s, or one value per sample.
   */
  distance: Course;
  /** Samples per second of the capture, in Hz. */
  samplingRate: number | string;
  /**
   * Length of the capture, in s; taken from the samples of `distance` or
   * `current` where these are arrays.
   *
   * @default {the samples given}
   */
  duration?: number | string;
  /**
   * Drive current, in A, in the same forms.
   *
   * @default {0.04}
   */
  current?: Course;
  /** Feedback parameter C (1). @default {0.5} */
  feedbackParameter?: number;
  /**
   * Distance at which `feedbackParameter` holds, in m; C is proportional to the
   * distance then. `null` for the same C everywhere.
   *
   * @default {null}
   */
  feedbackDistance?: number | string | null;
  /** Modulation index m of the power, P = P0 (1 + m cos φF). @default {0.01} */
  modulationIndex?: number;
  /** Phase index of air (1). @default {1.00027, the air of a room} */
  refractiveIndex?: number | string;
  /** The diode, where it differs from the invented red one. @default {{}} */
  diode?: Partial<DiodeModel>;
  /** Fading of the returning light; `null` for a mirror. @default {null} */
  speckle?: SpeckleModel | null;
  /** The amplifier. @default {{}} */
  frontEnd?: Partial<FrontEndModel>;
  /** The noise. @default {{}} */
  noise?: Partial<NoiseModel>;
  /** The monitor channel's converter; `null` for none. @default {null} */
  digitiser?: DigitiserModel | null;
  /** The drive channel; `null` to record none. @default {{}} */
  drive?: Partial<DriveChannelModel> | null;
  /**
   * Steps computed per sample (1): the analogue side runs so much faster than
   * the converter.
   *
   * @default {1}
   */
  oversampling?: number;
  /**
   * Seed of all that is random, or the stream that it comes from.
   *
   * @default {1}
   */
  seed?: number | RandomStream;
}

const course = (doc: string) =>
  handedOption<Course>(
    doc,
    "a number, a function of the time in s, or a Float64Array with one number per sample",
    (value) =>
      typeof value === "number" || typeof value === "function" ||
      value instanceof Float64Array,
  );

const isObject = (value: unknown) =>
  typeof value === "object" && value !== null;

/** The options of the simulator. */
export const simulateSpec = {
  distance: course("One-way distance from diode to target, in m."),
  samplingRate: benchOptions.samplingRate,
  duration: optional(
    optionOf.time("Length of the capture, in s.", "0.2s"),
    undefined,
    "that of the samples given",
  ),
  current: optional(course("Drive current, in A."), 0.04),
  feedbackParameter: optional(benchOptions.feedbackParameter, 0.5),
  feedbackDistance: optional(
    optionOf.length("Distance at which C holds, in m.", "0.2m"),
    null,
    "the same C everywhere",
  ),
  modulationIndex: optional(
    optionOf.notNegative("Modulation index m of the power (1)."),
    0.01,
  ),
  refractiveIndex: benchOptions.refractiveIndex,
  diode: optional(
    modelOption(
      "The diode, where it differs from the invented one.",
      defaultDiode,
    ),
    {} as Partial<DiodeModel>,
  ),
  speckle: optional(
    handedOption<SpeckleModel>(
      "Fading of the returning light.",
      "{ contrast, correlationLength }",
      isObject,
    ),
    null,
    "a mirror",
  ),
  frontEnd: optional(
    modelOption("The amplifier.", defaultFrontEnd),
    {} as Partial<FrontEndModel>,
  ),
  noise: optional(
    modelOption("The noise.", defaultNoise),
    {} as Partial<NoiseModel>,
  ),
  digitiser: optional(
    handedOption<DigitiserModel>(
      "The monitor channel's converter.",
      "{ bits, low, high }",
      isObject,
    ),
    null,
  ),
  drive: optional(
    optional(
      modelOption<DriveChannelModel>("The drive channel; `null` for none.", {
        role: "drive current",
        conversion: 1,
        noise: 0,
        digitiser: null,
      }),
      null,
    ),
    {} as Partial<DriveChannelModel>,
  ),
  oversampling: optional(
    optionOf.whole("Steps computed per sample (1).", { least: 1 }),
    1,
  ),
  seed: optional(
    handedOption<number | RandomStream>(
      "Seed of all that is random, or the stream that it comes from.",
      "a whole number, or what createRandom(…) made",
      (value) => typeof value === "number" || isObject(value),
    ),
    1,
  ),
} satisfies Record<keyof SimulateCaptureOptions, Option>;

/** The options of the simulator as read. */
export type ReadSimulateOptions = ReadOptions<typeof simulateSpec>;

/** What the simulator knows and the capture does not say. */
export interface SimulationTruth {
  /** Distance of each sample, in m. */
  readonly distance: Float64Array;
  /** Drive current of each sample, in A. */
  readonly current: Float64Array;
  /** Vacuum wavelength without feedback of each sample, in m. */
  readonly wavelength: Float64Array;
  /** φ0 = 4πnL/λ of each sample, with the speckle's phase, in rad. */
  readonly phase: Float64Array;
  /** φF of each sample, in rad. */
  readonly feedbackPhase: Float64Array;
  /** C of each sample (1). */
  readonly feedbackParameter: Float64Array;
  /** Samples that come after a jump of φF. */
  readonly jumpIndices: Int32Array;
  /** Branches jumped there (1): positive where φ0 rises. */
  readonly jumpBranches: Int32Array;
  /** White noise of the monitor channel, in V (rms). */
  readonly noise: number;
}

/** A capture made by {@linkcode simulateCapture}. */
export interface SimulatedCapture extends Capture {
  /** What the simulator knows. */
  readonly truth: SimulationTruth;
}
