import { describe, expect, it } from "vitest";
import { checkFrontEnd, simulateCapture, undoAmplifier } from "fringebook";
import {
  amplifierDynamics,
  amplifierModel,
  amplifierResponse,
  applyAmplifier,
  feedbackCapacitanceFor,
  shotNoiseDensity,
  thermalNoiseDensity,
} from "fringebook/bench";
import { createRandom } from "fringebook/signal";

import fixture from "./fixtures/amplifier_response.json" with { type: "json" };

const degrees = 180 / Math.PI;

describe("amplifierDynamics()", () => {
  it("agrees with a published 2 MHz example: 20 pF, 100 kΩ, 50 MHz, 1.1 pF", () => {
    // Data sheet SBOS981J, section 9: some 2 MHz, Q 0.707, about 65° and 4.3 %
    // overshoot; exact two-pole model worked out in Python: 1.988 MHz, 65.05°.
    const dynamics = amplifierDynamics({
      feedbackResistance: 100e3,
      feedbackCapacitance: 1.1e-12,
      gainBandwidth: 50e6,
      photodiodeCapacitance: 20e-12,
      inputCapacitance: 0,
    });
    expect(dynamics.bandwidth / 1e6).toBeCloseTo(1.988, 3);
    expect(dynamics.phaseMargin * degrees).toBeCloseTo(65.05, 2);
    // As published, to its own precision.
    expect(Math.abs(dynamics.bandwidth / 2e6 - 1)).toBeLessThan(0.01);
    expect(Math.abs(dynamics.qualityFactor - 0.707)).toBeLessThan(0.02);
  });

  it("agrees with a published 1 MHz single-supply example", () => {
    // Application note TIDU535: 53.6 kΩ, 20 MHz; simulated 1.464 MHz and
    // 68.59°, measured 1.59 MHz and 62.1°. C_f 2.7 pF and 20 pF from memory;
    // exact model with these: 1.462 MHz, 69.8°.
    const dynamics = amplifierDynamics({
      feedbackResistance: 53.6e3,
      feedbackCapacitance: 2.7e-12,
      gainBandwidth: 20e6,
      photodiodeCapacitance: 20e-12,
      inputCapacitance: 0,
    });
    expect(dynamics.bandwidth / 1e6).toBeCloseTo(1.462, 3);
    expect(dynamics.phaseMargin * degrees).toBeCloseTo(69.8, 1);
    expect(Math.abs(dynamics.bandwidth / 1.464e6 - 1)).toBeLessThan(0.01);
    expect(Math.abs(dynamics.phaseMargin * degrees - 68.59)).toBeLessThan(2);
    expect(20 * Math.log10(53.6e3)).toBeCloseTo(94.58, 2);
  });

  it("is flattest at Q = 0.707 with 65.5° and no peaking", () => {
    // Butterworth, any textbook; 65.5° for two poles and the loop's zero.
    const amplifier = { gainBandwidth: 1e9 };
    const dynamics = amplifierDynamics({
      ...amplifier,
      feedbackCapacitance: feedbackCapacitanceFor(amplifier),
    });
    expect(dynamics.qualityFactor).toBeCloseTo(Math.SQRT1_2, 9);
    expect(dynamics.phaseMargin * degrees).toBeCloseTo(65.5, 0);
    expect(dynamics.peaking).toBeCloseTo(0, 6);
    // 4.3 % overshoot: the same data sheet.
    expect(dynamics.overshoot).toBeCloseTo(0.043, 3);
    expect(dynamics.bandwidth / dynamics.naturalFrequency).toBeCloseTo(1, 6);
  });

  it("peaks by 1.14 dB with 52.8° where C_f is low by √2", () => {
    // Exact two-pole model in Python: sqrt(C_T/(2πR_f GBW)) gives these.
    const dynamics = amplifierDynamics({
      feedbackResistance: 100e3,
      feedbackCapacitance: Math.sqrt(20e-12 / (2 * Math.PI * 100e3 * 50e6)),
      gainBandwidth: 50e6,
      photodiodeCapacitance: 20e-12,
      inputCapacitance: 0,
    });
    expect(dynamics.phaseMargin * degrees).toBeCloseTo(52.8, 1);
    expect(Math.abs(dynamics.peaking - 1.14)).toBeLessThan(0.01);
  });

  it("becomes GBW-limited: B = A/(2πR_f C)", () => {
    // Optical receiver of a printed exercise (fibre-optics textbook, example
    // 9.8): R_f 100 kΩ, open-loop gain 400, C 6 pF give 1.06e8 Hz.
    expect(400 / (2 * Math.PI * 100e3 * 6e-12) / 1.06e8).toBeCloseTo(1, 2);
    // With the amplifier far faster than R_f C_f, only that pole is left.
    const { bandwidth } = amplifierDynamics({
      feedbackResistance: 100e3,
      feedbackCapacitance: 10e-12,
      gainBandwidth: 1e12,
    });
    expect(bandwidth * 2 * Math.PI * 100e3 * 10e-12).toBeCloseTo(1, 3);
  });

  it("refuses negative parts", () => {
    expect(() => amplifierDynamics({ feedbackResistance: -1 })).toThrow(
      "'feedbackResistance' must be a positive number",
    );
    expect(() => amplifierDynamics({ feedbackCapacitance: NaN })).toThrow(
      "'feedbackCapacitance'",
    );
  });
});

