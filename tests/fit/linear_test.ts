import { fitLinear } from "fringebook/fit";
import { describe, expect, it } from "vitest";
import { longley } from "./fixtures/longley.ts";
import { matchingDigits } from "./nist_strd.ts";

describe("fitLinear()", () => {
  it("agrees with the certified Longley values to 9 digits and more", () => {
    // NIST StRD Longley; the condition number of the scaled design is about
    // 4e4, so QR may lose 5 of 16 digits and keeps at least 9.
    const fit = fitLinear(
      longley.rows.map(([, ...x]) => [1, ...x]),
      longley.rows.map(([y]) => y!),
    );
    fit.parameters.forEach((b, j) => {
      expect(matchingDigits(b.value, longley.certified[j]!))
        .toBeGreaterThan(9);
      expect(
        matchingDigits(b.standardUncertainty, longley.standardDeviations[j]!),
      ).toBeGreaterThan(9);
    });
    expect(fit.residualStandardDeviation).toBeCloseTo(304.854073561965, 7);
    expect(fit.rSquared).toBeCloseTo(0.995479004577296, 11);
    expect(fit.chiSquare).toBeCloseTo(836424.055505915, 4);
    expect(fit.degreesOfFreedom).toBe(9);
    expect(fit.warnings).toEqual([]);
  });

  it("names a parameter that the points do not determine", () => {
    const x = [1, 2, 3, 4, 5];
    const fit = fitLinear(x.map((x) => [1, x, 2 * x]), x);
    expect(fit.parameters.map(({ note }) => note)).toEqual([
      null,
      "not determined",
      "not determined",
    ]);
    expect(fit.parameters[1]!.value).toBeNaN();
    expect(fit.parameters[1]!.standardUncertainty).toBeNaN();
    expect(fit.warnings.map(({ code }) => code)).toContain("not-determined");
    expect(fit.diagnostics.fitted[4]).toBeCloseTo(5, 10);
  });

  it("takes known uncertainties as known: (XᵀWX)⁻¹ without the scatter", () => {
    const fit = fitLinear([[1], [1], [1], [1]], [3, 3, 3, 3], {
      standardUncertainties: 2,
      units: ["m"],
    });
    expect(fit.parameters[0]!.standardUncertainty).toBeCloseTo(1, 12);
    expect(fit.parameters[0]!.degreesOfFreedom).toBe(Infinity);
    expect(fit.parameters[0]!.unit).toBe("m");
  });

  it("gives the weighted mean with relative weights", () => {
    const fit = fitLinear([[1], [1]], [0, 3], { weights: [2, 1] });
    expect(fit.parameters[0]!.value).toBeCloseTo(1, 12);
  });

  it("says so when there are no degrees of freedom left", () => {
    const fit = fitLinear([[1, 0], [1, 1]], [1, 2]);
    expect(fit.warnings.map(({ code }) => code)).toContain(
      "no-degrees-of-freedom",
    );
    expect(fit.parameters[0]!.standardUncertainty).toBeNaN();
  });

  it("refuses sizes and numbers that make no sense", () => {
    expect(() => fitLinear([[1]], [1, 2])).toThrow("'design'");
    expect(() => fitLinear([[1, 2]], [1])).toThrow("at least 2 points");
    expect(() => fitLinear([[1], [NaN]], [1, 2])).toThrow("finite");
    expect(() => fitLinear([[1], [1]], [1, Infinity])).toThrow("finite");
    expect(() => fitLinear([], [])).toThrow("at least 1 points");
    expect(() => fitLinear([[1], [1]], [1, 2], { standardUncertainties: 0 }))
      .toThrow("positive");
    expect(() =>
      fitLinear([[1], [1]], [1, 2], {
        standardUncertainties: 1,
        weights: [1, 1],
      })
    ).toThrow("give one of them");
  });
});
