import { dirname, join, resolve } from "@std/path";
import { readTextUpTo } from "../../runtime/mod.ts";
import { writeWhole } from "../../notebook/mod.ts";
import { earlierNote, keepEvidence, latestRevision } from "./earlier_note.ts";
import { runNote } from "./run_note.ts";

/** Largest list of readings, in bytes. */
const largestList = 2 ** 24;

/** A calibration to note. */
export interface CalibrationNote {
  /** The list of readings. */
  readonly readings: string;
  /** Captures that it names, beside it or below. */
  readonly files: readonly string[];
  /** Folder of the note; one with a record gets its next revision. */
  readonly folder: string;
  /**
   * What was given now; the rest stays as an earlier note of the folder says, or
   * as the template has it.
   */
  readonly parameters: Readonly<Record<string, unknown>>;
  /** Why the earlier revision is replaced; `null` where there is none. */
  readonly reason: string | null;
}

/**
 * Makes the note of a calibration and runs it. An earlier revision's readings,
 * captures, note and pages move into `evidence-rN` first, so that none of them is
 * overwritten.
 *
 * @param note What, where and with which settings.
 * @throws {RangeError} If a revision has no reason.
 */
export async function makeCalibrationNote(
  note: CalibrationNote,
): Promise<ReturnType<typeof runNote>> {
  const { readings, files, folder, parameters, reason } = note;
  const earlier = await earlierNote(folder, "calibration");
  const revision = await latestRevision(join(folder, "records"));
  if (revision > 0 && reason === null) {
    throw new RangeError(
      `Cannot make revision ${
        revision + 1
      } in '${folder}' as it is not said why revision ${revision} is replaced: give --reason "…", or another --output`,
    );
  }
  const text = await readTextUpTo(readings, largestList);
  const kept = await keepEvidence(folder);
  const from = resolve(dirname(readings));
  const inPlace = from === resolve(folder);
  const origin = inPlace && kept !== null ? kept : from;
  await Deno.mkdir(folder, { recursive: true });
  if (origin !== resolve(folder)) {
    for (const file of files) {
      const to = join(folder, file);
      await Deno.mkdir(dirname(to), { recursive: true });
      await Deno.copyFile(join(origin, file), to);
    }
  }
  await writeWhole(join(folder, "readings.csv"), text);
  if (kept !== null) console.log(`Evidence: ${kept} (revision ${revision})`);
  return await runNote({
    template: "new_calibration.ipynb",
    folder,
    name: "calibration",
    parameters: { ...earlier?.parameters, ...parameters, reason },
    parametersCell: earlier?.cell ?? null,
  });
}
