import { describe, expect, it } from "vitest";
import {
  countFringes,
  createCapture,
  NotMeasurableError,
  simulateCapture,
} from "fringebook";
import { expectedJumps } from "fringebook/laser";

const wavelength = 650e-9;

describe("countFringes", () => {
  it("counts half a wavelength per fringe, not a wavelength", () => {
    const capture = simulateCapture({
      distance: (time) => 0.1 + 3.25e-6 * time,
      samplingRate: 10e3,
      duration: 1,
      feedbackParameter: 0.5,
      noise: { signalToNoiseRatio: 40 },
      drive: null,
    });
    const { netFringeCount, displacement, direction } = countFringes(capture, {
      wavelength,
    });
    // ΔL = λ/2 per fringe: Donati, Giuliani, Merlo 1995. 0.9999 of 10 fringes.
    expect(Math.abs(netFringeCount.value - 9.999)).toBeLessThan(0.01);
    expect(Math.abs(displacement.value - 3.25e-6 * 0.9999)).toBeLessThan(5e-9);
    expect(direction).toBe("receding");
  });
  it("turns the sign for an approaching target and for an inverting amplifier", () => {
    const bench = (speed: number, inverting: boolean) =>
      simulateCapture({
        distance: (time) => 0.1 + speed * time,
        samplingRate: 10e3,
        duration: 1,
        feedbackParameter: 1.5,
        frontEnd: { inverting },
        noise: { signalToNoiseRatio: 40 },
        drive: null,
      });
    expect(countFringes(bench(-3e-6, false), { wavelength }).direction)
      .toBe("approaching");
    const inverted = countFringes(bench(-3e-6, true), {
      wavelength,
      polarity: -1,
    });
    expect(inverted.direction).toBe("approaching");
    expect(countFringes(bench(3e-6, true), { wavelength }).polarity).toBe(-1);
  });
  it("finds the jumps that theory expects in strong feedback, and says how many fringes have none", () => {
    const capture = simulateCapture({
      distance: (time) => 0.1 + 2e-6 * Math.sin(2 * Math.PI * 20 * time),
      samplingRate: 100e3,
      duration: 0.1,
      feedbackParameter: 5,
      noise: { signalToNoiseRatio: 40 },
      drive: null,
    });
    const result = countFringes(capture, { wavelength });
    expect(result.times.length).toBe(capture.truth.jumpIndices.length);
    // Fringe loss: fewer jumps than fringes in a stroke of 12.3 fringes (Zabit
    // et al. 2010; the thresholds of Yu, Giuliani, Donati 2004).
    const { least } = expectedJumps(4 * Math.PI * 4e-6 / wavelength, 5);
    expect(least).toBe(11);
    // Four whole strokes of 11 jumps, and the two halves at the ends.
    expect(result.missingFringes).toBeGreaterThan(3);
    // 2 periods of 4 strokes' half: 16 µm of way, 49.23 fringes.
    expect(Math.abs(result.fringeCount.value - 49.23)).toBeLessThan(0.1);
  });
  it("says that the direction is not determined for symmetric fringes", () => {
    const capture = simulateCapture({
      distance: (time) => 0.1 + 1e-6 * Math.sin(300 * time),
      samplingRate: 50e3,
      duration: 0.05,
      feedbackParameter: 0,
      noise: { signalToNoiseRatio: 30 },
      drive: null,
    });
    const result = countFringes(capture, { wavelength });
    expect(result.direction).toBe("not determined");
    expect(result.netFringeCount.standardUncertainty).toBeNaN();
    expect(result.warnings.map((w) => w.code))
      .toContain("direction-not-determined");
  });
  it("refuses a signal without fringes and options out of range", () => {
    const flat = createCapture([{
      name: "A",
      role: "monitor signal",
      unit: "V",
      samples: Float64Array.from({ length: 500 }, (_, i) => Math.sin(i * i)),
    }], { samplingRate: 1000 });
    const still = createCapture([{
      name: "A",
      role: "monitor signal",
      unit: "V",
      samples: new Float64Array(500).fill(1),
    }], { samplingRate: 1000 });
    expect(() => countFringes(still, { wavelength })).toThrow(
      NotMeasurableError,
    );
    expect(() => countFringes(flat, { wavelength: 0 })).toThrow(
      "current value is 0",
    );
  });
});
