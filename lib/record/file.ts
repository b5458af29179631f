import { requireFields, requireText } from "../options/mod.ts";
import { basename } from "@std/path/basename";
import { join } from "@std/path/join";
import { writeNew } from "../runtime/mod.ts";
import { RecordError } from "./record_error.ts";
import type { CalibrationRecord } from "./record.ts";
import { verifyRecord } from "./verify.ts";

/**
 * Writes a record into a folder, as `<id>-r<revision>.json`: to a temporary name
 * first, then under its own in one step. An existing file is never overwritten.
 *
 * @param record The record.
 * @param folder Where to; made if it does not exist.
 * @returns Path of the file.
 * @throws {RecordError} If that revision exists already, or the record is not
 * in order.
 *
 * @example
 * ```ts
 * import { type CalibrationRecord, saveCalibrationRecord } from "fringebook";
 *
 * const save = (record: CalibrationRecord) =>
 *   saveCalibrationRecord(record, "records");
 * ```
 */
export async function saveCalibrationRecord(
  record: CalibrationRecord,
  folder: string,
): Promise<string> {
  const task = "save a calibration record";
  requireFields(record, "record", ["id", "revision", "values"], task);
  requireText(folder, "folder", task);
  const name = `${record.id}-r${record.revision}.json`;
  const path = join(folder, name);
  if (basename(path) !== name) {
    throw new RecordError(
      "schema",
      `Cannot write the record as its id '${record.id}' is no file name`,
    );
  }
  await verifyRecord(JSON.parse(JSON.stringify(record)), name);
  await Deno.mkdir(folder, { recursive: true });
  try {
    await writeNew(path, JSON.stringify(record, null, 2) + "\n");
  } catch (error) {
    if (!(error instanceof Deno.errors.AlreadyExists)) throw error;
    throw new RecordError(
      "exists",
      `Cannot write '${path}' as it exists and records are never overwritten: make a revision instead`,
    );
  }
  return path;
}

/**
 * Reads a record and verifies it: JSON Schema, SHA-256, ranges and dates. Its
 * age is judged where it is used ({@linkcode tuningFromRecord}).
 *
 * @param path Path of the JSON file.
 * @returns The record.
 * @throws {RecordError} If the file is no record or was changed.
 *
 * @example
 * ```ts
 * import { loadCalibrationRecord } from "fringebook";
 *
 * const read = (id: string) => loadCalibrationRecord(`records/${id}-r1.json`);
 * ```
 */
export async function loadCalibrationRecord(
  path: string,
): Promise<CalibrationRecord> {
  requireText(path, "path", "load a calibration record");
  const text = await Deno.readTextFile(path);
  let document: unknown;
  try {
    document = JSON.parse(text);
  } catch (error) {
    throw new RecordError(
      "json",
      `Cannot read '${path}' as it is not JSON: ${
        error instanceof Error ? error.message : error
      }`,
    );
  }
  return await verifyRecord(document, path);
}
