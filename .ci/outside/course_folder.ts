/**
 * What a teacher types, in the order and with the words of the guide's page on
 * teaching: the commands are read from it. Between them three students of thirty
 * hand in: one with the solutions, one with mistakes, one with the page as it was.
 *
 * Run: .ci/outside/course_folder.sh
 *
 * @module
 */
import { join } from "@std/path";
import { readKey } from "../../lib/marking/mod.ts";
import {
  joinText,
  readNotebook,
  writeNotebook,
} from "../../lib/notebook/mod.ts";
import { check, demand, finish } from "./tally.ts";

const project = new URL("../../", import.meta.url).pathname;
const root = await Deno.makeTempDir({ prefix: "teacher-" });
const course = join(root, "course");
const handouts = join(root, "handed");

const guide = await Deno.readTextFile(
  join(project, "notebooks", "guide", "teaching.md"),
);
/** Commands of the guide, in order, without that for the administrator. */
const commands = [...guide.matchAll(/```sh\n([\s\S]*?)```/g)]
  .flatMap(([, block]) => block!.trim().split("\n"))
  .filter((line) => !line.startsWith("deno task kernel "));

/** Types a line of the guide. */
async function type(line: string): Promise<string> {
  const words = line.replaceAll("COURSE", course).replaceAll(
    "HANDOUT",
    handouts,
  )
    .split(/\s+/);
  demand(words[0] === "deno" && words[1] === "task", `no command: ${line}`);
  const { code, stdout, stderr } = await new Deno.Command(Deno.execPath(), {
    args: ["task", "--config", join(project, "deno.json"), ...words.slice(2)],
    cwd: root,
    env: { NO_COLOR: "1" },
  }).output();
  const decoder = new TextDecoder();
  const said = decoder.decode(stdout) + decoder.decode(stderr);
  demand(code === 0, `${line}: exit code ${code}\n${said}`);
  return said;
}

const next = (name: string) => {
  const line = commands.shift() ?? "";
  demand(line.includes(name), `'${line}' where '${name}' was expected`);
  return line;
};

/** Replaces the cells of a hand-in that begin to record a question. */
async function answer(folder: string, answers: Record<string, string>) {
  const path = join(handouts, folder, "lab_sheet.ipynb");
  const notebook = await readNotebook(path);
  for (const [name, code] of Object.entries(answers)) {
    const cell = notebook.cells.find(({ source }) =>
      new RegExp(`record\\w+\\("${name}"`).test(joinText(source)) &&
      !joinText(source).includes("*")
    );
    demand(cell !== undefined, `no cell records '${name}'`);
    cell.source = code;
  }
  await writeNotebook(path, notebook);
}

await check(
  "a new course is made, and its sheet runs where it lies",
  async () => {
    await type(next("new-course"));
    const said = await type(`deno task run ${course}/lab_sheet.ipynb`);
    demand(!/NotFound/.test(said), said);
  },
);
await check("thirty students are handed out", async () => {
  const names = ["Ada", "Emmy", "Hedy"];
  while (names.length < 30) names.push(`Student ${names.length + 1}`);
  await Deno.writeTextFile(join(course, "names.txt"), names.join("\n"));
  await type(next("handout"));
  demand([...Deno.readDirSync(handouts)].length === 30, "not thirty folders");
});
await check("three hand-ins are marked as they deserve", async () => {
  await Deno.copyFile(
    join(course, "teacher", "lab_sheet.ipynb"),
    join(handouts, "Ada", "lab_sheet.ipynb"),
  );
  const key = (await readKey(join(course, "teacher", "key.json")))!;
  const emmy = key.students.find(({ student }) => student === "Emmy")!;
  const along = emmy.truth["speed"]! * Math.cos(78 * Math.PI / 180);
  await answer("Emmy", {
    "eye": 'recordChoice("eye", "a")',
    "one-fringe": 'recordAnswer("one-fringe", { value: 785, unit: "nm" })',
    "amplitude":
      'recordAnswer("amplitude", { value: 3.72, standardUncertainty: 0.01, unit: "µm" })',
    "speed": `recordAnswer("speed", { value: ${
      along / Math.cos(78)
    }, standardUncertainty: 1e-4, unit: "m/s" })`,
  });
  for (const { folder } of key.students.slice(3)) {
    await Deno.remove(join(handouts, folder), { recursive: true });
  }
  const said = await type(next("mark"));
  for (
    const line of [
      "Ada, 10 of 18 points (8 of 8",
      "Emmy, 1 of 18 points (8 of 8",
      "Hedy, 0 of 18 points (8 of 8",
      "Without a folder: Student 4",
    ]
  ) demand(said.includes(line), `no '${line}' in:\n${said}`);
  const table = await Deno.readTextFile(join(course, "marks", "marks.csv"));
  for (
    const cause of [
      "looked into the beam",
      "a whole wavelength for half of one",
      "twice the amplitude",
      "degrees for radians",
    ]
  ) demand(table.includes(cause), `no '${cause}' in:\n${table}`);
});
await check("points by hand are added, and nothing runs again", async () => {
  const path = join(course, "marks", "by_hand.csv");
  const text = await Deno.readTextFile(path);
  await Deno.writeTextFile(path, text.replace("Ada,,,", "Ada,3,2,2.5"));
  const runs = await Deno.readTextFile(join(course, "marks", "hand_ins.jsonl"));
  const said = await type(
    `deno task mark HANDOUT --key COURSE/teacher/key.json --output COURSE/marks`,
  );
  demand(said.includes("Ada, 17.5 of 18 points"), said);
  demand(
    runs.split("\n").length ===
      (await Deno.readTextFile(join(course, "marks", "hand_ins.jsonl")))
        .split("\n").length,
    "something was run again",
  );
});
await check("the report is one PDF with some pages", async () => {
  await type(next("report"));
  const bytes = await Deno.readFile(
    join(course, "teacher", "lab_sheet.pdf"),
  );
  const text = new TextDecoder("latin1").decode(bytes);
  demand(text.startsWith("%PDF-"), "no PDF");
  const pages = text.match(/\/Type\s*\/Page\b/g)?.length ?? 0;
  demand(pages >= 3 && pages <= 12, `${pages} pages`);
});
await check("no command of the guide is left", () => {
  demand(commands.length === 0, commands.join("\n"));
});
await Deno.remove(root, { recursive: true });
finish();
