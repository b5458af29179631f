import {
  benchOptions,
  handedOption,
  type Option,
  optional,
  readOptions,
  requireCapture,
  requireFields,
  requireFunction,
  requireStream,
  streamRunOptions,
  wholeNumberOption,
} from "../options/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import type { Warning } from "../result/mod.ts";
import type { Capture } from "./capture.ts";
import { cutCapture } from "./cut.ts";
import type {
  CaptureBlock,
  CaptureStreamOptions,
  ResumePoint,
} from "./stream.ts";

/**
 * What an analysis of a long capture reads: a {@linkcode CaptureStream}, or
 * anything else that gives the blocks of one capture in order.
 */
export interface BlockSource {
  /** Samples per second, in Hz. */
  readonly samplingRate: number;
  /** Samples in all; `null` where they are not counted beforehand. */
  readonly sampleCount: number | null;
  /** What the reader doubted. */
  readonly warnings: readonly Warning[];
  /** The blocks in order, from the start or from a point on. */
  blocks(options?: CaptureStreamOptions): AsyncIterable<CaptureBlock>;
}

/** How a long capture is worked through. */
export interface StreamRunOptions<State = unknown> {
  /**
   * New samples per block.
   *
   * @default {262144}
   */
  blockLength?: number;
  /**
   * Stops the work when it is aborted.
   *
   * @default {none}
   */
  signal?: AbortSignal;
  /**
   * Goes on from the state that an earlier run gave to `onBlock`, with the same
   * source and options.
   *
   * @default {null}
   */
  resume?: StreamState<State> | null;
  /**
   * Called after each block with the fraction done (`NaN` if unknown) and a
   * function that gives the state: plain data that outlives
   * `JSON.parse(JSON.stringify(…))`, with which a later run goes on.
   *
   * @default {none}
   */
  onBlock?: (fraction: number, state: () => StreamState<State>) => void;
}

/** Where an analysis of a long capture stands; plain data. */
export interface StreamState<State = unknown> {
  /** Name of the analysis. */
  readonly analysis: string;
  /** Where the source goes on. */
  readonly point: ResumePoint;
  /** What the analysis has gathered. */
  readonly gathered: State;
}

/** An analysis that takes one block after the other. */
export interface BlockAnalysis<State> {
  /** Name, such as `"welchStream"`. */
  readonly name: string;
  /** Takes the next block; `start` is the index of its first sample. */
  push(capture: Capture, start: number): void;
  /** What was gathered so far, as plain data. */
  state(): State;
}

/**
 * Gives all blocks of a source to an analysis, with progress, cancel and resume.
 * To resume, the analysis must have been made from `options.resume.gathered`.
 *
 * @param source The blocks.
 * @param analysis What takes them.
 * @param options Block length, abort signal, resume.
 * @throws What the signal was aborted with.
 * @throws {RangeError} If the state to resume from is that of another analysis.
 *
 * @example
 * ```ts
 * import { createCapture, streamOfCapture } from "fringebook";
 * import { runBlocks } from "fringebook/capture";
 * import { expect } from "vitest";
 *
 * const capture = createCapture([{
 *   name: "A",
 *   role: "monitor signal",
 *   unit: "V",
 *   samples: Float64Array.of(1, 2, 3, 4, 5),
 * }], { samplingRate: 10 });
 * let sum = 0;
 * await runBlocks(streamOfCapture(capture), {
 *   name: "sum",
 *   push: ({ channels }) => channels[0]!.samples.forEach((y) => sum += y),
 *   state: () => sum,
 * }, { blockLength: 2 });
 * expect(sum).toBe(15);
 * ```
 */
export async function runBlocks<State>(
  source: BlockSource,
  analysis: BlockAnalysis<State>,
  options: StreamRunOptions<State> = {},
): Promise<void> {
  const task = "run through the blocks";
  requireStream(source, task);
  requireFields(analysis, "analysis", ["name", "push", "state"], task);
  const { blockLength = 262144, signal, resume, onBlock } = readOptions(
    streamRunOptions,
    options,
    task,
  );
  const { name } = analysis;
  if (resume !== null && resume.analysis !== name) {
    throw new RangeError(
      `Cannot resume ${name} as 'resume' is the state of ${resume.analysis}: give the state of the same analysis`,
    );
  }
  const settings: CaptureStreamOptions = {
    blockLength,
    ...(signal === undefined ? {} : { signal }),
    ...(resume === null ? {} : { resume: resume.point }),
  };
  for await (const block of source.blocks(settings)) {
    signal?.throwIfAborted();
    const { capture, start, fraction, overlap, resume: point } = block;
    checkpoint(fraction, name);
    const fresh = overlap === 0 ? capture : cutCapture(capture, {
      from: overlap / capture.samplingRate,
    });
    analysis.push(fresh, start + overlap);
    onBlock?.(fraction, () => ({
      analysis: name,
      point,
      gathered: analysis.state(),
    }));
  }
  signal?.throwIfAborted();
}

