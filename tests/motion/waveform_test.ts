import { describe, expect, it } from "vitest";
import {
  createCapture,
  cutCapture,
  datasetTruth,
  loadDataset,
  measureCapture,
  measureDisplacement,
  measureRingDown,
  measureWaveform,
  type Quantity,
  simulateCapture,
} from "fringebook";
import { createRandom } from "fringebook/signal";
import { madeDisplacement } from "./made_displacement.ts";

const turn = 2 * Math.PI;

/** Four standard uncertainties, so that one seed cannot fail by chance. */
const near = ({ value, standardUncertainty }: Quantity, truth: number) =>
  expect(Math.abs(value - truth)).toBeLessThan(4 * standardUncertainty);

/** A displacement of known course with 1 nm of noise in each sample. */
function made(course: (time: number) => number, rate: number, count: number) {
  const random = createRandom(11);
  return madeDisplacement(
    Float64Array.from(
      { length: count },
      (_, i) => course(i / rate) + 1e-9 * random.normal(),
    ),
    rate,
    1e-9,
  );
}

/** A ramp that rises for the given part of its period, peak 1. */
function ramp(turns: number, rising: number): number {
  const part = turns - Math.floor(turns);
  return part < rising
    ? 2 * part / rising - 1
    : 1 - 2 * (part - rising) / (1 - rising);
}

/**
 * A damped oscillator under a square drive, in its steady state: each harmonic of
 * the square (4/πh, h odd) times 1/(1 - w² + 2iζw), w = h f/f0; from memory, any
 * textbook of vibrations.
 */
function ringingSquare(f: number, f0: number, zeta: number, amplitude: number) {
  const parts = Array.from({ length: 150 }, (_, k) => {
    const h = 2 * k + 1;
    const w = h * f / f0;
    const real = 1 - w * w, imaginary = 2 * zeta * w;
    const size = 4 * amplitude / (Math.PI * h) / (real ** 2 + imaginary ** 2);
    return { h, sine: size * real, cosine: -size * imaginary };
  });
  return (time: number) =>
    parts.reduce((sum, { h, sine, cosine }) => {
      const angle = turn * h * f * time;
      return sum + sine * Math.sin(angle) + cosine * Math.cos(angle);
    }, 0);
}

