/**
 * The laser diode with light coming back: excess-phase equation at any feedback,
 * jumps and hysteresis, and the simulated bench that makes captures.
 *
 * @module
 */
export {
  excessPhase,
  type FeedbackOptions,
  feedbackPhaseRoots,
  type FeedbackRoot,
} from "./excess_phase.ts";
export {
  feedbackPhase,
  type FeedbackPhaseOptions,
  type FeedbackPhaseTrace,
  type FeedbackState,
} from "./feedback_phase.ts";
export {
  expectedJumps,
  type FeedbackRegime,
  feedbackRegime,
  feedbackThresholds,
  hysteresisWidth,
  type JumpPhases,
  jumpPhases,
} from "./jumps.ts";
export { type FringeTiming, fringeTiming } from "./fringe_timing.ts";
export type { Course } from "./course.ts";
export { simulateCapture } from "./simulate_capture.ts";
export type {
  DriveChannelModel,
  SimulateCaptureOptions,
  SimulatedCapture,
  SimulationTruth,
} from "./simulation.ts";
export {
  defaultDiode,
  type DiodeModel,
  modelPower,
  modelWavelengths,
} from "./diode_model.ts";
export { defaultFrontEnd, type FrontEndModel } from "./front_end_model.ts";
export { defaultNoise, type NoiseModel } from "./noise_model.ts";
export type { DigitiserModel } from "./digitiser_model.ts";
export { speckleField, type SpeckleModel } from "./speckle.ts";
export { rampCurrent, type RampCurrentOptions } from "./ramp.ts";
export type { SpeckleField } from "./speckle.ts";
