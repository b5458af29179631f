/**
 * A class of thirty hands in the assignment: some worked honestly, some made
 * mistakes, and most did what nobody should. Each must get a fitting entry, and
 * none may do harm.
 *
 * Run: deno run -A .ci/outside/course_marking.ts
 *
 * @module
 */
import { join } from "@std/path";
import {
  allowanceOf,
  type HandInMark,
  makeHandout,
  markFolder,
  openCourse,
  teacherNotebook,
} from "../../lib/marking/mod.ts";
import {
  createCell,
  type Notebook,
  readNotebook,
  writeNotebook,
} from "../../lib/notebook/mod.ts";
import { check, demand, finish } from "./tally.ts";

const project = new URL("../../", import.meta.url).pathname;
const course = await openCourse(`${project}notebooks/assignments`);
const { assignment, questions, notebook: fileName } = course;

const root = await Deno.makeTempDir({ prefix: "class-" });
const handIns = join(root, "hand-ins");
const teacher = join(root, "teacher");
const precious = join(root, "precious.txt");
await Deno.writeTextFile(precious, "keep me");
const text = JSON.stringify;

/** What a hostile hand-in runs before its answers, and what must come of it. */
const hostile: Record<string, { code: string; run: RegExp }> = {
  "Loop": { code: "while (true) {}", run: /5 s of processor time/ },
  "Wait": { code: "await new Promise(() => {});", run: /waited 15 s/ },
  "Flood": {
    code: 'while (true) console.log("x".repeat(1000));',
    run: /MB of output|processor time/,
  },
  "Great output": {
    code: 'console.log("x".repeat(2 ** 28)); "y".repeat(2 ** 28)',
    run: /./,
  },
  "Memory": {
    code:
      "const all = []; while (true) all.push(new Array(1e6).fill(Math.random()));",
    run: /memory|processor time|waited/i,
  },
  "Great buffers": {
    code:
      "const all = []; while (true) all.push(new Uint8Array(1e8).fill(all.length));",
    run: /memory|processor time|failed|error/i,
  },
  "Timers": {
    code:
      "const split = () => { setTimeout(split, 0); setTimeout(split, 0); }; split(); await new Promise(() => {});",
    run: /memory|processor time|waited/i,
  },
  "Workers": {
    code:
      'const url = URL.createObjectURL(new Blob(["while (true) {}"], { type: "text/javascript" })); for (let n = 0; n < 50; n++) new Worker(url, { type: "module" }); await new Promise(() => {});',
    run: /./,
  },
  "Recursion": { code: "const down = () => down(); down();", run: /./ },
  "Delete": { code: `await Deno.remove(${text(precious)});`, run: /./ },
  "Overwrite the library": {
    code: `await Deno.writeTextFile(${
      text(`${project}lib/course/answer.ts`)
    }, "export {}");`,
    run: /./,
  },
  "Overwrite the marks": {
    code: `await Deno.writeTextFile(${
      text(join(teacher, "key.json"))
    }, "{}"); await Deno.mkdir(${text(join(handIns, "own"))});`,
    run: /./,
  },
  "Peek": {
    code: `const key = JSON.parse(await Deno.readTextFile(${
      text(join(teacher, "key.json"))
    }));
for (const [name, value] of Object.entries(key.students.find(({ student }) => student === "Peek").truth)) recordAnswer(name, { value, standardUncertainty: value / 1000, unit: name === "speed" ? "m/s" : "m" });`,
    run: /./,
  },
  "Peek at others": {
    code: `for (const { name } of Deno.readDirSync(${
      text(handIns)
    })) console.log(name);`,
    run: /./,
  },
  "Exit": { code: "Deno.exit(0);", run: /SessionExit/ },
  "Kill": { code: "Deno.kill(Deno.ppid, 'SIGKILL');", run: /./ },
  "Network": {
    code:
      'await fetch("http://127.0.0.1:80/", { signal: AbortSignal.timeout(2000) }); await Deno.connect({ port: 80 });',
    run: /./,
  },
  "Programs": {
    code: 'await new Deno.Command("sh", { args: ["-c", "id"] }).output();',
    run: /./,
  },
  "Disk": {
    code:
      "const part = new Uint8Array(2e7); for (let n = 0; ; n++) await Deno.writeFile(`data/${n}.bin`, part);",
    run: /200 MB (?:on|written to) the disk/,
  },
  "Prototype": {
    code:
      'Object.prototype.points = 12; Array.prototype.map = () => []; JSON.stringify = () => "{}";',
    run: /./,
  },
};

