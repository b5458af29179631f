import { describe, expect, it } from "vitest";
import { createRandom } from "fringebook/signal";
import {
  allowanceOf,
  type CaptureValues,
  classOverview,
  type GivenAnswer,
  gradeClass,
  type HandoutKey,
  marksTable,
  openCourse,
  type Question,
  type RightAnswer,
  rightAnswer,
  studentPage,
} from "../../lib/marking/mod.ts";

const { questions } = await openCourse(
  new URL("../../notebooks/assignments", import.meta.url).pathname,
);
const random = createRandom(12);
const between = (low: number, high: number) =>
  low + (high - low) * random.uniform();

/** Standard uncertainty that careful work reaches. */
const reach = ({ reachable, unit }: Question, truth: number) =>
  allowanceOf(reachable, unit, truth)!;

type Truth = Readonly<Record<string, number>>;
type Answers = Record<string, GivenAnswer>;

/** Careful work: a small error, the uncertainty that the method reaches. */
function answer(
  truth: Truth,
  change: (value: number, name: string) => number = (value) => value,
  more: Partial<GivenAnswer> = {},
): Answers {
  return Object.fromEntries(questions.map((question) => {
    const { name, unit } = question;
    const u = reach(question, truth[name]!);
    const value = change(truth[name]! + u, name);
    return [name, { value, standardUncertainty: u, unit, ...more }];
  }));
}

/** Between beam and velocity: 76.5°. */
const angle = 76.5 * Math.PI / 180;

interface Case {
  readonly answers: (truth: Truth, first: Answers) => Answers;
  /** Points for distance, amplitude, speed, as foretold. */
  readonly points: readonly [number, number, number];
  /** Causes that are named. */
  readonly causes?: readonly (string | null)[];
  readonly notes?: RegExp;
  readonly captures?: string;
}

const whole = "a whole wavelength for half of one";
/** What each of twelve students hands in, and what must come of it. */
const students: Record<string, Case> = {
  "Right": { answers: (truth) => answer(truth), points: [4, 4, 4] },
  "Right with prefixes": {
    answers: (truth) => ({
      distance: {
        value: 1e3 * truth.distance!,
        standardUncertainty: 0.1,
        unit: "mm",
      },
      amplitude: {
        value: 1e6 * truth.amplitude!,
        standardUncertainty: 4e-3,
        unit: "µm",
      },
      speed: {
        value: 1e3 * truth.speed!,
        standardUncertainty: 0.3,
        unit: "mm/s",
      },
    }),
    points: [4, 4, 4],
  },
  "Partly right": {
    answers: (truth) => {
      const { distance, speed } = answer(truth);
      return { distance: distance!, speed: speed! };
    },
    points: [4, 0, 4],
  },
  "Whole wavelength": {
    answers: (truth) => answer(truth, (value) => 2 * value),
    points: [0, 0, 0],
    causes: [whole, "twice the amplitude", whole],
  },
  "From the facet, no cosine": {
    answers: (truth) =>
      answer(
        truth,
        (value, name) =>
          name === "distance"
            ? value + 6.3e-3
            : name === "speed"
            ? value * Math.cos(angle)
            : value,
      ),
    points: [0, 4, 0],
    causes: [
      "from the facet instead of the scale's zero",
      null,
      "cosine forgotten",
    ],
  },
  "Effective value, degrees": {
    answers: (truth) =>
      answer(
        truth,
        (value, name) =>
          name === "amplitude"
            ? value * Math.SQRT1_2
            : name === "speed"
            ? value * Math.cos(angle) / Math.abs(Math.cos(76.5))
            : value,
      ),
    points: [4, 0, 0],
    causes: [null, "effective value for amplitude", "degrees for radians"],
  },
  "Prefix": {
    answers: (truth) => answer(truth, (value) => 1000 * value),
    points: [0, 0, 0],
    causes: ["a prefix", "a prefix", "a prefix"],
  },
  "Guess": {
    // A guess with a fine uncertainty earns nothing for it
    answers: () => answer({ distance: 0.2, amplitude: 2e-6, speed: 0.035 }),
    points: [0, 0, 0],
    causes: [null, null, null],
  },
  "Without uncertainty": {
    answers: (truth) => answer(truth, undefined, { standardUncertainty: NaN }),
    points: [2, 2, 2],
  },
  "Vague": {
    answers: (truth) => answer(truth, undefined, { standardUncertainty: 1 }),
    points: [2, 2, 2],
  },
  "Copied": {
    answers: (_, first) => first,
    points: [0, 0, 0],
    causes: [null, null, null],
    captures: "Right",
    notes:
      /'a.csv' is the capture of Right; the same answer as Right: distance, amplitude, speed; 1 of 1 own cells have the same text as those of Right/,
  },
  "Odd": {
    answers: (truth) => ({
      distence: {
        value: truth.distance!,
        standardUncertainty: 1e-4,
        unit: "m",
      },
      amplitude: { value: 1, standardUncertainty: -1, unit: "kg" },
      speed: { value: 0, standardUncertainty: 0, unit: "m/s" },
    }),
    points: [0, 0, 0],
    notes: /'distence', which is no question: 'distance' was meant/,
  },
};

