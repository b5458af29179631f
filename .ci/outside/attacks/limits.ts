import { SessionInterpreter } from "../../../lib/kernel/session/mod.ts";
import { check, demand } from "../tally.ts";
import { folder } from "./place.ts";
import { executed } from "./runs.ts";

/** Limits that the system keeps, here on a session as marking uses it. */
export async function limits(): Promise<void> {
  const session = new SessionInterpreter({
    notebookFolder: folder,
    limits: { fileSize: 1e6, processorTime: 20, openFiles: 60 },
  });
  const run = async (code: string) => {
    const { published, outcome } = await executed(session, code);
    return published + JSON.stringify(outcome);
  };
  await check("held: files that are removed and stay open", async () => {
    const text = await run(`
      let size = 0;
      const open = [];
      try {
        for (let n = 0; n < 200; n++) {
          const file = Deno.openSync("big" + n, { create: true, write: true });
          Deno.removeSync("big" + n);
          open.push(file);
          for (let k = 0; k < 40; k++) size += file.writeSync(new Uint8Array(1e5));
        }
      } catch (error) { console.log(error.name, error.message) }
      "wrote " + (size / 1e6).toFixed(1)`);
    const size = Number(/wrote ([\d.]+)/.exec(text)?.[1] ?? 0);
    console.log(`  ${size} MB: ${text.slice(0, 200)}`);
    demand(size <= 60, `${size} MB were written`);
  });
  await check("held: a loop without an end, by processor time", async () => {
    const text = await run("for (;;) {}");
    demand(/SIGXCPU|SIGKILL/.test(text), text.slice(0, 300));
  });
  await session.close();
}
