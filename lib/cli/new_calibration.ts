/**
 * `deno task new-calibration`: makes the executable note of a tuning calibration
 * with procedure, readings, result, record and certificate. Run again on the same
 * folder it makes a new revision.
 *
 * Exit codes: 0 the note ran, 1 a cell failed, 2 wrong arguments.
 *
 * @module
 */
import { dirname, isAbsolute, join, normalize, resolve } from "@std/path";
import { optionOf } from "../options/mod.ts";
import {
  findLatestCalibrationRecord,
  readReferenceReadings,
  stepsOfReading,
} from "../record/mod.ts";
import {
  ammeterFlag,
  captureFlags,
  type CaptureTask,
  captureTask,
  channelFlags,
  lightFlags,
  readAsAsked,
  readingFlags,
  readingOptions,
  statedDriveFlags,
} from "./capture/mod.ts";
import { makeCalibrationNote } from "./note/calibration_note.ts";
import {
  askForUnstated,
  certificateFlags,
  certificateParameters,
  unstatedLines,
} from "./note/certificate_flags.ts";
import { root } from "./note/run_note.ts";
import {
  asInTemplate,
  flagHelp,
  flagOf,
  needed,
  readFlags,
  runTask,
  type Task,
  textFlag,
  UsageError,
} from "./task/mod.ts";

const distanceScale = {
  doc: "Relative standard uncertainty of the scale of the distances (1).",
  whenMissing: "printed as 'not stated'",
};

const flags = {
  "readings": textFlag(
    "Table with the columns file, distance (mm), standard uncertainty (mm); the captures lie beside it. In place of files, steps counted by hand: steps, or edges, first (mA), last (mA).",
    "FILE",
    null,
  ),
  ...lightFlags,
  "wavelength-uncertainty": asInTemplate(
    lightFlags["wavelength-uncertainty"],
    "2 nm",
  ),
  "index": asInTemplate(lightFlags.index, "1.00027"),
  "current-uncertainty": asInTemplate(ammeterFlag, "0.5 %"),
  "distance-scale-uncertainty": { ...ammeterFlag, ...distanceScale },
  "wavelength-gets": flagOf(
    optionOf.choice(
      "Whether the wavelength gets longer or shorter as the current rises.",
      ["longer", "shorter"],
    ),
    { whenMissing: "longer" },
  ),
  ...certificateFlags,
  "reason": textFlag(
    "Why the earlier revision in the folder is replaced.",
    "TEXT",
    "needed for a revision",
  ),
  ...channelFlags,
  ...statedDriveFlags,
  ...readingFlags,
  "output": textFlag(
    "Folder of the note; an existing one gets a new revision.",
    "FOLDER",
    "out/calibrations/DATE",
  ),
} as const;

const what = "make a calibration";

const elsewhere = Object.fromEntries(
  Object.keys(captureFlags).filter((name) => !Object.hasOwn(flags, name))
    .map((name) => [
      name,
      "a calibration counts steps on ramps and has no use for it; 'deno task measure' and 'deno task explore' take it",
    ]),
);

/** The task. */
export const task: Task = {
  name: "new-calibration",
  help: `deno task new-calibration --readings FILE --wavelength 650nm [options]

Makes the executable note of a tuning calibration, with record and certificate.
Of counts by hand the ramp is stated: --drive-waveform triangle
--drive-frequency 10Hz --drive-span 39mA..41mA.
A quantity is a number with its unit, such as 650nm, or a number in the SI unit.
What is not given stays as the template has it, or as it was given for the
earlier revision in the folder, whose readings, captures and note move into
evidence-rN.

${flagHelp(flags)}

Exit codes: 0 the note ran, 1 a cell failed, 2 wrong arguments.`,
  run: newCalibration,
};

