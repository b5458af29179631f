import { describe, expect, it } from "vitest";
import {
  createCapture,
  datasetTruth,
  loadDataset,
  measureDisplacement,
  measureDisplacementSpectrum,
  measureResponse,
  measureRingDown,
  measureVibration,
  simulateCapture,
} from "fringebook";
import { createRandom } from "fringebook/signal";
import fixture from "./fixtures/damped_oscillation.json" with { type: "json" };
import { madeDisplacement } from "./made_displacement.ts";

const wavelength = 650e-9;

describe("measureVibration", () => {
  it("finds amplitude, frequency, phase and distortion within their uncertainty", () => {
    const capture = simulateCapture({
      distance: (time) => {
        const angle = 2 * Math.PI * 123 * time + 0.4;
        return 0.1 + 1e-6 * Math.cos(angle) + 30e-9 * Math.cos(3 * angle);
      },
      samplingRate: 100e3,
      duration: 0.06,
      feedbackParameter: 0.7,
      noise: { signalToNoiseRatio: 30 },
      drive: null,
    });
    const result = measureVibration(
      measureDisplacement(capture, { wavelength }),
    );
    // Four standard uncertainties, so that one seed cannot fail by chance.
    const near = (
      q: { value: number; standardUncertainty: number },
      truth: number,
    ) =>
      expect(Math.abs(q.value - truth)).toBeLessThan(4 * q.standardUncertainty);
    near(result.amplitude, 1e-6);
    near(result.frequency, 123);
    near(result.phase, 0.4);
    near(result.harmonics[2]!.amplitude, 30e-9);
    near(result.totalHarmonicDistortion, 0.03);
    expect(result.amplitude.standardUncertainty).toBeLessThan(1e-9);
  });
  it("is as right in a long record as it says", () => {
    // 300 periods of 500 Hz in 240 000 samples, tracked block by block; once
    // samples were put together, and 1 µm was 999.4 nm with 0.02 nm.
    const capture = simulateCapture({
      distance: (time) => 0.1 + 1e-6 * Math.cos(2 * Math.PI * 500 * time + 1),
      samplingRate: 400e3,
      duration: 0.6,
      feedbackParameter: 0.7,
      noise: { signalToNoiseRatio: 30 },
      drive: null,
    });
    const displacement = measureDisplacement(capture, { wavelength });
    const { amplitude, frequency } = measureVibration(displacement);
    const { peakToPeak } = displacement;
    for (
      const [found, truth] of [
        [amplitude, 1e-6],
        [frequency, 500],
        [peakToPeak, 2e-6],
      ] as const
    ) {
      expect(Math.abs(found.value - truth)).toBeLessThan(
        4 * found.standardUncertainty,
      );
    }
    expect(amplitude.standardUncertainty).toBeLessThan(0.02e-9);
    expect(peakToPeak.standardUncertainty).toBeLessThan(0.5e-9);
  });
  it("follows a slow drift that is no straight line", () => {
    // As in moving air: 3 µm to and fro over the record.
    const capture = simulateCapture({
      distance: (time) =>
        0.1 + 0.8e-6 * Math.cos(2 * Math.PI * 200 * time) +
        3e-6 * Math.sin(2 * Math.PI * 2.6 * time) +
        1e-6 * Math.sin(2 * Math.PI * 6.2 * time),
      samplingRate: 60e3,
      duration: 0.25,
      noise: { signalToNoiseRatio: 30 },
      drive: null,
    });
    const { amplitude, frequency, warnings } = measureVibration(capture, {
      wavelength,
    });
    expect(Math.abs(amplitude.value - 0.8e-6)).toBeLessThan(
      4 * amplitude.standardUncertainty,
    );
    expect(Math.abs(frequency.value - 200)).toBeLessThan(
      4 * frequency.standardUncertainty,
    );
    // Some tenth of a nanometre, as without the drift.
    expect(amplitude.standardUncertainty).toBeLessThan(0.15e-9);
    expect(warnings.map(({ code }) => code)).not.toContain("not-periodic");
  });
  it("follows the sample capture in warm air as well as one at rest", async () => {
    // Drift at a tenth of the vibration's frequency; once parabolas alone left
    // 7.7 times the noise, and u was 2.7 nm beside the wavelength's share.
    const { amplitude, frequency, warnings } = measureVibration(
      await loadDataset("speaker-draught"),
      { wavelength: datasetTruth("speaker-draught").wavelength!.value },
    );
    const truth = datasetTruth("speaker-draught");
    expect(Math.abs(amplitude.value - truth.amplitude!.value))
      .toBeLessThan(3 * amplitude.standardUncertainty);
    expect(Math.abs(frequency.value - truth.frequency!.value))
      .toBeLessThan(3 * frequency.standardUncertainty);
    expect(amplitude.standardUncertainty).toBeLessThan(0.15e-9);
    expect(warnings.map(({ code }) => code)).not.toContain("not-periodic");
  });
  it("calls taps no vibration, and their mean decay is that of the table", async () => {
    // What the amplifier takes ran away until no sample counted any more, so that
    // nothing was left and nothing was said.
    const taps = measureDisplacement(await loadDataset("taps"), {
      wavelength: 650e-9,
    });
    const { warnings, diagnostics } = measureVibration(taps);
    expect(warnings.map(({ code }) => code)).toContain("not-periodic");
    expect(diagnostics.unexplained).toBeGreaterThan(0.1);
    const truth = datasetTruth("taps");
    const { decays, dampingRatio, naturalFrequency } = measureRingDown(taps);
    expect(decays.length).toBe(truth.taps!.value);
    for (
      const [found, key] of [
        [dampingRatio, "dampingRatio"],
        [naturalFrequency, "naturalFrequency"],
      ] as const
    ) {
      expect(Math.abs(found.value - truth[key]!.value))
        .toBeLessThan(3 * found.standardUncertainty);
    }
  });
  it("refuses a record without a period", () => {
    const displacement = madeDisplacement(
      Float64Array.from({ length: 500 }, (_, i) => 1e-9 * i),
      1000,
      1e-10,
    );
    expect(() => measureVibration(displacement, { frequency: 0.1 })).toThrow(
      "record longer",
    );
    expect(() => measureVibration(displacement, { harmonics: 0 })).toThrow(
      "current value is 0",
    );
  });
});

