/**
 * Frequency of a clean line against the Cramér–Rao bound of Rife and Boorstyn
 * 1974, IEEE Trans. Inf. Theory 20, 591 (eq. for unknown frequency, phase and
 * amplitude of a real tone): var f ≥ 24 σ² fs² / ((2π)² A² N (N² − 1)).
 */
import { describe, expect, it } from "vitest";
import { createRandom } from "../../lib/signal/mod.ts";
import { measureSpeed } from "../../lib/speed/mod.ts";
import { captureOf, toneInNoise } from "./simulated_line.ts";

const count = 4096;
const samplingRate = 1e6;
const wavelength = 650e-9;

describe("measureSpeed() on a clean line", () => {
  // Signal power over noise power per sample. Per bin of the whole record it is
  // N/2 times that: the search locks from about 18 dB per bin, −15 dB here.
  for (const decibel of [20, 10, 0, -10, -14]) {
    it(`stays within 1.2 × the bound at ${decibel} dB`, () => {
      const random = createRandom(600 + decibel);
      const ratio = 10 ** (decibel / 10);
      const trials = 1000;
      let squares = 0, normalised = 0, inside = 0;
      for (let trial = 0; trial < trials; trial++) {
        const turns = 0.02 + 0.4 * random.uniform();
        const samples = toneInNoise(count, turns, ratio, random);
        const { dopplerFrequency, lineForm } = measureSpeed(
          captureOf(samples, samplingRate),
          { wavelength, mains: [] },
        );
        expect(lineForm).toBe("clean");
        const error = dopplerFrequency.value - turns * samplingRate;
        squares += error * error / trials;
        normalised += (error / dopplerFrequency.standardUncertainty) ** 2 /
          trials;
        if (Math.abs(error) < dopplerFrequency.expandedUncertainty) inside++;
      }
      const bound = Math.sqrt(
        24 * (0.5 / ratio) * samplingRate ** 2 /
          ((2 * Math.PI) ** 2 * count * (count ** 2 - 1)),
      );
      const toBound = Math.sqrt(squares) / bound;
      console.log(
        `clean line, ${decibel} dB: rms error ${toBound.toFixed(3)} × bound, ` +
          `rms z ${Math.sqrt(normalised).toFixed(3)}, ` +
          `${(100 * inside / trials).toFixed(1)} % inside 95 %`,
      );
      expect(toBound).toBeLessThan(1.2);
    });
  }
});
