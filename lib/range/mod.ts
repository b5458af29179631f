/**
 * Range: ramps of the drive current, steps on them, tuning of the diode, and
 * the distance of the target.
 *
 * @module
 */
export {
  findRamps,
  type FindRampsOptions,
  type Ramps,
  type StatedDrive,
  type Stroke,
} from "./ramps.ts";
export {
  type CurrentDoubt,
  type EstimatorSteps,
  measureSteps,
  type MeasureStepsOptions,
  type ModeHop,
  type RampSteps,
  type StepEstimator,
  type StrokeSteps,
  type StrokeTrace,
} from "./steps.ts";
export {
  type CalibrateTuningOptions,
  type ReferencePoint,
} from "./tuning_options.ts";
export {
  calibrateTuning,
  type TuningCalibration,
  type TuningModel,
  type TuningPoint,
} from "./tuning.ts";
export {
  type DistanceContribution,
  type DistanceMeasurement,
  measureDistance,
  type MeasureDistanceOptions,
  type StatedTuning,
} from "./distance.ts";
export { estimateThermalLag, type ThermalLag } from "./thermal_lag.ts";
export {
  fitTuningRollOff,
  type RollOffPoint,
  type TuningRollOff,
} from "./roll_off.ts";
export {
  type StepBound,
  stepBound,
  type StepBoundOptions,
  type StepNuisance,
} from "./step_bound.ts";
export {
  type ScreenStroke,
  stepsFromScreen,
  type StepsFromScreenOptions,
} from "./steps_from_screen.ts";
export { distancePerStep } from "./wavelength.ts";
export {
  measureStepsStream,
  type StepsStreamOptions,
  type StepsStreamState,
} from "./steps_stream.ts";
export type { StatedValue } from "./distance.ts";
export {
  fitTuningTemperature,
  tuningAtTemperature,
  type TuningAtTemperatureOptions,
  type TuningTemperature,
  type TuningTemperaturePoint,
} from "./tuning_temperature.ts";
export {
  findTargets,
  type FindTargetsOptions,
  type RampTarget,
  type RampTargets,
} from "./find_targets.ts";
