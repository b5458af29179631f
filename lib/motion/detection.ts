import { checkpoint } from "../progress/mod.ts";
import { createEffort, type Effort } from "./effort.ts";
import { decideDirections, type Directions } from "./directions.ts";
import type { FringeHeight } from "./fringe_height.ts";
import { type Extremes, findExtremes } from "./extremes.ts";
import { cutLegs, type Legs } from "./legs.ts";
import { quantile, type SignalScale, signalScale } from "./signal_scale.ts";
import { smooth } from "./smooth.ts";

/** Fringes of a record before anything is fitted. */
export interface Detection {
  readonly scale: SignalScale;
  /** Samples of one mean of the smoothing. */
  readonly width: number;
  /** Samples of the shortest half fringe. */
  readonly fastest: number;
  readonly extremes: Extremes;
  readonly legs: Legs;
  /** Noise of the smoothed signal over the amplitude (1). */
  readonly smoothedNoise: number;
  /** Height of the fringes that was evened out; `null` where it was not. */
  readonly height: FringeHeight | null;
  /** What was spent on fits to the record. */
  readonly effort: Effort;
}

/**
 * Finds the fringes of a record: levels and noise, then extremes and legs of the
 * signal smoothed over a sixth of its shortest half fringe.
 *
 * @param signal The signal.
 * @param known Levels and noise where they are known; `null` takes them from the
 * record.
 * @returns The fringes, or `null` if there are none.
 */
export function detectFringes(
  signal: Float64Array,
  known: SignalScale | null = null,
): Detection | null {
  const scale = known ?? signalScale(signal);
  const { noise, amplitude } = scale;
  if (!(amplitude > 2 * noise)) return null;
  const rough = findExtremes(
    signal,
    Math.min(1.3, Math.max(0.35, 7 * noise / amplitude)) * amplitude,
  );
  if (rough.index.length < 2) return null;
  const fastest = fastestLeg(rough.index);
  const width = 2 * Math.floor(fastest / 12) + 1;
  checkpoint();
  const smoothed = smooth(signal, width);
  checkpoint();
  const smoothedNoise = noise / Math.sqrt(width === 1 ? 1 : 1.5 * width);
  const extremes = findExtremes(
    smoothed,
    Math.max(0.25 * amplitude, Math.min(7 * smoothedNoise, 1.3 * amplitude)),
  );
  if (extremes.index.length < 2) return null;
  checkpoint();
  return {
    scale,
    width,
    fastest,
    extremes,
    legs: cutLegs(smoothed, extremes, 2 * amplitude),
    smoothedNoise: smoothedNoise / amplitude,
    height: null,
    effort: createEffort(),
  };
}

/** Which way the target went during each leg. */
export function directionsOf(
  detection: Detection,
  expectedAsymmetry: number | null = null,
): Directions {
  const { extremes, legs, scale, smoothedNoise } = detection;
  return decideDirections(
    extremes,
    legs,
    scale.middle,
    scale.amplitude,
    smoothedNoise,
    expectedAsymmetry,
  );
}

/** Shortest time between extremes two legs apart, halved; in samples. */
function fastestLeg(index: Int32Array): number {
  const spans: number[] = [];
  for (let k = 2; k < index.length; k++) {
    spans.push((index[k]! - index[k - 2]!) / 2);
  }
  if (spans.length === 0) return index[1]! - index[0]!;
  return quantile(spans, 0.02);
}
