import { encodeHex } from "@std/encoding/hex";
import { describe, expect, it } from "vitest";
import {
  type Capture,
  createCapture,
  encodeCapture,
  parseCaptures,
  printReport,
  readCapture,
  type ReadCaptureOptions,
  readCaptures,
} from "fringebook";
import type { Samples } from "fringebook/capture";
import { createRandom } from "fringebook/signal";

const count = 20_011;
const random = createRandom(3);
const capture = createCapture(
  ["monitor", "drive"].map((name, at) => ({
    name,
    role: at === 0 ? "monitor signal" as const : "drive current" as const,
    unit: at === 0 ? "V" : "A",
    samples: Float64Array.from({ length: count }, () => random.normal()),
  })),
  { samplingRate: 200e3 },
);

const plain = (item: Capture) => ({
  channels: item.channels.map(({ samples, ...channel }) => ({
    ...channel,
    type: samples.constructor.name,
    samples: Array.from(samples),
  })),
  samplingRate: item.samplingRate,
  startTime: item.startTime,
  metadata: item.metadata,
  source: item.source,
  warnings: item.warnings,
});

/** Reads the same bytes from a file and from memory. */
async function bothWays(
  bytes: Uint8Array,
  options: ReadCaptureOptions = {},
): Promise<[Capture[], Capture[]]> {
  const path = await Deno.makeTempFile();
  try {
    await Deno.writeFile(path, bytes);
    return [
      await readCaptures(path, { ...options, fileName: "a" }),
      parseCaptures(bytes, { ...options, fileName: "a" }),
    ];
  } finally {
    await Deno.remove(path);
  }
}

describe("a file read piece by piece", () => {
  const formats: [string, Uint8Array, ReadCaptureOptions][] = [
    ...(["delimited text", "WAV", "NPY", "NPZ", "SigMF"] as const).map((
      format,
    ): [string, Uint8Array, ReadCaptureOptions] => [
      format,
      encodeCapture(capture, { format }),
      format === "NPY" ? { samplingRate: 1e3 } : {},
    ]),
    ...(["int16", "int24", "float32"] as const).map((
      sampleFormat,
    ): [string, Uint8Array, ReadCaptureOptions] => [
      `WAV of ${sampleFormat}`,
      encodeCapture(
        inRange({ int16: 2 ** -15, int24: 2 ** -23, float32: 1 }[sampleFormat]),
        { format: "WAV", sampleFormat },
      ),
      {},
    ]),
    [
      "raw binary",
      new Uint8Array(Int16Array.from({ length: 9999 }, (_, n) => n * 7).buffer),
      { raw: { type: "int16", channelCount: 3 }, samplingRate: 1e3 },
    ],
    [
      "raw binary channel after channel",
      new Uint8Array(new Float32Array(8192).fill(0.1).buffer),
      {
        raw: { type: "float32", channelCount: 2, interleaved: false },
        samplingRate: 1e3,
      },
    ],
  ];
  for (const [name, bytes, options] of formats) {
    it(`gives the capture of its bytes: ${name}`, async () => {
      const [read, parsed] = await bothWays(bytes, options);
      expect(read.map(plain)).toEqual(parsed.map(plain));
      expect(read[0]!.source.sha256).toBe(await digestOf(bytes));
    });
  }

  // 3 MB: longer than the pieces, so that lines lie across their edges.
  it("gives the captures of its bytes for long text with headings and gaps", async () => {
    const heading = "time (s),a (V),b (A)\n";
    const parts = [heading];
    for (let n = 0; n < 90_000; n++) {
      if (n === 40_000) parts.push("\n", heading, "remark\n");
      if (n % 30_000 === 17) parts.push("# remark\n\n");
      const t = (n % 40_000) / 1e6;
      parts.push(`${t},${random.normal()},${n % 500 === 7 ? "" : n}\n`);
    }
    const text = parts.join("") + "0.04,1";
    const bytes = new TextEncoder().encode(text);
    const [read, parsed] = await bothWays(bytes);
    expect(read.length).toBeGreaterThan(1);
    expect(read.map(plain)).toEqual(parsed.map(plain));
  });

  it("names the same line where text stands for a number", async () => {
    const lines = Array.from({ length: 200_000 }, (_, n) => `${n},0.123456\n`);
    lines[180_000] = "180000,oops\n";
    const bytes = new TextEncoder().encode("n,a (V)\n" + lines.join(""));
    await expect(bothWays(bytes, { samplingRate: 1 })).rejects.toThrow(
      "line 180002 has text where a number belongs: field 2 is 'oops'",
    );
  });

  it("gives one line of several megabytes as one channel", async () => {
    const values = Array.from({ length: 300_000 }, (_, n) => n % 1000 / 8);
    const text = `a (V),${values.join(",")}\nb (V),${values.join(",")}\n`;
    const bytes = new TextEncoder().encode(text);
    const [read, parsed] = await bothWays(bytes, {
      samplingRate: 1e3,
      orientation: "rows",
    });
    expect(read.map(plain)).toEqual(parsed.map(plain));
    expect(read[0]!.sampleCount).toBe(values.length);
  });
});

