import { type Quantity, quantity } from "../result/mod.ts";
import type { SecondLine } from "./second_line.ts";
import type { SpeedTrack } from "./track_speed.ts";
import { findTurnModulation, gainOfFrames } from "./turn_modulation.ts";
import { findStandstills, type Standstill } from "./turning.ts";

/** Share of the frames in which a second line must be seen. */
const leastShare = 0.5;
const leastFrames = 16;
/** Depth of a modulation over its standard uncertainty, at least. */
const sureDepth = 5;

/** What a whole track shows beside the speed. */
export function findingsOf(
  {
    time,
    frequency,
    binWidth,
    abrupt = [],
    second,
    isTurning,
    one,
    repetition,
  }: {
    time: Float64Array;
    frequency: Float64Array;
    binWidth: number;
    /** Rests between a stop and a start at once, where they were looked for. */
    abrupt?: readonly Standstill[];
    second: SecondLine;
    /** Whether the surface turned round. */
    isTurning: boolean;
    /** Speed per frequency, in m/s per Hz. */
    one: Quantity;
    /** Frames that share the same samples (1). */
    repetition: number;
  },
): Pick<SpeedTrack, "standstills" | "modulation" | "secondSpeed"> {
  const gradual = findStandstills(time, frequency, binWidth);
  const rests = [
    ...gradual,
    ...abrupt.filter((rest) =>
      gradual.every(({ from, to }) => rest.to < from || rest.from > to)
    ),
  ].sort((a, b) => a.from - b.from);
  return {
    standstills: rests.map(restOf),
    modulation: isTurning || rests.length > 0 || time.length < 2
      ? null
      : modulationOf(
        frequency,
        1 / (time[1]! - time[0]!),
        repetition,
        1 / binWidth,
      ),
    secondSpeed: secondSpeedOf(second, one, repetition),
  };
}

function restOf({ from, to, standardUncertainty }: Standstill) {
  return {
    from: quantity(from, standardUncertainty, "s"),
    to: quantity(to, standardUncertainty, "s"),
  };
}

function modulationOf(
  frequency: Float64Array,
  frameRate: number,
  repetition: number,
  frameLength: number,
): SpeedTrack["modulation"] {
  const found = findTurnModulation(frequency, frameRate, repetition);
  if (
    found === null ||
    !(found.depth > sureDepth * found.depthStandardUncertainty)
  ) return null;
  const gain = gainOfFrames(found.frequency * frameLength);
  return {
    frequency: quantity(found.frequency, found.standardUncertainty, "Hz"),
    depth: quantity(
      found.depth / gain,
      found.depthStandardUncertainty / gain,
      "1",
    ),
  };
}

function secondSpeedOf(
  { seen, sum, squares, frames }: SecondLine,
  one: Quantity,
  repetition: number,
): Quantity | null {
  if (seen < leastFrames || seen < leastShare * frames) return null;
  const mean = sum / seen;
  const spread = Math.sqrt(Math.max(0, squares / seen - mean * mean));
  // A mean over the time that it was seen, of a speed that may change.
  const u = spread * Math.sqrt(Math.min(1, repetition / seen));
  return quantity(
    mean * one.value,
    Math.hypot(u * one.value, mean * one.standardUncertainty),
    "m/s",
  );
}
