/**
 * `deno task explore CAPTURE`: makes a dated notebook for a new capture from a
 * template, runs it, and writes its page.
 *
 * Exit codes: 0 the notebook ran, 1 a cell failed, 2 wrong arguments.
 *
 * @module
 */
import { basename, extname, join } from "@std/path";
import { readArguments, UsageError } from "./measure/arguments.ts";
import { readingOptions } from "./measure/measure_file.ts";
import { root, runNote } from "./note/run_note.ts";

const usage = `deno task explore CAPTURE --wavelength 650nm [options]

  --wavelength 650nm              wavelength of the diode (needed)
  --wavelength-uncertainty 2nm    its standard uncertainty
  --monitor 1                     channel with the monitor signal, by number
                                  from 1 or by name; recognised if left out
  --drive 2                       channel with the drive current
  --sampling-rate 200kHz          where the file does not say it
  --angle 78                      angle between beam and velocity, in degrees
  --output FOLDER                 where the notebook's folder goes
                                  (out/explored)`;

if (import.meta.main) {
  try {
    const settings = readArguments(Deno.args);
    if (settings === null) console.log(usage);
    else await explore(settings);
  } catch (error) {
    if (!(error instanceof UsageError)) throw error;
    console.error(`${error.message}\n\n${usage}`);
    Deno.exitCode = 2;
  }
}

async function explore(
  { files, task, output }: NonNullable<ReturnType<typeof readArguments>>,
): Promise<void> {
  const [capture, ...others] = files;
  if (capture === undefined || others.length > 0) {
    throw new UsageError(`Give one capture; ${files.length} were given`);
  }
  const stem = basename(capture, extname(capture));
  const name = `${new Date().toISOString().slice(0, 10)}-${stem}`;
  const folder = join(output ?? join(root, "out", "explored"), name);
  await Deno.mkdir(folder, { recursive: true });
  // The notebook may read its own folder: the capture goes with it.
  await Deno.copyFile(capture, join(folder, basename(capture)));
  await runNote({
    template: "explore.ipynb",
    folder,
    name,
    parameters: {
      file: basename(capture),
      wavelength: task.wavelength,
      wavelengthStandardUncertainty: task.wavelengthStandardUncertainty,
      angle: task.angle,
      reading: readingOptions(task),
    },
  });
}
