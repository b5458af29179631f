import schema from "./calibration_record.schema.json" with { type: "json" };
import { digestOf } from "./digest.ts";
import { RecordError } from "./record_error.ts";
import type { CalibrationRecord } from "./record.ts";

/** The JSON Schema (draft 2020-12) of a calibration record. */
export const calibrationRecordSchema: Readonly<Record<string, unknown>> =
  schema;

let validator: ReturnType<typeof makeValidator> | null = null;

/** Made when it is first needed, so that nobody waits who has no record to read. */
async function makeValidator() {
  const { Ajv2020 } = await import("ajv/dist/2020.js");
  return new Ajv2020({ allErrors: true, strict: false }).compile(schema);
}

/**
 * Verifies a document: JSON Schema, hash, and that its dates and ranges make
 * sense.
 *
 * @param document The parsed JSON.
 * @param name Name of the document, for messages.
 * @returns The record.
 * @throws {RecordError} If the document is not a record or was changed.
 *
 * @example
 * ```ts
 * import { verifyCalibrationRecord } from "fringebook/record";
 * import { expect } from "vitest";
 *
 * await expect(verifyCalibrationRecord({ tuning: 8e-9 }, "note.json")).rejects.toThrow(
 *   "not a calibration record",
 * );
 * ```
 */
export async function verifyCalibrationRecord(
  document: unknown,
  name: string,
): Promise<CalibrationRecord> {
  const validate = await (validator ??= makeValidator());
  if (!validate(document)) {
    const faults = (validate.errors ?? []).slice(0, 3).map((error) =>
      `${error.instancePath || "the document"} ${error.message}`
    );
    throw new RecordError(
      "schema",
      `Cannot use '${name}' as it is not a calibration record: ${
        faults.join("; ")
      }`,
    );
  }
  const record = document as unknown as CalibrationRecord;
  const digest = await digestOf(record);
  if (digest !== record.integrity.digest) {
    throw new RecordError(
      "hash",
      `Cannot use '${name}' as its content does not match its hash: it was changed after it was made. Take the original, or calibrate again`,
    );
  }
  const { current, distance } = record.validRange;
  if (
    !(current.high > current.low) || !(distance.high > distance.low) ||
    !(Date.parse(record.validUntil) > Date.parse(record.calibratedAt))
  ) {
    throw new RecordError(
      "range",
      `Cannot use '${name}' as its valid range or its dates are empty: calibrate again`,
    );
  }
  return record;
}
