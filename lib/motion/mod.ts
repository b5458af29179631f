/**
 * Motion of the target: fringes with sign and time, feedback, displacement,
 * vibration and ring-down.
 *
 * @module
 */
export { measureMotion, type MotionMeasurement } from "./measure_motion.ts";
export {
  countFringes,
  type CountFringesOptions,
  type FringeCount,
} from "./count_fringes.ts";
export {
  type Conditioning,
  type ConditioningOptions,
  conditionSignal,
} from "./conditioning.ts";
export {
  type Displacement,
  type DisplacementOptions,
  measureDisplacement,
} from "./measure_displacement.ts";
export type { MotionOptions } from "./motion_options.ts";
export type { FringeForm, SampleTrace, TrackStretch } from "./motion_track.ts";
export {
  type DisplacementBound,
  displacementBound,
  type DisplacementBoundOptions,
} from "./displacement_bound.ts";
export {
  estimateFeedback,
  type FeedbackEstimate,
  type FeedbackEstimateOptions,
} from "./estimate_feedback.ts";
export type { TimingEstimate } from "./feedback_timing.ts";
export {
  type DisplacementSpectrum,
  measureDisplacementSpectrum,
  type MeasureDisplacementSpectrumOptions,
} from "./displacement_spectrum.ts";
export {
  measureResponse,
  type Response as MotionResponse,
  type ResponseOptions,
} from "./measure_response.ts";
export {
  measureRingDown,
  type RingDown,
  type RingDownDecay,
  type RingDownMode,
  type RingDownOptions,
} from "./measure_ring_down.ts";
export {
  type Harmonic,
  measureVibration,
  type Vibration,
  type VibrationOptions,
} from "./measure_vibration.ts";
export {
  motionFromScreen,
  type MotionFromScreenOptions,
  type ScreenMotion,
} from "./motion_from_screen.ts";
export {
  measureWaveform,
  type Ringing,
  type Waveform,
  type WaveformHarmonic,
  type WaveformOptions,
} from "./measure_waveform.ts";
export {
  createDisplacementTracker,
  type DisplacementBlock,
  type DisplacementTracker,
  type DisplacementTrackerOptions,
} from "./displacement_tracker.ts";
export {
  type PitfallOptions,
  type Pitfalls,
  showPitfalls,
} from "./show_pitfalls.ts";
export {
  type LongMotion,
  measureMotionStream,
  type MotionStreamOptions,
} from "./measure_motion_stream.ts";
export type { MotionStreamState } from "./motion_stream.ts";
export { findLeaps, type Leaps } from "./leaps.ts";
export type { OfCapture } from "./displacement_argument.ts";
