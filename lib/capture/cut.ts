import {
  type Option,
  optional,
  optionOf,
  readOptions,
  requireCapture,
} from "../options/mod.ts";
import type { Shown } from "../result/mod.ts";
import { type Capture, createCapture } from "./capture.ts";

/** Options of {@linkcode cutCapture}. */
export interface CutCaptureOptions {
  /**
   * Start of the window, in s from the first sample.
   *
   * @default {0}
   */
  from?: number | string;
  /**
   * End of the window, in s from the first sample.
   *
   * @default {the end of the capture}
   */
  to?: number | string;
}

export const cutSpec = {
  from: optional(
    optionOf.finite(
      "Start of the window, in s from the first sample.",
      "s",
      "10ms",
    ),
    0,
  ),
  to: optional(
    optionOf.finite(
      "End of the window, in s from the first sample.",
      "s",
      "20ms",
    ),
    undefined,
    "the end of the capture",
  ),
} satisfies Record<keyof CutCaptureOptions, Option>;

/**
 * Takes a time window out of a capture. The samples are shared with the capture,
 * not copied.
 *
 * @param capture The capture.
 * @param options Start and end, in s from the first sample.
 * @returns The window as a capture of its own; its warnings are the capture's.
 * @throws {RangeError} If the window holds no sample.
 *
 * @example
 * ```ts
 * import { createCapture, cutCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = createCapture([{
 *   name: "A",
 *   role: "monitor signal",
 *   unit: "V",
 *   samples: Float64Array.of(0, 1, 2, 3, 4),
 * }], { samplingRate: 10 });
 * const window = cutCapture(capture, { from: 0.1, to: 0.3 });
 * expect([...window.channels[0]!.samples]).toEqual([1, 2]);
 * ```
 */
export function cutCapture(
  capture: Capture,
  options: CutCaptureOptions = {},
): Capture & Shown {
  const task = "cut a capture";
  requireCapture(capture, task);
  const { samplingRate, sampleCount } = capture;
  const { from, to = sampleCount / samplingRate } = readOptions(
    cutSpec,
    options,
    task,
  );
  // Rounded so that 0.3 s at 10 Hz is sample 3, whatever 0.3 * 10 is.
  const start = Math.max(0, Math.round(from * samplingRate));
  const end = Math.min(sampleCount, Math.round(to * samplingRate));
  if (!(end > start)) {
    throw new RangeError(
      `Cannot cut a capture from ${from} s to ${to} s as no sample lies there: it runs from 0 s to ${
        sampleCount / samplingRate
      } s`,
    );
  }
  return createCapture(
    capture.channels.map((channel) => ({
      ...channel,
      samples: channel.samples.subarray(start, end),
    })),
    {
      samplingRate,
      startTime: capture.startTime === null ? null : new Date(
        Date.parse(capture.startTime) + 1000 * start / samplingRate,
      ).toISOString(),
      metadata: capture.metadata,
      source: capture.source,
      warnings: capture.warnings,
    },
  );
}
