import { describe, expect, it } from "vitest";
import {
  linearColumns,
  nonlinearColumns,
} from "../../lib/range/feedback_columns.ts";
import { evenly, legendreColumns } from "../../lib/range/normal_equations.ts";
import { bisectedPhase } from "../laser/bisected_phase.ts";

const order = 2;

/** z of t = z + C sin z, by bisection, on the branch around 0 turns of t. */
function anglesOf(t: Float64Array, c: number): Float64Array {
  return t.map((value) =>
    bisectedPhase(value, c, 0, Math.round(value / (2 * Math.PI)))
  );
}

describe("the derivatives of the fit of a ramp", () => {
  for (const c of [0.1, 0.6, 0.9]) {
    it(`are those of the model by finite differences at C = ${c}`, () => {
      const x = evenly(301);
      const polynomials = legendreColumns(x, order);
      const [offset, phase, a, b, growth] = [0.7, [11.3, 0.4], 0.8, -0.3, 0.2];
      const tOf = (by: number, slope: readonly number[]) =>
        x.map((_, i) =>
          by - slope[0]! * polynomials[1]![i]! - slope[1]! * polynomials[2]![i]!
        );
      const model = (
        by: number,
        slope: readonly number[],
        feedback: number,
      ) =>
        anglesOf(tOf(by, slope), feedback).map((z, i) =>
          (1 + growth * x[i]!) * (a * Math.cos(z) + b * Math.sin(z))
        );
      const angle = anglesOf(tOf(offset, phase), c);
      const course = { cosine: angle.map(Math.cos), sine: angle.map(Math.sin) };
      const linear = linearColumns(x, polynomials, course, growth);
      const now = model(offset, phase, c);
      const sum = linear[3]!.map((even, i) => a * even + b * linear[4]![i]!);
      expect(farthest(sum, now)).toBeLessThan(1e-9);

      const columns = nonlinearColumns(
        x,
        polynomials,
        course,
        growth,
        a,
        b,
        c,
        order,
      );
      const h = 1e-6;
      const by = [
        (d: number) => model(offset + d, phase, c),
        (d: number) => model(offset, [phase[0]! + d, phase[1]!], c),
        (d: number) => model(offset, [phase[0]!, phase[1]! + d], c),
        (d: number) => model(offset, phase, c + d),
      ];
      by.forEach((of, k) => {
        const [above, below] = [of(h), of(-h)];
        const slope = above.map((value, i) => (value - below[i]!) / (2 * h));
        // h² times the third derivative, at most (1 − C)⁻⁵ of the amplitude.
        expect(farthest(columns[k]!, slope)).toBeLessThan(
          1e-7 + 10 * h * h / (1 - c) ** 5,
        );
      });
    });
  }
});

function farthest(a: Float64Array, b: Float64Array): number {
  return Math.max(...a.map((value, i) => Math.abs(value - b[i]!)));
}
