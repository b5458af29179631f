import type { Capture } from "../capture/mod.ts";
import { countDisturbed, type DisturbedCount } from "./count_disturbed.ts";
import { countLike } from "./count_like.ts";
import { findFewRamps, headOf } from "./head_capture.ts";
import {
  disturbedLike,
  type KnownFringes,
  knownFringes,
} from "./known_fringes.ts";
import type { RampSettings } from "./ramps.ts";

/** Strokes above which the first ones speak for all. */
const manyStrokes = 36;
/** Strokes that are counted in every way, and searched for hops and a lag. */
const headStrokes = 24;

/** A count, and what it tells of further strokes. */
export interface LongCount {
  readonly found: DisturbedCount;
  /** `null` where strokes cannot be counted like these. */
  readonly known: KnownFringes | null;
  /** Whether hops and a lag were searched in these strokes. */
  readonly searched: boolean;
}

/**
 * Counts the strokes of a capture, however many they are: with what is known from
 * elsewhere, or from its first strokes where there are many. Where the others are
 * not like them, all are searched.
 *
 * @param capture The capture.
 * @param options As for {@linkcode countDisturbed}.
 * @param given The time constant in s, or `null` to look for one.
 * @param known What an earlier part of the record told, or `null`.
 */
export function countLong(
  capture: Capture,
  options: RampSettings,
  given: number | null,
  known: KnownFringes | null = null,
): LongCount {
  if (known !== null) {
    const like = countLike(capture, options, known);
    if (like !== null) {
      return {
        found: disturbedLike(like.counted, known),
        known: like.known,
        searched: false,
      };
    }
  } else {
    const head = firstStrokes(capture, options);
    const first = head && countDisturbed(head, options, given);
    const told = first && knownFringes(first);
    const like = told && countLike(capture, options, told, first.counted);
    if (like) {
      return {
        found: disturbedLike(like.counted, told),
        known: like.known,
        searched: true,
      };
    }
  }
  const found = countDisturbed(capture, options, given);
  return { found, known: knownFringes(found), searched: true };
}

/** The first strokes of a capture that has many; `null` of one that has not. */
function firstStrokes(
  capture: Capture,
  options: RampSettings,
): Capture | null {
  const { turningPoints } = findFewRamps(capture, options).diagnostics;
  const [first, next, last] = [
    turningPoints[0],
    turningPoints[1],
    turningPoints[2],
  ];
  if (first === undefined || next === undefined || last === undefined) {
    return null;
  }
  // A fly-back is no stroke.
  const [a, b] = [next - first, last - next];
  const length = Math.min(a, b) < 0.2 * Math.max(a, b) ? a + b : (a + b) / 2;
  if (capture.sampleCount < manyStrokes * length) return null;
  return headOf(capture, Math.ceil(first + (headStrokes + 0.5) * length));
}
