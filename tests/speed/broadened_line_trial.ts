/**
 * Bias and intervals of the speed from broadened lines. Published record for
 * speed from a broadened Doppler line: 1 % (VCSEL with phase-locked tracking,
 * 30 to 480 mm/s).
 */
import { describe, expect, it } from "vitest";
import { createRandom } from "../../lib/signal/mod.ts";
import { dopplerFrequency, measureSpeed } from "../../lib/speed/mod.ts";
import { broadenedLine, captureOf } from "./simulated_line.ts";

const wavelength = 650e-9;
const angle = 1.2;
const trials = 1000;

/** Records long enough for some 26 correlation times of the line or more. */
const cases = [
  { speed: 0.5, width: 0.1, count: 1 << 14, turns: 0.12 },
  { speed: 0.05, width: 0.03, count: 1 << 14, turns: 0.15 },
  { speed: 0.01, width: 0.01, count: 1 << 14, turns: 0.2 },
  { speed: 0.001, width: 0.001, count: 1 << 16, turns: 0.4 },
];

describe("measureSpeed() on broadened lines", () => {
  for (const { speed, width, count, turns } of cases) {
    it(`has no bias and right intervals at ${1000 * speed} mm/s, width ${100 * width} %`, () => {
      const random = createRandom(Math.round(1e6 * speed));
      const centre = dopplerFrequency(speed, { wavelength, angle });
      const samplingRate = centre / turns;
      let sum = 0, squares = 0, normalised = 0, inside = 0;
      for (let trial = 0; trial < trials; trial++) {
        const ratio = 10 ** (-1 + 2 * random.uniform());
        const samples = broadenedLine(
          count,
          turns,
          width * turns,
          ratio,
          random,
        );
        const { speed: measured } = measureSpeed(
          captureOf(samples, samplingRate),
          {
            wavelength,
            angle,
            clockRelativeStandardUncertainty: 0,
            mains: [],
          },
        );
        const error = measured.value - speed;
        sum += error / speed / trials;
        squares += (error / speed) ** 2 / trials;
        normalised += (error / measured.standardUncertainty) ** 2 / trials;
        if (Math.abs(error) <= measured.expandedUncertainty) inside++;
      }
      const share = inside / trials;
      console.log(
        `broadened line, ${1000 * speed} mm/s, width ${100 * width} %, ` +
          `${(count * turns * width).toFixed(0)} correlation times: ` +
          `bias ${(100 * sum).toFixed(4)} %, ` +
          `rms ${(100 * Math.sqrt(squares)).toFixed(4)} %, ` +
          `rms z ${Math.sqrt(normalised).toFixed(3)}, ` +
          `${(100 * share).toFixed(1)} % inside 95 %`,
      );
      expect(Math.abs(sum)).toBeLessThan(5e-4);
      // 1000 trials of a right 95 % interval: 95 ± 0.7 %.
      expect(share).toBeGreaterThan(0.93);
      expect(share).toBeLessThan(0.97);
    });
  }
});
