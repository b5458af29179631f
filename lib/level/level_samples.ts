import { type Capture, requireChannel } from "../capture/mod.ts";
import { optional, optionOf } from "../options/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { warn, type Warning } from "../result/mod.ts";

/** Mask of the samples between two checkpoints. */
const stride = 0x1ffff;

/** The gain of the monitor's amplifier, as every level takes it. */
export const transimpedanceOption = optional(
  optionOf.finite(
    "Transimpedance of the monitor's amplifier, in V/A.",
    "V/A",
    "100kV/A",
  ),
  100e3,
);

/** How a level is read off the monitor channel of a capture. */
export interface LevelScale {
  /** Unit of the level: `"A"`, or that of a channel in neither V nor A. */
  readonly unit: string;
  /** Level per sample of the channel. */
  readonly factor: number;
  /** Options that the level rests on. */
  readonly restsOn: readonly string[];
  /** Doubts about the level. */
  readonly warnings: readonly Warning[];
}

/** The scale of the monitor channel: a channel in V is divided by the gain. */
export function levelScale(
  capture: Capture,
  transimpedance: number,
  task: string,
): LevelScale {
  if (transimpedance === 0) {
    throw new RangeError(
      `Cannot ${task} as 'transimpedance' must not be 0 V/A: give the gain of the amplifier, negative if it inverts`,
    );
  }
  const { unit, name } = requireChannel(capture, "monitor signal");
  if (unit === "V") {
    return {
      unit: "A",
      factor: 1 / transimpedance,
      restsOn: ["transimpedance"],
      warnings: [],
    };
  }
  return {
    unit,
    factor: 1,
    restsOn: [],
    warnings: unit === "A" ? [] : [warn(
      "no-unit",
      `The monitor channel '${name}' is in ${
        unit === "1" ? "no unit" : unit
      } and not in V or A: levels are in its own numbers. Give its 'unit' and 'scale' when reading the file`,
      "note",
    )],
  };
}

/**
 * Means of whole blocks of samples; missing samples are left out, and a block that
 * has none is `NaN`. What is left over at the end is not used.
 */
export function blockMeans(
  samples: ArrayLike<number>,
  blockLength: number,
  factor: number,
): Float64Array {
  const means = new Float64Array(Math.floor(samples.length / blockLength));
  for (let block = 0; block < means.length; block++) {
    let sum = 0;
    let count = 0;
    const start = block * blockLength;
    for (let i = start; i < start + blockLength; i++) {
      if ((i & stride) === stride) checkpoint(i / samples.length, "average");
      const value = samples[i]!;
      if (value - value !== 0) continue;
      sum += value;
      count++;
    }
    means[block] = count > 0 ? factor * sum / count : NaN;
  }
  return means;
}

/** Mean, standard deviation and lag-one correlation of what is there. */
export function momentsOf(values: ArrayLike<number>): {
  count: number;
  mean: number;
  standardDeviation: number;
  correlation: number;
} {
  const isThere = (value: number) => value - value === 0;
  let count = 0;
  let sum = 0;
  for (let i = 0; i < values.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, "average");
    if (!isThere(values[i]!)) continue;
    sum += values[i]!;
    count++;
  }
  const mean = sum / count;
  let squares = 0;
  let products = 0;
  let before = 0;
  for (let i = 0; i < values.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, "average");
    if (!isThere(values[i]!)) continue;
    const from = values[i]! - mean;
    squares += from * from;
    products += from * before;
    before = from;
  }
  return {
    count,
    mean,
    standardDeviation: count > 1 ? Math.sqrt(squares / (count - 1)) : NaN,
    correlation: squares > 0 ? products / squares : 0,
  };
}

/**
 * A record that was coupled with AC has lost its level: it swings about zero.
 */
export function couplingWarning(mean: number, deviation: number): Warning[] {
  return Math.abs(mean) < 0.5 * deviation
    ? [warn(
      "no-level",
      "The signal swings about zero, as behind a coupling capacitor: then it has no level. Record it coupled with DC",
    )]
    : [];
}
