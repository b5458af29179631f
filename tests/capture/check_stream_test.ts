import { describe, expect, it } from "vitest";
import {
  checkCapture,
  checkCaptureStream,
  createCapture,
  encodeCapture,
  openCaptureStream,
} from "fringebook";
import { createRandom } from "fringebook/signal";

const random = createRandom(5);
const count = 50_000;
const rate = 100e3;
const capture = createCapture([{
  name: "monitor",
  role: "monitor signal",
  unit: "V",
  samples: Float64Array.from({ length: count }, (_, n) => {
    const value = 0.2 * Math.sin(2 * Math.PI * 1500 * n / rate) +
      0.01 * random.normal();
    // Clipped in the third fifth only.
    return n >= 20_000 && n < 30_000 ? Math.min(0.1, value) : value;
  }),
}], { samplingRate: rate });

describe("checkCaptureStream", () => {
  it("tells where a finding begins and in how many blocks it is", async () => {
    using stream = await openCaptureStream(
      encodeCapture(capture, { format: "WAV" }),
    );
    const check = await checkCaptureStream(stream, { blockLength: 10_000 });
    expect(check.verdict).toBe("doubtful");
    expect(check.warnings.map(({ code }) => code)).toEqual(["clipped"]);
    expect(check.warnings[0]!.message).toContain(
      "From 0.2 s on, in 1 of 5 blocks",
    );
    expect(check.sampleCount).toBe(count);
    expect(Array.from(check.diagnostics.start)).toEqual([
      0,
      0.1,
      0.2,
      0.3,
      0.4,
    ]);
    const whole = checkCapture(capture);
    // Medians over other blocks of the same noise: within 3 %.
    expect(Math.abs(check.noise.value / whole.noise.value - 1))
      .toBeLessThan(0.03);
    expect(check.clippedFraction).toBeGreaterThan(0.3);
  });
});
