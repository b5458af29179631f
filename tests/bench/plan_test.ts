import { describe, expect, it } from "vitest";
import { planMeasurement, type PlanOptions } from "fringebook";

const still: PlanOptions = {
  wavelength: 650e-9,
  // The published figures are those of a vacuum.
  refractiveIndex: 1,
  distance: 0.2,
  samplingRate: 200e3,
};
const verdict = (options: PlanOptions, measurement: string) =>
  planMeasurement(options).verdicts.find((each) =>
    each.measurement === measurement
  )!;

describe("planMeasurement()", () => {
  it("gives 1933 fringes/s for 1 µm at 100 Hz and 650 nm", () => {
    // 2 · 2πfA/λ, worked out by hand.
    const plan = planMeasurement({
      ...still,
      motion: { amplitude: 1e-6, frequency: 100 },
    });
    expect(plan.fringeRate).toBeCloseTo(1933.29, 1);
    expect(plan.neededSamplingRate).toBeCloseTo(4 * plan.fringeRate, 6);
  });

  it("gives 53430 Hz of Doppler for 0.1 m/s at 80° and 650 nm", () => {
    // 2v cos θ/λ, worked out by hand: 53430.2 Hz.
    const plan = planMeasurement({
      ...still,
      surface: { speed: 0.1, angle: 80 / 180 * Math.PI },
    });
    expect(plan.diagnostics.dopplerFrequency).toBeCloseTo(53430.2, 1);
  });

  it("gives the distance of a step λ²/(2nΔλ)", () => {
    // Worked out by hand: 650 nm, 0.02 nm: 10.5625 mm; 850 nm, 0.1 nm:
    // 3.6125 mm; 780 nm, 0.01 nm: 30.42 mm.
    const expected: [number, number, number][] = [
      [650, 0.02, 10.5625],
      [850, 0.1, 3.6125],
      [780, 0.01, 30.42],
    ];
    for (const [nanometres, span, millimetres] of expected) {
      const plan = planMeasurement({
        ...still,
        wavelength: nanometres * 1e-9,
        ramp: {
          tuning: span * 1e-9 / 10e-3,
          currentSpan: 10e-3,
          frequency: 10,
        },
      });
      expect(plan.distancePerStep * 1e3).toBeCloseTo(millimetres, 9);
      expect(plan.stepsPerRamp).toBeCloseTo(200 / millimetres, 9);
      expect(plan.leastDistance).toBeCloseTo(3 * plan.distancePerStep, 12);
    }
  });

  it("gives coherence limits c/(2πΔν)", () => {
    // 1 MHz 47.7 m, 10 MHz 4.77 m, 100 MHz 0.477 m.
    const limit = (linewidth: number) =>
      planMeasurement({ ...still, linewidth }).coherenceLimit;
    expect(limit(1e6)).toBeCloseTo(47.7, 1);
    expect(limit(10e6)).toBeCloseTo(4.77, 2);
    expect(limit(100e6)).toBeCloseTo(0.477, 3);
  });

  it("gives the critical speed λ f_R/(2n) of a ramp", () => {
    // Shinohara et al. 1992: Doppler frequency equal to the step rate.
    const plan = planMeasurement({
      ...still,
      ramp: { tuning: 8e-9, currentSpan: 10e-3, frequency: 20 },
    });
    const { stepRate } = plan.diagnostics;
    expect(stepRate).toBeCloseTo(2 * 20 * plan.stepsPerRamp, 9);
    expect(plan.criticalSpeed).toBeCloseTo(650e-9 * stepRate / 2, 15);
  });

  it("gives the resolution of one ramp by the bound of a tone's frequency", () => {
    const plan = planMeasurement({
      ...still,
      signalToNoiseRatio: 30,
      ramp: { tuning: 8e-9, currentSpan: 10e-3, frequency: 20 },
    });
    // Rife, Boorstyn 1974: var(f) = 24 σ² fs²/[(2π)² A² N(N² - 1)]; the steps
    // are f N/fs; A²/σ² = 2000; N = 5000.
    const samples = 5000;
    const variance = 24 / 2000 * 200e3 ** 2 /
      ((2 * Math.PI) ** 2 * samples * (samples ** 2 - 1));
    const expected = Math.sqrt(variance) * samples / 200e3 *
      plan.distancePerStep;
    expect(plan.distanceResolution / expected).toBeCloseTo(1, 6);
  });

  it("gives the smallest motion by noise on the slope of a fringe", () => {
    // σ_x = λ/(4π) σ/A; 30 dB: A²/2 = 1000 σ².
    const { smallestMotion } = planMeasurement({
      ...still,
      signalToNoiseRatio: 30,
    });
    const expected = 650e-9 / (4 * Math.PI) / Math.sqrt(2000);
    expect(smallestMotion / expected).toBeCloseTo(1, 9);
  });

  it("finds an ordinary bench fit for everything", () => {
    const plan = planMeasurement({
      ...still,
      motion: { amplitude: 1e-6, frequency: 20 },
      surface: { speed: 1e-4, angle: 0 },
      ramp: { tuning: 8e-9, currentSpan: 10e-3, frequency: 250 },
      bandwidth: 500e3,
    });
    expect(plan.verdicts.map(({ feasible }) => feasible))
      .toEqual(["yes", "yes", "yes", "yes"]);
    expect(plan.warnings).toEqual([]);
    expect(plan.rows.length).toBe(10);
  });

  it("says what limits: sampling, bandwidth, coherence, noise, steps, motion", () => {
    const motion = { amplitude: 3e-6, frequency: 200 };
    const ramp = { tuning: 8e-9, currentSpan: 10e-3, frequency: 20 };
    const cases: [PlanOptions, string, string, string][] = [
      [
        { ...still, motion, samplingRate: 8e3 },
        "count fringes",
        "no",
        "sampling rate",
      ],
      [
        { ...still, motion, bandwidth: 5e3 },
        "count fringes",
        "no",
        "bandwidth",
      ],
      [
        { ...still, motion, bandwidth: 15e3 },
        "count fringes",
        "with care",
        "bandwidth",
      ],
      [
        { ...still, motion, linewidth: 1e9 },
        "count fringes",
        "no",
        "coherence",
      ],
      [
        { ...still, motion, signalToNoiseRatio: 3 },
        "count fringes",
        "no",
        "noise",
      ],
      [
        { ...still, motion, feedbackParameter: 6 },
        "count fringes",
        "with care",
        "strong feedback",
      ],
      [
        { ...still, motion, feedbackParameter: 0.05 },
        "count fringes",
        "with care",
        "weak feedback",
      ],
      [
        { ...still, motion, couplingCorner: 20e3 },
        "count fringes",
        "with care",
        "coupling capacitor",
      ],
      [
        { ...still, motion: { amplitude: 50e-9, frequency: 100 } },
        "count fringes",
        "no",
        "small motion",
      ],
      [
        { ...still, motion: { amplitude: 1e-10, frequency: 100 } },
        "vibration within a fringe",
        "no",
        "noise",
      ],
      [
        { ...still, ramp, distance: 0.005 },
        "distance from a ramp",
        "no",
        "few steps",
      ],
      [
        { ...still, ramp, surface: { speed: 0.01, angle: 0 } },
        "distance from a ramp",
        "no",
        "moving target",
      ],
      [
        { ...still, surface: { speed: 1, angle: 0 } },
        "Doppler speed",
        "no",
        "sampling rate",
      ],
    ];
    for (const [options, measurement, feasible, limitedBy] of cases) {
      const found = verdict(options, measurement);
      expect({ limitedBy: found.limitedBy, feasible: found.feasible })
        .toEqual({ limitedBy, feasible });
      expect(planMeasurement(options).warnings.map(({ code }) => code))
        .toContain(limitedBy.replaceAll(" ", "-"));
    }
  });

  it("refuses numbers that are not positive", () => {
    expect(() => planMeasurement({ ...still, distance: 0 })).toThrow(
      "'distance' must be above 0",
    );
    expect(() =>
      planMeasurement({ ...still, motion: { amplitude: -1, frequency: 1 } })
    ).toThrow("'motion.amplitude' must be above 0");
  });
});
