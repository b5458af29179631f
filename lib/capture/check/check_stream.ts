import {
  type Option,
  optional,
  optionOf,
  readOptions,
  requireStream,
  streamRunOptions,
} from "../../options/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../../result/mod.ts";
import type { CaptureStream, CaptureStreamOptions } from "../stream.ts";
import {
  type CaptureCheck,
  checkCapture,
  type CheckCaptureOptions,
  checkSpec,
} from "./check_capture.ts";

/** Result of {@linkcode checkCaptureStream}. */
export interface CaptureStreamCheck extends Result {
  /** Chooses the presenter. */
  readonly kind: "capture.stream-check";
  /** `"good"` or `"doubtful"`; `"unusable"` if every block is. */
  readonly verdict: "good" | "doubtful" | "unusable";
  /** Name of the channel that the numbers speak of. */
  readonly channel: string;
  /** Samples per second, in Hz. */
  readonly samplingRate: number;
  /** Samples in each channel. */
  readonly sampleCount: number;
  /** Length of the capture, in s. */
  readonly duration: number;
  /** Median over blocks of the white noise, in the channel's unit. */
  readonly noise: Quantity;
  /** Lowest signal-to-noise ratio of a block, in dB. */
  readonly signalToNoise: Quantity;
  /** Highest fringe rate of a block, in Hz. */
  readonly fringeRate: Quantity;
  /** Highest fringe rate over half the sampling rate (1). */
  readonly nyquistFraction: number;
  /** Largest share of clipped samples of a block, 0 to 1. */
  readonly clippedFraction: number;
  /** Samples missing in the channel. */
  readonly missingCount: number;
  /** One entry per block, in order. */
  readonly diagnostics: {
    /** Start of each block, in s from the first sample. */
    readonly start: Float64Array;
    /** White noise, in the channel's unit. */
    readonly noise: Float64Array;
    /** Signal-to-noise ratio, in dB. */
    readonly signalToNoise: Float64Array;
    /** Fringe rate, in Hz. */
    readonly fringeRate: Float64Array;
    /** Share of clipped samples, 0 to 1. */
    readonly clippedFraction: Float64Array;
  };
}

/** Options of {@linkcode checkCaptureStream}. */
export interface CheckStreamOptions extends CheckCaptureOptions {
  /**
   * Samples per block.
   *
   * @default {262144}
   */
  blockLength?: number;
  /**
   * Stops the check when it is aborted.
   *
   * @default {none}
   */
  signal?: AbortSignal;
}

export const checkStreamSpec = {
  ...checkSpec,
  blockLength: optional(
    optionOf.whole("Samples per block.", { least: 16 }),
    262144,
  ),
  signal: streamRunOptions.signal,
} satisfies Record<keyof CheckStreamOptions, Option>;

/** What of a block's check is kept. */
interface BlockCheck {
  readonly start: number;
  readonly check: CaptureCheck;
  readonly clipped: number;
  readonly missing: number;
}

/**
 * Checks a capture of any size block by block, in bounded memory: each block as
 * `checkCapture` does, then the worst of them. Every kind of finding is told
 * once, with the time at which it came first and the number of blocks that have
 * it.
 *
 * @param stream The opened capture.
 * @param options Limits of the warnings and block length.
 * @returns The findings, with the course over the blocks in `diagnostics`.
 * @throws {RangeError} If the capture has no sample.
 *
 * @example
 * ```ts
 * import { checkCaptureStream, openCaptureStream } from "fringebook";
 * import { expect } from "vitest";
 *
 * const rows = Array.from({ length: 500 }, (_, n) => Math.sin(n / 9)).join("\n");
 * const bytes = new TextEncoder().encode(`monitor (V)\n${rows}\n`);
 * using stream = await openCaptureStream(bytes, { samplingRate: 1000 });
 * const check = await checkCaptureStream(stream, { blockLength: 250 });
 * expect(check.verdict).toBe("good");
 * expect(check.diagnostics.start.length).toBe(2);
 * ```
 */
