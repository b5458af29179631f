/**
 * `deno task summary RESULTS.jsonl`: makes a notebook that sums up what
 * `deno task measure … --output` wrote, runs it, and writes its page.
 *
 * Exit codes: 0 the notebook ran, 1 a cell failed, 2 wrong arguments.
 *
 * @module
 */
import { basename, extname, join } from "@std/path";
import { parseArgs } from "@std/cli/parse-args";
import { root, runNote } from "./note/run_note.ts";

const usage = `deno task summary RESULTS.jsonl [options]

  RESULTS.jsonl                   JSON lines that 'deno task measure FILE …
                                  --output RESULTS.jsonl' wrote
  --output FOLDER                 where the notebook's folder goes
                                  (out/summaries)`;

if (import.meta.main) {
  const flags = parseArgs(Deno.args, { string: ["output"], boolean: ["help"] });
  const [results, ...others] = flags._.map(String);
  if (flags.help || results === undefined || others.length > 0) {
    console.error(usage);
    Deno.exit(flags.help ? 0 : 2);
  }
  await summary(results, flags.output || join(root, "out", "summaries"));
}

async function summary(results: string, output: string): Promise<void> {
  const file = basename(results);
  const stem = basename(results, extname(results));
  const name = `${new Date().toISOString().slice(0, 10)}-${stem}`;
  const folder = join(output, name);
  await Deno.mkdir(folder, { recursive: true });
  try {
    // The notebook may read its own folder: the results go with it.
    await Deno.copyFile(results, join(folder, file));
  } catch (error) {
    if (!(error instanceof Deno.errors.NotFound)) throw error;
    console.error(`Cannot read '${results}' as there is no such file`);
    Deno.exit(2);
  }
  await runNote({
    template: "summary.ipynb",
    folder,
    name,
    parameters: { file },
  });
}