describe("measureWaveform", () => {
  it("has the Fourier series of a triangle, through air that drifts", () => {
    // 8/(π²h²) for odd h, 0 for even: any table of Fourier series, from memory.
    const course = (time: number) =>
      1e-6 * ramp(40 * time + 0.1, 0.5) + 2e-6 * Math.sin(turn * 0.8 * time);
    const found = measureWaveform(made(course, 20e3, 20_000));
    near(found.frequency, 40);
    for (const { order, amplitude } of found.harmonics.slice(0, 7)) {
      if (order % 2 === 1) near(amplitude, 8e-6 / Math.PI ** 2 / order ** 2);
      else expect(amplitude.value).toBeLessThan(0.1e-9);
    }
    // Four straight lines of 1 µm in a quarter of a period.
    expect(Math.abs(found.risingSlope.value / 160e-6 - 1)).toBeLessThan(1e-3);
    expect(Math.abs(found.fallingSlope.value / -160e-6 - 1)).toBeLessThan(1e-3);
    expect(found.staysAtLevels).toBe(false);
    expect(found.overshoot).toBe(null);
    expect(found.periodicity).toBeGreaterThan(0.999);
  });

  it("has the slopes of a lopsided ramp", () => {
    const found = measureWaveform(
      made((time) => 1e-6 * ramp(25 * time, 0.8), 10e3, 8000),
    );
    // 2 µm in 0.8 and in 0.2 of 40 ms; 10 % to 90 % of them in 0.8 of that.
    expect(Math.abs(found.risingSlope.value / 62.5e-6 - 1)).toBeLessThan(2e-3);
    expect(Math.abs(found.fallingSlope.value / -250e-6 - 1)).toBeLessThan(2e-3);
    expect(Math.abs(found.riseTime.value / 25.6e-3 - 1)).toBeLessThan(2e-3);
    expect(Math.abs(found.fallTime.value / 6.4e-3 - 1)).toBeLessThan(2e-3);
  });

  it("has overshoot and ringing of a square drive as the oscillator has", () => {
    const [f, f0, zeta] = [10, 200, 0.15];
    const course = ringingSquare(f, f0, zeta, 1e-6);
    const drive = (time: number) => Math.sin(turn * f * time) >= 0 ? 1 : -1;
    const displacement = made(course, 20e3, 20_000);
    const { samplingRate } = displacement;
    const channel = createCapture([{
      name: "CH2",
      role: "drive voltage",
      unit: "V",
      samples: Float64Array.from(
        displacement.displacement,
        // Edges between two samples.
        (_, i) => drive((i + 0.5) / samplingRate),
      ),
    }], { samplingRate }).channels[0]!;
    const found = measureWaveform(displacement, { drive: channel });
    expect(found.staysAtLevels).toBe(true);
    // exp(-πζ/√(1-ζ²)): damped oscillator, any textbook of control, from memory.
    const overshoot = Math.exp(-Math.PI * zeta / Math.sqrt(1 - zeta ** 2));
    expect(Math.abs(found.overshoot!.value - overshoot)).toBeLessThan(0.01);
    expect(Math.abs(found.undershoot!.value - overshoot)).toBeLessThan(0.01);
    const { naturalFrequency, dampingRatio } = found.ringing!;
    expect(Math.abs(naturalFrequency.value / f0 - 1)).toBeLessThan(1e-3);
    expect(Math.abs(dampingRatio.value / zeta - 1)).toBeLessThan(5e-3);
    for (const { order, gain, phaseToDrive } of found.harmonics.slice(0, 15)) {
      if (order % 2 === 0) {
        expect(gain).toBe(null);
        continue;
      }
      const w = order * f / f0;
      const size = 1e-6 / Math.hypot(1 - w * w, 2 * zeta * w);
      expect(Math.abs(gain!.value / size - 1)).toBeLessThan(0.005);
      const phase = -Math.atan2(2 * zeta * w, 1 - w * w) -
        Math.PI * order * f / samplingRate;
      expect(Math.abs(phaseToDrive!.value - phase)).toBeLessThan(0.02);
    }
  });

  it("measures the fringes of a rounded ramp", () => {
    const [a1, a2, a3] = [0.8e-6, 0.3e-6, 0.1e-6];
    const capture = simulateCapture({
      distance: (time) =>
        0.1 + a1 * Math.sin(turn * 100 * time) +
        a2 * Math.sin(turn * 200 * time) + a3 * Math.sin(turn * 300 * time),
      samplingRate: 60e3,
      duration: 0.12,
      feedbackParameter: 0.7,
      noise: { signalToNoiseRatio: 30 },
      drive: null,
    });
    const found = measureWaveform(capture, { wavelength: 650e-9 });
    [a1, a2, a3].forEach((truth, k) =>
      near(found.harmonics[k]!.amplitude, truth)
    );
    near(found.frequency, 100);
  });

  it("times the edges of a soft square, and says that hard ones are not followed", async () => {
    const light = {
      wavelength: 785e-9,
      wavelengthStandardUncertainty: 1.5e-9,
    };
    const soft = measureWaveform(await loadDataset("speaker-soft"), light);
    const truth = datasetTruth("speaker-soft");
    near(soft.step, truth.height!.value);
    near(soft.riseTime, truth.riseTime!.value);
    near(soft.fallTime, truth.fallTime!.value);
    expect(soft.warnings).toEqual([]);
    const hard = cutCapture(await loadDataset("speaker-hard"), { to: 0.03 });
    const { warnings } = measureDisplacement(hard, light);
    expect(warnings.map(({ code }) => code)).toContain("hard-edges");
    const { recognition, results } = measureCapture(hard, light);
    expect(results).toEqual([]);
    expect(recognition.reason).toMatch(/leaps \d+ times in between/);
  });

  it("says where there are too few periods, and where none comes back", () => {
    expect(() => measureWaveform(made((t) => 1e-6 * t, 1e3, 900))).toThrow(
      "periods",
    );
    const random = createRandom(2);
    let walk = 0;
    const wandering = made(
      () => walk += 10e-9 * random.normal(),
      1e3,
      4000,
    );
    expect(
      measureWaveform(wandering, { frequency: 20 }).warnings.map(({ code }) =>
        code
      ),
    ).toContain("not-periodic");
  });
});

describe("measureRingDown on several decays", () => {
  it("finds taps and releases by itself and averages them", () => {
    const [f0, zeta] = [120, 0.02];
    const omega = turn * f0;
    const damped = omega * Math.sqrt(1 - zeta ** 2);
    const decay = (t: number) => Math.exp(-zeta * omega * t);
    const tap = (t: number) => t < 0 ? 0 : decay(t) * Math.sin(damped * t);
    // Pulled aside in 50 ms, held for 50 ms, let go.
    const release = (t: number) =>
      t < -0.1 ? 0 : t < -0.05 ? (t + 0.1) / 0.05 : t < 0 ? 1 : decay(t) *
        (Math.cos(damped * t) + zeta * omega / damped * Math.sin(damped * t));
    for (const form of [tap, release]) {
      const times = [0.15, 0.5, 0.9, 1.25];
      const course = (time: number) =>
        times.reduce(
          (sum, at, k) => sum + (1.2 + 0.2 * k) * 1e-6 * form(time - at),
          0,
        );
      const found = measureRingDown(made(course, 8e3, 12_400));
      expect(found.decays.length).toBe(4);
      near(found.naturalFrequency, f0);
      near(found.dampingRatio, zeta);
      found.decays.forEach(({ startTime, naturalFrequency }, k) => {
        // The fit starts at the first turn, within a period of the release.
        expect(startTime - times[k]!).toBeGreaterThan(0);
        expect(startTime - times[k]!).toBeLessThan(1 / f0);
        near(naturalFrequency, f0);
      });
      // The mean is surer than its best part.
      const best = Math.min(
        ...found.decays.map(({ dampingRatio }) =>
          dampingRatio.standardUncertainty
        ),
      );
      expect(found.dampingRatio.standardUncertainty).toBeLessThan(best);
    }
  });

  it("takes the first alone where it is told so", () => {
    const course = (time: number) => {
      const t = time % 0.4;
      return 1e-6 * Math.exp(-15 * t) * Math.sin(turn * 100 * t);
    };
    const found = measureRingDown(made(course, 20e3, 24_000), {
      decays: "first",
    });
    expect(found.decays.length).toBe(1);
    expect(found.startTime).toBeLessThan(0.01);
  });
});
