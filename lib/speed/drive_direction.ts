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

/** How much of a drive has each sign. */
export interface DriveEvidence {
  readonly positive: number;
  readonly negative: number;
}

/** The drive over a stretch of samples, which is cut into 16 parts. */
export function driveEvidence(
  samples: Samples,
  channel: DirectionChannel,
  from: number,
  to: number,
): DriveEvidence {
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
  return { positive, negative };
}

/** 1 for receding, −1 for approaching, 0 unless nine tenths have one sign. */
export function driveSign(
  { positive, negative }: DriveEvidence,
  { polarity = 1 }: DirectionChannel,
): 1 | -1 | 0 {
  const sum = positive + negative;
  if (!(sum > 0)) return 0;
  if (positive > 0.9 * sum) return polarity;
  if (negative > 0.9 * sum) return polarity > 0 ? -1 : 1;
  return 0;
}

/** Direction from a drive. */
export function driveDirection(
  evidence: DriveEvidence,
  channel: DirectionChannel,
): Direction {
  const sign = driveSign(evidence, channel);
  return sign === 0 ? "not determined" : sign > 0 ? "receding" : "approaching";
}

/**
 * Direction over a stretch of samples from a drive channel; "not determined"
 * unless nine tenths of the drive have one sign.
 */
export function directionFromDrive(
  samples: Samples,
  channel: DirectionChannel,
  from: number,
  to: number,
): Direction {
  return driveDirection(driveEvidence(samples, channel, from, to), channel);
}
