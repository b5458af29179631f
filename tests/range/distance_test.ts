import {
  calibrateTuning,
  estimateThermalLag,
  fitTuningRollOff,
  measureDistance,
  measureSteps,
  rampCurrent,
  simulateCapture,
} from "fringebook";
import { describe, expect, it } from "vitest";
import { rampCapture, refractiveIndex, tuning, wavelength } from "./bench.ts";

const stated = {
  tuning: { value: tuning, standardUncertainty: 0.01 * tuning },
  wavelength: { value: wavelength, standardUncertainty: 1e-9 },
};
const distances = [0.08, 0.1, 0.12, 0.15, 0.18, 0.21, 0.25, 0.3];
/** The light starts 2.3 mm before the zero of the scale. */
const references = distances.map((distance, i) => ({
  distance: distance - 0.0023,
  standardUncertainty: 10e-6,
  steps: measureSteps(rampCapture({ distance, seed: i + 1 })),
}));
const options = { wavelength, refractiveIndex };

describe("calibrateTuning()", () => {
  const calibration = calibrateTuning(references, {
    ...options,
    wavelengthStandardUncertainty: 0.5e-9,
    currentScaleRelativeStandardUncertainty: 0.002,
  });

  it("gives nm/mA and GHz/mA within their uncertainty", () => {
    const { tuning: found, frequencyTuning } = calibration;
    expect(Math.abs(found.value - tuning))
      .toBeLessThan(2 * found.standardUncertainty);
    // dν/dI = -c/λ² dλ/dI: 1 pm is 0.70957 GHz at 650 nm.
    expect(frequencyTuning.value * 1e-12).toBeCloseTo(-8 * 0.70957, 2);
    expect(found.unit).toBe("m/A");
    expect(frequencyTuning.unit).toBe("Hz/A");
  });

  it("is right to far better than 0.2 % apart from what all points share", () => {
    const { stepsPerCurrentAndDistance: slope } = calibration;
    const expected = 2 * refractiveIndex * tuning / wavelength ** 2;
    expect(Math.abs(slope.value / expected - 1)).toBeLessThan(3e-4);
    expect(slope.standardUncertainty / slope.value).toBeLessThan(3e-4);
  });

  it("keeps common uncertainties apart: u² = line² + ammeter² + (2 u(λ)/λ)²", () => {
    const { stepsPerCurrentAndDistance: slope, tuning: found } = calibration;
    expect(found.standardUncertainty / found.value).toBeCloseTo(
      Math.hypot(
        slope.standardUncertainty / slope.value,
        0.002,
        2 * 0.5 / 650,
      ),
      10,
    );
  });

  it("finds where the distance really starts", () => {
    const { zeroOffset } = calibration;
    expect(Math.abs(zeroOffset.value + 0.0023))
      .toBeLessThan(3 * zeroOffset.standardUncertainty);
    expect(zeroOffset.standardUncertainty).toBeLessThan(30e-6);
  });

  it("a common error of the scale's zero widens the zero offset alone", () => {
    // JCGM 100:2008, H.3.6: a common systematic adds to the intercept only.
    const shifted = calibrateTuning(references, {
      ...options,
      distanceOffsetStandardUncertainty: 50e-6,
    });
    const plain = calibrateTuning(references, options);
    expect(shifted.zeroOffset.standardUncertainty).toBeCloseTo(
      Math.hypot(plain.zeroOffset.standardUncertainty, 50e-6),
      10,
    );
    expect(shifted.tuning).toEqual(plain.tuning);
  });

  it("flags a wrong reference distance and no other", () => {
    const wrong = references.map((point, i) =>
      i === 4 ? { ...point, distance: point.distance + 0.5e-3 } : point
    );
    const { diagnostics, warnings } = calibrateTuning(wrong, options);
    expect(diagnostics.points.map(({ outlier }) => outlier))
      .toEqual(distances.map((_, i) => i === 4));
    expect(warnings.map(({ code }) => code)).toContain("reference-outlier");
    expect(calibration.diagnostics.points.some(({ outlier }) => outlier))
      .toBe(false);
  });

  it("tests whether the line is straight", () => {
    expect(calibration.diagnostics.linearity.probability)
      .toBeGreaterThan(0.01);
    const bent = references.map((point) => ({
      ...point,
      distance: point.distance + 0.3 * (point.distance - 0.19) ** 2,
    }));
    const { warnings } = calibrateTuning(bent, options);
    expect(warnings.map(({ code }) => code)).toContain("not-linear");
  });

  it("warns when ramps of different frequencies are mixed", () => {
    const mixed = [
      ...references.slice(0, 3),
      {
        distance: 0.2,
        standardUncertainty: 10e-6,
        steps: measureSteps(
          rampCapture({ distance: 0.2023, frequency: 19.7 }),
        ),
      },
    ];
    expect(calibrateTuning(mixed, options).warnings.map(({ code }) => code))
      .toContain("modulation-frequencies-differ");
  });

  it("refuses what cannot be a calibration", () => {
    expect(() => calibrateTuning(references.slice(0, 1), options))
      .toThrow("from 1 distances");
    expect(() => calibrateTuning(references, { wavelength: 650 }))
      .toThrow('Write 650e-9 or "650nm"');
    const same = references.map((point) => ({ ...point, distance: 0.1 }));
    expect(() => calibrateTuning(same, options)).toThrow("all distances are");
    expect(() =>
      calibrateTuning([
        { ...references[0]!, standardUncertainty: -1 },
        references[1]!,
      ], options)
    ).toThrow("must not be negative");
    expect(() =>
      calibrateTuning([
        { distance: 0.1, standardUncertainty: 0 },
        references[1]!,
      ], options)
    ).toThrow("neither 'capture' nor 'steps'");
  });
});

