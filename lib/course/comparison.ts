import {
  type Option,
  optionOf,
  readOptions,
  requireFields,
} from "../options/mod.ts";
import { createResult, provenance, type Quantity } from "../result/mod.ts";
import type { Result, Shown, Warning } from "../result/mod.ts";

/** A measured value beside the known truth of a simulated bench. */
export interface TruthComparison extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "course.comparison";
  /** What was measured, such as `"distance"`. */
  readonly label: string;
  /** The measured value with its uncertainty. */
  readonly measured: Quantity;
  /** The true value, in `measured.unit`. */
  readonly truth: number;
  /** measured − truth, in `measured.unit`. */
  readonly error: number;
  /** |error| / U (1); at most 1 where result and truth agree. */
  readonly normalizedError: number;
  /** Whether |error| ≤ U. */
  readonly agrees: boolean;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: Record<never, never>;
}

/** Options of {@linkcode compareWithTruth}. */
export interface CompareWithTruthOptions {
  /** What was measured, such as `"distance"`. */
  label: string;
  /** The true value, in the unit of the measured quantity. */
  truth: number;
}

export const comparisonSpec = {
  label: optionOf.text('What was measured, such as `"distance"`.', "distance"),
  truth: optionOf.finite(
    "The true value, in the unit of the measured quantity.",
  ),
} satisfies Record<keyof CompareWithTruthOptions, Option>;

/**
 * Compares a measured quantity with a known truth by the normalised error
 * E = |x − x₀| / U; they agree where E ≤ 1. (The E number of
 * ISO/IEC 17043:2023 with the uncertainty of the reference taken as zero, since
 * a simulated truth has none.)
 *
 * @param measured The measured quantity with its expanded uncertainty.
 * @param options What was measured and its true value.
 * @returns The comparison; shown as a table in a notebook.
 * @throws {RangeError} If the truth or the measured value is not finite, or the
 * expanded uncertainty is not a positive number.
 *
 * @example
 * ```ts
 * import { compareWithTruth, quantity } from "fringebook";
 * import { expect } from "vitest";
 *
 * const comparison = compareWithTruth(quantity(0.2004, 0.0003, "m"), {
 *   label: "distance",
 *   truth: 0.2,
 * });
 * expect(comparison.agrees).toBe(true);
 * ```
 */
export function compareWithTruth(
  measured: Quantity,
  options: CompareWithTruthOptions,
): TruthComparison & Shown {
  const task = "compare with the truth";
  requireFields(measured, "measured", ["value", "expandedUncertainty"], task);
  const { label, truth } = readOptions(comparisonSpec, options, task);
  const { value, expandedUncertainty, unit } = measured;
  if (!Number.isFinite(truth) || !Number.isFinite(value)) {
    throw new RangeError(
      `Cannot compare '${label}' with the truth as both must be finite: measured ${value} ${unit}, truth ${truth} ${unit}`,
    );
  }
  if (!(expandedUncertainty > 0 && Number.isFinite(expandedUncertainty))) {
    throw new RangeError(
      `Cannot compare '${label}' with the truth as its expanded uncertainty must be positive: current value is ${expandedUncertainty} ${unit}`,
    );
  }
  const error = value - truth;
  const normalizedError = Math.abs(error) / expandedUncertainty;
  const warnings: Warning[] = [];
  return createResult<TruthComparison>({
    kind: "course.comparison",
    label,
    measured: { ...measured },
    truth,
    error,
    normalizedError,
    agrees: normalizedError <= 1,
    warnings,
    provenance: provenance({
      method: "compareWithTruth",
      options: { label, truth },
      sources: ["ISO/IEC 17043:2023, E number (from memory)"],
    }),
    diagnostics: {},
  });
}
