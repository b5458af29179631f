import type { Quantity, Result } from "../result/mod.ts";

/** Name of one of the ways to count steps. */
export type StepEstimator =
  | "model fit"
  | "waveform fit"
  | "phase slope"
  | "spectrum"
  | "step edges"
  | "by hand";

/** What one estimator found over all strokes. */
export interface EstimatorSteps {
  /** Which way of counting. */
  readonly name: StepEstimator;
  /** Steps per ramp (1); `NaN` where it does not apply. */
  readonly steps: Quantity;
}

/** A mode hop of the diode on the ramp. */
export interface ModeHop {
  /** The strokes that show it; hysteresis shifts it between the two. */
  readonly direction: "up" | "down";
  /** Current at which it happens, in A. */
  readonly current: Quantity;
  /** Jump of the phase, less whole turns, in rad. */
  readonly phase: number;
  /** Strokes of that direction that were counted with it. */
  readonly strokes: number;
}

/** One stroke as it was counted. */
export interface StrokeSteps {
  /** Number of the stroke in the capture, from 0. */
  readonly index: number;
  /** Whether the current rises or falls. */
  readonly direction: "up" | "down";
  /** First sample and sample after the last. */
  readonly start: number;
  /** Sample after the last. */
  readonly end: number;
  /** Steps per whole ramp (1). */
  readonly steps: number;
  /** Standard uncertainty from the noise of this stroke (1). */
  readonly standardUncertainty: number;
  /** Whether the stroke counts in the result. */
  readonly used: boolean;
  /** Why it does not count, or `null`. */
  readonly reason: string | null;
}

/** Something that makes the current of all strokes off. */
export interface CurrentDoubt {
  /** What it comes from, in plain words. */
  readonly source: string;
  /** Relative standard uncertainty of the steps per current by it (1). */
  readonly relativeStandardUncertainty: number;
  /** Degrees of freedom (1). */
  readonly degreesOfFreedom: number;
  /** Whether it was found from this capture, and is another in the next. */
  readonly found: boolean;
}

/** Curves of one stroke, for figures. */
export interface StrokeTrace {
  /** Whether the current rises or falls. */
  readonly direction: "up" | "down";
  /** Current of each sample, in A. */
  readonly current: Float64Array;
  /** Monitor signal, in its unit. */
  readonly signal: Float64Array;
  /** Fitted power ramp, in the unit of the signal. */
  readonly background: Float64Array;
  /** Fitted signal, in the unit of the signal; `NaN` where none was fitted. */
  readonly fitted: Float64Array;
  /** Currents of the step edges found, in A. */
  readonly edges: readonly number[];
}

/** Steps counted on the ramps of a capture. */
export interface RampSteps extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "range.steps";
  /** Steps per whole ramp, with fraction (1). */
  readonly steps: Quantity;
  /**
   * Steps per current, in 1/A; what makes the current itself off stands in
   * `currentDoubts`.
   */
  readonly stepsPerCurrent: Quantity;
  /**
   * What makes the current off that a drive voltage was converted to: curve,
   * corner. Empty for a current that was recorded; its scale is stated with the
   * distance.
   */
  readonly currentDoubts: readonly CurrentDoubt[];
  /** Steps per ramp of the rising strokes (1), or `null` without any. */
  readonly stepsUp: Quantity | null;
  /** Steps per ramp of the falling strokes (1), or `null` without any. */
  readonly stepsDown: Quantity | null;
  /** Upper minus lower turning current, in A. */
  readonly currentSpan: Quantity;
  /** Current in the middle of the ramp, in A. */
  readonly meanCurrent: number;
  /** Ramps per second, in Hz; `NaN` for a single stroke. */
  readonly modulationFrequency: number;
  /**
   * Time constant with which the wavelength follows the current, in s, against
   * which the steps were counted; 0 for none.
   */
  readonly thermalTimeConstant: Quantity;
  /** Duration of a stroke, in s. */
  readonly strokeDuration: number;
  /** Shape of the drive. */
  readonly shape: "triangle" | "sawtooth" | "sine" | "other";
  /**
   * Which way of counting the value comes from: the step edges where the signal
   * jumps (C above about 1) and they agree with the model, else the model fit,
   * or the waveform fit where the model does not describe the signal; the phase
   * slope where that was asked for; `"by hand"` where a person counted.
   */
  readonly adopted: StepEstimator;
  /** The ways of counting side by side; `NaN` for those that were not used. */
  readonly estimators: readonly EstimatorSteps[];
  /** Largest difference between two estimators (1); `NaN` with one alone. */
  readonly disagreement: number;
  /** Mean square of the fringes over that of the noise, in dB. */
  readonly signalToNoiseRatio: number;
  /** Feedback parameter C by the model fit (1); `NaN` where it has none. */
  readonly feedbackParameter: Quantity;
  /**
   * Whether the lean of the saw-teeth tells which way the phase runs, so that a
   * motion beyond the critical velocity is seen.
   */
  readonly leanKnown: boolean;
  /** Mode hops found; the steps are counted without the jumps of the phase. */
  readonly modeHops: readonly ModeHop[];
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Every stroke. */
    readonly strokes: readonly StrokeSteps[];
    /** Curves of the first stroke in each direction. */
    readonly traces: readonly StrokeTrace[];
    /**
     * What the fits leave, over the noise from sample to sample (1); `NaN` where
     * nothing was fitted.
     */
    readonly unexplained: number;
    /** SI unit of the monitor signal. */
    readonly signalUnit: string;
  };
}
