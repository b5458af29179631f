import { type Capture, requireChannel } from "../capture/mod.ts";
import {
  type Option,
  optional,
  optionOf,
  type ReadOptions,
  readOptions,
  requireCapture,
} from "../options/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
} from "../result/mod.ts";
import type { Direction } from "./direction.ts";
import { dopplerSensitivity } from "./doppler.ts";
import {
  type DirectionChannel,
  directionFromDrive,
  directionSamples,
} from "./drive_direction.ts";
import { followLine, requireFrames, requireSeen } from "./follow_line.ts";
import { lineSearchSpec } from "./measure_speed.ts";
import {
  type SpeedInputs,
  speedInputs,
  speedInputSpec,
  speedWithBudget,
} from "./speed_budget.ts";
import { withoutMean } from "./speed_samples.ts";
import { decideDirection, frameEvidence } from "./track_direction.ts";
import type { TrackFrames } from "./track_frames.ts";
import {
  countDropouts,
  firstFold,
  headlines,
  scatter,
  totalOf,
  trackWarnings,
} from "./track_summary.ts";
import { findingsOf } from "./track_findings.ts";
import { secondLineOf } from "./second_line.ts";
import { findAbruptStops } from "./abrupt_stops.ts";
import { leaveOutRests, type Reflection, type Standstill } from "./turning.ts";

/** Options of {@linkcode trackSpeed}. */
export interface TrackSpeedOptions extends SpeedInputs {
  /**
   * Samples per spectrum, a power of two; `null` takes the length that gathers
   * most of the line in single bins.
   *
   * @default {null}
   */
  segmentLength?: number | null;
  /**
   * Band in which the line is followed, in Hz.
   *
   * @default {from 3 bins to 3 bins below half the sampling rate}
   */
  searchBand?: { low: number | string; high: number | string } | null;
  /**
   * Mains frequencies whose multiples do not count as the line, in Hz.
   *
   * @default {[50, 60]}
   */
  mains?: readonly (number | string)[];
  /**
   * Frames to either side over which the acceleration is taken (1).
   *
   * @default {8}
   */
  smoothing?: number;
  /**
   * Sign of the amplifier: 1 where more light gives more signal, -1 where it
   * gives less.
   *
   * @default {1}
   */
  polarity?: 1 | -1;
  /**
   * A channel that tells which way the target is driven; then the saw-tooth form
   * is not asked.
   *
   * @default {null}
   */
  directionChannel?: DirectionChannel | null;
}

/** The options of {@linkcode trackSpeed}. */
export const trackSpeedSpec = {
  ...speedInputSpec,
  ...lineSearchSpec,
  segmentLength: optional(
    optionOf.whole("Samples per spectrum, a power of two.", { least: 1 }),
    null,
    "the length that gathers most of the line in single bins",
  ),
  smoothing: optional(
    optionOf.whole(
      "Frames to either side over which the acceleration is taken (1).",
      { least: 1 },
    ),
    8,
  ),
} satisfies Record<keyof TrackSpeedOptions, Option>;

/** {@linkcode TrackSpeedOptions} as read. */
export type ReadTrackSpeedOptions = ReadOptions<typeof trackSpeedSpec>;

/** A stretch of the track between zero crossings. */
export interface TrackSpan {
  /** First frame. */
  readonly from: number;
  /** Frame after the last. */
  readonly to: number;
  /** Which way the surface moves along the beam. */
  readonly direction: Direction;
}

/** A time in which the surface stood still. */
export interface TrackStandstill {
  /** When it stopped, in s from the first sample. */
  readonly from: Quantity;
  /** When it started again, in s from the first sample. */
  readonly to: Quantity;
}

/** A change of the speed that comes back at even times. */
export interface TrackModulation {
  /** How often it comes back, in Hz. */
  readonly frequency: Quantity;
  /** Amplitude of the change over the mean speed (1). */
  readonly depth: Quantity;
}

