import { describe, expect, it } from "vitest";
import { gzipSync } from "node:zlib";
import {
  encodeCapture,
  openCaptureStream,
  parseCapture,
  readCapture,
  writeCapture,
} from "fringebook";
import { createCapture } from "fringebook";

const capture = createCapture([{
  name: "a",
  role: "monitor signal",
  unit: "V",
  samples: Float64Array.of(1, 2, 3),
}], { samplingRate: 10 });

const message = (bytes: Uint8Array, options = {}) => {
  try {
    parseCapture(bytes, options);
    return "no error";
  } catch (error) {
    return `${(error as Error).name}: ${(error as Error).message}`;
  }
};

describe("claims of a header", () => {
  it("are held against the file before memory is taken: WAV", () => {
    const bytes = encodeCapture(capture, { format: "WAV" });
    const view = new DataView(bytes.buffer);
    view.setUint32(bytes.length - 24 - 4, 0x10000000, true);
    const cut = parseCapture(bytes);
    expect(cut.sampleCount).toBe(3);
    expect(cut.warnings.map(({ code }) => code)).toContain("truncated");
  });
  it("are held against the file before memory is taken: NPY", () => {
    const text =
      "{'descr': '<f8', 'fortran_order': False, 'shape': (900000000000,), }";
    const bytes = new Uint8Array(138).fill(32);
    bytes.set([0x93, 0x4e, 0x55, 0x4d, 0x50, 0x59, 1, 0, 118, 0]);
    bytes.set(new TextEncoder().encode(text), 10);
    expect(message(bytes)).toContain("needs 7200000000000 bytes but only");
  });
  it("are held against the file before memory is taken: NPZ", () => {
    const bytes = Deno.readFileSync(
      new URL("./fixtures/deflated.npz", import.meta.url),
    );
    const view = new DataView(bytes.buffer);
    const at = bytes.findLastIndex((_, index) =>
      index + 4 <= bytes.length && view.getUint32(index, true) === 0x02014b50
    );
    view.setUint32(at + 24, 0x70000000, true);
    expect(message(bytes)).toContain("more than allowed");
  });
  it("never make Python objects", () => {
    const text = "{'descr': '|O', 'fortran_order': False, 'shape': (3,), }";
    const bytes = new Uint8Array(200).fill(32);
    bytes.set([0x93, 0x4e, 0x55, 0x4d, 0x50, 0x59, 1, 0, 118, 0]);
    bytes.set(new TextEncoder().encode(text), 10);
    expect(message(bytes)).toContain("never loaded");
  });
});

describe("compressed files", () => {
  const bomb = new Uint8Array(gzipSync(new Uint8Array(50_000_000).fill(49)));
  it("are refused beyond the size that the caller allows", async () => {
    expect(message(bomb, { maximumSize: 1e6 })).toContain("maximumSize");
    const path = await Deno.makeTempFile({ suffix: ".gz" });
    await Deno.writeFile(path, bomb);
    let text = "";
    try {
      await openCaptureStream(path, { maximumSize: 1e6 });
    } catch (error) {
      text = String(error);
    }
    expect(text).toContain("maximumSize");
    await Deno.remove(path);
  });
  it("that are cut off are called damaged", () => {
    const bytes = new Uint8Array(gzipSync(new TextEncoder().encode("a\n1\n2")));
    expect(message(bytes.subarray(0, 15))).toContain("damaged or cut off");
  });
});

describe("SigMF metadata", () => {
  it("cannot point outside its own folder", async () => {
    const folder = await Deno.makeTempDir();
    try {
      await writeCapture(`${folder}/a.sigmf-meta`, capture);
      const meta = JSON.parse(
        await Deno.readTextFile(`${folder}/a.sigmf-meta`),
      );
      for (
        const name of ["../secret", "/etc/passwd", "..", "a\\b", "c:x", "", 5]
      ) {
        meta.global["core:dataset"] = name;
        await Deno.writeTextFile(
          `${folder}/a.sigmf-meta`,
          JSON.stringify(meta),
        );
        let text = "";
        try {
          await readCapture(`${folder}/a.sigmf-meta`);
        } catch (error) {
          text = String(error);
        }
        expect(text).toContain("not a plain file name");
      }
    } finally {
      await Deno.remove(folder, { recursive: true });
    }
  });
  it("cannot reach a prototype", () => {
    const bytes = encodeCapture(capture, { format: "SigMF" });
    const text = new TextDecoder("latin1").decode(bytes)
      .replace('"metadata": {}', '"__proto__":{}');
    const hostile = Uint8Array.from(text, (c) => c.charCodeAt(0));
    expect(message(hostile)).toBe("no error");
    expect(({} as Record<string, unknown>).x).toBe(undefined);
  });
});

describe("long lines", () => {
  // A pattern that backtracks takes minutes on 100 000 characters; 5 s is for
  // a busy machine.
  const length = 100_000;
  const rows = "\n1,2\n2,3\n3,4\n";
  const lines: [string, string][] = [
    ["brackets", "(".repeat(length)],
    ["brackets and colon", `${"([".repeat(length / 2)}:`],
    ["spaces", `x${" ".repeat(length)}y`],
    ["spaces in front", `${" ".repeat(length)}y`],
    ["quotes", '"'.repeat(length)],
    ["remark marks", `${"#".repeat(length)}x`],
    ["digits", `x,${"1".repeat(length)}`],
    ["grouped digits", `x,${"1,111".repeat(length / 5)}`],
    ["delimiters", ",;".repeat(length / 2)],
    ["tabs", `a${"\t".repeat(length)}b`],
    ["equals", "=".repeat(length)],
    ["columns", `${",".repeat(length)}1`],
    ["numbers", "1,".repeat(length / 2)],
    ["names", "a,".repeat(length / 2)],
    ["letters", `${"segment ".repeat(length / 8)}`],
  ];
  for (const [name, line] of lines) {
    it(`of ${name} take no long time`, () => {
      // The least of three runs: other work may have the processors for a while.
      let least = Infinity;
      for (let run = 0; run < 3 && !(least < 5000); run++) {
        const started = performance.now();
        for (
          const text of [
            line + rows,
            rows + line,
            `${line}\n`.repeat(3) + rows,
          ]
        ) message(new TextEncoder().encode(text), { samplingRate: 1 });
        least = Math.min(least, performance.now() - started);
      }
      expect(least).toBeLessThan(5000);
    });
  }
  it("of many blank rows and wide ones take no more memory than they need", () => {
    const wide = `${",".repeat(3000)}1\n`;
    const bytes = new TextEncoder().encode("\n".repeat(990) + wide.repeat(30));
    const before = Deno.memoryUsage().external;
    expect(message(bytes, { samplingRate: 1 })).toBe("no error");
    expect(Deno.memoryUsage().external - before).toBeLessThan(100e6);
  });
});
