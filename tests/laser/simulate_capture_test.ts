import { describe, expect, it } from "vitest";
import { findChannel, rampCurrent, simulateCapture } from "fringebook";
import { defaultDiode, modelPower, modelWavelengths } from "fringebook/laser";
import { setCheckpointHandler } from "fringebook/progress";

const turn = 2 * Math.PI;
const samplesOf = (capture: ReturnType<typeof simulateCapture>) =>
  capture.channels[0]!.samples;

function mean(values: ArrayLike<number>): number {
  let sum = 0;
  for (let i = 0; i < values.length; i++) sum += values[i]!;
  return sum / values.length;
}

function rms(values: ArrayLike<number>): number {
  const middle = mean(values);
  let sum = 0;
  for (let i = 0; i < values.length; i++) sum += (values[i]! - middle) ** 2;
  return Math.sqrt(sum / values.length);
}

/** Mean square per Hz at one frequency: |Σ x e^{-iωt}|² 2/(N fs). */
function densityAt(x: ArrayLike<number>, frequency: number, rate: number) {
  let real = 0;
  let imaginary = 0;
  for (let i = 0; i < x.length; i++) {
    const angle = turn * frequency * i / rate;
    real += x[i]! * Math.cos(angle);
    imaginary += x[i]! * Math.sin(angle);
  }
  return 2 * (real * real + imaginary * imaginary) / (x.length * rate);
}

