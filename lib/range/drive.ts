import { copyInto, copyOf } from "../memory/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { type Capture, findChannel } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import type { ResultInput } from "../result/mod.ts";
import type { Ramps, RampSettings, ReadStatedDrive } from "./ramps.ts";
import { type FoundFrequency, frequencyByPower } from "./stated_frequency.ts";

const work = "find ramps";
/** Mask of the samples between two checkpoints. */
const stride = 0x1ffff;

/** The drive current of a capture, in A. */
export function driveOf(
  capture: Capture,
  options: RampSettings,
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
  const inVolts = current === null || channel.unit === "V";
  if (inVolts && currentPerVoltage === null) {
    throw new RangeError(
      `Cannot find ramps as channel '${channel.name}' is a drive in V and 'currentPerVoltage' is missing: give it, such as "10mA/V"`,
    );
  }
  if (!inVolts && currentPerVoltage !== null) {
    throw new RangeError(
      `Cannot find ramps with 'currentPerVoltage' as channel '${channel.name}' is in ${channel.unit} and no voltage: leave it out, or give the channel's 'unit' when reading the file`,
    );
  }
  const samples = copyOf(channel.samples, work);
  if (inVolts) {
    for (let i = 0; i < samples.length; i++) {
      if ((i & stride) === stride) checkpoint(NaN, work);
      samples[i] = currentOffset + currentPerVoltage! * samples[i]!;
    }
  }
  bridgeGaps(samples, channel.name);
  requirePlausible(samples, channel.name);
  return samples;
}

/** No diode of this kind of bench takes more on average, in A. */
const mostCurrent = 1;

/**
 * No step of a ramp takes less: at 10 nm/mA and 1 km it is 20 nA, on a bench of a
 * metre some 20 µA. A drive that stays below is noise, or in another unit, in A.
 */
const leastCurrent = 1e-6;

/**
 * A mean beyond what a diode takes, or values below what moves a fringe, are in
 * another unit than they say. A mean near 0 is not: the drive may be what is added
 * to an operating point.
 */
function requirePlausible(samples: Float64Array, name: string): void {
  const mean = meanOf(samples);
  const largest = largestOf(samples);
  if (largest > 0 && largest < leastCurrent) {
    throw new RangeError(
      `Cannot find ramps as the drive current '${name}' stays below ${
        largest.toPrecision(2)
      } A, which moves no fringe: its scale is wrong, or it is noise. If it was recorded as a voltage, give 'currentPerVoltage' (such as "10mA/V"); else give the channel's 'scale' when reading the file, such as 1e3 where mA were divided twice`,
    );
  }
  if (Math.abs(mean) <= mostCurrent) return;
  throw new RangeError(
    `Cannot find ramps as the drive current '${name}' averages ${
      mean.toPrecision(3)
    } A, more than ${mostCurrent} A: its scale is wrong. If it was recorded as a voltage, give 'currentPerVoltage' (such as "10mA/V"); else give the channel's 'scale' when reading the file, such as 1e-3 for mA`,
  );
}

function largestOf(values: Float64Array): number {
  let largest = 0;
  for (let i = 0; i < values.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, work);
    largest = Math.max(largest, Math.abs(values[i]!));
  }
  return largest;
}

function meanOf(values: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < values.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, work);
    sum += values[i]!;
  }
  return sum / values.length;
}

/** What turns the drive into a current, and where that comes from. */
export function driveInputs(
  capture: Capture,
  { currentPerVoltage = null, drive = null }: RampSettings,
  relativeStandardUncertainty: number | null = null,
): ResultInput[] {
  const scaled = (value: number) =>
    relativeStandardUncertainty === null
      ? null
      : relativeStandardUncertainty * Math.abs(value);
  if (drive !== null) {
    const span = drive.high - drive.low;
    return [{
      name: "drive",
      label: "current span of the stated drive",
      value: span,
      unit: "A",
      standardUncertainty: scaled(span),
      origin: "stated",
    }];
  }
  if (currentPerVoltage !== null) {
    return [{
      name: "currentPerVoltage",
      label: "current per voltage",
      value: currentPerVoltage,
      unit: "A/V",
      standardUncertainty: scaled(currentPerVoltage),
      origin: "stated",
    }];
  }
  const scale = findChannel(capture, "drive current")?.scale ?? 1;
  return [{
    name: "currentScale",
    label: "scale of the drive current",
    value: scale,
    unit: "1",
    standardUncertainty: scaled(scale),
    origin: "file",
  }];
}

/** Time constants after which what was before is forgotten (e⁻⁴⁵ < 2⁻⁶⁴). */
const forgotten = 45;

/**
 * The current that the wavelength has got to: a part of it lags by one pole. The
 * record starts as it would go on: where its end leads.
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
  // Exact for a current that runs straight from sample to sample.
  const keep = Math.exp(-1 / samples);
  const behind = samples * (1 - keep);
  const count = drive.length;
  const out = new Float64Array(count);
  // How far the state is from the current.
  let gap = 0;
  const follow = (from: number) => {
    let last = drive[from]!;
    for (let i = from; i < count; i++) {
      if ((i & stride) === stride) checkpoint(i / count, work);
      const value = drive[i]!;
      gap = keep * gap - behind * (value - last);
      last = value;
      out[i] = value + fraction * gap;
    }
  };
  const lead = Math.max(0, Math.floor(count - forgotten * samples));
  if (lead === 0) {
    gap = meanOf(drive) - drive[0]!;
  }
  follow(lead);
  gap += drive[count - 1]! - drive[0]!;
  follow(0);
  return out;
}

/** Replaces missing samples by a straight line between their neighbours. */
function bridgeGaps(samples: Float64Array, name: string): void {
  let last = -1;
  let missing = 0;
  for (let i = 0; i < samples.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, work);
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

function statedCurrent(capture: Capture, drive: ReadStatedDrive): Float64Array {
  const { frequency, low, high } = drive;
  if (!(frequency > 0) || !(high > low)) {
    throw new RangeError(
      `Cannot find ramps as the stated drive must have a positive 'frequency' and 'high' above 'low': current values are ${frequency} Hz, ${low} A, ${high} A`,
    );
  }
  // A start that was given says that the waveform is known to the sample.
  const known = drive.start !== undefined
    ? drive
    : { ...drive, frequency: frequencyOf(capture, drive) };
  const { start = startOf(capture, known) } = drive;
  const current = riseOf(capture, known, start);
  for (let i = 0; i < current.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, work);
    current[i] = low + (high - low) * current[i]!;
  }
  return current;
}

