import { describe, expect, it } from "vitest";
import {
  askQuestions,
  compareWithTruth,
  quantity,
  recordAnswer,
  recordChoice,
} from "fringebook";
import { convertUnit } from "fringebook/capture";
import { checkAnswer } from "fringebook/course";

const exercise = {
  name: "speed.disc",
  truth: 0.25,
  unit: "m/s",
  relativeTolerance: 0.02,
  needsUncertainty: false,
  mistakes: [{
    cause: "cosine forgotten",
    value: 0.25 * Math.cos(1.2),
    hint: "Which part of the velocity does the beam see?",
  }],
  lookAt: "the angle",
};

describe("checkAnswer", () => {
  it("accepts an answer within the tolerance and refuses one outside", () => {
    expect(checkAnswer(exercise, { value: 0.2549, unit: "m/s" }).right).toBe(
      true,
    );
    expect(checkAnswer(exercise, { value: 0.256, unit: "m/s" }).right).toBe(
      false,
    );
  });
  it("reads the number with its unit", () => {
    for (const [value, unit] of [[250, "mm/s"], [25, "cm/s"], [15, "m/min"]]) {
      const check = checkAnswer(exercise, {
        value: value as number,
        unit: unit as string,
      });
      expect(`${unit}: ${check.right}`).toBe(`${unit}: true`);
    }
  });
  it("names each cause without giving the answer", () => {
    const cases = [
      [-0.25, "the sign"],
      [250, "a prefix"],
      [0.25e-6, "a prefix"],
      [0.25 * Math.cos(1.2), "cosine forgotten"],
    ] as const;
    for (const [value, cause] of cases) {
      const check = checkAnswer(exercise, { value, unit: "m/s" });
      expect(check.right).toBe(false);
      expect(check.mistake).toBe(cause);
      expect(JSON.stringify(check)).not.toMatch(/0\.25\b/);
    }
  });
  it("gives no hint that it cannot stand for: half, twice, 2.4, 0.7, 4 times", () => {
    for (const factor of [0.5, 2, 2.4, 0.7, 4]) {
      const value = 0.25 * factor;
      const check = checkAnswer(exercise, { value, unit: "m/s" });
      expect(check.mistake).toBe(null);
      expect(check.message).toBe(
        "Not within 2 % of what is asked for: look at the angle.",
      );
    }
  });
  it("says which way a prefix went", () => {
    const said = (value: number) =>
      checkAnswer(exercise, { value, unit: "m/s" }).message;
    expect(said(250)).toMatch(/10³ times too large/);
    expect(said(0.25e-6)).toMatch(/10⁶ times too small/);
  });
  it("asks for a number, the unit and an uncertainty where they are missing", () => {
    expect(checkAnswer(exercise, { value: NaN, unit: "m/s" }).message).toMatch(
      /No number/,
    );
    expect(checkAnswer(exercise, { value: 250, unit: "mm" }).message).toMatch(
      /has the unit 'm\/s'/,
    );
    expect(
      checkAnswer({ ...exercise, needsUncertainty: true }, {
        value: 0.25,
        unit: "m/s",
      }).message,
    ).toMatch(/standardUncertainty/);
  });
});

describe("convertUnit", () => {
  it("knows prefixes, quotients, powers and units with names of their own", () => {
    const cases = [
      [1, "mm/s²", "m/s²", 1e-3],
      [1, "um/s^2", "m/s²", 1e-6],
      [1, "mW/mm²", "W/m²", 1e3],
      [1, "kHz", "1/s", 1e3],
      [1, "pm/mA", "m/A", 1e-9],
      [1, "mV/µA", "Ω", 1e3],
      [100, "%", "1", 1],
      [180, "°", "rad", Math.PI],
      [1, "m s⁻¹", "m/s", 1],
      [2, "d", "s", 172_800],
    ] as const;
    for (const [value, from, to, result] of cases) {
      // Rounding of a few products
      expect(Math.abs(convertUnit(value, from, to)! / result - 1))
        .toBeLessThan(1e-12);
    }
    for (const [from, to] of [["m", "s"], ["mm/s", "m"], ["furlong", "m"]]) {
      expect(convertUnit(1, from!, to!)).toBe(null);
    }
    expect(convertUnit(1, "x".repeat(100), "m")).toBe(null);
  });
});

describe("recordAnswer", () => {
  it("refuses a misspelt question with the nearest, and a unit of another kind", () => {
    askQuestions([
      { name: "distance", unit: "m" },
      { name: "speed", unit: "m/s" },
    ]);
    expect(() => recordAnswer("distnce", { value: 1, unit: "m" })).toThrow(
      "did you mean 'distance'?",
    );
    expect(() => recordAnswer("speed", { value: 1, unit: "mm" })).toThrow(
      "give it in 'm/s'",
    );
    const { answer } = recordAnswer("speed", { value: 49.7, unit: "mm/s" });
    expect([answer.value, answer.unit]).toEqual([49.7, "mm/s"]);
    askQuestions([]);
  });
});

describe("recordChoice", () => {
  it("refuses what is no choice, and an answer of the other kind", () => {
    askQuestions([
      { name: "eye", choices: ["a", "b"] },
      { name: "speed", unit: "m/s" },
    ]);
    expect(recordChoice("eye", " b ").choice).toBe("b");
    expect(() => recordChoice("eye", "c")).toThrow("they are a, b");
    expect(() => recordChoice("speed", "a")).toThrow("use recordAnswer");
    expect(() => recordAnswer("eye", { value: 1, unit: "m" })).toThrow(
      "use recordChoice",
    );
    const none = recordChoice("eye", "");
    expect(none.warnings.map(({ code }) => code)).toEqual(["no-choice"]);
    askQuestions([]);
  });
});

describe("compareWithTruth", () => {
  it("agrees exactly up to the expanded uncertainty", () => {
    // E = |x - x0| / U: 1.9 u and 2.1 u with k = 2 lie on either side of 1.
    const at = (errors: number) =>
      compareWithTruth(quantity(1 + errors * 0.01, 0.01, "m"), {
        label: "distance",
        truth: 1,
      });
    expect(at(1.9).agrees).toBe(true);
    expect(at(2.1).agrees).toBe(false);
    expect(at(2.1).normalizedError).toBeCloseTo(1.05, 10);
  });
  it("refuses a comparison without an uncertainty", () => {
    expect(() =>
      compareWithTruth(quantity(1, 0, "m"), { label: "distance", truth: 1 })
    ).toThrow("must be positive");
  });
});
