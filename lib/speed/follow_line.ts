import { NotMeasurableError } from "../errors/mod.ts";
import { inDigits } from "../result/mod.ts";
import { refineTrack, type SmoothTrack, smoothTrack } from "./refine_track.ts";
import { turnsOf } from "./line_turns.ts";
import { followRidge } from "./ridge.ts";
import { requireBand } from "./speed_samples.ts";
import { type TrackFrames, trackFrames } from "./track_frames.ts";
import { nearBins, type Reflection } from "./turning.ts";

/** How a line is followed; as in `TrackSpeedOptions`. */
export interface FollowSettings {
  readonly segmentLength: number | null;
  readonly searchBand: { low: number; high: number } | null;
  readonly mains: readonly number[];
  readonly smoothing: number;
}

/** A line followed through a stretch of samples. */
export interface FollowedLine {
  readonly frames: TrackFrames;
  /** Band in which it was looked for, in Hz. */
  readonly band: { low: number; high: number };
  /** Frequency of each frame, in Hz; `NaN` where it is not seen. */
  readonly raw: Float64Array;
  readonly smooth: SmoothTrack;
  /** Where the surface turns round. */
  readonly turns: readonly Reflection[];
  /** First and last bin in which it was looked for. */
  readonly lowest: number;
  readonly highest: number;
  /** Bins of the mains, which do not count. */
  readonly masked: ReadonlySet<number>;
}

/** Shortest frames in which turns are looked for, in samples. */
const shortest = 64;

/**
 * Follows a line through the frames of a stretch of samples. Where no length of
 * the frames is given, it is the one that gathers most of the line in single bins;
 * or a shorter one, where only that is short enough to see the line run into zero
 * and out again as a surface turns round.
 *
 * @param samples Samples without their mean.
 * @param samplingRate In Hz.
 * @param settings Frames, band, smoothing.
 * @throws {RangeError} If the band is out of range.
 */
export function followLine(
  samples: Float64Array,
  samplingRate: number,
  settings: FollowSettings,
): FollowedLine {
  let best = followThrough(samples, samplingRate, settings);
  if (settings.segmentLength !== null) return best;
  const longer = [courseOf(best)];
  let segmentLength = best.frames.spectrogram.segmentLength / 2;
  for (; segmentLength >= shortest; segmentLength /= 2) {
    const all = followThrough(samples, samplingRate, {
      ...settings,
      segmentLength,
    });
    const { binWidth } = all.frames.spectrogram;
    const turns = all.turns.filter((turn) =>
      !longer.some((own) => staysClear(own, turn, nearBins * binWidth))
    );
    longer.push(courseOf(all));
    if (turns.length > best.turns.length) best = { ...all, turns };
  }
  return best;
}

/** What is kept of longer frames: their spectrograms take much memory. */
interface Course {
  readonly raw: Float64Array;
  readonly time: Float64Array;
  readonly binWidth: number;
}

function courseOf({ frames: { spectrogram }, raw }: FollowedLine): Course {
  return { raw, time: spectrogram.time, binWidth: spectrogram.binWidth };
}

/**
 * Whether longer frames, which resolve a line as steep as this, see that it comes
 * near to zero frequency and stays clear of it.
 */
function staysClear(
  { raw, time: times, binWidth }: Course,
  { time, slope }: Reflection,
  near: number,
): boolean {
  if (slope > 4 * binWidth ** 2 || times.length < 2) return false;
  const step = times[1]! - times[0]!;
  const frame = Math.round((time - times[0]!) / step);
  const own = raw.subarray(Math.max(0, frame - 1), frame + 2);
  return own.length > 0 &&
    own.every((value) => value > 4 * binWidth && value < near);
}

function followThrough(
  samples: Float64Array,
  samplingRate: number,
  { segmentLength, searchBand, mains, smoothing }: FollowSettings,
): FollowedLine {
  const lowest = searchBand?.low ?? samplingRate / 4096;
  const frames = trackFrames(samples, samplingRate, segmentLength, lowest);
  const { spectrogram, level } = frames;
  const { binWidth } = spectrogram;
  const band = requireBand(
    searchBand ??
      { low: 3 * binWidth, high: samplingRate / 2 - 3 * binWidth },
    samplingRate,
    samples.length / samplingRate,
  );
  const limits = {
    lowest: Math.max(2, Math.ceil(band.low / binWidth)),
    highest: Math.min(level.length - 2, Math.floor(band.high / binWidth)),
    masked: humBins(frames, mains),
  };
  const path = followRidge(spectrogram.density, level, limits);
  const raw = refineTrack(spectrogram, level, path);
  const turns = turnsOf({
    samples,
    samplingRate,
    time: spectrogram.time,
    frequency: raw,
    binWidth,
  });
  const repetition = spectrogram.segmentLength / spectrogram.hop;
  return {
    frames,
    band,
    raw,
    smooth: smoothTrack(raw, smoothing, repetition),
    turns,
    ...limits,
  };
}

/** Refuses a capture in which no frame shows a line. */
export function requireSeen(
  seen: number,
  band: { low: number; high: number },
): void {
  if (seen > 0) return;
  throw new NotMeasurableError(
    "no line",
    `Cannot follow a speed as no line rises above the noise between ${
      inDigits(band.low, 3)
    } and ${
      inDigits(band.high, 3)
    } Hz: check focus and aim, or give 'segmentLength'`,
  );
}

/** Checks what a track is made of. */
export function requireFrames(
  segmentLength: number | null,
  sampleCount: number,
  smoothing: number,
): void {
  const powerOfTwo = segmentLength === null ||
    (segmentLength >= 64 && Number.isInteger(Math.log2(segmentLength)) &&
      4 * segmentLength <= sampleCount);
  if (!powerOfTwo) {
    throw new RangeError(
      `Cannot follow a speed as 'segmentLength' must be a power of two from 64 to a quarter of the ${sampleCount} samples: current value is ${segmentLength}`,
    );
  }
  if (sampleCount < 2048) {
    throw new RangeError(
      `Cannot follow a speed over ${sampleCount} samples: record at least 2048, or use measureSpeed()`,
    );
  }
  if (!(Number.isInteger(smoothing) && smoothing >= 2)) {
    throw new RangeError(
      `Cannot follow a speed as 'smoothing' must be an integer of at least 2: current value is ${smoothing}. Leave it out for 8 frames`,
    );
  }
}

/** Bins on multiples of the mains that stand out steadily. */
function humBins(
  { spectrogram: { density, time, frequency, binWidth }, level }: TrackFrames,
  mains: readonly number[],
): Set<number> {
  const masked = new Set<number>();
  const bins = frequency.length;
  for (const base of mains) {
    for (let order = 1; order <= 20; order++) {
      const bin = Math.round(order * base / binWidth);
      if (bin < 2 || bin >= bins - 1 || base < 2 * binWidth) continue;
      let steady = 0;
      for (let frame = 0; frame < time.length; frame++) {
        if (density[frame * bins + bin]! > 4 * level[bin]!) steady++;
      }
      if (steady < 0.8 * time.length) continue;
      for (let k = bin - 1; k <= bin + 1; k++) masked.add(k);
    }
  }
  return masked;
}
