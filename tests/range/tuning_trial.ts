import {
  calibrateTuning,
  measureDistance,
  measureSteps,
  quantity,
  type RampSteps,
} from "fringebook";
import { createRandom } from "fringebook/signal";
import { describe, expect, it } from "vitest";
import { rampCapture, refractiveIndex, tuning, wavelength } from "./bench.ts";
import { rms, share } from "./statistics.ts";

const random = createRandom(716);
const distances = [0.08, 0.1, 0.12, 0.15, 0.18, 0.21, 0.25, 0.3];
const options = { wavelength, refractiveIndex };
const slope = 2 * refractiveIndex * tuning / wavelength ** 2;

describe("calibrateTuning() on seeded captures of 8 distances", () => {
  it("finds the tuning within 0.2 %, and intervals that hold the truth", () => {
    // 20 calibrations of 8 captures: C 0.1 to 4, 15 to 40 dB, references right
    // to 50 µm.
    const relative: number[] = [];
    const ratios: number[] = [];
    for (let k = 0; k < 20; k++) {
      const feedbackParameter = 0.1 * 40 ** random.uniform();
      const signalToNoiseRatio = 15 + 25 * random.uniform();
      const calibration = calibrateTuning(
        distances.map((distance, i) => ({
          distance: distance + 50e-6 * random.normal(),
          standardUncertainty: 50e-6,
          capture: rampCapture({
            distance,
            feedbackParameter,
            signalToNoiseRatio,
            samplingRate: 6e3,
            duration: 0.25,
            frequency: 9.83,
            bandwidth: 1.5e3,
            oversampling: 4,
            seed: 100 * k + i,
          }),
        })),
        options,
      );
      const { value, standardUncertainty } = calibration.tuning;
      relative.push(value / tuning - 1);
      ratios.push((value - tuning) / standardUncertainty);
    }
    console.log(
      `tuning from 8 distances: relative rms ${rms(relative).toExponential(2)}`,
      `largest ${Math.max(...relative.map(Math.abs)).toExponential(2)}`,
      `in ±2 u ${(100 * share(ratios, (r) => Math.abs(r) < 2)).toFixed(0)} %`,
    );
    expect(rms(relative)).toBeLessThan(1e-3);
    expect(share(relative, (r) => Math.abs(r) < 2e-3)).toBe(1);
  });
});

/** Counted steps as they would be at a distance, without a capture. */
const template = measureSteps(rampCapture({ duration: 0.25 }));
function stepsAt(distance: number, u: number): RampSteps {
  const value = slope * distance + u * random.normal();
  return {
    ...template,
    steps: quantity(value * 0.004, u * 0.004, "1"),
    stepsPerCurrent: quantity(value, u, "1/A"),
  } as RampSteps;
}

describe("calibrateTuning() on 1000 seeded sets of references", () => {
  // In 1/A: 20 µm of distance, as of 15 dB on a few ramps.
  const u = 0.8;
  const uDistance = 30e-6;
  const set = () =>
    distances.map((distance) => ({
      distance: distance + uDistance * random.normal(),
      standardUncertainty: uDistance,
      steps: stepsAt(distance + 0.0023, u),
    }));

  it("95 % intervals of tuning, zero offset and distance hold the truth in 93 to 97 %", () => {
    const inside = { tuning: 0, zero: 0, distance: 0 };
    const count = 1000;
    for (let k = 0; k < count; k++) {
      const calibration = calibrateTuning(set(), options);
      const { tuning: found, zeroOffset } = calibration;
      if (
        Math.abs(found.value - tuning) < 1.96 * found.standardUncertainty
      ) inside.tuning++;
      if (
        Math.abs(zeroOffset.value + 0.0023) <
          1.96 * zeroOffset.standardUncertainty
      ) inside.zero++;
      const truth = 0.08 + 0.22 * random.uniform();
      const steps = stepsAt(truth + 0.0023, u);
      const perSlope = calibration.stepsPerCurrentAndDistance.value;
      const [[va, cab], [, vb]] = calibration.lineCovariance as [
        [number, number],
        [number, number],
      ];
      const value = zeroOffset.value + steps.stepsPerCurrent.value / perSlope;
      const deviation =
        Math.sqrt(u * u + va + 2 * value * cab + value * value * vb) / perSlope;
      if (Math.abs(value - truth) < 1.96 * deviation) inside.distance++;
    }
    console.log("in 95 % intervals of", count, inside);
    for (const found of Object.values(inside)) {
      expect(found / count).toBeGreaterThan(0.93);
      expect(found / count).toBeLessThan(0.97);
    }
  });

  it("flags every wrong reference and hardly ever a right one", () => {
    const count = 1000;
    let found = 0;
    let alarms = 0;
    for (let k = 0; k < count; k++) {
      const points = set();
      const right = calibrateTuning(points, options);
      if (right.diagnostics.points.some(({ outlier }) => outlier)) alarms++;
      // Wrong by half a turn of a 1 mm screw or more, on either side.
      const bad = random.integer(points.length);
      const sign = random.uniform() < 0.5 ? -1 : 1;
      const wrong = calibrateTuning(
        points.map((point, i) =>
          i === bad
            ? {
              ...point,
              distance: point.distance +
                sign * (0.5e-3 + 2e-3 * random.uniform()),
            }
            : point
        ),
        options,
      );
      if (wrong.diagnostics.points[bad]!.outlier) found++;
    }
    console.log(
      `wrong references found: ${found} of ${count}, false alarms: ${alarms} of ${count}`,
    );
    expect(found).toBe(count);
    expect(alarms / count).toBeLessThan(0.01);
  });
});

describe("measureDistance() on seeded captures", () => {
  it("with a calibration of the same bench: within 0.1 %, mostly in ±2 u", () => {
    const calibration = calibrateTuning(
      distances.map((distance, i) => ({
        distance,
        standardUncertainty: 20e-6,
        capture: rampCapture({ distance, seed: 5000 + i, duration: 0.25 }),
      })),
      options,
    );
    const relative: number[] = [];
    const ratios: number[] = [];
    for (let k = 0; k < 40; k++) {
      const distance = 0.08 + 0.22 * random.uniform();
      const measured = measureDistance(
        rampCapture({
          distance,
          seed: 6000 + k,
          duration: 0.25,
          feedbackParameter: 0.1 * 9 ** random.uniform(),
          signalToNoiseRatio: 20 + 20 * random.uniform(),
        }),
        { tuning: calibration },
      ).distance;
      relative.push(measured.value / distance - 1);
      ratios.push((measured.value - distance) / measured.standardUncertainty);
    }
    console.log(
      `distance: relative rms ${rms(relative).toExponential(2)}, in ±2 u ${
        (100 * share(ratios, (r) => Math.abs(r) < 2)).toFixed(0)
      } %`,
    );
    expect(rms(relative)).toBeLessThan(1e-3);
  });
});