describe("amplifierResponse()", () => {
  it("is that of the circuit solved node by node in Python", () => {
    for (const each of fixture.cases) {
      const amplifier = {
        feedbackResistance: each.rf,
        feedbackCapacitance: each.cf,
        gainBandwidth: each.gbw,
        photodiodeCapacitance: each.ct,
        inputCapacitance: 0,
        coupling: each.coupling,
      };
      const { real, imaginary } = amplifierResponse(
        amplifier,
        each.frequencies,
      );
      real.forEach((value, i) => {
        // Rounding, relative to the gain of 1 in the middle of the band.
        expect(Math.abs(value - each.real[i]!)).toBeLessThan(1e-12);
        expect(Math.abs(imaginary[i]! - each.imaginary[i]!))
          .toBeLessThan(1e-12);
      });
      // The grid of the loop gain in Python: 10^5 points per decade.
      expect(amplifierDynamics(amplifier).phaseMargin)
        .toBeCloseTo(each.phaseMargin, 4);
    }
  });
});

describe("feedbackCapacitanceFor()", () => {
  it("is close to sqrt(C_T/(πR_f GBW)), and exact for the two poles", () => {
    // Data sheet SBOS981J: 1.1 pF; the formula: 1.128 pF.
    const amplifier = {
      feedbackResistance: 100e3,
      gainBandwidth: 50e6,
      photodiodeCapacitance: 20e-12,
      inputCapacitance: 0,
    };
    const capacitance = feedbackCapacitanceFor(amplifier);
    const formula = Math.sqrt(20e-12 / (Math.PI * 100e3 * 50e6));
    expect(formula * 1e12).toBeCloseTo(1.128, 3);
    // The formula leaves C_f out of C_T and 1/ω_g: a few per cent.
    expect(Math.abs(capacitance / formula - 1)).toBeLessThan(0.03);
  });

  it("is 0 for an amplifier too slow to peak", () => {
    expect(
      feedbackCapacitanceFor({
        feedbackResistance: 100,
        gainBandwidth: 1e5,
        photodiodeCapacitance: 1e-12,
        inputCapacitance: 0,
      }),
    ).toBe(0);
  });
});

describe("noise densities", () => {
  it("are √(4kTR) and √(2eI)", () => {
    // Worked out with CODATA constants; 40.69 µV for 100 kΩ, 300 K, 1 MHz is a
    // printed example (k = 1.38e-23).
    expect(thermalNoiseDensity(1e3, 300) * 1e9).toBeCloseTo(4.0704, 4);
    expect(thermalNoiseDensity(1e3, 298.15) * 1e9).toBeCloseTo(4.0578, 4);
    expect(thermalNoiseDensity(50, 290) * 1e9).toBeCloseTo(0.8949, 4);
    expect(thermalNoiseDensity(100e3, 300) * 1e3 * 1e6).toBeCloseTo(40.69, 1);
    expect(thermalNoiseDensity(100e3, 300) / 100e3 * 1e12)
      .toBeCloseTo(0.4070, 4);
    const shot: [number, number][] = [
      [1e-3, 17.9007],
      [100e-6, 5.6607],
      [10e-6, 1.7901],
      [1e-6, 0.56607],
    ];
    for (const [current, expected] of shot) {
      expect(shotNoiseDensity(current) * 1e12).toBeCloseTo(expected, 4);
    }
  });

  it("are equal where the current drops 2kT/e = 51.7 mV", () => {
    const current = 2 * 1.380649e-23 * 300 / 1.602176634e-19 / 100e3;
    expect(current * 100e3).toBeCloseTo(0.0517, 4);
    expect(shotNoiseDensity(current) * 100e3)
      .toBeCloseTo(thermalNoiseDensity(100e3, 300), 15);
  });
});