/** Speed of a surface over time. */
export interface SpeedTrack extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "speed.track";
  /** Mean of the speed where the line is seen, in m/s, without sign. */
  readonly meanSpeed: Quantity;
  /** Highest smoothed speed, in m/s, without sign. */
  readonly highestSpeed: Quantity;
  /**
   * Lowest smoothed speed where the line is seen, in m/s, without sign; 0 where
   * the surface turns round or stands still.
   */
  readonly lowestSpeed: Quantity;
  /** Share of the record in which the line is seen (1). */
  readonly seenFraction: number;
  /** Middle of each frame, in s from the first sample. */
  readonly time: Float64Array;
  /** Frequency of the line, in Hz; `NaN` where it is not seen. */
  readonly frequency: Float64Array;
  /** Speed, in m/s, without sign; `NaN` where it is not seen. */
  readonly speed: Float64Array;
  /**
   * Standard uncertainty of the speed from the track's scatter, in m/s; that of
   * wavelength, angle, index and clock is common to all and in `scale`.
   */
  readonly speedStandardUncertainty: Float64Array;
  /**
   * Speed with sign, in m/s, positive where the surface recedes; `NaN` where it
   * is not seen or the direction is not determined.
   */
  readonly velocity: Float64Array;
  /**
   * Change of the speed (of the velocity where its sign is determined), in m/s²;
   * `NaN` where it is not seen.
   */
  readonly acceleration: Float64Array;
  /** Its standard uncertainty, in m/s². */
  readonly accelerationStandardUncertainty: Float64Array;
  /** Where the velocity goes through zero, as the surface turns round, in s. */
  readonly zeroCrossings: readonly Quantity[];
  /**
   * When the surface stood still: the line runs into zero frequency, stays away,
   * and runs out of it; from the start, or to the end, of the record too. Also where
   * it ends and comes back at once, for twelve of its periods and more, if it is
   * steady otherwise and the signal rests beside its mean.
   */
  readonly standstills: readonly TrackStandstill[];
  /**
   * A change of the speed that comes back at even times, as an eccentric shaft
   * makes it; `null` where there is none of three periods, or where it turns round.
   */
  readonly modulation: TrackModulation | null;
  /**
   * Mean of a second speed that is seen beside the first in half of the frames, in
   * m/s without sign; `null` where there is none.
   */
  readonly secondSpeed: Quantity | null;
  /** Stretches between the zero crossings. */
  readonly spans: readonly TrackSpan[];
  /** Speed per frequency, in m/s per Hz, with all that is common. */
  readonly scale: Quantity;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Frequencies of the spectrogram's bins, in Hz. */
    readonly bins: Float64Array;
    /** Densities in unit²/Hz, frame after frame. */
    readonly density: Float64Array;
    /** Background density of each bin, in unit²/Hz. */
    readonly background: Float64Array;
    /** Samples per frame. */
    readonly segmentLength: number;
    /** Samples from frame to frame. */
    readonly hop: number;
    /** Times the line is lost and found again. */
    readonly dropouts: number;
    /** How far the saw-tooth asymmetry is from 0, in standard deviations (1). */
    readonly directionSignificance: number;
  };
}

/**
 * Follows the Doppler line through changes of speed and drop-outs, with
 * acceleration, zero crossings and, where the saw-tooth form tells it, the sign.
 *
 * @param capture A capture with a monitor signal.
 * @param options Wavelength in m, angle in rad, frames, search.
 * @returns Speed over time.
 * @throws {NotMeasurableError} If no line is seen in any frame.
 * @throws {RangeError} If an option is out of range or a sample is missing.
 *
 * @example A surface that speeds up from 1 to 3 mm/s
 * ```ts
 * import { simulateCapture, trackSpeed } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 1e-3 * time + 5e-3 * time * time,
 *   samplingRate: 100_000,
 *   duration: 0.2,
 *   feedbackParameter: 0.7,
 * });
 * const track = trackSpeed(capture, { wavelength: 650e-9 });
 * // The last frame's middle lies a little before the end.
 * expect(Math.abs(track.highestSpeed.value / 3e-3 - 1)).toBeLessThan(0.03);
 * ```
 */
