import { describe, expect, it } from "vitest";
import {
  analyticSignal,
  bandPass,
  bandSource,
  butterworthSections,
  complexFourierTransform,
  createRandom,
  cutBaseband,
  detrend,
  filterZeroPhase,
  highPass,
  inverseRealFourierTransform,
  lowPass,
  powerSpectrum,
  realFourierTransform,
  removeHum,
  spectrogram,
  welch,
  windowFigures,
  type WindowName,
  windowValues,
} from "../../lib/signal/mod.ts";
import fixtures from "./fixtures/signal_fixtures.json" with { type: "json" };

/** The same closed form as `samples` in make_signal_fixtures.py. */
function fixtureSamples(count: number): Float64Array {
  return Float64Array.from(
    { length: count },
    (_, n) =>
      Math.sin(0.37 * n) + 0.5 * Math.cos(0.051 * n * n / 10) + 0.002 * n +
      ((n * 7919) % 101) / 101,
  );
}

/** Largest absolute difference. */
function distance(a: ArrayLike<number>, b: ArrayLike<number>): number {
  expect(a.length).toBe(b.length);
  let largest = 0;
  for (let i = 0; i < a.length; i++) {
    const d = Math.abs(a[i]! - b[i]!);
    if (!(d <= largest)) largest = d;
  }
  return largest;
}

const x = fixtureSamples(300);
const samplingRate = 1000;

// Values are of order 1 to 100 and both sides compute in double precision.
const rounding = 1e-11;

describe("createRandom()", () => {
  it("gives the numbers of NumPy's RandomState", () => {
    for (const { seed, uniform, normal, integer } of fixtures.random) {
      const u = createRandom(seed);
      const us = Array.from({ length: 700 }, () => u.uniform());
      expect([0, 1, 2, 311, 312, 699].map((i) => us[i])).toEqual(uniform);
      const z = createRandom(seed);
      const zs = Array.from({ length: 1000 }, () => z.normal());
      // Logarithms of two libraries may differ in the last digit.
      expect(distance([0, 1, 2, 500, 999].map((i) => zs[i]!), normal))
        .toBeLessThan(1e-14);
      const k = createRandom(seed);
      expect(Array.from({ length: 8 }, () => k.integer(1000))).toEqual(integer);
    }
  });

  it("has normal numbers with the right mean, variance, skewness and kurtosis", () => {
    const random = createRandom(7);
    const count = 200_000;
    const sums = [0, 0, 0, 0];
    for (let i = 0; i < count; i++) {
      const z = random.normal();
      for (let p = 1; p <= 4; p++) sums[p - 1]! += z ** p / count;
    }
    // Four standard deviations of each sample moment: sqrt(var/count).
    expect(Math.abs(sums[0]!)).toBeLessThan(4 * Math.sqrt(1 / count));
    expect(Math.abs(sums[1]! - 1)).toBeLessThan(4 * Math.sqrt(2 / count));
    expect(Math.abs(sums[2]!)).toBeLessThan(4 * Math.sqrt(15 / count));
    expect(Math.abs(sums[3]! - 3)).toBeLessThan(4 * Math.sqrt(96 / count));
  });

  it("refuses seeds and counts that are no integers in range", () => {
    expect(() => createRandom(-1)).toThrow(RangeError);
    expect(() => createRandom(0.5)).toThrow(RangeError);
    expect(() => createRandom(1).integer(0)).toThrow(RangeError);
  });
});