describe("a file of samples that is read ahead by another thread", () => {
  // 9 MB and more: above the size from which that is done; no whole number of
  // parts, and a header that is no multiple of the size of a sample.
  const bytesOf = (size: number) =>
    Uint8Array.from({ length: size }, (_, n) => (n * 7919) >> 5);
  const layouts: [string, ReadCaptureOptions["raw"]][] = [
    ["int16 in turns", { type: "int16", channelCount: 2 }],
    ["int16 of three channels", { type: "int16", channelCount: 3 }],
    ["int24", { type: "int24" }],
    ["uint8", { type: "uint8" }],
    ["int32 big-endian", { type: "int32", littleEndian: false }],
    ["int32 channel after channel", {
      type: "int32",
      channelCount: 2,
      interleaved: false,
    }],
    ["float32 as they are", { type: "float32", headerSize: 13 }],
    ["float32 in turns", { type: "float32", channelCount: 2 }],
  ];
  for (const [name, raw] of layouts) {
    it(`gives the capture of its bytes: ${name}`, async () => {
      const bytes = bytesOf(9_000_011);
      const options = { raw: raw!, samplingRate: 1e3 };
      const [[read], [parsed]] = await bothWays(bytes, options);
      // Bit by bit: the bytes make floats that are not numbers, too.
      for (const [at, { samples }] of read!.channels.entries()) {
        const other = parsed!.channels[at]!.samples;
        expect(samples.length).toBe(other.length);
        expect(await digestOf(bits(samples))).toBe(
          await digestOf(bits(other)),
        );
      }
      expect(read!.source.sha256).toBe(await digestOf(bytes));
      const [[unhashed]] = await bothWays(bytes, { ...options, sha256: false });
      expect(await digestOf(bits(unhashed!.channels[0]!.samples))).toBe(
        await digestOf(bits(parsed!.channels[0]!.samples)),
      );
    });
  }
});

const bits = ({ buffer, byteOffset, byteLength }: Samples) =>
  new Uint8Array(buffer, byteOffset, byteLength);

describe("samples of a file", () => {
  it("stay in single precision where the file holds that, unless scaled", () => {
    const bytes = encodeCapture(inRange(1), {
      format: "WAV",
      sampleFormat: "float32",
    });
    const asStored = parseCaptures(bytes)[0]!.channels[0]!.samples;
    expect(asStored).toBeInstanceOf(Float32Array);
    const scaled = parseCaptures(bytes, { channels: { 0: { scale: 1e-3 } } });
    const { samples } = scaled[0]!.channels[0]!;
    expect(samples).toBeInstanceOf(Float64Array);
    // 1e-3 is the inverse of a whole number: a division gives the nearest.
    expect(samples[5]).toBe(asStored[5]! / 1000);
  });
});

describe("sha256: false", () => {
  it("leaves the hash out and says so in what is shown", async () => {
    const bytes = encodeCapture(capture, { format: "WAV" });
    const [read, parsed] = await bothWays(bytes, { sha256: false });
    for (const [item] of [read, parsed]) {
      expect(item!.source).toEqual({
        fileName: "a",
        sha256: null,
        format: "WAV",
      });
    }
    expect(printReport(read[0]!)).toContain("Capture a (not hashed)");
  });
  it("is not the default", async () => {
    const bytes = encodeCapture(capture, { format: "WAV" });
    expect((await readCapture(bytes)).source.sha256).toBe(
      await digestOf(bytes),
    );
  });
});

async function digestOf(bytes: Uint8Array): Promise<string> {
  return encodeHex(
    await crypto.subtle.digest("SHA-256", bytes as Uint8Array<ArrayBuffer>),
  );
}

/** A capture of whole 32768ths, whose file has a step of `scale`. */
function inRange(scale: number) {
  return createCapture(
    capture.channels.map((channel) => ({
      ...channel,
      scale,
      samples: channel.samples.map((value) => Math.round(value * 5000) / 32768),
    })),
    { samplingRate: 48e3 },
  );
}
