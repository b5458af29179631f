import {
  type BlockSource,
  type ChannelRole,
  requireChannel,
  runBlocks,
  type StreamRunOptions,
} from "../capture/mod.ts";
import {
  type Option,
  pickOptions,
  readOptions,
  requireFields,
  requireStream,
  streamRunOptions,
} from "../options/mod.ts";
import type { Shown } from "../result/mod.ts";
import type { NumberSequence } from "./samples.ts";
import { SegmentStream, type SegmentStreamState } from "./segment_stream.ts";
import { channelSpec, cutSpec, segmentSpec } from "./signal_options.ts";
import {
  requireSegments,
  type Spectrum,
  spectrumOfSum,
  type WelchOptions,
  welchSpec,
} from "./spectrum.ts";
import { windowValues } from "./window.ts";

/** What a {@linkcode SpectrumAverage} has gathered; plain data. */
export interface SpectrumAverageState {
  /** Summed squared moduli, bins 0 … ⌊L/2⌋. */
  readonly sum: readonly number[];
  /**
   * Samples that wait for their segment to be full, and counts.
   *
   * @internal
   */
  readonly segments: SegmentStreamState;
}

/** An averaged spectrum of samples that come in pieces. */
export interface SpectrumAverage {
  /** Takes samples in. */
  push(samples: NumberSequence): void;
  /** What was gathered so far, as plain data. */
  state(): SpectrumAverageState;
  /** The spectrum of all samples so far. */
  finish(): Spectrum & Shown;
}

/**
 * Averages spectra of samples that come in pieces, in memory of a few segments:
 * the same segments as {@linkcode welch} takes from the whole record.
 *
 * @param options As for {@linkcode welch}; the segment length must be given.
 * @param state Where an earlier run stopped.
 * @returns What takes the samples and gives the spectrum.
 * @throws {RangeError} If an option is out of range; by `push` if a sample is not
 * finite; by `finish` if there is less than one segment.
 *
 * @example
 * ```ts
 * import {
 *   createRandom,
 *   createSpectrumAverage,
 *   welch,
 * } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const random = createRandom(1);
 * const noise = Float64Array.from({ length: 5000 }, () => random.normal());
 * const options = { samplingRate: 1000, segmentLength: 256 };
 * const average = createSpectrumAverage(options);
 * for (let i = 0; i < 5000; i += 700) average.push(noise.subarray(i, i + 700));
 * expect(average.finish().density[10]).toBeCloseTo(
 *   welch(noise, options).density[10]!,
 *   12,
 * );
 * ```
 */
export function createSpectrumAverage(
  options: WelchOptions & { segmentLength: number },
  state: SpectrumAverageState | null = null,
): SpectrumAverage {
  const task = "estimate a spectrum";
  const read = readOptions(welchSpec, options, task);
  const { samplingRate, window, detrending, overlap } = read;
  const { segmentLength } = read;
  if (segmentLength === undefined) {
    throw new TypeError(
      `Cannot ${task} as 'segmentLength' is missing: give the samples per segment, as in { segmentLength: 1024 }`,
    );
  }
  if (state !== null) requireFields(state, "state", ["sum", "segments"], task);
  const hop = requireSegments(Infinity, segmentLength, overlap, task);
  const values = windowValues(window, segmentLength);
  const sum = new Float64Array(Math.floor(segmentLength / 2) + 1);
  if (state !== null) sum.set(state.sum);
  const segments = new SegmentStream(
    { length: segmentLength, hop, window: values, detrending },
    task,
    (_, power) => {
      for (let k = 0; k < sum.length; k++) sum[k]! += power[k]!;
    },
    state?.segments ?? null,
  );
  return {
    push: (samples) => segments.push(samples),
    state: () => {
      const waiting = segments.state();
      return { sum: Array.from(sum), segments: waiting };
    },
    finish: () => {
      segments.flush();
      // Says what is wrong where there is less than one segment.
      requireSegments(segments.taken, segmentLength, overlap, task);
      return spectrumOfSum(sum.slice(), {
        samplingRate,
        window,
        detrending,
        segmentLength,
        overlap,
        hop,
        values,
        segmentCount: segments.count,
        sampleCount: segments.taken,
        method: "welchStream",
      });
    },
  };
}

/** Options of {@linkcode welchStream}. */
export interface WelchStreamOptions
  extends
    Omit<WelchOptions, "samplingRate">,
    StreamRunOptions<SpectrumAverageState> {
  /**
   * Which channel is looked at.
   *
   * @default {"monitor signal"}
   */
  channel?: ChannelRole;
}

export const welchStreamSpec = {
  ...channelSpec,
  ...segmentSpec,
  ...cutSpec,
  ...streamRunOptions,
} satisfies Record<keyof WelchStreamOptions, Option>;

/**
 * Averaged spectrum of a capture of any length, block by block: the result of
 * {@linkcode welch} over the whole, in memory of a few blocks.
 *
 * @param source The opened capture, or another source of blocks.
 * @param options As for {@linkcode welch}, with what to do on the way. The
 * segment is 16384 samples where left out (less for a shorter capture).
 * @returns Frequencies in Hz and density in unit²/Hz.
 * @throws {RangeError} If a sample is missing, or an option is out of range.
 * @throws {NotMeasurableError} If there is no such channel.
 *
 * @example
 * ```ts
 * import { simulateCapture, streamOfCapture } from "fringebook";
 * import { welch, welchStream } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 1e-3 * time,
 *   samplingRate: 100_000,
 *   duration: 0.5,
 * });
 * const long = await welchStream(streamOfCapture(capture), {
 *   segmentLength: 1024,
 *   blockLength: 5000,
 * });
 * const whole = welch(capture.channels[0]!.samples, {
 *   samplingRate: 100_000,
 *   segmentLength: 1024,
 * });
 * expect(long.segmentCount).toBe(whole.segmentCount);
 * expect(long.density[31]! / whole.density[31]!).toBeCloseTo(1, 9);
 * ```
 */
export async function welchStream(
  source: BlockSource,
  options: WelchStreamOptions = {},
): Promise<Spectrum & Shown> {
  const task = "estimate a spectrum";
  requireStream(source, task);
  const {
    channel,
    window,
    detrending,
    overlap,
    segmentLength = segmentOfStream(source),
    resume,
  } = readOptions(welchStreamSpec, options, task);
  const { samplingRate } = source;
  const average = createSpectrumAverage(
    { window, detrending, overlap, samplingRate, segmentLength },
    resume?.gathered ?? null,
  );
  await runBlocks(source, {
    name: "welchStream",
    push: (capture) => average.push(requireChannel(capture, channel).samples),
    state: () => average.state(),
  }, pickOptions(streamRunOptions, options));
  return average.finish();
}

/** The power of two not above 1/8 of the capture, at most 16384. */
function segmentOfStream({ sampleCount }: BlockSource): number {
  const most = Math.max(16, sampleCount ?? Infinity) / 8;
  return Math.min(1 << 14, 2 ** Math.floor(Math.log2(Math.min(most, 1 << 14))));
}