/**
 * A capture in memory as a source of blocks: its samples are shared, not copied.
 *
 * @param capture The capture.
 * @returns The source.
 *
 * @example
 * ```ts
 * import { createCapture, streamOfCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = createCapture([{
 *   name: "A",
 *   role: "monitor signal",
 *   unit: "V",
 *   samples: new Float64Array(5),
 * }], { samplingRate: 10 });
 * const lengths: number[] = [];
 * const { blocks } = streamOfCapture(capture);
 * for await (const { capture } of blocks({ blockLength: 2 })) {
 *   lengths.push(capture.sampleCount);
 * }
 * expect(lengths).toEqual([2, 2, 1]);
 * ```
 */
export function streamOfCapture(capture: Capture): BlockSource {
  requireCapture(capture, "make a stream");
  const { samplingRate, sampleCount } = capture;
  return streamOfSamples(
    (from, to) =>
      cutCapture(capture, { from: from / samplingRate, to: to / samplingRate }),
    { samplingRate, sampleCount, warnings: capture.warnings },
  );
}

/** What {@linkcode streamOfSamples} must know beforehand. */
export interface SampleSource {
  /** Samples per second, in Hz, or a text such as `"200kHz"`. */
  samplingRate: number | string;
  /** Samples in all. */
  sampleCount: number;
  /**
   * What is doubted.
   *
   * @default {[]}
   */
  warnings?: readonly Warning[];
}

export const sourceSpec = {
  samplingRate: benchOptions.samplingRate,
  sampleCount: wholeNumberOption("Samples in all.", { least: 0 }),
  warnings: optional(
    handedOption<readonly Warning[]>(
      "What is doubted.",
      "a list",
      Array.isArray,
    ),
    [],
  ),
} satisfies Record<keyof SampleSource, Option>;

/**
 * A source whose blocks are made when they are asked for: simulated captures
 * longer than memory, or a recorder's buffer.
 *
 * @param make Gives the samples from one index up to, not including, another.
 * @param options Sampling rate in Hz, number of samples.
 * @returns The source.
 *
 * @example
 * ```ts
 * import { createCapture } from "fringebook";
 * import { streamOfSamples } from "fringebook/capture";
 * import { expect } from "vitest";
 *
 * const ramp = streamOfSamples((from, to) =>
 *   createCapture([{
 *     name: "A",
 *     role: "monitor signal",
 *     unit: "V",
 *     samples: Float64Array.from({ length: to - from }, (_, i) => from + i),
 *   }], { samplingRate: 10 }), { samplingRate: 10, sampleCount: 5 });
 * let last = NaN;
 * for await (const { capture } of ramp.blocks({ blockLength: 2 })) {
 *   last = capture.channels[0]!.samples.at(-1)!;
 * }
 * expect(last).toBe(4);
 * ```
 */
export function streamOfSamples(
  make: (from: number, to: number) => Capture | Promise<Capture>,
  options: SampleSource,
): BlockSource {
  const task = "make a stream";
  requireFunction(make, "make", task);
  const { samplingRate, sampleCount, warnings } = readOptions(
    sourceSpec,
    options,
    task,
  );
  return {
    samplingRate,
    sampleCount,
    warnings,
    async *blocks(settings: CaptureStreamOptions = {}) {
      const { blockLength = 262144, overlap = 0, resume, signal } = settings;
      for (let at = resume?.sample ?? 0; at < sampleCount;) {
        signal?.throwIfAborted();
        const before = Math.min(overlap, at);
        const end = Math.min(sampleCount, at + blockLength);
        const capture = await make(at - before, end);
        yield {
          capture: capture as CaptureBlock["capture"],
          start: at - before,
          overlap: before,
          fraction: end / sampleCount,
          last: end === sampleCount,
          resume: { sample: end, byteOffset: null, line: null },
        };
        at = end;
      }
    },
  };
}