async function newCalibration(typed: readonly string[]): Promise<number> {
  const { values, rest } = readFlags(flags, typed, { task: what, elsewhere });
  if (rest.length > 0) {
    throw new UsageError(
      `Cannot ${what} with '${rest[0]}': the captures are named in --readings`,
    );
  }
  const readings = needed(flags, values, "readings", what);
  const wavelength = needed(flags, values, "wavelength", what);
  const asked = captureTask(values, what);
  const files = await checkedFiles(readings, asked);
  const reading = files.length === 0
    ? {}
    : await readingOptions(join(dirname(readings), files[0]!), asked);
  const date = new Date().toISOString().slice(0, 10);
  const folder = resolve(
    values.output ?? join(root, "out", "calibrations", date),
  );
  const { wavelengthStandardUncertainty, refractiveIndex } = asked.options;
  const { currentPerVoltage, currentOffset, drive } = asked.options;
  const currentScaleRelativeStandardUncertainty = values["current-uncertainty"];
  const records = join(folder, "records");
  const before = await latestOrNone(records);
  // What an earlier note states stays, and is not asked for again
  const stated = before === null && ask !== null
    ? askForUnstated(values, ask)
    : values;
  const parameters = {
    wavelength,
    wavelengthStandardUncertainty,
    currentScaleRelativeStandardUncertainty,
    refractiveIndex,
    distanceScaleRelativeStandardUncertainty:
      values["distance-scale-uncertainty"],
    wavelengthGets: values["wavelength-gets"],
    ...certificateParameters(stated, what),
    reading: given(reading),
    part: asked.window,
    drive: given({ currentPerVoltage, currentOffset, drive }),
  };
  const code = await makeCalibrationNote({
    readings,
    files,
    folder,
    // Only what was given: a value is never replaced with nothing.
    parameters: Object.fromEntries(
      Object.entries(parameters).filter(([, value]) => value !== undefined),
    ),
    reason: values.reason ?? null,
  });
  const record = await latestOrNone(records);
  if (
    record === null || record.id === before?.id &&
      record.revision === before.revision
  ) return code;
  for (const line of [...unstatedLines(record), ...assumed(values)]) {
    console.log(line);
  }
  return code;
}

/** Questions are asked on a terminal, of the person who typed the command. */
const ask = import.meta.main && Deno.stdin.isTerminal() &&
    Deno.stderr.isTerminal()
  ? (question: string) => prompt(question)
  : null;

async function latestOrNone(folder: string) {
  try {
    return await findLatestCalibrationRecord(folder);
  } catch {
    // The note itself says what is wrong with it
    return null;
  }
}

/** Numbers that the certificate rests on and that nobody gave now. */
function assumed(values: Readonly<Record<string, unknown>>): string[] {
  const names = ["wavelength-uncertainty", "current-uncertainty", "index"]
    .filter((name) => !Object.hasOwn(values, name));
  return names.length === 0 ? [] : [
    `Taken from the template or the earlier note, and stated on the certificate: ${
      names.map((name) => `--${name}`).join(", ")
    }`,
  ];
}

/** Options, or nothing where none of them was given. */
function given<T extends object>(options: T): T | undefined {
  return Object.values(options).some((value) => value !== undefined)
    ? options
    : undefined;
}

/**
 * The captures of the readings, each of which can be read as asked; none where
 * steps were counted by hand, for which the ramp must be stated.
 */
async function checkedFiles(
  readings: string,
  asked: CaptureTask,
): Promise<string[]> {
  const files: string[] = [];
  for (const reading of await readReferenceReadings(readings)) {
    const { file } = reading;
    if (file === null) {
      const { drive } = asked.options;
      if (!drive) {
        throw new UsageError(
          `Cannot ${what} as '${readings}' holds steps counted by hand, and the ramp on which they were is not stated: add, say, --drive-waveform triangle --drive-frequency 10Hz --drive-span 39mA..41mA`,
        );
      }
      // What cannot be used makes no folder.
      stepsOfReading(reading, drive);
      continue;
    }
    if (isAbsolute(file) || normalize(file).startsWith("..")) {
      throw new UsageError(
        `Cannot use the capture '${file}' as it does not lie beside '${readings}' or below: copy it there`,
      );
    }
    if (files.includes(file)) continue;
    await readAsAsked(join(dirname(readings), file), asked);
    files.push(file);
  }
  return files;
}

if (import.meta.main) await runTask(task);
