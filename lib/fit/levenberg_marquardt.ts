import { Matrix, QrDecomposition, SingularValueDecomposition } from "ml-matrix";
import { checkpoint } from "../progress/mod.ts";
import { triangleOf } from "./triangle.ts";

/** A least-squares problem as the iteration sees it. */
export interface Problem {
  /** Weighted residuals (data minus model) at the parameters. */
  readonly residuals: (parameters: readonly number[]) => Float64Array;
  /** Derivatives of the weighted model, one array per parameter. */
  readonly jacobian: (parameters: readonly number[]) => Float64Array[];
  readonly start: readonly number[];
  readonly lower: readonly number[];
  readonly upper: readonly number[];
  readonly maximumIterations: number;
  /** Relative size of a step or of a gain below which the iteration ends. */
  readonly tolerance: number;
  /** Relative error of the derivatives; sets what counts as singular. */
  readonly derivativeError: number;
}

/** What {@linkcode levenbergMarquardt} gives. */
export interface Solution {
  readonly parameters: number[];
  readonly residuals: Float64Array;
  readonly chiSquare: number;
  readonly converged: boolean;
  readonly reason: string;
  readonly iterations: number;
  readonly evaluations: number;
  /** (JᵀJ)⁻¹ over the determined parameters; zero elsewhere. */
  readonly inverse: number[][];
  readonly atBound: boolean[];
  readonly determined: boolean[];
}

/**
 * Levenberg–Marquardt iteration in the trust-region form of Moré (1978, Lecture
 * Notes in Mathematics 630, 105), with box bounds held as an active set. Each
 * step solves the damped problem by QR of the Jacobian, never by the normal
 * equations.
 */
export function levenbergMarquardt(problem: Problem): Solution {
  const { lower, upper, maximumIterations, tolerance } = problem;
  const p = problem.start.length;
  let parameters = problem.start.map((value, j) =>
    Math.min(upper[j]!, Math.max(lower[j]!, value))
  );
  let residuals = problem.residuals(parameters);
  let chiSquare = sumOfSquares(residuals);
  let evaluations = 1;
  if (!Number.isFinite(chiSquare)) {
    throw new RangeError(
      `Cannot fit a nonlinear model as it is not finite at the start [${
        parameters.join(", ")
      }]: give another start`,
    );
  }
  const scale = new Float64Array(p);
  let radius = NaN;
  let damping = 0;
  let converged = false;
  let reason = `no convergence in ${maximumIterations} iterations`;
  let iterations = 0;
  while (!converged && iterations < maximumIterations) {
    iterations++;
    checkpoint(NaN, "fit nonlinear model");
    const columns = problem.jacobian(parameters);
    for (let j = 0; j < p; j++) {
      const length = Math.sqrt(sumOfSquares(columns[j]!));
      scale[j] = Math.max(scale[j]!, length || (scale[j] === 0 ? 1e-300 : 0));
    }
    checkpoint();
    const gradient = columns.map((column) => dot(column, residuals));
    const free = gradient.map((g, j) =>
      !(parameters[j]! <= lower[j]! && g < 0) &&
      !(parameters[j]! >= upper[j]! && g > 0) && scale[j]! > 1e-299
    );
    const active = free.flatMap((isFree, j) => isFree ? [j] : []);
    const size = Math.sqrt(chiSquare);
    if (
      size === 0 ||
      active.every((j) => Math.abs(gradient[j]!) <= 1e-15 * scale[j]! * size)
    ) {
      converged = true;
      reason = "the gradient is zero";
      break;
    }
    const reduced = reduce(active.map((j) => columns[j]!), residuals);
    const d = active.map((j) => scale[j]!);
    if (Number.isNaN(radius)) {
      const length = Math.hypot(
        ...parameters.map((value, j) => scale[j]! * value),
      );
      radius = 1 * (length || 1);
    }
    for (;;) {
      const [step, used] = dampedStep(reduced, d, radius, damping);
      damping = used;
      const next = [...parameters];
      active.forEach((j, a) => {
        next[j] = Math.min(
          upper[j]!,
          Math.max(lower[j]!, next[j]! + step[a]!),
        );
      });
      const taken = active.map((j) => next[j]! - parameters[j]!);
      const nextResiduals = problem.residuals(next);
      const nextChiSquare = sumOfSquares(nextResiduals);
      evaluations++;
      const predicted = predictedGain(reduced, taken);
      const gain = chiSquare - nextChiSquare;
      const ratio = Number.isFinite(nextChiSquare) && predicted > 0
        ? gain / predicted
        : -1;
      const stepLength = Math.hypot(...taken.map((value, a) => d[a]! * value));
      if (ratio <= 0.25) {
        radius = Math.min(radius, stepLength) *
          (ratio < -1 || !Number.isFinite(ratio) ? 0.1 : 0.35);
      } else if (damping === 0 || ratio >= 0.75) {
        radius = Math.max(radius, 2 * stepLength);
      }
      const small = taken.every((value, a) =>
        Math.abs(value) <= tolerance * (Math.abs(parameters[active[a]!]!) ||
              tolerance)
      );
      const noGain = Math.abs(gain) <= 1e-15 * chiSquare &&
        predicted <= 1e-15 * chiSquare;
      if (ratio > 1e-4) {
        parameters = next;
        residuals = nextResiduals;
        chiSquare = nextChiSquare;
      }
      if (small || noGain) {
        converged = true;
        reason = small
          ? `the relative step is below ${tolerance}`
          : "the sum of squares no longer falls";
        break;
      }
      if (ratio > 1e-4) break;
      if (evaluations > 50 * maximumIterations) break;
    }
  }
  checkpoint();
  const columns = problem.jacobian(parameters);
  const atBound = parameters.map((value, j) => {
    const g = dot(columns[j]!, residuals);
    return (value <= lower[j]! && g <= 0) || (value >= upper[j]! && g >= 0);
  });
  return {
    parameters,
    residuals,
    chiSquare,
    converged,
    reason,
    iterations,
    evaluations,
    atBound,
    ...invert(columns, atBound, problem.derivativeError),
  };
}

