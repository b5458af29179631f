import { requireText } from "../options/mod.ts";
import { join } from "@std/path/join";
import { verifyChain } from "./chain.ts";
import { loadCalibrationRecord } from "./file.ts";
import type { CalibrationRecord } from "./record.ts";

/**
 * Reads the newest record of a folder: the highest revision, and of several
 * records the one calibrated last.
 *
 * @param folder Folder of records.
 * @returns The record, or `null` if the folder holds none or does not exist.
 * @throws {RecordError} If a file that bears a record's name is no record or was
 * changed, or the chain of its revisions is broken.
 *
 * @example
 * ```ts
 * import { findLatestCalibrationRecord } from "fringebook";
 * import { expect } from "vitest";
 *
 * expect(await findLatestCalibrationRecord("no/such/folder")).toBe(null);
 * ```
 */
export async function findLatestCalibrationRecord(
  folder: string,
): Promise<CalibrationRecord | null> {
  requireText(folder, "folder", "find the latest calibration record");
  const records: CalibrationRecord[] = [];
  try {
    for await (const { name } of Deno.readDir(folder)) {
      if (!/-r\d+\.json$/.test(name)) continue;
      records.push(await loadCalibrationRecord(join(folder, name)));
    }
  } catch (error) {
    if (error instanceof Deno.errors.NotFound) return null;
    throw error;
  }
  for (const record of records) await verifyChain(record, folder, true);
  records.sort((a, b) =>
    Date.parse(a.calibratedAt) - Date.parse(b.calibratedAt) ||
    a.revision - b.revision
  );
  return records.at(-1) ?? null;
}