/** What is right for a student with captures of their own. */
function rightAnswers(): [string, RightAnswer][] {
  const exact = (value: number) => ({ value, expandedUncertainty: 0 });
  const distance = between(0.09, 0.34);
  const speed = between(0.016, 0.056);
  const captures: Record<string, CaptureValues> = {
    "my-distance": {
      known: {},
      truth: {
        distance: exact(distance),
        opticalDistance: exact(distance + 6.3e-3),
      },
    },
    "my-vibration": {
      known: {},
      truth: { amplitude: exact(between(1.3e-6, 2.6e-6)) },
    },
    "my-disc": {
      known: { angle: { value: angle } },
      truth: {
        speed: exact(speed),
        speedAlongBeam: exact(speed * Math.cos(angle)),
      },
    },
  };
  return questions.map((each) => [each.name, rightAnswer(each, captures)]);
}

const mapped = <T>(
  right: readonly [string, RightAnswer][],
  part: (answer: RightAnswer) => T,
) => Object.fromEntries(right.map(([name, answer]) => [name, part(answer)]));

describe("a class of twelve", () => {
  const names = Object.keys(students);
  const key: HandoutKey = {
    notebook: "task.ipynb",
    notebookSha256: "",
    classSeed: "00".repeat(32),
    questions,
    criteria: [{ name: "figures", text: "A figure each", points: 2 }],
    cells: ["handed out"],
    students: names.map((student) => {
      const right = rightAnswers();
      return {
        student,
        folder: student.replaceAll(/\W+/g, "_"),
        captures: { "a.csv": `capture of ${student}` },
        truth: mapped(right, ({ truth }) => truth),
        expandedUncertainty: mapped(right, (each) => each.expandedUncertainty),
        names: mapped(right, ({ names }) => names),
      };
    }),
  };
  const first = answer(key.students[0]!.truth);
  const runs = key.students.map((student) => {
    const { answers, captures = student.student } = students[student.student]!;
    return {
      student,
      run: {
        run: "8 of 8 cells ran well",
        complete: true,
        answers: answers(student.truth, first),
        cells: ["handed out", `text of ${captures}`],
        captures: { "a.csv": `capture of ${captures}` },
        fingerprint: "",
        cpuTime: 1,
        duration: 1,
      },
    };
  });
  const byHand = new Map([["Right", new Map([["figures", 1.5]])]]);
  const marks = gradeClass(runs, key, byHand);

  it("gets the marks that the table foretells", () => {
    for (const mark of marks) {
      const { points, causes, notes } = students[mark.student]!;
      const all = questions.map(({ name }) => mark.answers[name]!);
      expect([mark.student, ...all.map((each) => each.points)]).toEqual(
        [mark.student, ...points],
      );
      if (causes) expect(all.map(({ cause }) => cause)).toEqual(causes);
      if (notes) expect(mark.notes.join("; ")).toMatch(notes);
      else if (mark.student !== "Right") expect(mark.notes).toEqual([]);
      expect(mark.maximum).toBe(14);
    }
    // Of two with the same, the teacher must judge who copied
    expect(marks[0]!.notes.join("; ")).toMatch(/the same answer as Copied/);
  });
  it("is graded again after the points were changed, without running again", () => {
    const changed = questions.map((question, at) => ({
      ...question,
      points: { value: 10, uncertainty: 0, coverage: at },
      mistakes: question.mistakes.map((each) => ({ ...each, points: 3 })),
    }));
    const again = gradeClass(runs, { ...key, questions: changed });
    const points = (student: string) =>
      again.find((each) => each.student === student)!.points;
    expect(points("Right")).toBe(33);
    expect(points("Whole wavelength")).toBe(9);
    expect(points("Prefix")).toBe(0);
  });
  it("is shown with answers, truths, hints and U, a page for each student", () => {
    const folders = {
      unknown: [{ folder: "Rigth", nearest: "Right" }],
      missing: ["Late <b>"],
    };
    const page = classOverview({ marks, ...folders }, "Marks");
    expect(page).toMatch(/Rigth \(nearest: Right\)/);
    expect(page).toMatch(/Without a folder: Late &lt;b&gt;/);
    expect(page).toMatch(/distance: 6 of 12 right/);
    expect(page).toMatch(/truth \d+\.\d+ mm/);
    expect(page).toMatch(/± [\d.]+\) µm, k = 2/);
    const own = studentPage(marks[3]!, "Task");
    expect(own).toMatch(/there and back\?/);
    const copied = studentPage(marks[10]!, "Task");
    expect(copied).not.toMatch(/same answer/);
    const [head, row] = marksTable(marks).split("\r\n");
    expect(head).toMatch(
      /distance: answer \(m\),distance: standard uncertainty/,
    );
    expect(row).toMatch(/^Right,13.5,14,yes.*,1.5$/);
    expect(page).toMatch(/1.5 of 2/);
    expect(page).toMatch(/not marked \(of 2\)/);
  });
  it("is not suited by any constant", () => {
    for (const { name, tolerance, unit } of questions) {
      const truths = key.students.map(({ truth }) => truth[name]!);
      for (const constant of truths) {
        const suited = truths.filter((truth) =>
          Math.abs(constant - truth) <= allowanceOf(tolerance, unit, truth)!
        );
        // The student's own, and two by chance: not a class
        expect(suited.length).toBeLessThanOrEqual(3);
      }
    }
  });
});