/** R of the Jacobian and the rotated residuals. */
interface Reduced {
  readonly r: Matrix;
  readonly right: number[];
}

function reduce(
  columns: readonly Float64Array[],
  residuals: Float64Array,
): Reduced {
  const p = columns.length;
  const rows = Math.max(residuals.length, p + 1);
  const whole = [...columns, residuals].map((column) => {
    checkpoint();
    const own = new Float64Array(rows);
    own.set(column);
    return own;
  });
  const upper = triangleOf(whole, p);
  return {
    r: new Matrix(upper.map((row) => row.slice(0, p))),
    right: upper.map((row) => row[p]!),
  };
}

/** Step of scaled length at most `radius`, and the damping that gives it. */
function dampedStep(
  reduced: Reduced,
  d: readonly number[],
  radius: number,
  damping: number,
): [number[], number] {
  const lengthOf = (step: readonly number[]) =>
    Math.hypot(...step.map((value, j) => d[j]! * value));
  const gaussNewton = solveDamped(reduced, d, 0);
  if (gaussNewton !== null && lengthOf(gaussNewton) <= 1.1 * radius) {
    return [gaussNewton, 0];
  }
  // The scaled length falls with the damping: bracket, then bisect its log.
  let mu = damping > 0 ? damping : 1e-3;
  let step = solveDamped(reduced, d, mu)!;
  let low = 0;
  let high = Infinity;
  for (let round = 0; round < 60; round++) {
    const length = lengthOf(step);
    if (Math.abs(length - radius) <= 0.1 * radius) break;
    if (length > radius) low = mu;
    else high = mu;
    if (high === Infinity) mu *= 10;
    else if (low === 0) mu /= 10;
    else mu = Math.sqrt(low * high);
    if (mu < 1e-30) break;
    step = solveDamped(reduced, d, mu)!;
  }
  return [step, mu];
}

/** Least-squares step of [R; √µ D]; `null` if singular without damping. */
function solveDamped(
  { r, right }: Reduced,
  d: readonly number[],
  mu: number,
): number[] | null {
  const p = right.length;
  if (mu === 0) {
    for (let j = 0; j < p; j++) {
      if (Math.abs(r.get(j, j)) < 1e-14 * d[j]!) return null;
    }
  }
  // Columns are scaled by D, so that their sizes do not matter.
  const rows = mu === 0 ? p : 2 * p;
  const whole = new Matrix(rows, p);
  const target = new Matrix(rows, 1);
  for (let i = 0; i < p; i++) {
    for (let j = i; j < p; j++) whole.set(i, j, r.get(i, j) / d[j]!);
    target.set(i, 0, right[i]!);
    if (mu > 0) whole.set(p + i, i, Math.sqrt(mu));
  }
  const qr = new QrDecomposition(whole);
  if (!qr.isFullRank()) return null;
  return qr.solve(target).to1DArray().map((value, j) => value / d[j]!);
}

/** Gain of the linear model: 2 gᵀs - |J s|². */
function predictedGain({ r, right }: Reduced, step: readonly number[]): number {
  let gain = 0;
  for (let i = 0; i < step.length; i++) {
    let value = 0;
    for (let j = i; j < step.length; j++) value += r.get(i, j) * step[j]!;
    gain += (2 * right[i]! - value) * value;
  }
  return gain;
}

/** Rows that are decomposed as they are; fits of long records have more. */
const tallest = 1 << 13;

/** (JᵀJ)⁻¹ of the parameters that are free and determined. */
function invert(
  columns: readonly Float64Array[],
  atBound: readonly boolean[],
  derivativeError: number,
) {
  const p = columns.length;
  const inverse = Array.from({ length: p }, () => new Array<number>(p).fill(0));
  const lengths = columns.map((column) => Math.sqrt(sumOfSquares(column)));
  const determined = lengths.map((length) => length > 0);
  const active = lengths.flatMap((length, j) =>
    length > 0 && !atBound[j] ? [j] : []
  );
  if (active.length === 0) return { inverse, determined };
  const n = Math.max(columns[0]!.length, active.length);
  const scaled = active.map((j) => {
    checkpoint();
    const own = new Float64Array(n);
    const length = lengths[j]!;
    columns[j]!.forEach((value, i) => own[i] = value / length);
    return own;
  });
  // The triangle of very many rows has their singular values and right vectors.
  const rows = n > tallest
    ? triangleOf(scaled, active.length)
    : Array.from({ length: n }, (_, i) => scaled.map((column) => column[i]!));
  checkpoint();
  const whole = new Matrix(rows);
  checkpoint();
  const svd = new SingularValueDecomposition(whole, {
    computeLeftSingularVectors: false,
  });
  checkpoint();
  const v = svd.rightSingularVectors;
  const limit = svd.diagonal[0]! * derivativeError;
  for (let m = 0; m < active.length; m++) {
    const value = svd.diagonal[m]!;
    if (value <= limit) {
      active.forEach((j, a) => {
        if (Math.abs(v.get(a, m)) > 1e-4) determined[j] = false;
      });
      continue;
    }
    active.forEach((j, a) => {
      active.forEach((k, b) => {
        inverse[j]![k]! += v.get(a, m) * v.get(b, m) /
          (value * value * lengths[j]! * lengths[k]!);
      });
    });
  }
  return { inverse, determined };
}

function sumOfSquares(values: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < values.length; i++) sum += values[i]! * values[i]!;
  return sum;
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!;
  return sum;
}
