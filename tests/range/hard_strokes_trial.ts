import { measureSteps } from "fringebook";
import { describe, expect, it } from "vitest";
import { rampCapture, trueSteps } from "./bench.ts";
import { longBench as bench, perRamp, truth } from "./long_bench.ts";

// What takes many fits of one capture, and so too long for each run of the tests.

describe("measureSteps() on hard strokes", () => {
  it("counts 2.4 steps across a mode hop, and under a thermal lag", () => {
    // 2nL Δλ/λ² = 5.2 turns of the hop: a fifth of a turn is left.
    const result = measureSteps(
      rampCapture({
        distance: 0.01,
        low: 0.0379,
        high: 0.0443,
        oversampling: 8,
        diode: {
          modeHop: {
            current: 0.0417,
            wavelengthStep: 0.11e-9,
            hysteresis: 0.0001,
          },
          thermalTimeConstant: 1e-3,
        },
      }),
    );
    const { stepsPerCurrent, modeHops, thermalTimeConstant, warnings } = result;
    expect(modeHops.map(({ direction }) => direction)).toEqual(["up", "down"]);
    // A tenth of it: it makes up for some of what the hop is fitted for.
    expect(Math.abs(thermalTimeConstant.value - 1e-3)).toBeLessThan(1e-4);
    const span = 0.0443 - 0.0379;
    const error = stepsPerCurrent.value * span -
      trueSteps(0.01, 0.0379, 0.0443);
    // Not told from steps, a fifth of a turn would count as more than 0.2.
    expect(Math.abs(error)).toBeLessThan(0.1);
    // It is not always told so well on few steps, and the result says so.
    expect(stepsPerCurrent.standardUncertainty * span).toBeGreaterThan(0.2);
    expect(warnings.find(({ code }) => code === "mode-hop")?.severity)
      .toBe("doubtful");
  });

  it("finds a lag although the capture starts within a stroke", () => {
    // 5 ms of lag last on through a third of the stroke of 50 ms that follows.
    for (const start of [0.1, 0.3, 0.45]) {
      const { steps, stepsPerCurrent, thermalTimeConstant } = measureSteps(
        rampCapture({
          start,
          diode: { thermalTimeConstant: 5e-3 },
          oversampling: 8,
        }),
      );
      // The simulated lag advances by steps of 12.5 µs, half of which it lacks.
      expect(Math.abs(thermalTimeConstant.value - 5e-3)).toBeLessThan(5e-5);
      const perCurrent = trueSteps(0.15, 0.038, 0.042) / 0.004;
      expect(Math.abs(stepsPerCurrent.value - perCurrent))
        .toBeLessThan(4 * stepsPerCurrent.standardUncertainty);
      expect(steps.standardUncertainty / steps.value).toBeLessThan(5e-4);
    }
  });
});

describe("measureSteps() of many strokes", () => {
  it("errors match the uncertainty on 6 seeded captures, C 0.2 to 0.8", () => {
    let sum = 0;
    for (let seed = 1; seed <= 6; seed++) {
      const result = perRamp(measureSteps(rampCapture({
        ...bench,
        seed,
        feedbackParameter: 0.2 * 4 ** (seed / 6),
        signalToNoiseRatio: 20 + seed % 3 * 8,
      })));
      sum += ((result.value - truth) / result.standardUncertainty) ** 2;
    }
    // χ² with 6 degrees of freedom: 0.1 % and 99.9 % quantiles, rounded outwards.
    expect(sum).toBeGreaterThan(0.38);
    expect(sum).toBeLessThan(23);
  });
});
