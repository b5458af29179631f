import { describe, expect, it } from "vitest";
import {
  createCapture,
  encodeCapture,
  type WriteCaptureOptions,
} from "fringebook";
import { sniffCapture } from "fringebook/capture";

const encode = (text: string) => new TextEncoder().encode(text);

describe("sniffCapture", () => {
  it("tells each assumption, why, and the option that overrides it", async () => {
    const report = await sniffCapture(
      encode("# dt: 1 ms\nno.;monitor (mV)\n1;1.234,5\n2;2,5\n3;3,5\n"),
    );
    expect(report.variant).toBe("semicolon-delimited, decimal comma");
    expect(report.samplingRate).toBe(1000);
    expect(report.channels).toEqual([
      { name: "monitor", role: "monitor signal", unit: "V", scale: 0.001 },
    ]);
    const assumed = Object.fromEntries(
      report.assumptions.map(({ what, value, option }) => [
        what,
        [value, option],
      ]),
    );
    expect(assumed).toEqual({
      "delimiter": ["semicolon", "delimiter"],
      "decimal mark": ["comma", "decimalMark"],
      "thousands separator": ["'.'", "thousandsMark"],
      "first row of numbers": ["line 3", ""],
      "orientation": ["one line per sample", "orientation"],
      "time": ["no column", "timeColumn"],
    });
    for (const { because } of report.assumptions) {
      expect(because.length).toBeGreaterThan(10);
    }
    expect(report.diagnostics.firstSamples).toEqual([[1.2345, 0.0025, 0.0035]]);
  });
  it("knows each format by its first bytes", async () => {
    const capture = createCapture([{
      name: "a",
      role: "monitor signal",
      unit: "V",
      samples: Float64Array.of(1, 2, 3),
    }], { samplingRate: 10 });
    const formats: WriteCaptureOptions["format"][] = [
      "delimited text",
      "WAV",
      "NPZ",
      "NPY",
      "SigMF",
    ];
    for (const format of formats) {
      const bytes = encodeCapture(capture, { format: format! });
      const report = await sniffCapture(
        bytes,
        format === "NPY" ? { samplingRate: 10 } : {},
      );
      expect(report.format).toBe(format);
      expect(report.samplingRate).toBe(10);
      expect(report.diagnostics.firstSamples).toEqual([[1, 2, 3]]);
    }
  });
});
