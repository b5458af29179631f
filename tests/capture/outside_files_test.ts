import { describe, expect, it } from "vitest";
import { readCapture } from "fringebook";
import expected from "./fixtures/expected.json" with { type: "json" };

// The files were written, and the numbers read back, by NumPy and SciPy:
// fixtures/make_numpy_fixtures.py. Values must agree to the last bit; where a
// unit is scaled, NumPy divides by 1000 as we do.

interface Expected {
  rate: number | null;
  channels: number[][];
}

const folder = new URL("./fixtures/", import.meta.url);

describe("readCapture", () => {
  for (const [name, item] of Object.entries(expected)) {
    if (typeof item === "string") continue;
    const { rate, channels } = item as Expected;
    it(`reads ${name} as NumPy or SciPy does`, async () => {
      const capture = await readCapture(
        new URL(name, folder),
        rate === null ? { samplingRate: 1000 } : {},
      );
      // A time column printed with few digits gives the rate to 1e-9.
      expect(Math.abs(capture.samplingRate / (rate ?? 1000) - 1))
        .toBeLessThan(1e-9);
      expect(capture.channels.map(({ samples }) => Array.from(samples)))
        .toEqual(channels);
      expect(capture.source.fileName).toBe(name);
      expect(capture.source.sha256).toMatch(/^[0-9a-f]{64}$/);
    });
  }
});
