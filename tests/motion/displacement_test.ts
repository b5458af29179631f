import { describe, expect, it } from "vitest";
import {
  createCapture,
  createDisplacementTracker,
  estimateFeedback,
  measureDisplacement,
  measureDisplacementSpectrum,
  showPitfalls,
  simulateCapture,
} from "fringebook";
import { excessPhase } from "fringebook/laser";
import { displacementBound } from "fringebook/motion";
import { createRandom } from "fringebook/signal";
import { displacementError, makeScenario, wavelength } from "./scenario.ts";

describe("measureDisplacement", () => {
  it("is exact to 1 nm without noise in weak, moderate and strong feedback", () => {
    // Sub-nanometre in simulation: Bernal, Zabit, Bosch 2013.
    for (const feedbackParameter of [0.3, 0.8, 2, 4]) {
      const { capture } = makeScenario(3, {
        signalToNoiseRatio: null,
        feedbackParameter,
        amplitude: 2e-6,
      });
      const result = measureDisplacement(capture, { wavelength });
      const { rms } = displacementError(
        result.displacement,
        capture.truth.phase,
      );
      expect(rms).toBeLessThan(1e-9);
      // A fit without noise hides nothing, however close its knots are.
      expect(result.warnings.filter((w) => w.severity === "doubtful"))
        .toEqual([]);
    }
  });
  it("covers what a height of the fringes that changes fast hides at a turn", () => {
    // The target turns near the bottom of a fringe while speckle changes it:
    // the fit is off by three times what noise does.
    const { capture } = makeScenario(70076, {
      signalToNoiseRatio: 53.25,
      bits: 12,
      amplitude: 4.755e-7,
      contrast: 0.248,
    });
    const result = measureDisplacement(capture, { wavelength });
    const { rms } = displacementError(result.displacement, capture.truth.phase);
    expect(rms).toBeLessThan(2 * result.rmsUncertainty);
    expect(result.rmsUncertainty).toBeLessThan(1e-9);
  });
  it("stays within twice the Cramér–Rao bound at 30 dB with C and α estimated", () => {
    const bench = makeScenario(4, {
      signalToNoiseRatio: 30,
      feedbackParameter: 0.6,
      linewidthEnhancementFactor: 4,
      amplitude: 2e-6,
    });
    const { capture } = bench;
    const result = measureDisplacement(capture, { wavelength });
    const { rms: bound } = displacementBound(capture.truth.feedbackPhase, {
      wavelength,
      feedbackParameter: 0.6,
      linewidthEnhancementFactor: 4,
      relativeNoise: bench.relativeNoise,
      knotSpacing: Math.round(
        result.diagnostics.knotSpacing * result.samplingRate,
      ),
    });
    const { rms } = displacementError(result.displacement, capture.truth.phase);
    expect(rms / bound).toBeLessThan(2);
    // The stated uncertainty is that of the bound, and the parameters' on top.
    expect(result.rmsUncertainty / bound).toBeGreaterThan(0.9);
    expect(result.rmsUncertainty / bound).toBeLessThan(2);
  });
  it("marks a gap and does not bridge it", () => {
    const made = simulateCapture({
      distance: (time) => 0.1 + 2e-6 * Math.sin(300 * time),
      samplingRate: 100e3,
      duration: 0.1,
      noise: { signalToNoiseRatio: 35 },
      drive: null,
    });
    const samples = Float64Array.from(made.channels[0]!.samples);
    samples.fill(NaN, 4000, 5000);
    const capture = createCapture([{ ...made.channels[0]!, samples }], {
      samplingRate: 100e3,
    });
    const result = measureDisplacement(capture, { wavelength });
    expect(result.displacement[4500]).toBeNaN();
    expect(result.stretches.length).toBe(2);
    expect(result.stretches[1]!.joined).toBe(false);
    expect(result.warnings.map((w) => w.code)).toContain("gaps");
  });
});

