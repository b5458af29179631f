import { describe, expect, it } from "vitest";
import {
  type Capture,
  createCapture,
  measureDistance,
  measureSteps,
  measureStepsStream,
  NotMeasurableError,
  streamOfCapture,
} from "fringebook";
import { createRandom } from "fringebook/signal";
import {
  type BenchOptions,
  rampCapture,
  refractiveIndex,
  trueSteps,
  tuning,
  wavelength,
} from "./bench.ts";
import { rms, share } from "./statistics.ts";

const estimator = "phase slope";
const bench: BenchOptions = { distance: 0.25, samplingRate: 20e3 };
const truth = trueSteps(0.25, 0.038, 0.042);

/** The capture with the monitor signal changed. */
function withMonitor(
  capture: Capture,
  change: (value: number, sample: number) => number,
): Capture {
  return createCapture(
    capture.channels.map((channel) =>
      channel.role === "monitor signal"
        ? {
          ...channel,
          samples: Float64Array.from(channel.samples, change),
        }
        : channel
    ),
    { samplingRate: capture.samplingRate, source: capture.source },
  );
}

describe('measureSteps() with the estimator "phase slope"', () => {
  it("counts with a fraction: N = 2nL (1/λ₁ - 1/λ₂)", () => {
    // The equation: Beheim & Fritsch 1986; Gouaux, Servagent & Bosch 1998.
    for (const feedbackParameter of [0.1, 0.6, 1.5, 3]) {
      const { steps } = measureSteps(
        rampCapture({
          ...bench,
          feedbackParameter,
          bandwidth: 4e3,
          oversampling: 8,
        }),
        { estimator },
      );
      // Four standard uncertainties: one in 16 000.
      expect(Math.abs(steps.value - truth))
        .toBeLessThan(4 * steps.standardUncertainty);
      expect(steps.standardUncertainty).toBeLessThan(2e-3);
    }
  });

  it("agrees with the full count of the same capture", () => {
    const capture = rampCapture(bench);
    const full = measureSteps(capture);
    const phase = measureSteps(capture, { estimator });
    const room = 4 * Math.hypot(
      full.steps.standardUncertainty,
      phase.steps.standardUncertainty,
    );
    expect(Math.abs(phase.steps.value - full.steps.value)).toBeLessThan(room);
    expect(phase.currentSpan).toEqual(full.currentSpan);
    // Both tell noise from what the fringes leave, in their own way: 3 dB.
    expect(Math.abs(phase.signalToNoiseRatio - full.signalToNoiseRatio))
      .toBeLessThan(3);
    // The same fields; the other ways of counting were not used.
    expect(Object.keys(phase).sort()).toEqual(Object.keys(full).sort());
    expect(phase.estimators.map(({ name }) => name))
      .toEqual(full.estimators.map(({ name }) => name));
    expect(
      phase.estimators.filter(({ steps }) => Number.isFinite(steps.value))
        .map(({ name }) => name),
    ).toEqual(["phase slope"]);
    expect(phase.adopted).toBe("phase slope");
    expect(phase.feedbackParameter.value).toBeNaN();
    expect(phase.disagreement).toBeNaN();
    expect(phase.modeHops).toEqual([]);
  });

  it("says what was not looked for, without doubting the count", () => {
    const { warnings } = measureSteps(rampCapture(bench), { estimator });
    expect(warnings.map(({ code }) => code)).toEqual(["phase-slope-alone"]);
    expect(warnings[0]!.severity).toBe("note");
    expect(warnings[0]!.message).toMatch(/C, mode hops and a thermal lag/);
  });

  it("is doubtful below 8 steps and refuses below 4", () => {
    const seven = measureSteps(
      rampCapture({ ...bench, distance: 0.25 * 7 / truth }),
      { estimator },
    );
    expect(
      seven.warnings.find(({ code }) => code === "few-steps")?.severity,
    ).toBe("doubtful");
    expect(Math.abs(seven.steps.value - 7)).toBeLessThan(0.05);
    const two = rampCapture({ ...bench, distance: 0.25 * 2 / truth });
    expect(() => measureSteps(two, { estimator })).toThrow(NotMeasurableError);
    expect(() => measureSteps(two, { estimator })).toThrow("4 fringes or more");
  });

  it("leaves a stroke out that has no fringes, or too few samples", () => {
    const capture = rampCapture(bench);
    const { strokes } = measureSteps(capture, { estimator }).diagnostics;
    const [dark, missing] = [strokes[1]!, strokes[2]!];
    const random = createRandom(3);
    const holed = withMonitor(
      capture,
      (value, i) =>
        i >= dark.start && i < dark.end
          ? 1e-3 * random.normal()
          : i >= missing.start + 100 && i < missing.end - 100
          ? NaN
          : value,
    );
    const result = measureSteps(holed, { estimator });
    const left = result.diagnostics.strokes.filter(({ used }) => !used);
    expect(left.map(({ index, reason }) => [index, reason])).toEqual([
      [1, "no fringes found"],
      [2, "samples are missing"],
    ]);
    expect(Math.abs(result.steps.value - truth))
      .toBeLessThan(4 * result.steps.standardUncertainty);
  });

  it("counts a stroke with single samples missing", () => {
    const holed = withMonitor(
      rampCapture(bench),
      (value, i) => i % 97 === 0 ? NaN : value,
    );
    const { steps, diagnostics } = measureSteps(holed, { estimator });
    expect(diagnostics.strokes.every(({ used }) => used)).toBe(true);
    expect(Math.abs(steps.value - truth))
      .toBeLessThan(4 * steps.standardUncertainty);
  });

  it("finds nothing in noise", () => {
    const random = createRandom(5);
    const noise = withMonitor(rampCapture(bench), () => random.normal());
    expect(() => measureSteps(noise, { estimator })).toThrow(
      "4 fringes or more",
    );
  });

  it("counts on a saw-tooth, and on strokes of many samples", () => {
    const sawtooth = measureSteps(
      rampCapture({ ...bench, shape: "sawtooth" }),
      { estimator },
    );
    // The top of the ramp falls between two samples, so count per current.
    expect(Math.abs(sawtooth.stepsPerCurrent.value * 0.004 / truth - 1))
      .toBeLessThan(3e-4);
    expect(sawtooth.stepsDown).toBe(null);
    const long = measureSteps(
      rampCapture({ ...bench, samplingRate: 500e3, duration: 0.2 }),
      { estimator },
    );
    expect(Math.abs(long.steps.value - truth))
      .toBeLessThan(4 * long.steps.standardUncertainty);
  });

  it("cancels a steady motion between the two directions", () => {
    const { steps, stepsUp, stepsDown } = measureSteps(
      rampCapture({ ...bench, distance: (time) => 0.25 + 5e-6 * time }),
      { estimator },
    );
    // 5 µm/s for 51 ms: 0.78 half-wavelengths.
    expect(Math.abs(stepsDown!.value - stepsUp!.value)).toBeGreaterThan(1);
    expect(Math.abs(steps.value - truth)).toBeLessThan(0.01);
  });

  it("counts against a given thermal lag", () => {
    const lag = 1e-3;
    const capture = rampCapture({
      ...bench,
      diode: { thermalTimeConstant: lag },
    });
    const counted = measureSteps(capture, {
      estimator,
      thermalTimeConstant: lag,
    });
    expect(counted.thermalTimeConstant.value).toBe(lag);
    expect(Math.abs(counted.stepsPerCurrent.value * 0.004 - truth))
      .toBeLessThan(0.02);
  });

  it("says that there is no such estimator", () => {
    expect(() =>
      measureSteps(rampCapture(bench), { estimator: "guess" as "model fit" })
    ).toThrow(`"model fit" or "phase slope"`);
  });

  it("measures a distance", () => {
    const { distance } = measureDistance(rampCapture(bench), {
      estimator,
      refractiveIndex,
      tuning: {
        tuning: { value: tuning, standardUncertainty: 0 },
        wavelength: { value: wavelength, standardUncertainty: 0 },
      },
    });
    expect(Math.abs(distance.value - 0.25)).toBeLessThan(1e-4);
  });

  it("errors match the uncertainty on seeded captures of 8 to 60 steps", () => {
    const random = createRandom(20261126);
    const trials = Array.from({ length: 60 }, (_, k) => {
      const steps = 8 * 7.5 ** random.uniform();
      const distance = 0.1 + 0.3 * random.uniform();
      const span = steps * 650e-9 ** 2 / (2 * distance * 8e-9);
      const [low, high] = [0.045 - span / 2, 0.045 + span / 2];
      const result = measureSteps(
        rampCapture({
          distance,
          low,
          high,
          start: random.uniform(),
          feedbackParameter: 0.1 * 20 ** random.uniform(),
          signalToNoiseRatio: 15 + 25 * random.uniform(),
          seed: k + 1,
          bandwidth: 2e3,
          oversampling: 8,
        }),
        { estimator },
      );
      // Per current, so that the place of the ramp's ends does not matter.
      const error = result.stepsPerCurrent.value * (high - low) -
        trueSteps(distance, low, high);
      return error / result.steps.standardUncertainty;
    });
    // 60 trials: rms of a normal distribution 1 ± 0.09; the noise of a stroke is
    // itself known to some 10 %.
    expect(rms(trials)).toBeGreaterThan(0.7);
    expect(rms(trials)).toBeLessThan(1.35);
    expect(share(trials, (z) => Math.abs(z) < 2)).toBeGreaterThan(0.86);
  });
});

describe('measureStepsStream() with the estimator "phase slope"', () => {
  it("counts what the whole capture in memory counts", async () => {
    const capture = rampCapture({
      ...bench,
      frequency: 19.3,
      duration: 0.6,
    });
    const whole = measureSteps(capture, { estimator });
    const long = await measureStepsStream(streamOfCapture(capture), {
      estimator,
      blockLength: 900,
      periodsPerPart: 3,
    });
    // Strokes are cut a little otherwise at the seams of the parts.
    expect(Math.abs(long.steps.value - whole.steps.value))
      .toBeLessThan(3 * whole.steps.standardUncertainty);
    expect(long.diagnostics.strokes.length)
      .toBe(whole.diagnostics.strokes.length);
    expect(long.adopted).toBe("phase slope");
    expect(long.disagreement).toBeNaN();
    expect(long.warnings.map(({ code, severity }) => [code, severity]))
      .toEqual([["phase-slope-alone", "note"]]);
  });
});
