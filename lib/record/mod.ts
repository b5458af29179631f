/**
 * Calibration records: a JSON document with a published schema, never
 * overwritten, verified when it is read, with a certificate to print.
 *
 * @module
 */
export {
  calibrationCertificate,
  type CertificateOptions,
} from "./certificate.ts";
export {
  checkCalibrationRecord,
  type CheckRecordOptions,
  type RecordCheck,
} from "./check.ts";
export { recordFromCsv, recordToCsv } from "./csv.ts";
export { loadCalibrationRecord, saveCalibrationRecord } from "./file.ts";
export {
  type CalibrationRecord,
  calibrationRecordSchemaId,
  createCalibrationRecord,
  type RecordedCircumstances,
  type RecordedConditions,
  type RecordedInstrument,
  type RecordedQuantity,
  type RecordedRange,
} from "./record.ts";
export type { CalibrationRecordOptions } from "./record_options.ts";
export type { RecordedContribution } from "./record_budget.ts";
export {
  type CountedReading,
  readReferenceReadings,
  type ReferenceReading,
} from "./reference_readings.ts";
export { stepsOfReading } from "./steps_of_reading.ts";
export { RecordError } from "./record_error.ts";
export {
  createSigningKey,
  fingerprintOfKey,
  loadRecordSignature,
  type RecordSignature,
  signCalibrationRecord,
} from "./signature.ts";
export { traceabilityStatement } from "./traceability.ts";
export { tuningFromRecord, type TuningFromRecordOptions } from "./use.ts";
export { calibrationRecordSchema, verifyCalibrationRecord } from "./verify.ts";
export { findLatestCalibrationRecord } from "./latest.ts";
export { unstatedOf } from "./unstated.ts";
export {
  checkStability,
  type CheckStabilityOptions,
  type Stability,
  type StabilityPoint,
} from "./check_stability.ts";
export type { ChartRule, ChartSignal } from "./chart_rules.ts";
export {
  type ComparedRecord,
  compareRecords,
  type RecordComparison,
} from "./compare_records.ts";
