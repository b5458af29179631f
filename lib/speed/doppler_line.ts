import { studentQuantile } from "../fit/mod.ts";
import { type BandSource, cutBaseband } from "../signal/mod.ts";
import { type BroadenedLine, measureBroadenedLine } from "./broadened_line.ts";
import { type CleanLine, measureCleanLine } from "./clean_line.ts";
import type { LineCandidate } from "./find_lines.ts";
import type { LineShape } from "./line_shape.ts";

/** A measured line, whatever its form. */
export interface DopplerLine {
  /** `"clean"`: narrower than the record can resolve; else `"broadened"`. */
  readonly form: "clean" | "broadened";
  /** Frequency (centre), in Hz. */
  readonly frequency: number;
  /** Its standard uncertainty, in Hz. */
  readonly standardUncertainty: number;
  /** Its effective degrees of freedom (1). */
  readonly degreesOfFreedom: number;
  /** Full width at half maximum, in Hz; 0 for a clean line. */
  readonly width: number;
  /** Its standard uncertainty, in Hz; the resolution for a clean line. */
  readonly widthStandardUncertainty: number;
  /** Power of the line, in unit². */
  readonly power: number;
  /** Background density under the line, in unit²/Hz. */
  readonly background: number;
  /**
   * Power of the line over that of the background within its width (or within
   * one over the record's length), (1).
   */
  readonly signalToNoise: number;
  /** The measured clean line. */
  readonly clean: CleanLine;
  /** The fitted broadened line; `null` for a clean one. */
  readonly broadened: BroadenedLine | null;
}

/** Options of {@linkcode measureDopplerLine}. */
export interface DopplerLineOptions {
  /** Band that may be used, in Hz. */
  lowest: number;
  highest: number;
  /** Form of a broadened line; `null` takes what fits better. */
  shape: LineShape | null;
  /** −3 dB frequency of the amplifier, in Hz; `Infinity` where unknown. */
  bandwidth: number;
}

/**
 * Measures one line: as a steady tone where nearly all of its power is in one
 * frequency, as a broadened line otherwise.
 */
export function measureDopplerLine(
  samples: Float64Array,
  source: BandSource,
  seen: LineCandidate,
  options: DopplerLineOptions,
): DopplerLine {
  const { samplingRate } = source;
  const clean = measureCleanLine(source, seen.frequency, 2 * seen.resolution);
  const duration = samples.length / samplingRate;
  const tone = clean.amplitude ** 2 / 2;
  if (!hasOtherPower(source, seen, tone)) return cleanForm(clean, duration);
  const broadened = measureBroadenedLine(samples, seen, {
    samplingRate,
    ...options,
  });
  if (broadened === null) return cleanForm(clean, duration);
  const width = Math.max(broadened.width, 1 / duration);
  return {
    form: "broadened",
    frequency: broadened.frequency,
    standardUncertainty: broadened.standardUncertainty,
    degreesOfFreedom: broadened.degreesOfFreedom,
    width: broadened.width,
    widthStandardUncertainty: broadened.widthStandardUncertainty,
    power: broadened.power,
    background: broadened.background,
    signalToNoise: broadened.power / (broadened.background * width),
    clean,
    broadened,
  };
}

/** 95 % coverage factor for the line's degrees of freedom. */
export function lineCoverageFactor(degreesOfFreedom: number): number {
  return Number.isFinite(degreesOfFreedom)
    ? studentQuantile(0.975, degreesOfFreedom)
    : 1.96;
}

/** Whether more power lies around the tone than the tone and the noise have. */
function hasOtherPower(
  source: BandSource,
  seen: LineCandidate,
  tone: number,
): boolean {
  const duration = source.sampleCount / source.samplingRate;
  const nyquist = source.samplingRate / 2;
  const halfWidth = Math.min(
    Math.max(8 * seen.resolution, 16 / duration),
    0.6 * seen.frequency,
    0.98 * (nyquist - seen.frequency),
  );
  const { real, imaginary } = cutBaseband(source, seen.frequency, halfWidth);
  let squares = 0;
  for (let m = 0; m < real.length; m++) {
    squares += real[m]! ** 2 + imaginary[m]! ** 2;
  }
  // The cut is flat over half its width and a raised cosine over the rest.
  const noiseBandwidth = 2 * halfWidth * (0.5 + 0.5 * 3 / 8);
  const noise = seen.background * noiseBandwidth;
  const scatter = seen.background * Math.sqrt(noiseBandwidth / duration);
  const line = squares / real.length / 2 - noise;
  return tone < 0.7 * line && line - tone > 6 * scatter;
}

function cleanForm(clean: CleanLine, duration: number): DopplerLine {
  const power = clean.amplitude ** 2 / 2;
  return {
    form: "clean",
    frequency: clean.frequency,
    standardUncertainty: clean.standardUncertainty,
    degreesOfFreedom: clean.degreesOfFreedom,
    width: 0,
    widthStandardUncertainty: 1 / duration,
    power,
    background: clean.noiseDensity,
    signalToNoise: power * duration / clean.noiseDensity,
    clean,
    broadened: null,
  };
}