describe("estimateFeedback", () => {
  it("finds C and α within 3 % at 30 dB in moderate feedback, by fit and by timing", () => {
    const { capture } = makeScenario(5, {
      signalToNoiseRatio: 30,
      feedbackParameter: 2,
      linewidthEnhancementFactor: 5,
      amplitude: 3e-6,
      sampleCount: 12000,
    });
    const result = estimateFeedback(capture, { wavelength });
    expect(Math.abs(result.feedbackParameter.value / 2 - 1)).toBeLessThan(0.03);
    expect(Math.abs(result.linewidthEnhancementFactor.value / 5 - 1))
      .toBeLessThan(0.03);
    expect(result.regime).toBe("moderate");
    // φ12 and φ34 of a fringe at C = 2, α = 5 (Yu, Giuliani, Donati 2004).
    expect(Math.abs(result.timing!.rising.value - 0.70284)).toBeLessThan(0.02);
    expect(Math.abs(result.timing!.falling.value - 0.515156))
      .toBeLessThan(0.02);
    expect(Math.abs(result.timing!.feedbackParameter.value / 2 - 1))
      .toBeLessThan(0.06);
  });
});

describe("displacementBound", () => {
  it("uses the slope of the excess-phase equation", () => {
    // The derivative of cos φF by φ0, taken numerically from the solver.
    const [c, alpha, phiF] = [0.8, 4, 1.3];
    const phi0 = phiF + c * Math.sin(phiF + Math.atan(alpha));
    const solve = (phase: number) => {
      let x = phiF;
      for (let i = 0; i < 50; i++) {
        x -= (x + c * Math.sin(x + Math.atan(alpha)) - phase) /
          (1 + c * Math.cos(x + Math.atan(alpha)));
      }
      return Math.cos(x);
    };
    const slope = (solve(phi0 + 1e-6) - solve(phi0 - 1e-6)) / 2e-6;
    const { standardUncertainty } = displacementBound(
      new Float64Array(400).fill(phiF),
      {
        wavelength,
        feedbackParameter: c,
        linewidthEnhancementFactor: alpha,
        relativeNoise: 0.01,
        knotSpacing: 100,
      },
    );
    expect(typeof excessPhase).toBe("function");
    // One slope for all samples: the bound is that of a spline fit, and scales
    // with the noise over the slope.
    const middle = standardUncertainty[200]!;
    const perSample = 0.01 / Math.abs(slope) * wavelength / (4 * Math.PI);
    // A cubic spline with h samples per knot keeps about 1/h of the variance.
    expect(middle / (perSample / Math.sqrt(100))).toBeGreaterThan(0.8);
    expect(middle / (perSample / Math.sqrt(100))).toBeLessThan(1.2);
  });
  it("is reached by least squares on simulated data", () => {
    // Monte Carlo of a linearised fit: one knot interval of 60 samples.
    const n = 240;
    const random = createRandom(3);
    const phase = Float64Array.from({ length: n }, (_, i) => 0.09 * i);
    const { standardUncertainty } = displacementBound(phase, {
      wavelength,
      feedbackParameter: 0,
      relativeNoise: 0.02,
      knotSpacing: 60,
    });
    let squares = 0;
    const trials = 300;
    for (let k = 0; k < trials; k++) {
      squares += splineError(phase, 60, 0.02, () => random.normal()) ** 2;
    }
    const spread = Math.sqrt(squares / trials) * wavelength / (4 * Math.PI);
    // 300 trials give the spread to 4 %; four standard deviations.
    expect(Math.abs(spread / standardUncertainty[120]! - 1)).toBeLessThan(0.17);
  });
});

/** Error at sample 120 of a dense least-squares fit of the phase. */
function splineError(
  phase: Float64Array,
  spacing: number,
  noise: number,
  normal: () => number,
): number {
  const n = phase.length;
  const size = n / spacing + 3;
  const basis = (x: number) => {
    const u = Math.abs(x);
    return u < 1
      ? (4 - 6 * u * u + 3 * u ** 3) / 6
      : u < 2
      ? (2 - u) ** 3 / 6
      : 0;
  };
  const rows = Array.from({ length: size }, () => new Array(size + 1).fill(0));
  for (let i = 0; i < n; i++) {
    const g = -Math.sin(phase[i]!);
    const b = Array.from(
      { length: size },
      (_, k) => g * basis(i / spacing - (k - 1)),
    );
    const y = noise * normal();
    for (let k = 0; k < size; k++) {
      for (let m = 0; m < size; m++) rows[k]![m] += b[k]! * b[m]!;
      rows[k]![size] += b[k]! * y;
    }
  }
  for (let k = 0; k < size; k++) {
    for (let m = 0; m < size; m++) {
      if (m === k) continue;
      const factor = rows[m]![k] / rows[k]![k];
      for (let j = k; j <= size; j++) rows[m]![j] -= factor * rows[k]![j];
    }
  }
  let error = 0;
  for (let k = 0; k < size; k++) {
    error += basis(120 / spacing - (k - 1)) * rows[k]![size] / rows[k]![k];
  }
  return error;
}