export function trackSpeed(
  capture: Capture,
  options: TrackSpeedOptions,
): SpeedTrack & Shown {
  const task = "follow a speed";
  requireCapture(capture, task);
  const read = readOptions(trackSpeedSpec, options, task);
  const {
    segmentLength,
    searchBand,
    mains,
    smoothing,
    polarity,
    directionChannel,
  } = read;
  const driven = directionChannel === null
    ? null
    : directionSamples(capture, directionChannel, task);
  const channel = requireChannel(capture, "monitor signal");
  const { samplingRate, sampleCount } = capture;
  const samples = withoutMean(channel.samples);
  const { speed: one } = speedWithBudget(
    quantity(1, 0, "Hz"),
    read,
    task,
  );
  requireFrames(segmentLength, sampleCount, smoothing);
  const followed = followLine(
    samples,
    samplingRate,
    { segmentLength, searchBand, mains, smoothing },
  );
  const { frames: made, band, raw, smooth } = followed;
  const { spectrogram: frames, level } = made;
  const { binWidth } = frames;
  const repetition = frames.segmentLength / frames.hop;
  // Within a frame a turn and a rest look alike, and the turn is taken; a longer
  // rest is one, and what looks like a turn in it is noise.
  const halfFrame = frames.time[0]!;
  const isNear = (turn: Reflection, { from, to }: Standstill) =>
    turn.time > from - halfFrame && turn.time < to + halfFrame;
  const abrupt = findAbruptStops(samples, samplingRate, frames.time, raw)
    .filter((rest) =>
      rest.to - rest.from > 2 * halfFrame ||
      !followed.turns.some((turn) => isNear(turn, rest))
    );
  const crossings = followed.turns.filter((turn) =>
    !abrupt.some((rest) => isNear(turn, rest))
  );
  const dropouts = countDropouts(raw);
  leaveOutRests(abrupt, frames.time, [
    raw,
    smooth.value,
    smooth.standardUncertainty,
    smooth.slope,
    smooth.slopeStandardUncertainty,
  ]);
  const total = totalOf(smooth.value, smooth.standardUncertainty);
  requireSeen(total.seen, band);
  const told = directionSpans(
    { samples, samplingRate, polarity },
    made,
    raw,
    crossings,
    abrupt,
  );
  const { significance } = told;
  const sampleAt = (frame: number) =>
    Math.min(sampleCount, frame * frames.hop + frames.segmentLength / 2);
  const spans = directionChannel === null || driven === null
    ? told.spans
    : told.spans.map((span) => ({
      ...span,
      direction: directionFromDrive(
        driven,
        directionChannel,
        sampleAt(span.from),
        sampleAt(span.to),
      ),
    }));
  const perHertz = 1 / Math.abs(dopplerSensitivity(read));
  const { velocity, acceleration } = signed(
    smooth.value,
    smooth.slope,
    spans,
    perHertz,
    samplingRate / frames.hop,
  );
  const speed = raw.map((value) => value * perHertz);
  const findings = findingsOf({
    time: frames.time,
    frequency: raw,
    binWidth,
    abrupt,
    second: secondLineOf(followed, 0, raw.length),
    isTurning: crossings.length > 0,
    one,
    repetition,
  });
  return createResult<SpeedTrack>({
    kind: "speed.track",
    ...headlines(total, one, repetition, {
      comesToRest: crossings.length + findings.standstills.length > 0,
    }),
    seenFraction: total.seen / raw.length,
    time: frames.time,
    frequency: raw,
    speed,
    speedStandardUncertainty: scatter(raw, smooth.value, smoothing).map((u) =>
      u * perHertz
    ),
    velocity,
    acceleration,
    accelerationStandardUncertainty: smooth.slopeStandardUncertainty.map((u) =>
      u * perHertz * samplingRate / frames.hop
    ),
    zeroCrossings: crossings.map(({ time, standardUncertainty }) =>
      quantity(time, standardUncertainty, "s")
    ),
    ...findings,
    spans,
    scale: quantity(perHertz, one.standardUncertainty, "m"),
    warnings: trackWarnings({
      fold: firstFold(raw, frames.time, binWidth, samplingRate),
      dropouts,
      samplingRate,
      spans,
      findings,
    }),
    provenance: provenance({
      method: "trackSpeed",
      captures: [capture.source],
      options: {
        ...read,
        segmentLength: frames.segmentLength,
        searchBand: band,
        mains: [...mains],
        smoothing,
        polarity,
        directionChannel,
      },
      inputs: speedInputs(options, read),
      sources: [
        "Viterbi 1967, IEEE Trans. Inf. Theory 13, 260",
        "Savitzky and Golay 1964, Anal. Chem. 36, 1627",
      ],
    }),
    diagnostics: {
      bins: frames.frequency,
      density: frames.density,
      background: level,
      segmentLength: frames.segmentLength,
      hop: frames.hop,
      dropouts,
      directionSignificance: significance,
    },
  });
}

