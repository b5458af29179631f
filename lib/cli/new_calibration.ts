/**
 * `deno task new-calibration`: makes the executable note of a tuning calibration
 * with procedure, readings, result, record and certificate. Run again on the same
 * folder it makes a new revision.
 *
 * Exit codes: 0 the note ran, 1 a cell failed, 2 wrong arguments.
 *
 * @module
 */
import { isAbsolute, join, normalize } from "@std/path";
import { parseArgs } from "@std/cli/parse-args";
import { parse } from "@std/csv/parse";
import { parseQuantity } from "../capture/mod.ts";
import { makeCalibrationNote } from "./note/calibration_note.ts";
import { root } from "./note/run_note.ts";

const usage = `deno task new-calibration --readings readings.csv [options]

  --readings FILE                 CSV with the columns file, distance (mm),
                                  standard uncertainty (mm); the captures are
                                  looked for beside it
  --wavelength 650nm              wavelength of the diode (needed)
  --wavelength-uncertainty 2nm    its standard uncertainty
  --current-uncertainty 0.005     relative standard uncertainty of the ammeter
  --operator NAME                 who calibrated
  --title TEXT                    what was calibrated
  --item TEXT                     the diode and the mark on it
  --laboratory TEXT               name and address
  --place TEXT                    where it was calibrated
  --customer TEXT                 for whom: customer or course
  --approved-by NAME              who answers for the result
  --temperature 24.5              temperature of the diode, in °C
  --reason TEXT                   why the earlier revision is replaced
  --output FOLDER                 folder of the note (out/calibrations/DATE);
                                  an existing one gets a new revision, keeps
                                  its settings, and its earlier readings,
                                  captures and note move into evidence-rN

What nobody states is printed as "not stated".`;

if (import.meta.main) {
  const flags = parseArgs(Deno.args, {
    string: [
      "readings",
      "wavelength",
      "wavelength-uncertainty",
      "current-uncertainty",
      "operator",
      "title",
      "item",
      "laboratory",
      "place",
      "customer",
      "approved-by",
      "temperature",
      "reason",
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
  const files = await capturesOf(flags.readings);
  const parameters = {
    wavelength,
    wavelengthStandardUncertainty: length(flags["wavelength-uncertainty"]),
    currentScaleRelativeStandardUncertainty: number(
      "current-uncertainty",
      flags["current-uncertainty"],
    ),
    temperature: number("temperature", flags.temperature),
    operator: flags.operator,
    title: flags.title,
    item: flags.item,
    laboratory: flags.laboratory,
    place: flags.place,
    customer: flags.customer,
    approvedBy: flags["approved-by"],
  };
  try {
    await makeCalibrationNote({
      readings: flags.readings,
      files,
      folder,
      // Only what was given: nothing is replaced with nothing.
      parameters: Object.fromEntries(
        Object.entries(parameters).filter(([, value]) => value != null),
      ),
      reason: flags.reason || null,
    });
  } catch (error) {
    console.error(error instanceof Error ? error.message : String(error));
    Deno.exit(2);
  }
}

function number(name: string, text: string | undefined): number | null {
  if (!text) return null;
  const value = Number(text);
  if (Number.isFinite(value)) return value;
  console.error(`Cannot read --${name} as a number: '${text}'`);
  Deno.exit(2);
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

/** The captures that the readings name, by their places beside them. */
async function capturesOf(readings: string): Promise<string[]> {
  const rows = parse(await Deno.readTextFile(readings), {
    skipFirstRow: true,
  }) as Record<string, string>[];
  return rows.map((row) => {
    const file = row["file"];
    if (!file || isAbsolute(file) || normalize(file).startsWith("..")) {
      console.error(
        file
          ? `Cannot use the capture '${file}' as it does not lie beside '${readings}' or below: copy it there`
          : `Cannot use '${readings}' as a row has no 'file': the columns are ${
            Object.keys(row).join(", ")
          }`,
      );
      Deno.exit(2);
    }
    return file;
  });
}
