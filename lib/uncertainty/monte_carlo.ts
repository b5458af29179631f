import type { Matrix } from "ml-matrix";
import { normalProbability } from "../fit/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { createRandom } from "../signal/mod.ts";
import { correlationRoot } from "./correlation.ts";
import { drawInput, type UncertainInput } from "./input.ts";

/** What a Monte Carlo propagation found. */
export interface MonteCarloSummary {
  /** Draws (1). */
  readonly draws: number;
  /** Mean of the output, in its unit. */
  readonly mean: number;
  /** Standard deviation of the output, in its unit. */
  readonly standardUncertainty: number;
  /** Interval with equal probability left out at either end, in the unit. */
  readonly symmetricInterval: readonly [number, number];
  /** Shortest interval of the coverage probability, in the unit. */
  readonly shortestInterval: readonly [number, number];
  /** Draws per class, for a histogram. */
  readonly histogram: {
    /** Lower edge of the first class, in the unit. */
    readonly start: number;
    /** Width of a class, in the unit. */
    readonly width: number;
    /** Draws in each class. */
    readonly counts: readonly number[];
  };
}

/**
 * Propagates distributions (JCGM 101:2008, 7): draws the inputs, evaluates the
 * model, and takes mean, standard deviation and coverage intervals. Correlated
 * inputs are joined by a Gaussian copula, exact where both are normal.
 */
export function monteCarlo(
  evaluate: (values: readonly number[]) => number,
  inputs: readonly UncertainInput[],
  correlations: Matrix,
  draws: number,
  seed: number,
  coverageProbability: number,
): MonteCarloSummary {
  if (!(Number.isInteger(draws) && draws >= 100)) {
    throw new RangeError(
      `Cannot propagate by Monte Carlo as 'draws' must be a whole number of at least 100: current value is ${draws}`,
    );
  }
  const random = createRandom(seed);
  const n = inputs.length;
  const linked = inputs.map((_, i) =>
    inputs.some((_, j) => i !== j && correlations.get(i, j) !== 0)
  );
  const root = linked.some(Boolean) ? correlationRoot(correlations) : null;
  const outputs = new Float64Array(draws);
  const values = new Array<number>(n);
  const normals = new Float64Array(n);
  let mean = 0;
  let squares = 0;
  for (let k = 0; k < draws; k++) {
    if ((k & 0x3fff) === 0) checkpoint(k / draws, "Monte Carlo");
    if (root !== null) {
      for (let i = 0; i < n; i++) if (linked[i]) normals[i] = random.normal();
    }
    for (let i = 0; i < n; i++) {
      const input = inputs[i]!;
      if (!linked[i]) values[i] = drawInput(input, random);
      else {
        let z = 0;
        for (let j = 0; j <= i; j++) {
          if (linked[j]) z += root!.get(i, j) * normals[j]!;
        }
        values[i] = fromNormal(input, z);
      }
    }
    const y = evaluate(values);
    outputs[k] = y;
    const change = y - mean;
    mean += change / (k + 1);
    squares += change * (y - mean);
  }
  if (!Number.isFinite(mean)) {
    throw new RangeError(
      "Cannot propagate by Monte Carlo as the model is not finite for some draws: limit the inputs to where it is defined",
    );
  }
  outputs.sort();
  return {
    draws,
    mean,
    standardUncertainty: Math.sqrt(squares / (draws - 1)),
    ...intervals(outputs, coverageProbability),
    histogram: histogram(outputs),
  };
}

/** The value of an input at a standard normal `z` (Gaussian copula). */
function fromNormal(input: UncertainInput, z: number): number {
  const { value, standardUncertainty: u, distribution } = input;
  if (distribution === "rectangular") {
    return value + u * Math.sqrt(3) * (2 * normalProbability(z) - 1);
  }
  if (distribution === "triangular") {
    const p = normalProbability(z);
    const half = u * Math.sqrt(6);
    return value +
      (p < 0.5
        ? half * (Math.sqrt(2 * p) - 1)
        : half * (1 - Math.sqrt(2 * (1 - p))));
  }
  if (distribution === "arcsine") {
    return value +
      u * Math.SQRT2 * Math.sin(Math.PI * (normalProbability(z) - 0.5));
  }
  return value + u * z;
}

/** Both intervals from sorted outputs (JCGM 101:2008, 7.7). */
function intervals(sorted: Float64Array, probability: number) {
  const m = sorted.length;
  const q = Math.round(probability * m);
  const r = Math.max(0, Math.round((m - q) / 2) - 1);
  let best = 0;
  for (let i = 0; i + q < m; i++) {
    if (sorted[i + q]! - sorted[i]! < sorted[best + q]! - sorted[best]!) {
      best = i;
    }
  }
  return {
    symmetricInterval: [sorted[r]!, sorted[Math.min(m - 1, r + q)]!] as const,
    shortestInterval: [
      sorted[best]!,
      sorted[Math.min(m - 1, best + q)]!,
    ] as const,
  };
}

function histogram(sorted: Float64Array) {
  const m = sorted.length;
  const start = sorted[Math.floor(0.001 * m)]!;
  const end = sorted[Math.ceil(0.999 * m) - 1]!;
  const classes = 60;
  const width = (end - start) / classes || 1;
  const counts = new Array<number>(classes).fill(0);
  for (const value of sorted) {
    const k = Math.floor((value - start) / width);
    if (k >= 0 && k < classes) counts[k]!++;
  }
  return { start, width, counts };
}
