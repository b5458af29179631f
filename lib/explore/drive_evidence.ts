import { extremesOf } from "../order/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { type Capture, type Channel, findChannel } from "../capture/mod.ts";
import { requireCapture } from "../options/mod.ts";

/** What the drive channel tells of the measurement. */
export interface DriveEvidence {
  /** Name of the drive channel; `null` where there is none. */
  readonly channel: string | null;
  /** (largest − smallest) / largest magnitude (1); 0 for a constant drive. */
  readonly relativeSwing: number;
  /** Smallest / largest value (1); below 0 where the drive changes sign. */
  readonly floor: number;
  /** Strokes of the drive: runs in one direction longer than half the swing. */
  readonly strokes: number;
  /**
   * Squared correlation of monitor signal and drive (1): near 1 where the drive
   * is the diode's own current, whose power slope carries the fringes.
   */
  readonly correlation: number;
  /**
   * Share of the monitor's variance that the value of the drive explains, whatever
   * the form of the curve (1): the correlation ratio over 32 classes.
   */
  readonly explained: number;
  /** Classes of 32 that hold a hundredth of the samples: 2 of a square wave. */
  readonly levels: number;
}

/**
 * Looks at the drive channel: does it drive the diode (power follows it) or a
 * target (power does not), over how many strokes, from how near zero.
 *
 * @param capture A capture with a monitor signal; a drive channel is optional.
 * @returns What was found.
 *
 * @example
 * ```ts
 * import { simulateCapture } from "fringebook";
 * import { gatherDriveEvidence } from "fringebook/explore";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: 0.1,
 *   current: (time) => 0.04 + 0.002 * time,
 *   samplingRate: 1000,
 *   duration: 1,
 * });
 * expect(gatherDriveEvidence(capture).correlation).toBeGreaterThan(0.9);
 * ```
 */
export function gatherDriveEvidence(capture: Capture): DriveEvidence {
  requireCapture(capture, "look at the drive");
  const drive = findChannel(capture, "drive current") ??
    findChannel(capture, "drive voltage");
  const monitor = findChannel(capture, "monitor signal");
  if (drive === null) {
    return {
      channel: null,
      relativeSwing: 0,
      floor: 1,
      strokes: 0,
      correlation: 0,
      explained: 0,
      levels: 0,
    };
  }
  const [low, high] = extremesOf(drive.samples);
  const largest = Math.max(Math.abs(low), Math.abs(high));
  return {
    channel: drive.name,
    relativeSwing: largest > 0 ? (high - low) / largest : 0,
    floor: largest > 0 ? low / largest : 1,
    strokes: countStrokes(drive, (high - low) / 2),
    correlation: monitor === null ? 0 : squaredCorrelation(monitor, drive),
    ...explainedBy(monitor, drive, low, high),
  };
}

/** Turning points with a hysteresis, so that noise makes none. */
function countStrokes({ samples }: Channel, hysteresis: number): number {
  if (!(hysteresis > 0)) return 0;
  let strokes = 0;
  let direction = 0;
  let extreme = samples[0]!;
  for (let i = 0; i < samples.length; i++) {
    if ((i & 0x1ffff) === 0) checkpoint(NaN, "look at the drive");
    const value = samples[i]!;
    if (direction >= 0 && value > extreme) extreme = value;
    else if (direction <= 0 && value < extreme) extreme = value;
    if (Math.abs(value - extreme) > hysteresis) {
      direction = Math.sign(value - extreme);
      extreme = value;
      strokes++;
    } else if (direction === 0 && Math.abs(value - samples[0]!) > hysteresis) {
      direction = Math.sign(value - samples[0]!);
      strokes++;
    }
  }
  return strokes;
}

function squaredCorrelation(a: Channel, b: Channel): number {
  const count = a.samples.length;
  let meanA = 0;
  let meanB = 0;
  for (let i = 0; i < count; i++) {
    if ((i & 0x1ffff) === 0) checkpoint(NaN, "look at the drive");
    meanA += a.samples[i]! / count;
    meanB += b.samples[i]! / count;
  }
  let aa = 0;
  let ab = 0;
  let bb = 0;
  for (let i = 0; i < count; i++) {
    if ((i & 0x1ffff) === 0) checkpoint(NaN, "look at the drive");
    const x = a.samples[i]! - meanA;
    const y = b.samples[i]! - meanB;
    aa += x * x;
    ab += x * y;
    bb += y * y;
  }
  return aa > 0 && bb > 0 ? ab * ab / (aa * bb) : 0;
}

const classes = 32;

/** Correlation ratio of the monitor signal over classes of the drive. */
function explainedBy(
  monitor: Channel | null,
  { samples }: Channel,
  low: number,
  high: number,
): { explained: number; levels: number } {
  const count = new Float64Array(classes);
  const sum = new Float64Array(classes);
  const scale = high > low ? (classes - 1e-9) / (high - low) : 0;
  let mean = 0;
  let squares = 0;
  for (let i = 0; i < samples.length; i++) {
    if ((i & 0x1ffff) === 0) checkpoint(NaN, "look at the drive");
    const own = Math.floor((samples[i]! - low) * scale);
    if (!(own >= 0)) continue;
    const signal = monitor?.samples[i] ?? 0;
    count[own]!++;
    sum[own]! += signal;
    mean += signal;
    squares += signal * signal;
  }
  const total = count.reduce((a, b) => a + b, 0);
  mean /= total;
  const variance = squares - total * mean * mean;
  let between = 0;
  for (let k = 0; k < classes; k++) {
    if (count[k]! > 0) between += count[k]! * (sum[k]! / count[k]! - mean) ** 2;
  }
  return {
    explained: variance > 0 ? Math.min(1, between / variance) : 0,
    levels: count.filter((n) => n > 0.01 * total).length,
  };
}
