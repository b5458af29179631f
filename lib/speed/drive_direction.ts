import type { Capture, Samples } from "../capture/mod.ts";
import type { Direction } from "./direction.ts";

/** A channel of the capture that tells which way the target is driven. */
export interface DirectionChannel {
  /** Name of the channel. */
  name: string;
  /**
   * What of it goes with the velocity: its value (a motor's voltage) or its
   * slope (the voltage of a positioner).
   */
  reading: "value" | "slope";
  /**
   * 1 where positive means receding, −1 where it means approaching.
   *
   * @default {1}
   */
  polarity?: 1 | -1;
}

/** The channel's samples; throws where the capture has no such channel. */
export function directionSamples(
  capture: Capture,
  channel: DirectionChannel,
  task: string,
): Samples {
  const found = capture.channels.find(({ name }) => name === channel.name);
  if (found === undefined) {
    throw new RangeError(
      `Cannot ${task} as there is no channel '${channel.name}' for the direction: the capture has ${
        capture.channels.map(({ name }) => `'${name}'`).join(", ")
      }`,
    );
  }
  return found.samples;
}

/**
 * Direction over a stretch of samples from a drive channel: the stretch is cut
 * into 16 parts; "not determined" unless nine tenths of the drive have one sign.
 */
export function directionFromDrive(
  samples: Samples,
  channel: DirectionChannel,
  from: number,
  to: number,
): Direction {
  const parts = 16;
  const step = Math.max(2, Math.floor((to - from) / parts));
  let positive = 0, negative = 0;
  for (let start = from; start + step <= to; start += step) {
    let value = 0;
    for (let i = start; i < start + step; i++) {
      const weight = channel.reading === "value"
        ? 1
        : i - start - (step - 1) / 2;
      value += weight * samples[i]!;
    }
    if (value > 0) positive += value;
    else negative -= value;
  }
  const sum = positive + negative;
  if (!(sum > 0)) return "not determined";
  const { polarity = 1 } = channel;
  if (positive > 0.9 * sum) return polarity > 0 ? "receding" : "approaching";
  if (negative > 0.9 * sum) return polarity > 0 ? "approaching" : "receding";
  return "not determined";
}
