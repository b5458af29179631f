/**
 * A new capture: what kind of measurement it is, and why.
 *
 * @module
 */
export {
  type Evidence,
  type MeasurementKind,
  recogniseMeasurement,
  type RecogniseMeasurementOptions,
  type Recognition,
} from "./recognise_measurement.ts";
export { type DriveEvidence, gatherDriveEvidence } from "./drive_evidence.ts";
export type { Burst, BurstEvidence } from "./burst_evidence.ts";
export { type LevelEvidence } from "./level_evidence.ts";
export { type LineForm } from "./line_form.ts";
export { type PhaseLeaps } from "./phase_leaps.ts";
export { type SwingEvidence } from "./swing_evidence.ts";
export {
  type FringeEvidence,
  gatherFringeEvidence,
} from "./fringe_evidence.ts";
export {
  type CaptureMeasurements,
  measureCapture,
  type MeasureCaptureOptions,
} from "./measure_capture.ts";
export {
  type CaptureStreamMeasurements,
  measureCaptureStream,
  type MeasureCaptureStreamOptions,
} from "./measure_capture_stream.ts";
export type { LeaningSwing } from "./swing_evidence.ts";
export type { Swing } from "./find_swings.ts";
