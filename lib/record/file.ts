import { requireFields, requireText } from "../options/mod.ts";
import { basename } from "@std/path/basename";
import { join } from "@std/path/join";
import { writeNew } from "../files/mod.ts";
import {
  readRecord,
  recordFileName,
  verifyBeside,
  verifyChain,
} from "./chain.ts";
import { RecordError } from "./record_error.ts";
import type { CalibrationRecord } from "./record.ts";
import { verifyCalibrationRecord } from "./verify.ts";

/**
 * Writes a record into a folder, as `<id>-r<revision>.json`: to a temporary name
 * first, then under its own in one step, once it lies on the disk. An existing
 * file is never overwritten, and a revision goes where those before it lie.
 *
 * @param record The record.
 * @param folder Where to; made if it does not exist.
 * @returns Path of the file.
 * @throws {RecordError} If that revision exists already, the record is not in
 * order, the revision that it replaces is not in the folder, or it cannot be
 * written; then nothing is left behind.
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
  const name = recordFileName(record);
  const path = join(folder, name);
  if (basename(path) !== name) {
    throw new RecordError(
      "schema",
      `Cannot write the record as its id '${record.id}' is no file name`,
    );
  }
  await verifyCalibrationRecord(JSON.parse(JSON.stringify(record)), name);
  await verifyChain(record, folder, true);
  try {
    await Deno.mkdir(folder, { recursive: true });
    await writeNew(path, JSON.stringify(record, null, 2) + "\n");
  } catch (error) {
    throw saveError(path, error);
  }
  return path;
}

/** Why a file of records was not written, in words. */
export function saveError(path: string, cause: unknown): RecordError {
  if (cause instanceof Deno.errors.AlreadyExists) {
    return new RecordError(
      "exists",
      `Cannot write '${path}' as it exists and records are never overwritten: make a revision instead`,
    );
  }
  const { code, message = String(cause) } = (cause ?? {}) as {
    code?: string;
    message?: string;
  };
  const full = code === "ENOSPC" || code === "EDQUOT";
  return new RecordError(
    "save",
    `Cannot write '${path}' as ${
      full ? "the disk is full" : message
    }. Nothing was written there: ${
      full ? "free some space" : "choose a folder that can be written to"
    } and save it again`,
  );
}

/**
 * Reads a record and verifies it: JSON Schema, SHA-256, ranges and dates, and its
 * chain of revisions as far as they lie beside it. Its age is judged where it is
 * used ({@linkcode tuningFromRecord}).
 *
 * @param path Path of the JSON file.
 * @returns The record.
 * @throws {RecordError} If the file is no record or was changed, or one that it
 * replaces was.
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
  const record = await readRecord(path);
  await verifyBeside(path, record);
  return record;
}
