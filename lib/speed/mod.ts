/**
 * Speed: the Doppler line of a moving surface, from one line in a spectrum to a
 * tachometer.
 *
 * @module
 */
export {
  dopplerFrequency,
  type DopplerGeometry,
  speedFromDoppler,
} from "./doppler.ts";
export {
  measureSpeed,
  type MeasureSpeedOptions,
  type SpeedMeasurement,
} from "./measure_speed.ts";
export {
  type ScreenSpeed,
  speedFromScreen,
  type SpeedFromScreenOptions,
} from "./speed_from_screen.ts";
export type { Direction } from "./direction.ts";
export type { DirectionChannel } from "./drive_direction.ts";
export type { LineShape } from "./line_shape.ts";
export type { LineRole, SpectrumLine } from "./classify_lines.ts";
export type { SpeedInputs } from "./speed_budget.ts";
export {
  planSpeed,
  type PlanSpeedOptions,
  type SpeedPlan,
} from "./plan_speed.ts";
export {
  type SpeedTrack,
  type TrackModulation,
  type TrackSpan,
  trackSpeed,
  type TrackSpeedOptions,
  type TrackStandstill,
} from "./track_speed.ts";
export {
  type SpeedTrackStreamOptions,
  type SpeedTrackStreamState,
  trackSpeedStream,
} from "./track_stream.ts";
export {
  measureRotation,
  type MeasureRotationOptions,
  type RotationMeasurement,
} from "./measure_rotation.ts";
export type { TurnModulation } from "./turn_modulation.ts";
export {
  calibrateSpeed,
  type CalibrateSpeedOptions,
  type SpeedCalibration,
  type SpeedCalibrationPoint,
  speedFromCalibration,
} from "./calibrate_speed.ts";
export {
  type BackgroundSubtraction,
  subtractBackground,
} from "./subtract_background.ts";
export {
  measureSpeedStream,
  type SpeedStreamOptions,
  type SpeedStreamState,
} from "./speed_stream.ts";
