/**
 * A child process that does one job when told to.
 *
 * @module
 */
import type { Job } from "./row.ts";

/** Time and memory of one run of a job. */
export interface Run {
  /** In s. */
  readonly wall: number;
  /** In s. */
  readonly cpu: number;
  /** Most memory the process held so far, in bytes; `NaN` if not known. */
  readonly peak: number;
}

/** A process that holds one job. */
export interface Partner {
  run(): Promise<Run>;
  close(): Promise<void>;
}

const denoRunner = new URL("./run_job.ts", import.meta.url).pathname;
const pythonRunner = new URL("./run_job.py", import.meta.url).pathname;

/**
 * Megabytes, large arrays included, up to which garbage is not looked for: V8
 * starts with a few, and a single large array would set it off.
 */
const firstCollection = 128;

/** Starts a process for a job and waits until the job is ready. */
export async function startPartner(
  job: Job,
  python: string | null,
): Promise<Partner> {
  const isPython = job.file.pathname.endsWith(".py");
  const settings = JSON.stringify({ ...job, file: job.file.pathname });
  const [command, leading] = isPython
    ? [python!, [pythonRunner]]
    : [Deno.execPath(), [
      "run",
      "-A",
      `--v8-flags=--expose-gc,--no-concurrent-array-buffer-sweeping,--initial-heap-size=${firstCollection}`,
      denoRunner,
    ]];
  const child = new Deno.Command(command, {
    args: [...leading, settings],
    stdin: "piped",
    stdout: "piped",
    stderr: "inherit",
  }).spawn();
  const writer = child.stdin.getWriter();
  const reader = child.stdout.pipeThrough(new TextDecoderStream()).getReader();
  const line = async () => {
    let text = "";
    while (!text.endsWith("\n")) {
      const { value, done } = await reader.read();
      if (done) throw new Error(`The job '${job.name}' stopped: see above`);
      text += value;
    }
    return text;
  };
  await line();
  return {
    async run() {
      await writer.write(new TextEncoder().encode("run\n"));
      return JSON.parse(await line()) as Run;
    },
    async close() {
      await writer.close();
      await reader.cancel();
      await child.status;
    },
  };
}
