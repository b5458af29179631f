import { describe, expect, it } from "vitest";
import type { PhaseFit } from "../../lib/motion/phase_fit.ts";
import { score } from "../../lib/motion/reading_fit.ts";

/** A made-up fit: what the criterion looks at. */
function fitOf(
  samples: number,
  coefficients: number,
  variance: number,
  amplitude = 1,
): PhaseFit {
  return {
    coefficients: new Float64Array(coefficients),
    residualSquares: variance * samples,
    effectiveSamples: samples,
    sampleCount: samples,
    parameters: { p: 0, q: 0, middle: 0, amplitude, height: null },
  } as unknown as PhaseFit;
}

// Akaike's criterion for few samples, n ln s² + 2k n/(n − k − 1): Hurvich & Tsai,
// Biometrika 76, 297 (1989), with the spline's coefficients and four levels as k.
describe("the evidence for knots, Akaike's criterion", () => {
  it("prefers closer knots from just where the formula breaks even", () => {
    const n = 2000;
    const [few, many] = [20, 40];
    const penalty = (count: number) => {
      const k = count + 4;
      return 2 * k * n / (n - k - 1);
    };
    const even = 0.01 * Math.exp(-(penalty(many) - penalty(few)) / n);
    const stiff = score(fitOf(n, few, 0.01));
    expect(score(fitOf(n, many, 0.999 * even))).toBeLessThan(stiff);
    expect(score(fitOf(n, many, 1.001 * even))).toBeGreaterThan(stiff);
  });

  it("is in the unit of the signal: a larger amplitude with the same residuals is the same", () => {
    expect(score(fitOf(1000, 20, 0.01 / 4, 2)))
      .toBeCloseTo(score(fitOf(1000, 20, 0.01, 1)), 2);
  });

  it("refuses a fit with nearly as many coefficients as samples", () => {
    expect(score(fitOf(100, 70, 1e-6))).toBe(Infinity);
  });
});
