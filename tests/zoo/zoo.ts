import { parseArgs } from "@std/cli/parse-args";
import { outputOfShard, type Shard, shardFlag } from "../../lib/cli/shard.ts";
import { writeWhole } from "../../lib/files/mod.ts";
import { shardOf } from "../../lib/notebook/mod.ts";
import { textOf } from "./cell_table.ts";
import { comparisonTable, describe } from "./compare.ts";
import { findPython } from "./find_python.ts";
import { checkGates, type Gates } from "./gates.ts";
import { writePage } from "./page.ts";
import { named, planned, type PlannedBench } from "./plan.ts";
import type { Verdict, ZooRecord } from "./record.ts";
import { runZoo } from "./run.ts";
import { joinRuns, settingsOfRun, type ZooRun } from "./shards.ts";
import { tablesOf } from "./table.ts";

const help = `deno task zoo [options]
Measures benches of a second simulator, and a plain SciPy script beside.

  --quick           a third of the benches
  --final           the seeds kept for the count: run them once, at the end
  --against FILE    what got better and worse since a run written to FILE
  --script FILE     the library's side is that of FILE where FILE has the bench:
                    runs the script anew, or goes on with a run cut short
  --output FOLDER   where zoo.json and zoo.html go (out/zoo)
  --bench NAME      only these benches, such as motion-12 (more than once)
  --set KEY=VALUE   change what was drawn, with --bench: corner=null, hum=0
  --shard 1/4       every 4th bench, from the 1st, into zoo-1-of-4.json; 'scheduler'
                    takes both numbers from Slurm's array job. Started again, it
                    goes on where its file ends
  --join            joins the files of all parts, which are named after the flags
  --gates           fail where less is reached than tests/zoo/gates.json says
  --write-gates     write what is reached into tests/zoo/gates.json
  --no-bound        leave the bounds out, which take some seconds per bench
  --lanes N         captures at a time (2)
  --python PATH     a Python with SciPy`;

const args = parseArgs(Deno.args, {
  negatable: ["bound"],
  default: { bound: true },
  boolean: [
    ...["bound", "quick", "final", "gates", "write-gates", "help", "join"],
  ],
  string: [
    ...["against", "script", "output", "bench", "set", "lanes", "python"],
    "shard",
  ],
  collect: ["bench", "set"],
});
if (args.help) {
  console.log(help);
  Deno.exit(0);
}
const kind = args.final ? "kept" : "work";
const root = new URL("../../", import.meta.url);
const before = args.against === undefined
  ? null
  : (await runOf(args.against)).records;
const change = Object.fromEntries((args.set as string[]).map((pair) => {
  const [key, value] = pair.split("=", 2);
  return [key!, JSON.parse(value!)];
}));
const all = args.bench.length > 0
  ? named(args.bench as string[], change)
  : planned(args.quick ? "quick" : "full");
const shard: Shard | null = args.shard === undefined
  ? null
  : await shardFlag().read(args.shard, "--shard", "run the zoo");
const output = args.output ?? "out/zoo";
await Deno.mkdir(output, { recursive: true });
const whole = `${output}/zoo.json`;
const file = shard === null ? whole : outputOfShard(whole, shard);
const begin = Date.now();
const { records, settings } = args.join ? await joined() : await measured();
const wall = (Date.now() - begin) / 1e3;

const tables = tablesOf(records);
if (before !== null) tables.push(comparisonTable(records, before));
console.log();
for (const table of tables) console.log(textOf(table));
const cpu = {
  library: sum(records.map(({ ours }) => ours.cpu)),
  scipy: sum(records.map(({ scipy }) => scipy?.cpu ?? 0)),
  making: sum(records.map(({ making }) => making)),
};
console.log(
  `${records.length} benches (seeds for ${
    kind === "kept" ? "the count" : "work"
  }) in ${wall.toFixed(0)} s; CPU: library ${
    cpu.library.toFixed(0)
  } s, SciPy script ${cpu.scipy.toFixed(0)} s, simulator and bounds ${
    cpu.making.toFixed(0)
  } s`,
);

await writeRecords(records, settings);
if (shard === null) {
  await writePage(`${output}/zoo.html`, { kind, records, tables });
}
console.log(
  `Written: ${file}${shard === null ? `, ${output}/zoo.html` : ""}`,
);

