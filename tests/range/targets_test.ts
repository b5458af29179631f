import { createCapture, simulateCapture } from "fringebook";
import { findTargets } from "fringebook/range";
import { describe, expect, it } from "vitest";
import { targetsCapture, tuning, wavelength } from "./two_targets.ts";

const given = { tuning: { tuning, wavelength } };

describe("findTargets()", () => {
  it("finds one target where there is one, also with leaning fringes", () => {
    const found = findTargets(
      targetsCapture({ distances: [0.2], feedback: [0.7] }),
      given,
    );
    expect(found.verdict).toBe("one target");
    // N = 2 n L Δλ/λ² (Beheim and Fritsch 1986), worked out by hand: 75.76.
    expect(Math.abs(found.targets[0]!.steps.value - 75.76)).toBeLessThan(0.02);
    expect(found.warnings.map(({ code }) => code)).toEqual(["saw-teeth"]);
  });

  it("finds a plate at 90 mm and the card at 250 mm behind it, within U", () => {
    const { verdict, targets } = findTargets(
      targetsCapture({ distances: [0.09, 0.25], feedback: [0.25, 0.2] }),
      given,
    );
    expect(verdict).toBe("two targets");
    [0.09, 0.25].forEach((truth, k) => {
      const { value, expandedUncertainty } = targets[k]!.distance!;
      expect(Math.abs(value - truth)).toBeLessThan(expandedUncertainty);
      expect(expandedUncertainty).toBeLessThan(1e-3);
    });
  });

  it("names targets that stand too close, and one at twice the distance", () => {
    const close = findTargets(
      targetsCapture({ distances: [0.2, 0.203], feedback: [0.2, 0.2] }),
      given,
    );
    expect(close.verdict).toBe("not resolved");
    expect(close.warnings.map(({ code }) => code)).toContain("not-resolved");
    const double = findTargets(
      targetsCapture({ distances: [0.1, 0.2], feedback: [0.3, 0.05] }),
      given,
    );
    expect(double.verdict).not.toBe("two targets");
    expect(double.targets.length).toBe(1);
    expect(double.warnings.length).toBeGreaterThan(0);
  });

  it("says that there is nothing on an empty ramp", () => {
    const capture = targetsCapture({
      distances: [0.2],
      feedback: [0.2],
      decibels: -40,
    });
    expect(() => findTargets(capture)).toThrow("no rate of fringes stands out");
    const still = simulateCapture({
      distance: 0.2,
      samplingRate: 1e4,
      duration: 0.1,
    });
    expect(() => findTargets(still)).toThrow("does not change");
    const [signal, drive] = capture.channels;
    const gaps = signal!.samples.map((value, i) => i === 4000 ? NaN : value);
    expect(() =>
      findTargets(createCapture([{ ...signal!, samples: gaps }, drive!], {
        samplingRate: 100e3,
      }))
    ).toThrow("are missing");
  });
});
