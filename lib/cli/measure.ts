/**
 * `deno task measure FILE …`: the notebooks' analysis for captures, from the
 * shell. Prints reports, or one JSON line per file with `--json`.
 *
 * Exit codes: 0 all files measured, 1 some failed, 2 wrong arguments.
 *
 * @module
 */
import { readArguments, usage, UsageError } from "./measure/arguments.ts";
import { measureAll } from "./measure/measure_all.ts";

if (import.meta.main) {
  try {
    const settings = readArguments(Deno.args);
    if (settings === null) {
      console.log(usage);
    } else {
      const { failed } = await measureAll(settings);
      Deno.exitCode = failed > 0 ? 1 : 0;
    }
  } catch (error) {
    if (!(error instanceof UsageError)) throw error;
    console.error(`${error.message}\n\n${usage}`);
    Deno.exitCode = 2;
  }
}
