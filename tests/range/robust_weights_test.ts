import { createRandom } from "fringebook/signal";
import { describe, expect, it } from "vitest";
import {
  nthSmallest,
  robustDeviation,
} from "../../lib/range/robust_weights.ts";

describe("the value at a place of a sorted list", () => {
  it("is that of sorting, for all places, with and without ties", () => {
    const random = createRandom(5);
    const kinds: ((size: number, i: number) => number)[] = [
      (size) => size,
      (size) => Math.round(3 * size),
      // All in one class, and some in the last.
      (size, i) => i % 100 === 37 ? 1e12 * size : 1e-12 * size,
      (size, i) => i % 128 === 0 ? 1e300 : size,
      () => 0,
    ];
    for (
      const [kind, length] of kinds.flatMap((kind) =>
        [[kind, 101], [kind, 700]] as const
      )
    ) {
      const values = Float64Array.from(
        { length },
        (_, i) => kind(Math.abs(random.normal()), i),
      );
      const sorted = Float64Array.from(values).sort();
      for (let place = 0; place < values.length; place++) {
        expect(nthSmallest(Float64Array.from(values), place))
          .toBe(sorted[place]);
      }
    }
    expect(nthSmallest(new Float64Array(0), 0)).toBeNaN();
  });

  it("gives the standard deviation of normal residuals, a tenth of them wild", () => {
    const random = createRandom(6);
    const residuals = Float64Array.from(
      { length: 20_000 },
      (_, i) => (i % 10 === 0 ? 50 : 1) * random.normal(),
    );
    // 10 % of outliers move the median size by some 14 %.
    const found = robustDeviation(residuals, residuals.map(() => 1));
    expect(found).toBeGreaterThan(0.97);
    expect(found).toBeLessThan(1.2);
  });
});
