/**
 * Uses the library as others do: from a project outside of this tree with
 * default settings, by path, by `file:` address and as a member of a workspace;
 * asks what could be published; and counts what an empty cache must fetch before
 * the tour runs.
 *
 * @module
 */
import { fromFileUrl, join, toFileUrl } from "@std/path";
import config from "../../deno.json" with { type: "json" };
import { check, demand, finish } from "./tally.ts";

const base = new URL("../../", import.meta.url);
const root = fromFileUrl(base);
const doors = Object.values(config.exports);
const decoder = new TextDecoder();

/** Most that the tour may fetch, in MB on disk. */
const mostFetched = 130;
/** Findings of `deno doc --lint`. */
const mostUndocumented = 0;

const program = `
import { measureDisplacement, simulateCapture } from "fringebook";

const capture = simulateCapture({
  distance: (time) => 0.1 + 1e-6 * Math.sin(300 * time),
  samplingRate: 1e5,
  duration: 0.03,
  feedbackParameter: 0.7,
  drive: null,
});
const { peakToPeak } = measureDisplacement(capture, { wavelength: 650e-9 });
const metres: number = peakToPeak.value;
console.log(metres);
`;

async function deno(
  args: string[],
  cwd: string,
  env: Record<string, string> = {},
): Promise<{ code: number; text: string; out: string }> {
  const { code, stdout, stderr } = await new Deno.Command(Deno.execPath(), {
    args,
    cwd,
    env: { NO_COLOR: "1", DENO_NO_UPDATE_CHECK: "1", ...env },
  }).output();
  const out = decoder.decode(stdout);
  return { code, out, text: out + decoder.decode(stderr) };
}

async function project(
  name: string,
  files: Record<string, string>,
): Promise<string> {
  const folder = await Deno.makeTempDir({ prefix: `${name}-` });
  for (const [file, content] of Object.entries(files)) {
    await Deno.mkdir(join(folder, file, ".."), { recursive: true });
    await Deno.writeTextFile(join(folder, file), content);
  }
  return folder;
}

async function uses(folder: string, cwd = folder): Promise<void> {
  const types = await deno(["check", "main.ts"], cwd);
  demand(types.code === 0, types.text.slice(0, 2000));
  const run = await deno(["run", "-A", "main.ts"], cwd);
  demand(run.code === 0, run.text.slice(0, 2000));
  // Peak to peak of 1 µm sin(300 t) over 30 ms: the sine passes its greatest
  // and its least value, at 5.2 and 15.7 ms.
  demand(Math.abs(Number(run.out) - 2e-6) < 5e-9, `2 µm expected: ${run.out}`);
}

const ownScript = `
import { loadDataset } from "fringebook";
console.log(typeof await (await loadDataset("vibration")).toDataFrame());
`;

const door = join(root, "lib", "mod.ts");
const importMap = (target: string) =>
  JSON.stringify({ imports: { fringebook: target } });

await Promise.all([
  check("a project checks and runs it by path", async () =>
    await uses(
      await project("by-path", {
        "deno.json": importMap(door),
        "main.ts": program,
      }),
    )),
  check(
    "a project checks and runs it by a file: address",
    async () =>
      await uses(
        await project("by-address", {
          "deno.json": importMap(toFileUrl(door).href),
          "main.ts": program,
        }),
      ),
  ),
  check("a project checks and runs it as a workspace member", async () => {
    const folder = await project("workspace", {
      "deno.json": JSON.stringify({ workspace: ["./bench", "./fringebook"] }),
      "bench/deno.json": "{}",
      "bench/main.ts": program.replace(
        '"fringebook"',
        '"@fringebook/fringebook"',
      ),
    });
    const member = join(folder, "fringebook");
    await copyTracked(member);
    await uses(folder, join(folder, "bench"));
  }),
]);

await check("it could be published: no slow types, a scoped name", async () => {
  const { code, text } = await deno(
    ["publish", "--dry-run", "--allow-dirty"],
    root,
  );
  demand(code === 0, text.slice(-2000));
  const files = text.match(/^ +file:\/\/\S+/gm) ?? [];
  demand(files.length > 100, "no files");
  const other = files.filter((file) =>
    /^(tests|notebooks|datasets|\.ci)\//.test(file.split(root)[1] ?? "")
  );
  demand(other.length === 0, `published too: ${other[0]}`);
  console.log(`published would be ${files.length} files`);
});

const nodeProgram = `
import {
  type Displacement,
  measureDisplacement,
  simulateCapture,
} from "@fringebook/fringebook";
import { fitLine } from "@fringebook/fringebook/fit";

const capture = simulateCapture({
  distance: (time: number) => 0.1 + 1e-6 * Math.sin(300 * time),
  samplingRate: 1e5,
  duration: 0.03,
  feedbackParameter: 0.7,
  drive: null,
});
const moved: Displacement = measureDisplacement(capture, { wavelength: 650e-9 });
// @ts-expect-error The wavelength is needed.
const without = () => measureDisplacement(capture, {});
const metres: number = moved.peakToPeak.value;
console.log(metres, fitLine([1, 2, 3, 4], [2, 4, 6, 8]).slope.value, typeof without);
`;

