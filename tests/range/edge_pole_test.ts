import { findRamps } from "fringebook";
import { createRandom } from "fringebook/signal";
import { strokeSignal } from "fringebook/range/count_ramp.ts";
import { fitEdges } from "fringebook/range/edge_fit.ts";
import {
  beforePole,
  behindPole,
  jumpWeights,
} from "fringebook/range/edge_pole.ts";
import type { FeedbackFit } from "fringebook/range/feedback_fit.ts";
import { dot } from "fringebook/range/normal_equations.ts";
import { joinStrokes } from "fringebook/range/stroke_signal.ts";
import { describe, expect, it } from "vitest";
import {
  rampCapture,
  refractiveIndex,
  trueSteps,
  tuning,
  wavelength,
} from "./bench.ts";
import { rms } from "./statistics.ts";

// Closed forms of y' = (v - y)/τ: common practice, no source.
describe("behindPole()", () => {
  it("lets a straight line lag by its time constant", () => {
    const pole = 0.8;
    for (const parts of [1, 3]) {
      const line = Float64Array.from(
        { length: 60 * parts },
        (_, i) => 2 + 0.5 * i / parts,
      );
      const out = behindPole(line, 1 / (parts * pole), parts);
      for (let s = 0; s < 60; s++) {
        const last = line[s * parts + parts - 1]!;
        expect(out[s]).toBeCloseTo(last - 0.5 * pole, 10);
      }
    }
  });

  it("makes a sine smaller and late: 1/√(1 + ω²τ²), arctan ωτ", () => {
    const [pole, omega, parts] = [1.3, 0.2, 3];
    const sine = Float64Array.from(
      { length: 400 * parts },
      (_, i) => Math.sin(omega * i / parts),
    );
    const out = behindPole(sine, 1 / (parts * pole), parts);
    const gain = 1 / Math.hypot(1, omega * pole);
    const late = Math.atan(omega * pole);
    for (let s = 40; s < 400; s++) {
      const time = s + (parts - 1) / parts;
      // Chords lie (ωh)²/8 below their arc.
      expect(Math.abs(out[s]! - gain * Math.sin(omega * time - late)))
        .toBeLessThan((omega / parts) ** 2 / 8);
    }
  });

  it("has a transpose: ⟨u, Av⟩ = ⟨Aᵀu, v⟩", () => {
    const random = createRandom(3);
    const [u, v] = [0, 1].map(() =>
      Float64Array.from({ length: 40 }, () => random.normal())
    ) as [Float64Array, Float64Array];
    for (const rate of [0.05, 0.8, 4]) {
      expect(dot(beforePole(u, rate), v))
        .toBeCloseTo(dot(u, behindPole(v, rate, 1)), 10);
    }
  });

  it("answers a jump inside of a step with 1 - e^(-u/τ)", () => {
    for (const u of [0, 0.2, 0.7, 1]) {
      for (const pole of [0.02, 0.3, 2]) {
        const weights = jumpWeights(1 / pole, u);
        const step = Float64Array.from({ length: 20 }, (_, i) => i < 8 ? 0 : 1);
        const change = weights.end + weights.after;
        const out = behindPole(step, 1 / pole, 1, [{ index: 8, u, change }]);
        for (let i = 8; i < 20; i++) {
          expect(out[i]).toBeCloseTo(1 - Math.exp(-(i - 8 + u) / pole), 8);
        }
      }
    }
  });

  it("takes the end of a branch as a root", () => {
    // v = √s before the jump, 0 after it, against a sum of 1e5 short steps.
    const [rate, u, count] = [0.7, 0.35, 1e5];
    let sum = 0;
    for (let k = 0; k < count; k++) {
      const left = (1 - u) * (k + 0.5) / count;
      sum += rate * (1 - u) / count * Math.exp(-rate * (u + left)) *
        Math.sqrt(left);
    }
    const { start } = jumpWeights(rate, u);
    const line = behindPole(Float64Array.of(0, 0, 1, 0), rate, 1);
    // What a start of 1 gives without a jump, after its own step.
    const without = line[3]! - Math.exp(-rate) * line[2]!;
    expect((start + without) * Math.sqrt(1 - u)).toBeCloseTo(sum, 8);
  });
});

/** A rising and a falling stroke without noise, and a fit to start from. */
function quietPair(feedbackParameter: number, steps: number) {
  const [low, high] = [0.036, 0.044];
  const distance = 0.15 * steps / trueSteps(0.15, low, high);
  const capture = rampCapture({
    distance,
    low,
    high,
    feedbackParameter,
    signalToNoiseRatio: 80,
    bandwidth: 2e3,
    duration: 0.17,
    // Jumps come between the steps of the simulation.
    oversampling: feedbackParameter > 0.8 ? 96 : 24,
  });
  const ramps = findRamps(capture);
  const [bottom, top] = [ramps.lowCurrent.value, ramps.highCurrent.value];
  const samples = capture.channels[0]!.samples;
  const [first, second] = ramps.diagnostics.strokes.map((stroke) =>
    strokeSignal(samples, stroke, bottom, top - bottom)!
  );
  const middle = (bottom + top) / 2;
  const power = (current: number) =>
    0.3 * Math.max(0, current - 0.025) + 0.003 * current;
  const count = steps * (top - bottom) / (high - low);
  const start: FeedbackFit = {
    steps: count,
    standardUncertainty: 0,
    feedbackParameter,
    feedbackUncertainty: 0,
    angle: Math.atan(5),
    offset: 4 * Math.PI * refractiveIndex * distance /
        (wavelength + tuning * (middle - 0.04)) + Math.atan(5),
    phase: [Math.PI * count, 0, 0],
    amplitude: 1,
    growth: (power(top) - power(middle)) / power(middle),
    fitted: new Float64Array(),
    background: new Float64Array(),
    noise: Infinity,
    cost: Infinity,
    keep: 0.25,
    converged: false,
  };
  return { signal: joinStrokes(first!, second!), start, count };
}

describe("fitEdges() of fringes without noise", () => {
  for (const steps of [6, 14, 30]) {
    it(`describes ${steps} steps at any C, rising and falling alike`, () => {
      for (const feedbackParameter of [0.3, 0.6, 0.9, 1.05, 1.3, 1.8, 2.5]) {
        const { signal, start, count } = quietPair(feedbackParameter, steps);
        const fit = fitEdges(signal, start, true)!;
        // The first samples after a turning point wait for the pole to settle.
        const left = signal.y.map((value, i) =>
          i < 4 || i >= signal.seam! && i < signal.seam! + 4
            ? 0
            : value - fit.fitted[i]!
        );
        // The noise of 40 dB is 7e-3 of the amplitude. With steps held instead of
        // joined by lines 0.02 is left, and 5e-3 steps between the two strokes.
        expect(rms(Array.from(left)) / fit.amplitude)
          .toBeLessThan(5e-3);
        expect(Math.abs(fit.drift! / Math.PI)).toBeLessThan(1e-3);
        expect(Math.abs(fit.steps - count)).toBeLessThan(2e-4);
        // -3 dB at a fifth of the sampling rate.
        expect(Math.abs(fit.keep! - Math.exp(-2 * Math.PI / 5)))
          .toBeLessThan(0.01);
      }
    });
  }
});
