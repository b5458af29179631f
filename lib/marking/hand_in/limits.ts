/** What one hand-in may use. */
export interface HandInLimits {
  /**
   * Processor time of one hand-in, in s. Not time by the clock: a machine with
   * much else to do costs no marks.
   *
   * @default {300}
   */
  cpuTime: number;
  /**
   * Processor time of one cell, in s; the cells after it still run.
   *
   * @default {120}
   */
  cellCpuTime: number;
  /**
   * How long a hand-in may wait for something that does not come, in s: it
   * neither runs nor asks to run.
   *
   * @default {60}
   */
  idleTime: number;
  /**
   * Longest time by the clock, in s, for what slips through the others.
   *
   * @default {3600}
   */
  longestTime: number;
  /**
   * Memory, in MB.
   *
   * @default {1024}
   */
  memory: number;
  /**
   * All that is written to files, in MB, also to files that are removed again;
   * and the size of the hand-in itself.
   *
   * @default {512}
   */
  disk: number;
  /**
   * Text, figures and displays, in MB.
   *
   * @default {64}
   */
  output: number;
  /**
   * Size of the notebook's file, in MB; a larger one is not read.
   *
   * @default {50}
   */
  notebook: number;
}

/** Limits where nothing else is asked for. */
export const defaultLimits: Readonly<HandInLimits> = Object.freeze({
  cpuTime: 300,
  cellCpuTime: 120,
  idleTime: 60,
  longestTime: 3600,
  memory: 1024,
  disk: 512,
  output: 64,
  notebook: 50,
});

/** Most files and folders of a hand-in. */
export const mostFiles = 10_000;

/** Fills in the defaults. */
export function completeLimits(limits: Partial<HandInLimits>): HandInLimits {
  const all = { ...defaultLimits, ...limits };
  for (const [name, value] of Object.entries(all)) {
    if (value > 0 && Number.isFinite(value)) continue;
    throw new RangeError(
      `Cannot mark as the limit '${name}' must be a positive number: current value is ${value}`,
    );
  }
  return all;
}

/** What the runtime takes beside the cells, in MB: session and runner. */
export const ownMemory = 700;

/**
 * Puts the system's own limits around a command: processor time, size of a
 * file, memory (Linux, macOS and other systems with a POSIX shell; on Windows
 * the command stays as it is).
 *
 * @param command Program and arguments.
 * @param limits What one process may use.
 * @returns Program and arguments.
 */
export function limitedCommand(
  command: readonly string[],
  limits: HandInLimits,
): string[] {
  if (Deno.build.os === "windows") return [...command];
  const cpu = Math.ceil(limits.cpuTime);
  const blocks = Math.ceil(limits.disk * 1e6 / 512);
  // What the engine reserves in writable pages beside what it uses
  const data = Math.round((limits.memory + 2 * ownMemory) * 1000);
  const script = [
    `ulimit -S -t ${cpu}`,
    `ulimit -H -t ${cpu + 10}`,
    `ulimit -f ${blocks}`,
    "ulimit -c 0",
    ...(Deno.build.os === "linux" ? [`ulimit -d ${data}`] : []),
    'exec "$@"',
  ].join(" && ");
  return ["/bin/sh", "-c", script, "limited", ...command];
}
