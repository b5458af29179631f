import { type Option, optionOf } from "../../options/mod.ts";
import { UsageError } from "./usage_error.ts";

/** One option of a task, as typed: `--name value`. */
export interface Flag<T = unknown> {
  /** How a value is written, such as `650nm`; `null` where it stands alone. */
  readonly example: string | null;
  /** What it is, in the words of the reference. */
  readonly doc: string;
  /** What is taken where it is not given, in words; `null`: it is needed. */
  readonly whenMissing: string | null;
  /** Whether it may be given several times. */
  readonly many: boolean;
  /** Reads a value; throws in words that name the flag and the task. */
  readonly read: (text: string, name: string, task: string) => T;
}

/** The options of a task by name, without the dashes. */
// deno-lint-ignore no-explicit-any
export type FlagSpec = Readonly<Record<string, Flag<any>>>;

/** What was given, by name. */
export type FlagValues<S extends FlagSpec> = {
  readonly [K in keyof S]?: S[K] extends Flag<infer T> ? T : never;
};

/** How a flag differs from the option that it gives. */
export interface FlagDifference {
  readonly example?: string;
  readonly doc?: string;
  readonly whenMissing?: string;
  /** Whether a bare number is refused, as its unit could be mistaken. */
  readonly unitNeeded?: boolean;
}

/** The flag that gives an option of the library. */
export function flagOf<T>(
  option: Option<T>,
  difference: FlagDifference = {},
): Flag<T> {
  const { unitNeeded = false } = difference;
  return {
    example: difference.example ?? option.example,
    doc: difference.doc ?? option.doc,
    whenMissing: difference.whenMissing ?? option.whenMissing,
    many: false,
    read: (text, name, task) => {
      if (unitNeeded && Number(text) !== 0 && !Number.isNaN(Number(text))) {
        throw new UsageError(
          `Cannot ${task} as '${name}' has no unit: write ${text}deg or ${text}rad`,
        );
      }
      return option.read(text, name, task);
    },
  };
}

/** The same flag where a template holds what is taken without it. */
export function asInTemplate<T>(flag: Flag<T>, value: string): Flag<T> {
  return { ...flag, whenMissing: `as in the template, ${value}` };
}

/** A flag whose value is a text. */
export function textFlag(
  doc: string,
  example: string,
  whenMissing: string | null = "",
): Flag<string> {
  return { example, doc, whenMissing, many: false, read: (text) => text };
}

/** Flags with texts, for a task whose help is written by hand. */
export function textFlags<K extends string>(
  ...names: K[]
): Record<K, Flag<string>> {
  return flagsOf(names, textFlag("", "TEXT"));
}

/** Flags with positive numbers, for a task whose help is written by hand. */
export function numberFlags<K extends string>(
  ...names: K[]
): Record<K, Flag<number>> {
  return flagsOf(
    names,
    flagOf(optionOf.positive("", "1", "60"), { whenMissing: "" }),
  );
}

function flagsOf<K extends string, T>(
  names: readonly K[],
  flag: Flag<T>,
): Record<K, Flag<T>> {
  return Object.fromEntries(names.map((name) => [name, flag])) as Record<
    K,
    Flag<T>
  >;
}

/** A flag that may be given several times. */
export function manyFlag(
  doc: string,
  example: string,
): Flag<readonly string[]> {
  return {
    example,
    doc,
    whenMissing: "",
    many: true,
    read: (text) => [text],
  };
}

/** A flag without a value. */
export function loneFlag(doc: string): Flag<true> {
  return {
    example: null,
    doc,
    whenMissing: "",
    many: false,
    read: () => true,
  };
}
