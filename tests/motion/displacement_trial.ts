import { describe, expect, it } from "vitest";
import { measureDisplacement } from "fringebook";
import { displacementBound } from "fringebook/motion";
import { createRandom } from "fringebook/signal";
import { fitPhase } from "../../lib/motion/phase_fit.ts";
import { tracePhase } from "../../lib/motion/phase_residuals.ts";
import { unwrapPhase } from "../../lib/motion/unwrap_phase.ts";
import {
  displacementError,
  makeScenario,
  radPerMetre,
  trialCount,
  wavelength,
} from "./scenario.ts";

const quantileOf = (values: number[], part: number) =>
  values.toSorted((a, b) => a - b)[
    Math.min(values.length - 1, Math.floor(part * values.length))
  ]!;

describe("displacement over many benches", () => {
  it("has an rms error of at most 1 nm without noise", () => {
    const errors: number[] = [];
    let confident = 0;
    const count = trialCount(60);
    for (let seed = 1; seed <= count; seed++) {
      const bench = makeScenario(seed, { signalToNoiseRatio: null });
      const result = measureDisplacement(bench.capture, { wavelength });
      const { rms } = displacementError(
        result.displacement,
        bench.capture.truth.phase,
      );
      errors.push(rms);
      if (rms > 1e-9) {
        const doubtful = result.warnings.some((w) => w.severity === "doubtful");
        if (!doubtful) confident++;
        console.log(
          `seed ${seed}: C ${bench.feedbackParameter.toFixed(3)}, ${
            (bench.amplitude * 1e6).toFixed(2)
          } µm: rms ${(rms * 1e9).toFixed(2)} nm, warnings ${
            result.warnings.map((w) => w.code).join(" ")
          }`,
        );
      }
    }
    const good = errors.filter((rms) => rms <= 1e-9).length;
    console.log(
      `noise-free: ${good} of ${count} at most 1 nm, median ${
        (quantileOf(errors, 0.5) * 1e12).toFixed(2)
      } pm, confident failures ${confident}`,
    );
    expect(quantileOf(errors, 0.5)).toBeLessThan(1e-9);
    // Few fringes at the border of C = 1 or on one branch may be misread.
    expect(good / count).toBeGreaterThan(0.9);
  });

  it("stays near the Cramér–Rao bound with noise", () => {
    const known: number[] = [];
    const estimated: number[] = [];
    let confident = 0;
    let misread = 0;
    const count = trialCount(60);
    for (let seed = 1; seed <= count; seed++) {
      const snr = 20 + 40 * ((seed * 0.618) % 1);
      const bench = makeScenario(1000 + seed, { signalToNoiseRatio: snr });
      const { capture, feedbackParameter, linewidthEnhancementFactor } = bench;
      const signal = capture.channels[0]!.samples as Float64Array;
      const unwrapped = unwrapPhase(signal);
      if (unwrapped === null) continue;
      const { fit } = unwrapped;
      const { rms: bound } = displacementBound(capture.truth.feedbackPhase, {
        wavelength,
        feedbackParameter,
        linewidthEnhancementFactor,
        relativeNoise: bench.relativeNoise,
        knotSpacing: fit.spacing,
      });
      const errorOf = (phase: Float64Array) =>
        displacementError(
          phase.map((value) => value / radPerMetre),
          capture.truth.phase,
        ).rms;
      const full = errorOf(tracePhase(signal, fit).phase);
      const ratio = full / bound;
      if (ratio > 20) {
        misread++;
        const result = measureDisplacement(capture, { wavelength });
        const doubtful = result.warnings.some((w) => w.severity === "doubtful");
        if (!doubtful) confident++;
        console.log(
          `seed ${seed}: C ${feedbackParameter.toFixed(3)}, ${
            (bench.amplitude * 1e6).toFixed(2)
          } µm, ${snr.toFixed(0)} dB: rms ${
            (full * 1e9).toFixed(2)
          } nm, bound ${(bound * 1e9).toFixed(3)} nm, warnings ${
            result.warnings.map((w) => w.code).join(" ")
          }`,
        );
        continue;
      }
      estimated.push(ratio);
      const psi = Math.atan(linewidthEnhancementFactor);
      const held = fitPhase({
        signal,
        spacing: fit.spacing,
        labels: fit.labels,
        coefficients: fit.coefficients,
        parameters: {
          ...fit.parameters,
          p: feedbackParameter * Math.cos(psi),
          q: feedbackParameter * Math.sin(psi),
        },
        noise: fit.noise,
        fitFeedback: false,
        fitLevels: true,
        iterations: 10,
      });
      known.push(errorOf(tracePhase(signal, held).phase) / bound);
    }
    const rmsOf = (values: number[]) =>
      Math.sqrt(values.reduce((sum, x) => sum + x * x, 0) / values.length);
    console.log(
      `rms error over bound: known C, α: rms ${
        rmsOf(known).toFixed(2)
      }, median ${quantileOf(known, 0.5).toFixed(2)}, 95 % ${
        quantileOf(known, 0.95).toFixed(2)
      }, at most 1.5: ${
        known.filter((x) => x <= 1.5).length
      } of ${known.length}; estimated: rms ${
        rmsOf(estimated).toFixed(2)
      }, median ${quantileOf(estimated, 0.5).toFixed(2)}, 95 % ${
        quantileOf(estimated, 0.95).toFixed(2)
      }, at most 2: ${
        estimated.filter((x) => x <= 2).length
      } of ${estimated.length}; misread ${misread}, of them without a warning ${confident}`,
    );
    expect(quantileOf(known, 0.5)).toBeLessThan(1.5);
    expect(quantileOf(estimated, 0.5)).toBeLessThan(2);
    expect(misread / count).toBeLessThan(0.1);
  });

  it("reads long records in much noise, or says that it did not", () => {
    const count = trialCount(12);
    let right = 0;
    let confident = 0;
    for (let seed = 1; seed <= count; seed++) {
      const random = createRandom(900000 + seed);
      const { capture } = makeScenario(80000 + seed, {
        signalToNoiseRatio: 12,
        feedbackParameter: 2 + 1.5 * random.uniform(),
        amplitude: 15e-6 * 3.3 ** random.uniform(),
      });
      const result = measureDisplacement(capture, { wavelength });
      const { displacement, rmsUncertainty, warnings } = result;
      const { rms } = displacementError(displacement, capture.truth.phase);
      const doubtful = warnings.some((w) => w.severity === "doubtful");
      if (rms <= 2 * rmsUncertainty) right++;
      else if (!doubtful) confident++;
    }
    console.log(
      `12 dB, C 2 to 3.5, 20 000 to 70 000 samples: ${right} of ${count} within twice what is stated, confident failures ${confident}`,
    );
    expect(confident).toBe(0);
    // Reached: 9 of 12; the others are misread, and say so.
    expect(right / count).toBeGreaterThan(0.6);
  });
});
