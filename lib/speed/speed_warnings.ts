import { extremesOf } from "../order/mod.ts";
import {
  type Capture,
  checkCapture,
  createCapture,
  findChannel,
  type Samples,
} from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import { inDigits, warn, type Warning } from "../result/mod.ts";
import { humOrder, type SpectrumLine } from "./classify_lines.ts";
import { dopplerSensitivity } from "./doppler.ts";
import type { DopplerLine } from "./doppler_line.ts";
import { findLines, type LineCandidate } from "./find_lines.ts";
import type { ReadMeasureSpeedOptions } from "./measure_speed.ts";

const task = "measure a speed";

/** The error for a spectrum without a line: says what there is instead. */
export function noLine(
  samples: Float64Array,
  samplingRate: number,
  low: number,
  high: number,
  banded: boolean,
): Error {
  const duration = samples.length / samplingRate;
  let energy = 0;
  for (const value of samples) energy += value * value;
  if (energy === 0) {
    return new NotMeasurableError(
      "no signal",
      `Cannot ${task} as the monitor signal is constant over ${duration} s: check the amplifier and the light path`,
    );
  }
  const slow = banded ? [] : findLines(samples, {
    samplingRate,
    lowest: 3 / duration,
    highest: 1.5 * low,
    background: null,
    most: 1,
  });
  const first = slow[0];
  if (first !== undefined) {
    return new NotMeasurableError(
      "too slow",
      `Cannot ${task} as the only line, at ${
        inDigits(first.frequency, 3)
      } Hz, has ${
        (first.frequency * duration).toFixed(1)
      } periods in the record: record longer, or give 'searchBand' if it is the Doppler line`,
    );
  }
  return new NotMeasurableError(
    "no line",
    `Cannot ${task} as no line rises above the noise between ${
      inDigits(low, 3)
    } and ${
      inDigits(high, 3)
    } Hz: check focus and aim, record longer, or raise the sampling rate`,
  );
}

/** Samples that are looked at for clipping: enough to tell, quick to check. */
const clippingSamples = 1 << 16;

/** What the capture itself gives reason to doubt. */
export function captureWarnings(capture: Capture, name: string): Warning[] {
  const warnings: Warning[] = [];
  const channel = capture.channels.find((one) => one.name === name)!;
  const from = Math.max(
    0,
    Math.floor((capture.sampleCount - clippingSamples) / 2),
  );
  const samples = channel.samples.subarray(from, from + clippingSamples);
  const part = createCapture([{ ...channel, samples }], {
    samplingRate: capture.samplingRate,
  });
  const clipped = Math.max(
    checkCapture(part).channels[0]!.clippedFraction,
    twoLevelShare(samples),
  );
  if (clipped >= 1e-3) {
    warnings.push(warn(
      "clipped",
      `${
        inDigits(100 * clipped, 2)
      } % of the samples of '${name}' sit at a rail, which raises the harmonics: lower the gain or the light`,
      clipped > 0.05 ? "doubtful" : "note",
    ));
  }
  const swing = currentSwing(capture);
  if (swing > 0.02) {
    warnings.push(warn(
      "current-ramps",
      `The drive current changes by ${
        inDigits(100 * swing, 2)
      } %, so the distance shifts the line as well as the speed: hold the current steady`,
    ));
  }
  return warnings;
}

/** Share of samples at the two extremes where that is most of them, else 0. */
function twoLevelShare(samples: Samples): number {
  const [low, high] = extremesOf(samples);
  let count = 0;
  for (const value of samples) if (value === low || value === high) count++;
  return count > 0.5 * samples.length ? count / samples.length : 0;
}

/** Change of the diode's current over its largest value (1); 0 if unknown. */
function currentSwing(capture: Capture): number {
  const drive = findChannel(capture, "drive current");
  if (drive === null) return 0;
  const [low, high] = extremesOf(drive.samples);
  return (high - low) / Math.max(Math.abs(low), Math.abs(high), 1e-300);
}

