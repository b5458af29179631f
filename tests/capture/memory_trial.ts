import { describe, expect, it } from "vitest";
import { createCapture, encodeCapture, openCaptureStream } from "fringebook";

/**
 * Peak of resident memory over the start while a file is streamed, in MB: the
 * least of three runs. When blocks are collected is up to the engine; what is
 * held for good is held in each run.
 */
async function growth(
  path: string,
): Promise<{ peak: number; count: number }> {
  const runs = [];
  for (let n = 0; n < 3; n++) {
    const run = await growthOnce(path);
    runs.push(run);
    if (run.peak < limit) break;
  }
  return runs.reduce((least, run) => run.peak < least.peak ? run : least);
}

async function growthOnce(
  path: string,
): Promise<{ peak: number; count: number }> {
  const before = Deno.memoryUsage().rss;
  let peak = 0;
  let count = 0;
  using stream = await openCaptureStream(path);
  for await (const block of stream.blocks({ overlap: 1000 })) {
    count = block.start + block.capture.sampleCount;
    peak = Math.max(peak, Deno.memoryUsage().rss - before);
  }
  return { peak: peak / 1e6, count };
}

// Memory is flat when a file ten times as long takes no more: both stay under
// the same limit, which is a few dozen blocks of 2 MB waiting for collection
// and far below the larger file.
const limit = 250;

describe("openCaptureStream", () => {
  it("takes no more memory for 2 GB of WAV than for 200 MB", async () => {
    const path = await Deno.makeTempFile({ suffix: ".wav" });
    try {
      for (const samples of [25e6, 250e6]) {
        const one = createCapture([{
          name: "a",
          role: "monitor signal",
          unit: "V",
          samples: Float64Array.of(0),
        }], { samplingRate: 1e6 });
        const head = encodeCapture(one, { format: "WAV" }).slice(0, -8);
        new DataView(head.buffer).setUint32(head.length - 4, samples * 8, true);
        const file = await Deno.open(path, { write: true, truncate: true });
        await file.write(head);
        // Sparse: the samples are zeros that take no room on the disk.
        await file.truncate(head.length + samples * 8);
        file.close();
        const { peak, count } = await growth(path);
        expect(count).toBe(samples);
        expect(peak).toBeLessThan(limit);
      }
    } finally {
      await Deno.remove(path);
    }
  });
  it("takes no more memory for 300 MB of text than for 30 MB", async () => {
    const path = await Deno.makeTempFile({ suffix: ".csv" });
    try {
      for (const parts of [30, 300]) {
        const file = await Deno.open(path, { write: true, truncate: true });
        const encode = (text: string) => new TextEncoder().encode(text);
        await file.write(encode("# sampling rate: 1 MHz\na (V),b (A)\n"));
        const part = encode(
          "0.123456,0.0401\n0.223456,0.0402\n".repeat(31_250),
        );
        for (let n = 0; n < parts; n++) await file.write(part);
        file.close();
        const { peak, count } = await growth(path);
        expect(count).toBe(parts * 62_500);
        expect(peak).toBeLessThan(limit);
      }
    } finally {
      await Deno.remove(path);
    }
  });
});
