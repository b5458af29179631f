import { describe, expect, it } from "vitest";
import { measureSpeed, measureSpeedStream, streamOfCapture } from "fringebook";
import type { StreamState } from "fringebook/capture";
import { createRandom } from "fringebook/signal";
import type { SpeedStreamState } from "fringebook/speed";
import { broadenedLine, captureOf } from "./simulated_line.ts";

const capture = captureOf(
  broadenedLine(1 << 16, 0.1, 0.003, 1, createRandom(5)),
  1e6,
);
const wavelength = 650e-9;

describe("measureSpeedStream", () => {
  it("is measureSpeed() for a capture of one block", async () => {
    const long = await measureSpeedStream(streamOfCapture(capture), {
      wavelength,
    });
    const whole = measureSpeed(capture, { wavelength });
    // Only the rounding of the weighted mean of one value differs.
    expect(long.speed.value / whole.speed.value).toBeCloseTo(1, 12);
    expect(long.speed.standardUncertainty / whole.speed.standardUncertainty)
      .toBeCloseTo(1, 9);
    expect(long.direction).toBe(whole.direction);
    expect(long.warnings).toEqual(whole.warnings);
  });

  it("agrees with the whole record, block by block", async () => {
    const long = await measureSpeedStream(streamOfCapture(capture), {
      wavelength,
      blockLength: 1 << 13,
    });
    const whole = measureSpeed(capture, { wavelength });
    // The same speckle in both: they differ by less than either is sure.
    expect(Math.abs(long.speed.value - whole.speed.value)).toBeLessThan(
      2 * Math.max(
        long.speed.standardUncertainty,
        whole.speed.standardUncertainty,
      ),
    );
    expect(long.speed.standardUncertainty / whole.speed.standardUncertainty)
      .toBeLessThan(3);
  });

  it("goes on from a state that went through JSON", async () => {
    const options = { wavelength, blockLength: 1 << 13 };
    let state: StreamState<SpeedStreamState> | null = null;
    const once = await measureSpeedStream(streamOfCapture(capture), {
      ...options,
      onBlock: (fraction, stand) => {
        if (fraction < 0.5) state = JSON.parse(JSON.stringify(stand()));
      },
    });
    const again = await measureSpeedStream(streamOfCapture(capture), {
      ...options,
      resume: state!,
    });
    expect(again.speed).toEqual(once.speed);
    expect(again.diagnostics.density).toEqual(once.diagnostics.density);
  });
});
