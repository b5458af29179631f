/**
 * `deno task explore CAPTURE`: makes a dated notebook for a new capture from a
 * template, runs it, and writes its page.
 *
 * Exit codes: 0 the notebook ran, 1 a cell failed, 2 wrong arguments.
 *
 * @module
 */
import { basename, extname, fromFileUrl, join } from "@std/path";
import {
  injectParameters,
  readNotebook,
  renderPage,
  runNotebook,
  writeNotebook,
  writeWhole,
} from "../notebook/mod.ts";
import { readArguments, UsageError } from "./measure/arguments.ts";
import { readingOptions } from "./measure/measure_file.ts";

const root = fromFileUrl(new URL("../../", import.meta.url));

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
  const template = await readNotebook(
    join(root, "notebooks", "templates", "explore.ipynb"),
  );
  await injectParameters(template, {
    file: basename(capture),
    wavelength: task.wavelength,
    wavelengthStandardUncertainty: task.wavelengthStandardUncertainty,
    angle: task.angle,
    reading: readingOptions(task),
  });
  const path = join(folder, `${name}.ipynb`);
  await writeNotebook(path, template);
  const run = await runNotebook(path, {
    timeout: 600,
    onProgress: ({ done, total }) => {
      if (Deno.stderr.isTerminal()) {
        const text = `\r${done} of ${total} cells`;
        Deno.stderr.writeSync(
          new TextEncoder().encode(done < total ? text : `\r\x1b[K`),
        );
      }
    },
  });
  const page = join(folder, `${name}.html`);
  await writeWhole(page, await renderPage(run.notebook, { title: name }));
  console.log(run.summary);
  console.log(`Notebook: ${path}\nPage:     ${page}`);
  if (run.status === "failed") Deno.exitCode = 1;
}
