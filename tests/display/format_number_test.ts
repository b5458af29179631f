import { describe, expect, it } from "vitest";
import { formatNumber, formatQuantity } from "fringebook";
import { shownUnit } from "fringebook/display";

const q = (value: number, standardUncertainty: number, unit: string) => ({
  value,
  standardUncertainty,
  unit,
});

describe("formatNumber()", () => {
  it("chooses SI prefixes in steps of a thousand (SI Brochure, 9th ed., table 7)", () => {
    expect(formatNumber(650e-9, { unit: "m" })).toBe("650 nm");
    expect(formatNumber(0.2, { unit: "m" })).toBe("200 mm");
    expect(formatNumber(999e-6, { unit: "A" })).toBe("999 µA");
    expect(formatNumber(1e-3, { unit: "A" })).toBe("1 mA");
    expect(formatNumber(461e12, { unit: "Hz" })).toBe("461 THz");
    expect(formatNumber(2e6, { unit: "Hz" })).toBe("2 MHz");
  });

  it("shows long times in seconds and temperatures without kilo", () => {
    expect(formatNumber(5000, { unit: "s" })).toBe("5000 s");
    expect(formatNumber(2000, { unit: "K" })).toBe("2000 K");
    expect(formatNumber(0.05, { unit: "s" })).toBe("50 ms");
  });

  it("shows tuning coefficients in nm/mA and GHz/mA", () => {
    expect(formatNumber(-6.1e-6, { unit: "m/A" })).toBe("−6.1 nm/mA");
    expect(formatNumber(3e12, { unit: "Hz/A" })).toBe("3 GHz/mA");
    expect(formatNumber(0.0123, { unit: "m/s" })).toBe("12.3 mm/s");
  });

  it("leaves units alone that take no prefix", () => {
    expect(formatNumber(0.012, { unit: "dB" })).toBe("0.012 dB");
    expect(formatNumber(25, { unit: "°C" })).toBe("25 °C");
    expect(formatNumber(0.5, { unit: "%" })).toBe("0.5 %");
  });

  it("prints whole numbers in full and other numbers to the digits asked for", () => {
    expect(formatNumber(1234567)).toBe("1234567");
    expect(formatNumber(1234567.8)).toBe("1.2346 × 10⁶");
    expect(formatNumber(Math.PI)).toBe("3.1416");
    expect(formatNumber(Math.PI, { digits: 3 })).toBe("3.14");
    expect(formatNumber(99999.96, { unit: "dB" })).toBe("100000 dB");
  });

  it("prints zero, NaN, the infinities and the ends of the range", () => {
    expect(formatNumber(0, { unit: "m" })).toBe("0 m");
    expect(formatNumber(-0)).toBe("0");
    expect(formatNumber(NaN, { unit: "m" })).toBe("NaN");
    expect(formatNumber(Infinity, { unit: "m" })).toBe("∞ m");
    expect(formatNumber(-Infinity)).toBe("−∞");
    expect(formatNumber(1e300, { unit: "m" })).toBe("1 × 10³⁰⁰ m");
    expect(formatNumber(1e-300, { unit: "m" })).toBe("1 × 10⁻³⁰⁰ m");
    expect(formatNumber(Number.MIN_VALUE)).toBe("4.9407 × 10⁻³²⁴");
    expect(formatNumber(-Number.MAX_VALUE)).toBe("−1.7977 × 10³⁰⁸");
  });

  it("reads back within half of its last digit for numbers of every size", () => {
    for (let exponent = -320; exponent <= 307; exponent++) {
      for (const mantissa of [1, 1.00005, 2.71828, 9.99994, 9.99996]) {
        const value = Number(`${mantissa}e${exponent}`);
        const back = readBack(formatNumber(value));
        // Five digits: half a unit of the fifth is at most 5e-5; the smallest
        // numbers of a double are themselves spaced wider.
        const spacing = Math.max(5.1e-5 * value, 5e-324);
        expect(Math.abs(back - value)).toBeLessThanOrEqual(spacing);
      }
    }
  });
});

