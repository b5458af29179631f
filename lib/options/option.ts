/**
 * One option of a function: what it is, what it may be, and what is taken where
 * it is not given. Doc comments, `--help` and messages say the same.
 */
export interface Option<T = unknown> {
  /** What it is, in the words of its doc comment. */
  readonly doc: string;
  /** SI unit without prefix; `"1"` for pure numbers, `""` for no number. */
  readonly unit: string;
  /** How it may be written, such as `"650nm"`; `""` where nothing helps. */
  readonly example: string;
  /** What is taken where it is not given, in words; `null`: it is needed. */
  readonly whenMissing: string | null;
  /** The value taken where it is not given; `undefined`: it is needed. */
  readonly fallback: T | undefined;
  /** Reads a given value; throws in words that name the option and the task. */
  readonly read: (value: unknown, name: string, task: string) => T;
}

/** The options of a function by name. */
// deno-lint-ignore no-explicit-any
export type OptionSpec = Readonly<Record<string, Option<any>>>;

/** The options after they were read. */
export type ReadOptions<S extends OptionSpec> = {
  -readonly [K in keyof S]: S[K] extends Option<infer T> ? T : never;
};

/**
 * The same option, but it need not be given.
 *
 * @param option What it may be.
 * @param fallback What is taken where it is not given; may be given as well.
 * @param whenMissing That in words.
 */
export function optional<T, const F>(
  option: Option<T>,
  fallback: F,
  whenMissing: string = inShort(fallback, option.unit),
): Option<T | F> {
  return {
    ...option,
    fallback,
    whenMissing,
    read: (value, name, task) =>
      Object.is(value, fallback) || Object.is(value, option.fallback)
        ? value as T | F
        : option.read(value, name, task),
  };
}

/** The same option with other words for what it is. */
export function described<T>(option: Option<T>, doc: string): Option<T> {
  return { ...option, doc };
}

function inShort(value: unknown, unit: string): string {
  if (value === null) return "none";
  if (typeof value === "number" && unit !== "" && unit !== "1") {
    return `${value} ${unit}`;
  }
  return typeof value === "string" ? value : JSON.stringify(value) ?? "none";
}
