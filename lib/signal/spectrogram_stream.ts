import {
  type BlockSource,
  type ChannelRole,
  requireChannel,
  runBlocks,
  type StreamRunOptions,
} from "../capture/mod.ts";
import {
  type Option,
  optional,
  optionOf,
  pickOptions,
  readOptions,
  requireStream,
  streamRunOptions,
} from "../options/mod.ts";
import type { Shown } from "../result/mod.ts";
import { requireSamplingRate } from "./samples.ts";
import { SegmentStream, type SegmentStreamState } from "./segment_stream.ts";
import { channelSpec, cutSpec, segmentSpec } from "./signal_options.ts";
import { type Spectrogram, spectrogramResult } from "./spectrogram.ts";
import {
  requireSegments,
  scaleOneSided,
  type WelchOptions,
} from "./spectrum.ts";
import { windowFigures, windowValues } from "./window.ts";

/** Options of {@linkcode spectrogramStream}. */
export interface SpectrogramStreamOptions
  extends
    Omit<WelchOptions, "samplingRate">,
    StreamRunOptions<SpectrogramStreamState> {
  /**
   * Which channel is looked at.
   *
   * @default {"monitor signal"}
   */
  channel?: ChannelRole;
  /**
   * Most columns of the result: where there are more segments, the mean of 2, 4,
   * 8 … neighbouring ones makes a column.
   *
   * @default {1024}
   */
  mostColumns?: number;
}

export const spectrogramStreamSpec = {
  ...channelSpec,
  ...segmentSpec,
  ...cutSpec,
  ...streamRunOptions,
  mostColumns: optional(
    optionOf.whole("Most columns of the result (1).", { least: 2 }),
    1024,
  ),
} satisfies Record<keyof SpectrogramStreamOptions, Option>;

/** What {@linkcode spectrogramStream} has gathered; plain data. */
export interface SpectrogramStreamState {
  /** Segments per column. */
  readonly perColumn: number;
  /** Summed squared moduli, column after column, the last one not full. */
  readonly sums: readonly number[];
  /**
   * Samples that wait for their segment to be full, and counts.
   *
   * @internal
   */
  readonly segments: SegmentStreamState;
}

/**
 * Spectrogram of a capture of any length, block by block, in bounded memory: the
 * columns of {@linkcode spectrogram}, or means of 2, 4, 8 … neighbouring ones so
 * that there are at most `mostColumns`.
 *
 * @param source The opened capture, or another source of blocks.
 * @param options As for {@linkcode spectrogram}, with what to do on the way.
 * @returns Times in s, frequencies in Hz, densities in unit²/Hz. `hop` is that of
 * the columns; segments at the end that fill no column are left out.
 * @throws {RangeError} If a sample is missing, or an option is out of range.
 * @throws {NotMeasurableError} If there is no such channel.
 *
 * @example
 * ```ts
 * import { simulateCapture, streamOfCapture } from "fringebook";
 * import { spectrogramStream } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 1e-3 * time,
 *   samplingRate: 100_000,
 *   duration: 0.5,
 * });
 * const { time, hop } = await spectrogramStream(streamOfCapture(capture), {
 *   segmentLength: 1024,
 *   mostColumns: 30,
 * });
 * // 96 segments half overlapped: 24 means of four.
 * expect(time.length).toBe(24);
 * expect(hop).toBe(4 * 512);
 * ```
 */
export async function spectrogramStream(
  source: BlockSource,
  options: SpectrogramStreamOptions = {},
): Promise<Spectrogram & Shown> {
  const task = "make a spectrogram";
  requireStream(source, task);
  const {
    channel,
    window,
    detrending,
    segmentLength = 1024,
    overlap,
    mostColumns,
    resume,
  } = readOptions(spectrogramStreamSpec, options, task);
  const { samplingRate } = source;
  requireSamplingRate(samplingRate, task);
  const hop = requireSegments(Infinity, segmentLength, overlap, task);
  const values = windowValues(window, segmentLength);
  const bins = Math.floor(segmentLength / 2) + 1;
  const sums = new Float64Array((mostColumns + 1) * bins);
  const before = resume?.gathered ?? null;
  if (before !== null) sums.set(before.sums);
  let perColumn = before?.perColumn ?? 1;
  const segments = new SegmentStream(
    { length: segmentLength, hop, window: values, detrending },
    task,
    (index, power) => {
      let column = Math.floor(index / perColumn);
      if (column === mostColumns) {
        halve(sums, mostColumns, bins);
        perColumn *= 2;
        column = Math.floor(index / perColumn);
      }
      const at = column * bins;
      for (let k = 0; k < bins; k++) sums[at + k]! += power[k]!;
    },
    before?.segments ?? null,
  );
  await runBlocks(source, {
    name: "spectrogramStream",
    push: (capture) => segments.push(requireChannel(capture, channel).samples),
    state: () => {
      const waiting = segments.state();
      const used = Math.ceil(waiting.count / perColumn) * bins;
      return {
        perColumn,
        sums: Array.from(sums.subarray(0, used)),
        segments: waiting,
      };
    },
  }, pickOptions(streamRunOptions, options));
  segments.flush();
  requireSegments(segments.taken, segmentLength, overlap, task);
  const columns = Math.max(1, Math.floor(segments.count / perColumn));
  const averaged = Math.min(perColumn, segments.count);
  const figures = windowFigures(values);
  const scale = 1 /
    (samplingRate * segmentLength * figures.noiseGain * averaged);
  const density = sums.slice(0, columns * bins);
  for (let column = 0; column < columns; column++) {
    scaleOneSided(density, column * bins, bins, scale, segmentLength);
  }
  const span = (averaged - 1) * hop + segmentLength;
  return spectrogramResult({
    samplingRate,
    window,
    segmentLength,
    hop: perColumn * hop,
    time: Float64Array.from(
      { length: columns },
      (_, column) => (column * perColumn * hop + span / 2) / samplingRate,
    ),
    density,
    noiseBins: figures.equivalentNoiseBandwidth,
    warnings: source.warnings,
    method: "spectrogramStream",
    options: {
      samplingRate,
      window,
      detrending,
      segmentLength,
      overlap,
      mostColumns,
    },
    unusedSamples: segments.taken - ((columns - 1) * perColumn * hop + span),
  });
}

/** Two columns make one. */
function halve(sums: Float64Array, columns: number, bins: number): void {
  const half = Math.floor(columns / 2);
  for (let column = 0; column < half; column++) {
    const a = 2 * column * bins;
    const to = column * bins;
    for (let k = 0; k < bins; k++) {
      sums[to + k] = sums[a + k]! + sums[a + bins + k]!;
    }
  }
  // An odd column stays as the first half of the next one.
  const odd = columns % 2 === 1;
  if (odd) {
    sums.copyWithin(half * bins, (columns - 1) * bins, columns * bins);
  }
  sums.fill(0, (half + (odd ? 1 : 0)) * bins);
}
