import type { LineCandidate } from "./find_lines.ts";

/** What a line of the spectrum is taken for. */
export type LineRole = "Doppler" | "harmonic" | "mains hum" | "other";

/** A line of the spectrum with the role it plays. */
export interface SpectrumLine {
  /** Frequency of its highest bin, in Hz. */
  readonly frequency: number;
  /** Resolution at which it was seen, in Hz. */
  readonly resolution: number;
  /** Density at the top over the background, in dB. */
  readonly prominence: number;
  /** Power over the background within three resolutions, relative (1). */
  readonly relativePower: number;
  /** What it is taken for. */
  readonly role: LineRole;
  /** Order of a harmonic or multiple of the mains (1); `null` for others. */
  readonly order: number | null;
}

/** Order of the mains multiple that a line sits on, or `null`. */
export function humOrder(
  line: LineCandidate,
  mains: readonly number[],
): number | null {
  for (const frequency of mains) {
    const order = Math.round(line.frequency / frequency);
    // Grids keep their frequency to 0.2 Hz or so: common practice, no source.
    const near = Math.abs(line.frequency - order * frequency) <=
      Math.max(1.5 * line.resolution, 0.005 * frequency * order);
    const narrow = line.resolution < 0.1 * frequency;
    if (order >= 1 && order <= 40 && near && narrow) return order;
  }
  return null;
}

/** Chooses the Doppler line: the clearest one that is not mains hum. */
export function chooseLine(
  lines: readonly LineCandidate[],
  mains: readonly number[],
): LineCandidate | null {
  return lines.find((line) => humOrder(line, mains) === null) ?? lines[0] ??
    null;
}

/**
 * Gives every line its role beside the Doppler line.
 *
 * @param lines All lines.
 * @param main The Doppler line as found.
 * @param frequency Its measured frequency, in Hz.
 * @param width Its measured width, in Hz.
 * @param samplingRate Samples per second, in Hz: harmonics beyond half of it
 * come back folded.
 * @param mains Mains frequencies, in Hz.
 */
export function classifyLines(
  lines: readonly LineCandidate[],
  main: LineCandidate,
  frequency: number,
  width: number,
  samplingRate: number,
  mains: readonly number[],
): SpectrumLine[] {
  const power = (line: LineCandidate) =>
    (line.ratio - 1) * line.background * line.resolution;
  const own = power(main);
  return lines.map((line) => {
    let role: LineRole = "other";
    let order: number | null = null;
    const tolerance = 2 * line.resolution + width;
    if (
      line === main || Math.abs(line.frequency - frequency) <= 1.5 * tolerance
    ) {
      role = "Doppler";
    } else {
      for (let k = 2; k <= 12 && order === null; k++) {
        const turns = k * frequency / samplingRate;
        const folded = Math.abs(turns - Math.round(turns)) * samplingRate;
        if (Math.abs(line.frequency - folded) <= k * tolerance) {
          role = "harmonic";
          order = k;
        }
      }
      const hum = humOrder(line, mains);
      if (order === null && hum !== null) {
        role = "mains hum";
        order = hum;
      }
    }
    return {
      frequency: line.frequency,
      resolution: line.resolution,
      prominence: 10 * Math.log10(line.ratio),
      relativePower: power(line) / own,
      role,
      order,
    };
  });
}
