import type { Capture } from "../capture/mod.ts";
import type { Course } from "./course.ts";
import type { DigitiserModel } from "./digitiser_model.ts";
import type { DiodeModel } from "./diode_model.ts";
import type { FrontEndModel } from "./front_end_model.ts";
import type { NoiseModel } from "./noise_model.ts";
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
  samplingRate: number;
  /**
   * Length of the capture, in s; taken from the samples of `distance` or
   * `current` where these are arrays.
   *
   * @default {the samples given}
   */
  duration?: number;
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
  feedbackDistance?: number | null;
  /** Modulation index m of the power, P = P0 (1 + m cos φF). @default {0.01} */
  modulationIndex?: number;
  /** Phase index of air (1). @default {1.00027, the air of a room} */
  refractiveIndex?: number;
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