export async function checkCaptureStream(
  stream: CaptureStream,
  options: CheckStreamOptions = {},
): Promise<CaptureStreamCheck & Shown> {
  const task = "check a capture";
  requireStream(stream, task);
  const { blockLength, signal, ...limits } = readOptions(
    checkStreamSpec,
    options,
    task,
  );
  const { samplingRate } = stream;
  const settings: CaptureStreamOptions = signal === undefined
    ? { blockLength }
    : { blockLength, signal };
  const blocks: BlockCheck[] = [];
  let sampleCount = 0;
  for await (const { capture, start } of stream.blocks(settings)) {
    // A last crumb of a block says nothing of noise or fringes.
    const crumb = start > 0 && capture.sampleCount < blockLength / 16;
    sampleCount += capture.sampleCount;
    if (crumb) continue;
    const full = checkCapture(capture, limits);
    const channel = full.channels.find(({ name }) => name === full.channel)!;
    blocks.push({
      start: start / samplingRate,
      // The traces of a block are let go, or memory would grow with the file.
      check: { ...full, diagnostics: noTraces(full) },
      clipped: channel.clippedFraction,
      missing: channel.levels.missingCount,
    });
  }
  const first = blocks[0];
  if (first === undefined) {
    throw new RangeError("Cannot check a capture as it has no sample");
  }
  const unit = first.check.noise.unit;
  const of = (value: (block: BlockCheck) => number) =>
    Float64Array.from(blocks, value);
  const noise = of(({ check }) => check.noise.value);
  const signalToNoise = of(({ check }) => check.signalToNoise.value);
  const fringeRate = of(({ check }) => check.fringeRate.value);
  const clippedFraction = of(({ clipped }) => clipped);
  const highest = extreme(fringeRate, Math.max);
  const warnings = mergeWarnings(stream.warnings, blocks);
  const every = (verdict: string) =>
    blocks.every(({ check }) => check.verdict === verdict);
  return createResult<CaptureStreamCheck>({
    kind: "capture.stream-check",
    verdict: every("unusable")
      ? "unusable"
      : warnings.some(({ severity }) => severity === "doubtful")
      ? "doubtful"
      : "good",
    channel: first.check.channel,
    samplingRate,
    sampleCount,
    duration: sampleCount / samplingRate,
    noise: quantity(noise.slice().sort()[noise.length >> 1]!, NaN, unit),
    signalToNoise: quantity(extreme(signalToNoise, Math.min), NaN, "dB"),
    fringeRate: quantity(highest, NaN, "Hz"),
    nyquistFraction: 2 * highest / samplingRate,
    clippedFraction: extreme(clippedFraction, Math.max),
    missingCount: blocks.reduce((sum, { missing }) => sum + missing, 0),
    warnings,
    provenance: provenance({
      method: "checkCaptureStream",
      captures: [first.check.provenance.captures[0]!],
      options: { blockLength, ...first.check.provenance.options },
    }),
    diagnostics: {
      start: of(({ start }) => start),
      noise,
      signalToNoise,
      fringeRate,
      clippedFraction,
    },
  });
}

function noTraces(check: CaptureCheck): CaptureCheck["diagnostics"] {
  return { ...check.diagnostics, fringeSignal: new Float64Array(0) };
}

/** Largest or smallest of the values that are numbers; `NaN` if none is. */
function extreme(
  values: Float64Array,
  choose: (a: number, b: number) => number,
): number {
  return values.reduce(
    (best, value) =>
      value !== value || best !== best
        ? (best !== best ? value : best)
        : choose(best, value),
    NaN,
  );
}

/** One warning per code, with its first time and how many blocks have it. */
function mergeWarnings(
  ofFile: readonly Warning[],
  blocks: readonly BlockCheck[],
): Warning[] {
  const found = new Map<
    string,
    { warning: Warning; start: number; count: number }
  >();
  for (const { start, check } of blocks) {
    const codes = new Set<string>();
    for (const warning of check.warnings) {
      if (codes.has(warning.code)) continue;
      codes.add(warning.code);
      const entry = found.get(warning.code);
      if (entry === undefined) {
        found.set(warning.code, { warning, start, count: 1 });
      } else entry.count++;
    }
  }
  const merged = [...found.values()].map(({ warning, start, count }) =>
    warn(
      warning.code,
      `From ${start} s on, in ${count} of ${blocks.length} blocks: ${warning.message}`,
      warning.severity,
    )
  );
  const doubts = ofFile.filter(({ severity, code }) =>
    severity === "doubtful" && !found.has(code)
  );
  return [...doubts, ...merged];
}