const honest = [
  "Ada",
  "Emmy",
  "Factor of two",
  "Proud",
  "Vague",
  "Wrong unit",
];
const odd = [
  "Absent",
  "No notebook",
  "Forged outputs",
  "Symbolic link",
];
const students = [...honest, ...odd, ...Object.keys(hostile)];
const { key } = await makeHandout(assignment, {
  students,
  classSeed: "20261".padEnd(64, "0"),
  outputFolder: handIns,
  teacherFolder: teacher,
  fileName,
  questions,
});

const entry = (student: string) =>
  key.students.find((each) => each.student === student)!;
const folderOf = (student: string) => join(handIns, entry(student).folder);
const pathOf = (student: string) => join(folderOf(student), key.notebook);

/** Cells that record each truth times a factor, with a relative uncertainty. */
function answers(
  student: string,
  { factor = 1, relative = 1, unit }: {
    factor?: number;
    relative?: number;
    unit?: string;
  } = {},
): string {
  return key.questions.map((question) => {
    const truth = entry(student).truth[question.name]!;
    const { reachable } = question;
    const u = relative * allowanceOf(reachable, question.unit, truth)!;
    return `recordAnswer(${text(question.name)}, { value: ${
      factor * truth
    }, standardUncertainty: ${u}, unit: ${text(unit ?? question.unit)} });`;
  }).join("\n");
}

/** Replaces all cells but the first import by these. */
async function write(student: string, ...sources: string[]): Promise<Notebook> {
  const notebook = await readNotebook(pathOf(student));
  notebook.cells = [
    'import { recordAnswer } from "fringebook";',
    ...sources,
  ].map((source) => createCell("code", source));
  await writeNotebook(pathOf(student), notebook);
  return notebook;
}

await write("Ada", answers("Ada", { factor: 1.0003 }));
await write("Emmy", answers("Emmy", { relative: 0.5 }));
await write("Factor of two", answers("Factor of two", { factor: 2 }));
await write("Proud", answers("Proud", { relative: 1e-3, factor: 1.0003 }));
await write("Vague", answers("Vague", { relative: 100 }));
await write("Wrong unit", answers("Wrong unit", { unit: "s" }));
await Deno.remove(folderOf("Absent"), { recursive: true });
await Deno.remove(pathOf("No notebook"));
const forged = await write("Forged outputs", "Deno.exit(0);", "1");
for (const [n, question] of key.questions.entries()) {
  forged.cells[2]!.outputs = [...forged.cells[2]!.outputs ?? [], {
    output_type: "display_data",
    metadata: {},
    data: {
      "application/vnd.fringebook.report+json": {
        kind: "course.answer",
        headlines: [{
          label: question.name,
          value: Object.values(entry("Forged outputs").truth)[n],
          standardUncertainty: 1e-3 *
            Object.values(entry("Forged outputs").truth)[n]!,
          unit: question.unit,
        }],
      },
    },
  }];
}
await writeNotebook(pathOf("Forged outputs"), forged);
await write(
  "Symbolic link",
  'console.log(await Deno.readTextFile("data/key.json"));',
);
await Deno.symlink(
  join(teacher, "key.json"),
  join(folderOf("Symbolic link"), "data", "key.json"),
);
for (const [student, { code }] of Object.entries(hostile)) {
  await write(student, code);
}

const answerFile = await Deno.readTextFile(`${project}lib/course/answer.ts`);
const keyFile = await Deno.readTextFile(join(teacher, "key.json"));
const begin = performance.now();
const marks = new Map<string, HandInMark>();
const { marks: all } = await markFolder(handIns, {
  key,
  withheld: [teacher],
  limits: { cellCpuTime: 5, cpuTime: 30, idleTime: 15, memory: 512, disk: 200 },
  jobs: 2,
});
const time = (performance.now() - begin) / 1000;
for (const mark of all) {
  marks.set(mark.student, mark);
  console.log(
    `${mark.student}: ${mark.points} of ${mark.maximum}, ${
      mark.duration.toFixed(1)
    } s, ${mark.run}`,
  );
}
console.log(`${all.length} hand-ins in ${time.toFixed(1)} s`);

