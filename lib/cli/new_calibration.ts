/**
 * `deno task new-calibration`: makes the executable note of a tuning calibration
 * with procedure, readings, result, record and certificate. Run again on the same
 * folder it makes a new revision.
 *
 * Exit codes: 0 the note ran, 1 a cell failed, 2 wrong arguments.
 *
 * @module
 */
import { basename, dirname, join } from "@std/path";
import { parseArgs } from "@std/cli/parse-args";
import { parse } from "@std/csv/parse";
import { parseQuantity } from "../capture/mod.ts";
import { writeWhole } from "../notebook/mod.ts";
import { root, runNote } from "./note/run_note.ts";

const usage = `deno task new-calibration --readings readings.csv [options]

  --readings FILE                 CSV with the columns file, distance (mm),
                                  standard uncertainty (mm); the captures are
                                  looked for beside it
  --wavelength 650nm              wavelength of the diode (needed)
  --wavelength-uncertainty 2nm    its standard uncertainty
  --current-uncertainty 0.005     relative standard uncertainty of the ammeter
  --operator NAME                 who calibrated
  --title TEXT                    what was calibrated
  --output FOLDER                 folder of the note (out/calibrations/DATE);
                                  an existing one gets a new revision`;

if (import.meta.main) {
  const flags = parseArgs(Deno.args, {
    string: [
      "readings",
      "wavelength",
      "wavelength-uncertainty",
      "current-uncertainty",
      "operator",
      "title",
      "output",
    ],
    boolean: ["help"],
  });
  const wavelength = length(flags.wavelength);
  if (flags.help || !flags.readings || wavelength === null) {
    console.error(usage);
    Deno.exit(flags.help ? 0 : 2);
  }
  const date = new Date().toISOString().slice(0, 10);
  const folder = flags.output || join(root, "out", "calibrations", date);
  await copyReadings(flags.readings, folder);
  await runNote({
    template: "new_calibration.ipynb",
    folder,
    name: "calibration",
    parameters: {
      wavelength,
      wavelengthStandardUncertainty: length(flags["wavelength-uncertainty"]) ??
        0,
      currentScaleRelativeStandardUncertainty: Number(
        flags["current-uncertainty"] || 0,
      ),
      ...(flags.operator ? { operator: flags.operator } : {}),
      ...(flags.title ? { title: flags.title } : {}),
    },
  });
}

/** A length, in m, from text with or without unit; `null` where there is none. */
function length(text: string | undefined): number | null {
  if (!text) return null;
  const quantity = parseQuantity(text);
  if (quantity === null || (quantity.unit ?? "m") !== "m") {
    console.error(`Cannot read '${text}' as a length: write, say, 650nm`);
    Deno.exit(2);
  }
  return quantity.value;
}

/** The readings and their captures go with the note: it may read its folder. */
async function copyReadings(readings: string, folder: string): Promise<void> {
  await Deno.mkdir(folder, { recursive: true });
  const rows = parse(await Deno.readTextFile(readings), { skipFirstRow: true });
  for (const row of rows) {
    const file = row["file"];
    if (!file) {
      console.error(
        `Cannot use '${readings}' as a row has no 'file': the columns are ${
          Object.keys(row).join(", ")
        }`,
      );
      Deno.exit(2);
    }
    await Deno.copyFile(
      join(dirname(readings), file),
      join(folder, basename(file)),
    );
  }
  await writeWhole(
    join(folder, "readings.csv"),
    await Deno.readTextFile(readings),
  );
}
