import { studentQuantile } from "../fit/mod.ts";
import {
  handedOption,
  type Option,
  optional,
  optionOf,
  quantityOption,
  readOptions,
  requireFunction,
  requireRecords,
} from "../options/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import { correlationMatrix, type InputCorrelation } from "./correlation.ts";
import type { UncertainInput } from "./input.ts";
import { monteCarlo, type MonteCarloSummary } from "./monte_carlo.ts";

/** The measurement model: output from the values of the inputs, by name. */
export type MeasurementModel = (
  values: Readonly<Record<string, number>>,
) => number;

/** Options of {@linkcode propagateUncertainty}. */
export interface PropagateUncertaintyOptions {
  /**
   * Correlations of the inputs.
   *
   * @default {[]}
   */
  correlations?: readonly InputCorrelation[];
  /**
   * SI unit of the output.
   *
   * @default {"1"}
   */
  unit?: string;
  /**
   * Coverage probability of the expanded uncertainty and the intervals (1).
   *
   * @default {0.95}
   */
  coverageProbability?: number;
  /**
   * Whether second-order terms of uncorrelated inputs are added to the linear
   * ones (JCGM 100:2008, 5.1.2 note).
   *
   * @default {false}
   */
  secondOrder?: boolean;
  /**
   * Draws of the Monte Carlo check (1); 0 leaves it out.
   *
   * @default {0}
   */
  draws?: number;
  /**
   * Seed of the draws.
   *
   * @default {1}
   */
  seed?: number;
}

export const propagateSpec = {
  correlations: optional(
    handedOption<readonly InputCorrelation[]>(
      "Correlations of the inputs.",
      "a list",
      Array.isArray,
    ),
    [],
  ),
  unit: optional(optionOf.text("SI unit of the output.", "m"), "1"),
  coverageProbability: optional(
    quantityOption({
      doc:
        "Coverage probability of the expanded uncertainty and the intervals (1).",
      unit: "1",
      above: 0,
      most: 0.999999,
      example: "95%",
    }),
    0.95,
  ),
  secondOrder: optional(
    optionOf.flag(
      "Whether second-order terms of uncorrelated inputs are added to the linear ones.",
    ),
    false,
  ),
  draws: optional(
    optionOf.whole("Draws of the Monte Carlo check (1); 0 leaves it out.", {
      least: 0,
      most: 1e8,
    }),
    0,
  ),
  seed: optional(optionOf.whole("Seed of the draws.", { least: 0 }), 1),
} satisfies Record<keyof PropagateUncertaintyOptions, Option>;

/** One line of an uncertainty budget. */
export interface BudgetLine {
  /** Name of the input. */
  readonly name: string;
  /** Estimate, in `unit`. */
  readonly value: number;
  /** Standard uncertainty, in `unit`. */
  readonly standardUncertainty: number;
  /** Degrees of freedom (1). */
  readonly degreesOfFreedom: number;
  /** SI unit of the input. */
  readonly unit: string;
  /** How it is distributed. */
  readonly distribution: string;
  /** ∂f/∂x, in unit of the output per unit of the input. */
  readonly sensitivity: number;
  /** |∂f/∂x| u(x), in the unit of the output. */
  readonly contribution: number;
  /** Share of the variance of the output, correlations aside (1). */
  readonly share: number;
}

/** The uncertainty of a model's output. */
export interface UncertaintyBudget extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "uncertainty.budget";
  /** The output with effective degrees of freedom and coverage factor. */
  readonly output: Quantity;
  /** Coverage probability of the expanded uncertainty (1). */
  readonly coverageProbability: number;
  /** The inputs, largest contribution first. */
  readonly lines: readonly BudgetLine[];
  /** The Monte Carlo check; `null` where it was not asked for. */
  readonly monteCarlo: MonteCarloSummary | null;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Part of the variance that comes from correlations, in unit². */
    readonly correlationVariance: number;
    /** Part of the variance from second-order terms, in unit²; 0 if left out. */
    readonly secondOrderVariance: number;
    /** Correlations that were taken into account. */
    readonly correlations: readonly InputCorrelation[];
  };
}