const gateFile = new URL("./gates.json", import.meta.url);
if (args["write-gates"]) {
  const { reached } = checkGates(records, null);
  await Deno.writeTextFile(gateFile, `${JSON.stringify(reached, null, 2)}\n`);
}
if (args.gates) {
  const gates: Gates = JSON.parse(await Deno.readTextFile(gateFile));
  const { lines, failed } = checkGates(records, gates);
  for (const line of lines) console.log(line);
  console.log(`${lines.length - failed} passed, ${failed} failed`);
  if (failed > 0) Deno.exit(1);
}

/** Measures the benches of this run, or of its part of an array job. */
async function measured() {
  const python = await findPython(args.python);
  const mine = shard === null ? all : shardOf(all, shard);
  const settings = await settingsOfRun(root, [change, args.bound]);
  const earlier = shard === null ? null : await runOf(file).catch((error) => {
    if (error instanceof Deno.errors.NotFound) return null;
    throw error;
  });
  const kept = new Map<string, ZooRecord>();
  if (earlier !== null && earlier.settings === settings) {
    for (const record of earlier.records) kept.set(record.name, record);
    console.log(`${kept.size} benches stand in ${file} already`);
  } else if (earlier !== null) {
    console.log(`${file} was made with other settings: measured anew`);
  }
  const known = args.script === undefined
    ? []
    : (await runOf(args.script)).records;
  const benches = mine.filter((bench) => !kept.has(nameOf(bench)));
  const soFar = [...kept.values()];
  await runZoo({
    kind,
    benches,
    python,
    lanes: Number(args.lanes ?? 2),
    bounds: args.bound,
    known: new Map(known.map((record) => [record.name, record])),
    onRecord: async (record, done) => {
      soFar.push(record);
      // A run that is cut short is gone on with, a part by itself.
      if (shard !== null || done % 10 === 0) {
        await writeRecords(soFar, settings);
      }
      console.log(
        `${done}/${benches.length} ${describe(record)} | ${said(record.ours)}${
          record.scipy === null ? "" : ` | SciPy ${said(record.scipy)}`
        }`,
      );
    },
  });
  const places = new Map(mine.map((bench, place) => [nameOf(bench), place]));
  return {
    records: soFar.sort((a, b) => places.get(a.name)! - places.get(b.name)!),
    settings,
  };
}

/** Joins the parts that were named. */
async function joined() {
  const parts = await Promise.all(
    args._.map(async (path: string | number) => ({
      fileName: String(path),
      run: await runOf(String(path)),
    })),
  );
  const { records, missing, conflicts } = joinRuns(parts, all.map(nameOf));
  for (const name of conflicts) {
    console.log(`Two parts differ; the later counts: ${name}`);
  }
  if (missing.length > 0) {
    console.log(`In no part, ${missing.length}: ${missing.join(" ")}`);
    Deno.exitCode = 1;
  }
  return { records: [...records], settings: parts[0]!.run.settings };
}

function nameOf({ family, number }: PlannedBench): string {
  return `${family}-${number}`;
}

/** Writes the records, without their pictures, in one step. */
async function writeRecords(
  records: readonly ZooRecord[],
  settings: string | undefined,
): Promise<void> {
  const json = JSON.stringify(
    { kind, settings, records },
    (key, value) => key === "picture" ? undefined : value,
    1,
  );
  await writeWhole(file, `${json}\n`);
}

/** An earlier run with the same seeds. */
async function runOf(path: string): Promise<ZooRun> {
  const run: ZooRun = JSON.parse(await Deno.readTextFile(path));
  if (run.kind !== kind) {
    throw new RangeError(
      `Cannot compare with ${path}: it holds seeds for ${
        run.kind === "kept" ? "the count" : "work"
      }. Name a run with the same seeds${
        run.kind === "kept" ? ", or add --final" : ""
      }`,
    );
  }
  return run;
}

function said(verdict: Verdict): string {
  const { outcome, error, doubted, warnings, cpu } = verdict;
  return `${outcome}${error === null ? "" : ` ${error.toPrecision(2)}`}${
    doubted && outcome === "right" ? ` doubted: ${warnings.join(" ")}` : ""
  } ${cpu.toFixed(1)} s`;
}

function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}
