import {
  createCapture,
  distancePerStep,
  measureSteps,
  type NotMeasurableError,
} from "fringebook";
import { describe, expect, it } from "vitest";
import { rampCapture, trueSteps } from "./bench.ts";
import { boundOfSteps } from "./statistics.ts";

describe("measureSteps()", () => {
  it("counts with a fraction: N = 2nL (1/λ₁ - 1/λ₂)", () => {
    // The equation: Beheim & Fritsch 1986; Gouaux, Servagent & Bosch 1998.
    for (const distance of [0.0503, 0.1507, 0.3011]) {
      const steps = measureSteps(rampCapture({ distance }));
      const expected = trueSteps(distance, 0.038, 0.042);
      // 7 strokes of 500 samples at 30 dB: the bound is 3e-4 steps.
      expect(Math.abs(steps.steps.value - expected)).toBeLessThan(2e-3);
      expect(steps.stepsPerCurrent.value)
        .toBeCloseTo(steps.steps.value / steps.currentSpan.value, 9);
    }
  });

  it("agrees with the worked count 10.5625 mm per step at 650 nm and 0.02 nm", () => {
    // L = N λ²/(2nΔλ); count quantisation λ²/(2Δλ) in vacuum.
    const high = 0.038 + 0.02e-9 / 8e-9;
    const steps = measureSteps(rampCapture({ distance: 0.2, high }));
    expect(Math.abs(0.2 / steps.steps.value - 10.5625e-3 / 1.00027))
      .toBeLessThan(2e-6);
  });

  it("makes the noise of the drive channel a part of a stroke's uncertainty", () => {
    // Least squares: σ/√Σ(I − Ī)² of the count, here √12 σ/(ΔI √n) = 0.085 % with
    // 20 µA on 96 % of 4 mA in 488 samples; the strokes scatter by as much.
    const { diagnostics, steps } = measureSteps(
      rampCapture({ driveNoise: 20e-6, duration: 1.2 }),
    );
    const strokes = diagnostics.strokes.filter(({ used }) => used);
    const expected = Math.sqrt(12) * 20e-6 / (0.96 * 4e-3 * Math.sqrt(488));
    for (const { standardUncertainty } of strokes) {
      expect(standardUncertainty / steps.value).toBeGreaterThan(0.8 * expected);
      expect(standardUncertainty / steps.value).toBeLessThan(1.4 * expected);
    }
    const scatter = Math.sqrt(
      strokes.reduce((sum, each) => sum + (each.steps - steps.value) ** 2, 0) /
        (strokes.length - 1),
    ) / steps.value;
    // Some 22 strokes know their scatter to 15 %.
    expect(strokes.length).toBeGreaterThan(18);
    expect(Math.abs(scatter / expected - 1)).toBeLessThan(0.5);
  });

  it("the ways of counting agree on an undisturbed ramp", () => {
    const { estimators, disagreement, adopted } = measureSteps(rampCapture());
    expect(adopted).toBe("model fit");
    expect(estimators.map(({ name }) => name)).toEqual([
      "model fit",
      "waveform fit",
      "phase slope",
      "spectrum",
      "step edges",
    ]);
    expect(disagreement).toBeLessThan(0.02);
  });

  it("removes the power ramp: a tenfold fringe amplitude changes nothing", () => {
    const at = (feedbackParameter: number) =>
      measureSteps(rampCapture({ feedbackParameter })).steps.value;
    expect(Math.abs(at(0.1) - at(0.9))).toBeLessThan(2e-3);
  });

  it("counts saw-teeth under moderate feedback, up and down alike", () => {
    for (const feedbackParameter of [1.5, 3]) {
      const steps = measureSteps(rampCapture({
        feedbackParameter,
        samplingRate: 20e3,
        bandwidth: 4e3,
        oversampling: 4,
      }));
      const expected = trueSteps(0.15, 0.038, 0.042);
      expect(Math.abs(steps.steps.value - expected)).toBeLessThan(0.02);
      expect(Math.abs(steps.stepsUp!.value - steps.stepsDown!.value))
        .toBeLessThan(0.05);
      expect(steps.feedbackParameter.value).toBeGreaterThan(1);
    }
  });

  it("finds C below 1 from the shape of the fringes", () => {
    const { feedbackParameter } = measureSteps(
      rampCapture({ feedbackParameter: 0.7 }),
    );
    expect(feedbackParameter.value).toBeCloseTo(0.7, 1);
  });

  it("works with an inverting amplifier", () => {
    const steps = measureSteps(rampCapture({ inverting: true }));
    expect(Math.abs(steps.steps.value - trueSteps(0.15, 0.038, 0.042)))
      .toBeLessThan(2e-3);
    expect(steps.leanKnown).toBe(true);
  });

  it("counts 1.5 and 200 steps", () => {
    const few = measureSteps(rampCapture({ distance: 0.0198 / 2 }));
    expect(few.steps.value).toBeCloseTo(trueSteps(0.0099, 0.038, 0.042), 1);
    expect(few.warnings.map(({ code }) => code)).toContain("few-steps");
    const many = measureSteps(rampCapture({
      distance: 0.66,
      low: 0.034,
      high: 0.042,
      samplingRate: 40e3,
      duration: 0.25,
    }));
    expect(many.steps.value).toBeGreaterThan(199);
    expect(Math.abs(many.steps.value - trueSteps(0.66, 0.034, 0.042)))
      .toBeLessThan(5e-3);
  });

  it("counts on a saw-tooth and with a bent tuning", () => {
    const sawtooth = measureSteps(rampCapture({ shape: "sawtooth" }));
    // The top of the ramp falls between two samples, so count per current.
    expect(
      Math.abs(
        sawtooth.stepsPerCurrent.value * 0.004 /
            trueSteps(0.15, 0.038, 0.042) - 1,
      ),
    ).toBeLessThan(2e-4);
    expect(sawtooth.stepsDown).toBe(null);
    // λ bends by 5 % of the tuning over the half ramp: the ends are where they
    // are, as the bend is symmetrical about 40 mA.
    const bent = measureSteps(
      rampCapture({ diode: { tuningCurvature: 0.05 * 8e-9 / 2e-3 } }),
    );
    expect(Math.abs(bent.steps.value - trueSteps(0.15, 0.038, 0.042)))
      .toBeLessThan(4e-3);
  });

  it("leaves out a ramp that was knocked, and says so", () => {
    const knocked = measureSteps(rampCapture({
      distance: (t) => 0.15 + 0.8e-6 * Math.exp(-(((t - 0.225) / 0.006) ** 2)),
    }));
    expect(Math.abs(knocked.steps.value - trueSteps(0.15, 0.038, 0.042)))
      .toBeLessThan(0.02);
    expect(knocked.diagnostics.strokes.some(({ used }) => !used)).toBe(true);
    expect(knocked.warnings.map(({ code }) => code)).toContain("outlier-ramps");
  });

  it("finds a mode hop, locates it in mA and counts across it", () => {
    const hop = {
      current: 0.0393,
      wavelengthStep: 0.13e-9,
      hysteresis: 0.0002,
    };
    const steps = measureSteps(rampCapture({
      distance: 0.2,
      diode: { modeHop: hop },
    }));
    expect(steps.modeHops.map(({ direction }) => direction))
      .toEqual(["up", "down"]);
    // A sixth of a step is 0.02 mA here.
    expect(Math.abs(steps.modeHops[0]!.current.value - 0.0393))
      .toBeLessThan(0.05e-3);
    expect(Math.abs(steps.modeHops[1]!.current.value - 0.0391))
      .toBeLessThan(0.05e-3);
    expect(steps.warnings.map(({ code }) => code)).toContain("mode-hop");
    expect(Math.abs(steps.steps.value / trueSteps(0.2, 0.038, 0.042) - 1))
      .toBeLessThan(1e-3);
    expect(measureSteps(rampCapture({ distance: 0.2 })).modeHops).toEqual([]);
  });

  it("refuses a ramp without fringes, noise alone and a missing channel", () => {
    const still = rampCapture({ feedbackParameter: 0 });
    const noise = createCapture([
      {
        ...still.channels[0]!,
        samples: still.channels[0]!.samples.map((_, i) =>
          1 + 1e-3 * Math.sin(1e3 * i * i + i)
        ) as Float64Array,
      },
      still.channels[1]!,
    ], { samplingRate: 10e3 });
    try {
      measureSteps(noise);
      throw new Error("it counted noise");
    } catch (error) {
      expect((error as NotMeasurableError).reason).toBe("no fringes");
    }
    const { channels, ...rest } = still;
    expect(() => measureSteps({ ...rest, channels: channels.slice(1) }))
      .toThrow("Cannot find a monitor signal channel");
  });

  it("refuses a dead monitor and a single sample", () => {
    const { channels, ...rest } = rampCapture();
    const dead = channels[0]!.samples.map(() => 1.5) as Float64Array;
    expect(() =>
      measureSteps({
        ...rest,
        channels: [{ ...channels[0]!, samples: dead }, channels[1]!],
      })
    ).toThrow("shows fringes above its noise");
    const single = createCapture(
      channels.map((channel) => ({
        ...channel,
        samples: channel.samples.slice(0, 1) as Float64Array,
      })),
      { samplingRate: 1e3 },
    );
    expect(() => measureSteps(single)).toThrow("Record while the ramp runs");
  });

  it("counts long strokes on means as it counts all of their samples", () => {
    const bench = {
      distance: 0.1,
      samplingRate: 200e3,
      duration: 0.22,
      frequency: 9.83,
      // A quiet amplifier, so that the numbers can be compared closely.
      signalToNoiseRatio: 40,
    } as const;
    const { steps, diagnostics } = measureSteps(rampCapture(bench));
    // 14 steps on strokes of 10 000 samples: means of six of them.
    const truth = trueSteps(0.1, 0.038, 0.042);
    expect(Math.abs(steps.value - truth))
      .toBeLessThan(4 * steps.standardUncertainty);
    // 0.05 s × 200 kHz, less 2 % at either end; places are those of the capture.
    const [first] = diagnostics.strokes;
    expect(Math.abs(first!.end - first!.start - 0.96 * 200e3 / 2 / 9.83))
      .toBeLessThan(20);
    // As sure as the noise of all samples allows (Rife & Boorstyn 1974), but for
    // what else is unknown.
    const samples = diagnostics.strokes
      .reduce((sum, { start, end }) => sum + end - start, 0);
    expect(steps.standardUncertainty)
      .toBeLessThan(4 * boundOfSteps(samples, 40, 0.96));
  });

  it("warns of clipping and of too few samples to a step", () => {
    const capture = rampCapture({ duration: 0.12 });
    const monitor = capture.channels[0]!.samples as Float64Array;
    const limit = monitor.reduce((a, b) => Math.max(a, b)) * 0.9;
    for (let i = 0; i < monitor.length; i++) {
      monitor[i] = Math.min(limit, monitor[i]!);
    }
    expect(measureSteps(capture).warnings.map(({ code }) => code))
      .toContain("clipped");
    const coarse = measureSteps(
      rampCapture({ samplingRate: 1.6e3, duration: 0.5 }),
    );
    expect(coarse.warnings.map(({ code }) => code))
      .toContain("few-samples-per-step");
  });

  it("leaves out strokes with missing samples", () => {
    const capture = rampCapture();
    const monitor = capture.channels[0]!.samples as Float64Array;
    monitor.fill(NaN, 1200, 1500);
    const steps = measureSteps(capture);
    expect(steps.diagnostics.strokes.map(({ reason }) => reason))
      .toContain("samples are missing");
    expect(Math.abs(steps.steps.value - trueSteps(0.15, 0.038, 0.042)))
      .toBeLessThan(4e-3);
  });
});

describe("distancePerStep()", () => {
  it("gives the worked values of λ²/(2nΔλ)", () => {
    // L = Nλ²/(2nΔλ) for N = 1: Gouaux, Servagent & Bosch 1998; computed from
    // the equation.
    const rows = [
      [650e-9, 0.02e-9, 10.5625e-3],
      [850e-9, 0.1e-9, 3.6125e-3],
      [780e-9, 0.01e-9, 30.42e-3],
    ] as const;
    for (const [wavelength, change, distance] of rows) {
      expect(distancePerStep(wavelength, change, { refractiveIndex: 1 }))
        .toBeCloseTo(distance, 12);
    }
    // The same from the optical frequency: c/(2Δν), 14.19 GHz.
    expect(299792458 / (2 * 14.19e9)).toBeCloseTo(10.5625e-3, 5);
    expect(() => distancePerStep(650e-9, 0)).toThrow("'wavelengthChange'");
  });
});
