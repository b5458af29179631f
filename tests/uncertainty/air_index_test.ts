import { airIndex } from "fringebook";
import { describe, expect, it } from "vitest";

/**
 * NIST Engineering Metrology Toolbox, documentation, table 1 (450 µmol/mol CO2):
 * t °C, RH %, P kPa, λ nm, n Ciddor, n modified Edlén.
 */
const nistTable1 = [
  [20, 0, 101.325, 633, 1.000271800, 1.000271799],
  [20, 0, 60, 633, 1.000160924, 1.000160920],
  [20, 0, 120, 633, 1.000321916, 1.000321918],
  [50, 0, 100, 633, 1.000243285, 1.000243270],
  [5, 0, 100, 633, 1.000282756, 1.000282750],
  [-40, 0, 100, 633, 1.000337580, 1.000337471],
  [50, 100, 120, 633, 1.000287924, 1.000287864],
  [40, 75, 120, 633, 1.000299418, 1.000299406],
  [20, 100, 100, 633, 1.000267394, 1.000267394],
  [40, 100, 110, 1700, 1.000270247, 1.000270237],
  [20, 0, 101.325, 1700, 1.000268479, 1.000268483],
  [40, 100, 110, 300, 1.000289000, 1.000288922],
  [20, 0, 101.325, 300, 1.000286581, 1.000286579],
  [-40, 0, 120, 300, 1.000427233, 1.000427072],
] as const;

describe("airIndex()", () => {
  it("agrees with all 14 rows of NIST's table to the last printed digit", () => {
    for (const [t, rh, kPa, nm, ciddor, edlen] of nistTable1) {
      const options = { temperature: t, humidity: rh, pressure: kPa * 1e3 };
      const a = airIndex(nm * 1e-9, options).refractiveIndex.value;
      const b = airIndex(nm * 1e-9, { ...options, equation: "modified Edlén" })
        .refractiveIndex.value;
      // The table is printed to 1e-9.
      expect(Math.abs(a - ciddor)).toBeLessThan(1e-9);
      expect(Math.abs(b - edlen)).toBeLessThan(1e-9);
    }
  });

  it("agrees with the modified Edlén series over humidity at 633 nm", () => {
    // Printed with NIST's table 1: 20 °C, 101.325 kPa, RH 0 to 100 %.
    const series = [
      1.000271799,
      1.000271714,
      1.000271629,
      1.000271544,
      1.000271459,
      1.000271375,
      1.000271290,
      1.000271205,
      1.000271120,
      1.000271035,
      1.000270950,
    ];
    series.forEach((n, k) => {
      const { value } = airIndex(633e-9, {
        humidity: 10 * k,
        equation: "modified Edlén",
      }).refractiveIndex;
      expect(Math.abs(value - n)).toBeLessThan(1.1e-9);
    });
  });

  it("the short formula of NIST agrees in a laboratory", () => {
    // Appendix B of the same documentation, from memory.
    const short = 1 + 7.86e-4 * 101.325 / (273 + 20) -
      1.5e-11 * 50 * (20 ** 2 + 160);
    const { value } = airIndex(633e-9, { humidity: 50 }).refractiveIndex;
    expect(Math.abs(value - short)).toBeLessThan(3e-8);
  });

  it("its sensitivities are those of the usual rules of thumb", () => {
    // About -1e-6 per K, +2.7e-9 per Pa, -0.9e-8 per % RH: common practice.
    const { sensitivities } = airIndex(633e-9, { pressure: 101e3 }).diagnostics;
    expect(sensitivities.temperature).toBeCloseTo(-0.952e-6, 8);
    expect(sensitivities.pressure).toBeCloseTo(2.683e-9, 11);
    expect(sensitivities.humidity).toBeCloseTo(-0.85e-8, 10);
  });

  it("widens with the uncertainty of the state of the air", () => {
    const sure = airIndex(650e-9).refractiveIndex.standardUncertainty;
    const { standardUncertainty } = airIndex(650e-9, {
      temperatureStandardUncertainty: 1,
    }).refractiveIndex;
    expect(sure).toBeCloseTo(1e-8, 12);
    expect(standardUncertainty).toBeCloseTo(0.95e-6, 7);
  });

  it("refuses numbers in the wrong unit", () => {
    expect(() => airIndex(650)).toThrow("'wavelength'");
    expect(() => airIndex(650e-9, { pressure: 101.3 })).toThrow("'pressure'");
    expect(() => airIndex(650e-9, { temperature: 293 })).toThrow(
      "'temperature'",
    );
    expect(() => airIndex(650e-9, { humidity: NaN })).toThrow("'humidity'");
  });
});
