import { fitLine, predictLine } from "fringebook/fit";
import { describe, expect, it } from "vitest";
import odr from "./fixtures/line_odr.json" with { type: "json" };
import { matchingDigits } from "./nist_strd.ts";

/** JCGM 100:2008, table H.6: thermometer readings and corrections, °C. */
const gumH3 = {
  t: [
    21.521,
    22.012,
    22.512,
    23.003,
    23.507,
    23.999,
    24.513,
    25.002,
    25.503,
    26.010,
    26.511,
  ],
  b: [
    -0.171,
    -0.169,
    -0.166,
    -0.159,
    -0.164,
    -0.165,
    -0.156,
    -0.157,
    -0.159,
    -0.161,
    -0.160,
  ],
};

describe("fitLine()", () => {
  it("agrees with the certified Norris values to 11 digits and more", () => {
    // NIST StRD Norris (calibration of ozone monitors), 36 points.
    const text = Deno.readTextFileSync(
      new URL("fixtures/nist_strd/Norris.dat", import.meta.url),
    );
    const rows = text.split("\n").slice(60, 96).map((line) =>
      line.trim().split(/\s+/).map(Number)
    );
    const fit = fitLine(rows.map(([, x]) => x!), rows.map(([y]) => y!));
    const pairs = [
      [fit.intercept.value, -0.262323073774029],
      [fit.intercept.standardUncertainty, 0.232818234301152],
      [fit.slope.value, 1.00211681802045],
      [fit.slope.standardUncertainty, 0.429796848199937e-3],
      [fit.residualStandardDeviation, 0.884796396144373],
      [fit.chiSquare, 26.6173985294224],
      [fit.rSquared, 0.999993745883712],
    ] as const;
    for (const [value, certified] of pairs) {
      // Doubles keep about 11 of NIST's 15 digits in a straight line.
      expect(matchingDigits(value, certified)).toBeGreaterThan(11);
    }
  });

  it("agrees with the thermometer of GUM H.3", () => {
    const fit = fitLine(gumH3.t.map((t) => t - 20), gumH3.b);
    expect(fit.intercept.value).toBeCloseTo(-0.1712, 4);
    expect(fit.intercept.standardUncertainty).toBeCloseTo(0.0029, 4);
    expect(fit.slope.value).toBeCloseTo(0.00218, 5);
    expect(fit.slope.standardUncertainty).toBeCloseTo(0.00067, 5);
    expect(fit.correlation).toBeCloseTo(-0.930, 3);
    expect(fit.residualStandardDeviation).toBeCloseTo(0.0035, 4);
    expect(fit.degreesOfFreedom).toBe(9);
    const at30 = predictLine(fit, 10);
    expect(at30.value).toBeCloseTo(-0.1494, 4);
    expect(at30.standardUncertainty).toBeCloseTo(0.0041, 4);
    expect(at30.degreesOfFreedom).toBe(9);
  });

  it("agrees with Young's modulus against temperature of NBS Handbook 91", () => {
    // Natrella, NBS Handbook 91 (1963), section 5-4.1.
    const x = [30, ...Array.from({ length: 15 }, (_, i) => 100 * (i + 1))];
    const y = [
      4642,
      4612,
      4565,
      4513,
      4476,
      4433,
      4389,
      4347,
      4303,
      4251,
      4201,
      4140,
      4100,
      4073,
      4024,
      3999,
    ];
    const fit = fitLine(x, y);
    expect(fit.slope.value).toBeCloseTo(-0.44985482, 8);
    expect(fit.intercept.value).toBeCloseTo(4654.9846, 4);
    expect(fit.covariance[1]![1]!).toBeCloseTo(2.5649045e-5, 11);
    expect(fit.covariance[0]![0]!).toBeCloseTo(19.879452, 5);
    expect(fit.residualStandardDeviation).toBeCloseTo(9.277617, 5);
  });

  it("agrees with Pearson's data and York's weights: errors in both axes", () => {
    // York, Can. J. Phys. 44, 1079 (1966); York et al. 2004, table I, from
    // memory, and SciPy's ODRPACK (fixtures/line_odr.py), which stops at 1e-8.
    const x = [0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4];
    const y = [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5];
    const wx = [1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1];
    const wy = [1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500];
    const fit = fitLine(x, y, {
      standardUncertaintiesX: wx.map((w) => 1 / Math.sqrt(w)),
      standardUncertaintiesY: wy.map((w) => 1 / Math.sqrt(w)),
    });
    expect(fit.intercept.value).toBeCloseTo(5.47991022, 7);
    expect(fit.slope.value).toBeCloseTo(-0.480533407, 8);
    expect(fit.intercept.standardUncertainty).toBeCloseTo(0.29497, 3);
    expect(fit.slope.standardUncertainty).toBeCloseTo(0.05799, 4);
    expect(fit.slope.value).toBeCloseTo(odr.slope, 6);
    expect(fit.intercept.value).toBeCloseTo(odr.intercept, 6);
    expect(fit.covariance[1]![1]!).toBeCloseTo(odr.covariance[0]![0]!, 6);
    expect(fit.covariance[0]![0]!).toBeCloseTo(odr.covariance[1]![1]!, 5);
    expect(fit.chiSquare).toBeCloseTo(odr.chiSquare, 6);
  });

  it("with tiny x errors gives the same line as with none", () => {
    const x = [1, 2, 3, 4, 5];
    const y = [2.1, 3.9, 6.2, 7.8, 10.1];
    const plain = fitLine(x, y, { standardUncertaintiesY: 0.1 });
    const both = fitLine(x, y, {
      standardUncertaintiesX: 1e-9,
      standardUncertaintiesY: 0.1,
    });
    expect(both.slope.value).toBeCloseTo(plain.slope.value, 10);
    expect(both.intercept.standardUncertainty)
      .toBeCloseTo(plain.intercept.standardUncertainty, 10);
    expect(both.diagnostics.studentizedResiduals[2])
      .toBeCloseTo(plain.diagnostics.studentizedResiduals[2]!, 6);
  });

  it("keeps its digits far from the origin", () => {
    const x = [1e8, 1e8 + 1, 1e8 + 2, 1e8 + 3];
    const fit = fitLine(x, x.map((x) => 2 * (x - 1e8)));
    expect(fit.slope.value).toBeCloseTo(2, 9);
  });

  it("studentised residuals flag the one bad point", () => {
    const x = Array.from({ length: 10 }, (_, i) => i);
    const y = x.map((x, i) =>
      3 * x + 0.1 * Math.sin(7 * i) + (i === 6 ? 2 : 0)
    );
    const fit = fitLine(x, y);
    const largest = fit.diagnostics.studentizedResiduals
      .map(Math.abs).reduce((best, r, i, all) => r > all[best]! ? i : best, 0);
    expect(largest).toBe(6);
    expect(Math.abs(fit.diagnostics.studentizedResiduals[6]!))
      .toBeGreaterThan(10);
  });

  it("refuses what is not a line", () => {
    expect(() => fitLine([1], [1])).toThrow("at least 2 points");
    expect(() => fitLine([1, 1], [1, 2])).toThrow("all 'x' are equal");
    expect(() => fitLine([1, NaN], [1, 2])).toThrow("finite");
    expect(() => fitLine([1, 2], [1])).toThrow("'y' must have 2");
    expect(() => fitLine([1, 2], [1, 2], { standardUncertaintiesX: 1 }))
      .toThrow("'standardUncertaintiesY' is missing");
  });

  it("two points make a line without uncertainty, and it says so", () => {
    const fit = fitLine([0, 1], [1, 3]);
    expect(fit.slope.value).toBeCloseTo(2, 12);
    expect(fit.slope.standardUncertainty).toBeNaN();
    expect(fit.warnings.map(({ code }) => code)).toEqual([
      "no-degrees-of-freedom",
    ]);
  });
});
