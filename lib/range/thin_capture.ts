import { extremesOf } from "../order/mod.ts";
import {
  type Capture,
  createCapture,
  findChannel,
  requireChannel,
} from "../capture/mod.ts";
import { coarseSteps } from "./coarse_steps.ts";
import { strokeSignal } from "./count_ramp.ts";
import { findFewRamps } from "./head_capture.ts";
import type { RampSettings } from "./ramps.ts";
import { blockMeans } from "./stroke_signal.ts";

/** Strokes of fewer samples are counted as they are. */
const longStroke = 6000;
/** Samples to a step that a count wants at most. */
export const perStep = 24;
/** Samples of a stroke that are left at least. */
const leastSamples = 1500;

/** A capture of fewer samples with the same fringes. */
export interface ThinnedCapture {
  readonly capture: Capture;
  /** Samples of the capture in one of these. */
  readonly block: number;
}

/**
 * Replaces neighbouring samples by their means where a stroke has far more of
 * them than its fringes need: the noise of a mean is smaller by as much as there
 * are fewer of them. Not where the fringes jump from one sample to the next, as
 * a mean would blur the place, nor where the drive was not captured.
 *
 * @param capture The capture.
 * @param options As for {@linkcode findRamps}.
 * @param known Samples in one, where an earlier part of the record told; else `null`.
 */
export function thinCapture(
  capture: Capture,
  options: RampSettings,
  known: number | null = null,
): ThinnedCapture {
  const monitor = requireChannel(capture, "monitor signal");
  const drive = findChannel(capture, "drive current") ??
    findChannel(capture, "drive voltage");
  const block = known ?? blockOf(capture, options);
  if (block < 2 || drive === null) return { capture, block: 1 };
  return {
    capture: createCapture(
      [monitor, drive].map((channel) => ({
        ...channel,
        samples: blockMeans(channel.samples, block),
      })),
      {
        samplingRate: capture.samplingRate / block,
        source: capture.source,
      },
    ),
    block,
  };
}

/** Samples that may be taken together; 1 for none. */
function blockOf(capture: Capture, options: RampSettings): number {
  if (
    findChannel(capture, "drive current") === null &&
      findChannel(capture, "drive voltage") === null ||
    (options.drive ?? null) !== null || capture.sampleCount < longStroke
  ) return 1;
  const ramps = findFewRamps(capture, options);
  const stroke = ramps.diagnostics.strokes[0]!;
  const count = stroke.end - stroke.start;
  if (count < longStroke) return 1;
  const low = ramps.lowCurrent.value;
  const span = ramps.highCurrent.value - low;
  const { samples } = requireChannel(capture, "monitor signal");
  const signal = strokeSignal(samples, stroke, low, span);
  if (signal === null) return 1;
  const { steps } = coarseSteps(signal);
  const block = Math.floor(count / Math.max(leastSamples, perStep * steps));
  return jumps(signal.y, steps) ? 1 : Math.max(1, block);
}

/** Whether most steps hold a change by half of the range from sample to sample. */
function jumps(y: Float64Array, steps: number): boolean {
  const [low, high] = extremesOf(y);
  let count = 0;
  for (let i = 1; i < y.length; i++) {
    if (Math.abs(y[i]! - y[i - 1]!) > 0.3 * (high - low)) count++;
  }
  return count > 0.5 * steps;
}
