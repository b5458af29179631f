import {
  type Capture,
  createCapture,
  findChannel,
  requireChannel,
} from "../capture/mod.ts";
import { coarseSteps } from "./coarse_steps.ts";
import { strokeSignal } from "./count_ramp.ts";
import { findFewRamps } from "./head_capture.ts";
import type { FindRampsOptions } from "./ramps.ts";

/** Strokes of fewer samples are counted as they are. */
const longStroke = 6000;
/** Samples to a step that a count wants at most. */
const perStep = 24;
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
 */
export function thinCapture(
  capture: Capture,
  options: FindRampsOptions,
): ThinnedCapture {
  const whole = { capture, block: 1 };
  const monitor = requireChannel(capture, "monitor signal");
  const drive = findChannel(capture, "drive current") ??
    findChannel(capture, "drive voltage");
  if (
    drive === null || (options.drive ?? null) !== null ||
    capture.sampleCount < longStroke
  ) return whole;
  const ramps = findFewRamps(capture, options);
  const stroke = ramps.diagnostics.strokes[0]!;
  const count = stroke.end - stroke.start;
  if (count < longStroke) return whole;
  const low = ramps.lowCurrent.value;
  const span = ramps.highCurrent.value - low;
  const signal = strokeSignal(monitor.samples, stroke, low, span);
  if (signal === null) return whole;
  const { steps } = coarseSteps(signal);
  const block = Math.floor(count / Math.max(leastSamples, perStep * steps));
  if (block < 2 || jumps(signal.y, steps)) return whole;
  const means = (samples: ArrayLike<number>) => {
    const out = new Float64Array(Math.floor(samples.length / block));
    for (let k = 0; k < out.length; k++) {
      let sum = 0;
      for (let j = 0; j < block; j++) sum += samples[k * block + j]!;
      out[k] = sum / block;
    }
    return out;
  };
  return {
    capture: createCapture(
      [monitor, drive].map((channel) => ({
        ...channel,
        samples: means(channel.samples),
      })),
      {
        samplingRate: capture.samplingRate / block,
        source: capture.source,
      },
    ),
    block,
  };
}

/** Whether most steps hold a change by half of the range from sample to sample. */
function jumps(y: Float64Array, steps: number): boolean {
  let low = Infinity;
  let high = -Infinity;
  for (const value of y) {
    low = Math.min(low, value);
    high = Math.max(high, value);
  }
  let count = 0;
  for (let i = 1; i < y.length; i++) {
    if (Math.abs(y[i]! - y[i - 1]!) > 0.3 * (high - low)) count++;
  }
  return count > 0.5 * steps;
}
