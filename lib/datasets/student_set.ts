import { createKeyedRandom } from "../signal/mod.ts";
import type { MadeDataset } from "./manifest.ts";
import { makeDiscCapture, makeVibration } from "./moving.ts";
import { makeDistanceCapture } from "./ranging.ts";

/** The captures of one student: names are the same for all, values differ. */
export type StudentSet = readonly MadeDataset[];

/**
 * Simulates one student's own captures on the simulated bench: `my-distance`
 * (unknown distance), `my-vibration` (loudspeaker) and `my-disc` (rotating disc).
 * The same key gives the same bytes. All that is random, the noise too, comes
 * from the key, so that nobody can search for the truth with the simulator.
 *
 * @param key 32 secret bytes.
 * @returns The captures with what is known and what is true of them.
 * @throws {RangeError} If the key has another length.
 *
 * @example
 * ```ts
 * import { makeStudentSet } from "fringebook/datasets";
 * import { expect } from "vitest";
 *
 * const place = (byte: number) =>
 *   makeStudentSet(new Uint8Array(32).fill(byte))[0]!.entry.truth.distance;
 * expect(place(1)).toEqual(place(1));
 * expect(place(1)).not.toEqual(place(2));
 * ```
 */
export function makeStudentSet(key: Uint8Array): StudentSet {
  const random = createKeyedRandom(key);
  const between = (low: number, high: number) =>
    low + (high - low) * random.uniform();
  const degree = Math.PI / 180;
  const angle = between(74, 79) * degree;
  // A fine protractor: its scale is read to a rectangular ± 0.17°
  const reading = angle + between(-1, 1) * Math.sqrt(3) * 0.1 * degree;
  return [
    makeDistanceCapture({
      name: "my-distance",
      place: between(0.09, 0.34),
      rampStart: between(0.31, 0.59),
      seed: random,
    }),
    makeVibration({
      name: "my-vibration",
      series: "student",
      amplitude: between(1.3e-6, 2.6e-6),
      frequency: between(60, 110),
      seed: random,
    }),
    makeDiscCapture({
      name: "my-disc",
      series: "student",
      what: "Rough disc at a steady speed",
      turnsPerMinute: between(4, 14),
      angle,
      angleReading: { value: reading, standardUncertainty: 0.1 * degree },
      seed: random,
    }),
  ];
}
