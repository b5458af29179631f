import { describe, expect, it } from "vitest";
import { fitNonlinear } from "../../lib/fit/mod.ts";
import { simulateCapture } from "../../lib/laser/mod.ts";
import { createRandom, realFourierTransform } from "../../lib/signal/mod.ts";
import {
  dopplerFrequency,
  measureSpeed,
  planSpeed,
  speedFromDoppler,
} from "../../lib/speed/mod.ts";
import { lineDerivatives, lineModel } from "../../lib/speed/line_shape.ts";
import { readNist } from "../fit/nist_strd.ts";
import { broadenedLine, captureOf, toneInNoise } from "./simulated_line.ts";

const wavelength = 650e-9;

describe("dopplerFrequency()", () => {
  it("gives f = 2 n v cos θ / λ (Shinohara et al. 1986)", () => {
    // 2 × 1 mm/s / λ by hand: two fringes per wavelength, in a vacuum.
    const vacuum = { refractiveIndex: 1 };
    expect(dopplerFrequency(1e-3, { wavelength: 650e-9, ...vacuum }))
      .toBeCloseTo(3076.9231, 4);
    expect(dopplerFrequency(1e-3, { wavelength: 850e-9, ...vacuum }))
      .toBeCloseTo(2352.9412, 4);
    expect(
      dopplerFrequency(-1e-3, {
        wavelength: 850e-9,
        angle: Math.PI / 3,
        ...vacuum,
      }),
    ).toBeCloseTo(-1176.4706, 4);
  });

  it("is undone by speedFromDoppler()", () => {
    const geometry = { wavelength, angle: 1.3, refractiveIndex: 1.00027 };
    const frequency = dopplerFrequency(0.123, geometry);
    expect(speedFromDoppler(frequency, geometry)).toBeCloseTo(0.123, 12);
  });

  it("refuses a beam across the motion and impossible numbers", () => {
    expect(() => speedFromDoppler(1e3, { wavelength, angle: Math.PI / 2 }))
      .toThrow("right angle");
    expect(() => dopplerFrequency(1, { wavelength: 0 })).toThrow("wavelength");
    expect(() => dopplerFrequency(NaN, { wavelength })).toThrow("speed");
    expect(() => dopplerFrequency(1, { wavelength, refractiveIndex: -1 }))
      .toThrow("refractiveIndex");
  });
});

describe("the line form", () => {
  it("fits NIST's Eckerle4 peak to its certified values", () => {
    // NIST StRD Eckerle4: (b1/b2) exp(−((x − b3)/b2)²/2), certified b1, b2, b3
    // and their standard deviations. Ours: the same peak by height and width.
    const { x, y, certified, standardDeviations } = readNist("Eckerle4");
    const fit = fitNonlinear(
      lineModel("Gaussian"),
      x,
      y,
      [450, Math.log(12), Math.log(0.3), -60, 0],
      {
        jacobian: lineDerivatives("Gaussian"),
        fixed: [false, false, false, true, true],
      },
    );
    const [centre, logWidth, logHeight] = fit.parameters;
    const b2 = Math.exp(logWidth!.value) / Math.sqrt(8 * Math.LN2);
    // Certified to 11 digits; the iteration stops at about 1e-8.
    expect(Math.abs(centre!.value / certified[2]! - 1)).toBeLessThan(1e-9);
    expect(Math.abs(b2 / certified[1]! - 1)).toBeLessThan(1e-7);
    expect(Math.abs(Math.exp(logHeight!.value) * b2 / certified[0]! - 1))
      .toBeLessThan(1e-7);
    expect(
      Math.abs(centre!.standardUncertainty / standardDeviations[2]! - 1),
    ).toBeLessThan(1e-5);
  });

  it("has the derivatives that differences give", () => {
    const x = [-1.5, -0.3, 0, 0.4, 2];
    const at = [0.1, 0.2, 0.3, -2, 0.5];
    for (const shape of ["Gaussian", "Lorentzian"] as const) {
      const model = lineModel(shape);
      const columns = lineDerivatives(shape)(at, x);
      columns.forEach((column, j) => {
        const shifted = (h: number) =>
          model(at.map((value, i) => value + (i === j ? h : 0)), x);
        const high = shifted(1e-6), low = shifted(-1e-6);
        column.forEach((value, i) => {
          // Central differences are right to about 1e-9 here.
          expect(Math.abs((high[i]! - low[i]!) / 2e-6 - value))
            .toBeLessThan(1e-8);
        });
      });
    }
  });
});

