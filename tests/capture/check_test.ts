import { describe, expect, it } from "vitest";
import {
  checkCapture,
  createCapture,
  parseCapture,
  simulateCapture,
} from "fringebook";
import { createRandom } from "fringebook/signal";

const rate = 100e3;
const count = 20_000;

interface Setting {
  noise?: number;
  amplitude?: number;
  frequency?: number;
  change?: (value: number, n: number) => number;
  fullScale?: { low: number; high: number };
}

/** A fringe signal of known noise, 0.5 V ± amplitude. */
function monitor(setting: Setting = {}) {
  const {
    noise = 0.01,
    amplitude = 0.2,
    frequency = 1500,
    change = (value) => value,
    fullScale = null,
  } = setting;
  const random = createRandom(11);
  const samples = Float64Array.from({ length: count }, (_, n) =>
    change(
      0.5 + amplitude * Math.sin(2 * Math.PI * frequency * n / rate) +
        noise * random.normal(),
      n,
    ));
  return createCapture([{
    name: "monitor",
    role: "monitor signal",
    unit: "V",
    samples,
    fullScale,
  }], { samplingRate: rate });
}

const codes = (setting: Setting) =>
  checkCapture(monitor(setting)).warnings.map(({ code }) => code);

describe("checkCapture", () => {
  it("finds nothing to say of a good capture", () => {
    const check = checkCapture(monitor());
    expect(check.warnings).toEqual([]);
    expect(check.verdict).toBe("good");
  });
  it("finds the noise, its density and the signal-to-noise ratio", () => {
    for (const noise of [0.002, 0.01, 0.05]) {
      const check = checkCapture(monitor({ noise }));
      // Median over 312 blocks of 24 degrees of freedom each: 1.25 times the
      // standard uncertainty of the mean, so 1.25 / sqrt(2 * 7500) = 1 %; 4 %
      // leaves four of them. The sine adds 0.2 * (2 sin(π f / fs))^4 / sqrt(140).
      expect(Math.abs(check.noise.value / noise - 1)).toBeLessThan(0.04);
      expect(check.channels[0]!.noiseDensity)
        .toBeCloseTo(check.noise.value * Math.sqrt(2 / rate), 12);
      const truth = 10 * Math.log10(0.02 / noise ** 2);
      expect(Math.abs(check.signalToNoise.value - truth)).toBeLessThan(0.4);
    }
  });
  it("does not take the jumps of saw-teeth for noise", () => {
    for (const feedbackParameter of [0.3, 0.9, 2, 4]) {
      const capture = simulateCapture({
        // Fastest fringes of 21 samples each.
        distance: (time) => 0.1 + 1e-5 * Math.sin(314 * time),
        samplingRate: 200e3,
        duration: 0.05,
        feedbackParameter,
        noise: { signalToNoiseRatio: 30 },
        drive: null,
        seed: 3,
      });
      const { value } = checkCapture(capture).signalToNoise;
      // Jumps spoil a quarter of the differences there: at worst 4 dB are lost.
      expect(value).toBeGreaterThan(26);
      expect(value).toBeLessThan(30.5);
    }
  });
  it("does not take the steps of a coarse drive channel for noise of the monitor", () => {
    const noise = 1.5e-3;
    const capture = simulateCapture({
      distance: 0.1,
      current: (time) =>
        0.04 + 0.01 * Math.asin(Math.sin(157 * time)) / Math.PI,
      samplingRate: 200e3,
      duration: 0.09,
      feedbackParameter: 0.5,
      noise: { signalToNoiseRatio: null, white: noise },
      // 8 bits over 20 mA, and the slope of the power is some 0.3 V/mA.
      drive: { noise: 0, digitiser: { bits: 8, low: 0.03, high: 0.05 } },
      seed: 3,
    });
    const check = checkCapture(capture);
    // 17996 fourth differences: 0.9 %, and a fringe's own curvature.
    expect(Math.abs(check.noise.value / noise - 1)).toBeLessThan(0.05);
  });
  it("finds the fringe rate and holds it against Nyquist", () => {
    const check = checkCapture(monitor({ frequency: 4000 }));
    // Crossings sit on whole samples: three fringes are good to 2 / 75.
    expect(Math.abs(check.fringeRate.value / 4000 - 1)).toBeLessThan(0.03);
    expect(check.nyquistFraction).toBeCloseTo(0.08, 2);
    expect(codes({ frequency: 30e3 })).toContain("near-nyquist");
  });
  it("finds the fringe rate where strong feedback leaves parts of the fringes", () => {
    // The fastest, 4π f A / λ fringes per second, seen through three of them; a
    // motion of 40 Hz is no hum of 50 Hz, however short the record.
    const fastest = 4 * Math.PI * 40 * 2.5e-6 / 650e-9;
    for (const feedbackParameter of [0.7, 2, 3, 4, 5, 6]) {
      for (const duration of [0.1, 0.25]) {
        const { fringeRate, warnings } = checkCapture(simulateCapture({
          distance: (time) => 0.1 + 2.5e-6 * Math.sin(2 * Math.PI * 40 * time),
          samplingRate: 48e3,
          duration,
          feedbackParameter,
          noise: { white: 1e-4 },
          drive: null,
        }));
        expect(Math.abs(fringeRate.value / fastest - 1)).toBeLessThan(0.03);
        expect(warnings.map(({ code }) => code)).not.toContain("mains-hum");
      }
    }
  });
  it("tells aliased fringes from noise by their firm limits", () => {
    // A sine of 30 µm travel at 40 Hz would make fringes far above 50 kHz.
    const swept = (_: number, n: number) =>
      Math.cos(4e4 * Math.sin(2 * Math.PI * 40 * n / rate));
    expect(codes({ change: swept })).toEqual(["aliased", "low-snr"]);
    expect(codes({ amplitude: 0 })).toEqual(["low-snr"]);
  });
  it("does not call fringes at 6 to 10 dB aliased, nor five samples per fringe", () => {
    for (const decibels of [6, 8, 10]) {
      const noise = 0.2 / Math.SQRT2 * 10 ** (-decibels / 20);
      // 53 samples per fringe.
      expect(codes({ noise, frequency: rate / 53 })).not.toContain("aliased");
    }
    expect(codes({ noise: 0.0045, frequency: rate / 5 }))
      .not.toContain("aliased");
  });
  it("does not call a vibration at the mains frequency hum, nor what its drive explains", () => {
    for (const mains of [50, 60]) {
      const angle = (n: number) => 2 * Math.PI * mains * n / rate;
      for (const phase of [0.3, 1.2, 2.5]) {
        // 1 µm at 650 nm is an amplitude of 19.3 rad.
        const change = (_: number, n: number) =>
          Math.cos(phase + 19.3 * Math.sin(angle(n)));
        expect(codes({ change })).not.toContain("mains-hum");
        // Less than a fringe looks like hum, but for a drive that says so.
        const small = (_: number, n: number) =>
          Math.cos(phase + 0.8 * Math.sin(angle(n)));
        const alone = monitor({ change: small });
        const driven = createCapture([...alone.channels, {
          name: "loudspeaker",
          role: "other",
          unit: "V",
          samples: Float64Array.from(
            { length: count },
            (_, n) => Math.sin(angle(n) + 0.5),
          ),
        }], { samplingRate: rate });
        expect(checkCapture(driven).warnings.map(({ code }) => code))
          .not.toContain("mains-hum");
      }
    }
  });
  it("finds clipping, and the digitiser's rail where it is known", () => {
    const change = (value: number) => Math.min(0.62, value);
    expect(codes({ change })).toEqual(["clipped"]);
    expect(codes({ change, fullScale: { low: 0, high: 0.62 } })).toEqual([
      "at-rail",
    ]);
    const { channels } = checkCapture(
      monitor({ change, noise: 0, frequency: 100 }),
    );
    // sin > 0.6 for (π - 2 asin 0.6) / 2π of the period; one sample per edge.
    const truth = (Math.PI - 2 * Math.asin(0.6)) / (2 * Math.PI);
    expect(Math.abs(channels[0]!.clippedFraction - truth))
      .toBeLessThan(2 * 100 / rate);
  });
  it("does not take a coarse but whole sine for clipped", () => {
    for (const frequency of [10, 100, 777, 5000]) {
      for (const step of [0.2 / 10, 0.2 / 127, 0.2 / 2047]) {
        const change = (value: number) => Math.round(value / step) * step;
        expect(codes({ change, noise: 0, frequency })).not.toContain("clipped");
        expect(codes({ change, frequency })).not.toContain("clipped");
        expect(codes({ change, frequency })).not.toContain("dropout");
      }
    }
  });
  it("finds an amplifier that is saturated under the noise", () => {
    expect(codes({
      noise: 0,
      amplitude: 0.3,
      change: (value, n) => Math.min(0.4, value) + 1e-4 * Math.sin(n * n),
    })).toContain("saturated");
  });
  it("finds dropouts: samples held or zeroed", () => {
    const held = (value: number, n: number) =>
      n >= 5000 && n < 5040 ? 0.5213 : value;
    const zeroed = (value: number, n: number) =>
      n >= 5000 && n < 5040 ? 0 : value;
    for (const change of [held, zeroed]) {
      const { channels, warnings } = checkCapture(monitor({ change }));
      expect(channels[0]!.dropouts).toEqual([{ start: 5000, length: 40 }]);
      expect(warnings.map(({ code }) => code)).toEqual(["dropout"]);
    }
  });
  it("counts missing samples and still measures the rest", () => {
    const check = checkCapture(
      monitor({ change: (value, n) => n % 1000 === 0 ? NaN : value }),
    );
    expect(check.channels[0]!.levels.missingCount).toBe(20);
    expect(check.warnings.map(({ code }) => code)).toEqual(["missing-samples"]);
    expect(check.noise.value).toBeGreaterThan(0.009);
  });
  it("finds mains hum at 50 Hz and at 60 Hz, with its amplitude", () => {
    for (const mains of [50, 60]) {
      const change = (value: number, n: number) =>
        value + 0.05 * Math.sin(2 * Math.PI * mains * n / rate);
      const { warnings, channels } = checkCapture(monitor({ change }));
      expect(warnings.map(({ code }) => code)).toEqual(["mains-hum"]);
      expect(channels[0]!.hum?.frequency).toBe(mains);
      // 10 or 12 whole periods: leakage of the fringes is far below 2 %.
      expect(Math.abs(channels[0]!.hum!.amplitudes[0]! / 0.05 - 1))
        .toBeLessThan(0.02);
    }
    expect(codes({ frequency: 80 })).not.toContain("mains-hum");
  });
  it("passes on that time was uneven", () => {
    const text = "t (s),monitor (V)\n0,1\n1,2\n2,3\n9,4\n10,5\n11,6\n";
    const capture = parseCapture(new TextEncoder().encode(text));
    expect(checkCapture(capture).warnings.map(({ code }) => code))
      .toContain("time-gap");
  });
  it("calls a channel that does not change unusable", () => {
    const check = checkCapture(monitor({ change: () => 0.3 }));
    expect(check.verdict).toBe("unusable");
    expect(check.warnings.map(({ code }) => code)).toContain("flat");
    expect(checkCapture(monitor({ change: () => NaN })).verdict)
      .toBe("unusable");
  });
  it("warns of a signal lost in noise", () => {
    expect(codes({ noise: 0.3, amplitude: 0.02 })).toContain("low-snr");
  });
  it("looks at fringes on a power ramp without the ramp", () => {
    const random = createRandom(3);
    const drive = Float64Array.from(
      { length: count },
      (_, n) => 0.04 + 0.005 * (1 - Math.abs((n / 2000) % 2 - 1)),
    );
    const samples = drive.map((current) =>
      40 * current + 0.02 * Math.sin(2 * Math.PI * current / 0.0005) +
      0.001 * random.normal()
    );
    const check = checkCapture(createCapture([
      { name: "m", role: "monitor signal", unit: "V", samples },
      { name: "d", role: "drive current", unit: "A", samples: drive },
    ], { samplingRate: rate }));
    expect(check.verdict).toBe("good");
    // 10 fringes per stroke of 20 ms.
    expect(Math.abs(check.fringeRate.value / 500 - 1)).toBeLessThan(0.05);
  });
  it("survives one sample and sixteen", () => {
    for (const length of [1, 2, 5, 16]) {
      const check = checkCapture(createCapture([{
        name: "a",
        role: "monitor signal",
        unit: "V",
        samples: new Float64Array(length).fill(1),
      }], { samplingRate: 1 }));
      expect(check.verdict).toBe("unusable");
    }
  });
});