describe("checkFrontEnd()", () => {
  it("makes 100 mV of 1 µA in 100 kΩ", () => {
    // Common practice, no source.
    const check = checkFrontEnd({ monitorCurrent: 1e-6 });
    expect(check.standingVoltage).toBeCloseTo(0.1, 12);
    expect(check.transimpedance.value).toBe(100e3);
  });

  it("fits 50 to 60 µA between ±9 V, not 100 µA", () => {
    // Common practice, no source.
    expect(checkFrontEnd({ monitorCurrent: 50e-6 }).headroom)
      .toBeGreaterThan(0);
    expect(checkFrontEnd({ monitorCurrent: 60e-6 }).headroom)
      .toBeGreaterThan(0);
    const over = checkFrontEnd({ monitorCurrent: 100e-6 });
    expect(over.warnings.map(({ code }) => code)).toContain("no-headroom");
    expect(over.greatestMonitorCurrent).toBeCloseTo(75e-6, 12);
  });

  it("has the resistor's noise tend to √(kT/C_f) for a fast amplifier", () => {
    // kT/C at 25 °C: 64.2 µV for 1 pF (printed: 64.2 nV·√µF).
    const { noise } = checkFrontEnd({
      amplifier: {
        feedbackCapacitance: 1e-12,
        gainBandwidth: 1e15,
        temperature: 298.15,
      },
    });
    expect(noise.resistor * 1e6).toBeCloseTo(64.16, 1);
  });

  it("adds the same noise that an integral over frequency gives", () => {
    const amplifier = {
      feedbackCapacitance: 1e-12,
      voltageNoise: 20e-9,
      temperature: 300,
    };
    const { noise, naturalFrequency, qualityFactor } = checkFrontEnd({
      amplifier,
      converter: null,
    });
    // Trapezoids over 10^5 steps up to 200 f0; the rest falls as 1/f.
    const zero = 1 / (2 * Math.PI * 100e3 * 29e-12);
    let flat = 0;
    let rising = 0;
    const top = 200;
    const steps = 1e5;
    for (let i = 0; i < steps; i++) {
      const x = (i + 0.5) / steps * top;
      const size = (1 - x * x) ** 2 + (x / qualityFactor) ** 2;
      const width = naturalFrequency * top / steps;
      flat += width / size;
      rising += width * (1 + (x * naturalFrequency / zero) ** 2) / size;
    }
    rising += (naturalFrequency / zero) ** 2 * naturalFrequency / top;
    const density = thermalNoiseDensity(100e3, 300);
    expect(noise.resistor / (density * Math.sqrt(flat))).toBeCloseTo(1, 4);
    expect(noise.amplifierVoltage / (20e-9 * Math.sqrt(rising)))
      .toBeCloseTo(1, 4);
    expect(noise.total).toBeCloseTo(
      Math.hypot(
        noise.shot,
        noise.resistor,
        noise.amplifierVoltage,
        noise.amplifierCurrent,
      ),
      12,
    );
  });

  it("has a displacement floor of (λ/4πm)√(2e/I): 0.29 pm/√Hz", () => {
    // 650 nm, 100 µA, m = 0.01, shot noise alone, worked out by hand.
    const { displacementNoiseDensity } = checkFrontEnd({
      amplifier: {
        voltageNoise: 0,
        currentNoise: 0,
        temperature: 1e-6,
        feedbackResistance: 50e3,
      },
      monitorCurrent: 100e-6,
    });
    expect(displacementNoiseDensity * 1e12).toBeCloseTo(0.29, 2);
  });

  it("propagates the tolerances: bandwidth goes as 1/√R_f where C_f is nil", () => {
    const check = checkFrontEnd({
      amplifier: { feedbackCapacitance: 1e-15 },
      tolerances: {
        feedbackResistance: 0.01,
        feedbackCapacitance: 0,
        gainBandwidth: 0,
        totalInputCapacitance: 0,
      },
    });
    expect(check.bandwidth.standardUncertainty / check.bandwidth.value)
      .toBeCloseTo(0.005, 4);
    expect(check.warnings.map(({ code }) => code))
      .toContain("low-phase-margin");
  });

  it("says when fringes are too fast, droop, or drown", () => {
    const codes = (options: Parameters<typeof checkFrontEnd>[0]) =>
      checkFrontEnd(options).warnings.map(({ code }) => code);
    expect(codes({ fringeRate: 1e6 })).toContain("too-slow");
    const coupling = { capacitance: 1e-9, resistance: 10e3 };
    expect(codes({ amplifier: { coupling }, fringeRate: 100 }))
      .toContain("coupling");
    expect(codes({ modulationIndex: 1e-5 })).toContain("noisy");
    expect(codes({ converter: { bits: 8, low: -10, high: 10 } }))
      .toContain("converter-noise");
    expect(codes({ converter: { bits: 16, low: -1, high: 1 } }))
      .toContain("converter-range");
    expect(codes({ fringeRate: 1e3, converter: null })).toEqual([]);
  });

  it("gives the corner 1/(2πRC): 1 µF and 100 kΩ make 1.59 Hz", () => {
    const { couplingCorner } = checkFrontEnd({
      amplifier: { coupling: { capacitance: 1e-6, resistance: 100e3 } },
    });
    expect(couplingCorner).toBeCloseTo(1.5915, 4);
  });
});

