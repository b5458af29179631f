import type { Samples } from "../capture/mod.ts";
import {
  type DirectionChannel,
  type DriveEvidence,
  driveEvidence,
  driveSign,
} from "./drive_direction.ts";
import { checkpoint } from "../progress/mod.ts";
import type { FollowedLine } from "./follow_line.ts";
import { type FrameEvidence, frameEvidence } from "./track_direction.ts";
import { firstFold, scatter, type TrackExtreme } from "./track_summary.ts";
import {
  joinSecondLines,
  noSecondLine,
  type SecondLine,
  secondLineOf,
} from "./second_line.ts";

/** How a course is cut and gathered. */
export interface CourseSettings {
  readonly samplingRate: number;
  readonly segmentLength: number;
  /** Samples from frame to frame. */
  readonly hop: number;
  /** Most points that are kept; even. */
  readonly mostPoints: number;
  readonly smoothing: number;
  readonly directionChannel: DirectionChannel | null;
}

/** A stretch of the record in which the line was followed. */
export interface CourseWindow {
  readonly followed: FollowedLine;
  /** Samples without their mean. */
  readonly samples: Float64Array;
  /** The channel that tells the direction, over the same samples. */
  readonly drive: Samples | null;
  /** Number in the record of the window's first frame. */
  readonly start: number;
  /** First frame of the window that counts. */
  readonly from: number;
  /** Frame after the last that counts. */
  readonly to: number;
}

/** A stretch between zero crossings. */
export interface CourseSpan {
  /** Number in the record of its first frame. */
  readonly from: number;
  readonly drive: DriveEvidence;
}

/** What was gathered; plain data. */
export interface CourseState {
  /** Frames in a point. */
  readonly perPoint: number;
  /** Frames so far. */
  readonly frames: number;
  /** Sums over the frames of each point, see {@linkcode fields}. */
  readonly points: readonly number[];
  /** Summed densities, point after point. */
  readonly density: readonly number[];
  /** Summed background of the windows, and their number. */
  readonly background: readonly number[];
  readonly windows: number;
  readonly total: CourseTotal;
  readonly evidence: FrameEvidence;
  readonly spans: readonly CourseSpan[];
  readonly crossings: readonly { time: number; standardUncertainty: number }[];
  /** When the line first folded at half the sampling rate, in s. */
  readonly fold: number | null;
  /** A line beside the one that is followed. */
  readonly second: SecondLine;
}

/** What is told of the whole course. */
export interface CourseTotal {
  /** Frames in which the line is seen. */
  seen: number;
  /** Sum of the smoothed frequency, in Hz, and of its squared uncertainty. */
  sum: number;
  squares: number;
  high: TrackExtreme | null;
  low: TrackExtreme | null;
  /** Times the line was lost and found again. */
  dropouts: number;
  /** Whether the last frame did not show it. */
  lost: boolean;
}

/** Where each sum of a point stands. */
export const fields = {
  seen: 0,
  frequency: 1,
  scatterCount: 2,
  scatterSquares: 3,
  signedCount: 4,
  velocity: 5,
  slopeCount: 6,
  slope: 7,
  slopeSquares: 8,
  signedSlopeCount: 9,
  signedSlope: 10,
};
/** Sums per point. */
export const fieldCount = Object.keys(fields).length;

/** Zero crossings that are listed; the sign is not followed beyond them. */
export const mostCrossings = 1000;
/** Frames within which two windows may see one crossing. */
const sameCrossing = 4;

/** Gathers windows into a course of bounded length. */
export class TrackCourse {
  perPoint = 1;
  frames = 0;
  readonly points: Float64Array;
  readonly density: Float64Array;
  readonly background: Float64Array;
  windows = 0;
  total: CourseTotal = {
    seen: 0,
    sum: 0,
    squares: 0,
    high: null,
    low: null,
    dropouts: 0,
    lost: false,
  };
  evidence: FrameEvidence = { sum: 0, squares: 0, count: 0 };
  spans: CourseSpan[] = [{ from: 0, drive: { positive: 0, negative: 0 } }];
  crossings: { time: number; standardUncertainty: number }[] = [];
  fold: number | null = null;
  second: SecondLine = noSecondLine;
  readonly #settings: CourseSettings;
  readonly #bins: number;