describe("Hann window", () => {
  it("has the two-bin ratios r = (1 + δ)/(2 − δ) of Grandke 1983", () => {
    // δ = 0.1 → 0.578947, 0.3 → 0.764706, 0.5 → 1.
    const count = 4096, bin = 600;
    for (const [delta, ratio] of [[0.1, 0.578947], [0.3, 0.764706], [0.5, 1]]) {
      const { real, imaginary } = realFourierTransform(
        Float64Array.from({ length: count }, (_, n) => {
          const turn = 2 * Math.PI * n / count;
          return (0.5 - 0.5 * Math.cos(turn)) *
            Math.cos((bin + delta!) * turn + 0.3);
        }),
      );
      const modulus = (k: number) => Math.hypot(real[k]!, imaginary[k]!);
      // The image at −f is 1200 bins away: below 1e-7.
      expect(modulus(bin + 1) / modulus(bin)).toBeCloseTo(ratio!, 6);
    }
  });
});

describe("measureSpeed()", () => {
  it("finds a clean line within the Cramér–Rao bound's reach", () => {
    // Rife and Boorstyn 1974; the full figures are in clean_line_trial.ts.
    const random = createRandom(4);
    const count = 4096, trials = 60;
    let squares = 0;
    for (let trial = 0; trial < trials; trial++) {
      const turns = 0.05 + 0.3 * random.uniform();
      const { dopplerFrequency: found } = measureSpeed(
        captureOf(toneInNoise(count, turns, 1, random), 1e6),
        { wavelength, mains: [] },
      );
      squares += (found.value / 1e6 - turns) ** 2 / trials;
    }
    const bound = Math.sqrt(12 / ((2 * Math.PI) ** 2 * count ** 3));
    // 60 trials know their own spread to 9 %: three of these above 1.
    expect(Math.sqrt(squares) / bound).toBeLessThan(1.3);
  });

  it("finds a broadened line without bias, past hum, 1/f noise and a line near zero", () => {
    const random = createRandom(8);
    const count = 1 << 15, samplingRate = 100_000;
    const truth = 3e-3;
    const turns = dopplerFrequency(truth, { wavelength }) / samplingRate;
    const samples = broadenedLine(count, turns, 0.05 * turns, 3, random);
    let drift = 0;
    for (let n = 0; n < count; n++) {
      const t = n / samplingRate;
      drift = 0.999 * drift + 0.2 * random.normal();
      samples[n]! += drift + 6 * Math.sin(2 * Math.PI * 50 * t) +
        2 * Math.sin(2 * Math.PI * 150 * t) +
        20 * Math.sin(2 * Math.PI * 7 * t);
    }
    const result = measureSpeed(captureOf(samples, samplingRate), {
      wavelength,
    });
    expect(result.lineForm).toBe("broadened");
    // Four standard uncertainties; a seeded case.
    expect(Math.abs(result.speed.value - truth))
      .toBeLessThan(4 * result.speed.standardUncertainty);
    expect(result.speed.standardUncertainty / truth).toBeLessThan(3e-3);
    // Width and its uncertainty belong to the truth of 5 %.
    const width = result.lineWidth;
    expect(Math.abs(width.value - 0.05 * turns * samplingRate))
      .toBeLessThan(4 * width.standardUncertainty);
  });

  it("shows the angle's share of the uncertainty", () => {
    const samples = toneInNoise(4096, 0.1, 100, createRandom(1));
    const angle = 80 / 180 * Math.PI;
    const { speed, budget } = measureSpeed(captureOf(samples, 1e6), {
      wavelength,
      wavelengthStandardUncertainty: 1e-9,
      angle,
      angleStandardUncertainty: 0.5 / 180 * Math.PI,
    });
    // tan 80° × 0.5° = 4.95 % by hand.
    const share = budget.lines.find(({ name }) => name === "angle")!;
    expect(share.contribution / speed.value).toBeCloseTo(0.0495, 4);
    expect(budget.lines[0]!.name).toBe("angle");
  });

  it("takes out the slope that the amplifier's roll-off gives a broad line", () => {
    const random = createRandom(21);
    const count = 1 << 16, turns = 0.125;
    const samples = broadenedLine(count, turns, 0.2 * turns, 100, random);
    // One-pole low-pass with its corner at the line.
    const corner = turns;
    const pole = Math.exp(-2 * Math.PI * corner);
    let state = 0;
    const rolled = samples.map((value) =>
      state = pole * state + (1 - pole) * value
    );
    const options = { wavelength, mains: [] };
    const capture = captureOf(rolled, 1);
    const plain = measureSpeed(capture, options).dopplerFrequency;
    const corrected = measureSpeed(capture, { ...options, bandwidth: corner })
      .dopplerFrequency;
    // Shift −s²/f × d ln|H|²/d ln f / 2 with s = 0.085 f and slope −1: −0.36 %;
    // the digital pole differs from the analogue one by a tenth of that.
    expect(plain.value / turns - 1).toBeLessThan(-0.002);
    expect(Math.abs(corrected.value / turns - 1)).toBeLessThan(0.0015);
  });

  it("says which capture cannot be measured, and why", () => {
    const options = { wavelength };
    const make = (samples: Float64Array) => captureOf(samples, 100_000);
    const random = createRandom(3);
    const noise = Float64Array.from({ length: 8192 }, () => random.normal());
    expect(() => measureSpeed(make(noise), options)).toThrow("no line rises");
    expect(() => measureSpeed(make(new Float64Array(8192)), options))
      .toThrow("constant");
    const slow = Float64Array.from(
      { length: 8192 },
      (_, n) => Math.sin(2 * Math.PI * 8 * n / 8192) + 0.01 * random.normal(),
    );
    expect(() => measureSpeed(make(slow), options)).toThrow("periods");
    expect(() => measureSpeed(make(new Float64Array(10)), options))
      .toThrow("at least 64");
    const gap = noise.slice();
    gap[17] = NaN;
    expect(() => measureSpeed(make(gap), options)).toThrow("sample 17");
    expect(() => measureSpeed(make(noise), { wavelength: -1 }))
      .toThrow("'wavelength'");
    expect(() =>
      measureSpeed(make(noise), { wavelength, angleStandardUncertainty: -1 })
    ).toThrow("'angleStandardUncertainty'");
    expect(() =>
      measureSpeed(make(noise), {
        wavelength,
        searchBand: { low: 10, high: 60_000 },
      })
    ).toThrow("search band");
  });

  it("warns of a second target, a near fold, an expected fold and clipping", () => {
    const random = createRandom(5);
    const count = 16384;
    const tone = (turns: number, amplitude: number) =>
      Float64Array.from(
        { length: count },
        (_, n) => amplitude * Math.cos(2 * Math.PI * turns * n),
      );
    const codes = (samples: Float64Array, more = {}) =>
      measureSpeed(
        captureOf(samples.map((v) => v + 0.1 * random.normal()), 100_000),
        { wavelength, ...more },
      ).warnings.map(({ code }) => code);
    const codesAsIs = (samples: Float64Array) =>
      measureSpeed(captureOf(samples, 100_000), { wavelength }).warnings
        .map(({ code }) => code);
    const one = tone(0.1, 1);
    expect(codes(one)).toEqual([]);
    const other = tone(0.1377, 0.6);
    expect(codes(one.map((v, n) => v + other[n]!))).toContain("two-targets");
    const second = tone(0.2, 0.4);
    expect(codes(one.map((v, n) => v + second[n]!))).toEqual([]);
    expect(codes(tone(0.47, 1))).toContain("near-nyquist");
    // 20 mm/s along the beam is 61.5 kHz, beyond half of 100 kHz.
    expect(codes(one, { expectedSpeed: 0.02 })).toContain("aliased");
    const clipped = measureSpeed(
      captureOf(
        one.map((v) =>
          Math.max(-0.7, Math.min(0.7, v + 0.02 * random.normal()))
        ),
        100_000,
      ),
      { wavelength },
    );
    expect(clipped.warnings.map(({ code }) => code)).toContain("clipped");
    expect(codesAsIs(tone(0.0613, 1).map(Math.sign))).toContain("clipped");
    // Clipping makes harmonics but does not move the line.
    expect(clipped.dopplerFrequency.value).toBeCloseTo(10_000, 0);
  });

  it("warns of a speed that changes within the record", () => {
    const random = createRandom(41);
    let phase = 0;
    const count = 1 << 15;
    const samples = Float64Array.from({ length: count }, (_, n) => {
      phase += 2 * Math.PI * (0.1 + 0.01 * n / count);
      return Math.cos(phase) + 0.1 * random.normal();
    });
    const { warnings, speed } = measureSpeed(captureOf(samples, 1e5), {
      wavelength,
    });
    expect(warnings.map(({ code }) => code)).toContain("line-shape");
    // 10.5 kHz in the middle; the sweep is 10 % wide.
    expect(Math.abs(speed.value / (10_500 * wavelength / 2) - 1))
      .toBeLessThan(0.01);
  });

  it("tells a line that sits on a multiple of the mains from hum", () => {
    const capture = (frequency: number) =>
      simulateCapture({
        distance: (time) => 0.1 + frequency * wavelength / 2 * time,
        samplingRate: 100_000,
        duration: 0.5,
        feedbackParameter: 1.5,
        refractiveIndex: 1,
        noise: { signalToNoiseRatio: 10 },
        drive: null,
      });
    const on = measureSpeed(capture(600), { wavelength });
    expect(on.dopplerFrequency.value).toBeCloseTo(600, 1);
    expect(on.warnings.map(({ code }) => code)).toEqual(["mains-hum"]);
    const beside = measureSpeed(capture(617), { wavelength });
    expect(beside.dopplerFrequency.value).toBeCloseTo(617, 1);
    expect(beside.warnings).toEqual([]);
  });

  it("leaves out what a capture without the target also has", () => {
    const random = createRandom(6);
    const count = 32768, samplingRate = 100_000;
    const interference = (n: number) =>
      2 * Math.sin(2 * Math.PI * 0.2345 * n) + 0.3 * random.normal();
    const withTarget = Float64Array.from(
      { length: count },
      (_, n) => interference(n) + 0.2 * Math.cos(2 * Math.PI * 0.0777 * n),
    );
    const without = Float64Array.from(
      { length: count },
      (_, n) => interference(n),
    );
    const capture = captureOf(withTarget, samplingRate);
    const blind = measureSpeed(capture, { wavelength });
    expect(blind.dopplerFrequency.value).toBeCloseTo(23_450, 0);
    const seen = measureSpeed(capture, {
      wavelength,
      background: captureOf(without, samplingRate),
    });
    expect(seen.dopplerFrequency.value).toBeCloseTo(7770, 0);
    expect(seen.warnings.map(({ code }) => code)).toEqual([]);
  });

  it("gives the same result to the letter for the same capture", () => {
    const capture = captureOf(
      broadenedLine(8192, 0.1, 0.005, 10, createRandom(2)),
      1e5,
    );
    const text = () => JSON.stringify(measureSpeed(capture, { wavelength }));
    expect(text()).toBe(text());
  });
});

