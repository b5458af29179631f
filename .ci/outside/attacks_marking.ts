/**
 * Attacks on the marker, as hand-ins and from around it: each must be held, and
 * the class must be marked. Runs the real tasks on a class of its own.
 *
 * Run: bash .ci/outside/attacks_marking.sh
 *
 * @module
 */
import { join } from "@std/path";
import { makeStudentSet } from "../../lib/datasets/mod.ts";
import {
  type HandInMark,
  makeHandout,
  markFolder,
  openCourse,
  teacherNotebook,
} from "../../lib/marking/mod.ts";
import {
  createCell,
  readNotebook,
  writeNotebook,
} from "../../lib/notebook/mod.ts";
import {
  assignment,
  makeCaptures,
  questions,
} from "../../tests/marking/small_class.ts";
import { oneCellNotebook } from "./one_cell.ts";
import { check, demand, finish } from "./tally.ts";
import { wasi } from "./wasi_links.ts";

const project = new URL("../../", import.meta.url).pathname;
const course = await openCourse(`${project}notebooks/assignments`);
const root = await Deno.makeTempDir({ prefix: "attacks-" });
const handIns = join(root, "hand-ins");
const teacher = join(root, "teacher");
const text = JSON.stringify;
const keyPath = join(teacher, "key.json");

/** A display of any form, beside what the library would show. */
const showReport = (report: string) =>
  `({ [Symbol.for("Jupyter.display")]: () => ({ "text/plain": "x", "application/vnd.fringebook.report+json": ${report} }) })`;