/**
 * Propagates uncertainty through one model function: linear (JCGM 100:2008,
 * eqs. 10 and 13) with effective degrees of freedom by Welch–Satterthwaite
 * (G.2b), and, with `draws`, by Monte Carlo (JCGM 101:2008) from the same
 * function.
 *
 * @param model The output from the values of the inputs.
 * @param inputs The inputs.
 * @param options Correlations, unit, coverage, draws.
 * @returns The output and its budget.
 * @throws {RangeError} If the model is not finite at the estimates, two inputs
 * share a name, or a correlation is not possible.
 *
 * @example
 * ```ts
 * import { propagateUncertainty, uncertainInput } from "fringebook";
 * import { expect } from "vitest";
 *
 * const { output } = propagateUncertainty(
 *   ({ steps, wavelength, change }) =>
 *     steps! * wavelength! ** 2 / (2 * change!),
 *   [
 *     uncertainInput("steps", 47.34, { standardUncertainty: 0.1 }),
 *     uncertainInput("wavelength", 650e-9, { standardUncertainty: 1e-9 }),
 *     uncertainInput("change", 20e-12, { standardUncertainty: 0.2e-12 }),
 *   ],
 *   { unit: "m" },
 * );
 * expect(output.standardUncertainty / output.value).toBeCloseTo(0.0107, 4);
 * ```
 */
export function propagateUncertainty(
  model: MeasurementModel,
  inputs: readonly UncertainInput[],
  options: PropagateUncertaintyOptions = {},
): UncertaintyBudget & Shown {
  const task = "propagate an uncertainty";
  requireFunction(model, "model", task);
  requireRecords(inputs, "inputs", ["name", "value"], task);
  const { correlations, unit, coverageProbability, secondOrder, draws, seed } =
    readOptions(propagateSpec, options, task);
  const names = inputs.map(({ name }) => name);
  const twice = names.find((name, i) => names.indexOf(name) !== i);
  if (twice !== undefined) {
    throw new RangeError(
      `Cannot propagate uncertainty as two inputs are called '${twice}': give each its own name`,
    );
  }
  const estimates = inputs.map(({ value }) => value);
  const evaluate = (values: readonly number[]) =>
    model(Object.fromEntries(names.map((name, i) => [name, values[i]!])));
  const value = evaluate(estimates);
  if (!Number.isFinite(value)) {
    throw new RangeError(
      `Cannot propagate uncertainty as the model gives ${value} at the estimates: check it and the inputs`,
    );
  }
  const shifted = (changes: readonly [number, number][]) => {
    const values = [...estimates];
    for (const [i, change] of changes) values[i]! += change;
    return evaluate(values);
  };
  const steps = inputs.map(({ value, standardUncertainty }) =>
    standardUncertainty > 0
      ? standardUncertainty
      : 1e-6 * (Math.abs(value) || 1)
  );
  const sensitivities = steps.map((step, i) => derivative(shifted, i, step));
  const contributions = inputs.map(({ standardUncertainty }, i) =>
    sensitivities[i]! * standardUncertainty
  );
  const matrix = correlationMatrix(inputs, correlations);
  let independent = 0;
  let correlationVariance = 0;
  contributions.forEach((c, i) => {
    independent += c * c;
    for (let j = 0; j < i; j++) {
      correlationVariance += 2 * c * contributions[j]! * matrix.get(i, j);
    }
  });
  const secondOrderVariance = secondOrder
    ? higherTerms(shifted, inputs, value)
    : 0;
  const variance = independent + correlationVariance + secondOrderVariance;
  const below = contributions.reduce(
    (sum, c, i) => sum + c ** 4 / inputs[i]!.degreesOfFreedom,
    0,
  );
  const degreesOfFreedom = below > 0 ? variance ** 2 / below : Infinity;
  const warnings: Warning[] = [];
  if (correlations.length > 0 && Number.isFinite(degreesOfFreedom)) {
    warnings.push(warn(
      "degrees-of-freedom-correlated",
      "The effective degrees of freedom hold for independent inputs only; with correlated inputs they are a guide",
      "note",
    ));
  }
  const u = Math.sqrt(Math.max(0, variance));
  const check = draws > 0
    ? monteCarlo(evaluate, inputs, matrix, draws, seed, coverageProbability)
    : null;
  if (
    check !== null && u > 0 &&
    Math.abs(check.standardUncertainty / u - 1) > 0.05
  ) {
    warnings.push(warn(
      "not-linear",
      `Monte Carlo gives a standard uncertainty of ${
        check.standardUncertainty.toPrecision(3)
      } ${unit} and the linear formula ${
        u.toPrecision(3)
      } ${unit}: the model is not linear over the uncertainties, use the Monte Carlo values`,
    ));
  }
  return createResult({
    kind: "uncertainty.budget" as const,
    output: quantity(value, u, unit, {
      degreesOfFreedom,
      // JCGM 100:2008, G.4.2: the next lower whole number would be safer still.
      coverageFactor: studentQuantile(
        (1 + coverageProbability) / 2,
        Math.max(1, degreesOfFreedom),
      ),
    }),
    coverageProbability,
    lines: inputs.map((input, i): BudgetLine => ({
      name: input.name,
      value: input.value,
      standardUncertainty: input.standardUncertainty,
      degreesOfFreedom: input.degreesOfFreedom,
      unit: input.unit,
      distribution: input.distribution,
      sensitivity: sensitivities[i]!,
      contribution: Math.abs(contributions[i]!),
      share: independent > 0 ? contributions[i]! ** 2 / independent : 0,
    })).sort((a, b) => b.contribution - a.contribution),
    monteCarlo: check,
    warnings,
    provenance: provenance({
      method: "propagateUncertainty",
      options: { coverageProbability, secondOrder, draws, seed, unit },
      sources: [
        "JCGM 100:2008, eqs. 10, 13, G.2b",
        ...(draws > 0 ? ["JCGM 101:2008, 7"] : []),
      ],
    }),
    diagnostics: { correlationVariance, secondOrderVariance, correlations },
  });
}

