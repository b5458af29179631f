import {
  propagateUncertainty,
  readingStatistics,
  uncertainInput,
} from "fringebook";
import { describe, expect, it } from "vitest";

describe("propagateUncertainty() on the examples of the GUM", () => {
  // JCGM 100:2008, H.1: the length of an end gauge, in nm.
  const endGauge = [
    uncertainInput("standard", 50000623, {
      standardUncertainty: 25,
      degreesOfFreedom: 18,
    }),
    uncertainInput("difference", 215, {
      standardUncertainty: 9.7,
      degreesOfFreedom: 25.6,
    }),
    uncertainInput("expansion", 11.5e-6, { halfWidth: 2e-6 }),
    uncertainInput("expansionDifference", 0, {
      standardUncertainty: 0.58e-6,
      degreesOfFreedom: 50,
    }),
    uncertainInput("temperature", -0.1, { standardUncertainty: 0.41 }),
    uncertainInput("temperatureDifference", 0, {
      standardUncertainty: 0.029,
      degreesOfFreedom: 2,
    }),
  ];
  const length = (v: Readonly<Record<string, number>>) =>
    v.standard! + v.difference! - v.standard! *
      (v.expansionDifference! * v.temperature! +
        v.expansion! * v.temperatureDifference!);

  it("H.1: the end gauge, u = 32 nm with 16 degrees of freedom, U99 = 93 nm", () => {
    const { output, lines } = propagateUncertainty(length, endGauge, {
      coverageProbability: 0.99,
      unit: "nm",
    });
    expect(output.value).toBeCloseTo(50000838, 6);
    expect(output.standardUncertainty).toBeCloseTo(31.71, 1);
    expect(Math.floor(output.degreesOfFreedom)).toBe(16);
    // Printed 2.92 (for 16) and 93.
    expect(Math.abs(output.coverageFactor - 2.92)).toBeLessThan(0.02);
    expect(Math.abs(output.expandedUncertainty - 93)).toBeLessThan(1);
    const contribution = (name: string) =>
      lines.find((line) => line.name === name)!.contribution;
    expect(contribution("standard")).toBeCloseTo(25, 6);
    expect(contribution("difference")).toBeCloseTo(9.7, 6);
    expect(contribution("expansionDifference")).toBeCloseTo(2.9, 1);
    expect(contribution("temperatureDifference")).toBeCloseTo(16.6, 0);
  });

  it("H.1.7: with second-order terms u = 34 nm", () => {
    const { output } = propagateUncertainty(length, endGauge, {
      secondOrder: true,
    });
    expect(output.standardUncertainty).toBeCloseTo(33.911, 1);
  });

  // JCGM 100:2008, H.2: resistance, reactance and impedance, read together.
  const readings = readingStatistics([
    [5.007, 4.994, 5.005, 4.990, 4.999],
    [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3],
    [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
  ]);

  it("H.2: means, uncertainties and correlations of simultaneous readings", () => {
    expect(readings.means[0]).toBeCloseTo(4.9990, 6);
    expect(readings.means[1]).toBeCloseTo(19.6610e-3, 8);
    expect(readings.means[2]).toBeCloseTo(1.04446, 6);
    expect(readings.standardUncertainties[0]).toBeCloseTo(0.0032, 4);
    expect(readings.standardUncertainties[1]).toBeCloseTo(0.0095e-3, 7);
    expect(readings.standardUncertainties[2]).toBeCloseTo(0.00075, 5);
    expect(readings.correlations[0]![1]).toBeCloseTo(-0.36, 2);
    expect(readings.correlations[0]![2]).toBeCloseTo(0.86, 2);
    expect(readings.correlations[1]![2]).toBeCloseTo(-0.65, 2);
  });

  it("H.2: resistance, reactance and impedance from correlated inputs", () => {
    const names = ["voltage", "current", "phase"];
    const inputs = names.map((name, i) =>
      uncertainInput(name, readings.means[i]!, {
        standardUncertainty: readings.standardUncertainties[i]!,
      })
    );
    const correlations = [[0, 1], [0, 2], [1, 2]].map(([i, j]) => ({
      between: [names[i!]!, names[j!]!] as const,
      coefficient: readings.correlations[i!]![j!]!,
    }));
    const run = (f: (u: number, i: number, phi: number) => number) =>
      propagateUncertainty(
        ({ voltage, current, phase }) => f(voltage!, current!, phase!),
        inputs,
        { correlations, unit: "Ω" },
      ).output;
    const resistance = run((u, i, phi) => u / i * Math.cos(phi));
    const reactance = run((u, i, phi) => u / i * Math.sin(phi));
    const impedance = run((u, i) => u / i);
    // Printed 127.732(71), 219.847(295), 254.260(236) Ω.
    expect(resistance.value).toBeCloseTo(127.732, 3);
    expect(resistance.standardUncertainty).toBeCloseTo(0.071, 3);
    expect(reactance.value).toBeCloseTo(219.847, 3);
    // 0.29558 from the readings; the GUM prints 0.295.
    expect(Math.abs(reactance.standardUncertainty - 0.295)).toBeLessThan(0.001);
    expect(impedance.value).toBeCloseTo(254.260, 3);
    expect(impedance.standardUncertainty).toBeCloseTo(0.236, 3);
  });

  it("the budget of a distance: 1.179 % (sum in quadrature by hand)", () => {
    // L = N λ²/(2 n β ΔI): 0.211, 0.308, 1 and 0.5 %.
    const { output } = propagateUncertainty(
      ({ steps, wavelength, tuning, span }) =>
        steps! * wavelength! ** 2 / (2 * tuning! * span!),
      [
        uncertainInput("steps", 47.34, { standardUncertainty: 0.1 }),
        uncertainInput("wavelength", 650e-9, { standardUncertainty: 1e-9 }),
        uncertainInput("tuning", 8e-9, { standardUncertainty: 8e-11 }),
        uncertainInput("span", 2.5e-3, { standardUncertainty: 1.25e-5 }),
      ],
      { unit: "m" },
    );
    expect(output.value).toBeCloseTo(0.500, 3);
    expect(100 * output.standardUncertainty / output.value)
      .toBeCloseTo(1.179, 3);
  });

  it("fully correlated inputs add linearly, opposite ones cancel", () => {
    const inputs = ["a", "b"].map((name) =>
      uncertainInput(name, 1, { standardUncertainty: 0.3 })
    );
    const u = (coefficient: number) =>
      propagateUncertainty(({ a, b }) => a! + b!, inputs, {
        correlations: [{ between: ["a", "b"], coefficient }],
        draws: 1000,
      }).output.standardUncertainty;
    expect(u(1)).toBeCloseTo(0.6, 9);
    expect(u(-1)).toBeCloseTo(0, 6);
  });

  it("refuses inputs that make no sense", () => {
    expect(() => uncertainInput("a", NaN, { standardUncertainty: 1 }))
      .toThrow("finite");
    expect(() => uncertainInput("a", 1, { standardUncertainty: -1 }))
      .toThrow("not negative");
    expect(() => uncertainInput("a", 1, {})).toThrow("half-width");
    const a = uncertainInput("a", 1, { standardUncertainty: 1 });
    expect(() => propagateUncertainty(({ a }) => a!, [a, a]))
      .toThrow("two inputs are called 'a'");
    expect(() => propagateUncertainty(() => NaN, [a])).toThrow("gives NaN");
    expect(() =>
      propagateUncertainty(({ a }) => a!, [a], {
        correlations: [{ between: ["a", "x"], coefficient: 1 }],
      })
    ).toThrow("no such input");
  });
});