const maximum = 4 * key.questions.length;
const points = (student: string) => marks.get(student)!.points;
const reasons = (student: string) =>
  Object.values(marks.get(student)!.answers).flatMap(({ reasons }) => reasons)
    .join("; ");

await check("each of thirty hand-ins has an entry", () => {
  demand(all.length === 30, `${all.length} entries`);
  demand(all.every((mark) => mark.run !== ""), "an entry without a word");
});
await check("honest work earns all points", () => {
  for (const student of ["Ada", "Emmy"]) {
    demand(points(student) === maximum, `${student}: ${points(student)}`);
  }
});
await check("mistakes are named", () => {
  demand(
    /a whole wavelength.*twice the amplitude/.test(reasons("Factor of two")),
    reasons("Factor of two"),
  );
  demand(/smaller/.test(reasons("Proud")), reasons("Proud"));
  demand(/larger/.test(reasons("Vague")), reasons("Vague"));
  demand(/unit/.test(reasons("Wrong unit")), reasons("Wrong unit"));
});
await check("no constant answer suits the class", () => {
  for (const { name, tolerance, unit } of key.questions) {
    const truths = key.students.map(({ truth }) => truth[name]!);
    const suited = truths.map((constant) =>
      truths.filter((truth) =>
        Math.abs(constant - truth) <= allowanceOf(tolerance, unit, truth)!
      ).length
    );
    demand(Math.max(...suited) <= 6, `${name}: ${Math.max(...suited)} of 30`);
  }
});
await check("what is missing is said to be missing", () => {
  for (const student of ["Absent", "No notebook"]) {
    const { run } = marks.get(student)!;
    demand(/no hand-in|there is no/.test(run), `${student}: ${run}`);
  }
});
await check("stored outputs and links earn nothing", () => {
  for (const student of ["Forged outputs", "Symbolic link"]) {
    demand(points(student) === 0, `${student}: ${points(student)}`);
  }
});
for (const [student, { run }] of Object.entries(hostile)) {
  await check(`'${student}' is stopped or refused, and earns nothing`, () => {
    const mark = marks.get(student)!;
    demand(mark.points === 0, `${mark.points} points`);
    demand(run.test(mark.run), mark.run);
    // The limit, and what was used before the next look
    demand(mark.cpuTime < 40, `${mark.cpuTime} s`);
  });
}
await check(
  "nothing was deleted, written or read that is not the student's",
  async () => {
    demand(await Deno.readTextFile(precious) === "keep me", "precious is gone");
    demand(
      await Deno.readTextFile(`${project}lib/course/answer.ts`) === answerFile,
      "the library was changed",
    );
    demand(
      await Deno.readTextFile(join(teacher, "key.json")) === keyFile,
      "the key was changed",
    );
    for (const student of ["Peek", "Peek at others", "Network", "Programs"]) {
      demand(!marks.get(student)!.complete, `${student} met no refusal`);
    }
  },
);
await check(
  "no session is left over, and the class takes under 3 minutes",
  async () => {
    await new Promise((resolve) => setTimeout(resolve, 1000));
    const left: string[] = [];
    for (const { name } of Deno.readDirSync("/proc")) {
      if (!/^\d+$/.test(name)) continue;
      const line = await Deno.readTextFile(`/proc/${name}/cmdline`).catch(() =>
        ""
      );
      if (line.includes(teacher)) left.push(line.slice(0, 100));
    }
    demand(left.length === 0, left.join("\n"));
    demand(time < 180, `${time} s`);
  },
);
await check("our own solutions earn all points", async () => {
  const handIns = join(root, "solved");
  const { key } = await makeHandout(assignment, {
    students: ["Solved"],
    outputFolder: handIns,
    teacherFolder: join(root, "solved-teacher"),
    fileName,
    questions,
  });
  await writeNotebook(
    join(handIns, "Solved", key.notebook),
    teacherNotebook(assignment),
  );
  const { marks: [mark] } = await markFolder(handIns, {
    key,
    withheld: [join(root, "solved-teacher")],
  });
  console.log(
    `Solved: ${mark!.points} of ${mark!.maximum}, ${
      mark!.duration.toFixed(1)
    } s, ${mark!.run}`,
  );
  demand(mark!.points === mark!.maximum, JSON.stringify(mark!.answers));
});
await Deno.remove(root, { recursive: true });
finish();
