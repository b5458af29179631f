/**
 * Before the measurement: diode, amplifier, plan, link to the target, safety.
 *
 * @module
 */
export {
  type AmplifierDynamics,
  amplifierDynamics,
  amplifierModel,
  defaultAmplifier,
  feedbackCapacitanceFor,
  type TransimpedanceAmplifier,
} from "./front_end/amplifier.ts";
export {
  type OutputNoise,
  shotNoiseDensity,
  thermalNoiseDensity,
} from "./front_end/noise.ts";
export {
  type AmplifierResponse,
  amplifierResponse,
  applyAmplifier,
  undoAmplifier,
  type UndoAmplifierOptions,
} from "./front_end/response.ts";
export {
  checkFrontEnd,
  type CheckFrontEndOptions,
  type FrontEndCheck,
  type PartTolerances,
} from "./front_end/check_front_end.ts";
export {
  estimateLaserSafety,
  type LaserClass,
  type LaserSafetyEstimate,
  type LaserSafetyOptions,
  safetyStatement,
} from "./safety/laser_safety.ts";
export type { BeamConvention } from "./safety/beam.ts";
export {
  type ClassLimits,
  classLimits,
  exposureLimit,
} from "./safety/limits.ts";
export {
  estimateLink,
  type EstimateLinkOptions,
  type LinkEstimate,
  type SurfaceLink,
} from "./link/estimate_link.ts";
export type { LinkBeam } from "./link/returned_light.ts";
export { type Surface, surfaces } from "./link/surfaces.ts";
export {
  type MeasurementPlan,
  type PlanFigures,
  planMeasurement,
  type PlanOptions,
  type PlanRow,
} from "./plan/plan_measurement.ts";
export type { PlanVerdict } from "./plan/judge.ts";
export {
  type ElectricalCautions,
  electricalCautions,
  type ElectricalCautionsOptions,
} from "./cautions.ts";
export {
  type LightCurrentSweep,
  sweepFromCapture,
  type SweepFromCaptureOptions,
} from "./diode/sweep.ts";
export {
  checkDiode,
  type CheckDiodeOptions,
  type DiodeCheck,
  type OperatingPoint,
} from "./diode/check_diode.ts";
export type { CurrentBand, Kink } from "./diode/kinks.ts";
export type { DiodeState } from "./diode/recognise_diode.ts";
export {
  type CharacteristicTemperature,
  type CharacteristicTemperatureOptions,
  fitCharacteristicTemperature,
  type ThresholdAtTemperature,
} from "./diode/characteristic_temperature.ts";
export {
  convertDrive,
  type ConvertDriveOptions,
  type ConvertedDrive,
} from "./drive/convert_drive.ts";
export type { CurrentAtVoltage } from "./drive/current_curve.ts";
export {
  estimateJunctionSignal,
  type EstimateJunctionSignalOptions,
  type JunctionSignal,
} from "./junction/estimate_junction.ts";