describe("measureDistance()", () => {
  const calibration = calibrateTuning(references, {
    ...options,
    wavelengthStandardUncertainty: 5e-9,
    currentScaleRelativeStandardUncertainty: 0.01,
  });

  it("finds an unknown distance on the scale of the references", () => {
    for (const distance of [0.0931, 0.1645, 0.2777]) {
      const measured = measureDistance(
        rampCapture({ distance: distance + 0.0023, seed: 99 }),
        { tuning: calibration },
      );
      const { value, standardUncertainty } = measured.distance;
      expect(Math.abs(value - distance)).toBeLessThan(3 * standardUncertainty);
      // Far below the single-fringe figure of 0.3 mm.
      expect(standardUncertainty).toBeLessThan(30e-6);
    }
  });

  it("on the same bench wavelength, air and ammeter cancel: L = L_ref N/N_ref", () => {
    const capture = rampCapture({ distance: 0.2 });
    const same = measureDistance(capture, { tuning: calibration });
    const other = measureDistance(capture, {
      tuning: calibration,
      sameBench: false,
    });
    expect(same.distance.standardUncertainty).toBeLessThan(30e-6);
    expect(other.distance.standardUncertainty).toBeGreaterThan(2e-3);
    expect(same.distance.value).toBeCloseTo(other.distance.value, 5);
    // A wrong wavelength and a wrong ammeter change nothing.
    const wrong = calibrateTuning(references, {
      ...options,
      wavelength: 660e-9,
    });
    expect(measureDistance(capture, { tuning: wrong }).distance.value)
      .toBeCloseTo(same.distance.value, 12);
  });

  it("its budget adds in quadrature to the uncertainty", () => {
    // (u(L)/L)² = (u(N)/N)² + (2u(λ)/λ)² + (u(β)/β)² + (u(ΔI)/ΔI)².
    const measured = measureDistance(rampCapture(), {
      tuning: stated,
      currentScaleRelativeStandardUncertainty: 0.005,
    });
    const { value, standardUncertainty } = measured.distance;
    expect(standardUncertainty / value).toBeCloseTo(
      Math.hypot(
        measured.steps.standardUncertainty / measured.steps.value,
        2 / 650,
        0.01,
        0.005,
      ),
      8,
    );
    expect(standardUncertainty).toBeCloseTo(
      Math.hypot(...measured.budget.map(({ contribution }) => contribution)),
      12,
    );
  });

  it("measures a moving target: distance at mid-record, velocity, sign", () => {
    const velocity = 0.1e-3;
    const measured = measureDistance(
      rampCapture({ distance: (t) => 0.15 + velocity * (t - 0.2) }),
      { tuning: stated },
    );
    expect(Math.abs(measured.distance.value - 0.15)).toBeLessThan(30e-6);
    // v cos θ = λ (f_down - f_up)/(4n), positive receding (Shinohara 1992).
    expect(measured.velocity!.value / velocity).toBeCloseTo(1, 3);
    // v_c = λ f_R/(2n) with N steps in a stroke.
    expect(measured.criticalVelocity).toBeCloseTo(
      wavelength / (2 * refractiveIndex) * measured.steps.value * 2 * 9.83,
      7,
    );
  });

  it("sees a motion beyond the critical velocity by the lean of the fringes", () => {
    const velocity = -0.25e-3;
    const measured = measureDistance(
      rampCapture({
        distance: (t) => 0.15 + velocity * (t - 0.2),
        samplingRate: 20e3,
      }),
      { tuning: stated },
    );
    expect(Math.abs(velocity)).toBeGreaterThan(measured.criticalVelocity);
    expect(Math.abs(measured.distance.value - 0.15)).toBeLessThan(60e-6);
    expect(measured.velocity!.value / velocity).toBeCloseTo(1, 3);
    expect(measured.warnings.map(({ code }) => code))
      .toContain("near-critical-velocity");
  });

  it("says so when even fringes cannot tell above from below the critical velocity", () => {
    const { warnings } = measureDistance(
      rampCapture({
        distance: (t) => 0.15 + 0.1e-3 * (t - 0.2),
        feedbackParameter: 0.05,
      }),
      { tuning: stated },
    );
    expect(warnings.map(({ code }) => code)).toContain("motion-ambiguous");
  });

  it("warns outside of the calibrated range", () => {
    const codes = (capture: ReturnType<typeof rampCapture>) =>
      measureDistance(capture, { tuning: calibration }).warnings
        .map(({ code }) => code);
    expect(codes(rampCapture({ distance: 0.6 })))
      .toContain("outside-distance-range");
    expect(codes(rampCapture({ low: 0.041, high: 0.045 })))
      .toContain("outside-current-range");
    expect(codes(rampCapture({ frequency: 15 }))).toContain(
      "outside-frequency",
    );
    expect(codes(rampCapture({ shape: "sawtooth" }))).toContain(
      "one-direction",
    );
  });

  it("takes a wavelength that falls with the current, and tells the way", () => {
    // Below and above the critical velocity, λf/(2n) = 0.39 mm/s here.
    for (const velocity of [0.1e-3, -0.1e-3, 0.5e-3, -0.5e-3]) {
      const capture = rampCapture({
        distance: (t) => 0.2 + velocity * t,
        low: 0.036,
        high: 0.044,
        diode: { tuning: -tuning },
      });
      const found = measureDistance(capture, {
        tuning: {
          ...stated,
          tuning: { ...stated.tuning, value: -stated.tuning.value },
        },
      });
      // The mean over 0.4 s; a thousandth, as above.
      expect(found.distance.value / (0.2 + 0.2 * velocity)).toBeCloseTo(1, 3);
      expect(found.velocity!.value / velocity).toBeCloseTo(1, 2);
    }
  });

  it("refuses a tuning that is none", () => {
    expect(() =>
      measureDistance(rampCapture(), {
        tuning: { ...stated, tuning: { value: 0, standardUncertainty: 0 } },
      })
    ).toThrow("'tuning' must not be 0");
    expect(() =>
      measureDistance(rampCapture(), { tuning: stated, sameBench: true })
    ).toThrow("not a calibration of this bench");
  });
});