/** The stated frequency, or that of the power where the two differ for sure. */
function frequencyOf(capture: Capture, drive: ReadStatedDrive): number {
  const found = frequencyByPower(capture, drive);
  return frequencyDiffers(drive, found) ? found.frequency : drive.frequency;
}

/** Whether the power has another frequency than was stated. */
export function frequencyDiffers(
  { frequency: stated }: ReadStatedDrive,
  { frequency, standardUncertainty }: FoundFrequency,
): boolean {
  const difference = Math.abs(frequency - stated);
  return difference > 4 * standardUncertainty && difference > 1e-5 * stated;
}

/** The waveform from 0 to 1. */
function riseOf(
  capture: Capture,
  { shape, frequency }: ReadStatedDrive,
  start: number,
): Float64Array {
  const rise = new Float64Array(capture.sampleCount);
  for (let i = 0; i < rise.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, work);
    const turns = i * frequency / capture.samplingRate + start;
    const part = turns - Math.floor(turns);
    rise[i] = shape === "sawtooth"
      ? part
      : shape === "triangle"
      ? 1 - Math.abs(2 * part - 1)
      : (1 - Math.cos(2 * Math.PI * part)) / 2;
  }
  return rise;
}

/**
 * Part of the period over at the first sample: where the power in the monitor
 * signal rises and falls with the stated waveform. The signal is taken to grow
 * with the light; for a triangle and a sine an inverting amplifier cannot be told
 * from half a period.
 */
function startOf(capture: Capture, drive: ReadStatedDrive): number {
  const monitor = findChannel(capture, "monitor signal");
  if (monitor === null) {
    throw new NotMeasurableError(
      "no drive",
      "Cannot find ramps as the stated drive has no 'start' and the capture no monitor signal to find it from: give 'start'",
    );
  }
  const y = copyOf(monitor.samples, work);
  bridgeGaps(y, monitor.name);
  const mean = meanOf(y);
  /** Correlation coefficient of signal and waveform. */
  const likeness = (start: number) => {
    const rise = riseOf(capture, drive, start);
    const middle = meanOf(rise);
    let both = 0;
    let [own, other] = [0, 0];
    for (let i = 0; i < y.length; i++) {
      if ((i & stride) === stride) checkpoint(NaN, work);
      both += (rise[i]! - middle) * (y[i]! - mean);
      own += (rise[i]! - middle) ** 2;
      other += (y[i]! - mean) ** 2;
    }
    return own > 0 && other > 0 ? both / Math.sqrt(own * other) : 0;
  };
  const grid = 100;
  let best = 0;
  let most = -Infinity;
  for (let k = 0; k < grid; k++) {
    const value = likeness(k / grid);
    if (value > most) [best, most] = [k / grid, value];
  }
  if (!(most > 0.5)) {
    throw new NotMeasurableError(
      "no drive",
      `Cannot find where the stated drive starts, as the monitor signal follows its waveform with a correlation of ${
        most.toFixed(2)
      } only: give 'start', or look at 'frequency' and 'shape'`,
    );
  }
  const golden = (Math.sqrt(5) - 1) / 2;
  let [low, high] = [best - 1 / grid, best + 1 / grid];
  while (high - low > 1e-6) {
    const left = high - golden * (high - low);
    const right = low + golden * (high - low);
    if (likeness(left) > likeness(right)) high = right;
    else low = left;
  }
  const start = (low + high) / 2;
  return start - Math.floor(start);
}

/**
 * The drive of the whole record: smooth along the strokes, which are joined by
 * straight lines; before the first and after the last as it was captured.
 *
 * @param ramps The ramps, found without leaving out turn-rounds.
 * @param captured The drive current as captured, in A.
 */
export function wholeDrive(
  ramps: Ramps,
  captured: Float64Array,
): Float64Array {
  const count = captured.length;
  const drive = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    if ((i & stride) === stride) checkpoint(NaN, work);
    drive[i] = NaN;
  }
  const { strokes } = ramps.diagnostics;
  for (const { start, current } of strokes) {
    copyInto(drive, start, current, work);
  }
  const [first, last] = [strokes[0]!.start, strokes.at(-1)!.end];
  copyInto(drive, 0, captured, work, 0, first);
  copyInto(drive, last, captured, work, last);
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
  let known = -1;
  for (let i = 0; i < count; i++) {
    if ((i & stride) === stride) checkpoint(NaN, work);
    if (Number.isNaN(drive[i])) continue;
    for (let k = known + 1; k < i; k++) {
      drive[k] = drive[known]! +
        (drive[i]! - drive[known]!) * (k - known) / (i - known);
    }
    known = i;
  }
  return drive;
}
