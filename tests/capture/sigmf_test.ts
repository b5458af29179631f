import { describe, expect, it } from "vitest";
import { createHash } from "node:crypto";
import {
  createCapture,
  encodeCapture,
  parseCapture,
  readCapture,
  writeCapture,
} from "fringebook";

const capture = createCapture([
  {
    name: "monitor",
    role: "monitor signal",
    unit: "V",
    samples: Float64Array.of(1, 2, 3),
  },
  {
    name: "drive",
    role: "drive current",
    unit: "A",
    samples: Float64Array.of(4, 5, 6),
  },
], { samplingRate: 48e3, startTime: "2026-05-01T12:00:00Z" });

/** Writes a recording, lets `change` alter it, and reads it back. */
async function altered(
  change: (meta: Record<string, Record<string, unknown>>) => Uint8Array | null,
) {
  const folder = await Deno.makeTempDir();
  try {
    await writeCapture(`${folder}/a.sigmf-meta`, capture);
    const path = `${folder}/a.sigmf-meta`;
    const meta = JSON.parse(await Deno.readTextFile(path));
    const data = change(meta);
    if (data !== null) await Deno.writeFile(`${folder}/a.sigmf-data`, data);
    await Deno.writeTextFile(path, JSON.stringify(meta));
    return await readCapture(path);
  } finally {
    await Deno.remove(folder, { recursive: true });
  }
}

// Field names and patterns: SigMF specification 1.2, schema of the core
// namespace (sigmf-schema.json, v1.2.2).
describe("SigMF", () => {
  it("is written with the fields that the schema asks for", async () => {
    const folder = await Deno.makeTempDir();
    try {
      await writeCapture(`${folder}/a.sigmf-meta`, capture);
      const meta = JSON.parse(
        await Deno.readTextFile(`${folder}/a.sigmf-meta`),
      );
      const data = await Deno.readFile(`${folder}/a.sigmf-data`);
      expect(Object.keys(meta)).toEqual(["global", "captures", "annotations"]);
      const { global, captures } = meta;
      expect(global["core:datatype"]).toMatch(
        /^(c|r)(f32|f64|i32|i16|u32|u16|i8|u8)(_le|_be)?$/,
      );
      expect(global["core:version"]).toMatch(/^\d+\.\d+\.\d+$/);
      expect(global["core:num_channels"]).toBe(2);
      expect(global["core:sample_rate"]).toBe(48e3);
      expect(global["core:sha512"]).toBe(
        createHash("sha512").update(data).digest("hex"),
      );
      for (const extension of global["core:extensions"]) {
        expect(Object.keys(extension).sort())
          .toEqual(["name", "optional", "version"]);
      }
      expect(captures).toEqual([{
        "core:sample_start": 0,
        "core:datetime": "2026-05-01T12:00:00Z",
      }]);
      // Samples interleave: monitor, drive, monitor, drive, …
      expect(Array.from(new Float64Array(data.buffer)))
        .toEqual([1, 4, 2, 5, 3, 6]);
    } finally {
      await Deno.remove(folder, { recursive: true });
    }
  });
  it("of other programs is read: whole numbers, big-endian, complex", async () => {
    const plain = (type: string, bytes: number[], channels = 1) =>
      altered((meta) => {
        meta.global = {
          "core:datatype": type,
          "core:version": "1.0.0",
          "core:sample_rate": 1e6,
          "core:num_channels": channels,
          "core:description": "bench",
        };
        return Uint8Array.from(bytes);
      });
    const arrays = ({ channels }: typeof capture) =>
      channels.map(({ samples }) => Array.from(samples));
    const two = await plain("ri16_be", [0, 1, 255, 255, 0, 2, 255, 254], 2);
    expect(arrays(two as typeof capture)).toEqual([[1, 2], [-1, -2]]);
    expect(two.samplingRate).toBe(1e6);
    expect(two.metadata["core:description"]).toBe("bench");
    const complex = await plain("cu8", [1, 2, 3, 4]);
    expect(arrays(complex as typeof capture)).toEqual([[1, 3], [2, 4]]);
    expect(complex.channels.map(({ name }) => name)).toEqual([
      "channel 1 real part",
      "channel 1 imaginary part",
    ]);
  });
  it("whose samples changed after recording is doubtful", async () => {
    const changed = await altered(() =>
      new Uint8Array(Float64Array.of(1, 4, 2, 5, 3, 7).buffer)
    );
    expect(changed.warnings.map(({ code, severity }) => [code, severity]))
      .toEqual([["checksum", "doubtful"]]);
    const archive = encodeCapture(capture);
    expect(parseCapture(archive).warnings).toEqual([]);
  });
  it("with several segments or extensions it must know says so", async () => {
    const read = await altered((meta) => {
      meta.captures = [
        { "core:sample_start": 0 },
        { "core:sample_start": 2 },
      ] as unknown as Record<string, unknown>;
      meta.global!["core:extensions"] = [
        { name: "other", version: "1.0.0", optional: false },
      ];
      return null;
    });
    expect(read.warnings.map(({ code }) => code)).toEqual([
      "several-segments",
      "unknown-extension",
    ]);
  });
  it("without its samples says which file is missing", async () => {
    const folder = await Deno.makeTempDir();
    try {
      await writeCapture(`${folder}/a.sigmf-meta`, capture);
      await Deno.remove(`${folder}/a.sigmf-data`);
      let message = "";
      try {
        await readCapture(`${folder}/a.sigmf-meta`);
      } catch (error) {
        message = String(error);
      }
      expect(message).toContain("a.sigmf-data' as there is no such file");
    } finally {
      await Deno.remove(folder, { recursive: true });
    }
  });
});
