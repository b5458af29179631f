import { describe, expect, it } from "vitest";
import { createRandom } from "fringebook/signal";
import { gridCoherence, gridEffect } from "fringebook/range/edge_grid.ts";

/** Slope of a least-squares line through edges that are seen at whole samples. */
function seenSpacing(
  numbers: readonly number[],
  spacing: number,
  start: number,
): number {
  const middle = (numbers.length - 1) / 2;
  const squares = numbers.reduce((s, k) => s + (k - middle) ** 2, 0);
  return numbers.reduce(
    (sum, k) => sum + (k - middle) * Math.floor(start + spacing * k),
    0,
  ) / squares;
}

describe("edges that are seen at whole samples", () => {
  it("are off by as much as is said, near a whole number of samples to a step and elsewhere", () => {
    const random = createRandom(5);
    for (const [edges, middle] of [[59, 21], [20, 10.5], [40, 17.3]] as const) {
      const numbers = Array.from({ length: edges }, (_, k) => k);
      let [off, said, plain] = [0, 0, 0];
      for (let k = 0; k < 1000; k++) {
        const spacing = middle + (random.uniform() - 0.5) / edges;
        const seen = seenSpacing(numbers, spacing, random.uniform());
        const { bias, deviation } = gridEffect(numbers, seen, 1);
        off += (seen - bias - spacing) ** 2;
        said += deviation ** 2;
        plain += (seen - spacing) ** 2;
      }
      // 1000 draws scatter by 2 %; the starts and spacings tried are coarse.
      expect(Math.abs(Math.sqrt(off / said) - 1)).toBeLessThan(0.15);
      expect(off).toBeLessThan(plain);
    }
  });

  it("are off alike on strokes of a whole number of samples", () => {
    const stroke = (first: number) => ({
      x: Float64Array.from({ length: 101 }, (_, i) => -1 + first + 0.02 * i),
      y: new Float64Array(101),
    });
    expect(gridCoherence([stroke(0), stroke(0), null])).toBeCloseTo(2 / 3, 9);
    expect(gridCoherence([stroke(0), stroke(0.01)])).toBeLessThan(0.02);
  });
});
