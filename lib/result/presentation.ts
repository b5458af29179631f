import type { Report } from "./report.ts";

/**
 * Turns one kind of result into a report. Presenters live in `lib/display/`
 * and register here, so that numeric code can make displayable results without
 * knowing of displays.
 */
export interface Presenter<R> {
  /** Makes the neutral report. */
  readonly report: (result: R) => Report;
  /**
   * Rows for a data frame, one object per row; `null` for a result that is not
   * a table.
   */
  readonly rows?: (result: R) => Record<string, number | string | boolean>[];
}

// deno-lint-ignore no-explicit-any
const presenters = new Map<string, Presenter<any>>();

/** How results behave when they are shown; set once by the display room. */
export interface ResultDisplay {
  /** Makes the Jupyter MIME bundle. */
  readonly bundle: (
    result: unknown,
  ) => Record<string, unknown> | Promise<Record<string, unknown>>;
  /** Makes the console form. */
  readonly text: (result: unknown) => string;
  /** Makes the named (or first) figure. */
  readonly figure: (result: unknown, name?: string) => unknown;
  /** Makes a danfojs data frame. */
  readonly toDataFrame: (result: unknown) => Promise<unknown>;
}

let display: ResultDisplay | null = null;

/**
 * Registers the presenter of one kind of result.
 *
 * @param kind Kind of the result, such as `"range.distance"`.
 * @param presenter What makes its shown forms.
 *
 * @example
 * ```ts
 * import { presenterFor, registerPresenter } from "fringebook/result";
 * import { expect } from "vitest";
 *
 * registerPresenter<{ kind: string; height: number }>("mine.height", {
 *   report: ({ height }) => ({
 *     title: `Height: ${height} m`,
 *     headlines: [],
 *     rows: [],
 *     figures: [],
 *     method: "By ruler.",
 *   }),
 * });
 * expect(presenterFor("mine.height")).not.toBe(null);
 * expect(presenterFor("mine.nothing")).toBe(null);
 * ```
 */
export function registerPresenter<R>(
  kind: string,
  presenter: Presenter<R>,
): void {
  if (typeof kind !== "string" || typeof presenter?.report !== "function") {
    throw new TypeError(
      "Cannot register a presenter as it takes the kind of the result and an object with 'report', a function",
    );
  }
  presenters.set(kind, presenter);
}

/**
 * The presenter of a kind of result.
 *
 * @param kind Kind of the result, such as `"range.distance"`.
 * @returns The presenter, or `null` if none is registered.
 *
 * @example
 * ```ts
 * import "fringebook/display";
 * import { presenterFor } from "fringebook/result";
 * import { expect } from "vitest";
 *
 * expect(presenterFor("range.distance")).not.toBe(null);
 * ```
 */
// deno-lint-ignore no-explicit-any
export function presenterFor(kind: string): Presenter<any> | null {
  return presenters.get(kind) ?? null;
}

/**
 * Called once by the display room to give results their shown forms.
 *
 * @param value The display room's functions.
 *
 * @example
 * ```ts
 * import { setResultDisplay } from "fringebook/result";
 * import { expect } from "vitest";
 *
 * expect(typeof setResultDisplay).toBe("function");
 * ```
 */
export function setResultDisplay(value: ResultDisplay): void {
  if (
    typeof value?.bundle !== "function" || typeof value.text !== "function"
  ) {
    throw new TypeError(
      "Cannot set the display of results as it takes an object with 'bundle', 'text', 'figure' and 'toDataFrame', all functions",
    );
  }
  display = value;
}

/** The display room's functions; throws where it was not loaded. */
export function resultDisplay(): ResultDisplay {
  if (display === null) {
    throw new Error(
      "Cannot show a result as the display room is not loaded: import 'fringebook' first",
    );
  }
  return display;
}

/** The display room's functions, or `null` where it was not loaded. */
export function maybeResultDisplay(): ResultDisplay | null {
  return display;
}
