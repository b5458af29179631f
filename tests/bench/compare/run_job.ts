/**
 * Holds one job and runs it for each line on standard input; answers with time
 * and memory: `deno run -A run_job.ts '{"file": …, "name": …, "options": …}'`.
 *
 * @module
 */
import process from "node:process";
import { peakMemory } from "./machine.ts";

const { file, name, options } = JSON.parse(Deno.args[0]!);
const module = await import(`file://${file}`);
const work: () => unknown = await module[name](options);
const encoder = new TextEncoder();
const answer = (value: unknown) =>
  Deno.stdout.writeSync(encoder.encode(`${JSON.stringify(value)}\n`));
const cpu = () => {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1e6;
};

/** Runs the job once; what it gives is let go of on return. */
async function run(): Promise<void> {
  const before = cpu();
  const started = performance.now();
  await work();
  const wall = (performance.now() - started) / 1000;
  answer({ wall, cpu: cpu() - before, peak: peakMemory() });
}

answer("ready");
for await (const _ of Deno.stdin.readable) {
  await run();
  // Leftovers are cleared outside the timed part, at once, as reference
  // counting does on the other side.
  (globalThis as { gc?: () => void }).gc?.();
}