describe("realFourierTransform()", () => {
  it("gives NumPy's rfft for lengths of all kinds", () => {
    for (const [length, expected] of Object.entries(fixtures.rfft)) {
      const got = realFourierTransform(fixtureSamples(Number(length)));
      expect(distance(got.real, expected.real)).toBeLessThan(rounding);
      expect(distance(got.imaginary, expected.imaginary))
        .toBeLessThan(rounding);
    }
  });

  it("is undone by its inverse, short and long, even and odd", () => {
    for (const length of [1, 2, 3, 8, 31, 100, 4096, 65537, 1 << 17]) {
      const samples = fixtureSamples(length);
      const back = inverseRealFourierTransform(realFourierTransform(samples));
      // Samples grow as 0.002 n: allow the rounding of their size.
      expect(distance(back, samples)).toBeLessThan(1e-12 * (10 + length));
    }
  });

  it("keeps the energy (Parseval) in a long split transform", () => {
    const samples = detrend(fixtureSamples(1 << 18), "constant");
    const { real, imaginary, length } = realFourierTransform(samples);
    let energy = 0;
    for (let k = 0; k < real.length; k++) {
      const weight = k === 0 || k === length / 2 ? 1 : 2;
      energy += weight * (real[k]! ** 2 + imaginary[k]! ** 2);
    }
    const direct = samples.reduce((sum, value) => sum + value * value, 0);
    expect(Math.abs(energy / length / direct - 1)).toBeLessThan(1e-12);
  });

  it("agrees with the complex transform", () => {
    const real = fixtureSamples(60);
    const got = complexFourierTransform({
      real,
      imaginary: new Float64Array(60),
    });
    const half = realFourierTransform(real);
    expect(distance(got.real.subarray(0, 31), half.real))
      .toBeLessThan(rounding);
  });

  it("refuses an empty record and a length below the samples", () => {
    expect(() => realFourierTransform([])).toThrow(RangeError);
    expect(() => realFourierTransform([1, 2, 3], { length: 2 }))
      .toThrow("'length' must be an integer of at least the 3 samples");
    expect(() =>
      inverseRealFourierTransform({
        real: new Float64Array(3),
        imaginary: new Float64Array(3),
        length: 10,
      })
    ).toThrow("needs 6 bins");
  });
});

describe("analyticSignal()", () => {
  it("gives SciPy's hilbert when the record counts as periodic", () => {
    const { imaginary } = analyticSignal(x, { padding: "none" });
    expect(distance(imaginary, fixtures.hilbert)).toBeLessThan(rounding);
  });

  it("keeps the envelope of a long tone flat to the ends' neighbourhood", () => {
    const tone = Float64Array.from(
      { length: 5000 },
      (_, n) => Math.cos(0.31 * n + 0.4),
    );
    const { real, imaginary } = analyticSignal(tone);
    for (let n = 200; n < 4800; n++) {
      // The mirror image breaks the phase at the ends; its effect falls off
      // as 2/(0.31 n π): 0.0103 at 200 samples.
      expect(Math.abs(Math.hypot(real[n]!, imaginary[n]!) - 1))
        .toBeLessThan(0.011);
    }
  });

  it("refuses samples that are not finite and names the first", () => {
    expect(() => analyticSignal([1, NaN, 2])).toThrow("sample 1 of 3 is NaN");
  });
});

describe("windows", () => {
  it("have the values of SciPy's get_window", () => {
    for (const [name, expected] of Object.entries(fixtures.windows)) {
      expect(distance(windowValues(name as WindowName, 16), expected))
        .toBeLessThan(1e-12);
    }
  });

  it("have the coherent gain and noise bandwidth of Harris 1978, Table I", () => {
    // Harris 1978, Table I, printed to two digits (values from memory).
    const printed: [WindowName, number, number][] = [
      ["rectangular", 1.00, 1.00],
      ["triangular", 0.50, 1.33],
      ["Hann", 0.50, 1.50],
      ["Hamming", 0.54, 1.36],
      ["Blackman", 0.42, 1.73],
      ["Blackman-Harris", 0.36, 2.00],
    ];
    for (const [name, gain, bandwidth] of printed) {
      const figures = windowFigures(windowValues(name, 4096));
      // Half of the last printed digit.
      expect(Math.abs(figures.coherentGain - gain)).toBeLessThan(0.0051);
      expect(Math.abs(figures.equivalentNoiseBandwidth - bandwidth))
        .toBeLessThan(0.0051);
    }
  });

  it("have the noise bandwidths printed in signal-processing documentation", () => {
    const bandwidth = (name: WindowName, length: number, symmetric: boolean) =>
      windowFigures(windowValues(name, length, { symmetric }))
        .equivalentNoiseBandwidth;
    // Printed outputs of a general numerical package's help page on
    // equivalent noise bandwidth: 1.3638; 16.6285, 11.8110, 15.0150 Hz.
    expect(bandwidth("Hamming", 1000, true)).toBeCloseTo(1.3638, 4);
    expect(bandwidth("flat-top", 10000, true) * 44100 / 10000)
      .toBeCloseTo(16.6285, 4);
    expect(bandwidth("Hann", 128, true) * 1000 / 128).toBeCloseTo(11.8110, 4);
    expect(bandwidth("Hann", 1000, true) * 10000 / 1000)
      .toBeCloseTo(15.0150, 4);
    // Heinzel, Rüdiger, Schilling 2002: flat-top (SFT5F-like) 3.77 bins.
    expect(bandwidth("flat-top", 4096, false)).toBeCloseTo(3.7702, 4);
  });

  it("have the scalloping loss of Harris 1978, Table I", () => {
    const printed: [WindowName, number][] = [
      ["rectangular", 3.92],
      ["triangular", 1.82],
      ["Hann", 1.42],
      ["Hamming", 1.78],
      ["Blackman", 1.10],
      ["Blackman-Harris", 0.83],
    ];
    for (const [name, loss] of printed) {
      const values = windowValues(name, 4096);
      let re = 0, im = 0, sum = 0;
      values.forEach((value, n) => {
        re += value * Math.cos(Math.PI * n / 4096);
        im += value * Math.sin(Math.PI * n / 4096);
        sum += value;
      });
      const computed = -20 * Math.log10(Math.hypot(re, im) / sum);
      // The printed Hamming value is of a = 0.54 rounded otherwise: 0.03 dB.
      expect(Math.abs(computed - loss)).toBeLessThan(0.035);
    }
  });

  it("refuse an unknown name", () => {
    expect(() => windowValues("hat" as WindowName, 8)).toThrow("'hat'");
    expect(() => windowValues("toString" as WindowName, 8)).toThrow(RangeError);
  });
});

