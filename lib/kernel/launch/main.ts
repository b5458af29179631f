/** The kernel process that the kernelspec names. */
import { describeLevel, systemMeans } from "../confine/mod.ts";
import { logToStderr } from "../protocol/mod.ts";
import { createDrawingDesk, SessionInterpreter } from "../session/mod.ts";
import { grantsOfFlags } from "./grants_of_flags.ts";
import { runKernel } from "./run_kernel.ts";

logToStderr(describeLevel(systemMeans()));
await runKernel(
  Deno.args,
  ({ folder, grants, memoryLimit }) =>
    new SessionInterpreter({
      notebookFolder: folder,
      grants: grantsOfFlags(grants),
      drawing: createDrawingDesk({ eager: true }),
      typeNotes: true,
      ...(memoryLimit !== null && { memoryLimit: memoryLimit / 2 ** 20 }),
    }),
);
