import { type Flag, UsageError } from "./task/mod.ts";

/** One part of a campaign. */
export interface Shard {
  /** Number of the part, from 1. */
  readonly index: number;
  /** Number of parts. */
  readonly count: number;
}

/** Reads a variable of the environment. */
export type Environment = (name: string) => string | undefined;

/**
 * The part that a scheduler's array job gives this process: Slurm's variables
 * `SLURM_ARRAY_TASK_ID`, `_MIN`, `_MAX`, `_STEP` and `_COUNT` (sbatch, "JOB
 * ARRAYS"). A task that is requeued has the same number again.
 *
 * @param env Reads a variable.
 * @param task What is done, for the error.
 * @returns The part.
 * @throws {UsageError} If this is no array job, or its numbers have gaps: then
 * the parts together would not be the whole.
 */
export function shardOfScheduler(env: Environment, task: string): Shard {
  const number = (name: string) => {
    const value = Number(env(`SLURM_ARRAY_TASK_${name}`) || NaN);
    return Number.isInteger(value) ? value : null;
  };
  const [id, count] = [number("ID"), number("COUNT")];
  const [least, most] = [number("MIN"), number("MAX")];
  const step = number("STEP") ?? 1;
  if (id === null || count === null || least === null || most === null) {
    throw new UsageError(
      `Cannot ${task} as '--shard scheduler' takes part and count from an array job, and this is none: SLURM_ARRAY_TASK_ID is not set. Start it with 'sbatch --array=1-4', or write '--shard 1/4'`,
    );
  }
  const index = (id - least) / step + 1;
  if ((most - least) / step + 1 !== count || !Number.isInteger(index)) {
    throw new UsageError(
      `Cannot ${task} as the numbers of the array job have gaps (${count} tasks from ${least} to ${most}), so that captures would be left out: start it with numbers without gaps, or write '--shard ${id}/N'`,
    );
  }
  return { index, count };
}

/** The flag: part i of n, counted from 1, or as the scheduler says. */
export function shardFlag(
  env: Environment = (name) => Deno.env.get(name),
): Flag<Shard> {
  return {
    example: "1/4",
    doc:
      "Only every 4th file, from the 1st; 'scheduler' takes both numbers from Slurm's array job.",
    whenMissing: "",
    many: false,
    read: (text, name, task) => {
      if (text === "scheduler") return shardOfScheduler(env, task);
      const [index = NaN, count = NaN] = text.split("/").map(Number);
      if (
        Number.isInteger(index) && Number.isInteger(count) && index >= 1 &&
        index <= count
      ) {
        return { index, count };
      }
      throw new UsageError(
        `Cannot ${task} as '${name}' must be such as 1/4, or 'scheduler': current value is "${text}"`,
      );
    },
  };
}

/**
 * The output file of one part, so that no two processes write to one file:
 * `results-2-of-4.jsonl` for `results.jsonl`.
 *
 * @param output The file as given.
 * @param shard The part.
 */
export function outputOfShard(output: string, { index, count }: Shard): string {
  const digits = String(count).length;
  const part = `${String(index).padStart(digits, "0")}-of-${count}`;
  return output.replace(/(\.[^./\\]*)?$/, (ending) => `-${part}${ending}`);
}
