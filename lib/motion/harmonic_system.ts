import { EigenvalueDecomposition, Matrix, solve } from "ml-matrix";

/**
 * Normal equations of a least-squares fit with parameters that all samples share
 * and others that belong to one segment each: the latter are eliminated segment by
 * segment (Schur complement), so that the memory does not grow with the record.
 */
export class SegmentedSystem {
  readonly shared: number;
  readonly own: number;
  /** Shared normal matrix and right side, the segments' parameters eliminated. */
  readonly #matrix: Matrix;
  readonly #right: Float64Array;
  readonly #segments: Segment[] = [];
  readonly #scores: Float64Array[] = [];
  /** Right sides of the pieces of the segment at hand. */
  #pieces: Float64Array[] = [];
  readonly #size: number;
  /** Sums over the segment at hand: lower triangle, row by row. */
  readonly #normal: Float64Array;
  readonly #side: Float64Array;
  readonly #prior: Float64Array;

  /**
   * @param shared Parameters of all samples.
   * @param own Parameters of a segment.
   * @param prior What is added to the diagonal, own parameters behind the shared.
   */
  constructor(shared: number, own: number, prior: Float64Array) {
    this.shared = shared;
    this.own = own;
    this.#size = shared + own;
    this.#matrix = Matrix.zeros(shared, shared);
    this.#right = new Float64Array(shared);
    this.#normal = new Float64Array(this.#size * (this.#size + 1) / 2);
    this.#side = new Float64Array(this.#size);
    this.#prior = prior;
  }

  /** Takes a sample: its row, shared parameters first, its value and weight. */
  take(row: Float64Array, value: number, weight: number): void {
    const normal = this.#normal;
    const side = this.#side;
    const size = this.#size;
    let at = 0;
    for (let a = 0; a < size; a++) {
      const scaled = weight * row[a]!;
      side[a]! += scaled * value;
      for (let b = 0; b <= a; b++) normal[at++]! += scaled * row[b]!;
    }
  }

  /** Ends a piece of a segment, whose part in the right side is kept apart. */
  endPiece(): void {
    const piece = this.#side.slice();
    for (const before of this.#pieces) {
      for (let a = 0; a < piece.length; a++) piece[a]! -= before[a]!;
    }
    this.#pieces.push(piece);
  }

  /**
   * Ends a segment.
   *
   * @param own Values of its parameters so far, about which `prior` holds to 0.
   */
  endSegment(own: readonly number[]): void {
    const { shared } = this;
    const normal = this.#normal;
    const at = (a: number, b: number) =>
      normal[a >= b ? a * (a + 1) / 2 + b : b * (b + 1) / 2 + a]!;
    const count = this.own;
    const inner = Matrix.zeros(count, count);
    const cross = Matrix.zeros(count, shared);
    const side = Matrix.zeros(count, 1);
    for (let a = 0; a < count; a++) {
      const prior = this.#prior[shared + a]!;
      for (let b = 0; b < count; b++) {
        inner.set(a, b, at(shared + a, shared + b));
      }
      // Where a segment says nothing of a parameter, it stays as it is.
      const hold = prior + 1e-12 * at(shared + a, shared + a) + 1e-30;
      inner.set(a, a, inner.get(a, a) + hold);
      for (let b = 0; b < shared; b++) cross.set(a, b, at(shared + a, b));
      side.set(a, 0, this.#side[shared + a]! - prior * own[a]!);
    }
    const solved = count === 0 ? side : solve(inner, side);
    const moved = count === 0 ? cross : solve(inner, cross);
    this.endPiece();
    for (const piece of this.#pieces) {
      const score = piece.slice(0, shared);
      for (let a = 0; a < shared; a++) {
        for (let j = 0; j < count; j++) {
          score[a]! -= moved.get(j, a) * piece[shared + j]!;
        }
      }
      this.#scores.push(score);
    }
    this.#pieces = [];
    for (let a = 0; a < shared; a++) {
      let value = this.#side[a]!;
      for (let j = 0; j < count; j++) {
        value -= cross.get(j, a) * solved.get(j, 0);
      }
      this.#right[a]! += value;
      for (let b = 0; b < shared; b++) {
        let sum = at(a, b);
        for (let j = 0; j < count; j++) {
          sum -= cross.get(j, a) * moved.get(j, b);
        }
        this.#matrix.set(a, b, this.#matrix.get(a, b) + sum);
      }
    }
    this.#segments.push({ solved: solved.to1DArray(), moved });
    normal.fill(0);
    this.#side.fill(0);
  }

  /**
   * Solves for the changes of all parameters.
   *
   * @param values Values of the shared parameters so far.
   */
  solve(values: ArrayLike<number>): {
    readonly shared: Float64Array;
    readonly own: readonly (readonly number[])[];
    /** Inverse of the shared normal matrix. */
    readonly inverse: readonly (readonly number[])[];
    /** What each piece asks of the shared parameters. */
    readonly scores: readonly Float64Array[];
  } {
    const n = this.shared;
    const matrix = this.#matrix.clone();
    const right = this.#right.slice();
    for (let a = 0; a < n; a++) {
      matrix.set(a, a, matrix.get(a, a) + this.#prior[a]!);
      right[a]! -= this.#prior[a]! * values[a]!;
    }
    const inverse = invertScaled(matrix);
    const change = inverse.map((row) =>
      row.reduce((sum, value, b) => sum + value * right[b]!, 0)
    );
    return {
      shared: Float64Array.from(change),
      own: this.#segments.map(({ solved, moved }) =>
        solved.map((value, j) => {
          let sum = value;
          for (let b = 0; b < n; b++) sum -= moved.get(j, b) * change[b]!;
          return sum;
        })
      ),
      inverse,
      scores: this.#scores,
    };
  }
}

interface Segment {
  readonly solved: readonly number[];
  readonly moved: Matrix;
}

/** Inverse of a symmetric matrix whose parameters have very different sizes. */
function invertScaled(matrix: Matrix): number[][] {
  const n = matrix.rows;
  const scale = Array.from(
    { length: n },
    // A parameter of which nothing is said stays as it is.
    (_, a) => matrix.get(a, a) > 0 ? 1 / Math.sqrt(matrix.get(a, a)) : 1,
  );
  const scaled = Matrix.zeros(n, n);
  for (let a = 0; a < n; a++) {
    for (let b = 0; b < n; b++) {
      scaled.set(a, b, matrix.get(a, b) * scale[a]! * scale[b]!);
    }
    if (!(matrix.get(a, a) > 0)) scaled.set(a, a, 1);
  }
  const { realEigenvalues, eigenvectorMatrix } = new EigenvalueDecomposition(
    scaled,
    { assumeSymmetric: true },
  );
  return Array.from(
    { length: n },
    (_, a) =>
      Array.from({ length: n }, (_, b) => {
        let sum = 0;
        for (let j = 0; j < n; j++) {
          const value = Math.max(realEigenvalues[j]!, 1e-13);
          sum += eigenvectorMatrix.get(a, j) * eigenvectorMatrix.get(b, j) /
            value;
        }
        return sum * scale[a]! * scale[b]!;
      }),
  );
}
