import { describe, expect, it } from "vitest";
import { createCapture, streamOfCapture } from "fringebook";
import type { StreamState } from "fringebook/capture";
import {
  createRandom,
  spectrogram,
  spectrogramStream,
  welch,
  welchStream,
} from "fringebook/signal";
import type { SpectrumAverageState } from "../../lib/signal/mod.ts";

const random = createRandom(3);
const samples = Float64Array.from(
  { length: 100_003 },
  (_, n) => Math.sin(0.3 * n) + random.normal(),
);
const capture = createCapture([{
  name: "A",
  role: "monitor signal",
  unit: "V",
  samples,
}], { samplingRate: 1000 });
const settings = { segmentLength: 512, overlap: 0.75 };
const whole = welch(samples, { samplingRate: 1000, ...settings });

// Only the order of the sums differs.
const rounding = 1e-12;

function largestRatio(a: Float64Array, b: Float64Array): number {
  return a.reduce(
    (most, value, k) => Math.max(most, Math.abs(value / b[k]! - 1)),
    0,
  );
}

describe("welchStream", () => {
  it("gives the spectrum of the whole record, whatever the blocks", async () => {
    for (const blockLength of [100, 4096, 99_999]) {
      const long = await welchStream(streamOfCapture(capture), {
        ...settings,
        blockLength,
      });
      expect(long.segmentCount).toBe(whole.segmentCount);
      expect(long.effectiveAverages).toBeCloseTo(whole.effectiveAverages, 9);
      expect(long.diagnostics).toEqual(whole.diagnostics);
      expect(largestRatio(long.density, whole.density)).toBeLessThan(rounding);
    }
  });

  it("goes on from a state that went through JSON", async () => {
    const stop = new AbortController();
    let state: StreamState<SpectrumAverageState> | null = null;
    const first = welchStream(streamOfCapture(capture), {
      ...settings,
      blockLength: 7000,
      signal: stop.signal,
      onBlock: (fraction, stand) => {
        if (fraction < 0.5) return;
        state = JSON.parse(JSON.stringify(stand()));
        stop.abort(new Error("stopped by a person"));
      },
    });
    await expect(first).rejects.toThrow("stopped by a person");
    const rest = await welchStream(streamOfCapture(capture), {
      ...settings,
      blockLength: 7000,
      resume: state!,
    });
    expect(rest.segmentCount).toBe(whole.segmentCount);
    expect(largestRatio(rest.density, whole.density)).toBeLessThan(rounding);
  });

  it("refuses the state of another analysis and says where a sample is missing", async () => {
    const other = {
      analysis: "spectrogramStream",
      point: { sample: 0, byteOffset: null, line: null },
      gathered: { sum: [], segments: { taken: 0, count: 0, waiting: [] } },
    };
    await expect(welchStream(streamOfCapture(capture), { resume: other }))
      .rejects.toThrow("state of spectrogramStream");
    const gap = samples.slice();
    gap[50_000] = NaN;
    const holed = createCapture([{ ...capture.channels[0]!, samples: gap }], {
      samplingRate: 1000,
    });
    await expect(welchStream(streamOfCapture(holed), { blockLength: 999 }))
      .rejects.toThrow("sample 50000");
  });
});

describe("spectrogramStream", () => {
  it("gives the columns of the whole record where they are few enough", async () => {
    const long = await spectrogramStream(streamOfCapture(capture), {
      segmentLength: 1024,
      blockLength: 5000,
    });
    const all = spectrogram(samples, {
      samplingRate: 1000,
      segmentLength: 1024,
    });
    expect(long.time).toEqual(all.time);
    expect(long.hop).toBe(all.hop);
    expect(largestRatio(long.density, all.density)).toBeLessThan(1e-9);
  });

  it("averages neighbouring columns where they are too many", async () => {
    const all = spectrogram(samples, {
      samplingRate: 1000,
      segmentLength: 1024,
    });
    const bins = all.frequency.length;
    for (const mostColumns of [40, 41]) {
      const long = await spectrogramStream(streamOfCapture(capture), {
        segmentLength: 1024,
        mostColumns,
        blockLength: 3333,
      });
      const each = long.hop / all.hop;
      expect(long.time.length).toBe(Math.floor(all.time.length / each));
      expect(long.time.length).toBeLessThanOrEqual(mostColumns);
      const column = 7, bin = 49;
      let mean = 0;
      for (let k = 0; k < each; k++) {
        mean += all.density[(column * each + k) * bins + bin]! / each;
      }
      expect(long.density[column * bins + bin]! / mean).toBeCloseTo(1, 9);
    }
  });
});