describe("measureRingDown", () => {
  it("agrees with an oscillator integrated by SciPy", () => {
    // scipy.integrate.solve_ivp, DOP853, rtol 1e-11.
    const random = createRandom(5);
    const x = Float64Array.from(
      fixture.displacement,
      (value) => value + 1e-9 * random.normal(),
    );
    const result = measureRingDown(
      madeDisplacement(x, fixture.samplingRate, 1e-9),
      { modes: 1, start: 0 },
    );
    const { naturalFrequency: f, dampingRatio: z } = result;
    expect(Math.abs(f.value - fixture.naturalFrequency))
      .toBeLessThan(4 * f.standardUncertainty);
    expect(Math.abs(z.value - fixture.dampingRatio))
      .toBeLessThan(4 * z.standardUncertainty);
    expect(f.standardUncertainty).toBeLessThan(0.01);
    expect(result.qualityFactor.value).toBeCloseTo(1 / (2 * z.value), 10);
    // 2 % settling time of the textbook: -ln(0.02 sqrt(1-ζ²))/(ζω0).
    expect(Math.abs(result.settlingTime.value - 0.2077)).toBeLessThan(0.002);
  });
  it("tells two modes apart", () => {
    const random = createRandom(6);
    const x = Float64Array.from({ length: 4000 }, (_, i) => {
      const t = i / 10e3;
      return 2e-6 * Math.exp(-12 * t) * Math.cos(2 * Math.PI * 60 * t) +
        0.5e-6 * Math.exp(-30 * t) * Math.cos(2 * Math.PI * 210 * t) +
        1e-9 * random.normal();
    });
    const { modes } = measureRingDown(madeDisplacement(x, 10e3, 1e-9), {
      start: 0,
    });
    expect(modes.length).toBe(2);
    expect(Math.abs(modes[0]!.dampedFrequency.value - 60)).toBeLessThan(0.05);
    expect(Math.abs(modes[1]!.dampedFrequency.value - 210)).toBeLessThan(0.5);
  });
});

describe("measureRingDown where the target creeps besides", () => {
  it("takes the creep for no mode", () => {
    const decayTime = 0.03;
    const frequency = 140;
    const capture = simulateCapture({
      distance: (time) =>
        0.1 + 1.3e-6 * Math.exp(-time / decayTime) *
          Math.cos(2 * Math.PI * frequency * time) -
        2e-6 * Math.exp(-time / 0.1),
      samplingRate: 48e3,
      duration: 0.06,
      feedbackParameter: 0.7,
      noise: { signalToNoiseRatio: 35 },
      drive: null,
      seed: 5,
    });
    const { qualityFactor, modes } = measureRingDown(
      measureDisplacement(capture, { wavelength }),
    );
    // Q of the motion that was simulated.
    const truth = Math.hypot(1, 2 * Math.PI * frequency * decayTime) / 2;
    expect(Math.abs(qualityFactor.value - truth)).toBeLessThan(
      4 * qualityFactor.standardUncertainty,
    );
    expect(qualityFactor.standardUncertainty).toBeLessThan(0.01 * truth);
    expect(modes.length).toBe(1);
  });
});

