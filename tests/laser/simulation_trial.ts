import { describe, expect, it } from "vitest";
import { simulateCapture } from "fringebook";
import { feedbackPhase, feedbackPhaseRoots } from "fringebook/laser";
import { createRandom } from "fringebook/signal";

describe("feedbackPhase() at random C, α and φ0", () => {
  it("is one of the stable roots every time", () => {
    const random = createRandom(12);
    for (let trial = 0; trial < 20000; trial++) {
      const options = {
        feedbackParameter: 12 * random.uniform(),
        linewidthEnhancementFactor: 8 * random.uniform(),
      };
      const phase = 60 * (random.uniform() - 0.5);
      const [found] = feedbackPhase([phase], options).phase;
      const stable = feedbackPhaseRoots(phase, options)
        .filter((root) => root.stable);
      const nearest = Math.min(
        ...stable.map((root) => Math.abs(root.phase - found!)),
      );
      // Near a fold the root is double: rounding of 1e-14 becomes 1e-7.
      expect(nearest).toBeLessThan(1e-6);
    }
  });
});

describe("simulateCapture() over many seeds", () => {
  it("fades with fully developed speckle as an exponential of intensity", () => {
    const intensities: number[] = [];
    for (let seed = 1; seed <= 40; seed++) {
      const { truth } = simulateCapture({
        distance: (time) => 0.1 + time,
        samplingRate: 1000,
        duration: 0.1,
        feedbackParameter: 1,
        speckle: { contrast: 1, correlationLength: 1e-3 },
        seed,
      });
      // Places two correlation lengths apart.
      for (let i = 0; i < 100; i += 2) {
        intensities.push(truth.feedbackParameter[i]! ** 2);
      }
    }
    const count = intensities.length;
    const mean = intensities.reduce((a, b) => a + b, 0) / count;
    const above = (level: number) =>
      intensities.filter((value) => value > level).length / count;
    // Goodman 1975: p(I) = exp(-I). 2000 places: 2.2 % on the mean, 1.1 % on
    // probabilities; four of these.
    expect(Math.abs(mean - 1)).toBeLessThan(0.09);
    for (const level of [0.1, 0.5, 1, 2, 3]) {
      expect(Math.abs(above(level) - Math.exp(-level))).toBeLessThan(0.045);
    }
  });

  it("has 1/f noise of the stated density over four decades", () => {
    const rate = 10e3;
    const lines = [3, 10, 30, 100, 300, 1000, 2500];
    const density = new Float64Array(lines.length);
    const seeds = 150;
    for (let seed = 1; seed <= seeds; seed++) {
      const { channels } = simulateCapture({
        distance: 0.1,
        samplingRate: rate,
        duration: 1,
        modulationIndex: 0,
        noise: { flicker: 1 },
        seed,
      });
      const samples = channels[0]!.samples;
      lines.forEach((frequency, k) => {
        let real = 0;
        let imaginary = 0;
        for (let i = 0; i < samples.length; i++) {
          // Hann window: 1/f leaks into its neighbours without.
          const window = 1 - Math.cos(2 * Math.PI * i / samples.length);
          const angle = 2 * Math.PI * frequency * i / rate;
          real += window * samples[i]! * Math.cos(angle);
          imaginary += window * samples[i]! * Math.sin(angle);
        }
        // Mean of the squared window is 3/2.
        density[k]! += 2 * (real ** 2 + imaginary ** 2) /
          (1.5 * samples.length * rate) * frequency / seeds;
      });
    }
    // Exponential: 1/sqrt(150) = 8 %, four of them; the octave sum is 6 % off.
    for (const value of density) {
      expect(Math.abs(value - 1)).toBeLessThan(0.38);
    }
  });
});