/** What a hand-in runs, and the words that must come of it. */
const codes: Record<string, { code: string; run: RegExp }> = {
  "Odd headlines": {
    code: showReport('{ kind: "course.answer", headlines: [null] }'),
    run: /ran well/,
  },
  "Odd texts": {
    code: showReport(
      '{ kind: "course.answer", headlines: [{ label: { toString: null }, value: { valueOf: null }, unit: { toString: null } }] }',
    ),
    run: /ran well/,
  },
  "Odd headline list": {
    code: showReport('{ kind: "course.answer", headlines: { length: 1e9 } }'),
    run: /ran well/,
  },
  "Many answers": {
    code:
      'for (let n = 0; n < 1e5; n++) recordAnswer("question " + n, { value: n, unit: "m" });',
    run: /./,
  },
  "Great display": {
    code: showReport("Array.from({ length: 15e6 }, (_, n) => n)"),
    run: /could not be run to the end: .*(?:MB of output|memory)/,
  },
  "Deep display": {
    code: `let deep = []; for (let n = 0; n < 1e5; n++) deep = [deep]; ${
      showReport("deep")
    }`,
    run: /./,
  },
  "Unlinked files": {
    code: `import fs from "node:fs";
for (let n = 0; n < 100; n++) {
  const file = fs.openSync("data/gone", "w");
  fs.unlinkSync("data/gone");
  for (let m = 0; m < 15; m++) fs.writeSync(file, new Uint8Array(1e6));
}`,
    run: /100 MB written to the disk/,
  },
  "Storage": {
    code: `for (let n = 0; n < 40; n++) {
  const cache = await caches.open("c" + n);
  await cache.put("http://a/" + n, new Response(new Uint8Array(4e7)));
}`,
    run: /disk|cell 4/,
  },
  "One great file": {
    code:
      `const file = await Deno.open("data/great", { write: true, create: true });
for (;;) file.writeSync(new Uint8Array(1e7));`,
    run: /100 MB|file of more/,
  },
  "Many files": {
    code:
      'for (let n = 0; n < 1e6; n++) Deno.writeTextFileSync("data/" + n, "");',
    run: /more than 10000 files|processor time/,
  },
  "Link to the key": {
    code: `${wasi}
const key = ${text(keyPath)};
const up = "../".repeat(20) + key.slice(1);
let read = "nothing";
const said = {
  symbolic: symlink(key, "data/key1.json"),
  upward: symlink(up, "data/key2.json"),
  folder: symlink(key.replace(/[/][^/]*$/, ""), "teacher"),
  hard: hardLink(up, "data/key4.json"),
  open: openPath("data/key1.json", 0),
};
try { Deno.symlinkSync(key, "data/key3.json"); } catch { /* refused */ }
for (const path of [
  key, "data/key1.json", "data/key2.json", "data/key3.json", "data/key4.json",
  "teacher/key.json", "/proc/self/root" + key,
]) {
  try { read = Deno.readTextFileSync(path); } catch { /* refused */ }
}
if (said.symbolic === 0 || said.upward === 0 || said.folder === 0 || said.hard === 0 || said.open === 0) {
  throw new Error("a link was made: " + JSON.stringify(said));
}
console.log("no link: " + JSON.stringify(said));
if (read !== "nothing") {
  const { students } = JSON.parse(read);
  recordAnswer("distance", { value: students.find((s) => s.folder === "Link_to_the_key").truth.distance, standardUncertainty: 1e-4, unit: "m" });
}
read`,
    run: /^(\d+) of \1 cells ran well$/,
  },
  "Worker": {
    code: `const source = "postMessage(Deno.readTextFileSync(" + ${
      text(text(keyPath))
    } + "))";
const url = URL.createObjectURL(new Blob([source], { type: "text/javascript" }));
const worker = new Worker(url, { type: "module" });
await new Promise((resolve) => { worker.onmessage = ({ data }) => { const own = JSON.parse(data).students.find((s) => s.folder === "Worker"); recordAnswer("distance", { value: own.truth.distance, standardUncertainty: 1e-4, unit: "m" }); resolve(); }; worker.onerror = (e) => { e.preventDefault(); resolve(); }; });`,
    run: /./,
  },
  "Sleeper": {
    code: "await new Promise(() => {});",
    run: /waited 15 s for something that did not come/,
  },
};
/** What is odd about the files of a hand-in. */
const odd: Record<string, (folder: string) => Promise<void>> = {
  "Folder for a notebook": async (folder) => {
    await Deno.remove(join(folder, "task.ipynb"));
    await Deno.mkdir(join(folder, "task.ipynb"));
  },
  "Pipe for a notebook": async (folder) => {
    await Deno.remove(join(folder, "task.ipynb"));
    await run("mkfifo", join(folder, "task.ipynb"));
  },
  "Pipe for a capture": async (folder) => {
    await Deno.remove(join(folder, "data", "my-distance.csv"));
    await run("mkfifo", join(folder, "data", "my-distance.csv"));
  },
  "Folder for a capture": async (folder) => {
    await Deno.remove(join(folder, "data", "my-distance.csv"));
    await Deno.mkdir(join(folder, "data", "my-distance.csv"));
  },
  "Link for a notebook": async (folder) => {
    await Deno.remove(join(folder, "task.ipynb"));
    await Deno.symlink(keyPath, join(folder, "task.ipynb"));
  },
  "File for a folder": async (folder) => {
    await Deno.remove(folder, { recursive: true });
    await Deno.writeTextFile(folder, "no folder");
  },
  "Great notebook": (folder) => writeGreat(join(folder, "task.ipynb"), 180e6),
  "Long notebook": (folder) => writeGreat(join(folder, "task.ipynb"), 45e6),
  "Deep notebook": (folder) =>
    Deno.writeTextFile(join(folder, "task.ipynb"), "[".repeat(2e7)),
  "No JSON": (folder) =>
    Deno.writeTextFile(join(folder, "task.ipynb"), "\0\xff{"),
  "Empty notebook": (folder) =>
    Deno.writeTextFile(join(folder, "task.ipynb"), ""),
};

/** A notebook with one long output. */
async function writeGreat(path: string, size: number): Promise<void> {
  const text = "x".repeat(size);
  await Deno.writeTextFile(
    path,
    oneCellNotebook("1", [{ output_type: "stream", name: "stdout", text }]),
  );
}

