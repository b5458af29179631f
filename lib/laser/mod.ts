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
