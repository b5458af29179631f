import { extremesOf } from "../order/mod.ts";
import { type RobustLevels, robustLevels } from "./robust_levels.ts";
import type { SwingMiddle } from "./whole_swings.ts";

/** Harmonics of the mains that are looked for. */
const triedHarmonics = [1, 3] as const;
/**
 * Whole swings per unknown, at least. With 4 three steps of the zoo without hum, of
 * some 60 swings, were given some.
 */
const swingsPerUnknown = 20;
/**
 * Scatter about the sines over that without, at most (1). Motion near the mains looks
 * like hum where C is far above 1 (down to 0.45 on 200 benches without hum); that of
 * the zoo leaves 0.05 to 0.4. A frequency that is known is believed sooner.
 */
const mostScatter = { known: 0.85, unknown: 0.4 } as const;
/** Periods of the mains in the record, at least: a part of one looks like drift. */
const leastPeriods = 1.5;
/** Frequencies beside the mains' own that are tried, in parts of the resolution. */
const besides = [-3, -2, -1, 0, 1, 2, 3] as const;
const perResolution = 6;
/** A mains frequency is held to so much, in Hz (common practice, no source). */
const mostOff = 0.2;
/** Rms of the hum over the range of the middles, at most (1). */
const mostSize = 0.6;

/** Hum that shows in the middles of the fringes. */
export interface HumLevels {
  /** Frequency of the mains, in Hz. */
  readonly frequency: number;
  /** Rms, in the unit of the signal. */
  readonly size: number;
  /** Level at a sample, in the unit of the signal. */
  at(place: number): number;
}

/** Options of {@linkcode humLevels}. */
export interface HumOptions {
  /** Samples per second, in Hz. */
  readonly samplingRate: number;
  /** Mains frequencies that may be, in Hz; one alone is known to be. */
  readonly frequencies: readonly number[];
  /** Samples of the record. */
  readonly sampleCount: number;
}

/**
 * Sines of the mains and its harmonics through the middles of whole swings. The
 * mains is not at its frequency to the last digit: a few beside it are tried.
 *
 * @param middles The middles.
 * @param options Sampling rate and frequencies.
 * @returns The hum, or `null` where none shows.
 */
export function humLevels(
  middles: readonly SwingMiddle[],
  { samplingRate, frequencies, sampleCount }: HumOptions,
): HumLevels | null {
  const n = middles.length;
  const known = frequencies.length === 1 ? "known" : "unknown";
  const levels = Float64Array.from(middles, ({ level }) => level);
  const step = samplingRate / sampleCount / perResolution;
  const tried = frequencies.filter((frequency) =>
    frequency * sampleCount > leastPeriods * samplingRate
  ).flatMap((frequency) =>
    besides.map((k) => k * step).filter((off) => Math.abs(off) <= mostOff)
      .map((off) => frequency + off)
  );
  let best:
    | { frequency: number; harmonics: number; found: RobustLevels }
    | null = null;
  for (const frequency of tried) {
    for (const harmonics of triedHarmonics) {
      const unknowns = 2 + 2 * harmonics;
      if (n < swingsPerUnknown * unknowns) continue;
      const angle = 2 * Math.PI * frequency / samplingRate;
      const rows = Array.from(
        middles,
        ({ place, lean }) => [lean, ...sinesOf(angle * place, harmonics)],
      );
      const found = robustLevels(rows, levels);
      if (
        found !== null &&
        found.criterion < (best?.found.criterion ?? Infinity)
      ) best = { frequency, harmonics, found };
    }
  }
  const flat = robustLevels(middles.map(({ lean }) => [lean, 1]), levels);
  if (
    best === null || flat === null ||
    !(best.found.scatter < flat.scatter * mostScatter[known])
  ) return null;
  const { frequency, harmonics, found: { coefficients } } = best;
  const parts = coefficients.subarray(2);
  const size = Math.sqrt(parts.reduce((sum, part) => sum + part * part, 0) / 2);
  // Sines that are told by a part of their period only may be anything beside it.
  const [low, high] = extremesOf(levels);
  if (size > mostSize * (high - low)) return null;
  return {
    frequency,
    size,
    at(place) {
      const angle = 2 * Math.PI * frequency * place / samplingRate;
      let level = 0;
      for (let m = 0; m < harmonics; m++) {
        level += parts[2 * m]! * Math.cos((m + 1) * angle) +
          parts[2 * m + 1]! * Math.sin((m + 1) * angle);
      }
      return level;
    },
  };
}

/** 1, cos and sin of an angle and of its multiples. */
function sinesOf(angle: number, harmonics: number): number[] {
  const row = [1];
  for (let m = 1; m <= harmonics; m++) {
    row.push(Math.cos(m * angle), Math.sin(m * angle));
  }
  return row;
}
