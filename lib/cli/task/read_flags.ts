import { nearestName } from "../../options/mod.ts";
import type { FlagSpec, FlagValues } from "./flag.ts";
import { UsageError } from "./usage_error.ts";

/** What was typed behind the name of a task. */
export interface ReadArguments<S extends FlagSpec> {
  /** Values of the flags that were given. */
  readonly values: FlagValues<S>;
  /** What is no flag, in order. */
  readonly rest: readonly string[];
}

/** How {@linkcode readFlags} reads. */
export interface ReadFlagsOptions {
  /** What the task does, as in "Cannot measure as …". */
  readonly task: string;
  /** Flags of other tasks, and why this one has no use for them. */
  readonly elsewhere?: Readonly<Record<string, string>>;
}

/**
 * Reads flags as typed: `--name value`, `--name=value`, and `--name` alone.
 * A value may begin with one dash, such as `-5mA`; after `--` nothing is a flag.
 *
 * @param spec The flags that there are.
 * @param given What was typed.
 * @param options The task in words.
 * @throws {UsageError} If a flag is unknown, misses its value, is given twice,
 * or has a value that makes no sense.
 */
export function readFlags<S extends FlagSpec>(
  spec: S,
  given: readonly string[],
  options: ReadFlagsOptions,
): ReadArguments<S> {
  const { task } = options;
  const values: Record<string, unknown> = {};
  const rest: string[] = [];
  for (let at = 0; at < given.length; at++) {
    const word = given[at]!;
    if (word === "--") {
      rest.push(...given.slice(at + 1));
      break;
    }
    if (!/^-./.test(word)) {
      rest.push(word);
      continue;
    }
    const [, name = "", inline] = /^-{1,2}([^=]*)(?:=(.*))?$/s.exec(word) ?? [];
    const flag = spec[name];
    if (flag === undefined || !word.startsWith("--")) {
      throw unknownFlag(word, name, spec, options);
    }
    if (flag.example === null) {
      if (inline !== undefined) {
        throw new UsageError(
          `Cannot ${task} as '--${name}' takes no value: it was given '${inline}'`,
        );
      }
      values[name] = true;
      continue;
    }
    const text = inline ?? given[++at];
    if (text === undefined || text === "" || text.startsWith("--")) {
      throw new UsageError(
        `Cannot ${task} as '--${name}' has no value: write, say, --${name} ${flag.example}`,
      );
    }
    const value = asUsage(() => flag.read(text, `--${name}`, task));
    if (flag.many) {
      values[name] = [...(values[name] as unknown[] ?? []), ...value];
    } else if (Object.hasOwn(values, name)) {
      throw new UsageError(`Cannot ${task} as '--${name}' was given twice`);
    } else values[name] = value;
  }
  return { values: values as FlagValues<S>, rest };
}

/** A flag that is needed. */
export function needed<S extends FlagSpec, K extends keyof S & string>(
  spec: S,
  values: FlagValues<S>,
  name: K,
  task: string,
): NonNullable<FlagValues<S>[K]> {
  const value = values[name];
  if (value !== undefined) return value as NonNullable<FlagValues<S>[K]>;
  throw new UsageError(
    `Cannot ${task} as '--${name}' is missing: add, say, --${name} ${
      spec[name]!.example
    }`,
  );
}

/** The same work, but what it refuses is a mistake of what was typed. */
export function asUsage<T>(work: () => T): T {
  try {
    return work();
  } catch (error) {
    throw error instanceof RangeError || error instanceof TypeError
      ? new UsageError(error.message)
      : error;
  }
}

function unknownFlag(
  word: string,
  name: string,
  spec: FlagSpec,
  { task, elsewhere = {} }: ReadFlagsOptions,
): UsageError {
  const why = elsewhere[name];
  if (why !== undefined) {
    return new UsageError(`Cannot ${task} with '--${name}': ${why}`);
  }
  const names = Object.keys(spec);
  const near = nearestName(name, names);
  const shown = word.split("=")[0]!.slice(0, 60);
  return new UsageError(
    `Cannot ${task} as there is no option '${shown}'. ${
      near !== null
        ? `Did you mean '--${near}'?`
        : names.length === 0
        ? "It has none"
        : `There are ${names.map((each) => `--${each}`).join(", ")}`
    }`,
  );
}
