import { describe, expect, it } from "vitest";
import {
  createCapture,
  simulateCapture,
  streamOfCapture,
  trackSpeed,
  trackSpeedStream,
} from "fringebook";
import type { StreamState } from "fringebook/capture";
import { createRandom } from "fringebook/signal";
import type { SpeedTrackStreamState } from "fringebook/speed";
import { captureOf } from "./simulated_line.ts";

const wavelength = 650e-9;

/** A surface that swings slowly: v = 0.6 mm × 2π cos 2πt, zero at 0.25 s, … */
const swinging = simulateCapture({
  distance: (time) => 0.1 + 0.6e-3 * Math.sin(2 * Math.PI * time),
  samplingRate: 100_000,
  duration: 3.2,
  feedbackParameter: 0.7,
  noise: { signalToNoiseRatio: 10 },
});
const truth = (time: number) =>
  0.6e-3 * 2 * Math.PI * Math.cos(2 * Math.PI * time);

/** Ten digits: factors are multiplied in another order. */
const rounded = (value: unknown) =>
  JSON.stringify(
    value,
    (_, item) =>
      ArrayBuffer.isView(item)
        ? Array.from(item as Float64Array, (n) => n.toPrecision(10))
        : typeof item === "number"
        ? item.toPrecision(10)
        : item,
  );

describe("trackSpeedStream", () => {
  it("is trackSpeed() for a capture of one block", async () => {
    const whole = trackSpeed(swinging, { wavelength });
    const long = await trackSpeedStream(streamOfCapture(swinging), {
      wavelength,
      blockLength: swinging.sampleCount,
      mostPoints: 1 << 14,
    });
    const { provenance: _, ...plain } = whole;
    for (const key of Object.keys(plain) as (keyof typeof plain)[]) {
      expect([key, rounded(long[key])]).toEqual([key, rounded(plain[key])]);
    }
  });

  it("follows the line across the edges of its windows", async () => {
    const whole = trackSpeed(swinging, { wavelength });
    const { segmentLength } = whole.diagnostics;
    const long = await trackSpeedStream(streamOfCapture(swinging), {
      wavelength,
      segmentLength,
      blockLength: 50_000,
      mostPoints: 1 << 14,
    });
    expect(long.time).toEqual(whole.time);
    expect(long.zeroCrossings.length).toBe(6);
    long.zeroCrossings.forEach(({ value, standardUncertainty }, at) => {
      expect(Math.abs(value - (0.25 + 0.5 * at)))
        .toBeLessThan(4 * standardUncertainty);
    });
    expect(long.spans.map(({ direction }) => direction)).toEqual(
      whole.spans.map(({ direction }) => direction),
    );
    long.time.forEach((time, i) => {
      if (Math.abs(truth(time)) < 5e-4) return;
      // As for trackSpeed(): the middle of a frame against the truth.
      expect(Math.abs(long.velocity[i]! / truth(time) - 1)).toBeLessThan(0.02);
    });
    expect(long.meanSpeed.value / whole.meanSpeed.value).toBeCloseTo(1, 2);
  });

  it("keeps means of neighbouring frames where there are many", async () => {
    const long = await trackSpeedStream(streamOfCapture(swinging), {
      wavelength,
      blockLength: 50_000,
      mostPoints: 256,
    });
    expect(long.time.length).toBeGreaterThan(128);
    expect(long.time.length).toBeLessThan(257);
    const bins = long.diagnostics.bins.length;
    expect(long.diagnostics.density.length).toBe(long.time.length * bins);
    long.time.forEach((time, i) => {
      if (Math.abs(truth(time)) < 5e-4) return;
      // A point spans up to 25 ms, in which the speed changes by a sixth at
      // most; the middle of a straight change is its mean.
      expect(Math.abs(long.velocity[i]! / truth(time) - 1)).toBeLessThan(0.03);
    });
  });

  it("takes the direction from a drive channel", async () => {
    const drive = swinging.channels[0]!.samples.map((_, n) =>
      Math.cos(2 * Math.PI * n / 100_000)
    );
    const capture = createCapture([
      ...swinging.channels,
      { name: "motor", role: "other", unit: "V", samples: drive },
    ], { samplingRate: swinging.samplingRate });
    const options = {
      wavelength,
      directionChannel: { name: "motor", reading: "value", polarity: -1 },
    } as const;
    const whole = trackSpeed(capture, options);
    const long = await trackSpeedStream(streamOfCapture(capture), {
      ...options,
      blockLength: 50_000,
      mostPoints: 1 << 14,
    });
    expect(whole.spans[0]!.direction).toBe("approaching");
    expect(long.spans.map(({ direction }) => direction)).toEqual(
      whole.spans.map(({ direction }) => direction),
    );
    const middle = Math.round(long.time.length / 2);
    expect(Math.sign(long.velocity[middle]!)).toBe(
      Math.sign(whole.velocity[middle]!),
    );
  });

  it("goes on from a state that went through JSON", async () => {
    const options = { wavelength, blockLength: 50_000, mostPoints: 512 };
    for (const until of [0.1, 0.5, 0.9]) {
      let state: StreamState<SpeedTrackStreamState> | null = null;
      const once = await trackSpeedStream(streamOfCapture(swinging), {
        ...options,
        onBlock: (fraction, stand) => {
          if (fraction < until || state === null) {
            state = JSON.parse(JSON.stringify(stand()));
          }
        },
      });
      const again = await trackSpeedStream(streamOfCapture(swinging), {
        ...options,
        resume: state!,
      });
      expect(again).toEqual(once);
    }
  });

  it("stops when it is told to", async () => {
    const controller = new AbortController();
    await expect(trackSpeedStream(streamOfCapture(swinging), {
      wavelength,
      blockLength: 50_000,
      signal: controller.signal,
      onBlock: () => controller.abort(new Error("enough")),
    })).rejects.toThrow("enough");
  });

  it("says where there is no line, or too little of a record", async () => {
    const random = createRandom(3);
    const noise = Float64Array.from({ length: 40_000 }, () => random.normal());
    await expect(
      trackSpeedStream(streamOfCapture(captureOf(noise, 1e5)), { wavelength }),
    ).rejects.toThrow("no line rises above the noise");
    await expect(
      trackSpeedStream(streamOfCapture(captureOf(noise.slice(0, 1000), 1e5)), {
        wavelength,
      }),
    ).rejects.toThrow("record at least 2048");
    await expect(
      trackSpeedStream(streamOfCapture(swinging), {
        wavelength,
        mostPoints: 7,
      }),
    ).rejects.toThrow("'mostPoints' must be an even whole number");
  });
});
