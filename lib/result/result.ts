import { maybeResultDisplay, resultDisplay } from "./presentation.ts";
import type { Provenance } from "./provenance.ts";
import type { Warning } from "./warning.ts";

/** What every result has, whatever it measures. */
export interface Result {
  /** Room and concept, such as `"range.distance"`; chooses the presenter. */
  readonly kind: string;
  /** Why to read the result with care; empty when nothing is doubtful. */
  readonly warnings: readonly Warning[];
  /** Where the result comes from. */
  readonly provenance: Provenance;
  /** How well the method worked: counts, residuals, curves for the figures. */
  readonly diagnostics: unknown;
}

/** What {@linkcode createResult} adds: the shown forms of a result. */
export interface Shown {
  /** A plotly.js figure specification: the first, or the named one. */
  figure(name?: string): unknown;
  /** A danfojs data frame; loads danfojs when called. */
  toDataFrame(): Promise<unknown>;
  /** The plain data, for `JSON.stringify`. */
  toJSON(): unknown;
}

const displaySymbol = Symbol.for("Jupyter.display");
const inspectSymbol = Symbol.for("Deno.customInspect");
const nodeInspectSymbol = Symbol.for("nodejs.util.inspect.custom");

const shown = {
  [displaySymbol](this: Result) {
    return resultDisplay().bundle(this);
  },
  [inspectSymbol](this: Result) {
    return consoleForm(this);
  },
  [nodeInspectSymbol](this: Result) {
    return consoleForm(this);
  },
  figure(this: Result, name?: string) {
    return resultDisplay().figure(this, name);
  },
  toDataFrame(this: Result) {
    return resultDisplay().toDataFrame(this);
  },
  toJSON(this: Result) {
    return toPlain({ ...this });
  },
};

/**
 * Makes a result: plain fields, plus a shown form in notebooks, in the console,
 * as JSON, as a figure and as a data frame. The shown forms come from the
 * presenter registered for `fields.kind` and are not enumerable.
 *
 * @param fields All fields of the result.
 * @returns The frozen result.
 *
 * @example
 * ```ts
 * import { createResult, provenance } from "fringebook/result";
 * import { expect } from "vitest";
 *
 * const result = createResult({
 *   kind: "example.count",
 *   value: 12,
 *   warnings: [],
 *   provenance: provenance({ method: "example" }),
 *   diagnostics: {},
 * });
 * expect(Object.keys(result)).toContain("value");
 * expect(JSON.parse(JSON.stringify(result)).value).toBe(12);
 * ```
 */
export function createResult<R extends Result>(fields: R): R & Shown {
  if (typeof fields?.kind !== "string") {
    throw new TypeError(
      "Cannot make a result as it takes an object with all fields of the result, of which 'kind' is missing",
    );
  }
  return Object.freeze(Object.assign(Object.create(shown), fields));
}

/**
 * Whether a value was made by {@linkcode createResult}.
 *
 * @param value Any value.
 * @returns Whether it is a result.
 *
 * @example
 * ```ts
 * import { countFringes, simulateCapture } from "fringebook";
 * import { isResult } from "fringebook/result";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 1e-3 * time,
 *   samplingRate: 50e3,
 *   duration: 0.01,
 * });
 * expect(isResult(countFringes(capture, { wavelength: 650e-9 }))).toBe(true);
 * expect(isResult({ kind: "mine" })).toBe(false);
 * ```
 */
export function isResult(value: unknown): value is Result & Shown {
  return typeof value === "object" && value !== null &&
    Object.getPrototypeOf(value) === shown;
}

function consoleForm(result: Result): string {
  const display = maybeResultDisplay();
  return display === null
    ? `[${result.kind}] ${JSON.stringify(result)}`
    : display.text(result);
}

/** Typed arrays become arrays; NaN and infinities become their names. */
function toPlain(value: unknown): unknown {
  if (typeof value === "number" && !Number.isFinite(value)) {
    return String(value);
  }
  if (ArrayBuffer.isView(value) && !(value instanceof DataView)) {
    return Array.from(value as unknown as ArrayLike<number>, toPlain);
  }
  if (Array.isArray(value)) return value.map(toPlain);
  if (typeof value === "object" && value !== null) {
    return Object.fromEntries(
      Object.entries(value)
        .filter(([, item]) => typeof item !== "function")
        .map(([key, item]) => [key, toPlain(item)]),
    );
  }
  return value;
}