async function run(program: string, ...args: string[]): Promise<string> {
  const { code, stdout, stderr } = await new Deno.Command(program, { args })
    .output();
  const said = new TextDecoder().decode(stdout) +
    new TextDecoder().decode(stderr);
  demand(code === 0, `${program} ${args.join(" ")}: code ${code}\n${said}`);
  return said;
}

const task = (name: string, ...args: string[]) =>
  run(Deno.execPath(), "run", "-A", `${project}lib/cli/${name}.ts`, ...args);

const honest = ["Ada", "Emmy"];
const { key } = await makeHandout(assignment(), {
  students: [...honest, ...Object.keys(codes), ...Object.keys(odd), "Absent"],
  outputFolder: handIns,
  teacherFolder: teacher,
  fileName: "task.ipynb",
  questions,
  makeCaptures,
});
const entry = (student: string) =>
  key.students.find((each) => each.student === student)!;
const folderOf = (student: string) => join(handIns, entry(student).folder);

async function handIn(student: string, code: string): Promise<void> {
  const path = join(folderOf(student), "task.ipynb");
  const notebook = await readNotebook(path);
  notebook.cells.push(createCell("code", code));
  await writeNotebook(path, notebook);
}

const answerOf = (student: string) =>
  `recordAnswer("distance", { value: ${
    entry(student).truth.distance! * 1.0002
  }, standardUncertainty: 1.5e-4, unit: "m" });`;
for (const student of honest) await handIn(student, answerOf(student));
for (const [student, { code }] of Object.entries(codes)) {
  await handIn(student, code);
}
for (const [student, spoil] of Object.entries(odd)) {
  await spoil(folderOf(student));
}
await Deno.remove(folderOf("Absent"), { recursive: true });

const storeFolder = join(root, "marks");
const limits = {
  cellCpuTime: 10,
  cpuTime: 40,
  idleTime: 15,
  memory: 512,
  disk: 100,
};
const begin = performance.now();
const { marks: all } = await markFolder(handIns, {
  key,
  withheld: [teacher],
  limits,
  storeFolder,
});
const marks = new Map<string, HandInMark>();
for (const mark of all) {
  marks.set(mark.student, mark);
  console.log(
    `${mark.student}: ${mark.points} of ${mark.maximum}, ${
      mark.cpuTime.toFixed(1)
    } s of processor, ${mark.duration.toFixed(1)} s, ${mark.run}`,
  );
}
console.log(
  `${all.length} hand-ins in ${
    ((performance.now() - begin) / 1000).toFixed(0)
  } s`,
);

await check("a class with such hand-ins is marked, all of it", () => {
  demand(all.length === key.students.length, `${all.length} entries`);
  for (const student of honest) {
    const { points, maximum, run } = marks.get(student)!;
    demand(points === maximum, `${student}: ${points} (${run})`);
  }
});
for (const [student, { run }] of Object.entries(codes)) {
  await check(`'${student}' is held, and earns nothing`, () => {
    const mark = marks.get(student)!;
    demand(mark.points <= 0, `${mark.points} points`);
    demand(run.test(mark.run), mark.run);
  });
}
for (const student of [...Object.keys(odd), "Absent"]) {
  const runs = /^Pipe for a c|^Folder for a c|^Long/.test(student);
  await check(`'${student}' has an entry that says why`, () => {
    const mark = marks.get(student)!;
    const words = runs ? /ran well/ : /could not be run: |no hand-in: /;
    demand(words.test(mark.run), mark.run);
    demand(mark.points === 0, `${mark.points} points`);
  });
}
await check("what did not change is graded again, not run again", async () => {
  const begin = performance.now();
  const { marks: again } = await markFolder(handIns, {
    key,
    withheld: [teacher],
    limits,
    storeFolder,
  });
  demand(
    again.every(({ run, points }, n) =>
      run === all[n]!.run && points === all[n]!.points
    ),
    "other marks",
  );
  // A hand-in that is run takes a second at the least, and these are thirty
  const time = (performance.now() - begin) / 1000;
  const cpu = again.reduce((sum, { duration }) => sum + duration, 0);
  demand(time < cpu / 2, `${time} s`);
});
await check("no copy and no process of a hand-in is left", async () => {
  for (const { name } of Deno.readDirSync("/tmp")) {
    demand(!name.startsWith(`fringebook-hand-in-${Deno.pid}-`), name);
  }
  for (const { name } of Deno.readDirSync("/proc")) {
    if (!/^\d+$/.test(name)) continue;
    const line = await Deno.readTextFile(`/proc/${name}/cmdline`).catch(() =>
      ""
    );
    demand(!line.includes(storeFolder), line.slice(0, 200));
  }
});
await check("the truth cannot be searched with the public simulator", () => {
  demand(/^[0-9a-f]{64}$/.test(key.classSeed), "a short seed");
  let refused = false;
  try {
    makeStudentSet(1 as unknown as Uint8Array);
  } catch {
    refused = true;
  }
  demand(refused, "a number makes a student's captures");
  const { mode } = Deno.statSync(keyPath);
  demand((mode! & 0o077) === 0, "others may read the key");
});