describe("measureDisplacementSpectrum", () => {
  it("agrees with scipy.signal.welch", () => {
    const spectrum = measureDisplacementSpectrum(
      madeDisplacement(Float64Array.from(fixture.noise), 1000, 1),
      { segmentLength: 128 },
    );
    fixture.welchDensity.forEach((density, k) => {
      expect(Math.abs(spectrum.density[k]! - Math.sqrt(density)))
        .toBeLessThan(1e-9);
    });
  });
});

describe("measureResponse", () => {
  it("claims no gain where the drive has less than 'leastDrive' of its density", () => {
    const random = createRandom(9);
    const rate = 1024;
    const n = 16384;
    // Tones in the middle of bins of 1024 samples: 100 Hz, 0.015 of it at
    // 200 Hz (2.3e-4 of its density), 0.002 at 300 Hz (4e-6).
    const tones = [[100, 1], [200, 0.015], [300, 0.002]] as const;
    const drive = Float64Array.from({ length: n }, (_, i) =>
      tones.reduce(
        (sum, [f, a]) => sum + a * Math.cos(2 * Math.PI * f * i / rate),
        0,
      ));
    // 1 µm/V at 100 Hz, 2 µm/V at 200 Hz, 3 µm/V at 300 Hz.
    const x = Float64Array.from({ length: n }, (_, i) =>
      tones.reduce(
        (sum, [f, a]) =>
          sum + f * 1e-8 * a * Math.cos(2 * Math.PI * f * i / rate),
        1e-10 * random.normal(),
      ));
    const capture = createCapture([
      { name: "m", role: "monitor signal", unit: "V", samples: x },
      { name: "d", role: "drive voltage", unit: "V", samples: drive },
    ], { samplingRate: rate });
    const gainsFrom = (leastDrive: number) => {
      const { frequency, gain } = measureResponse(
        madeDisplacement(x, rate, 1e-10),
        capture,
        { segmentLength: 1024, leastDrive },
      );
      return new Map(Array.from(frequency, (f, k) => [f, gain[k]!]));
    };
    // A Hann window spreads a tone over its bin and both neighbours.
    const usual = gainsFrom(1e-4);
    expect([...usual.keys()]).toEqual([99, 100, 101, 200]);
    // Noise of 0.1 nm against 30 nm of displacement, averaged.
    expect(Math.abs(usual.get(200)! / 2e-6 - 1)).toBeLessThan(1e-3);
    const all = gainsFrom(2e-6);
    expect([...all.keys()]).toEqual([99, 100, 101, 199, 200, 201, 300]);
    expect(Math.abs(all.get(300)! / 3e-6 - 1)).toBeLessThan(1e-2);
    expect([...gainsFrom(0.5).keys()]).toEqual([100]);
    expect(() => gainsFrom(0)).toThrow("'leastDrive' must be above 0");
  });
  it("gives gain, phase and coherence of a resonance driven by noise", () => {
    const random = createRandom(8);
    const rate = 2000;
    const n = 40000;
    const drive = Float64Array.from({ length: n }, () => random.normal());
    const x = new Float64Array(n);
    // A resonance at 200 Hz as a digital filter of two poles.
    const radius = 0.97;
    const angle = 2 * Math.PI * 200 / rate;
    for (let i = 2; i < n; i++) {
      x[i] = 2 * radius * Math.cos(angle) * x[i - 1]! -
        radius * radius * x[i - 2]! + 1e-9 * drive[i]!;
    }
    const capture = createCapture([
      { name: "m", role: "monitor signal", unit: "V", samples: x },
      { name: "d", role: "drive voltage", unit: "V", samples: drive },
    ], { samplingRate: rate });
    const result = measureResponse(madeDisplacement(x, rate, 1e-10), capture, {
      segmentLength: 1024,
    });
    const k = result.frequency.findIndex((f) => f > 100);
    const f = result.frequency[k]!;
    const w = 2 * Math.PI * f / rate;
    const real = 1 - 2 * radius * Math.cos(angle) * Math.cos(w) +
      radius * radius * Math.cos(2 * w);
    const imaginary = 2 * radius * Math.cos(angle) * Math.sin(w) -
      radius * radius * Math.sin(2 * w);
    const truth = 1e-9 / Math.hypot(real, imaginary);
    // Leakage of the window at a lightly damped resonance: 2 %.
    expect(Math.abs(result.gain[k]! / truth - 1)).toBeLessThan(0.02);
    expect(Math.abs(result.phase[k]! + Math.atan2(imaginary, real)))
      .toBeLessThan(0.05);
    expect(result.coherence[k]).toBeGreaterThan(0.98);
    expect(Math.abs(result.peakFrequency.value - 200)).toBeLessThan(4);
    expect(result.peakGain.unit).toBe("m/V");
  });
});
