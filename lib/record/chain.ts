import { basename } from "@std/path/basename";
import { dirname } from "@std/path/dirname";
import { join } from "@std/path/join";
import { readTextUpTo } from "../runtime/mod.ts";
import type { CalibrationRecord } from "./record.ts";
import { RecordError } from "./record_error.ts";
import { verifyCalibrationRecord } from "./verify.ts";

/** Largest record that is read, in bytes. */
const largestRecord = 2 ** 26;

/** Name of a record's file. */
export function recordFileName(
  { id, revision }: Pick<CalibrationRecord, "id" | "revision">,
): string {
  return `${id}-r${revision}.json`;
}

/** Reads and verifies one file, whatever lies beside it. */
export async function readRecord(path: string): Promise<CalibrationRecord> {
  const text = await readTextUpTo(path, largestRecord);
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
  return await verifyCalibrationRecord(document, path);
}

/**
 * Checks that each revision of a record down to the first names the one before
 * it, and that this is the one that lies there.
 *
 * @param record The newest of the chain.
 * @param folder Where the others lie.
 * @param complete Whether earlier revisions must be there; else the check ends
 * where one is missing.
 * @throws {RecordError} If the chain breaks.
 */
export async function verifyChain(
  record: CalibrationRecord,
  folder: string,
  complete: boolean,
): Promise<void> {
  let newer = record;
  while (newer.revision > 1 || newer.replaces !== null) {
    const { id, revision, replaces } = newer;
    const name = recordFileName(newer);
    if (replaces === null || replaces.revision !== revision - 1) {
      throw broken(
        name,
        replaces === null
          ? `it is revision ${revision} but replaces none`
          : `it is revision ${revision} but replaces revision ${replaces.revision}`,
      );
    }
    const beforeName = recordFileName({ id, revision: replaces.revision });
    let before: CalibrationRecord;
    try {
      before = await readRecord(join(folder, beforeName));
    } catch (error) {
      if (!(error instanceof Deno.errors.NotFound)) throw error;
      if (!complete) return;
      throw broken(
        name,
        `the revision that it replaces, '${beforeName}', is missing in '${folder}'`,
      );
    }
    if (
      before.id !== id || before.revision !== replaces.revision ||
      before.integrity.digest !== replaces.digest
    ) {
      throw broken(
        name,
        `'${beforeName}' is not the revision that it replaces: their fingerprints differ`,
      );
    }
    newer = before;
  }
}

/**
 * Checks a file's name against its content where it has the form of a record's.
 *
 * @throws {RecordError} If they differ: somebody copied a record over another.
 */
export function checkName(path: string, record: CalibrationRecord): void {
  const name = basename(path);
  if (/-r\d+\.json$/.test(name) && name !== recordFileName(record)) {
    throw broken(name, `it holds '${recordFileName(record)}'`);
  }
}

/** The chain below a file that may have been copied here alone. */
export async function verifyBeside(
  path: string,
  record: CalibrationRecord,
): Promise<void> {
  checkName(path, record);
  await verifyChain(record, dirname(path), false);
}

function broken(name: string, why: string): RecordError {
  return new RecordError(
    "chain",
    `Cannot use '${name}' as its chain of revisions is broken: ${why}. Bring the original files together in one folder`,
  );
}
