import { describe, expect, it } from "vitest";
import { check } from "fringebook";
import { checkAnswer, exerciseNames, findExercise } from "fringebook/course";
import { createRandom } from "fringebook/signal";

const notebooks = new URL("../../notebooks/", import.meta.url);

describe("the notebooks' exercises", () => {
  it("accept their own truth, and name the cause of each of their mistakes", () => {
    for (const name of exerciseNames) {
      const exercise = findExercise(name);
      const { truth: value, unit } = exercise;
      expect(checkAnswer(exercise, { value, unit }).right).toBe(true);
      for (const { cause, value: wrong } of exercise.mistakes) {
        const found = checkAnswer(exercise, { value: wrong, unit });
        expect(`${name}: ${found.right}, ${found.mistake}`).toBe(
          `${name}: false, ${cause}`,
        );
        expect(found.message).not.toContain(value.toPrecision(4));
      }
      expect(checkAnswer(exercise, { value: NaN, unit }).message).toMatch(
        /No number yet/,
      );
    }
  });
  it("have mistakes that lie apart from the truth and from each other", () => {
    for (const name of exerciseNames) {
      const { truth, relativeTolerance, mistakes } = findExercise(name);
      const values = [truth, ...mistakes.map(({ value }) => value)];
      values.forEach((a, i) =>
        values.slice(i + 1).forEach((b) => {
          const apart = Math.abs(a - b) / Math.max(Math.abs(a), Math.abs(b));
          expect(`${name}: ${apart > relativeTolerance}`).toBe(`${name}: true`);
        })
      );
    }
  });
  it("give random wrong values no hint that is false", () => {
    const random = createRandom(24);
    let hints = 0;
    for (const name of exerciseNames) {
      const exercise = findExercise(name);
      const { truth, unit, relativeTolerance, mistakes } = exercise;
      for (let trial = 0; trial < 200; trial++) {
        // Two decades on either side, and now and then the other sign
        const size = 10 ** (4 * random.uniform() - 2);
        const value = truth * size * (random.uniform() < 0.1 ? -1 : 1);
        const { right, mistake } = checkAnswer(exercise, { value, unit });
        const near = (other: number) =>
          Math.abs(value - other) <= relativeTolerance * Math.abs(other);
        expect(right).toBe(near(truth));
        if (mistake === null) continue;
        hints++;
        const meant = mistakes.find(({ cause }) => cause === mistake)?.value ??
          (mistake === "the sign" ? -truth : NaN);
        expect(`${name} ${mistake}: ${near(meant)}`).toBe(
          `${name} ${mistake}: true`,
        );
      }
    }
    // Some do match by chance, or nothing was tried
    expect(hints).toBeGreaterThan(10);
  });
  it("stand in the notebooks, each in one and none twice in one, with the right unit", () => {
    const asked = new Set<string>();
    for (const { name } of Deno.readDirSync(notebooks)) {
      if (!name.endsWith(".ipynb")) continue;
      const text = Deno.readTextFileSync(new URL(name, notebooks));
      const cells = JSON.parse(text).cells as { source: string[] }[];
      const call =
        /\b(?:check|checkAnswer)\("([\w.-]+)", \{ value: NaN, unit: "([^"]+)" \}\)/g;
      const here = new Set<string>();
      for (const { source } of cells) {
        for (const [, exercise, unit] of source.join("").matchAll(call)) {
          expect(`${name} asks for ${exercise} ${here.has(exercise!)}`).toBe(
            `${name} asks for ${exercise} false`,
          );
          here.add(exercise!);
          asked.add(exercise!);
          expect(`${exercise}: ${unit}`).toBe(
            `${exercise}: ${findExercise(exercise!).unit}`,
          );
        }
      }
    }
    expect([...asked].sort()).toEqual([...exerciseNames].sort());
  });
  it("have the worked value of one step at 650 nm and 20 pm, 10.5625 mm", () => {
    // λ²/(2 n Δλ) for 650 nm and 0.02 nm: own calculation, 10.5625 mm.
    const right = check("distance.one-step", { value: 0.0105625, unit: "m" });
    expect(right.right).toBe(true);
    const twice = check("distance.one-step", { value: 0.021125, unit: "m" });
    expect(twice.mistake).toBe("a whole wavelength for half of one");
  });
});
