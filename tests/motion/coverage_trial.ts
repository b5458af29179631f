import { describe, expect, it } from "vitest";
import {
  measureDisplacement,
  measureRingDown,
  measureVibration,
  type Quantity,
  simulateCapture,
} from "fringebook";
import { createRandom } from "fringebook/signal";
import { makeScenario, trialCount, wavelength } from "./scenario.ts";

const k95 = 1.959964;
/** Runs one case; a case that throws is named, and the others still run. */
function attempt(seed: number, thrown: string[], run: () => void): void {
  try {
    run();
  } catch (error) {
    thrown.push(`seed ${seed}: ${error}`);
  }
}
const holds = (quantity: Quantity, truth: number) =>
  Math.abs(quantity.value - truth) <= k95 * quantity.standardUncertainty;

describe("95 % intervals", () => {
  it("hold amplitude, C and α of a vibration", () => {
    const count = trialCount(1000);
    const hits = { amplitude: 0, c: 0, alpha: 0, frequency: 0 };
    let excluded = 0;
    const thrown: string[] = [];
    for (let seed = 1; seed <= count; seed++) {
      attempt(seed, thrown, () => {
        const bench = makeScenario(20000 + seed, {
          signalToNoiseRatio: 25 + 15 * ((seed * 0.618) % 1),
          feedbackParameter: 0.3 + 2.7 * ((seed * 0.414) % 1),
          amplitude: 1e-6,
          sampleCount: 4000,
          periods: 4.3,
        });
        const displacement = measureDisplacement(bench.capture, { wavelength });
        if (displacement.warnings.some((w) => w.severity === "doubtful")) {
          excluded++;
          return;
        }
        const { amplitude, frequency } = measureVibration(displacement, {
          harmonics: 2,
        });
        if (holds(amplitude, bench.amplitude)) hits.amplitude++;
        if (holds(frequency, bench.frequency)) hits.frequency++;
        if (holds(displacement.feedbackParameter, bench.feedbackParameter)) {
          hits.c++;
        }
        if (
          holds(
            displacement.linewidthEnhancementFactor,
            bench.linewidthEnhancementFactor,
          )
        ) hits.alpha++;
      });
    }
    const used = count - excluded - thrown.length;
    const percent = (n: number) => (100 * n / used).toFixed(1);
    console.log(
      `coverage of ${used} (${excluded} with a warning left out): amplitude ${
        percent(hits.amplitude)
      } %, frequency ${percent(hits.frequency)} %, C ${percent(hits.c)} %, α ${
        percent(hits.alpha)
      } %`,
    );
    expect(thrown).toEqual([]);
    expect(hits.amplitude / used).toBeGreaterThan(0.9);
    expect(hits.c / used).toBeGreaterThan(0.9);
    expect(hits.alpha / used).toBeGreaterThan(0.9);
  });

  it("hold f0 and Q of a ring-down", () => {
    const count = trialCount(1000);
    const hits = { f: 0, q: 0 };
    let excluded = 0;
    const thrown: string[] = [];
    for (let seed = 1; seed <= count; seed++) {
      attempt(seed, thrown, () => {
        const random = createRandom(40000 + seed);
        const q = 5 + 20 * random.uniform();
        const f0 = 90 + 20 * random.uniform();
        const zeta = 1 / (2 * q);
        const damped = f0 * Math.sqrt(1 - zeta * zeta);
        const start = 6.28 * random.uniform();
        const capture = simulateCapture({
          distance: (time) =>
            0.1 + 1.5e-6 * Math.exp(-zeta * 2 * Math.PI * f0 * time) *
              Math.cos(2 * Math.PI * damped * time + start),
          samplingRate: 80e3,
          duration: 0.05,
          feedbackParameter: 0.3 + 2.2 * random.uniform(),
          noise: { signalToNoiseRatio: 25 + 15 * random.uniform() },
          drive: null,
          seed,
        });
        const displacement = measureDisplacement(capture, { wavelength });
        if (displacement.warnings.some((w) => w.severity === "doubtful")) {
          excluded++;
          return;
        }
        const result = measureRingDown(displacement, { modes: 1, start: 0 });
        if (holds(result.naturalFrequency, f0)) hits.f++;
        if (holds(result.qualityFactor, q)) hits.q++;
      });
    }
    const used = count - excluded - thrown.length;
    const percent = (n: number) => (100 * n / used).toFixed(1);
    console.log(
      `coverage of ${used} (${excluded} with a warning left out): f0 ${
        percent(hits.f)
      } %, Q ${percent(hits.q)} %`,
    );
    expect(thrown).toEqual([]);
    expect(hits.f / used).toBeGreaterThan(0.9);
    expect(hits.q / used).toBeGreaterThan(0.9);
  });
});
