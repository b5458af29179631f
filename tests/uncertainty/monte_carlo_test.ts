import {
  propagateUncertainty,
  type UncertainInput,
  uncertainInput,
} from "fringebook";
import { studentQuantile } from "fringebook/fit";
import { describe, expect, it } from "vitest";

// With 200 000 draws a standard deviation is right to 0.2 %, an end of a 95 %
// interval to about 0.5 % of its half-width (JCGM 101:2008, 7.9.2).
const draws = 200000;

function run(
  model: (v: Readonly<Record<string, number>>) => number,
  inputs: readonly UncertainInput[],
  options = {},
) {
  const budget = propagateUncertainty(model, inputs, { draws, ...options });
  return { ...budget, mc: budget.monteCarlo! };
}

const sum = (v: Readonly<Record<string, number>>) =>
  v.x1! + v.x2! + v.x3! + v.x4!;

describe("Monte Carlo propagation on the examples of JCGM 101:2008", () => {
  it("9.2.2: the sum of four normal inputs has u = 2 and ±3.92", () => {
    const inputs = [1, 2, 3, 4].map((k) =>
      uncertainInput(`x${k}`, 0, { standardUncertainty: 1 })
    );
    const { mc, output } = run(sum, inputs);
    expect(output.standardUncertainty).toBeCloseTo(2, 9);
    expect(Math.abs(mc.standardUncertainty - 2)).toBeLessThan(0.012);
    expect(Math.abs(mc.symmetricInterval[1] - 3.92)).toBeLessThan(0.03);
  });

  it("9.2.3: the sum of four rectangular inputs has u = 2 and ±3.88", () => {
    const inputs = [1, 2, 3, 4].map((k) =>
      uncertainInput(`x${k}`, 0, { halfWidth: Math.sqrt(3) })
    );
    const { mc } = run(sum, inputs);
    expect(Math.abs(mc.standardUncertainty - 2)).toBeLessThan(0.012);
    expect(Math.abs(mc.symmetricInterval[0] + 3.88)).toBeLessThan(0.03);
    expect(Math.abs(mc.symmetricInterval[1] - 3.88)).toBeLessThan(0.03);
  });

  it("9.2.4: one dominating rectangular input gives ±17.0, not the ±19.9 of k = 1.96", () => {
    const inputs = [1, 2, 3, 4].map((k) =>
      uncertainInput(`x${k}`, 0, {
        halfWidth: (k === 4 ? 10 : 1) * Math.sqrt(3),
      })
    );
    const { mc, output } = run(sum, inputs);
    expect(output.standardUncertainty).toBeCloseTo(10.15, 2);
    expect(output.expandedUncertainty).toBeCloseTo(19.9, 1);
    expect(Math.abs(mc.symmetricInterval[1] - 17.0)).toBeLessThan(0.08);
  });

  it("9.3: mass calibration, u = 0.0754 mg where the linear formula says 0.0539", () => {
    const inputs = [
      uncertainInput("mR", 100000, { standardUncertainty: 0.050 }),
      uncertainInput("dmR", 1.234, { standardUncertainty: 0.020 }),
      uncertainInput("air", 1.20, { halfWidth: 0.10 }),
      uncertainInput("weight", 8000, { halfWidth: 1000 }),
      uncertainInput("reference", 8000, { halfWidth: 50 }),
    ];
    const model = (v: Readonly<Record<string, number>>) =>
      (v.mR! + v.dmR!) *
        (1 + (v.air! - 1.2) * (1 / v.weight! - 1 / v.reference!)) - 1e5;
    const { mc, output, warnings } = run(model, inputs, { secondOrder: false });
    expect(output.value).toBeCloseTo(1.2340, 4);
    expect(output.standardUncertainty).toBeCloseTo(0.0539, 4);
    expect(Math.abs(mc.mean - 1.2340)).toBeLessThan(0.0006);
    expect(Math.abs(mc.standardUncertainty - 0.0754)).toBeLessThan(0.0006);
    // [1.0834, 1.3825] in the Supplement, from memory; its ends are known to
    // about 0.002 only, as the distribution is flat there.
    expect(Math.abs(mc.shortestInterval[0] - 1.0834)).toBeLessThan(0.006);
    expect(Math.abs(mc.shortestInterval[1] - 1.3825)).toBeLessThan(0.006);
    expect(warnings.map(({ code }) => code)).toContain("not-linear");
    const second = run(model, inputs, { secondOrder: true });
    expect(second.output.standardUncertainty).toBeCloseTo(0.0750, 3);
  });

  it("9.4: the comparison-loss example, which linear propagation cannot do", () => {
    // Values in units of 1e-6, u(x) = 0.005.
    const rows = [
      { x1: 0, r: 0, mean: 50, u: 50 },
      { x1: 0.010, r: 0, mean: 150, u: 112 },
      { x1: 0.050, r: 0, mean: 2551, u: 502 },
      { x1: 0, r: 0.9, mean: 50, u: 67 },
      { x1: 0.010, r: 0.9, mean: 150, u: 121 },
    ];
    for (const { x1, r, mean, u } of rows) {
      const { mc, output } = run(
        ({ x1, x2 }) => 1e6 * (x1! ** 2 + x2! ** 2),
        [
          uncertainInput("x1", x1, { standardUncertainty: 0.005 }),
          uncertainInput("x2", 0, { standardUncertainty: 0.005 }),
        ],
        { correlations: [{ between: ["x1", "x2"], coefficient: r }] },
      );
      expect(output.value).toBeCloseTo(1e6 * x1 ** 2, 6);
      expect(Math.abs(mc.mean - mean)).toBeLessThan(0.01 * u + 1.5);
      expect(Math.abs(mc.standardUncertainty - u)).toBeLessThan(0.01 * u + 0.5);
    }
  });

  it("9.5: gauge block, u = 36 nm where the linear formula says 32", () => {
    const inputs = [
      uncertainInput("standard", 50000623, {
        standardUncertainty: 25,
        degreesOfFreedom: 18,
      }),
      uncertainInput("difference", 215, {
        standardUncertainty: 6,
        degreesOfFreedom: 24,
      }),
      uncertainInput("random", 0, {
        standardUncertainty: 4,
        degreesOfFreedom: 5,
      }),
      uncertainInput("systematic", 0, {
        standardUncertainty: 7,
        degreesOfFreedom: 8,
      }),
      uncertainInput("expansion", 11.5e-6, { halfWidth: 2e-6 }),
      uncertainInput("mean", -0.1, { standardUncertainty: 0.2 }),
      uncertainInput("cycle", 0, { halfWidth: 0.5, distribution: "arcsine" }),
      uncertainInput("expansionDifference", 0, {
        halfWidth: 1e-6,
        limitHalfWidth: 0.1e-6,
        distribution: "curvilinear trapezoid",
      }),
      uncertainInput("temperatureDifference", 0, {
        halfWidth: 0.050,
        limitHalfWidth: 0.025,
        distribution: "curvilinear trapezoid",
      }),
    ];
    const { mc } = run(
      (v) =>
        (v.standard! * (1 + v.expansion! *
                  (v.mean! + v.cycle! + v.temperatureDifference!)) +
            v.difference! + v.random! + v.systematic!) /
          (1 + (v.expansion! + v.expansionDifference!) *
              (v.mean! + v.cycle!)) - 50000000,
      inputs,
      { coverageProbability: 0.99 },
    );
    expect(Math.abs(mc.mean - 838)).toBeLessThan(1);
    expect(Math.abs(mc.standardUncertainty - 36)).toBeLessThan(0.6);
    // [745, 932] from memory; own draws of 4 million gave [744.4, 931.6].
    expect(Math.abs(mc.shortestInterval[0] - 745)).toBeLessThan(4);
    expect(Math.abs(mc.shortestInterval[1] - 932)).toBeLessThan(4);
  });

  it("NPL DEM-ES-011 9.2: a logarithm of a rectangular input", () => {
    const { mc, output } = run(({ x }) => Math.log(x!), [
      uncertainInput("x", 0.6, { halfWidth: 0.5 }),
    ]);
    expect(output.value).toBeCloseTo(-0.511, 3);
    expect(output.standardUncertainty).toBeCloseTo(0.481, 3);
    expect(Math.abs(mc.mean + 0.665)).toBeLessThan(0.005);
    expect(Math.abs(mc.standardUncertainty - 0.606)).toBeLessThan(0.005);
    expect(Math.abs(mc.shortestInterval[0] + 1.895)).toBeLessThan(0.012);
    expect(Math.abs(mc.shortestInterval[1] - 0.095)).toBeLessThan(0.005);
  });

  it("NIST TN 1900 E13: thermal expansion coefficient", () => {
    const inputs = [
      uncertainInput("L0", 1.4999, {
        standardUncertainty: 1e-4,
        degreesOfFreedom: 3,
      }),
      uncertainInput("L1", 1.5021, {
        standardUncertainty: 2e-4,
        degreesOfFreedom: 3,
      }),
      uncertainInput("T0", 288.15, {
        standardUncertainty: 0.02,
        degreesOfFreedom: 3,
      }),
      uncertainInput("T1", 373.10, {
        standardUncertainty: 0.05,
        degreesOfFreedom: 3,
      }),
    ];
    const { output } = run(
      ({ L0, L1, T0, T1 }) => (L1! - L0!) / (L0! * (T1! - T0!)),
      inputs,
      { draws: 0 },
    );
    expect(output.value * 1e5).toBeCloseTo(1.7266, 3);
    expect(output.standardUncertainty * 1e6).toBeCloseTo(1.76, 2);
  });

  // The values of NIST TN 1900 (Possolo 2015) below as third-party test suites
  // quote them (sandialabs/suncal, test/test_examples.py), but for E2.
  it("NIST TN 1900 E3: falling-ball viscometer, a lopsided result", () => {
    const inputs = [
      uncertainInput("calibration", 4.63, { standardUncertainty: 0.0463 }),
      uncertainInput("time", 61, { standardUncertainty: 6.1 }),
      uncertainInput("calibrationTime", 36.6, { standardUncertainty: 5.49 }),
      uncertainInput("ball", 2217, { standardUncertainty: 0.5 }),
      uncertainInput("liquid", 1180, { standardUncertainty: 0.5 }),
      uncertainInput("calibrationLiquid", 810, { standardUncertainty: 0.5 }),
    ];
    const { mc, output } = run(
      (v) =>
        v.calibration! * v.time! * (v.ball! - v.liquid!) /
        (v.calibrationTime! * (v.ball! - v.calibrationLiquid!)),
      inputs,
    );
    expect(output.value).toBeCloseTo(5.69, 2);
    expect(Math.abs(mc.mean - 5.82)).toBeLessThan(0.01);
    expect(Math.abs(mc.standardUncertainty - 1.11)).toBeLessThan(0.015);
    // The published interval has equal tails.
    expect(Math.abs(mc.symmetricInterval[0] - 4.05)).toBeLessThan(0.015);
    expect(Math.abs(mc.symmetricInterval[1] - 8.39)).toBeLessThan(0.04);
  });

  it("NIST TN 1900 E11: step attenuator, nine inputs of four distributions", () => {
    const arcsine = (name: string, halfWidth: number) =>
      uncertainInput(name, 0, { halfWidth, distribution: "arcsine" });
    const inputs = (scale: number) => [
      uncertainInput("standard", 30.0402, {
        standardUncertainty: scale,
        degreesOfFreedom: 3,
      }),
      uncertainInput("correction", 0.003, { halfWidth: 0.00433 }),
      uncertainInput("zeroA", 0, { standardUncertainty: 0.002 }),
      uncertainInput("zeroB", 0, { standardUncertainty: 0.002 }),
      uncertainInput("roundingA", 0, { halfWidth: 0.0005196 }),
      uncertainInput("roundingB", 0, { halfWidth: 0.0005196 }),
      arcsine("mismatch", 0.02828),
      arcsine("detector", 0.00198),
      arcsine("crosstalk", 0.0029698),
    ];
    const sum = (v: Readonly<Record<string, number>>) =>
      v.standard! + v.correction! - v.zeroA! + v.zeroB! - v.roundingA! +
      v.roundingB! + v.mismatch! + v.detector! + v.crosstalk!;
    const { output } = run(sum, inputs(0.0091), { draws: 0 });
    expect(output.value).toBeCloseTo(30.043, 3);
    expect(output.standardUncertainty).toBeCloseTo(0.0224, 4);
    // The Note scales Student's t of the standard to have 0.0091 as its
    // standard deviation: √3 below the scale of JCGM 101, 6.4.9.
    const { mc } = run(sum, inputs(0.0091 / Math.sqrt(3)));
    expect(Math.abs(mc.mean - 30.043)).toBeLessThan(3e-4);
    expect(Math.abs(mc.standardUncertainty - 0.0224)).toBeLessThan(5e-4);
    expect(Math.abs(mc.symmetricInterval[0] - 30.006)).toBeLessThan(1e-3);
    expect(Math.abs(mc.symmetricInterval[1] - 30.081)).toBeLessThan(1e-3);
  });

  it("NIST TN 1900 E2: mean temperature of a month (from memory)", () => {
    // 22 readings with mean 25.59 °C and standard deviation 4.09 °C: u = 0.872,
    // k = 2.08, [23.8, 27.4] °C. The readings are not at hand.
    const u = 4.09 / Math.sqrt(22);
    const { output } = run(({ mean }) => mean!, [
      uncertainInput("mean", 25.59, {
        standardUncertainty: u,
        degreesOfFreedom: 21,
      }),
    ], { draws: 0 });
    expect(output.standardUncertainty).toBeCloseTo(0.872, 3);
    expect(output.degreesOfFreedom).toBeCloseTo(21, 6);
    const k = studentQuantile(0.975, output.degreesOfFreedom);
    expect(k).toBeCloseTo(2.08, 2);
    expect(25.59 - k * u).toBeCloseTo(23.8, 1);
    expect(25.59 + k * u).toBeCloseTo(27.4, 1);
  });

  it("NIST Uncertainty Machine, example 10: Stefan–Boltzmann constant", () => {
    // User's manual of the NIST Uncertainty Machine (Lafarge & Possolo), as
    // quoted by sandialabs/suncal, test/test_examples.py.
    const inputs = [
      uncertainInput("h", 6.62606957e-34, { standardUncertainty: 2.9e-41 }),
      uncertainInput("R", 8.3144621, { standardUncertainty: 7.5e-6 }),
      uncertainInput("rydberg", 10973731.568539, {
        standardUncertainty: 5.5e-5,
      }),
      uncertainInput("mass", 5.4857990946e-4, { standardUncertainty: 2.2e-13 }),
      uncertainInput("alpha", 7.2973525698e-3, {
        standardUncertainty: 2.4e-12,
      }),
    ];
    const { output, mc } = run(
      (v) =>
        32 * Math.PI ** 5 * v.h! * v.R! ** 4 * v.rydberg! ** 4 /
        (15 * v.mass! ** 4 * 0.001 ** 4 * 299792458 ** 6 * v.alpha! ** 8),
      inputs,
      { coverageProbability: 0.99 },
    );
    expect(output.value * 1e8).toBeCloseTo(5.67037, 5);
    expect(output.standardUncertainty * 1e13).toBeCloseTo(2.05, 2);
    expect(Math.abs(mc.symmetricInterval[0] * 1e8 - 5.67032)).toBeLessThan(
      1e-5,
    );
    expect(Math.abs(mc.symmetricInterval[1] * 1e8 - 5.67043)).toBeLessThan(
      1e-5,
    );
  });

  it("gives the same numbers for the same seed and others for another", () => {
    const input = [uncertainInput("x", 0, { standardUncertainty: 1 })];
    const mean = (seed: number) =>
      propagateUncertainty(({ x }) => x!, input, { draws: 1000, seed })
        .monteCarlo!.mean;
    expect(mean(5)).toBe(mean(5));
    expect(mean(5)).not.toBe(mean(6));
  });
});
