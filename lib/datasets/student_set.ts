import { createRandom } from "../signal/mod.ts";
import type { MadeDataset } from "./manifest.ts";
import { makeDiscCapture, makeVibration } from "./moving.ts";
import { makeDistanceCapture } from "./ranging.ts";

/** The captures of one student: names are the same for all, values differ. */
export type StudentSet = readonly MadeDataset[];

/**
 * Simulates one student's own captures on the simulated bench: `my-distance`
 * (unknown distance), `my-vibration` (loudspeaker) and `my-disc` (rotating disc).
 * The same seed gives the same bytes.
 *
 * @param seed Seed of the student, an integer from 0 to 2³² − 1.
 * @returns The captures with what is known and what is true of them.
 * @throws {RangeError} If the seed is not such an integer.
 *
 * @example
 * ```ts
 * import { makeStudentSet } from "fringebook";
 * import { expect } from "vitest";
 *
 * const place = (seed: number) => makeStudentSet(seed)[0]!.entry.truth.distance;
 * expect(place(1)).toEqual(place(1));
 * expect(place(1)).not.toEqual(place(2));
 * ```
 */
export function makeStudentSet(seed: number): StudentSet {
  const random = createRandom(seed);
  const between = (low: number, high: number) =>
    low + (high - low) * random.uniform();
  return [
    makeDistanceCapture({
      name: "my-distance",
      place: between(0.09, 0.34),
      seed: random.integer(2 ** 31),
    }),
    makeVibration({
      name: "my-vibration",
      series: "student",
      amplitude: between(1.3e-6, 2.6e-6),
      frequency: between(60, 110),
      seed: random.integer(2 ** 31),
    }),
    makeDiscCapture({
      name: "my-disc",
      series: "student",
      what: "Rough disc at a steady speed",
      turnsPerMinute: between(7, 16),
      seed: random.integer(2 ** 31),
    }),
  ];
}
