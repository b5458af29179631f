import { fitLinear } from "../fit/mod.ts";
import { bandSource, type NumberSequence } from "../signal/mod.ts";
import { measureCleanLine } from "./clean_line.ts";
import { findLines } from "./find_lines.ts";

/** A change of the Doppler frequency that comes back with every turn. */
export interface TurnModulation {
  /** How often it comes back, in Hz: the turn rate or a multiple of it. */
  readonly frequency: number;
  /** Its standard uncertainty, in Hz. */
  readonly standardUncertainty: number;
  /** Mean Doppler frequency over the record without the modulation, in Hz. */
  readonly meanFrequency: number;
  /** Its standard uncertainty, in Hz. */
  readonly meanStandardUncertainty: number;
  /** Amplitude of the modulation over the mean frequency (1). */
  readonly depth: number;
  /** Standard uncertainty of the depth (1). */
  readonly depthStandardUncertainty: number;
}

/**
 * Looks for a periodic change in a followed frequency: an eccentric or
 * out-of-round shaft moves the spot's radius once per turn.
 *
 * @param frequency Followed frequency of each frame, in Hz; `NaN` where it was
 * not seen.
 * @param frameRate Frames per second, in Hz.
 * @param repetition Frames that share the same samples (1).
 * @returns The modulation, or `null` where there is none with at least three
 * periods, or where more than a fifth of the frames are missing.
 */
export function findTurnModulation(
  frequency: Float64Array,
  frameRate: number,
  repetition: number,
): TurnModulation | null {
  const series = withoutGaps(frequency);
  if (series === null || series.length < 64) return null;
  const duration = series.length / frameRate;
  const lines = findLines(series, {
    samplingRate: frameRate,
    lowest: 2.5 / duration,
    highest: frameRate / (2 * repetition),
    background: null,
    most: 4,
  });
  const seen = lines[0];
  if (seen === undefined) return null;
  const line = measureCleanLine(
    bandSource(series, frameRate),
    seen.frequency,
    Math.min(2 * seen.resolution, 0.5 * seen.frequency),
  );
  if (line.frequency * duration < 3) return null;
  const fit = meanWithHarmonics(series, frameRate, line.frequency, repetition);
  return {
    frequency: fit.frequency,
    standardUncertainty: fit.frequencyStandardUncertainty,
    meanFrequency: fit.mean,
    meanStandardUncertainty: fit.standardUncertainty,
    depth: fit.amplitude / fit.mean,
    depthStandardUncertainty: fit.amplitudeStandardUncertainty / fit.mean,
  };
}

interface ModulationFit {
  readonly mean: number;
  readonly standardUncertainty: number;
  readonly amplitude: number;
  readonly amplitudeStandardUncertainty: number;
  readonly frequency: number;
  readonly frequencyStandardUncertainty: number;
}

/**
 * Mean and up to three harmonics of a modulation with its frequency, by steps of
 * Gauss and Newton.
 */
function meanWithHarmonics(
  series: Float64Array,
  frameRate: number,
  start: number,
  repetition: number,
): ModulationFit {
  const harmonics = Math.max(
    1,
    Math.min(3, Math.floor(frameRate / 2 / start - 0.1)),
  );
  const middle = (series.length - 1) / 2;
  const worth = Math.sqrt(repetition);
  let frequency = start;
  let known: readonly number[] | null = null;
  for (let step = 0;; step++) {
    const rows = Array.from(series, (_, i) => {
      const time = (i - middle) / frameRate;
      const row = [1];
      let slope = 0;
      for (let h = 1; h <= harmonics; h++) {
        const angle = 2 * Math.PI * h * frequency * time;
        const c = Math.cos(angle), s = Math.sin(angle);
        row.push(c, s);
        if (known === null) continue;
        slope += 2 * Math.PI * h * time *
          (known[2 * h]! * c - known[2 * h - 1]! * s);
      }
      if (known !== null) row.push(slope);
      return row;
    });
    const { parameters } = fitLinear(rows, series);
    const values = parameters.map(({ value }) => value);
    const u = parameters.map(({ standardUncertainty }) =>
      standardUncertainty * worth
    );
    if (known !== null) frequency += values.at(-1)!;
    known = values;
    if (step < 3) continue;
    return {
      mean: values[0]!,
      standardUncertainty: u[0]!,
      amplitude: Math.hypot(values[1]!, values[2]!),
      amplitudeStandardUncertainty: Math.max(u[1]!, u[2]!),
      frequency,
      frequencyStandardUncertainty: u.at(-1)!,
    };
  }
}

/**
 * What is left of a modulation in the middles of Hann frames: a frame's line lies
 * at the mean of its frequency weighted with the window's square.
 *
 * @param periods Periods of the modulation in a frame (1).
 */
export function gainOfFrames(periods: number): number {
  const sinc = (x: number) =>
    x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x);
  const pair = (k: number) => sinc(periods - k) + sinc(periods + k);
  // cos⁴ as a sum of cosines.
  return sinc(periods) + pair(1) * 2 / 3 + pair(2) / 6;
}

/** Short gaps bridged by straight lines; `null` if more than a fifth is gone. */
function withoutGaps(values: NumberSequence): Float64Array | null {
  let from = 0, to = values.length - 1;
  while (from <= to && Number.isNaN(values[from]!)) from++;
  while (to > from && Number.isNaN(values[to]!)) to--;
  const out = new Float64Array(Math.max(0, to - from + 1));
  let missing = values.length - out.length;
  for (let i = 0, last = 0; i < out.length; i++) {
    const value = values[from + i]!;
    if (Number.isNaN(value)) {
      missing++;
      continue;
    }
    out[i] = value;
    for (let j = last + 1; j < i; j++) {
      out[j] = out[last]! + (value - out[last]!) * (j - last) / (i - last);
    }
    last = i;
  }
  return missing > 0.2 * values.length ? null : out;
}
