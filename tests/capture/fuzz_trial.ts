import { describe, expect, it } from "vitest";
import { corpora, judge, judgeStream, mutate } from "./fuzz.ts";

const filesPerFormat = 100_000;

describe("readers of hostile files", () => {
  for (const [format, { seeds, options }] of Object.entries(corpora)) {
    it(`end well or with a CaptureFormatError for ${filesPerFormat} mutated ${format} files`, async () => {
      const before = Object.getOwnPropertyNames(Object.prototype).length;
      const found: string[] = [];
      for (let index = 0; index < filesPerFormat; index++) {
        const bytes = mutate(seeds, index);
        const fault = judge(bytes, options) ??
          (index % 50 === 0 ? await judgeStream(bytes, options) : null);
        if (fault !== null) found.push(`${format} ${index}: ${fault}`);
        if (found.length > 5) break;
      }
      expect(found).toEqual([]);
      expect(Object.getOwnPropertyNames(Object.prototype).length).toBe(before);
    });
  }
});
