import { describe, expect, it } from "vitest";
import {
  CaptureFormatError,
  createCapture,
  readCapture,
  showDataFrame,
} from "fringebook";

/** All source files below a folder. */
function* sources(folder: URL): Generator<URL> {
  for (const { name, isDirectory } of Deno.readDirSync(folder)) {
    if (isDirectory) yield* sources(new URL(`${name}/`, folder));
    else if (name.endsWith(".ts")) yield new URL(name, folder);
  }
}

const room = new URL("../../lib/", import.meta.url);

describe("danfojs", () => {
  it("is loaded in one place, for its DataFrame alone", () => {
    const imports: string[] = [];
    for (const file of sources(room)) {
      const text = Deno.readTextFileSync(file);
      for (const line of text.split("\n")) {
        if (/(import|require|from)\b.*["'](npm:)?danfojs/.test(line)) {
          imports.push(`${file.href.slice(room.href.length)}: ${line.trim()}`);
        }
      }
    }
    expect(imports.sort()).toEqual([
      'display/data_frame.ts: () => import(["danfojs"].join()),',
      'runtime/danfojs.ts: import script from "npm:danfojs@1.1.2/lib/bundle.js" with { type: "text" };',
      'runtime/danfojs.ts: import type * as Danfojs from "npm:danfojs@1.1.2";',
    ]);
  });

  it("is never asked to read or write a file, nor is its spreadsheet parser", () => {
    const reading =
      /\b(readExcel|readCSV|readJSON|toExcel|streamCSV|openCsv|openExcel|xlsx|sheetjs)\b/i;
    const found = [...sources(room)]
      .filter((file) => reading.test(Deno.readTextFileSync(file)))
      // Hands on what danfojs has, by name.
      .filter(({ href }) => !href.endsWith("/runtime/danfojs.ts"))
      .map(({ href }) => href.slice(room.href.length));
    // What a person's own cell asks of danfojs: a text table, never a workbook.
    expect(found).toEqual(["kernel/interpreter/page_packages.ts"]);
    expect(Deno.readTextFileSync(new URL(found[0]!, room)))
      .not.toMatch(/excel|xlsx|sheetjs/i);
  });

  it("takes no spreadsheet for a capture, also where danfojs is loaded", async () => {
    const { DataFrame, toExcel } = await import("danfojs");
    expect(typeof toExcel).toBe("function");
    const capture = createCapture([{
      name: "monitor",
      role: "monitor signal",
      unit: "V",
      samples: Float64Array.of(1, 2, 3),
    }], { samplingRate: 1000 });
    const frame = await capture.toDataFrame();
    expect(frame).toBeInstanceOf(DataFrame);
    showDataFrame(frame as Parameters<typeof showDataFrame>[0]);
    // The beginning of a workbook: a ZIP archive of XML parts.
    const workbook = new Uint8Array(200);
    workbook.set(
      new TextEncoder().encode("PK\x03\x04\x14\0\0\0[Content_Types].xml"),
    );
    await expect(readCapture(workbook)).rejects.toThrow(CaptureFormatError);
  });

  it("leaves nothing of a page behind, and takes no tensor library with it", async () => {
    await import("danfojs");
    expect(typeof globalThis.process).toBe("object");
    expect("document" in globalThis).toBe(false);
    const lock = await Deno.readTextFile(
      new URL("runtime/packages.lock", room),
    );
    expect(lock).toContain('"danfojs@1.1.2": {');
    expect(lock).not.toMatch(/tensorflow|xlsx|mathjs/);
  });
});
