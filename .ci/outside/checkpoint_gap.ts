/**
 * The longest computation between two checkpoints, of every function that takes a
 * capture and of what measurements of long records end with.
 *
 * Run: .ci/outside/checkpoint_gap.sh [part of a name…]
 *
 * @module
 */
import v8 from "node:v8";
import vm from "node:vm";
import { NotMeasurableError } from "fringebook";
import { setCheckpointHandler } from "fringebook/progress";
import { lateStages } from "../../tests/progress/late_stages.ts";
import {
  calls,
  rooms,
  setup,
  takersOfCaptures,
} from "../../tests/progress/long_computations.ts";
import { check, demand, finish } from "./tally.ts";

/**
 * The longest work between two checkpoints, in ms of the thread's own processor
 * time; the pauses in which the engine compiles and collects garbage on this
 * thread count. Run alone, as the outside suite does: beside another computation,
 * which shares caches and memory, the same work takes up to twice as long. What
 * the functions before have left is collected first. The quickest of five runs
 * counts; the first also compiles what it runs. No run may take more than 300 ms:
 * an interrupt is heard within 1 s, also on a machine that is three times as slow.
 */
const longestGap = { best: 50, any: 300 } as const;
const runs = 5;
const sampleCount = 10_000_000;
/** After so much processor time a computation is stopped, in ms. */
const longestRun = 1500;

const threadTime = 3;
const clock = Deno.build.os === "linux"
  ? Deno.dlopen("libc.so.6", {
    clock_gettime: { parameters: ["i32", "buffer"], result: "i32" },
  })
  : null;
const time = new BigInt64Array(2);

/** Processor time of this thread, in ms; elsewhere than on Linux by the clock. */
function now(): number {
  if (clock === null) return performance.now();
  clock.symbols.clock_gettime(threadTime, time);
  return Number(time[0]) * 1e3 + Number(time[1]) / 1e6;
}

v8.setFlagsFromString("--expose-gc");
const collectGarbage = vm.runInNewContext("gc") as () => void;

class Stopped extends Error {}

/** A time without a checkpoint, in ms, and the checkpoint that ended it. */
interface Gap {
  readonly time: number;
  readonly end: string;
}

/** Where the library called the checkpoint that is being handled. */
function caller(): string {
  const frames = (new Error().stack ?? "").split("\n")
    .flatMap((line) => line.match(/lib\/(\S+?:\d+)/)?.[1] ?? [])
    .filter((frame) => !frame.startsWith("progress/"));
  return frames.slice(0, 2).join(" of ") || "its end";
}

/** The largest gap of a computation. */
async function largestGap(
  compute: () => unknown,
  limit = Infinity,
): Promise<Gap> {
  const begin = now();
  let last = begin;
  let largest: Gap = { time: 0, end: "its end" };
  const note = () => {
    const at = now();
    const time = at - last;
    if (time > largest.time) largest = { time, end: caller() };
    last = now();
    if (at - begin > limit) throw new Stopped();
  };
  const before = setCheckpointHandler(note);
  try {
    await compute();
    note();
  } catch (error) {
    const expected = error instanceof Stopped ||
      error instanceof NotMeasurableError;
    if (!expected) throw error;
  } finally {
    setCheckpointHandler(before);
  }
  return largest;
}

const library = Object.assign(
  {},
  ...await Promise.all([
    import("fringebook"),
    import("fringebook/display"),
    ...rooms.map((room) => import(`../../lib/doors/${room}.ts`)),
  ]),
);

const computations = new Function(
  "f",
  `${setup(sampleCount)}; return {${
    Object.entries(calls).map(([name, call]) =>
      `${JSON.stringify(name)}: () => ${call}`
    ).join(",")
  }};`,
)(library) as Record<string, () => unknown>;

const chosen = Deno.args;
const isChosen = (name: string) =>
  chosen.length === 0 || chosen.some((part) => name.includes(part));

await check("every function that takes a capture is looked at", async () => {
  const tried = new Set(Object.keys(calls).map((key) => key.split(",")[0]!));
  const missing = (await takersOfCaptures()).filter((name) => !tried.has(name));
  demand(missing.length === 0, missing.join(", "));
});
for (const [name, compute] of Object.entries(computations)) {
  if (!isChosen(name)) continue;
  await check(
    `${name} lets an interrupt through`,
    () => isShort(() => largestGap(compute, longestRun)),
  );
}
for (const [name, prepare] of Object.entries(lateStages(sampleCount))) {
  if (!isChosen(name)) continue;
  await check(
    `the stage '${name}' lets one through to its end`,
    () => isShort(() => largestGap(prepare())),
  );
}
finish();

async function isShort(
  measure: () => Promise<Gap>,
): Promise<void> {
  collectGarbage();
  const gaps: Gap[] = [];
  for (let run = 0; run < runs; run++) {
    gaps.push(await measure());
    // Most are well below at once.
    if (gaps[run]!.time < longestGap.best) break;
  }
  const told = gaps.map(({ time, end }) =>
    `${time.toFixed(0)} ms before ${end}`
  )
    .join(", ");
  console.log(`  ${told}`);
  const times = gaps.map(({ time }) => time);
  demand(Math.min(...times) < longestGap.best, told);
  demand(Math.max(...times) < longestGap.any, told);
}
