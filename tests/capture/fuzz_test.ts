import { describe, expect, it } from "vitest";
import { corpora, judge, judgeStream, mutate } from "./fuzz.ts";

// 100 000 files per format are tried by fuzz_trial.ts.
const filesPerFormat = 1000;

describe("readers of hostile files", () => {
  for (const [format, { seeds, options }] of Object.entries(corpora)) {
    it(`end well or with a CaptureFormatError for mutated ${format} files`, async () => {
      for (const seed of seeds) expect(judge(seed, options)).toBe(null);
      for (let index = 0; index < filesPerFormat; index++) {
        const bytes = mutate(seeds, 1_000_000 + index);
        const fault = judge(bytes, options) ??
          (index % 20 === 0 ? await judgeStream(bytes, options) : null);
        if (fault !== null) {
          throw new Error(`${format} ${1_000_000 + index}: ${fault}`);
        }
      }
    });
  }
  it("end well for every file that once did not", async () => {
    const folder = new URL("./fixtures/regressions/", import.meta.url);
    for (const { name } of Deno.readDirSync(folder)) {
      const format = name.split("_")[0]!;
      const { options } = corpora[format]!;
      const bytes = Deno.readFileSync(new URL(name, folder));
      expect(judge(bytes, options)).toBe(null);
      expect(await judgeStream(bytes, options)).toBe(null);
    }
  });
});
