import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { join } from "@std/path";
import {
  type ClassMarks,
  classOverview,
  type HandInMark,
  type HandoutKey,
  makeHandout,
  markAnswer,
  markFolder,
  marksTable,
} from "../../lib/marking/mod.ts";
import {
  createCell,
  readNotebook,
  writeNotebook,
} from "../../lib/notebook/mod.ts";
import {
  assignment,
  classSeed,
  makeCaptures,
  questions,
} from "./small_class.ts";

describe("a handout and its marking", () => {
  let root: string;
  let key: HandoutKey;
  let marks: Map<string, HandInMark>;
  let classMarks: ClassMarks;
  let precious: string;

  /** Writes what a student hands in, as the last cell. */
  async function handIn(folder: string, code: string): Promise<void> {
    const path = join(root, "hand-ins", folder, key.notebook);
    const notebook = await readNotebook(path);
    notebook.cells.push(createCell("code", code));
    await writeNotebook(path, notebook);
  }

  beforeAll(async () => {
    root = await Deno.makeTempDir();
    precious = join(root, "precious.txt");
    await Deno.writeTextFile(precious, "keep me");
    const students = [
      "Honest",
      "Whole wavelength",
      "Loop",
      "Flood",
      "Delete",
      "Peek",
      "Exit",
      "Absent",
    ];
    ({ key } = await makeHandout(assignment(), {
      students,
      classSeed,
      outputFolder: join(root, "hand-ins"),
      teacherFolder: join(root, "teacher"),
      fileName: "task.ipynb",
      questions,
      makeCaptures,
    }));
    const truth = (student: string) =>
      key.students.find((each) => each.student === student)!.truth.distance!;
    const record = (value: number, u: number) =>
      `recordAnswer("distance", { value: ${value}, standardUncertainty: ${u}, unit: "m" });`;
    // An answer counts wherever in its cell it stands.
    await handIn("Honest", record(truth("Honest") * 1.0005, 2e-4) + "\n'end'");
    await handIn(
      "Whole_wavelength",
      record(2 * truth("Whole wavelength"), 2e-4),
    );
    await handIn("Loop", "while (true) {}");
    await handIn("Flood", 'while (true) console.log("x".repeat(1000));');
    await handIn(
      "Delete",
      `await Deno.remove(${JSON.stringify(precious)});`,
    );
    await handIn(
      "Peek",
      `const key = JSON.parse(await Deno.readTextFile(${
        JSON.stringify(join(root, "teacher", "key.json"))
      }));
${
        record(0, 2e-4).replace(
          "value: 0",
          "value: key.students[5].truth.distance",
        )
      }`,
    );
    await handIn("Exit", "Deno.exit(0);");
    await Deno.remove(join(root, "hand-ins", "Absent"), { recursive: true });
    await Deno.mkdir(join(root, "hand-ins", "Honets"));
    classMarks = await markFolder(join(root, "hand-ins"), {
      key,
      withheld: [join(root, "teacher")],
      limits: { cellCpuTime: 3, cpuTime: 30, idleTime: 30, memory: 512 },
    });
    marks = new Map(classMarks.marks.map((mark) => [mark.student, mark]));
  });
  afterAll(() => Deno.remove(root, { recursive: true }));

  const points = (student: string) => marks.get(student)!.points;
  const reasons = (student: string) =>
    marks.get(student)!.answers.distance!.reasons.join("; ");

  it("strips solutions from the students' notebooks, not from the teacher's", async () => {
    const student = await Deno.readTextFile(
      join(root, "hand-ins", "Honest", "task.ipynb"),
    );
    expect(student).not.toMatch(/secret way|reachable/);
    const teacher = await Deno.readTextFile(
      join(root, "teacher", "task.ipynb"),
    );
    expect(teacher).toMatch(/secret way/);
  });
  it("gives each student captures of their own", async () => {
    const bytes = (folder: string) =>
      Deno.readFile(join(root, "hand-ins", folder, "data", "my-distance.csv"));
    expect(await bytes("Honest")).not.toEqual(await bytes("Loop"));
    expect(new Set(key.students.map(({ truth }) => truth.distance)).size).toBe(
      key.students.length,
    );
  });
  it("gives an honest answer all points", () => {
    expect(points("Honest")).toBe(4);
    expect(marks.get("Honest")!.complete).toBe(true);
  });
  it("gives a value that is not the truth no points, and names no cause that it does not know", () => {
    expect(points("Whole wavelength")).toBe(0);
    expect(reasons("Whole wavelength")).toMatch(/not within 0\.3 %/);
  });
  it("names folders that the key does not know, and students without one", () => {
    expect(classMarks.unknown).toEqual([
      { folder: "Honets", nearest: "Honest" },
    ]);
    expect(classMarks.missing).toEqual(["Absent"]);
  });
  it("stops hand-ins that loop or print for ever, and says so", () => {
    expect(marks.get("Loop")!.run).toMatch(/3 s of processor time/);
    expect(marks.get("Flood")!.run).toMatch(/MB of output|processor time/);
    for (const student of ["Loop", "Flood"]) {
      expect(marks.get(student)!.complete).toBe(false);
    }
  });
  it("lets no hand-in delete a file or read the key", async () => {
    expect(await Deno.readTextFile(precious)).toBe("keep me");
    expect(points("Peek")).toBe(0);
  });
  it("has an entry for a hand-in that ends its session and for one that is missing", () => {
    expect(marks.get("Exit")!.run).toMatch(/to the end: .*SessionExit/);
    expect(marks.get("Absent")!.run).toMatch(/no hand-in/);
  });
  it("writes the class as a table and as a page, with names escaped", () => {
    const { marks: all } = classMarks;
    expect(marksTable(all).trim().split("\r\n")).toHaveLength(9);
    const evil = { ...all[0]!, student: "=<script>alert(1)</script>" };
    const page = classOverview({ ...classMarks, marks: [evil] }, "Class");
    expect(page).not.toMatch(/<script>alert/);
    expect(marksTable([evil]).split("\r\n")[1]).toMatch(/^"?'=/);
  });
});

describe("markAnswer", () => {
  const [question] = questions;
  const mark = (value: number, standardUncertainty: number, unit = "m") =>
    markAnswer({ value, standardUncertainty, unit }, question!, { truth: 0.2 });

  it("gives no point for the uncertainty of a wrong value", () => {
    expect(mark(0.21, 2e-4).points).toBe(0);
  });
  it("gives no coverage point for a huge uncertainty", () => {
    expect(mark(0.2, 0.1).points).toBe(2);
  });
  it("takes the coverage point from an uncertainty that is too small", () => {
    expect(mark(0.2005, 5e-5).points).toBe(3);
  });
  it("reads a prefix, and gives nothing for another unit or no answer", () => {
    expect(mark(200, 0.2, "mm").points).toBe(4);
    expect(mark(200, 0.2, "s").points).toBe(0);
    expect(markAnswer(null, question!, { truth: 0.2 }).points).toBe(0);
  });
});
