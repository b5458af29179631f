import {
  functionOption,
  type Option,
  optional,
  optionOf,
  readOptions,
  requireForm,
} from "../options/mod.ts";
import { formatNumber } from "./format_number.ts";
import { progressOutput } from "./progress_output.ts";

/** Options of {@linkcode progress}. */
export interface ProgressOptions {
  /**
   * Steps in all; taken from `length` or `size` where the loop has one.
   *
   * @default {null}
   */
  total?: number | null;
  /**
   * Name of the work.
   *
   * @default {"Working"}
   */
  label?: string;
  /**
   * Shortest time between two updates, in s.
   *
   * @default {0.2}
   */
  interval?: number | string;
  /**
   * Clock, in s; for tests.
   *
   * @default {() => performance.now() / 1000}
   */
  clock?: () => number;
}

export const progressSpec = {
  total: optional(
    optional(optionOf.whole("Steps in all.", { least: 0 }), null),
    undefined,
    "from 'length' or 'size' of the loop",
  ),
  label: optional(optionOf.text("Name of the work."), "Working"),
  interval: optional(
    optionOf.notNegative(
      "Shortest time between two updates, in s.",
      "s",
      "200ms",
    ),
    0.2,
  ),
  clock: optional(
    functionOption<() => number>("Clock, in s; for tests."),
    () => performance.now() / 1000,
    "that of the machine",
  ),
} satisfies Record<keyof ProgressOptions, Option>;

/**
 * Tells the progress of a loop or stream: one output in a notebook, one line in
 * a terminal, nothing when piped. With rate and time left.
 *
 * @param steps What to loop over: an array, a set, any iterable or stream.
 * @param options Total, label, interval.
 * @returns The same steps, to loop over with `for await`.
 *
 * @example
 * ```ts
 * import { progress } from "fringebook";
 * import { expect } from "vitest";
 *
 * let sum = 0;
 * for await (const step of progress([1, 2, 3], { label: "Adding" })) sum += step;
 * expect(sum).toBe(6);
 * ```
 */
export async function* progress<T>(
  steps: Iterable<T> | AsyncIterable<T>,
  options: ProgressOptions = {},
): AsyncGenerator<T, void, void> {
  const task = "show progress";
  requireForm(steps, {
    what: "something to go through",
    is: (value) =>
      typeof value === "string" ||
      typeof value === "object" && value !== null &&
        (Symbol.iterator in value || Symbol.asyncIterator in value),
    remedy: "",
    awaited: "await …",
  }, task);
  const { total = knownTotal(steps), label, interval, clock } = readOptions(
    progressSpec,
    options,
    task,
  );
  const output = progressOutput();
  const start = clock();
  let last = start;
  let done = 0;
  const show = (final: boolean) => {
    const text = progressText(label, done, total, clock() - start, final);
    output.show({ label, done, total, text }, final);
  };
  show(false);
  let failed = true;
  try {
    for await (const step of steps) {
      yield step;
      done++;
      const now = clock();
      if (now - last >= interval) {
        last = now;
        show(false);
      }
    }
    failed = false;
  } finally {
    if (failed) {
      const text = `${label}: stopped after ${done}${
        total === null ? "" : ` of ${total}`
      }`;
      output.show({ label, done, total, text }, true);
    } else show(true);
  }
}

/**
 * Progress in words.
 *
 * @param label Name of the work.
 * @param done Steps done.
 * @param total Steps in all; `null` where not known.
 * @param elapsed Time since the start, in s.
 * @param final Whether the work is over.
 * @returns Such as `"Adding: 40 of 100 (40 %), 20 per second, 3 s left"`.
 */
export function progressText(
  label: string,
  done: number,
  total: number | null,
  elapsed: number,
  final: boolean,
): string {
  const count = total === null
    ? `${done}`
    : `${done} of ${total} (${
      total > 0 ? Math.floor(100 * done / total) : 100
    } %)`;
  const rate = done > 0 && elapsed > 0 ? done / elapsed : 0;
  const parts = [`${label}: ${count}`];
  if (rate > 0) parts.push(`${formatNumber(rate, { digits: 2 })} per second`);
  if (final) parts.push(`${duration(elapsed)} in all`);
  else if (rate > 0 && total !== null && total > done) {
    parts.push(`${duration((total - done) / rate)} left`);
  }
  return parts.join(", ");
}

/** `"0.3 s"`, `"42 s"`, `"3 min 05 s"`, `"2 h 07 min"`. */
export function duration(seconds: number): string {
  if (seconds < 9.95) return `${formatNumber(seconds, { digits: 2 })} s`;
  const whole = Math.round(seconds);
  if (whole < 60) return `${whole} s`;
  const two = (value: number) => String(value).padStart(2, "0");
  if (whole < 3600) return `${Math.floor(whole / 60)} min ${two(whole % 60)} s`;
  return `${Math.floor(whole / 3600)} h ${
    two(Math.floor(whole % 3600 / 60))
  } min`;
}

function knownTotal(steps: unknown): number | null {
  const { length, size } = steps as { length?: unknown; size?: unknown };
  if (typeof length === "number") return length;
  return typeof size === "number" ? size : null;
}
