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
    // Grids keep their frequency to 0.2 %: common practice, no source.
    const near = Math.abs(line.frequency - order * frequency) <=
      Math.max(1.5 * line.resolution, 0.002 * frequency * order);
    const narrow = line.resolution < 0.1 * frequency;
    if (order >= 1 && order <= 12 && near && narrow) return order;
  }
  return null;
}

/** Power of a line over its background, roughly, in unit². */
function linePower(line: LineCandidate): number {
  return (line.ratio - 1) * line.background * line.resolution;
}

/** Whether a line lies at two to five times the frequency of another. */
function isMultiple(line: LineCandidate, base: LineCandidate): boolean {
  const order = Math.round(line.frequency / base.frequency);
  return order >= 2 && order <= 5 &&
    Math.abs(order * base.frequency - line.frequency) <
      order * base.resolution + line.resolution;
}

/**
 * Chooses the Doppler line: the clearest one that is not mains hum; or the one
 * at a half to a fifth of its frequency if that has more power, as of a
 * saw-tooth the first harmonic always has most.
 */
export function chooseLine(
  lines: readonly LineCandidate[],
  mains: readonly number[],
): LineCandidate | null {
  const usable = lines.filter((line) => humOrder(line, mains) === null);
  const first = lines[0];
  if (first === undefined) return null;
  let clearest = usable[0] ?? first;
  // A Doppler line that happens to sit on the mains has its own harmonics.
  if (first !== clearest && isMultiple(clearest, first)) clearest = first;
  let chosen = clearest;
  for (const line of usable) {
    if (isMultiple(clearest, line) && linePower(line) > linePower(chosen)) {
      chosen = line;
    }
  }
  return chosen;
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
  const own = linePower(main);
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
      relativePower: linePower(line) / own,
      role,
      order,
    };
  });
}
