import {
  chiSquareProbability,
  chiSquareQuantile,
  fisherProbability,
  normalProbability,
  normalQuantile,
  studentProbability,
  studentQuantile,
} from "fringebook/fit";
import { describe, expect, it } from "vitest";
import reference from "./fixtures/distributions.json" with { type: "json" };

/** Relative difference, or absolute near zero. */
function difference(a: number, b: number): number {
  return Math.abs(a - b) / Math.max(1, Math.abs(b));
}

// The reference numbers are SciPy's (fixtures/distributions.py). The library
// behind these functions stops its series at about 1e-7.
describe("quantiles and probabilities", () => {
  it("normalQuantile() agrees with SciPy and inverts normalProbability()", () => {
    for (const [p, z] of reference.normal as [number, number][]) {
      expect(difference(normalQuantile(p), z)).toBeLessThan(1e-9);
      expect(difference(normalProbability(z), p)).toBeLessThan(1e-9);
    }
  });

  it("studentQuantile() agrees with SciPy for whole and broken degrees of freedom", () => {
    for (const [p, nu, t] of reference.student as [number, number, number][]) {
      expect(difference(studentQuantile(p, nu), t)).toBeLessThan(2e-6);
      expect(difference(studentProbability(t, nu), p)).toBeLessThan(1e-6);
    }
  });

  it("studentQuantile() with infinite degrees of freedom is the normal quantile", () => {
    expect(studentQuantile(0.975, Infinity)).toBe(normalQuantile(0.975));
  });

  it("chiSquareQuantile() agrees with SciPy", () => {
    for (
      const [p, nu, c] of reference.chiSquare as [number, number, number][]
    ) {
      expect(difference(chiSquareQuantile(p, nu), c)).toBeLessThan(1e-6);
      expect(difference(chiSquareProbability(c, nu), p)).toBeLessThan(1e-6);
    }
  });

  it("fisherProbability() agrees with SciPy", () => {
    for (
      const [x, a, b, p] of reference.fisher as [
        number,
        number,
        number,
        number,
      ][]
    ) {
      expect(difference(fisherProbability(x, a, b), p)).toBeLessThan(1e-6);
    }
  });

  it("GUM table G.2 gives the coverage factors", () => {
    // JCGM 100:2008, table G.2, printed to two decimals.
    const rows = [[1, 12.71], [3, 3.18], [8, 2.31], [16, 2.12], [50, 2.01]];
    for (const [nu, k] of rows) {
      expect(Math.abs(studentQuantile(0.975, nu!) - k!)).toBeLessThan(0.005);
    }
  });

  it("refuses probabilities and degrees of freedom that have no meaning", () => {
    expect(() => normalQuantile(1)).toThrow("between 0 and 1");
    expect(() => studentQuantile(0.975, 0)).toThrow("must be positive");
    expect(() => studentQuantile(NaN, 5)).toThrow("between 0 and 1");
    expect(() => chiSquareQuantile(0.5, -1)).toThrow("must be positive");
  });
});
