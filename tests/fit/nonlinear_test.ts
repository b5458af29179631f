import { fitNonlinear, pointwise } from "fringebook/fit";
import { describe, expect, it } from "vitest";

const decay = pointwise(([a, rate], t) => a! * Math.exp(-rate! * t));
const t = [0, 1, 2, 3, 4, 5, 6, 7];
const y = t.map((t) => 3 * Math.exp(-0.5 * t));

describe("fitNonlinear()", () => {
  it("names a parameter that ends at its bound", () => {
    const fit = fitNonlinear(decay, t, y, [1, 0.1], { upper: [2, Infinity] });
    expect(fit.parameters[0]).toMatchObject({ value: 2, note: "at bound" });
    expect(fit.parameters[0]!.standardUncertainty).toBeNaN();
    expect(fit.parameters[1]!.standardUncertainty).toBeGreaterThan(0);
    expect(fit.warnings.map(({ code }) => code)).toContain("at-bound");
  });

  it("names a parameter that the points do not determine", () => {
    const model = pointwise(([a, b, c], t) => a! * b! * t + 0 * c!);
    const fit = fitNonlinear(model, t, t, [1, 2, 3]);
    expect(fit.parameters.map(({ note }) => note)).toEqual([
      "not determined",
      "not determined",
      "not determined",
    ]);
    expect(fit.diagnostics.fitted[7]).toBeCloseTo(7, 6);
  });

  it("keeps fixed parameters", () => {
    const fit = fitNonlinear(decay, t, y, [3, 1], { fixed: [true, false] });
    expect(fit.parameters[0]).toMatchObject({ value: 3, note: "fixed" });
    expect(fit.parameters[1]!.value).toBeCloseTo(0.5, 8);
    expect(fit.degreesOfFreedom).toBe(7);
  });

  it("gives the same with written and with numerical derivatives", () => {
    const noisy = y.map((y, i) => y + 0.01 * Math.cos(5 * i));
    const numerical = fitNonlinear(decay, t, noisy, [1, 1]);
    const written = fitNonlinear(decay, t, noisy, [1, 1], {
      jacobian: ([a, rate], t) => [
        Float64Array.from(t, (t) => Math.exp(-rate! * t)),
        Float64Array.from(t, (t) => -t * a! * Math.exp(-rate! * t)),
      ],
    });
    expect(written.parameters[1]!.value)
      .toBeCloseTo(numerical.parameters[1]!.value, 8);
    expect(written.parameters[1]!.standardUncertainty)
      .toBeCloseTo(numerical.parameters[1]!.standardUncertainty, 8);
  });

  it("says that it did not settle when it is stopped early", () => {
    const fit = fitNonlinear(decay, t, y, [100, 5], { maximumIterations: 2 });
    expect(fit.converged).toBe(false);
    expect(fit.reason).toContain("2 iterations");
    expect(fit.warnings.map(({ code }) => code)).toContain("not-converged");
  });

  it("steps back from where the model is not finite", () => {
    const model = pointwise(([a], t) => Math.sqrt(a!) * t);
    const fit = fitNonlinear(model, t, t.map((t) => 0.1 * t), [4]);
    expect(fit.parameters[0]!.value).toBeCloseTo(0.01, 8);
  });

  it("refuses what cannot be fitted", () => {
    expect(() => fitNonlinear(decay, [0], [1], [1, 1])).toThrow("at least 2");
    expect(() => fitNonlinear(decay, t, y, [NaN, 1])).toThrow("'start'");
    expect(() =>
      fitNonlinear(decay, t, y, [1, 1], { lower: [2, 0], upper: [1, 1] })
    )
      .toThrow("'lower' is above 'upper'");
    expect(() => fitNonlinear(() => [1, 2], t, y, [1])).toThrow(
      "gives 2 values",
    );
    expect(() => fitNonlinear(() => new Array(8).fill(NaN), t, y, [1]))
      .toThrow("not finite at the start");
  });
});