describe("undoAmplifier()", () => {
  const amplifier = {
    feedbackCapacitance: 33e-12,
    coupling: { capacitance: 100e-9, resistance: 100e3 },
  };
  const rate = 1e6;
  const random = createRandom(5);
  const wave = Float64Array.from(
    { length: 5000 },
    (_, i) => Math.sin(i / 20) + 0.3 * Math.sin(i / 3) * Math.cos(i / 700),
  );

  it("gives back what applyAmplifier() took away", () => {
    const seen = applyAmplifier(wave, rate, amplifier);
    const back = undoAmplifier(seen, rate, amplifier);
    let worst = 0;
    for (let i = 200; i < 4800; i++) {
      worst = Math.max(worst, Math.abs(back[i]! - wave[i]!));
    }
    // The ends are closed differently, and 0 Hz does not come back.
    expect(worst).toBeLessThan(0.02);
  });

  it("raises no noise by more than the largest boost", () => {
    const noise = Float64Array.from({ length: 8192 }, () => random.normal());
    const power = (x: Float64Array) => x.reduce((s, v) => s + v * v, 0);
    const raised = undoAmplifier(
      noise,
      rate,
      { feedbackCapacitance: 1e-9 },
      { largestBoost: 3 },
    );
    expect(power(raised) / power(noise)).toBeLessThan(9.5);
    expect(power(raised) / power(noise)).toBeGreaterThan(7);
    expect(() => undoAmplifier(noise, rate, {}, { largestBoost: 0 }))
      .toThrow("'largestBoost'");
  });

  it("has the response of the simulator's amplifier", () => {
    const frequency = 20e3;
    const slow = {
      feedbackCapacitance: 100e-12,
      rails: { low: -99, high: 99 },
    };
    const capture = simulateCapture({
      distance: (time) => 0.1 + frequency * 650e-9 / 2 * time,
      samplingRate: 2e6,
      duration: 0.01,
      feedbackParameter: 0,
      frontEnd: amplifierModel(slow),
    });
    const samples = capture.channels[0]!.samples.subarray(4000);
    const half = (Math.max(...samples) - Math.min(...samples)) / 2;
    const clean = simulateCapture({
      distance: (time) => 0.1 + frequency * 650e-9 / 2 * time,
      samplingRate: 2e6,
      duration: 0.01,
      feedbackParameter: 0,
    }).channels[0]!.samples;
    const full = (Math.max(...clean) - Math.min(...clean)) / 2;
    const { magnitude } = amplifierResponse(slow, [frequency]);
    // The bilinear transform at f/fs = 0.01.
    expect(half / full).toBeCloseTo(magnitude[0]!, 2);
  });
});
