/**
 * How much a warning matters: a `note` is worth knowing, `doubtful` means the
 * value may be off by more than its uncertainty says.
 */
export type WarningSeverity = "note" | "doubtful";

/** Why a result should be read with care, and what to do about it. */
export interface Warning {
  /** Short stable name, such as `"clipped"` or `"few-steps"`. */
  readonly code: string;
  /** How much it matters. */
  readonly severity: WarningSeverity;
  /** One plain sentence: what, the value, what to do next. */
  readonly message: string;
}

/**
 * Makes a {@linkcode Warning}.
 *
 * @param code Short stable name in kebab-case.
 * @param message One plain sentence: what, the value, what to do next.
 * @param severity How much it matters.
 * @returns The warning.
 *
 * @example
 * ```ts
 * import { warn } from "fringebook/result";
 * import { expect } from "vitest";
 *
 * const warning = warn("clipped", "3 % of the samples sit at the rail");
 * expect(warning.severity).toBe("doubtful");
 * ```
 */
export function warn(
  code: string,
  message: string,
  severity: WarningSeverity = "doubtful",
): Warning {
  return { code, severity, message };
}
