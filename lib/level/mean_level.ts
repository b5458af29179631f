import { type Capture, requireChannel } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import { type Quantity, quantity, warn, type Warning } from "../result/mod.ts";
import {
  blockMeans,
  couplingWarning,
  levelScale,
  momentsOf,
} from "./level_samples.ts";

/** The level of one capture. */
export interface MeanLevel {
  /** Mean level with the uncertainty of the mean. */
  readonly level: Quantity;
  /** Standard deviation of the samples, in the unit of the level. */
  readonly deviation: number;
  /** Doubts about it. */
  readonly warnings: readonly Warning[];
  /** How it was read off the channel. */
  readonly scale: ReturnType<typeof levelScale>;
}

/** Numbers of blocks whose scatter is looked at. */
const blockCounts = [64, 24, 8];

/**
 * Mean level of a capture. Its uncertainty is that of the mean of block means, as
 * fringes, hum and slow noise make neighbouring samples alike: the largest over
 * blocks of three lengths (Flyvbjerg, Petersen 1989, from memory).
 */
export function meanLevel(
  capture: Capture,
  transimpedance: number,
  task: string,
): MeanLevel {
  const scale = levelScale(capture, transimpedance, task);
  const { samples } = requireChannel(capture, "monitor signal");
  if (samples.length < 16) {
    throw new NotMeasurableError(
      "record too short",
      `Cannot ${task} as the capture has ${samples.length} samples: record 16 or more`,
    );
  }
  const whole = momentsOf(blockMeans(samples, 1, scale.factor));
  if (whole.count < samples.length / 2) {
    throw new NotMeasurableError(
      "missing samples",
      `Cannot ${task} as ${
        samples.length - whole.count
      } of the ${samples.length} samples are missing: record it again`,
    );
  }
  let best = { u: 0, freedom: 1 };
  let moves = false;
  for (const blocks of blockCounts) {
    const length = Math.floor(samples.length / blocks);
    if (length < 1) continue;
    const { count, standardDeviation, correlation } = momentsOf(
      blockMeans(samples, length, scale.factor),
    );
    const u = standardDeviation / Math.sqrt(count);
    // Beyond chance for blocks of white noise, whose correlation is 0 ± 1/8.
    if (blocks === 64 && correlation > 0.6) moves = true;
    if (u > best.u) best = { u, freedom: count - 1 };
  }
  return {
    level: quantity(whole.mean, best.u, scale.unit, {
      degreesOfFreedom: best.freedom,
    }),
    deviation: whole.standardDeviation,
    warnings: [
      ...scale.warnings,
      ...couplingWarning(whole.mean, whole.standardDeviation),
      ...(moves
        ? [warn(
          "level-moves",
          "The level changes along the record, so that its mean is that of no one place: keep the target still, or cut out the part in which it is",
        )]
        : []),
    ],
    scale,
  };
}
