/**
 * `deno task explore CAPTURE`: makes a dated notebook for a new capture from a
 * template, runs it, and writes its page.
 *
 * Exit codes: 0 the notebook ran, 1 a cell failed, 2 wrong arguments.
 *
 * @module
 */
import { basename, join, resolve } from "@std/path";
import { loadCalibrationRecord, tuningFromRecord } from "../record/mod.ts";
import {
  captureFlags,
  captureTask,
  readAsAsked,
  readingOptions,
} from "./capture/mod.ts";
import { copyWith, datedName, freshFolder } from "./note/note_folder.ts";
import { root, runNote } from "./note/run_note.ts";
import {
  asInTemplate,
  flagHelp,
  needed,
  readFlags,
  runTask,
  type Task,
  textFlag,
  UsageError,
} from "./task/mod.ts";

const flags = {
  ...captureFlags,
  "wavelength-uncertainty": asInTemplate(
    captureFlags["wavelength-uncertainty"],
    "2 nm",
  ),
  "output": textFlag(
    "Where the notebook's folder goes.",
    "FOLDER",
    "out/explored",
  ),
} as const;

const what = "explore a capture";

const elsewhere = Object.fromEntries(
  ["json", "jobs", "stream-above", "shard"].map((name) => [
    name,
    "it belongs to 'deno task measure', which takes many captures",
  ]),
);

/** The task. */
export const task: Task = {
  name: "explore",
  help: `deno task explore CAPTURE [options]

Makes a dated notebook for a new capture, runs it, and writes its page. A
quantity is a number with its unit, such as 650nm, or a number in the SI unit.

${flagHelp(flags)}

Exit codes: 0 the notebook ran, 1 a cell failed, 2 wrong arguments.`,
  run: explore,
};

async function explore(given: readonly string[]): Promise<number> {
  const { values, rest } = readFlags(flags, given, { task: what, elsewhere });
  const [capture, ...others] = rest;
  if (capture === undefined || others.length > 0) {
    throw new UsageError(
      `Cannot ${what} as one file is taken, and ${rest.length} were given`,
    );
  }
  needed(flags, values, "wavelength", what);
  const asked = captureTask(values, what);
  // What cannot be read makes no folder.
  await readAsAsked(capture, asked);
  const reading = await readingOptions(capture, asked);
  const tuning = asked.record === null
    ? {}
    : { tuning: tuningFromRecord(await loadCalibrationRecord(asked.record)) };
  const { folder, name } = await freshFolder(
    resolve(values.output ?? join(root, "out", "explored")),
    datedName(capture),
  );
  try {
    await copyWith(capture, folder);
  } catch (error) {
    await Deno.remove(folder, { recursive: true });
    throw error;
  }
  const { wavelength, wavelengthStandardUncertainty, angle, ...options } =
    asked.options;
  return await runNote({
    template: "explore.ipynb",
    folder,
    name,
    parameters: {
      file: basename(capture),
      wavelength,
      ...(wavelengthStandardUncertainty === undefined
        ? {}
        : { wavelengthStandardUncertainty }),
      ...(angle === undefined ? {} : { angle }),
      reading,
      part: asked.window,
      options: { ...options, ...tuning },
    },
  });
}

if (import.meta.main) await runTask(task);
