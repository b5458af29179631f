/**
 * The installed kernel is interrupted in every function of the library that takes
 * a capture, on 10 million samples: each must stop within 1 s, and the variables
 * must be there afterwards.
 *
 * What is held against the second is the processor time of the thread that runs
 * the cell: on a quiet machine it is the time that passes. That one is printed,
 * and a session that does not stop within 4 s of it is ended by the kernel, which
 * loses the variables.
 *
 * Run: .ci/outside/interrupts.sh
 *
 * @module
 */
import { calls, rooms, setup } from "../../tests/progress/long_computations.ts";
import { HostileKernel } from "./hostile_kernel.ts";
import { check, demand, fail, finish } from "./tally.ts";

const sampleCount = 10_000_000;
/** How long a cell has run when it is interrupted, in ms, in turn. */
const delays = [120, 400, 900];

const place = await Deno.makeTempDir({ prefix: "fringebook-interrupts-" });
const kernel = await HostileKernel.start({ folder: place });

/** Processor time of the thread that runs the cells, in ms. */
function cellTime(pid: number): number {
  const text = Deno.readTextFileSync(`/proc/${pid}/task/${pid}/schedstat`);
  return Number(text.split(" ")[0]) / 1e6;
}

async function evaluate(code: string): Promise<string> {
  const { text, status } = await kernel.run(code);
  demand(status === "ok", text.slice(0, 500));
  return text;
}

let slowest = 0;
try {
  const imports = ["fringebook", "fringebook/display"]
    .concat(rooms.map((room) => `fringebook/${room}`))
    .map((name) => `await import("${name}")`).join(", ");
  await evaluate(`const f = Object.assign({}, ${imports}); let kept = 42;`);
  await evaluate(setup(sampleCount));
  const pid = Number(await evaluate("Deno.pid"));
  let turn = 0;
  for (const [name, call] of Object.entries(calls)) {
    await check(
      `an interrupt stops ${name} and keeps the variables`,
      async () => {
        const delay = delays[turn++ % delays.length]!;
        await evaluate("kept = kept + 1");
        const busy = kernel.run(`for (;;) await ${call}`);
        await new Promise((resolve) => setTimeout(resolve, delay));
        const [begin, beginTime] = [performance.now(), cellTime(pid)];
        await kernel.client.request("interrupt_request", {}, {
          channel: "control",
        });
        const { text, status } = await busy;
        const clock = performance.now() - begin;
        const kept = await evaluate("kept");
        const own = cellTime(pid) - beginTime;
        slowest = Math.max(slowest, own);
        console.log(
          `  ${own.toFixed(0)} ms of processor time, ${
            clock.toFixed(0)
          } ms by the clock`,
        );
        demand(
          status === "error" && text.includes("KeyboardInterrupt"),
          text.slice(0, 300),
        );
        demand(kept === String(42 + turn), `the variable is ${kept}`);
        demand(own < 1000, `it took ${own.toFixed(0)} ms`);
      },
    );
  }
  console.log(`The slowest took ${slowest.toFixed(0)} ms`);
} catch (error) {
  fail((error as Error).stack ?? String(error));
} finally {
  await kernel.stop();
  await Deno.remove(place, { recursive: true });
}
finish();
