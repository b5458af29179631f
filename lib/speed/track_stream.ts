import {
  type BlockSource,
  type CaptureSource,
  requireChannel,
  runBlocks,
  type Samples,
  type StreamRunOptions,
} from "../capture/mod.ts";
import {
  type Option,
  optional,
  optionOf,
  pickOptions,
  type ReadOptions,
  readOptions,
  requireStream,
  streamRunOptions,
} from "../options/mod.ts";
import {
  createResult,
  provenance,
  quantity,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import type { Direction } from "./direction.ts";
import { dopplerSensitivity } from "./doppler.ts";
import { directionSamples, driveDirection } from "./drive_direction.ts";
import {
  followLine,
  type FollowSettings,
  requireFrames,
  requireSeen,
} from "./follow_line.ts";
import { speedInputs, speedWithBudget } from "./speed_budget.ts";
import { withoutMean } from "./speed_samples.ts";
import {
  type CourseState,
  fieldCount,
  fields,
  mostCrossings,
  TrackCourse,
} from "./track_course.ts";
import { decideDirection } from "./track_direction.ts";
import { findingsOf } from "./track_findings.ts";
import {
  type SpeedTrack,
  type TrackSpan,
  type TrackSpeedOptions,
  trackSpeedSpec,
} from "./track_speed.ts";
import { headlines, trackWarnings } from "./track_summary.ts";

/** Options of {@linkcode trackSpeedStream}. */
export interface SpeedTrackStreamOptions
  extends TrackSpeedOptions, StreamRunOptions<SpeedTrackStreamState> {
  /**
   * Most points of the result, an even number: where there are more frames, the
   * mean of 2, 4, 8 … neighbouring ones makes a point.
   *
   * @default {1024; 512 where frames have 16384 samples}
   */
  mostPoints?: number;
}

export const trackStreamSpec = {
  ...trackSpeedSpec,
  ...streamRunOptions,
  mostPoints: optional(
    optionOf.whole("Most points of the result, an even number.", { least: 2 }),
    null,
    "1024; 512 where frames have 16384 samples",
  ),
} satisfies Record<keyof SpeedTrackStreamOptions, Option>;

type ReadTracking = ReadOptions<typeof trackStreamSpec>;

/** What {@linkcode trackSpeedStream} has gathered; plain data. */
export interface SpeedTrackStreamState {
  /** Samples per frame; 0 before it is chosen. */
  readonly segmentLength: number;
  /** Samples from frame to frame. */
  readonly hop: number;
  /** Band in which the line is followed, in Hz. */
  readonly band: { readonly low: number; readonly high: number } | null;
  /** Number in the record of the first frame of the waiting samples. */
  readonly start: number;
  /** Frames of the waiting samples that are done. */
  readonly done: number;
  /** Samples that wait for the next block. */
  readonly waiting: readonly number[];
  /** The channel that tells the direction, over the waiting samples. */
  readonly drive: readonly number[];
  /**
   * What the frames so far gave; `null` before the first.
   *
   * @internal
   */
  readonly course: CourseState | null;
}

/** So many samples decide how long the frames are: each length was tried. */
const longestChoice = 1 << 18;
/** Frames at the edges of a window that are followed but not taken. */
const margin = 32;
/** Densities of all points and bins that are kept unless asked for: 34 MB. */
const mostDensities = 2 ** 22;
const task = "follow a speed";

/**
 * Follows the Doppler line through a capture of any length, in memory of a few
 * blocks: window after window as by {@linkcode trackSpeed}, each overlapping the
 * next by 64 frames, so that the line is followed across their edges. The frames
 * are as long as suits the first block. For a capture of one block with at most
 * `mostPoints` frames, all in memory or in a binary file, it is the result of
 * {@linkcode trackSpeed}.
 *
 * @param source The opened capture, or another source of blocks.
 * @param options As for {@linkcode trackSpeed}, with what to do on the way. A
 * block has 262144 samples where `blockLength` is left out.
 * @returns Speed over time, at most `mostPoints` points; the first 1000 zero
 * crossings.
 * @throws {NotMeasurableError} If no line is seen in any frame.
 * @throws {RangeError} If an option is out of range or a sample is missing.
 *
 * @example
 * ```ts
 * import {
 *   simulateCapture,
 *   streamOfCapture,
 *   trackSpeedStream,
 * } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 1e-3 * time + 5e-3 * time * time,
 *   samplingRate: 100_000,
 *   duration: 0.4,
 *   feedbackParameter: 0.7,
 * });
 * const track = await trackSpeedStream(streamOfCapture(capture), {
 *   wavelength: 650e-9,
 *   blockLength: 20_000,
 * });
 * expect(Math.abs(track.highestSpeed.value / 5e-3 - 1)).toBeLessThan(0.03);
 * ```
 */
export async function trackSpeedStream(
  source: BlockSource,
  options: SpeedTrackStreamOptions,
): Promise<SpeedTrack & Shown> {
  requireStream(source, task);
  const tracking = readOptions(trackStreamSpec, options, task);
  const { blockLength = 1 << 18, signal, resume, onBlock, mostPoints } =
    tracking;
  if (
    mostPoints !== null &&
    !(Number.isInteger(mostPoints / 2) && mostPoints >= 2)
  ) {
    throw new RangeError(
      `Cannot ${task} as 'mostPoints' must be an even whole number of at least 2: current value is ${mostPoints}. Give one such as 1000, or leave it out`,
    );
  }
  const { smoothing, segmentLength } = tracking;
  requireFrames(segmentLength, source.sampleCount ?? Infinity, smoothing);
  const windows = new TrackWindows(
    source.samplingRate,
    mostPoints,
    tracking,
    resume?.gathered ?? null,
  );
  let captureSource: CaptureSource | null = null;
  await runBlocks(source, {
    name: "trackSpeedStream",
    push: (capture, start) => {
      captureSource ??= capture.source;
      const { directionChannel } = tracking;
      windows.push(
        requireChannel(capture, "monitor signal").samples,
        directionChannel === null
          ? null
          : directionSamples(capture, directionChannel, task),
        start + capture.sampleCount === source.sampleCount,
      );
    },
    state: () => windows.state(),
  }, {
    blockLength,
    resume,
    ...(signal === undefined ? {} : { signal }),
    ...(onBlock === undefined ? {} : { onBlock }),
  });
  windows.finish();
  return trackOf(windows, source, options, captureSource);
}

/** Cuts samples that come in pieces into overlapping windows of whole frames. */
class TrackWindows {
  course: TrackCourse | null = null;
  readonly samplingRate: number;
  readonly tracking: ReadTracking;
  segmentLength = 0;
  hop = 0;
  band: { readonly low: number; readonly high: number } | null = null;
  readonly #mostPoints: number | null;
  readonly #settings: FollowSettings;
  #start = 0;
  #done = 0;
  #waiting = new Float64Array(0);
  #drive: Float64Array | null = null;

  constructor(
    samplingRate: number,
    mostPoints: number | null,
    tracking: ReadTracking,
    state: SpeedTrackStreamState | null,
  ) {
    this.samplingRate = samplingRate;
    this.tracking = tracking;
    this.#mostPoints = mostPoints;
    this.#settings = {
      segmentLength: tracking.segmentLength,
      searchBand: tracking.searchBand,
      mains: tracking.mains,
      smoothing: tracking.smoothing,
    };
    if (state === null) return;
    this.segmentLength = state.segmentLength;
    this.hop = state.hop;
    this.band = state.band;
    this.#start = state.start;
    this.#done = state.done;
    this.#waiting = Float64Array.from(state.waiting);
    this.#drive = state.drive.length > 0
      ? Float64Array.from(state.drive)
      : null;
    if (state.course !== null) this.course = this.#newCourse(state.course);
  }

  /** Takes samples in, and the direction channel's where there is one. */
  push(samples: Samples, drive: Samples | null, last: boolean): void {
    this.#waiting = joined(this.#waiting, samples);
    if (drive !== null) {
      this.#drive = joined(this.#drive ?? new Float64Array(0), drive);
    }
    this.#follow(last);
  }

  /** Takes the frames that wait for samples that do not come. */
  finish(): void {
    this.#follow(true);
  }

  /** Where it stands, as plain data. */
  state(): SpeedTrackStreamState {
    return {
      segmentLength: this.segmentLength,
      hop: this.hop,
      band: this.band,
      start: this.#start,
      done: this.#done,
      waiting: Array.from(this.#waiting),
      drive: Array.from(this.#drive ?? []),
      course: this.course?.state() ?? null,
    };
  }

  #newCourse(state: CourseState | null): TrackCourse {
    const bins = this.segmentLength / 2 + 1;
    const fitting = 2 * Math.floor(mostDensities / bins / 2);
    return new TrackCourse({
      samplingRate: this.samplingRate,
      segmentLength: this.segmentLength,
      hop: this.hop,
      mostPoints: this.#mostPoints ?? Math.min(1024, fitting + 2),
      smoothing: this.#settings.smoothing,
      directionChannel: this.tracking.directionChannel,
    }, state);
  }

  #follow(last: boolean): void {
    const { segmentLength } = this;
    const count = this.#waiting.length;
    if (segmentLength === 0) {
      if (last) requireFrames(this.#settings.segmentLength, count, 2);
      else if (count < 2048) return;
    } else {
      const frames = Math.floor((count - segmentLength) / this.hop) + 1;
      if (frames <= this.#done || (!last && frames < 4 * margin)) return;
    }
    const samples = withoutMean(this.#waiting);
    const followed = followLine(samples, this.samplingRate, {
      ...this.#settings,
      ...(segmentLength === 0 ? {} : { segmentLength }),
    });
    const { spectrogram } = followed.frames;
    const frames = spectrogram.time.length;
    const suffices = last || frames >= 4 * margin;
    if (!suffices && count < longestChoice) return;
    this.segmentLength = spectrogram.segmentLength;
    this.hop = spectrogram.hop;
    if (!suffices) return;
    this.band = followed.band;
    this.course ??= this.#newCourse(null);
    const to = last ? frames : frames - margin;
    this.course.add({
      followed,
      samples,
      drive: this.#drive,
      start: this.#start,
      from: this.#done,
      to,
    });
    this.#drop(to);
  }

  /** Lets go of the samples before the margin of the next frame to come. */
  #drop(to: number): void {
    const before = Math.max(0, to - margin);
    this.#done = to - before;
    this.#start += before;
    this.#waiting = this.#waiting.slice(before * this.hop);
    this.#drive = this.#drive?.slice(before * this.hop) ?? null;
  }
}

function joined(before: Float64Array, next: Samples) {
  const all = new Float64Array(before.length + next.length);
  all.set(before);
  all.set(next, before.length);
  return all;
}

/** The result of all windows. */
function trackOf(
  windows: TrackWindows,
  source: BlockSource,
  options: SpeedTrackStreamOptions,
  captureSource: CaptureSource | null,
): SpeedTrack & Shown {
  const { samplingRate, tracking, segmentLength, hop, band } = windows;
  const course = windows.course!;
  const { total } = course;
  requireSeen(total.seen, band!);
  const { polarity, directionChannel } = tracking;
  const { speed: one } = speedWithBudget(quantity(1, 0, "Hz"), tracking, task);
  const perHertz = 1 / Math.abs(dopplerSensitivity(tracking));
  const { direction, significance } = decideDirection(
    [course.evidence],
    polarity,
  );
  const pointCount = course.pointCount;
  const spans = spansOf(course, direction, tracking, pointCount);
  const repetition = segmentLength / hop;
  // A drive told the sign of each frame; the saw-tooth tells that of the first.
  const sign = directionChannel !== null || direction === "receding"
    ? 1
    : direction === "approaching"
    ? -1
    : NaN;
  const column = (
    of: (sum: (field: keyof typeof fields) => number) => number,
  ) =>
    Float64Array.from(
      { length: pointCount },
      (_, point) =>
        of((field) => course.points[point * fieldCount + fields[field]]!),
    );
  const frequency = column((sum) => sum("frequency") / sum("seen"));
  const perFrame = perHertz * samplingRate / hop;
  const bins = segmentLength / 2 + 1;
  const time = Float64Array.from({ length: pointCount }, (_, point) => {
    const middle = point * course.perPoint + (course.framesIn(point) - 1) / 2;
    return (middle * hop + segmentLength / 2) / samplingRate;
  });
  const findings = findingsOf({
    time,
    frequency,
    binWidth: samplingRate / segmentLength,
    second: course.second,
    isTurning: course.crossings.length > 0,
    one,
    repetition: Math.max(1, repetition / course.perPoint),
  });
  return createResult<SpeedTrack>({
    kind: "speed.track",
    ...headlines(
      { ...total, high: total.high!, low: total.low! },
      one,
      repetition,
      {
        comesToRest: course.crossings.length + findings.standstills.length > 0,
      },
    ),
    seenFraction: total.seen / course.frames,
    time,
    frequency,
    speed: frequency.map((value) => value * perHertz),
    speedStandardUncertainty: column((sum) => {
      const single = Math.sqrt(sum("scatterSquares") / sum("scatterCount"));
      // Frames that overlap repeat each other.
      return perHertz * single *
        Math.min(1, Math.sqrt(repetition / sum("scatterCount")));
    }),
    velocity: column((sum) =>
      sign * perHertz * sum("velocity") / sum("signedCount")
    ),
    acceleration: column((sum) => {
      const signed = sign * sum("signedSlope") / sum("signedSlopeCount");
      return perFrame *
        (Number.isNaN(signed) ? sum("slope") / sum("slopeCount") : signed);
    }),
    accelerationStandardUncertainty: column((sum) =>
      perFrame * Math.sqrt(sum("slopeSquares") / sum("slopeCount"))
    ),
    zeroCrossings: course.crossings.map(({ time, standardUncertainty }) =>
      quantity(time, standardUncertainty, "s")
    ),
    ...findings,
    spans,
    scale: quantity(perHertz, one.standardUncertainty, "m"),
    warnings: [
      ...source.warnings.filter(({ severity }) => severity === "doubtful"),
      ...trackWarnings({
        fold: course.fold,
        dropouts: total.dropouts,
        samplingRate,
        spans,
        findings,
      }),
      ...cutWarning(course),
    ],
    provenance: provenance({
      method: "trackSpeedStream",
      captures: captureSource === null ? [] : [captureSource],
      options: {
        ...pickOptions(trackSpeedSpec, tracking),
        segmentLength,
        searchBand: band,
        mains: [...tracking.mains],
        mostPoints: course.mostPoints,
      },
      inputs: speedInputs(options, tracking),
      sources: [
        "Viterbi 1967, IEEE Trans. Inf. Theory 13, 260",
        "Savitzky and Golay 1964, Anal. Chem. 36, 1627",
      ],
    }),
    diagnostics: {
      bins: Float64Array.from(
        { length: bins },
        (_, k) => k * samplingRate / segmentLength,
      ),
      density: course.meanDensity(),
      background: course.background.map((sum) => sum / course.windows),
      segmentLength,
      hop: hop * course.perPoint,
      dropouts: total.dropouts,
      directionSignificance: significance,
    },
  });
}

/** The stretches between the zero crossings, counted in points. */
function spansOf(
  course: TrackCourse,
  direction: Direction,
  { directionChannel }: ReadTracking,
  pointCount: number,
): TrackSpan[] {
  const opposite: Direction = direction === "receding"
    ? "approaching"
    : direction === "approaching"
    ? "receding"
    : "not determined";
  const point = (frame: number) => Math.floor(frame / course.perPoint);
  return course.spans.map(({ from, drive }, at) => {
    const next = course.spans[at + 1];
    return {
      from: point(from),
      to: next === undefined ? pointCount : point(next.from),
      direction: next === undefined && course.isCut
        ? "not determined"
        : directionChannel !== null
        ? driveDirection(drive, directionChannel)
        : at % 2 === 0
        ? direction
        : opposite,
    };
  });
}

function cutWarning(course: TrackCourse): Warning[] {
  return !course.isCut ? [] : [warn(
    "many-zero-crossings",
    `The speed goes through zero more than ${mostCrossings} times: only the first ones are listed, and the speed has no sign after them. Follow a vibration with measureMotionStream()`,
    "note",
  )];
}