/** What the samples of a track are. */
interface TrackSamples {
  readonly samples: Float64Array;
  readonly samplingRate: number;
  readonly polarity: 1 | -1;
}

/** Spans between turns; after a rest the surface may go either way. */
function directionSpans(
  signal: TrackSamples,
  made: TrackFrames,
  raw: Float64Array,
  crossings: readonly Reflection[],
  rests: readonly Standstill[],
): { spans: TrackSpan[]; significance: number } {
  const inside = rests.map(({ frame }) => frame)
    .filter((frame) => frame > 0 && frame < raw.length);
  const breaks = [0, ...inside, raw.length];
  const parts = breaks.slice(1).map((to, i) => {
    const from = breaks[i]!;
    const turns = crossings.map(({ frame }) => frame)
      .filter((frame) => frame > from && frame < to);
    return spansBetween(signal, made, raw, [from, ...turns, to]);
  });
  return {
    spans: parts.flatMap(({ spans }) => spans),
    significance: parts.reduce(
      (least, part) => Math.min(least, part.significance),
      Infinity,
    ),
  };
}

function spansBetween(
  { samples, samplingRate, polarity }: TrackSamples,
  { spectrogram: { time } }: TrackFrames,
  raw: Float64Array,
  edges: readonly number[],
): { spans: TrackSpan[]; significance: number } {
  const evidence = edges.slice(1).map((to, i) => {
    const one = frameEvidence(
      samples,
      samplingRate,
      time,
      raw,
      edges[i]!,
      to,
    );
    // The sign turns at every crossing: count all as if before the first.
    return i % 2 === 0 ? one : { ...one, sum: -one.sum };
  });
  const { direction, significance } = decideDirection(evidence, polarity);
  const opposite: Direction = direction === "receding"
    ? "approaching"
    : direction === "approaching"
    ? "receding"
    : "not determined";
  return {
    spans: evidence.map((_, i) => ({
      from: edges[i]!,
      to: edges[i + 1]!,
      direction: i % 2 === 0 ? direction : opposite,
    })),
    significance,
  };
}

function signed(
  frequency: Float64Array,
  slope: Float64Array,
  spans: readonly TrackSpan[],
  perHertz: number,
  frameRate: number,
): { velocity: Float64Array; acceleration: Float64Array } {
  const velocity = new Float64Array(frequency.length).fill(NaN);
  const acceleration = slope.map((value) => value * perHertz * frameRate);
  for (const { from, to, direction } of spans) {
    if (direction === "not determined") continue;
    const sign = direction === "receding" ? 1 : -1;
    for (let i = from; i < to; i++) {
      velocity[i] = sign * frequency[i]! * perHertz;
      acceleration[i]! *= sign;
    }
  }
  return { velocity, acceleration };
}
