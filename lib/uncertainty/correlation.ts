import { CholeskyDecomposition, Matrix } from "ml-matrix";
import type { UncertainInput } from "./input.ts";

/** Correlation of two inputs of a model. */
export interface InputCorrelation {
  /** Names of the two inputs. */
  readonly between: readonly [string, string];
  /** Correlation coefficient, -1 to 1 (1). */
  readonly coefficient: number;
}

/** The correlations as a table in the order of the inputs. */
export function correlationMatrix(
  inputs: readonly UncertainInput[],
  correlations: readonly InputCorrelation[],
): Matrix {
  const matrix = Matrix.eye(inputs.length);
  const place = new Map(inputs.map(({ name }, i) => [name, i]));
  for (const { between, coefficient } of correlations) {
    const [i, j] = between.map((name) => {
      const at = place.get(name);
      if (at === undefined) {
        throw new RangeError(
          `Cannot correlate '${name}' as there is no such input: the inputs are ${
            inputs.map(({ name }) => `'${name}'`).join(", ")
          }`,
        );
      }
      return at;
    }) as [number, number];
    if (!(coefficient >= -1 && coefficient <= 1) || i === j) {
      throw new RangeError(
        `Cannot correlate '${between[0]}' and '${
          between[1]
        }' as the coefficient must lie between -1 and 1: current value is ${coefficient}`,
      );
    }
    matrix.set(i, j, coefficient);
    matrix.set(j, i, coefficient);
  }
  return matrix;
}

/** Lower triangle L with L Lᵀ = R; throws where R is not possible. */
export function correlationRoot(matrix: Matrix): Matrix {
  // A hair on the diagonal lets coefficients of exactly ±1 through.
  const padded = Matrix.add(matrix, Matrix.eye(matrix.rows).mul(1e-12));
  const cholesky = new CholeskyDecomposition(padded);
  if (!cholesky.isPositiveDefinite()) {
    throw new RangeError(
      "Cannot draw correlated inputs as the correlation coefficients contradict each other: check their signs",
    );
  }
  return cholesky.lowerTriangularMatrix;
}