  constructor(settings: CourseSettings, state: CourseState | null) {
    this.#settings = settings;
    this.#bins = settings.segmentLength / 2 + 1;
    this.points = new Float64Array(settings.mostPoints * fieldCount);
    this.density = new Float64Array(settings.mostPoints * this.#bins);
    this.background = new Float64Array(this.#bins);
    if (state === null) return;
    const { points, density, background, spans, crossings, total, ...rest } =
      state;
    this.points.set(points);
    this.density.set(density);
    this.background.set(background);
    this.spans = [...spans];
    this.crossings = [...crossings];
    this.total = { ...total };
    Object.assign(this, rest);
  }

  /** Points begun so far. */
  get pointCount(): number {
    return Math.ceil(this.frames / this.perPoint);
  }

  /** Most points that are kept. */
  get mostPoints(): number {
    return this.#settings.mostPoints;
  }

  /** Frames in a point; the last one may not be full. */
  framesIn(point: number): number {
    return Math.min(this.perPoint, this.frames - point * this.perPoint);
  }

  /** Mean densities of the points, made of the sums where they stand. */
  meanDensity(): Float64Array {
    const bins = this.#bins;
    const { pointCount } = this;
    for (let point = 0; point < pointCount; point++) {
      const frames = this.framesIn(point);
      for (let k = 0; k < bins; k++) this.density[point * bins + k]! /= frames;
    }
    return this.density.subarray(0, pointCount * bins);
  }

  /** Whether there are more zero crossings than are listed. */
  get isCut(): boolean {
    return this.crossings.length >= mostCrossings;
  }

  /** What was gathered, as plain data. */
  state(): CourseState {
    const count = this.pointCount;
    return {
      perPoint: this.perPoint,
      frames: this.frames,
      points: Array.from(this.points.subarray(0, count * fieldCount)),
      density: Array.from(this.density.subarray(0, count * this.#bins)),
      background: Array.from(this.background),
      windows: this.windows,
      total: { ...this.total },
      evidence: this.evidence,
      spans: [...this.spans],
      crossings: [...this.crossings],
      fold: this.fold,
      second: this.second,
    };
  }

  /** Takes the frames of a window. */
  add(window: CourseWindow): void {
    const { followed, from, to, start } = window;
    const { samplingRate, hop } = this.#settings;
    const { level } = followed.frames;
    level.forEach((value, k) => this.background[k]! += value);
    this.windows++;
    this.#noteFold(window);
    this.second = joinSecondLines(
      this.second,
      secondLineOf(followed, from, to),
    );
    checkpoint(NaN, "track the speed");
    const rough = scatter(
      followed.raw,
      followed.smooth.value,
      this.#settings.smoothing,
    );
    let at = from;
    const last = () => this.spans.at(-1)!.from - start;
    for (
      const { time, standardUncertainty, frame } of followed.turns
    ) {
      // Windows overlap: the one before may have this crossing already.
      const isOld = this.crossings.length > 0 && frame <= last() + sameCrossing;
      if (isOld || frame < from - sameCrossing || frame >= to || this.isCut) {
        continue;
      }
      const edge = Math.max(at, frame);
      this.#piece(window, rough, at, edge);
      this.crossings.push({
        time: start * hop / samplingRate + time,
        standardUncertainty,
      });
      this.spans.push({
        from: start + edge,
        drive: { positive: 0, negative: 0 },
      });
      at = edge;
    }
    this.#piece(window, rough, at, to);
  }

  #noteFold({ followed, start }: CourseWindow): void {
    if (this.fold !== null) return;
    const { samplingRate, hop } = this.#settings;
    const { time, binWidth } = followed.frames.spectrogram;
    const fold = firstFold(followed.raw, time, binWidth, samplingRate);
    if (fold !== null) this.fold = start * hop / samplingRate + fold;
  }

  /** Takes frames between which the sign does not change. */
  #piece(
    { followed, samples, drive }: CourseWindow,
    rough: Float64Array,
    from: number,
    to: number,
  ): void {
    if (to <= from) return;
    const { samplingRate, hop, segmentLength, directionChannel } =
      this.#settings;
    let sign = this.isCut ? 0 : this.crossings.length % 2 === 0 ? 1 : -1;
    if (sign !== 0) {
      const { sum, squares, count } = frameEvidence(
        samples,
        samplingRate,
        followed.frames.spectrogram.time,
        followed.raw,
        from,
        to,
      );
      // The sign turns at every crossing: count all as if before the first.
      this.evidence = {
        sum: this.evidence.sum + sign * sum,
        squares: this.evidence.squares + squares,
        count: this.evidence.count + count,
      };
      if (directionChannel !== null && drive !== null) {
        const sampleAt = (frame: number) =>
          Math.min(samples.length, frame * hop + segmentLength / 2);
        const found = driveEvidence(
          drive,
          directionChannel,
          sampleAt(from),
          sampleAt(to),
        );
        const span = this.spans.at(-1)!;
        this.spans[this.spans.length - 1] = {
          from: span.from,
          drive: {
            positive: span.drive.positive + found.positive,
            negative: span.drive.negative + found.negative,
          },
        };
        sign = driveSign(found, directionChannel);
      }
    }
    for (let frame = from; frame < to; frame++) {
      if ((frame - from) % 64 === 0) checkpoint(NaN, "track the speed");
      this.#frame(followed, rough[frame]!, frame, sign);
    }
  }

  #frame(
    { raw, smooth, frames: { spectrogram } }: FollowedLine,
    rough: number,
    frame: number,
    sign: number,
  ): void {
    const { mostPoints } = this.#settings;
    if (this.frames === mostPoints * this.perPoint) {
      halve(this.points, fieldCount);
      halve(this.density, this.#bins);
      this.perPoint *= 2;
    }
    const point = Math.floor(this.frames / this.perPoint);
    this.frames++;
    const to = point * this.#bins;
    const row = frame * this.#bins;
    for (let k = 0; k < this.#bins; k++) {
      this.density[to + k]! += spectrogram.density[row + k]!;
    }
    const { total } = this;
    const frequency = raw[frame]!;
    if (Number.isNaN(frequency)) {
      total.lost = total.seen > 0;
      return;
    }
    if (total.lost) total.dropouts++;
    total.lost = false;
    const value = smooth.value[frame]!;
    const uncertainty = smooth.standardUncertainty[frame]!;
    total.seen++;
    total.sum += value;
    if (!Number.isNaN(uncertainty)) total.squares += uncertainty ** 2;
    const own = () => ({
      value,
      standardUncertainty: Number.isNaN(uncertainty) ? null : uncertainty,
    });
    if (total.high === null || value > total.high.value) total.high = own();
    if (total.low === null || value < total.low.value) total.low = own();
    const add = (field: keyof typeof fields, amount: number) =>
      this.points[point * fieldCount + fields[field]]! += amount;
    add("seen", 1);
    add("frequency", frequency);
    if (!Number.isNaN(rough)) {
      add("scatterCount", 1);
      add("scatterSquares", rough ** 2);
    }
    if (sign !== 0) {
      add("signedCount", 1);
      add("velocity", sign * value);
    }
    const slope = smooth.slope[frame]!;
    if (Number.isNaN(slope)) return;
    add("slopeCount", 1);
    add("slope", slope);
    add("slopeSquares", smooth.slopeStandardUncertainty[frame]! ** 2);
    if (sign !== 0) {
      add("signedSlopeCount", 1);
      add("signedSlope", sign * slope);
    }
  }
}

/** Two neighbours make one, over all columns of an even number. */
function halve(sums: Float64Array, length: number): void {
  const half = sums.length / 2;
  for (let to = 0, a = 0; to < half; to += length, a += 2 * length) {
    for (let k = 0; k < length; k++) {
      sums[to + k] = sums[a + k]! + sums[a + length + k]!;
    }
  }
  sums.fill(0, half);
}
