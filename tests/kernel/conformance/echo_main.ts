/** A kernel process whose cells are a few words, for tests of the wire. */
import { runKernel } from "../../../lib/kernel/launch/mod.ts";
import { createWordInterpreter } from "../protocol/word_interpreter.ts";

await runKernel(Deno.args, () => createWordInterpreter());
