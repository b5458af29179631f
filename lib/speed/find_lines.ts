import { nextPowerOfTwo, type Spectrum, welch } from "../signal/mod.ts";
import { backgroundLevel } from "./background_level.ts";

/** A line seen in a spectrum, before it is measured. */
export interface LineCandidate {
  /** Frequency of the highest bin, in Hz. */
  readonly frequency: number;
  /** Noise bandwidth of the spectrum in which it stands out most, in Hz. */
  readonly resolution: number;
  /** Density at the top over the background (1). */
  readonly ratio: number;
  /** Background density at the line, in unit²/Hz. */
  readonly background: number;
  /**
   * Gain in log-likelihood of "line" over "background only", summed over the
   * bins that the line fills (1).
   */
  readonly gain: number;
}

/** Where and against what lines are looked for. */
export interface FindLinesOptions {
  /** Samples per second, in Hz. */
  samplingRate: number;
  /** Lowest frequency, in Hz. */
  lowest: number;
  /** Highest frequency, in Hz. */
  highest: number;
  /** A record without the target, at the same rate; `null` for none. */
  background: ArrayLike<number> | null;
  /** Most lines given. */
  most: number;
}

/** Finer than this nothing is looked for: long records are averaged. */
const longestSegment = 1 << 20;

/**
 * Looks for lines of any width: the record's averaged spectrum at resolutions a
 * factor of four apart, each against its running median (or against the
 * spectrum without the target); a line is taken at the resolution where it
 * stands out most.
 *
 * @param samples Finite numbers.
 * @param options Sampling rate, band, background record.
 * @returns Lines, the clearest first.
 */
export function findLines(
  samples: Float64Array,
  options: FindLinesOptions,
): LineCandidate[] {
  const { samplingRate, lowest, highest, background, most } = options;
  const found: LineCandidate[] = [];
  const longest = Math.min(
    longestSegment,
    nextPowerOfTwo(samples.length + 1) / 2,
  );
  for (
    let segmentLength = longest;
    segmentLength >= Math.min(longest, 128);
    segmentLength /= 4
  ) {
    const spectrum = welch(samples, { samplingRate, segmentLength });
    const reference = background !== null && background.length >= segmentLength
      ? welch(Float64Array.from(background), { samplingRate, segmentLength })
      : null;
    const weight = samples.length / segmentLength;
    found.push(...maxima(spectrum, reference, weight, lowest, highest));
  }
  found.sort((a, b) => b.gain - a.gain);
  const kept: LineCandidate[] = [];
  for (const line of found) {
    const apart = kept.every((other) =>
      Math.abs(other.frequency - line.frequency) >
        4 * Math.max(other.resolution, line.resolution)
    );
    if (apart) kept.push(line);
    if (kept.length >= most) break;
  }
  return kept.map((line) => finest(line, found));
}

/** The same line at the finest resolution that still holds most of it. */
function finest(
  line: LineCandidate,
  found: readonly LineCandidate[],
): LineCandidate {
  let best = line;
  for (const other of found) {
    const same = Math.abs(other.frequency - line.frequency) <
      2 * line.resolution;
    if (
      same && other.gain > 0.6 * line.gain && other.resolution < best.resolution
    ) best = other;
  }
  return best;
}

function maxima(
  spectrum: Spectrum,
  reference: Spectrum | null,
  weight: number,
  lowest: number,
  highest: number,
): LineCandidate[] {
  const { density, binWidth, effectiveAverages, noiseBandwidth } = spectrum;
  const level = backgroundLevel(density, effectiveAverages);
  if (reference !== null) {
    // What is there without the target is background: hum, interference.
    for (let k = 0; k < level.length; k++) {
      const known = Math.max(
        reference.density[k - 1] ?? 0,
        reference.density[k]!,
        reference.density[k + 1] ?? 0,
      );
      level[k] = Math.max(level[k]!, 2 * known);
    }
  }
  let largest = 0;
  for (let k = 0; k < density.length; k++) {
    if (density[k]! > largest) largest = density[k]!;
  }
  // A record without any noise still needs a level to compare with.
  for (let k = 0; k < level.length; k++) {
    level[k] = Math.max(level[k]!, 1e-10 * largest, 1e-300);
  }
  const from = Math.max(2, Math.ceil(lowest / binWidth));
  const to = Math.min(density.length - 2, Math.floor(highest / binWidth));
  // Chance passes once in e^10 spectra.
  const threshold = Math.log(density.length) + 10;
  const found: LineCandidate[] = [];
  for (let k = from; k <= to; k++) {
    const value = density[k]!;
    if (value < density[k - 1]! || value < density[k + 1]!) continue;
    const ratio = value / level[k]!;
    if (!(ratio > 1)) continue;
    const own = effectiveAverages * (ratio - 1 - Math.log(ratio));
    if (own < threshold) continue;
    // A line fills some bins; at the right resolution they hold all of it.
    let gain = 0;
    for (let i = Math.max(from, k - 3); i <= Math.min(to, k + 3); i++) {
      const part = density[i]! / level[i]!;
      if (part > 1) gain += weight * (part - 1 - Math.log(part));
    }
    found.push({
      frequency: k * binWidth,
      resolution: noiseBandwidth,
      ratio,
      background: level[k]!,
      gain,
    });
  }
  found.sort((a, b) => b.gain - a.gain);
  return found.slice(0, 64);
}
