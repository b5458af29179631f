import { wholeNumberOption } from "../../options/mod.ts";
import {
  captureFlags,
  type CaptureTask,
  captureTask,
  type Conversion,
  conversionFlags,
  conversionOf,
} from "../capture/mod.ts";
import {
  type Flag,
  flagHelp,
  flagOf,
  loneFlag,
  needed,
  readFlags,
  textFlag,
  UsageError,
} from "../task/mod.ts";
import { outputOfShard, type Shard, shardFlag } from "../shard.ts";

/** What the shell asked for. */
export interface MeasureSettings {
  /** Files to measure. */
  readonly files: readonly string[];
  /** How to measure each; a plain object, so that a worker can have it. */
  readonly task: MeasureTask;
  /** Whether to print JSON lines. */
  readonly json: boolean;
  /** File that collects JSON lines and says what is done; `null` for none. */
  readonly output: string | null;
  /** Files measured at the same time. */
  readonly jobs: number;
  /** The part of the files that this is; `null` for all. */
  readonly shard: Shard | null;
}

/** How to measure one file. */
export interface MeasureTask extends CaptureTask {
  /** Wavelength, in m. */
  readonly wavelength: number;
  /** Whether two targets are looked for on a ramp. */
  readonly targets?: boolean;
  /** How a drive voltage becomes a current beforehand; left out where not asked. */
  readonly conversion?: Conversion;
  /** Files larger than this are measured block by block, in bytes. */
  readonly streamAbove: number;
}

const task = "measure";

const flags = {
  ...captureFlags,
  ...conversionFlags,
  "targets": loneFlag("Look for two targets on a ramp as well."),
  "json": loneFlag("One JSON line per file."),
  "output": textFlag(
    "Append the JSON lines to FILE; files that it already holds are skipped.",
    "FILE",
  ),
  "list": textFlag(
    "Measure the captures that FILE names too, one path per line.",
    "FILE",
  ),
  "jobs": flagOf(
    wholeNumberOption("Files measured at the same time.", {
      least: 1,
      most: 64,
    }),
    { example: "2", whenMissing: "1" },
  ),
  "stream-above": sizeFlag(),
  "shard": shardFlag(),
} as const;

/** How to call it. */
export const usage = `deno task measure FILE … [options]

Measures one capture or thousands: what it is, how good it is, the result. A
quantity is a number with its unit, such as 650nm, or a number in the SI unit.

${flagHelp(flags)}

Exit codes: 0 all measured, 1 some failed, 2 wrong arguments.`;

/**
 * Reads the arguments of the shell.
 *
 * @param given The arguments.
 * @returns The settings.
 * @throws {UsageError} If they make no sense.
 */
export function readArguments(given: readonly string[]): MeasureSettings {
  const { values, rest } = readFlags(flags, given, { task });
  const listed = values.list === undefined ? [] : filesOfList(values.list);
  const files = [...new Set([...rest, ...listed])];
  if (files.length === 0) {
    throw new UsageError("Cannot measure as no capture file was given");
  }
  const wavelength = needed(flags, values, "wavelength", task);
  const shard = values.shard ?? null;
  const output = values.output ?? null;
  const asked = captureTask(values, task);
  const conversion = conversionOf(values, asked, task);
  return {
    files: shard === null
      ? files
      : files.filter((_, i) => i % shard.count === shard.index - 1),
    task: {
      ...asked,
      ...conversion,
      ...(values.targets === true ? { targets: true } : {}),
      wavelength,
      streamAbove: values["stream-above"] ?? 500e6,
    },
    json: values.json === true,
    output: output !== null && shard !== null
      ? outputOfShard(output, shard)
      : output,
    jobs: values.jobs ?? 1,
    shard,
  };
}

/** The paths of a list; relative ones are relative to where the task runs. */
function filesOfList(list: string): string[] {
  try {
    return Deno.readTextFileSync(list).split(/\r?\n/)
      .filter((line) => line.trim() !== "");
  } catch (error) {
    const why = error instanceof Error ? error.message : String(error);
    throw new UsageError(
      `Cannot ${task} as the list '${list}' cannot be read: ${why}`,
    );
  }
}

/** A file size in bytes: a number, or one with kB, MB or GB. */
function sizeFlag(): Flag<number> {
  return {
    example: "500MB",
    doc: "Larger files are measured block by block, in bounded memory.",
    whenMissing: "500MB",
    many: false,
    read: (text, name, task) => {
      const found = /^([0-9.]+)\s*(|k|M|G)B?$/.exec(text);
      const size = Number(found?.[1]) *
        ({ "": 1, k: 1e3, M: 1e6, G: 1e9 }[found?.[2] ?? ""] ?? NaN);
      if (size > 0) return size;
      throw new UsageError(
        `Cannot ${task} as '${name}' must be a size such as 500MB or 2GB: current value is "${text}"`,
      );
    },
  };
}