describe("zero-phase filters", () => {
  it("give SciPy's sosfiltfilt", () => {
    const cases = [
      [4, { pass: "low", cutoff: 80 }, fixtures.lowPass],
      [3, { pass: "high", cutoff: 40 }, fixtures.highPass],
      [3, { pass: "band", low: 60, high: 150 }, fixtures.bandPass],
    ] as const;
    for (const [order, band, expected] of cases) {
      const sections = butterworthSections(order, band, samplingRate);
      expect(distance(filterZeroPhase(x, sections, 50), expected))
        .toBeLessThan(1e-10);
    }
  });

  it("give SciPy's iirnotch run forward and backward", () => {
    const rest = removeHum(x, 50, { samplingRate, harmonics: 1, width: 4 });
    expect(distance(rest, fixtures.notch)).toBeLessThan(1e-10);
  });

  it("halve a tone at the edge and keep its phase", () => {
    const tone = Float64Array.from(
      { length: 4000 },
      (_, n) => Math.sin(2 * Math.PI * 50 * n / samplingRate),
    );
    const middle = (values: Float64Array) => values.subarray(1500, 2500);
    const halfTone = middle(tone).map((value) => value / 2);
    // Butterworth: |H|² = 1/2 at the edge; the ends have died out by then.
    expect(distance(middle(lowPass(tone, 50, { samplingRate })), halfTone))
      .toBeLessThan(1e-6);
    expect(distance(middle(highPass(tone, 50, { samplingRate })), halfTone))
      .toBeLessThan(1e-6);
    expect(
      distance(middle(bandPass(tone, 50, 120, { samplingRate })), halfTone),
    ).toBeLessThan(1e-6);
  });

  it("stay stable at an edge of a millionth of the sampling rate", () => {
    const flat = new Float64Array(20_000).fill(2);
    const out = lowPass(flat, 1e-3, { samplingRate });
    expect(Math.abs(out[10_000]! - 2)).toBeLessThan(1e-3);
  });

  it("refuse edges beyond half the sampling rate and missing samples", () => {
    expect(() => lowPass(x, 500, { samplingRate })).toThrow("500 Hz");
    expect(() => bandPass(x, 200, 100, { samplingRate })).toThrow("below");
    expect(() => lowPass([1, Infinity, 2], 10, { samplingRate }))
      .toThrow("sample 1 of 3 is Infinity");
    expect(() => lowPass(x, 10, { samplingRate: 0 })).toThrow(
      "Cannot filter as 'samplingRate' must be a positive number of Hz: current value is 0",
    );
  });
});

describe("detrend()", () => {
  it("gives SciPy's detrend", () => {
    expect(distance(detrend(x), fixtures.detrendLinear)).toBeLessThan(rounding);
  });
});

