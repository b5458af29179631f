import Module from "node:module";
import { describe, expect, it } from "vitest";
import {
  CaptureFormatError,
  createCapture,
  encodeCapture,
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
      'runtime/danfojs.ts: export * from "npm:danfojs@1.1.2";',
      'runtime/danfojs.ts: export { default } from "npm:danfojs@1.1.2";',
    ]);
  });

  it("is never asked to read or write a file, nor is its spreadsheet parser", () => {
    const reading =
      /\b(readExcel|readCSV|readJSON|toExcel|streamCSV|openCsv|openExcel|xlsx|sheetjs)\b/i;
    const found = [...sources(room)]
      .filter((file) => reading.test(Deno.readTextFileSync(file)))
      .map(({ href }) => href.slice(room.href.length));
    // What a person's own cell asks of danfojs: a text table, never a workbook.
    expect(found).toEqual(["kernel/interpreter/page_packages.ts"]);
    expect(Deno.readTextFileSync(new URL(found[0]!, room)))
      .not.toMatch(/excel|xlsx|sheetjs/i);
  });

  // Loads danfojs, which takes seconds.
  it("hands nothing to its spreadsheet parser while captures and results go through it", async () => {
    // deno-lint-ignore no-explicit-any
    const danfo = await import("danfojs") as any;
    const { _cache } = Module as unknown as {
      // deno-lint-ignore no-explicit-any
      _cache: Record<string, { exports: any }>;
    };
    const path = Object.keys(_cache).find((key) =>
      /[\\/]xlsx[\\/][^\\/]+[\\/]xlsx\.js$/.test(key)
    );
    expect(path).toBeDefined();
    const parser = _cache[path!]!.exports;
    let calls = 0;
    for (const name of ["read", "readFile", "readFileSync", "parse_zip"]) {
      const before = parser[name];
      parser[name] = (...given: unknown[]) => {
        calls++;
        return before(...given);
      };
    }

    const folder = await Deno.makeTempDir();
    try {
      const book = parser.utils.book_new();
      const sheet = parser.utils.json_to_sheet([{ time: 0, a: 1 }]);
      parser.utils.book_append_sheet(book, sheet, "one");
      const spreadsheet = `${folder}/a.xlsx`;
      const bytes = new Uint8Array(parser.write(book, { type: "array" }));
      await Deno.writeFile(spreadsheet, bytes);

      // The counter works: danfojs' own reader of spreadsheets moves it.
      await danfo.readExcel(new File([bytes], "a.xlsx"));
      expect(calls).toBeGreaterThan(0);
      calls = 0;

      const capture = createCapture([{
        name: "monitor",
        role: "monitor signal",
        unit: "V",
        samples: Float64Array.of(1, 2, 3),
      }], { samplingRate: 1000 });
      showDataFrame(
        await capture.toDataFrame() as Parameters<typeof showDataFrame>[0],
      );
      for (
        const format of [
          "delimited text",
          "WAV",
          "NPY",
          "NPZ",
          "SigMF",
        ] as const
      ) {
        const bytes = encodeCapture(capture, { format });
        await readCapture(bytes, format === "NPY" ? { samplingRate: 1e3 } : {});
      }
      const error = await readCapture(spreadsheet).catch((error) => error);
      expect(error).toBeInstanceOf(CaptureFormatError);
      expect(calls).toBe(0);
    } finally {
      await Deno.remove(folder, { recursive: true });
    }
  });
});
