import { describe, expect, it } from "vitest";
import { check, checkAnswer, exerciseNames, findExercise } from "fringebook";

const notebooks = new URL("../../notebooks/", import.meta.url);

describe("the notebooks' exercises", () => {
  it("accept their own truth, and none accepts one of its pitfalls", () => {
    for (const name of exerciseNames) {
      const exercise = findExercise(name);
      const { truth: value, unit } = exercise;
      expect(checkAnswer(exercise, { value, unit }).right).toBe(true);
      for (const wrong of Object.values(exercise.pitfalls)) {
        const found = checkAnswer(exercise, { value: wrong, unit });
        expect(`${name}: ${found.right}`).toBe(`${name}: false`);
        expect(found.mistake).not.toBe(null);
        expect(found.message).not.toContain(value.toPrecision(4));
      }
      const odd = checkAnswer(exercise, { value: 1.2345 * value, unit });
      expect(`${name}: ${odd.right}`).toBe(`${name}: false`);
      expect(checkAnswer(exercise, { value: NaN, unit }).message).toMatch(
        /No number yet/,
      );
    }
  });
  it("stand in the notebooks, each exactly once, with the right unit", () => {
    const asked: string[] = [];
    for (const { name } of Deno.readDirSync(notebooks)) {
      if (!name.endsWith(".ipynb")) continue;
      const text = Deno.readTextFileSync(new URL(name, notebooks));
      const cells = JSON.parse(text).cells as { source: string[] }[];
      const call =
        /\b(?:check|checkAnswer)\("([\w.-]+)", \{ value: NaN, unit: "([^"]+)" \}\)/g;
      for (const { source } of cells) {
        for (const [, exercise, unit] of source.join("").matchAll(call)) {
          asked.push(exercise!);
          expect(`${exercise}: ${unit}`).toBe(
            `${exercise}: ${findExercise(exercise!).unit}`,
          );
        }
      }
    }
    expect(asked.sort()).toEqual([...exerciseNames].sort());
  });
  it("have the worked value of one step at 650 nm and 20 pm, 10.5625 mm", () => {
    // λ²/(2 n Δλ) for 650 nm and 0.02 nm: own calculation, 10.5625 mm.
    const right = check("distance.one-step", { value: 0.0105625, unit: "m" });
    expect(right.right).toBe(true);
    const twice = check("distance.one-step", { value: 0.021125, unit: "m" });
    expect(twice.mistake).toBe("wavelength for half a wavelength");
  });
});
