import { UsageError } from "./usage_error.ts";

/** A task of `deno.json`. */
export interface Task {
  /** Its name, as in `deno task NAME`. */
  readonly name: string;
  /** How to call it. */
  readonly help: string;
  /** Does what was typed; the exit code comes back. */
  readonly run: (given: readonly string[]) => Promise<number> | number;
}

/**
 * Runs a task. What a person did wrong ends in a sentence, never in a stack.
 *
 * @param task The task.
 * @param given What was typed behind its name.
 * @returns The exit code: that of the task, or 2 where it could not be done.
 */
export async function performTask(
  task: Task,
  given: readonly string[],
): Promise<number> {
  const ended = given.indexOf("--");
  const words = ended < 0 ? given : given.slice(0, ended);
  if (words.includes("--help") || words.includes("-h")) {
    console.log(task.help);
    return 0;
  }
  try {
    return await task.run(given);
  } catch (error) {
    console.error(errorInWords(error));
    if (error instanceof UsageError) {
      console.error(`See 'deno task ${task.name} --help'`);
    }
    return 2;
  }
}

/** Runs the task that this process is. */
export async function runTask(task: Task): Promise<void> {
  Deno.exitCode = await performTask(task, Deno.args);
}

/** An error as a person reads it. */
export function errorInWords(error: unknown): string {
  if (!(error instanceof Error)) return String(error);
  const [, path = null] = /'([^']+)'$/.exec(error.message) ?? [];
  const file = path === null ? "a file" : `'${path}'`;
  if (error instanceof Deno.errors.NotFound) {
    return `Cannot read ${file} as there is no such file. Check the path`;
  }
  if (error instanceof Deno.errors.PermissionDenied) {
    return `Cannot use ${file} as the system does not allow it: check who may read and write there`;
  }
  if (error instanceof Deno.errors.IsADirectory) {
    return `Cannot read ${file} as it is a folder: name a file`;
  }
  return error.message === "" ? error.name : error.message;
}