await check(
  "npm: packed, it is used with its types in Node.js 22",
  async () => {
    const folder = await project("node", {
      "package.json": JSON.stringify({ private: true, type: "module" }),
      "main.ts": nodeProgram,
    });
    const packed = join(folder, "fringebook.tgz");
    const made = await deno(["task", "pack", "--output", packed], root);
    demand(made.code === 0, made.text.slice(-2000));
    console.log(made.out.trim());
    const command = async (name: string, ...args: string[]) => {
      const { code, stdout, stderr } = await new Deno.Command(name, {
        args,
        cwd: folder,
        env: { NO_COLOR: "1" },
      }).output();
      const text = decoder.decode(stdout) + decoder.decode(stderr);
      demand(code === 0, `${name} ${args.join(" ")}: ${text.slice(0, 2000)}`);
      return decoder.decode(stdout).trim();
    };
    await command(
      ...["npm", "install", "--no-audit", "--no-fund", packed] as const,
      ...["node@22", "typescript@5.9.3"],
    );
    await command(
      ...["npx", "tsc", "--strict", "--module", "nodenext"] as const,
      ...["--target", "esnext", "--lib", "esnext,dom", "main.ts"],
    );
    const node = join(folder, "node_modules", ".bin", "node");
    const [metres, slope] = (await command(node, "main.js")).split(" ");
    demand(Math.abs(Number(metres) - 2e-6) < 5e-9, `2 µm expected: ${metres}`);
    demand(Math.abs(Number(slope) - 2) < 1e-9, `2 expected: ${slope}`);
    const { exports } = JSON.parse(
      await Deno.readTextFile(
        join(folder, "node_modules/@fringebook/fringebook/package.json"),
      ),
    ) as { exports: Record<string, unknown> };
    const all = Object.keys(exports).map((door) =>
      `await import("@fringebook/fringebook${door.slice(1)}");`
    ).join("\n");
    await Deno.writeTextFile(join(folder, "doors.mjs"), all);
    await command(node, "doors.mjs");
    console.log(
      `${await command(node, "--version")}: ${
        Object.keys(exports).length
      } doors`,
    );
    await Deno.remove(folder, { recursive: true });
  },
);

await check("every exported symbol is documented", async () => {
  const { text } = await deno(["doc", "--lint", ...doors], root);
  const count = Number(/Found (\d+) documentation/.exec(text)?.[1] ?? 0);
  console.log(`deno doc --lint: ${count} findings`);
  demand(count <= mostUndocumented, text.slice(0, 2000));
});

await check(`the tour fetches at most ${mostFetched} MB`, async () => {
  const cache = await Deno.makeTempDir({ prefix: "cache-" });
  const clone = await Deno.makeTempDir({ prefix: "clone-" });
  await copyTracked(clone);
  const env = { DENO_DIR: cache };
  // The task runner fetches what the lock file names before anything runs.
  const task = await deno(["task", "tour", "--help"], clone, env);
  demand(task.code === 0, task.text.slice(-2000));
  const before = await measure(join(cache, "npm"));
  console.log(
    `fetched before the tour: ${before.packages} packages, ${
      before.size.toFixed(0)
    } MB`,
  );
  // The notebook that imports danfojs, which is fetched then.
  const begin = performance.now();
  const run = await deno(["task", "tour", "10"], clone, env);
  demand(run.code === 0, run.text.slice(-2000));
  const { size, packages } = await measure(join(cache, "npm"));
  console.log(
    `fetched by the tour in all: ${packages} packages, ${
      size.toFixed(0)
    } MB; notebook 10 took ${
      ((performance.now() - begin) / 1000).toFixed(0)
    } s`,
  );
  demand(size <= mostFetched, `${size} MB`);
  demand(packages > before.packages, "notebook 10 fetched no danfojs");
  demand(!/warning/i.test(task.text + run.text), "the task warns");
  // A script of a person's own, in the tree.
  await Deno.writeTextFile(join(clone, "own.ts"), ownScript);
  const own = await deno(["run", "-A", "own.ts"], clone, env);
  demand(own.code === 0 && own.out.trim() === "object", own.text.slice(-2000));
  const after = await measure(join(cache, "npm"));
  demand(
    after.packages === packages,
    `a script with toDataFrame() fetches ${after.packages - packages} more`,
  );
  await Deno.remove(cache, { recursive: true });
  await Deno.remove(clone, { recursive: true });
});

for (const [name, path] of Object.entries(config.exports)) {
  const values = Object.keys(await import(new URL(path, base).href));
  console.log(
    `values behind ${name.replace(".", "fringebook")}: ${values.length}`,
  );
}

finish();

/** Copies the files that git tracks. */
async function copyTracked(target: string): Promise<void> {
  const { stdout } = await new Deno.Command("git", {
    args: [
      "ls-files",
      "-z",
      "lib",
      "notebooks",
      "datasets",
      "deno.json",
      "deno.lock",
      "README.md",
    ],
    cwd: root,
  }).output();
  const lock = await new Deno.Command("git", {
    args: ["show", "HEAD:deno.lock"],
    cwd: root,
  }).output();
  await Deno.mkdir(target, { recursive: true });
  await Deno.writeFile(join(target, "deno.lock"), lock.stdout);
  for (const file of decoder.decode(stdout).split("\0").filter(Boolean)) {
    await Deno.mkdir(join(target, file, ".."), { recursive: true });
    // Other suites may have added their own packages to the lock file here.
    if (file === "deno.lock") continue;
    await Deno.copyFile(join(root, file), join(target, file));
  }
}

/** Size in MB, and the number of package versions, of a registry cache. */
async function measure(
  folder: string,
): Promise<{ size: number; packages: number }> {
  let size = 0;
  let packages = 0;
  const walk = async (at: string, depth: number) => {
    for await (const entry of Deno.readDir(at)) {
      const path = join(at, entry.name);
      if (entry.isDirectory) {
        const scope = entry.name.startsWith("@") ? 1 : 0;
        if (depth === 2) packages++;
        await walk(path, depth + 1 - scope);
      } else size += (await Deno.lstat(path)).size / 1e6;
    }
  };
  await walk(folder, 0);
  return { size, packages };
}
