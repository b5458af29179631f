import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { join } from "@std/path";
import {
  completeQuestion,
  evaluateFormula,
  fillQuestions,
  markAnswer,
  parseQuestions,
  readOwnBench,
  rightAnswer,
  untaggedQuestions,
} from "../../lib/marking/mod.ts";
import { createCell, parseNotebook } from "../../lib/notebook/mod.ts";

describe("a formula of a questions file", () => {
  const names = { truth: 0.2, "known.angle": 78 * Math.PI / 180 };
  const value = (text: string) => evaluateFormula(text, names);

  it("is computed by the usual rules, with units", () => {
    // Worked by hand
    expect(value("2 * truth + 6.3 mm")).toBeCloseTo(0.4063, 12);
    expect(value("-2^2 + 3 / 4 / 3")).toBeCloseTo(-3.75, 12);
    expect(value("2^3^2")).toBe(512);
    expect(value("650nm / 2")).toBeCloseTo(325e-9, 18);
    expect(value("8.3 pm/mA")).toBeCloseTo(8.3e-9, 18);
    expect(value("sqrt((1 + 2) * 3) - 1e-3")).toBeCloseTo(2.999, 12);
    expect(value("truth * cos(known.angle)")).toBeCloseTo(0.0415823, 7);
    expect(value("degrees(known.angle) - 78")).toBeCloseTo(0, 9);
  });
  it("that cannot be read says why", () => {
    for (
      const [text, why] of [
        ["2 * thruth", "'truth' was meant?"],
        ["2 truth", "'truth' behind a number is no unit"],
        ["(1 + 2", "not closed"],
        ["1 +", "ends too early"],
        ["sinus(1)", "no function 'sinus'"],
        ["constructor", "there is no 'constructor'"],
        ["1 2", "'2' stands where it has no meaning"],
        ["truth; 1", "';' stands where it has no meaning"],
      ] as const
    ) expect(() => value(text)).toThrow(why);
  });
});

describe("a questions file", () => {
  const file = (questions: string, head = "title: T\nnotebook: t.ipynb") =>
    parseQuestions(`${head}\nquestions:\n${questions}`, "questions.yaml");

  it("says what is missing or misspelt, and where", () => {
    for (
      const [text, why] of [
        ["  - { unit: m }", "question 1 as it needs a 'name'"],
        ["  - { name: a, truth: 1, tolerence: 1 % }", "'tolerance' was meant?"],
        ["  - { name: a, truth: 1 }", "or a 'tolerance', such as"],
        ["  - { name: a, truth: 1 m, unit: m, tolerance: 2 s }", "in 'm'"],
        ["  - { name: a, tolerance: 1 % }", "needs a 'truth'"],
        ["  - { name: a, truth: x, choices: { a: A, b: B } }", "'x' is none"],
        [
          "  - { name: a, truth: 1, tolerance: 1 %, points: { coverage: 1 } }",
          "need 'reachable'",
        ],
        [
          "  - { name: a, truth: 1, tolerance: 1 %, mistakes: [{ cause: b }] }",
          "needs a 'cause', a 'value' and a 'hint'",
        ],
        ["  - name: a\n   truth: 1", "it is no YAML"],
        ["", "asks no question"],
      ] as const
    ) expect(() => file(text)).toThrow(why);
    expect(() => file("  - {}", "title: T")).toThrow("no 'notebook'");
    const one = "  - { name: a, truth: 1, tolerance: 1 % }\n";
    expect(() => file(one + one)).toThrow("'a' stands twice");
  });
  it("fills in what is left out, and takes what it filled in", () => {
    const { questions } = file(
      '  - { name: a, unit: m, truth: 1 m, reachable: "0,2 mm" }',
    );
    expect(questions[0]!.tolerance).toBe("0.6 mm");
    expect(questions[0]!.points).toEqual({
      value: 2,
      uncertainty: 1,
      coverage: 1,
    });
    expect(questions.map(completeQuestion)).toEqual(questions);
  });
});

