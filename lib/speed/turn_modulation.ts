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
    frequency: line.frequency,
    standardUncertainty: line.standardUncertainty,
    meanFrequency: fit.mean,
    meanStandardUncertainty: fit.standardUncertainty,
    depth: line.amplitude / fit.mean,
  };
}

/** Mean, fitted together with three harmonics of the modulation. */
function meanWithHarmonics(
  series: Float64Array,
  frameRate: number,
  modulation: number,
  repetition: number,
): { mean: number; standardUncertainty: number } {
  const harmonics = Math.min(3, Math.floor(frameRate / 2 / modulation - 0.1));
  const rows = Array.from(series, (_, i) => {
    const row = [1];
    for (let h = 1; h <= harmonics; h++) {
      const angle = 2 * Math.PI * h * modulation * i / frameRate;
      row.push(Math.cos(angle), Math.sin(angle));
    }
    return row;
  });
  const mean = fitLinear(rows, series).parameters[0]!;
  return {
    mean: mean.value,
    standardUncertainty: mean.standardUncertainty * Math.sqrt(repetition),
  };
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