describe("planSpeed()", () => {
  it("asks for what the speed needs", () => {
    const plan = planSpeed(0.1, {
      wavelength,
      relativeLineWidth: 0.05,
      refractiveIndex: 1,
    });
    // 2 × 0.1 m/s / 650 nm
    expect(plan.dopplerFrequency.value).toBeCloseTo(307_692.3, 1);
    expect(plan.samplingRate.value).toBeCloseTo(3_076_923, 0);
    expect(plan.leastSamplingRate.value)
      .toBeCloseTo(2 * 1.1 * 307_692.3, 0);
    expect(() => planSpeed(0, { wavelength })).toThrow("no Doppler shift");
    expect(() => planSpeed(1, { wavelength, relativeLineWidth: 2 }))
      .toThrow("relativeLineWidth");
  });

  it("asks for a record in which the wanted uncertainty is reached", () => {
    const speed = 0.02;
    const plan = planSpeed(speed, {
      wavelength,
      relativeLineWidth: 0.05,
      relativeStandardUncertainty: 1e-3,
      oversampling: 5,
    });
    const samples = broadenedLine(
      plan.sampleCount,
      1 / 5,
      0.05 / 5,
      // Top of the line 1 / (1.064 × 0.01), noise 2 / ratio: 10 dB apart.
      0.213,
      createRandom(12),
    );
    const result = measureSpeed(
      captureOf(samples, plan.samplingRate.value),
      { wavelength, clockRelativeStandardUncertainty: 0 },
    );
    const reached = result.speed.standardUncertainty / speed;
    // The fitted width and height vary from record to record: within a quarter.
    expect(Math.abs(reached / 1e-3 - 1)).toBeLessThan(0.25);
  });
});
