import { describe, expect, it } from "vitest";
import v8 from "node:v8";
import vm from "node:vm";
import { NotMeasurableError } from "fringebook";
import { setCheckpointHandler } from "fringebook/progress";
import { lateStages } from "./late_stages.ts";
import { calls, rooms, setup, takersOfCaptures } from "./long_computations.ts";

/**
 * The longest work between two checkpoints, in ms of the thread's own processor
 * time; the pauses in which the engine compiles and collects garbage on this
 * thread count. Run alone, as the outside suite does: beside another computation,
 * which shares caches and memory, the same work takes up to twice as long. What
 * the functions before have left is collected first. The quickest of three runs
 * counts; the first also compiles what it runs. No run may take more than 300 ms:
 * an interrupt is heard within 1 s, also on a machine that is three times as slow.
 */
const longestGap = { best: 50, any: 300 } as const;
const runs = 3;
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

describe("the longest computation between two checkpoints", () => {
  it("is looked for in every function that takes a capture", async () => {
    const tried = new Set(Object.keys(calls).map((key) => key.split(",")[0]!));
    const missing = (await takersOfCaptures()).filter((name) =>
      !tried.has(name)
    );
    expect(missing).toEqual([]);
  });

  for (const [name, compute] of Object.entries(computations)) {
    it(`of ${name} lets an interrupt through`, () =>
      isShort(name, () => largestGap(compute, longestRun)));
  }

  for (const [name, prepare] of Object.entries(lateStages(sampleCount))) {
    it(`of the stage '${name}' lets one through to its end`, () =>
      isShort(name, () => largestGap(prepare())));
  }
});

async function isShort(
  name: string,
  measure: () => Promise<Gap>,
): Promise<void> {
  collectGarbage();
  const gaps: Gap[] = [];
  for (let run = 0; run < runs; run++) {
    gaps.push(await measure());
    // Most are well below at once.
    if (gaps[run]!.time < longestGap.best) break;
  }
  console.log(
    `${name}: ${
      gaps.map(({ time, end }) => `${time.toFixed(0)} ms before ${end}`).join(
        ", ",
      )
    }`,
  );
  const times = gaps.map(({ time }) => time);
  expect(Math.min(...times)).toBeLessThan(longestGap.best);
  expect(Math.max(...times)).toBeLessThan(longestGap.any);
}
