import { describe, expect, it } from "vitest";
import { createCapture, cutCapture } from "fringebook";

const capture = createCapture([{
  name: "A",
  role: "monitor signal",
  unit: "V",
  samples: Float64Array.from({ length: 10 }, (_, i) => i),
}], { samplingRate: 10, startTime: "2026-01-01T00:00:00.000Z" });

describe("cutCapture", () => {
  it("keeps the samples from the start up to, not with, the end", () => {
    const cut = cutCapture(capture, { from: 0.2, to: 0.5 });
    expect([...cut.channels[0]!.samples]).toEqual([2, 3, 4]);
    expect(cut.startTime).toBe("2026-01-01T00:00:00.200Z");
    expect(cut.source).toEqual(capture.source);
  });
  it("keeps all without options and refuses an empty window", () => {
    expect(cutCapture(capture).sampleCount).toBe(10);
    expect(() => cutCapture(capture, { from: 2 })).toThrow("0 s to 1 s");
  });
});