describe("a quiz question", () => {
  const question = completeQuestion({
    name: "half",
    text: "How far for one fringe?",
    choices: { a: "λ", b: "λ/2" },
    truth: "b",
    points: 2,
    mistakes: [{ value: "a", cause: "whole wavelength", hint: "Back too?" }],
    solution: "There and back.",
  }, 0);
  const mark = (choice: string) =>
    markAnswer(
      { value: NaN, standardUncertainty: NaN, unit: "", choice },
      question,
      { truth: NaN },
    );

  it("is marked like the others", () => {
    expect(mark("b")).toMatchObject({ right: true, points: 2, maximum: 2 });
    expect(mark("a")).toMatchObject({ points: 0, hint: "Back too?" });
    expect(mark("").reasons).toEqual(["no choice recorded"]);
    const number = { value: 1, standardUncertainty: NaN, unit: "m" };
    expect(markAnswer(number, question, { truth: NaN }).points).toBe(0);
  });
  it("stands in the notebook; its model answer in the teacher's alone", () => {
    const notebook = () =>
      parseNotebook(JSON.stringify({
        nbformat: 4,
        nbformat_minor: 5,
        metadata: {},
        cells: [createCell("markdown", "?", { tags: ["question:half"] })],
      }));
    const asked = {
      questions: [question],
      criteria: [{ name: "figures", text: "One each", points: 3 }],
    };
    const student = notebook();
    fillQuestions(student, asked, null);
    expect(student.cells).toHaveLength(1);
    expect(student.cells[0]!.source).toMatch(/- \*\*b\*\*: λ\/2/);
    expect(JSON.stringify(student)).not.toMatch(/There and back/);
    const teacher = notebook();
    fillQuestions(teacher, asked, () => null);
    expect(teacher.cells[1]!.source).toMatch(/b: λ\/2.* There and back/);
    const rubric = notebook();
    rubric.cells[0]!.metadata = { tags: ["rubric"] };
    fillQuestions(rubric, asked, null);
    expect(rubric.cells[0]!.source).toMatch(
      /half \| the right choice; 2 points \| 2 \|\n\| figures \| One each \| 3 \|\n.*\*\*5\*\*/,
    );
    const none = { questions: [], criteria: [] };
    expect(untaggedQuestions(notebook(), [question])).toEqual([]);
    expect(untaggedQuestions(rubric, [question])).toEqual(["half"]);
    expect(() => fillQuestions(notebook(), none, null)).toThrow(
      "no such question",
    );
  });
});

describe("an own bench", () => {
  let folder: string;
  const describeBench = (text: string) =>
    Deno.writeTextFile(join(folder, "captures.yaml"), text);
  beforeAll(async () => {
    folder = await Deno.makeTempDir();
    const rows = Array.from({ length: 50 }, (_, n) => `${n / 1e3},${n % 7}`);
    for (const name of ["card-1437.csv", "second.csv"]) {
      const text = `time (s),monitor (V)\n${rows.join("\n")}\n`;
      await Deno.writeTextFile(join(folder, name), text);
    }
  });
  afterAll(() => Deno.remove(folder, { recursive: true }));

  it("deals captures of one name out in turn, under names that tell nothing", async () => {
    await describeBench(`captures:
  - { name: card, file: card-1437.csv, truth: { distance: 143.7 mm } }
  - { name: card, file: second.csv, truth: { distance: 0.2 m } }
`);
    const deal = await readOwnBench(folder);
    const places = [0, 1, 2].map((at) => deal(at)[0]!.truth.distance!.value);
    expect(places).toEqual([0.1437, 0.2, 0.1437]);
    expect(deal(0)[0]!.file).toBe("card.csv");
  });
  it("widens the tolerance by the U of an accepted value", async () => {
    await describeBench(`captures:
  - name: card
    file: second.csv
    known: { angle: { value: 78 deg, standardUncertainty: 0.3 deg } }
    accepted: { distance: { value: 200 mm, U: 0.8 mm } }
`);
    const captures = (await readOwnBench(folder))(0);
    expect(captures[0]!.known.angle!.unit).toBe("rad");
    const question = completeQuestion({
      name: "distance",
      unit: "m",
      capture: "card",
      truth: "true.distance",
      reachable: "0.2 mm",
    }, 0);
    const right = rightAnswer(question, { card: captures[0]! });
    expect(right.expandedUncertainty).toBeCloseTo(0.8e-3, 12);
    const mark = (value: number) =>
      markAnswer(
        { value, standardUncertainty: 0.2, unit: "mm" },
        question,
        right,
      );
    // √(0.6² + 0.8²) = 1.0 mm; ± 2u alone would not cover 0.85 mm
    expect(mark(200.99).right).toBe(true);
    expect(mark(201.01).right).toBe(false);
    expect(mark(200.85).points).toBe(4);
    // Through a formula: half of it has half the uncertainty
    const half = { ...question, truth: "true.distance / 2" };
    expect(rightAnswer(half, { card: captures[0]! }).expandedUncertainty)
      .toBeCloseTo(0.4e-3, 12);
  });
  it("says what is wrong with a description", async () => {
    for (
      const [text, why] of [
        ["- { name: a, file: none.csv }", "there is no file 'none.csv'"],
        ["- { name: a, file: ../key.json }", "lies beside it"],
        ["- { name: a, file: second.csv, thruth: {} }", "'truth' was meant?"],
        [
          "- { name: a, file: second.csv, truth: { d: 12 parsec } }",
          "such as '143.7 mm'",
        ],
        [
          "- { name: a, file: second.csv, accepted: { d: 12 mm } }",
          "needs its expanded uncertainty 'U'",
        ],
        [
          "- { name: a, file: second.csv, accepted: { d: { value: 1 m, U: 1 s } } }",
          "has the unit 'm'",
        ],
      ] as const
    ) {
      await describeBench(`captures:\n  ${text}\n`);
      await expect(readOwnBench(folder)).rejects.toThrow(why);
    }
  });
});