describe("createDisplacementTracker", () => {
  it("gives the displacement of the whole, block by block", () => {
    const capture = simulateCapture({
      distance: (time) => 0.1 + 2e-6 * Math.sin(2 * Math.PI * 40 * time),
      samplingRate: 200e3,
      duration: 1,
      feedbackParameter: 0.6,
      noise: { signalToNoiseRatio: 30 },
      drive: null,
    });
    const samples = capture.channels[0]!.samples;
    const stream = createDisplacementTracker({
      wavelength,
      trainingSamples: 32768,
    });
    const whole = new Float64Array(samples.length);
    for (let i = 0; i < samples.length; i += 10000) {
      for (const block of stream.push(samples.subarray(i, i + 10000))) {
        whole.set(block.displacement, block.first);
      }
    }
    for (const block of stream.finish()) {
      whole.set(block.displacement, block.first);
      expect(block.joined).toBe(true);
    }
    const { rms } = displacementError(whole, capture.truth.phase);
    // 30 dB and some hundred samples per knot: well below a nanometre.
    expect(rms).toBeLessThan(1e-9);
    expect(stream.feedback!.directionDetermined).toBe(true);
  });
});

describe("measureDisplacementSpectrum", () => {
  it("shows a sine as A/√2 over the square root of the window's noise bandwidth", () => {
    const capture = simulateCapture({
      distance: (time) => 0.1 + 1e-6 * Math.sin(2 * Math.PI * 512 * time),
      samplingRate: 65536,
      duration: 0.125,
      feedbackParameter: 0.5,
      drive: null,
    });
    const spectrum = measureDisplacementSpectrum(
      measureDisplacement(capture, { wavelength }),
      { segmentLength: 2048 },
    );
    const line = 512 / (65536 / 2048);
    // ENBW of a Hann window: 1.5 bins (Harris 1978).
    expect(spectrum.noiseBandwidth / (65536 / 2048)).toBeCloseTo(1.5, 2);
    const amplitude = spectrum.density[line]! *
      Math.sqrt(2 * spectrum.noiseBandwidth);
    expect(Math.abs(amplitude / 1e-6 - 1)).toBeLessThan(0.01);
  });
});

describe("showPitfalls", () => {
  it("says that slow fringes droop behind a coupling capacitor", () => {
    // Fringes come at up to 2 v/λ = 773 Hz; a high-pass of 1 kHz passes
    // f/√(f² + f₀²) of them: 61 % of the fastest, less of all others.
    const height = (couplingCorner: number | null) =>
      showPitfalls(
        simulateCapture({
          distance: (time) => 0.1 + 2e-6 * Math.sin(2 * Math.PI * 20 * time),
          samplingRate: 96e3,
          duration: 0.2,
          frontEnd: { couplingCorner },
          noise: { signalToNoiseRatio: 40 },
          drive: null,
          seed: 1,
        }),
        { wavelength },
      );
    const direct = height(null);
    const coupled = height(1000);
    expect(direct.warnings.map(({ code }) => code)).not.toContain("droop");
    expect(Math.abs(direct.slowFringeHeight - 1)).toBeLessThan(0.02);
    expect(coupled.warnings.map(({ code }) => code)).toContain("droop");
    expect(coupled.slowFringeHeight).toBeLessThan(0.75);
  });
  it("shows twice the way for a whole wavelength per fringe, and half fringes at turning points", () => {
    const { capture } = makeScenario(6, {
      signalToNoiseRatio: 40,
      feedbackParameter: 0.5,
      amplitude: 1e-6,
    });
    const result = showPitfalls(capture, { wavelength });
    expect(result.pathWithWholeWavelength / result.path.value).toBe(2);
    expect(result.diagnostics.turningPoints).toBeGreaterThan(3);
    expect(Math.abs(result.pathFromExtremes - result.path.value))
      .toBeGreaterThan(50e-9);
    expect(result.warnings.map((w) => w.code)).toContain("turning-points");
  });
});
