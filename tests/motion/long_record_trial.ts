/**
 * Records of 10² to 10⁵ periods: the intervals hold as often as they say, however
 * long the record. Once the model was taken at the mean time of samples that were
 * put together, and the form of the fringe from a part of the record: 6.7 to 15
 * expanded uncertainties off at 2 to 20 million samples.
 */
import { describe, expect, it } from "vitest";
import {
  measureDisplacement,
  measureVibration,
  type Quantity,
  simulateCapture,
} from "fringebook";
import { createRandom } from "fringebook/signal";
import { trialCount, wavelength } from "./scenario.ts";

const k95 = 1.959964;

/** Records so long, and how many of them; more with TRIALS. */
const lengths = [
  { periods: 100, count: 30 },
  { periods: 1000, count: 4 },
  { periods: 10_000, count: 1 },
] as const;

/** Errors over their standard uncertainty. */
function errorsOf(seed: number, periods: number) {
  const random = createRandom(31 * seed + periods);
  const uniform = (low: number, high: number) =>
    low + (high - low) * random.uniform();
  const amplitude = uniform(0.25e-6, 0.5e-6);
  const frequency = 100 * uniform(0.9, 1.1);
  const phase = uniform(-3, 3);
  const second = 0.05 * amplitude;
  const drift = uniform(-1, 1) * 0.3e-6 * frequency / periods;
  const swing = (time: number) => 2 * Math.PI * frequency * time + phase;
  const capture = simulateCapture({
    distance: (time) =>
      0.1 + amplitude * Math.cos(swing(time)) +
      second * Math.cos(2 * swing(time)) + drift * time,
    // Sixteen samples and more to the fastest fringe.
    samplingRate: frequency *
      Math.ceil(16 * 4 * Math.PI * amplitude / wavelength),
    duration: periods / frequency,
    feedbackParameter: uniform(0.2, 1.6),
    noise: { signalToNoiseRatio: uniform(22, 38) },
    drive: null,
    seed,
  });
  const displacement = measureDisplacement(capture, { wavelength });
  if (displacement.warnings.some(({ severity }) => severity === "doubtful")) {
    return null;
  }
  const found = measureVibration(displacement);
  const over = ({ value, standardUncertainty }: Quantity, truth: number) =>
    (value - truth) / standardUncertainty;
  const turn = 2 * Math.PI;
  const away = found.phase.value - phase;
  return {
    amplitude: over(found.amplitude, amplitude),
    second: over(found.harmonics[1]!.amplitude, second),
    frequency: over(found.frequency, frequency),
    phase: (away - turn * Math.round(away / turn)) /
      found.phase.standardUncertainty,
  };
}

describe("intervals of a vibration in long records", () => {
  for (const { periods, count } of lengths) {
    it(`hold for ${periods} periods`, () => {
      const errors: number[] = [];
      let excluded = 0;
      const each: Record<string, number[]> = {};
      // A record that the displacement doubts is drawn anew.
      const most = 4 * trialCount(count);
      for (let seed = 1; seed <= most; seed++) {
        if (errors.length >= 4 * trialCount(count)) break;
        const found = errorsOf(seed, periods);
        if (found === null) {
          excluded++;
          continue;
        }
        for (const [name, error] of Object.entries(found)) {
          errors.push(error);
          (each[name] ??= []).push(error);
        }
      }
      const inside = (own: readonly number[]) =>
        own.filter((error) => Math.abs(error) <= k95).length / own.length;
      const rms = (own: readonly number[]) =>
        Math.sqrt(own.reduce((sum, e) => sum + e * e, 0) / own.length);
      console.log(
        `${periods} periods, ${
          errors.length / 4
        } records (${excluded} doubted left out): ${
          Object.entries(each).map(([name, own]) =>
            `${name} ${(100 * inside(own)).toFixed(1)} % (rms ${
              rms(own).toFixed(2)
            } u, mean ${
              (own.reduce((a, b) => a + b, 0) / own.length).toFixed(2)
            })`
          ).join(", ")
        }, all ${(100 * inside(errors)).toFixed(1)} %`,
      );
      // Five standard deviations of a count at 95 %.
      const least = 0.95 - 5 * Math.sqrt(0.95 * 0.05 / errors.length);
      expect(inside(errors)).toBeGreaterThan(least);
      expect(Math.max(...errors.map(Math.abs))).toBeLessThan(6);
    });
  }
});
