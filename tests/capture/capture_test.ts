import { describe, expect, it } from "vitest";
import { createCapture, requireChannel } from "fringebook";

const channel = {
  name: "A",
  role: "monitor signal" as const,
  unit: "V",
  samples: Float64Array.of(1, 2, 3),
};

describe("createCapture", () => {
  it("fills in every field", () => {
    const capture = createCapture([channel], { samplingRate: 10 });
    expect(capture.channels[0]?.scale).toBe(1);
    expect(capture.channels[0]?.fullScale).toBe(null);
    expect(capture.startTime).toBe(null);
    expect(capture.source.format).toBe("memory");
  });
  it("refuses no channel, no sample, unequal lengths and a bad sampling rate", () => {
    expect(() => createCapture([], { samplingRate: 1 })).toThrow(RangeError);
    expect(() =>
      createCapture([{ ...channel, samples: new Float64Array(0) }], {
        samplingRate: 1,
      })
    ).toThrow("no samples");
    expect(() =>
      createCapture([channel, { ...channel, samples: new Float64Array(2) }], {
        samplingRate: 1,
      })
    ).toThrow("differ in length");
    expect(() => createCapture([channel], { samplingRate: 0 })).toThrow(
      "current value is 0",
    );
  });
});

describe("requireChannel", () => {
  it("names the channels that there are", () => {
    const capture = createCapture([channel], { samplingRate: 10 });
    expect(() => requireChannel(capture, "drive current")).toThrow(
      "'A' (monitor signal)",
    );
  });
});
