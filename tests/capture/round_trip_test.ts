import { describe, expect, it } from "vitest";
import {
  type Capture,
  createCapture,
  encodeCapture,
  parseCapture,
  readCapture,
  writeCapture,
  type WriteCaptureOptions,
} from "fringebook";

/** Awkward numbers: signs of zero, subnormal, huge, missing, full precision. */
const awkward = [
  0,
  -0,
  0.1,
  -1 / 3,
  5e-324,
  1.7976931348623157e308,
  2 ** 53 + 2,
  1e22,
  1e23,
  NaN,
  123456.7890123456,
  -9.999999999999999e-5,
];

const capture = createCapture([
  {
    name: 'monitor, "A"',
    role: "monitor signal",
    unit: "V",
    samples: Float64Array.from(awkward),
    scale: 0.001,
    fullScale: { low: -1.25, high: 1.2499 },
  },
  {
    name: "segment",
    role: "drive current",
    unit: "A",
    samples: Float64Array.from(awkward, (value, at) => value / 7 + at),
  },
], {
  // Not a whole number of hertz, and no short decimal interval.
  samplingRate: 1e6 / 3,
  startTime: "2026-05-01T12:00:00.250Z",
  metadata: { operator: "Zoë; team, B\n2", "__proto__": "x", lens: "f = 8 mm" },
});

const variants: WriteCaptureOptions[] = [
  { format: "delimited text" },
  { format: "delimited text", delimiter: ";", decimalMark: "," },
  { format: "delimited text", delimiter: "\t" },
  { format: "WAV" },
  { format: "WAV", rf64: true },
  { format: "NPZ" },
  { format: "SigMF" },
];

/** Everything but source, warnings and provenance. */
const content = (
  { channels, samplingRate, sampleCount, startTime, metadata }: Capture,
) => ({ channels, samplingRate, sampleCount, startTime, metadata });

describe("encodeCapture", () => {
  for (const options of variants) {
    it(`round-trips exactly as ${JSON.stringify(options)}`, () => {
      const again = parseCapture(encodeCapture(capture, options));
      expect(content(again)).toEqual(content(capture));
      // toEqual does not tell -0 from 0.
      expect(Object.is(again.channels[0]!.samples[1], -0)).toBe(true);
    });
  }
  it("round-trips samples, names and units through NPY", () => {
    const again = parseCapture(encodeCapture(capture, { format: "NPY" }), {
      samplingRate: 10,
    });
    expect(again.channels.map(({ name, unit, samples }) => [
      name,
      unit,
      samples,
    ])).toEqual(
      capture.channels.map(({ name, unit, samples }) => [name, unit, samples]),
    );
  });
  it("keeps whole numbers through WAV of 16, 24 and 32 bits", () => {
    for (const bits of [16, 24, 32]) {
      const half = 2 ** (bits - 1);
      const counts = createCapture([{
        name: "channel 1",
        role: "monitor signal",
        unit: "1",
        samples: Float64Array.of(-1, (half - 1) / half, 0, 1 / half),
        scale: 1 / half,
      }], { samplingRate: 44100 });
      const sampleFormat = `int${bits}` as "int16";
      const bytes = encodeCapture(counts, { format: "WAV", sampleFormat });
      expect(parseCapture(bytes).channels[0]!.samples)
        .toEqual(counts.channels[0]!.samples);
    }
  });
  it("refuses to round or clip silently", () => {
    expect(() =>
      encodeCapture(capture, { format: "WAV", sampleFormat: "float32" })
    ).toThrow("would be rounded");
    expect(() =>
      encodeCapture(capture, { format: "WAV", sampleFormat: "int16" })
    ).toThrow("use 'float64'");
    expect(() =>
      encodeCapture(capture, { format: "delimited text", decimalMark: "," })
    ).toThrow("at once");
  });
});

describe("writeCapture", () => {
  it("writes each ending, leaves no temporary file, and reads back", async () => {
    const folder = await Deno.makeTempDir();
    try {
      const names = [
        "a.csv",
        "a.tsv",
        "a.txt",
        "a.wav",
        "a.npz",
        "a.sigmf",
        "a.sigmf-meta",
        "b.csv.gz",
        "b.wav.gz",
      ];
      for (const name of names) {
        await writeCapture(`${folder}/${name}`, capture);
        const again = await readCapture(`${folder}/${name}`);
        expect(content(again)).toEqual(content(capture));
      }
      const left = [...Deno.readDirSync(folder)].map(({ name }) => name);
      expect(left.sort()).toEqual([...names, "a.sigmf-data"].sort());
      // The samples file names its metadata as well.
      const again = await readCapture(`${folder}/a.sigmf-data`);
      expect(content(again)).toEqual(content(capture));
    } finally {
      await Deno.remove(folder, { recursive: true });
    }
  });
  it("leaves the old file alone when writing fails", async () => {
    const folder = await Deno.makeTempDir();
    try {
      await Deno.writeTextFile(`${folder}/a.wav`, "old");
      let message = "";
      try {
        await writeCapture(`${folder}/a.wav`, capture, {
          sampleFormat: "int16",
        });
      } catch (error) {
        message = String(error);
      }
      expect(message).toContain("use 'float64'");
      expect(await Deno.readTextFile(`${folder}/a.wav`)).toBe("old");
      expect([...Deno.readDirSync(folder)].length).toBe(1);
    } finally {
      await Deno.remove(folder, { recursive: true });
    }
  });
  it("refuses an ending that says no format", async () => {
    let message = "";
    try {
      await writeCapture("capture.xyz", capture);
    } catch (error) {
      message = String(error);
    }
    expect(message).toContain("give 'format'");
  });
});
