/**
 * Records of 10² to 10⁵ periods on a bench that shares no line with the library:
 * the intervals hold as often as they say, however long the record, behind an
 * amplifier with a pole. Once the model was taken at the mean time of samples that
 * were put together, and the form of the fringe from a part of the record: 6.7 to 15
 * expanded uncertainties off at 2 to 20 million samples. Later it was linear about
 * the displacement that had been read from the same samples: the second harmonic's
 * intervals held in 75 % at 10³ periods. And once what the amplifier takes, a series
 * in its time constant, was trusted where the fringes are steep: the amplitude was
 * 5.3 u off at 10⁴ periods with C = 0.94 behind a pole of 11 times the fringe rate.
 *
 * One length and how many of it: `LONG_PERIODS=1000 LONG_COUNT=60`.
 */
import { describe, expect, it } from "vitest";
import {
  measureDisplacement,
  measureVibration,
  type Quantity,
} from "fringebook";
import {
  plainCapture,
  plainRandom,
  plainWavelength,
} from "../doors/plain_bench.ts";

const k95 = 1.959964;

/** Records so long, and how many of them. */
const asked = Number(Deno.env.get("LONG_PERIODS") ?? NaN);
const lengths = asked > 0
  ? [{ periods: asked, count: Number(Deno.env.get("LONG_COUNT") ?? 12) }]
  : [
    { periods: 100, count: 8 },
    { periods: 1000, count: 4 },
    { periods: 10_000, count: 1 },
  ];

/** Errors over their standard uncertainty; `null` where the motion is doubted. */
function errorsOf(seed: number, periods: number) {
  const uniform = plainRandom(31 * seed + periods);
  const between = (low: number, high: number) => low + (high - low) * uniform();
  const amplitude = between(0.25e-6, 0.5e-6);
  const frequency = 100 * between(0.9, 1.1);
  const phase = between(-3, 3);
  const second = 0.05 * amplitude;
  const drift = between(-1, 1) * 0.3e-6 * frequency / periods;
  const swing = (time: number) => 2 * Math.PI * frequency * time + phase;
  // Sixteen samples and more to the fastest fringe; from 10³ periods on so many
  // that the record is followed block by block, at a fortieth of the time.
  const perPeriod = Math.max(
    Math.ceil(16 * 4 * Math.PI * amplitude / plainWavelength),
    periods < 1000 ? 0 : Math.ceil(132_000 / periods),
  );
  const samplingRate = frequency * perPeriod;
  // Ten to a hundred times the fastest fringe.
  const pole = 0.6 * 10 ** uniform();
  const capture = plainCapture({
    way: (time) =>
      amplitude * Math.cos(swing(time)) +
      second * Math.cos(2 * swing(time)) + drift * time,
    distance: 0.11 + 1e-6 * uniform(),
    samplingRate,
    duration: periods / frequency,
    feedback: between(0.2, 1.6),
    decibels: between(22, 38),
    pole,
    seed,
  });
  const displacement = measureDisplacement(capture, {
    wavelength: plainWavelength,
  });
  if (displacement.warnings.some(({ severity }) => severity === "doubtful")) {
    return null;
  }
  const found = measureVibration(displacement);
  const over = ({ value, standardUncertainty }: Quantity, truth: number) =>
    (value - truth) / standardUncertainty;
  const turn = 2 * Math.PI;
  // The bench's pole stays behind by so many of its steps, four per sample.
  const part = 1 - Math.exp(-2 * Math.PI * pole / 4);
  const behind = (1 / part - 1) / (4 * samplingRate);
  const away = found.phase.value - phase + turn * frequency * behind;
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
      for (let seed = 1; seed <= 4 * count; seed++) {
        if (errors.length >= 3 * count) break;
        const found = errorsOf(seed, periods);
        if (found === null) {
          excluded++;
          continue;
        }
        for (const [name, error] of Object.entries(found)) {
          (each[name] ??= []).push(error);
          // Of an amplifier that is late by 10⁻² rad, 10⁻⁴ are not told.
          if (name !== "phase") errors.push(error);
        }
      }
      const inside = (own: readonly number[]) =>
        own.filter((error) => Math.abs(error) <= k95).length / own.length;
      const rms = (own: readonly number[]) =>
        Math.sqrt(own.reduce((sum, e) => sum + e * e, 0) / own.length);
      console.log(
        `${periods} periods, ${
          errors.length / 3
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
  it("hold behind an amplifier of 11 times the fringe rate, C = 0.94", () => {
    expect(Math.abs(errorsOf(14, 10_000)!.amplitude)).toBeLessThan(3);
  });
});
