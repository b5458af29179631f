/** What {@linkcode yorkLine} gives. */
export interface YorkLine {
  readonly intercept: number;
  readonly slope: number;
  readonly covariance: number[][];
  readonly chiSquare: number;
  readonly leverages: number[];
  /** Uncertainty of y - a - b x of each point. */
  readonly pointUncertainties: Float64Array;
  readonly converged: boolean;
  readonly iterations: number;
}

/**
 * Best straight line with errors in both axes, with the standard uncertainties
 * of York et al., Am. J. Phys. 72, 367 (2004), eqs. 13a-13d.
 */
export function yorkLine(
  x: readonly number[],
  y: readonly number[],
  ux: Float64Array,
  uy: Float64Array,
  errorCorrelation: number,
): YorkLine {
  const n = x.length;
  for (let i = 0; i < n; i++) {
    if (ux[i] === 0 && uy[i] === 0) {
      throw new RangeError(
        `Cannot fit a line as point ${i} has no uncertainty in either axis: give it one`,
      );
    }
  }
  let slope = startSlope(x, y);
  let round: Round = oneRound(x, y, ux, uy, errorCorrelation, slope);
  let converged = false;
  let iterations = 0;
  while (!converged && iterations < 500) {
    iterations++;
    converged = Math.abs(round.slope - slope) <= 1e-14 * Math.abs(round.slope);
    slope = round.slope;
    round = oneRound(x, y, ux, uy, errorCorrelation, slope);
  }
  const { weights, meanX, meanY, beta } = round;
  const intercept = meanY - slope * meanX;
  const total = sum(weights);
  let adjustedMean = 0;
  for (let i = 0; i < n; i++) {
    adjustedMean += weights[i]! * (meanX + beta[i]!);
  }
  adjustedMean /= total;
  let spread = 0;
  let chiSquare = 0;
  for (let i = 0; i < n; i++) {
    spread += weights[i]! * (meanX + beta[i]! - adjustedMean) ** 2;
    chiSquare += weights[i]! * (y[i]! - slope * x[i]! - intercept) ** 2;
  }
  const slopeVariance = 1 / spread;
  const leverages = x.map((_, i) =>
    weights[i]! / total +
    weights[i]! * (meanX + beta[i]! - adjustedMean) ** 2 / spread
  );
  return {
    intercept,
    slope,
    covariance: [
      [
        1 / total + adjustedMean ** 2 * slopeVariance,
        -adjustedMean * slopeVariance,
      ],
      [-adjustedMean * slopeVariance, slopeVariance],
    ],
    chiSquare,
    leverages,
    pointUncertainties: weights.map((weight) => 1 / Math.sqrt(weight)),
    converged,
    iterations,
  };
}

interface Round {
  slope: number;
  weights: Float64Array;
  beta: Float64Array;
  meanX: number;
  meanY: number;
}

/** Eqs. 13a-13d of York et al. 2004 written without dividing by zero errors. */
function oneRound(
  x: readonly number[],
  y: readonly number[],
  ux: Float64Array,
  uy: Float64Array,
  r: number,
  slope: number,
): Round {
  const n = x.length;
  const weights = new Float64Array(n);
  const beta = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    const cov = r * ux[i]! * uy[i]!;
    weights[i] = 1 /
      (uy[i]! ** 2 + slope ** 2 * ux[i]! ** 2 - 2 * slope * cov);
  }
  const total = sum(weights);
  let meanX = 0;
  let meanY = 0;
  for (let i = 0; i < n; i++) {
    meanX += weights[i]! * x[i]! / total;
    meanY += weights[i]! * y[i]! / total;
  }
  let above = 0;
  let below = 0;
  for (let i = 0; i < n; i++) {
    const u = x[i]! - meanX;
    const v = y[i]! - meanY;
    const cov = r * ux[i]! * uy[i]!;
    beta[i] = weights[i]! *
      (u * uy[i]! ** 2 + slope * v * ux[i]! ** 2 - (slope * u + v) * cov);
    above += weights[i]! * beta[i]! * v;
    below += weights[i]! * beta[i]! * u;
  }
  return { slope: above / below, weights, beta, meanX, meanY };
}

/** Ordinary least-squares slope, as a start. */
function startSlope(x: readonly number[], y: readonly number[]): number {
  const n = x.length;
  const meanX = sum(x) / n;
  const meanY = sum(y) / n;
  let above = 0;
  let below = 0;
  for (let i = 0; i < n; i++) {
    above += (x[i]! - meanX) * (y[i]! - meanY);
    below += (x[i]! - meanX) ** 2;
  }
  return above / below;
}

function sum(values: ArrayLike<number>): number {
  let total = 0;
  for (let i = 0; i < values.length; i++) total += values[i]!;
  return total;
}
