import { describe, expect, it } from "vitest";
import {
  type Capture,
  createCapture,
  encodeCapture,
  openCaptureStream,
  parseCapture,
  readCapture,
  type ReadCaptureOptions,
  writeCapture,
  type WriteCaptureOptions,
} from "fringebook";
import type { CaptureStreamOptions } from "fringebook/capture";

const count = 10_007;
const capture = createCapture([
  {
    name: "monitor",
    role: "monitor signal",
    unit: "V",
    samples: Float64Array.from({ length: count }, (_, n) => Math.sin(n / 9)),
  },
  {
    name: "drive",
    role: "drive current",
    unit: "A",
    samples: Float64Array.from({ length: count }, (_, n) => n / 7e5),
  },
], { samplingRate: 200e3 });

/** All blocks joined, overlap taken off; checks start and overlap on the way. */
async function joined(
  source: Uint8Array | string,
  options: ReadCaptureOptions,
  settings: CaptureStreamOptions,
): Promise<{ samples: number[][]; blocks: number; rate: number }> {
  using stream = await openCaptureStream(source, options);
  const samples: number[][] = [];
  let blocks = 0;
  let next = settings.resume?.sample ?? 0;
  let last = false;
  for await (const block of stream.blocks(settings)) {
    expect(last).toBe(false);
    expect(block.start + block.overlap).toBe(next);
    block.capture.channels.forEach((channel, at) => {
      (samples[at] ??= []).push(...channel.samples.subarray(block.overlap));
    });
    next = block.start + block.capture.sampleCount;
    expect(block.resume.sample).toBe(next);
    last = block.last;
    blocks++;
  }
  expect(last).toBe(true);
  return { samples, blocks, rate: stream.samplingRate };
}

const arrays = (item: Capture) =>
  item.channels.map(({ samples }) => Array.from(samples));

const variants: [string, WriteCaptureOptions][] = [
  ["a.csv", { format: "delimited text" }],
  ["a.wav", { format: "WAV" }],
  ["a.npz", { format: "NPZ" }],
  ["a.sigmf", { format: "SigMF" }],
];

describe("openCaptureStream", () => {
  for (const [name, options] of variants) {
    it(`gives the samples of ${name} in blocks, from bytes and from a file`, async () => {
      const bytes = encodeCapture(capture, options);
      const path = await Deno.makeTempFile({ suffix: name });
      await Deno.writeFile(path, bytes);
      try {
        for (const source of [bytes, path]) {
          for (const blockLength of [1000, 4096, 20_000]) {
            const { samples, blocks, rate } = await joined(source, {}, {
              blockLength,
              overlap: 100,
            });
            expect(samples).toEqual(arrays(capture));
            expect(blocks).toBe(Math.ceil(count / blockLength));
            expect(rate).toBe(200e3);
          }
        }
      } finally {
        await Deno.remove(path);
      }
    });
    it(`goes on in ${name} where it was stopped`, async () => {
      const bytes = encodeCapture(capture, options);
      using stream = await openCaptureStream(bytes);
      for await (
        const { resume, last } of stream.blocks({ blockLength: 3000 })
      ) {
        if (last) break;
        const { samples } = await joined(bytes, {}, {
          blockLength: 2500,
          resume,
        });
        expect(samples).toEqual(
          capture.channels.map((channel) =>
            Array.from(channel.samples.subarray(resume.sample))
          ),
        );
      }
    });
  }
  it("unpacks gzip to a temporary file and removes it", async () => {
    const folder = await Deno.makeTempDir();
    try {
      const path = `${folder}/a.csv.gz`;
      await writeCapture(path, capture);
      const temporary = () =>
        [...Deno.readDirSync(Deno.env.get("TMPDIR") ?? "/tmp")]
          .filter(({ name }) => name.startsWith("fringebook-")).length;
      const before = temporary();
      const { samples } = await joined(path, {}, { blockLength: 999 });
      expect(samples).toEqual(arrays(capture));
      expect(temporary()).toBe(before);
    } finally {
      await Deno.remove(folder, { recursive: true });
    }
  });
  it("finds the rate of text from its first and last rows", async () => {
    const lines = Array.from(
      { length: 30_000 },
      (_, n) => `${(n / 44100).toFixed(7)};${n % 17}`,
    );
    const bytes = new TextEncoder().encode(
      `time (s);a (V)\n${lines.join("\n")}\n`,
    );
    using stream = await openCaptureStream(bytes);
    // Both use the whole span; they differ by rounding only.
    const whole = parseCapture(bytes).samplingRate;
    expect(Math.abs(stream.samplingRate / whole - 1)).toBeLessThan(1e-12);
  });
  it("stops when it is aborted", async () => {
    using stream = await openCaptureStream(
      encodeCapture(capture, { format: "WAV" }),
    );
    const controller = new AbortController();
    let blocks = 0;
    let stopped = false;
    try {
      for await (
        const _ of stream.blocks({
          blockLength: 100,
          signal: controller.signal,
        })
      ) if (++blocks === 3) controller.abort();
    } catch (error) {
      stopped = (error as Error).name === "AbortError";
    }
    expect([blocks, stopped]).toEqual([3, true]);
  });
  it("tells the SHA-256 that readCapture tells", async () => {
    const bytes = encodeCapture(capture, { format: "WAV" });
    using stream = await openCaptureStream(bytes);
    expect(await stream.sha256()).toBe(parseCapture(bytes).source.sha256);
  });
  it("reads an RF64 file of 5 GiB, sparse, at its far end", async () => {
    const head = encodeCapture(
      createCapture([{
        name: "a",
        role: "monitor signal",
        unit: "V",
        samples: Float64Array.of(1),
      }], { samplingRate: 1e6 }),
      { format: "WAV", rf64: true },
    ).slice(0, -8);
    const samples = 5 * 2 ** 27;
    const view = new DataView(head.buffer);
    view.setBigUint64(28, BigInt(samples * 8), true);
    const path = await Deno.makeTempFile({ suffix: ".wav" });
    try {
      const file = await Deno.open(path, { write: true });
      await file.write(head);
      await file.truncate(head.length + samples * 8);
      await file.seek(head.length + (samples - 1) * 8, Deno.SeekMode.Start);
      await file.write(new Uint8Array(Float64Array.of(0.25).buffer));
      file.close();
      using stream = await openCaptureStream(path);
      expect(stream.sampleCount).toBe(samples);
      const resume = { sample: samples - 3, byteOffset: null, line: null };
      const { samples: found } = await joined(path, {}, { resume });
      expect(found).toEqual([[0, 0, 0.25]]);
      let message = "";
      try {
        await readCapture(path);
      } catch (error) {
        message = String(error);
      }
      expect(message).toContain("Use 'openCaptureStream'");
    } finally {
      await Deno.remove(path);
    }
  });
});