describe("tuning that depends on time", () => {
  it("finds the thermal time constant, and none where there is none", () => {
    const lagging = estimateThermalLag(rampCapture({
      diode: { thermalTimeConstant: 2e-3 },
      feedbackParameter: 0.3,
    }));
    expect(lagging.significant).toBe(true);
    expect(Math.abs(lagging.timeConstant.value / 2e-3 - 1)).toBeLessThan(0.1);
    const none = estimateThermalLag(rampCapture({ feedbackParameter: 0.3 }));
    expect(none.significant).toBe(false);
    expect(none.timeConstant.value).toBe(0);
  });

  it("counts against the lagging current, and finds the tuning without lag", () => {
    const diode = { thermalTimeConstant: 3e-3 };
    const points = [0.08, 0.14, 0.2, 0.26].map((distance, i) => ({
      distance,
      standardUncertainty: 10e-6,
      capture: rampCapture({ distance, diode, seed: i + 1 }),
    }));
    const calibration = calibrateTuning(points, {
      ...options,
      thermalTimeConstant: 3e-3,
    });
    expect(Math.abs(calibration.tuning.value / tuning - 1)).toBeLessThan(2e-3);
    const { distance } = measureDistance(
      rampCapture({ distance: 0.17, diode, seed: 9 }),
      { tuning: calibration, thermalTimeConstant: 3e-3 },
    );
    expect(Math.abs(distance.value - 0.17)).toBeLessThan(50e-6);
  });

  it("knows which way a target goes on a diode whose wavelength falls, once it is told", () => {
    const at = (way: (time: number) => number, seed: number) =>
      simulateCapture({
        distance: way,
        refractiveIndex: 1.00027,
        diode: { tuning: -8e-9 },
        current: rampCurrent({ low: 0.037, high: 0.043, frequency: 20 }),
        samplingRate: 20e3,
        duration: 0.15,
        feedbackParameter: 0.8,
        noise: { signalToNoiseRatio: 30 },
        seed,
      });
    const references = [0.1, 0.15, 0.2].map((distance, k) => ({
      distance,
      standardUncertainty: 2e-5,
      capture: at(() => distance, k),
    }));
    const receding = at((time) => 0.15 + 2e-4 * time, 9);
    const tuning = calibrateTuning(references, {
      wavelength: 650e-9,
      wavelengthGets: "shorter",
      thermalTimeConstant: 0,
    });
    expect(tuning.tuning.value * 1e9).toBeCloseTo(-8, 2);
    expect(tuning.frequencyTuning.value).toBeGreaterThan(0);
    const { velocity, distance } = measureDistance(receding, { tuning });
    expect(velocity!.value * 1e4).toBeCloseTo(2, 1);
    expect(distance.value).toBeCloseTo(0.15, 4);
  });

  it("fits the roll-off with frequency: thermal part, corner, carrier part", () => {
    const points = [10, 30, 100, 300, 1e3, 3e3, 1e4, 1e5].map((f) => {
      const part = Math.sqrt(f / 500 / 2);
      const squared = (1 + part) ** 2 + part ** 2;
      const value = Math.hypot(
        8e-9 * (1 + part) / squared - 0.2e-9,
        8e-9 * part / squared,
      );
      return {
        modulationFrequency: f,
        tuning: { value, standardUncertainty: 1e-3 * value },
      };
    });
    const fit = fitTuningRollOff(points);
    expect(fit.thermalTuning.value * 1e9).toBeCloseTo(8, 3);
    expect(fit.cornerFrequency.value).toBeCloseTo(500, 0);
    expect(fit.carrierTuning.value * 1e9).toBeCloseTo(-0.2, 3);
    expect(() => fitTuningRollOff(points.slice(0, 2))).toThrow(
      "from 2 modulation frequencies",
    );
  });
});
