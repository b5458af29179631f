/**
 * Calibration records: a JSON document with a published schema, never
 * overwritten, verified when it is read, with a certificate to print.
 *
 * @module
 */
export { calibrationCertificate } from "./certificate.ts";
export { recordFromCsv, recordToCsv } from "./csv.ts";
export { loadCalibrationRecord, saveCalibrationRecord } from "./file.ts";
export {
  type CalibrationRecord,
  type CalibrationRecordOptions,
  calibrationRecordSchemaId,
  createCalibrationRecord,
  type RecordedConditions,
  type RecordedInstrument,
  type RecordedQuantity,
  type RecordedRange,
} from "./record.ts";
export {
  readReferenceReadings,
  type ReferenceReading,
} from "./reference_readings.ts";
export { RecordError } from "./record_error.ts";
export { traceabilityStatement } from "./traceability.ts";
export { tuningFromRecord, type TuningFromRecordOptions } from "./use.ts";
export { calibrationRecordSchema, verifyRecord } from "./verify.ts";
export { latestCalibrationRecord } from "./latest.ts";