describe("simulateCapture()", () => {
  it("makes one fringe for each half wavelength", () => {
    // Fringe = λ/2: common to the whole literature, such as Donati 1995.
    const { truth } = simulateCapture({
      distance: (time) => 0.2 + 3.25e-6 * time,
      samplingRate: 5000,
      duration: 1.0002,
      feedbackParameter: 2,
      refractiveIndex: 1,
    });
    expect((truth.phase.at(-1)! - truth.phase[0]!) / turn).toBeCloseTo(10, 3);
    expect(truth.jumpIndices.length).toBe(10);
    expect(truth.jumpBranches.every((branches) => branches === 1)).toBe(true);
  });

  it("makes the Doppler frequency 2v/λ of a receding target", () => {
    // 1 mm/s at 650 nm: 3076.92 Hz, worked out by hand.
    const { truth } = simulateCapture({
      distance: (time) => 0.2 + 1e-3 * time,
      samplingRate: 100e3,
      duration: 0.1,
      refractiveIndex: 1,
    });
    const cycles = (truth.phase.at(-1)! - truth.phase[0]!) / turn;
    expect(Math.abs(cycles / (9999 / 100e3) - 3076.92)).toBeLessThan(0.01);
  });

  it("lowers the phase while the current rises, 2L Δλ/λ² fringes of it", () => {
    const capture = simulateCapture({
      distance: 0.5,
      current: rampCurrent({ low: 0.035, high: 0.045, frequency: 10 }),
      samplingRate: 20e3,
      duration: 0.05,
      refractiveIndex: 1,
    });
    const { phase, wavelength } = capture.truth;
    const fringes = (phase[0]! - phase.at(-1)!) / turn;
    const first = wavelength[0]!;
    const last = wavelength.at(-1)!;
    expect(last).toBeGreaterThan(first);
    // N = 2nL (1/λ1 - 1/λ2), exact: Beheim, Fritsch 1986.
    expect(fringes).toBeCloseTo(2 * 0.5 * (1 / first - 1 / last), 6);
  });

  it("gives drive current, or drive voltage by its conversion", () => {
    const options = {
      distance: 0.1,
      current: 0.04,
      samplingRate: 1000,
      duration: 0.01,
    };
    const current = findChannel(simulateCapture(options), "drive current")!;
    expect(current.unit).toBe("A");
    expect(current.samples[3]).toBe(0.04);
    const voltage = findChannel(
      simulateCapture({
        ...options,
        drive: { role: "drive voltage", conversion: 0.1 },
      }),
      "drive voltage",
    )!;
    expect(voltage.unit).toBe("V");
    expect(voltage.samples[3]).toBeCloseTo(0.4, 12);
    expect(simulateCapture({ ...options, drive: null }).channels.length)
      .toBe(1);
  });

  it("gives 100 mV for 1 µA in 100 kΩ", () => {
    // Ohm's law; common practice, no source.
    const [diode, current] = [{ ...defaultDiode }, 0.04];
    const monitor = modelPower(diode, current) * diode.monitorResponsivity;
    const capture = simulateCapture({
      distance: 0.1,
      current,
      samplingRate: 1000,
      duration: 0.01,
      modulationIndex: 0,
    });
    expect(samplesOf(capture)[0]! / monitor).toBeCloseTo(0.1 / 1e-6, 6);
  });

  it("turns the signal over with an inverting amplifier", () => {
    const options = {
      distance: (time: number) => 0.1 + 1e-5 * time,
      samplingRate: 1000,
      duration: 0.2,
    };
    const upright = samplesOf(simulateCapture(options));
    const inverted = samplesOf(
      simulateCapture({ ...options, frontEnd: { inverting: true } }),
    );
    expect([...inverted]).toEqual([...upright].map((value) => -value));
  });

  it("is the same to the bit with the same seed, and differs with another", () => {
    const options = {
      distance: 0.1,
      samplingRate: 10e3,
      duration: 0.1,
      noise: { white: 1e-3, shot: true, flicker: 1e-3 },
      speckle: { contrast: 0.5, correlationLength: 1e-3 },
    };
    const first = samplesOf(simulateCapture({ ...options, seed: 7 }));
    const again = samplesOf(simulateCapture({ ...options, seed: 7 }));
    const other = samplesOf(simulateCapture({ ...options, seed: 8 }));
    expect([...first]).toEqual([...again]);
    expect([...first]).not.toEqual([...other]);
  });

  it("falls to 1/√2 at the corner of one pole, and by Q at that of two", () => {
    // First- and second-order low-pass, any textbook of circuits.
    for (const qualityFactor of [null, 0.5, 2]) {
      const amplitude = (bandwidth: number | null) =>
        rms(
          samplesOf(simulateCapture({
            distance: (time) => 0.1 + 1000 * 650e-9 / 2 * time,
            samplingRate: 200e3,
            duration: 0.1,
            feedbackParameter: 0,
            frontEnd: { bandwidth, qualityFactor },
          })).subarray(10000),
        );
      const ratio = amplitude(1000) / amplitude(null);
      const expected = qualityFactor ?? Math.SQRT1_2;
      // The exact-decay pole at 200 samples per cycle is 1.6 % off at most.
      expect(Math.abs(ratio / expected - 1)).toBeLessThan(0.02);
    }
  });

  it("removes the standing voltage behind a coupling capacitor", () => {
    const samples = samplesOf(simulateCapture({
      distance: (time) => 0.1 + 1e-4 * time,
      samplingRate: 10e3,
      duration: 1,
      frontEnd: { couplingCorner: 1 },
    }));
    expect(Math.abs(mean(samples))).toBeLessThan(1e-3);
    expect(rms(samples)).toBeGreaterThan(0.01);
  });

  it("makes white, shot and 1/f noise of the stated densities", () => {
    const rate = 100e3;
    const still = {
      distance: 0.1,
      samplingRate: rate,
      duration: 1,
      modulationIndex: 0,
    };
    const white = samplesOf(simulateCapture({ ...still, noise: { white: 2 } }));
    // 1e5 samples: the rms is known to 1/sqrt(2N) = 0.22 %, five of them.
    expect(Math.abs(rms(white) / 2 - 1)).toBeLessThan(0.011);
    const shot = samplesOf(
      simulateCapture({ ...still, noise: { shot: true } }),
    );
    const current = mean(shot) / 100e3;
    // 2eI over half the sampling rate (Schottky), in 100 kΩ.
    const expected = 100e3 * Math.sqrt(1.602176634e-19 * current * rate);
    expect(Math.abs(rms(shot) / expected - 1)).toBeLessThan(0.011);
    const flicker = samplesOf(
      simulateCapture({ ...still, noise: { flicker: 1 } }),
    );
    for (const centre of [100, 1000, 10000]) {
      let density = 0;
      const lines = 60;
      for (let k = 0; k < lines; k++) {
        const frequency = centre * (0.9 + 0.2 * k / lines);
        density += densityAt(flicker, frequency, rate) * frequency / lines;
      }
      // A mean of some 20 to 200 independent lines of relative deviation 1.
      expect(Math.abs(density - 1)).toBeLessThan(0.6);
    }
  });

  it("sets white noise by the signal-to-noise ratio of an unfaded fringe", () => {
    const { truth, channels } = simulateCapture({
      distance: 0.1,
      samplingRate: 10e3,
      duration: 1,
      modulationIndex: 0.01,
      noise: { signalToNoiseRatio: 20 },
    });
    const amplitude = mean(channels[0]!.samples) * 0.01;
    // 20 dB in power: noise rms is a tenth of the fringe's rms. 0.5 %: the fringe
    // itself shifts the mean.
    expect(truth.noise / (amplitude / Math.SQRT2)).toBeCloseTo(0.1, 2);
  });

  it("adds hum of the stated amplitude", () => {
    const samples = samplesOf(simulateCapture({
      distance: 0.1,
      samplingRate: 10e3,
      duration: 1,
      modulationIndex: 0,
      noise: { hum: { amplitude: 0.01, frequency: 50, harmonics: [0, 0.5] } },
    }));
    // Amplitude² /2 per line over 1 Hz.
    expect(densityAt(samples, 50, 10e3)).toBeCloseTo(0.01 ** 2 / 2, 8);
    expect(densityAt(samples, 150, 10e3)).toBeCloseTo(0.005 ** 2 / 2, 8);
  });

  it("rounds to the converter's steps and stops at its ends", () => {
    const capture = simulateCapture({
      distance: (time) => 0.1 + 1e-4 * time,
      samplingRate: 10e3,
      duration: 0.1,
      modulationIndex: 0.9,
      digitiser: { bits: 8, low: 0, high: 6 },
    });
    const channel = capture.channels[0]!;
    const codes = Array.from(channel.samples, (value) => value / (6 / 256));
    expect(codes.every((code) => Math.abs(code - Math.round(code)) < 1e-9))
      .toBe(true);
    expect(Math.max(...codes)).toBe(255);
    expect(channel.fullScale).toEqual({ low: 0, high: 6 });
  });

  it("holds the amplifier at its rails", () => {
    const samples = samplesOf(simulateCapture({
      distance: 0.1,
      samplingRate: 1000,
      duration: 0.1,
      frontEnd: { rails: { low: -1, high: 1 } },
    }));
    expect(Math.max(...samples)).toBe(1);
  });

  it("makes C grow with the distance where told so", () => {
    // C is proportional to L: Acket et al. 1984.
    const { truth } = simulateCapture({
      distance: 0.4,
      samplingRate: 1000,
      duration: 0.01,
      feedbackParameter: 1,
      feedbackDistance: 0.1,
    });
    expect(truth.feedbackParameter[0]).toBeCloseTo(4, 12);
  });

  it("gives the same speckle at the same place, with mean square 1", () => {
    const { truth } = simulateCapture({
      distance: (time) => 0.1 + 1e-3 * (0.5 - Math.abs(time - 0.5)),
      samplingRate: 10e3,
      duration: 1,
      feedbackParameter: 1,
      speckle: { contrast: 1, correlationLength: 1e-6 },
    });
    const c = truth.feedbackParameter;
    expect(c[1000]).toBeCloseTo(c[9000]!, 9);
    // Some 500 independent places, exponential distribution: 1/sqrt(500) = 4.5 %
    // standard deviation, three of them.
    expect(Math.abs(mean(c.map((value) => value * value)) - 1))
      .toBeLessThan(0.14);
    // Mean of a Rayleigh amplitude with mean square 1: sqrt(π)/2.
    expect(Math.abs(mean(c) - Math.sqrt(Math.PI) / 2)).toBeLessThan(0.07);
  });

  it("takes samples of distance and current instead of functions", () => {
    const { truth } = simulateCapture({
      distance: Float64Array.of(0.1, 0.2, 0.3),
      current: Float64Array.of(0.04, 0.041, 0.042),
      samplingRate: 10,
      oversampling: 4,
    });
    expect([...truth.distance]).toEqual([0.1, 0.2, 0.3]);
    expect([...truth.current]).toEqual([0.04, 0.041, 0.042]);
  });

  it("refuses what has no length, no rate or several lengths", () => {
    expect(() => simulateCapture({ distance: 0.1, samplingRate: 10 }))
      .toThrow("say how long it is");
    expect(() =>
      simulateCapture({ distance: 0.1, samplingRate: 0, duration: 1 })
    ).toThrow("'samplingRate' must be a positive number of Hz");
    expect(() =>
      simulateCapture({
        distance: new Float64Array(3),
        samplingRate: 10,
        duration: 1,
      })
    ).toThrow("current lengths are 3, 10");
    expect(() =>
      simulateCapture({ distance: () => NaN, samplingRate: 10, duration: 1 })
    ).toThrow("'distance'");
    expect(() =>
      simulateCapture({
        distance: 0.1,
        samplingRate: 10,
        duration: 1,
        oversampling: 1.5,
      })
    ).toThrow("'oversampling'");
  });
});

