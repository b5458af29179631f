import { quantity, type Result, type Shown } from "fringebook";
import {
  createResult,
  provenance,
  registerPresenter,
  warn,
  type Warning,
} from "fringebook/result";

/** A result with every kind of row, with texts put in by the test. */
export function sampleResult(
  text: string,
  warnings: Warning[] = [
    warn("few-steps", `only 3 steps ${text}`),
    warn("hint", text, "note"),
  ],
): Result & Shown {
  return createResult({
    kind: "test.sample",
    length: quantity(0.2, 0.0003, "m"),
    text,
    warnings,
    provenance: provenance({
      method: "testSample",
      captures: [{
        fileName: text,
        sha256: "0123456789abcdef0123456789abcdef",
      }],
      sources: [`Nobody ${text}`],
    }),
    diagnostics: {},
  });
}

interface Sample extends Result {
  readonly text: string;
  readonly length: ReturnType<typeof quantity>;
}

registerPresenter<Sample>("test.sample", {
  report: (result) => ({
    title: `Sample ${result.text}`,
    headlines: [{ label: `length ${result.text}`, ...result.length }],
    rows: [
      { label: "wavelength", value: 650e-9, unit: "m" },
      { label: "noise", value: 1e-3, unit: "V", standardUncertainty: 2e-5 },
      { label: "text", value: result.text, note: result.text },
      { label: "flag", value: true },
      { label: "missing", value: null },
      { label: "not a number", value: NaN, unit: "m" },
      { label: "infinite", value: -Infinity, unit: "m" },
    ],
    figures: [{
      name: "line",
      caption: `A line ${result.text}`,
      draw: () => ({
        data: [{ type: "scatter", x: [0, 1, 2], y: [0, 1, 4] }],
        layout: { title: { text: "A line" } },
      }),
    }],
    method: `By hand ${result.text}`,
  }),
});