await check("a handout that is made again overwrites nothing", async () => {
  const out = ["--output", join(root, "class"), "--teacher"];
  const folders = [...out, join(root, "class-teacher")];
  await task("handout", "--students", "Ada", ...folders);
  const edited = join(root, "class", "Ada", "three_measurements.ipynb");
  await Deno.writeTextFile(edited, "edited");
  const before = await Deno.readTextFile(
    join(root, "class-teacher", "key.json"),
  );
  await task("handout", "--students", "Ada", ...folders);
  demand(await Deno.readTextFile(edited) === "edited", "edited work is gone");
  const after = await Deno.readTextFile(
    join(root, "class-teacher", "key.json"),
  );
  demand(after === before, "the key was changed");
});
await check(
  "a batch with another wavelength says so, and measures anew",
  async () => {
    const output = join(root, "batch.jsonl");
    const measure = (wavelength: string) =>
      task(
        "measure",
        `${project}datasets/disc-1.wav`,
        ...["--as", "speed", "--angle", "78deg", "--wavelength", wavelength],
        ...["--output", output],
      );
    await measure("650nm");
    demand(!/anew/.test(await measure("650nm")), "measured twice");
    const said = await measure("785nm");
    demand(/other settings \(wavelength\)/.test(said), said);
    const lines = (await Deno.readTextFile(output)).trim().split("\n");
    demand(lines.length === 2, `${lines.length} lines`);
  },
);
await check("a marking that is killed goes on where it was", async () => {
  const store = join(root, "killed");
  const command = new Deno.Command(Deno.execPath(), {
    args: [
      ...["run", "-A", `${project}lib/cli/mark.ts`, handIns],
      ...["--key", keyPath, "--output", store, "--jobs", "1"],
      ...["--idle", "15", "--cpu", "40", "--cell-cpu", "10", "--disk", "100"],
    ],
    stdout: "null",
    stderr: "null",
  });
  const child = command.spawn();
  const rows = async () =>
    (await Deno.readTextFile(join(store, "marks.csv")).catch(() => ""))
      .trim().split("\r\n").length;
  while (await rows() < 3) await new Promise((f) => setTimeout(f, 100));
  child.kill("SIGKILL");
  await child.status;
  const kept = await Deno.readTextFile(join(store, "hand_ins.jsonl"));
  demand(kept.includes('"folder":"Ada"'), kept.slice(0, 200));
  // What the killed one was writing
  await Deno.writeTextFile(
    join(store, ".marks.csv.999999999.00000000.part"),
    "half",
  );
  await Deno.writeTextFile(join(store, "hand_ins.jsonl"), '{"folder":"Em', {
    append: true,
  });
  await new Promise((f) => setTimeout(f, 3000));
  const two = { ...key, students: key.students.slice(0, 2) };
  const { marks: again } = await markFolder(handIns, {
    key: two,
    withheld: [teacher],
    limits: { ...limits, memory: 1024 },
    storeFolder: store,
  });
  demand(again.every(({ points }) => points === 4), text(again));
  const names = [...Deno.readDirSync(store)].map(({ name }) => name);
  demand(!names.some((name) => name.endsWith(".part")), names.join(", "));
  const line = kept.split("\n").find((each) => each.includes('"Ada"'))!;
  demand(
    (await Deno.readTextFile(join(store, "hand_ins.jsonl"))).includes(line),
    "the first mark is gone",
  );
});
await check("a full disk gives words and leaves no half file", async () => {
  const small = join(root, "small");
  await Deno.mkdir(small);
  await run("mount", "-t", "tmpfs", "-o", "size=600k", "tmpfs", small);
  try {
    const made = await makeHandout(
      course.assignment,
      {
        students: ["Ada", "Emmy", "Grace"],
        outputFolder: join(small, "out"),
        teacherFolder: join(root, "small-teacher"),
        fileName: "task.ipynb",
        questions: course.questions,
      },
    ).then(() => "made", (error) => String(error.message));
    demand(/the disk is full/.test(made), made);
    const names = [...Deno.readDirSync(join(small, "out"))].map((e) => e.name);
    demand(!names.some((name) => name.endsWith(".part")), names.join(", "));

    await run("dd", "if=/dev/zero", `of=${join(small, "fill")}`, "bs=1k").catch(
      () => {},
    );
    const marked = await markFolder(handIns, {
      key: { ...key, students: key.students.slice(0, 1) },
      withheld: [teacher],
      storeFolder: join(small, "out"),
    }).then(() => "marked", (error) => String(error.message));
    demand(/the disk is full/.test(marked), marked);
    const store = await Deno.readTextFile(
      join(small, "out", "hand_ins.jsonl"),
    );
    demand(store === "" || store.endsWith("\n"), store.slice(-100));
  } finally {
    await run("umount", small);
  }
});
await check("two honest solutions get full marks at a load of 15", async () => {
  // Bounded: on a quiet machine of two cores the hand-ins end soon after it
  const busy = Array.from({ length: 15 }, () =>
    new Deno.Command("timeout", {
      args: ["90", "sh", "-c", "while :; do :; done"],
    }).spawn());
  try {
    const notebook = await readNotebook(
      `${project}notebooks/assignments/three_measurements.ipynb`,
    );
    const { key } = await makeHandout(notebook, {
      students: ["Ada", "Emmy"],
      // Intervals of 95 % miss once in twenty, whatever the load: of this class
      // it is known that none does.
      classSeed: "1".repeat(64),
      outputFolder: join(root, "loaded"),
      teacherFolder: join(root, "loaded-teacher"),
      fileName: "task.ipynb",
      questions: course.questions,
    });
    for (const { folder } of key.students) {
      const path = join(root, "loaded", folder, "task.ipynb");
      await writeNotebook(path, teacherNotebook(notebook));
    }
    const { marks } = await markFolder(join(root, "loaded"), {
      key,
      withheld: [join(root, "loaded-teacher")],
    });
    for (const { student, points, maximum, cpuTime, duration, run } of marks) {
      console.log(
        `${student}: ${points} of ${maximum}, ${
          cpuTime.toFixed(1)
        } s of processor, ${duration.toFixed(0)} s by the clock, ${run}`,
      );
      demand(points === maximum, `${student}: ${points} of ${maximum}`);
    }
  } finally {
    for (const each of busy) {
      try {
        each.kill("SIGTERM");
      } catch {
        // Its time is over
      }
    }
    await Promise.all(busy.map(({ status }) => status));
  }
});
await Deno.remove(root, { recursive: true });
finish();