describe("simulateCapture() with figures that no bench has", () => {
  const still = { distance: 0.1, samplingRate: 1000, duration: 0.1 };

  it("names the figure", () => {
    const cases: [object, string][] = [
      [{ modulationIndex: -1 }, "'modulationIndex'"],
      [{ diode: { thresholdCurrent: NaN } }, "'thresholdCurrent'"],
      [{ frontEnd: { bandwidth: -5 } }, "'bandwidth'"],
      [{ noise: { white: -1 } }, "'white'"],
      [{ feedbackParameter: -1 }, "'feedbackParameter'"],
      [{ speckle: { contrast: 2, correlationLength: 1 } }, "'contrast'"],
      [{ digitiser: { bits: 0, low: 0, high: 1 } }, "1 to 32 bits"],
      [{ duration: 1e9 }, "shorten 'duration'"],
    ];
    for (const [options, message] of cases) {
      expect(() => simulateCapture({ ...still, ...options })).toThrow(message);
    }
  });

  it("can be interrupted", () => {
    const before = setCheckpointHandler(() => {
      throw new Error("stop");
    });
    expect(() => simulateCapture(still)).toThrow("stop");
    setCheckpointHandler(before);
  });
});

describe("modelWavelengths()", () => {
  it("is λ + β ΔI + γ ΔI² without lag", () => {
    const diode = { ...defaultDiode, tuningCurvature: 1e-7 };
    const [wavelength] = modelWavelengths(diode, Float64Array.of(0.05), 1000);
    expect((wavelength! - 650e-9) * 1e12).toBeCloseTo(80 + 10, 6);
  });

  it("reaches 1 - 1/e of a step after the thermal time constant", () => {
    const diode = { ...defaultDiode, thermalTimeConstant: 0.01 };
    const current = new Float64Array(40000).fill(0.04);
    current.fill(0.05, 20000);
    const wavelength = modelWavelengths(diode, current, 100e3);
    const part = (wavelength[20000 + 999]! - 650e-9) / 80e-12;
    expect(part).toBeCloseTo(1 - Math.exp(-1), 6);
  });

  it("hops up at a current and back lower", () => {
    const diode = {
      ...defaultDiode,
      tuning: 0,
      modeHop: { current: 0.042, wavelengthStep: 1e-10, hysteresis: 0.001 },
    };
    const wavelength = modelWavelengths(
      diode,
      Float64Array.of(0.04, 0.0421, 0.0415, 0.0409),
      1000,
    );
    expect([...wavelength].map((value) => Math.round((value - 650e-9) / 1e-11)))
      .toEqual([0, 10, 10, 0]);
  });
});

describe("rampCurrent()", () => {
  it("makes a triangle or a saw-tooth", () => {
    // Powers of two are exact.
    const ends = { low: 0.25, high: 0.75, frequency: 2 };
    const triangle = rampCurrent(ends);
    expect([0, 0.125, 0.25, 0.375, 0.5].map(triangle))
      .toEqual([0.25, 0.5, 0.75, 0.5, 0.25]);
    const sawtooth = rampCurrent({ ...ends, shape: "sawtooth" });
    expect([0, 0.25, 0.5].map(sawtooth)).toEqual([0.25, 0.5, 0.25]);
  });
});
