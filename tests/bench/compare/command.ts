import type { Partner, Run } from "./partner.ts";
import type { CommandJob } from "./row.ts";

/** `/usr/bin/time` tells CPU time and memory of a command, where it is there. */
const timer = "/usr/bin/time";

/** A command that is started anew for each run. */
export function startCommand(
  job: CommandJob,
  python: string | null,
): Promise<Partner> {
  const program = job.command === "python3" ? python! : job.command;
  const run = async (): Promise<Run> => {
    const timed = hasTimer();
    const report = timed ? await Deno.makeTempFile() : "";
    const command = new Deno.Command(timed ? timer : program, {
      args: timed
        ? ["-o", report, "-f", "%U %S %M", program, ...job.arguments]
        : [...job.arguments],
      stdin: "null",
      stdout: "null",
      stderr: "piped",
    });
    const started = performance.now();
    const { success, stderr } = await command.output();
    const wall = (performance.now() - started) / 1000;
    if (!success) {
      throw new Error(
        `'${program}' failed: ${new TextDecoder().decode(stderr)}`,
      );
    }
    if (!timed) return { wall, cpu: NaN, peak: NaN };
    const text = await Deno.readTextFile(report);
    await Deno.remove(report);
    const [user = NaN, system = NaN, peak = NaN] = text.trim().split(/\s+/)
      .map(Number);
    return { wall, cpu: user + system, peak: peak * 1024 };
  };
  return Promise.resolve({ run, close: () => Promise.resolve() });
}

let found: boolean | null = null;

function hasTimer(): boolean {
  if (found === null) {
    try {
      found = Deno.statSync(timer).isFile;
    } catch {
      found = false;
    }
  }
  return found;
}