describe("spectra", () => {
  it("give SciPy's welch, power-of-two segments or not", () => {
    const first = welch(x, { samplingRate, segmentLength: 64 });
    expect(distance(first.density, fixtures.welch.density))
      .toBeLessThan(rounding);
    expect(distance(first.frequency, fixtures.welch.frequency))
      .toBeLessThan(rounding);
    const second = welch(x, {
      samplingRate,
      segmentLength: 60,
      overlap: 0.75,
      window: "Blackman-Harris",
      detrending: "linear",
    });
    expect(distance(second.density, fixtures.welchLinear.density))
      .toBeLessThan(rounding);
  });

  it("give SciPy's spectrogram", () => {
    const got = spectrogram(x, {
      samplingRate,
      segmentLength: 64,
      overlap: 0.75,
    });
    expect(distance(got.density, fixtures.spectrogram.density))
      .toBeLessThan(rounding);
    expect(distance(got.time, fixtures.spectrogram.time))
      .toBeLessThan(rounding);
  });

  it("integrate to the variance (density scaling)", () => {
    const tone = Float64Array.from(
      { length: 8192 },
      (_, n) => 3 * Math.sin(2 * Math.PI * 100.3 * n / samplingRate),
    );
    for (const window of ["Hann", "flat-top", "rectangular"] as const) {
      const { density, binWidth } = powerSpectrum(tone, {
        samplingRate,
        window,
      });
      const variance = density.reduce((sum, s) => sum + s * binWidth, 0);
      // A² / 2; the tone does not fill whole periods: 1e-3.
      expect(Math.abs(variance / 4.5 - 1)).toBeLessThan(1e-3);
    }
  });

  it("state how many averages they are worth", () => {
    const noise = new Float64Array(64 * 513);
    const options = { samplingRate, segmentLength: 1024 };
    const plain = welch(noise, { ...options, overlap: 0 });
    expect(plain.effectiveAverages).toBe(plain.segmentCount);
    // Hann at half overlap: correlation 1/6, so N / (1 + 2/36) (Harris 1978).
    const half = welch(noise, { ...options, overlap: 0.5 });
    const expected = half.segmentCount /
      (1 + 2 / 36 * (1 - 1 / half.segmentCount));
    expect(half.effectiveAverages).toBeCloseTo(expected, 9);
  });

  it("refuse bad segments, rates and samples", () => {
    expect(() => welch(x, { samplingRate: 0 })).toThrow(
      "Cannot estimate a spectrum as 'samplingRate' must be a positive number of Hz: current value is 0",
    );
    expect(() => welch(x, { samplingRate, segmentLength: 301 }))
      .toThrow("from 2 to the 300 samples");
    expect(() => welch(x, { samplingRate, overlap: 1 })).toThrow("'overlap'");
    expect(() => welch([], { samplingRate })).toThrow("no samples");
    expect(() => spectrogram([NaN, 1, 2, 3], { samplingRate }))
      .toThrow("sample 0 of 4 is NaN");
  });
});

describe("cutBaseband()", () => {
  it("moves a tone to zero and keeps amplitude, offset and phase", () => {
    const count = 10_000, rate = 1000, centre = 120, offset = 0.7;
    const tone = Float64Array.from(
      { length: count },
      (_, n) =>
        2.5 * Math.cos(2 * Math.PI * (centre + offset) * n / rate + 0.6) +
        4 * Math.cos(2 * Math.PI * 300 * n / rate),
    );
    const band = cutBaseband(bandSource(tone, rate), centre, 20);
    expect(Math.abs(band.centre - centre)).toBeLessThan(rate / 16384);
    for (let m = 0; m < band.real.length; m++) {
      const time = m / band.samplingRate;
      // Transients of the cut last about 1/20 s at the ends.
      if (time < 0.5 || time > 9.5) continue;
      const angle = 2 * Math.PI * (centre + offset - band.centre) * time + 0.6;
      expect(Math.abs(band.real[m]! - 2.5 * Math.cos(angle)))
        .toBeLessThan(2e-3);
      expect(Math.abs(band.imaginary[m]! - 2.5 * Math.sin(angle)))
        .toBeLessThan(2e-3);
    }
  });

  it("gives white noise of density S a complex density of 2 S", () => {
    const random = createRandom(3);
    const count = 1 << 17, rate = 1000;
    const noise = Float64Array.from({ length: count }, () => random.normal());
    const halfWidth = 100;
    const { real, imaginary } = cutBaseband(
      bandSource(noise, rate),
      250,
      halfWidth,
    );
    let power = 0;
    for (let m = 0; m < real.length; m++) {
      power += (real[m]! ** 2 + imaginary[m]! ** 2) / real.length;
    }
    // S = 2/rate; noise bandwidth 2 × 100 × (1/2 + 3/16) Hz; 26 000 independent
    // values: 0.6 %, four times that.
    const expected = 2 * 2 / rate * 2 * halfWidth * (0.5 + 3 / 16);
    expect(Math.abs(power / expected - 1)).toBeLessThan(0.025);
  });

  it("refuses a band beyond half the sampling rate", () => {
    const source = bandSource(new Float64Array(1024), 1000);
    expect(() => cutBaseband(source, 490, 20)).toThrow(
      "half the sampling rate",
    );
  });
});
