import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { join } from "@std/path";
import { task as handout } from "../../lib/cli/handout.ts";
import { task as newCourse } from "../../lib/cli/new_course.ts";
import { printPage } from "../../lib/cli/note/print_page.ts";
import { performTask, type Task } from "../../lib/cli/task/mod.ts";
import { readKey } from "../../lib/marking/mod.ts";

/** Runs a task in this process and collects what it says. */
async function typed(task: Task, ...given: string[]) {
  const said: string[] = [];
  const { log, error } = console;
  console.log = console.error = (line: string) => void said.push(line);
  try {
    return { code: await performTask(task, given), said: said.join("\n") };
  } finally {
    Object.assign(console, { log, error });
  }
}

// Hand-ins, marks and the report are run by `.ci/outside/course_folder.sh`.
describe("a page that is to be printed", () => {
  it("is not printed where there is no such browser", async () => {
    const path = join(await Deno.makeTempDir(), "page.pdf");
    expect(await printPage("<p>", path, "/no/such/browser")).toBe(false);
    // A program that prints nothing is named
    if (Deno.build.os !== "windows") {
      await expect(printPage("<p>", path, "true")).rejects.toThrow(
        "'true' made no PDF",
      );
    }
  });
});

describe("a new course", () => {
  let root: string;
  const file = (...path: string[]) => join(root, "course", ...path);
  beforeAll(async () => {
    root = await Deno.makeTempDir();
  });
  afterAll(() => Deno.remove(root, { recursive: true }));

  it("is handed out to thirty, who get no solution, truth or mistake", async () => {
    const made = await typed(newCourse, file());
    expect(made.code).toBe(0);
    const names = Array.from({ length: 30 }, (_, n) => `Student ${n + 1}`);
    await Deno.writeTextFile(file("names.txt"), names.join("\n") + "\n");
    const given = [file(), "--students", file("names.txt")];
    const { code, said } = await typed(handout, ...given);
    expect(said).toMatch(/Handout for 30 students/);
    expect(said).not.toMatch(/stands in no cell/);
    expect(code).toBe(0);
    const key = await readKey(file("teacher", "key.json"));
    expect(key!.students).toHaveLength(30);
    for (const { folder } of key!.students) {
      for (const path of ["lab_sheet.ipynb", "data/bench.json"]) {
        const text = await Deno.readTextFile(file("handout", folder, path));
        expect(text).not.toMatch(
          /Model|solution|accepted|mistakes|cosine|there and back/i,
        );
      }
    }
    const teachers = await Deno.readTextFile(
      file("teacher", "lab_sheet.ipynb"),
    );
    expect(teachers).toMatch(/Model answer.*1\.8600 µm, right within 0\.6 %/);
    // Three discs, dealt out in turn
    const speeds = key!.students.map(({ truth }) => truth["speed"]);
    expect(new Set(speeds).size).toBe(3);
    expect(speeds[0]).not.toBe(speeds[1]);
  });
  it("is written into an empty folder alone", async () => {
    const { code, said } = await typed(newCourse, file());
    expect(code).toBe(2);
    expect(said).toMatch(/is not empty/);
  });
  it("says what is wrong before anything is handed out", async () => {
    const broken = join(root, "broken");
    await typed(newCourse, broken);
    const path = join(broken, "questions.yaml");
    const text = await Deno.readTextFile(path);
    for (
      const [from, to, why] of [
        ["capture: disc", "capture: disk", "'disc' was meant?"],
        ["value: 2 * truth", "value: 2 * thruth", "'truth' was meant?"],
        ["reachable: 2.5 %", "reachable: 2.5 s", "an amount in 'm/s'"],
        ["bench: bench", "bench: none", "no captures.yaml"],
        ["notebook: lab", "notebook: lob", "names the notebook 'lob_sheet"],
        ["title:", "titel:", "'title' was meant?"],
        ["name: eye", "name: ear", "tagged 'question:eye'"],
        ["title:", "# title:", "it has no 'title'"],
      ] as const
    ) {
      expect(text).toContain(from);
      await Deno.writeTextFile(path, text.replace(from, to));
      const { code, said } = await typed(handout, broken, "--students", "Ada");
      expect(said).toContain(why);
      expect(code).toBe(2);
    }
    const names = [...Deno.readDirSync(broken)].map(({ name }) => name);
    expect(names).not.toContain("handout");
  });
});