type Shifted = (changes: readonly [number, number][]) => number;

/** Central differences at two steps, extrapolated (Richardson). */
function derivative(shifted: Shifted, i: number, step: number): number {
  const slope = (h: number) =>
    (shifted([[i, h]]) - shifted([[i, -h]])) / (2 * h);
  const wide = slope(step / 8);
  const narrow = slope(step / 16);
  const better = (4 * narrow - wide) / 3;
  return Number.isFinite(better) ? better : narrow;
}

/** Second-order terms of the variance (JCGM 100:2008, 5.1.2 note). */
function higherTerms(
  shifted: Shifted,
  inputs: readonly UncertainInput[],
  value: number,
): number {
  const us = inputs.map(({ standardUncertainty }) => standardUncertainty);
  const n = inputs.length;
  let sum = 0;
  for (let i = 0; i < n; i++) {
    if (us[i] === 0) continue;
    // Derivatives in units of u, so that each term is a variance.
    const h = 0.5 * us[i]!;
    const first = shifted([[i, h]]) - shifted([[i, -h]]);
    for (let j = 0; j < n; j++) {
      if (us[j] === 0) continue;
      const k = 0.5 * us[j]!;
      if (i === j) {
        const second = (shifted([[i, h]]) - 2 * value + shifted([[i, -h]])) * 4;
        const third = (shifted([[i, 2 * h]]) - 2 * shifted([[i, h]]) +
          2 * shifted([[i, -h]]) - shifted([[i, -2 * h]])) * 4;
        sum += 0.5 * second * second + first * third;
      } else {
        const at = (a: number, b: number) => shifted([[i, a], [j, b]]);
        const mixed = at(h, k) - at(h, -k) - at(-h, k) + at(-h, -k);
        const third = ((at(h, k) - 2 * at(h, 0) + at(h, -k)) -
          (at(-h, k) - 2 * at(-h, 0) + at(-h, -k))) * 4;
        sum += 0.5 * mixed * mixed + first * third;
      }
    }
  }
  return sum;
}