/** What the warnings about a line need to know. */
export interface WarningContext {
  readonly samplingRate: number;
  readonly duration: number;
  readonly mains: readonly number[];
  readonly options: ReadMeasureSpeedOptions;
  readonly expectedSpeed: number | null;
}

/** What the line and its neighbours give reason to doubt. */
export function lineWarnings(
  line: DopplerLine,
  seen: LineCandidate,
  lines: readonly SpectrumLine[],
  context: WarningContext,
): Warning[] {
  const { samplingRate, duration, mains } = context;
  const warnings: Warning[] = [];
  const nyquist = samplingRate / 2;
  const text = (frequency: number) => `${inDigits(frequency, 5)} Hz`;
  if (humOrder(seen, mains) !== null) {
    warnings.push(warn(
      "mains-hum",
      `The line at ${
        text(line.frequency)
      } is a multiple of the mains frequency and the only one: block the beam to see whether it stays`,
    ));
  }
  const other = lines.find((one) =>
    one.role === "other" && one.relativePower > 0.05
  );
  if (other !== undefined) {
    warnings.push(warn(
      "two-targets",
      `A second line at ${text(other.frequency)} has ${
        inDigits(100 * other.relativePower, 2)
      } % of the power of the one at ${
        text(line.frequency)
      } and is no harmonic of it: give 'searchBand' to choose, or block one of the paths`,
    ));
  }
  if (line.frequency + line.width > 0.9 * nyquist) {
    warnings.push(warn(
      "near-nyquist",
      `The line at ${
        text(line.frequency)
      } lies close to half the sampling rate (${
        text(nyquist)
      }) and may be folded: sample faster`,
    ));
  }
  warnings.push(...aliasWarnings(line, context));
  const parts = line.broadened?.independentParts ?? Infinity;
  if (parts < 20) {
    warnings.push(warn(
      "few-speckles",
      `The record holds ${
        parts.toFixed(1)
      } correlation times of the line only, too few for a sure interval: record longer`,
      parts < 10 ? "doubtful" : "note",
    ));
  }
  const chi = line.broadened?.reducedChiSquare ?? 1;
  if (chi > 2) {
    warnings.push(warn(
      "line-shape",
      `The line does not have the fitted form (χ² per degree of freedom ${
        inDigits(chi, 3)
      }): the speed may change within the record; follow it with trackSpeed()`,
    ));
  }
  if (line.form === "clean" && line.clean.excess > 3) {
    warnings.push(warn(
      "unsteady",
      `The line is not steady over the ${duration} s of the record (speckle or a changing speed), which its uncertainty now contains: record longer, or follow it with trackSpeed()`,
      line.clean.excess > 30 ? "doubtful" : "note",
    ));
  }
  const { angle, angleStandardUncertainty } = context.options;
  const spread = angleStandardUncertainty * Math.abs(Math.tan(angle));
  if (spread > 0.1) {
    warnings.push(warn(
      "steep-angle",
      `The angle's uncertainty alone makes ${
        inDigits(100 * spread, 2)
      } % of the speed, where the linear budget no longer holds: tilt the beam toward the motion or calibrate against a known speed`,
    ));
  }
  return warnings;
}

function aliasWarnings(line: DopplerLine, context: WarningContext): Warning[] {
  const { samplingRate, expectedSpeed, options } = context;
  if (expectedSpeed === null) return [];
  const expected = Math.abs(expectedSpeed * dopplerSensitivity(options));
  if (expected <= samplingRate / 2) return [];
  const turns = expected / samplingRate;
  const folded = Math.abs(turns - Math.round(turns)) * samplingRate;
  return [warn(
    "aliased",
    `The expected speed of ${expectedSpeed} m/s gives ${
      inDigits(expected, 5)
    } Hz, beyond half the sampling rate, and would show at ${
      inDigits(folded, 5)
    } Hz (a line was found at ${
      inDigits(line.frequency, 5)
    } Hz): sample faster`,
  )];
}
