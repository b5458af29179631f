import { describe, expect, it } from "vitest";
import { parseCapture } from "fringebook";

/** Small generator for repeatable digits: xorshift32. */
function digits(seed: number): () => number {
  let x = seed;
  return () => {
    x ^= x << 13;
    x ^= x >>> 17;
    x ^= x << 5;
    return (x >>> 0) / 2 ** 32;
  };
}

const parse = (texts: string[]) =>
  parseCapture(new TextEncoder().encode(`a (V)\n${texts.join("\n")}\n`), {
    samplingRate: 1,
  }).channels[0]!.samples;

// The reference is ECMAScript's Number(), which rounds correctly (ECMA-262,
// StringToNumber).
describe("numbers in text", () => {
  it("are correctly rounded for 1 to 30 digits and powers of ten to 60", () => {
    const random = digits(12345);
    const texts = Array.from({ length: 20_000 }, () => {
      const count = 1 + Math.floor(random() * 30);
      let text = "";
      for (let at = 0; at < count; at++) text += Math.floor(random() * 10);
      const point = Math.floor(random() * (count + 1));
      const exponent = Math.floor(random() * 120) - 60;
      return `${random() < 0.5 ? "-" : ""}${text.slice(0, point)}.${
        text.slice(point)
      }E${exponent}`;
    });
    expect(Array.from(parse(texts))).toEqual(texts.map(Number));
  });
  it("are correctly rounded half way between two doubles", () => {
    const random = digits(99);
    const texts = Array.from({ length: 2000 }, () => {
      const half = BigInt(2 ** 52 + Math.floor(random() * 2 ** 52)) * 2n + 1n;
      const tail = ["", ".0", ".0000001", ".00000000000000000000000000001"][
        Math.floor(random() * 4)
      ];
      return `${half}${tail}`;
    });
    expect(Array.from(parse(texts))).toEqual(texts.map(Number));
  });
  it("of shortest printed form come back as they were", () => {
    const random = digits(7);
    const values = Array.from(
      { length: 20_000 },
      () => (random() - 0.5) * 10 ** Math.floor(random() * 40 - 20),
    );
    expect(Array.from(parse(values.map(String)))).toEqual(values);
  });
  it("may be extreme, signed zero or in Fortran's form", () => {
    const texts = ["5e-324", "1.7976931348623157e308", "-0", "1D3", "+7", ".5"];
    expect(Array.from(parse([...texts, "3."]))).toEqual([
      5e-324,
      1.7976931348623157e308,
      -0,
      1000,
      7,
      0.5,
      3,
    ]);
    expect(() => parse(["1", "2", "1e999"])).toThrow("text where a number");
  });
});
