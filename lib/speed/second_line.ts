import { copyOf } from "../memory/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import type { FollowedLine } from "./follow_line.ts";
import { refineTrack } from "./refine_track.ts";
import { followRidge } from "./ridge.ts";

/** What was seen of a line beside the one that was followed; plain data. */
export interface SecondLine {
  /** Frames in which it is seen. */
  readonly seen: number;
  /** Sum of its frequency over these, in Hz, and of its square, in Hz². */
  readonly sum: number;
  readonly squares: number;
  /** Frames looked at. */
  readonly frames: number;
}

export const noSecondLine: SecondLine = {
  seen: 0,
  sum: 0,
  squares: 0,
  frames: 0,
};

/** Harmonics of the line that are left out. */
const orders = 8;
/** Bins on either side of the line and its harmonics that are left out, at least. */
const leastReach = 5;
/** The same, as a part of the frequency. */
const relativeReach = 0.03;
/** Power of a second line over that of the first, at least. */
const leastPower = 0.02;

const work = "track the speed";

/**
 * Looks for a second line beside the one that was followed: its bins, those of its
 * harmonics (folded at half the sampling rate too) and of its halves are set to the
 * background, and a line is followed through what is left.
 *
 * @param followed The line.
 * @param from First frame that counts.
 * @param to Frame after the last.
 */
export function secondLineOf(
  { frames: { spectrogram, level }, raw, lowest, highest, masked }:
    FollowedLine,
  from: number,
  to: number,
): SecondLine {
  const bins = level.length;
  const { binWidth } = spectrogram;
  const density = copyOf(spectrogram.density, work);
  const nyquist = bins - 1;
  const own = new Float64Array(raw.length);
  for (let frame = 0; frame < raw.length; frame++) {
    if (frame % 64 === 0) checkpoint(NaN, work);
    const row = frame * bins;
    const bin = raw[frame]! / binWidth;
    if (bin !== bin) {
      density.set(level, row);
      continue;
    }
    own[frame] = density[row + Math.min(bins - 1, Math.round(bin))]!;
    for (
      const order of [
        0.5,
        ...Array.from({ length: orders }, (_, k) => k + 1),
      ]
    ) {
      const turns = order * bin / (2 * nyquist);
      const at = 2 * nyquist * Math.abs(turns - Math.round(turns));
      const reach = Math.max(leastReach, relativeReach * at) +
        (order > 1 ? order : 0);
      const last = Math.min(bins - 1, Math.ceil(at + reach));
      for (let k = Math.max(0, Math.floor(at - reach)); k <= last; k++) {
        density[row + k] = level[k]!;
      }
    }
  }
  const path = followRidge(density, level, { lowest, highest, masked });
  const found = refineTrack({ ...spectrogram, density }, level, path);
  let seen = 0, sum = 0, squares = 0;
  for (let frame = from; frame < to; frame++) {
    const value = found[frame]!;
    if (value !== value) continue;
    const power = density[frame * bins + path[frame]!]!;
    if (!(power > leastPower * own[frame]!)) continue;
    seen++;
    sum += value;
    squares += value * value;
  }
  return { seen, sum, squares, frames: to - from };
}

/** Two stretches of a record together. */
export function joinSecondLines(a: SecondLine, b: SecondLine): SecondLine {
  return {
    seen: a.seen + b.seen,
    sum: a.sum + b.sum,
    squares: a.squares + b.squares,
    frames: a.frames + b.frames,
  };
}