describe("formatQuantity()", () => {
  it("prints the worked example of JCGM 100:2008, 7.2.2: 100.02147 g with u = 0.35 mg", () => {
    // The Guide keeps its unit g; a unit that takes no prefix here.
    expect(formatQuantity(q(100.02147, 0.00035, "g"))).toBe(
      "100.02147(35) g",
    );
  });

  it("prints the worked example of JCGM 100:2008, 7.2.4: (100.02147 ± 0.00079) g, k = 2.26", () => {
    expect(formatQuantity({
      value: 100.02147,
      standardUncertainty: 0.00035,
      unit: "g",
      coverageFactor: 2.26,
    }, { form: "plus-minus" })).toBe("(100.02147 ± 0.00079) g, k = 2.26");
  });

  it("keeps two significant digits of the uncertainty, also when rounding carries", () => {
    expect(formatQuantity(q(12.342e-6, 0.561e-6, "m"))).toBe("12.34(56) µm");
    expect(formatQuantity(q(0.997, 0.0996, "1"))).toBe("1.00(10)");
    expect(formatQuantity(q(0.2, 0.00027, "m"))).toBe("200.00(27) mm");
    expect(formatQuantity(q(1e6, 2, "Hz"))).toBe("1.0000000(20) MHz");
  });

  it("shows the decimal point in the brackets where the uncertainty crosses it", () => {
    expect(formatQuantity(q(12.3, 1.2, "1"))).toBe("12.3(1.2)");
    expect(formatQuantity(q(0.5, 0.12, "m"))).toBe("500(120) mm");
  });

  it("prints an uncertainty larger than the value", () => {
    expect(formatQuantity(q(0, 1e-9, "m"))).toBe("0.0(1.0) nm");
    expect(formatQuantity(q(-5e-9, 1e-3, "m"))).toBe("0.0(1.0) mm");
  });

  it("says in words where an uncertainty is zero, not determined or unlimited", () => {
    expect(formatQuantity(q(0.25, 0, "m"))).toBe("250 mm (exact)");
    expect(formatQuantity(q(1, NaN, "m"))).toBe(
      "1 m (uncertainty not determined)",
    );
    expect(formatQuantity(q(1, Infinity, "m"))).toBe(
      "1 m (uncertainty unlimited)",
    );
    expect(formatQuantity(q(NaN, 1, "m"))).toBe("NaN");
    expect(formatQuantity(q(-Infinity, 1, "m"))).toBe("−∞ m");
  });

  it("prints the ends of the range of doubles", () => {
    expect(formatQuantity(q(-1e300, 3.3e298, "m"))).toBe(
      "−1.000(33) × 10³⁰⁰ m",
    );
    expect(formatQuantity(q(1e-300, 2e-302, "m"))).toBe(
      "1.000(20) × 10⁻³⁰⁰ m",
    );
    expect(formatQuantity(q(1.5, 1e-20, "m"))).toBe(
      "1.5 m (u = 1 × 10⁻²⁰ m)",
    );
  });

  it("rounds value and uncertainty to the same place for every size of both", () => {
    for (let v = -30; v <= 30; v += 3) {
      for (let u = v - 12; u <= v + 3; u++) {
        const value = 1.23456789 * 10 ** v;
        const standardUncertainty = 4.5678 * 10 ** u;
        const text = formatQuantity(q(value, standardUncertainty, ""));
        const match = /^(−?[\d.]+)\(([\d.]+)\)(?: × 10([⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+))?$/.exec(
          text,
        );
        if (match === null) throw new Error(`not understood: ${text}`);
        const [, shown = "", bracket = "", power = "⁰"] = match;
        const scale = 10 ** digits(power);
        const decimals = shown.split(".")[1]?.length ?? 0;
        const spread = bracket.includes(".")
          ? Number(bracket)
          : Number(bracket) / 10 ** decimals;
        // Two digits of 45678 round to 46: within 5 in 456.
        expect(Math.abs(spread * scale / standardUncertainty - 1))
          .toBeLessThan(0.02);
        expect(bracket.replace(/^[0.]+|\.|0+$/g, "")).toBe("46");
        const place = standardUncertainty / 45.678;
        expect(
          Math.abs(Number(shown.replace("−", "-")) * scale - value) / place,
        ).toBeLessThan(0.51);
      }
    }
  });
});

describe("shownUnit()", () => {
  it("gives the SI unit itself where no prefix fits", () => {
    expect(shownUnit(1e-30, "m")).toEqual({ symbol: "m", exponent: 0 });
    expect(shownUnit(1e30, "m")).toEqual({ symbol: "m", exponent: 0 });
    expect(shownUnit(NaN, "m")).toEqual({ symbol: "m", exponent: 0 });
    expect(shownUnit(3, "furlong")).toEqual({ symbol: "furlong", exponent: 0 });
  });
});

const superscript = "⁰¹²³⁴⁵⁶⁷⁸⁹";

function digits(text: string): number {
  const plain = [...text].map((c) =>
    c === "⁻" ? "-" : String(superscript.indexOf(c))
  ).join("");
  return Number(plain);
}

function readBack(text: string): number {
  const [mantissa = "", power] = text.replace("−", "-").split(" × 10");
  return Number(`${mantissa}e${power === undefined ? 0 : digits(power)}`);
}
