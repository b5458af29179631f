/** A rectangle, in CSS pixels; empty where `left > right`. */
export interface Box {
  readonly left: number;
  readonly top: number;
  readonly right: number;
  readonly bottom: number;
}

/** The box of nothing. */
export const emptyBox: Box = {
  left: Infinity,
  top: Infinity,
  right: -Infinity,
  bottom: -Infinity,
};

/** The smallest box around two boxes. */
export function joinBoxes(a: Box, b: Box): Box {
  return {
    left: Math.min(a.left, b.left),
    top: Math.min(a.top, b.top),
    right: Math.max(a.right, b.right),
    bottom: Math.max(a.bottom, b.bottom),
  };
}

/** x' = a x + c y + e, y' = b x + d y + f, as in SVG. */
export type Matrix = readonly [number, number, number, number, number, number];

const identity: Matrix = [1, 0, 0, 1, 0, 0];

/**
 * Reads an SVG `transform` attribute.
 *
 * @param text Such as `"translate(80,100) rotate(-90)"`; `null` for none.
 * @returns The matrix.
 */
export function parseTransform(text: string | null): Matrix {
  let matrix = identity;
  for (const [, name, list] of (text ?? "").matchAll(/(\w+)\(([^)]*)\)/g)) {
    const numbers = (list ?? "").split(/[\s,]+/).filter(Boolean).map(Number);
    matrix = multiply(matrix, step(name ?? "", numbers));
  }
  return matrix;
}

function step(name: string, [a = 0, b, c]: number[]): Matrix {
  if (name === "translate") return [1, 0, 0, 1, a, b ?? 0];
  if (name === "scale") return [a, 0, 0, b ?? a, 0, 0];
  if (name !== "rotate") return identity;
  const angle = a * Math.PI / 180;
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  const rotation: Matrix = [cos, sin, -sin, cos, 0, 0];
  if (b === undefined || c === undefined) return rotation;
  return multiply(
    multiply([1, 0, 0, 1, b, c], rotation),
    [1, 0, 0, 1, -b, -c],
  );
}

/** The matrix of first `n`, then `m`. */
export function multiply(m: Matrix, n: Matrix): Matrix {
  return [
    m[0] * n[0] + m[2] * n[1],
    m[1] * n[0] + m[3] * n[1],
    m[0] * n[2] + m[2] * n[3],
    m[1] * n[2] + m[3] * n[3],
    m[0] * n[4] + m[2] * n[5] + m[4],
    m[1] * n[4] + m[3] * n[5] + m[5],
  ];
}

/** The upright box around a transformed box. */
export function transformBox(box: Box, matrix: Matrix): Box {
  if (box.left > box.right) return box;
  const [a, b, c, d, e, f] = matrix;
  let result = emptyBox;
  for (const x of [box.left, box.right]) {
    for (const y of [box.top, box.bottom]) {
      const [u, v] = [a * x + c * y + e, b * x + d * y + f];
      result = joinBoxes(result, { left: u, top: v, right: u, bottom: v });
    }
  }
  return result;
}
