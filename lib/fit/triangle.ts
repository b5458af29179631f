import { checkpoint } from "../progress/mod.ts";

/** Values that are gone through between two checkpoints: a few ms. */
const stride = 1 << 19;

/**
 * The upper triangle R of a QR decomposition by Householder reflections, and
 * further columns turned along; long ones can be interrupted. The operations and
 * their order are those of `QrDecomposition` of ml-matrix, which holds each row as
 * an array of its own: for hundreds of thousands of rows that takes many times as
 * long, and cannot be interrupted.
 *
 * @param columns Equally long columns, at least as long as there are columns;
 * their values change.
 * @param count How many of them, from the first, are reduced to the triangle.
 * @returns Rows 0 … `count` - 1, each with one value per column.
 *
 * Source: Golub, Van Loan, Matrix Computations (Householder QR), from memory.
 */
export function triangleOf(
  columns: readonly Float64Array[],
  count: number,
): number[][] {
  let work = 0;
  const done = (values: number) => {
    work += values;
    if (work < stride) return;
    work = 0;
    checkpoint();
  };
  const diagonal: number[] = [];
  for (let k = 0; k < count; k++) {
    const own = columns[k]!;
    let length = lengthOf(own, k);
    done(4 * own.length);
    if (length !== 0) {
      if (own[k]! < 0) length = -length;
      for (let i = k; i < own.length; i++) own[i]! /= length;
      own[k]! += 1;
      for (let j = k + 1; j < columns.length; j++) {
        reflect(own, columns[j]!, k);
        done(own.length);
      }
    }
    diagonal.push(-length);
  }
  return diagonal.map((own, i) =>
    columns.map((column, j) => j < i ? 0 : j === i ? own : column[i]!)
  );
}

/** Length of a column from row `k` on, without overflow. */
function lengthOf(column: Float64Array, k: number): number {
  let length = 0;
  for (let i = k; i < column.length; i++) {
    const value = column[i]!;
    if (length > Math.abs(value)) {
      const ratio = value / length;
      length *= Math.sqrt(1 + ratio * ratio);
    } else if (value !== 0) {
      const ratio = length / value;
      length = Math.abs(value) * Math.sqrt(1 + ratio * ratio);
    } else length = 0;
  }
  return length;
}

/** Mirrors a column on the plane across a vector, from row `k` on. */
function reflect(vector: Float64Array, column: Float64Array, k: number): void {
  let sum = 0;
  for (let i = k; i < column.length; i++) sum += vector[i]! * column[i]!;
  sum = -sum / vector[k]!;
  for (let i = k; i < column.length; i++) column[i]! += sum * vector[i]!;
}
