import type { Schema } from "@cfworker/json-schema";
import schema from "./calibration_record.schema.json" with { type: "json" };
import { digestOf } from "./digest.ts";
import { RecordError } from "./record_error.ts";
import type { CalibrationRecord } from "./record.ts";

/** The JSON Schema (draft 2020-12) of a calibration record. */
export const calibrationRecordSchema: Readonly<Record<string, unknown>> =
  schema;

/** Faults that only say that there is one further in. */
const outer =
  /^(properties|additionalProperties|items|prefixItems|\$ref|anyOf|if)$/;

/** What is wrong with a document by the schema, in words; none where all is right. */
async function faultsOf(document: unknown): Promise<string[]> {
  // Loaded when it is first needed: nobody waits who has no record to read.
  const { Validator } = await import("@cfworker/json-schema");
  const { valid, errors } = new Validator(schema as Schema, "2020-12", false)
    .validate(JSON.parse(JSON.stringify(document) ?? "null"));
  if (valid) return [];
  const inner = errors.filter(({ keyword }) => !outer.test(keyword));
  return (inner.length > 0 ? inner : errors)
    .map(({ instanceLocation, keyword, error }) =>
      `${instanceLocation.slice(1) || "the document"}: ${
        keyword === "false" ? "no field of a record." : error
      }`
    );
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
  const faults = await faultsOf(document);
  if (faults.length > 0) {
    throw new RecordError(
      "schema",
      `Cannot use '${name}' as it is not a calibration record: ${
        faults.slice(0, 3).join(" ")
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
