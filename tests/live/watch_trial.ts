/**
 * A recorder at 192 kS/s with two channels is watched and recorded: no block is
 * lost, memory stays flat, pictures come in time. 20 s, or as many as
 * `FRINGEBOOK_WATCH_SECONDS` says.
 */
import { describe, expect, it } from "vitest";
import { fromFileUrl, join } from "@std/path";
import { openCaptureStream, watch } from "fringebook";
import { createRecorderSource } from "fringebook/live";
import process from "node:process";

const rate = 192_000;
const seconds = Number(Deno.env.get("FRINGEBOOK_WATCH_SECONDS") ?? 20);
const recorder = fromFileUrl(new URL("recorder_simulator.ts", import.meta.url));
const hook = Symbol.for("fringebook.cell");

describe(`${seconds} s at 192 kS/s with two channels`, () => {
  it("lose no sample, keep memory flat, and are drawn within 0.3 s", async () => {
    const folder = await Deno.makeTempDir();
    const file = join(folder, "run.wav");
    const ages: number[] = [];
    const memory: number[] = [];
    let longest = 0;
    const cell = {
      publish: (output: { data?: Record<string, string> }) => {
        longest = Math.max(longest, JSON.stringify(output).length);
      },
    };
    (globalThis as Record<symbol, unknown>)[hook] = cell;
    const start = process.cpuUsage();
    const began = performance.now();
    const view = await watch(
      createRecorderSource(
        [Deno.execPath(), "run", "--quiet", recorder, `${rate}`, `${seconds}`],
        {
          raw: { type: "int16", channelCount: 2 },
          samplingRate: rate,
          channels: {
            "0": { role: "monitor signal", unit: "V", scale: 1 / 32768 },
            "1": "other",
          },
          ask: () => Promise.resolve(true),
        },
      ),
      {
        record: file,
        onPicture: ({ newest, time }) => {
          ages.push((Date.now() - newest) / 1000);
          // The first seconds fill what is kept and let the compiler work.
          if (time > Math.min(12, seconds / 2)) {
            // Of this test alone: others may run in the same process.
            const { heapUsed, external } = Deno.memoryUsage();
            memory.push(heapUsed + external);
          }
        },
      },
    ).finally(() => delete (globalThis as Record<symbol, unknown>)[hook]);
    const wall = (performance.now() - began) / 1000;
    const used = process.cpuUsage(start);
    const share = (used.user + used.system) / 1e6 / wall;
    ages.sort((a, b) => a - b);
    const part = (values: readonly number[], from: number, to: number) => {
      const some = values.slice(
        Math.floor(from * values.length),
        Math.ceil(to * values.length),
      ).sort((a, b) => a - b);
      return some[some.length >> 1]!;
    };
    const early = part(memory, 0, 0.2) / 1e6;
    const late = part(memory, 0.8, 1) / 1e6;
    console.log(
      `${view.duration.toFixed(1)} s of samples, ${ages.length} pictures (${
        (ages.length / wall).toFixed(1)
      } per s), age of the newest sample: median ${
        part(ages, 0, 1).toFixed(3)
      } s, 99 % ${ages[Math.floor(0.99 * ages.length)]!.toFixed(3)} s; ${
        (100 * share).toFixed(0)
      } % of a core; memory ${early.toFixed(0)} MB, then ${
        late.toFixed(0)
      } MB; largest output ${longest} characters; lost ${view.lost}, dropped ${
        view.recording!.droppedBlocks
      }`,
    );
    expect(view.ended).toBe("source ended");
    expect(view.warnings).toEqual([]);
    expect(view.recording!.samples).toBe(rate * seconds);
    expect(view.recording!.missing).toBe(0);
    // The samples count themselves: each one is in the file, in its place.
    using stream = await openCaptureStream(file);
    let at = 0;
    let wrong = 0;
    for await (const { capture } of stream.blocks()) {
      for (const value of capture.channels[1]!.samples) {
        if (value !== at % 65536 - 32768) wrong++;
        at++;
      }
    }
    expect([at, wrong]).toEqual([rate * seconds, 0]);
    // What is flat grows by less than the 30 MB of the samples that are kept.
    expect(late - early).toBeLessThan(30);
    // The median: a loaded machine may hold up single pictures.
    expect(part(ages, 0, 1)).toBeLessThan(0.3);
    await Deno.remove(folder, { recursive: true });
  });
});

describe("a recorder that is set to another rate than was said", () => {
  it("is told from the clock, and the view says so", async () => {
    const said = new Set<string>();
    const view = await watch(
      createRecorderSource(
        [Deno.execPath(), "run", "--quiet", recorder, "48000", "12", "1.3"],
        {
          raw: { type: "int16", channelCount: 2 },
          samplingRate: 48000,
          ask: () => Promise.resolve(true),
        },
      ),
      { onPicture: ({ faults }) => faults.forEach((one) => said.add(one)) },
    );
    expect(view.duration).toBe(12);
    const rates = [...said].map((fault) =>
      Number(/Samples come at (\S+) Hz/.exec(fault)?.[1])
    );
    expect(rates.length).toBeGreaterThan(0);
    // 1.3 times 48 kHz; a loaded machine delivers less evenly.
    for (const rate of rates) {
      expect(Math.abs(rate / 62400 - 1)).toBeLessThan(0.1);
    }
  });
});
