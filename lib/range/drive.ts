import { type Capture, findChannel } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import type { FindRampsOptions, Ramps, StatedDrive } from "./ramps.ts";

/** The drive current of a capture, in A. */
export function driveOf(
  capture: Capture,
  options: FindRampsOptions,
): Float64Array {
  const { currentPerVoltage = null, currentOffset = 0, drive = null } = options;
  if (drive !== null) return statedCurrent(capture, drive);
  const current = findChannel(capture, "drive current");
  const voltage = findChannel(capture, "drive voltage");
  const channel = current ?? voltage;
  if (channel === null) {
    throw new NotMeasurableError(
      "no drive",
      `Cannot find ramps as the capture has neither a drive current nor a drive voltage channel: it has ${
        capture.channels.map(({ name, role }) => `'${name}' (${role})`)
          .join(", ")
      }. Give the channel's role, or state the waveform with 'drive'`,
    );
  }
  if (current === null && currentPerVoltage === null) {
    throw new RangeError(
      `Cannot find ramps as channel '${channel.name}' is a drive voltage and 'currentPerVoltage' is missing: give it in A/V`,
    );
  }
  const samples = Float64Array.from(channel.samples);
  if (current === null) {
    for (let i = 0; i < samples.length; i++) {
      samples[i] = currentOffset + currentPerVoltage! * samples[i]!;
    }
  }
  bridgeGaps(samples, channel.name);
  return samples;
}

/**
 * The current that the wavelength has got to: a part of it lags by one pole. The
 * record is run through twice, so that it starts as it would go on.
 */
export function lagging(
  drive: Float64Array,
  samples: number,
  fraction: number,
): Float64Array {
  if (!(samples > 0)) {
    if (samples === 0) return drive;
    throw new RangeError(
      `Cannot find ramps as 'thermalTimeConstant' must not be negative: current value in samples is ${samples}`,
    );
  }
  const keep = Math.exp(-1 / samples);
  let state = drive.reduce((sum, value) => sum + value, 0) / drive.length;
  for (const value of drive) state = value + keep * (state - value);
  return drive.map((value) => {
    state = value + keep * (state - value);
    return value + fraction * (state - value);
  });
}

/** Replaces missing samples by a straight line between their neighbours. */
function bridgeGaps(samples: Float64Array, name: string): void {
  let last = -1;
  let missing = 0;
  for (let i = 0; i < samples.length; i++) {
    if (!Number.isFinite(samples[i])) {
      missing++;
      continue;
    }
    if (last < i - 1 && last >= 0) {
      for (let k = last + 1; k < i; k++) {
        samples[k] = samples[last]! +
          (samples[i]! - samples[last]!) * (k - last) / (i - last);
      }
    } else if (last === -1 && i > 0) samples.fill(samples[i]!, 0, i);
    last = i;
  }
  if (missing > 0.1 * samples.length) {
    throw new NotMeasurableError(
      "missing samples",
      `Cannot find ramps as ${missing} of the ${samples.length} samples of '${name}' are missing: record it again`,
    );
  }
  if (last < samples.length - 1) samples.fill(samples[last]!, last + 1);
}

function statedCurrent(capture: Capture, drive: StatedDrive): Float64Array {
  const { shape, frequency, low, high, start = 0 } = drive;
  if (!(frequency > 0) || !(high > low)) {
    throw new RangeError(
      `Cannot find ramps as the stated drive must have a positive 'frequency' and 'high' above 'low': current values are ${frequency} Hz, ${low} A, ${high} A`,
    );
  }
  return Float64Array.from({ length: capture.sampleCount }, (_, i) => {
    const turns = i * frequency / capture.samplingRate + start;
    const part = turns - Math.floor(turns);
    const rise = shape === "sawtooth"
      ? part
      : shape === "triangle"
      ? 1 - Math.abs(2 * part - 1)
      : (1 - Math.cos(2 * Math.PI * part)) / 2;
    return low + (high - low) * rise;
  });
}

/** The drive of the whole record, the strokes joined by straight lines. */
export function wholeDrive(ramps: Ramps, count: number): Float64Array {
  const drive = new Float64Array(count).fill(NaN);
  for (const { start, current } of ramps.diagnostics.strokes) {
    drive.set(current, start);
  }
  const { turningPoints } = ramps.diagnostics;
  const low = ramps.lowCurrent.value;
  const high = ramps.highCurrent.value;
  for (const point of turningPoints) {
    const at = Math.max(0, Math.min(count - 1, Math.round(point)));
    if (Number.isNaN(drive[at])) {
      // The nearest stroke sample tells which end of the ramp this is.
      let near = at;
      while (near > 0 && Number.isNaN(drive[near])) near--;
      while (near < count - 1 && Number.isNaN(drive[near])) near++;
      drive[at] = drive[near]! > (low + high) / 2 ? high : low;
    }
  }
  let last = -1;
  for (let i = 0; i < count; i++) {
    if (Number.isNaN(drive[i])) continue;
    if (last < 0) drive.fill(drive[i]!, 0, i);
    else {
      for (let k = last + 1; k < i; k++) {
        drive[k] = drive[last]! +
          (drive[i]! - drive[last]!) * (k - last) / (i - last);
      }
    }
    last = i;
  }
  drive.fill(drive[last]!, last + 1);
  return drive;
}
