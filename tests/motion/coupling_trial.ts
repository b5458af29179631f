import { describe, expect, it } from "vitest";
import {
  datasetEntry,
  datasetTruth,
  loadDataset,
  measureDisplacement,
  measureRingDown,
  NotMeasurableError,
  type Quantity,
  simulateCapture,
} from "fringebook";
import { createRandom } from "fringebook/signal";
import { trialCount } from "./scenario.ts";

const wavelength = 650e-9;

/** Share of benches that may be off by more than four standard uncertainties. */
const mostConfident = 0.06;

/** The quality factor, or `null` where it was refused. */
function qualityFactor(
  capture: Parameters<typeof measureDisplacement>[0],
  couplingCorner: number | null = null,
): Quantity | null {
  const displacement = measureDisplacement(capture, {
    wavelength,
    couplingCorner,
  });
  try {
    return measureRingDown(displacement).qualityFactor;
  } catch (error) {
    if (error instanceof NotMeasurableError) return null;
    throw error;
  }
}

/** Refused, not determined, or within three standard uncertainties. */
const honest = (q: Quantity | null, truth: number) =>
  q === null || !(Math.abs(q.value - truth) > 3 * q.standardUncertainty);

describe("a ring-down that the fringes do not tell", () => {
  it("is never a confident wrong number on the whole raw capture", async () => {
    expect(datasetEntry("ring-down").known.couplingCorner!.value).toBe(2);
    const q = qualityFactor(await loadDataset("ring-down"));
    expect(honest(q, datasetTruth("ring-down").qualityFactor!.value)).toBe(
      true,
    );
  });
  it("is hardly ever a confident wrong number behind capacitors of all corners", () => {
    const count = trialCount(100);
    for (const told of [false, true]) {
      const outcomes = { held: 0, open: 0, refused: 0 };
      const confident: string[] = [];
      for (let seed = 1; seed <= count; seed++) {
        const random = createRandom(50000 + seed);
        const corner = 0.5 * 40 ** random.uniform();
        const f0 = 80 + 120 * random.uniform();
        const q = 8 + 52 * random.uniform();
        const feedbackParameter = 0.3 * 10 ** random.uniform();
        const decay = Math.PI * f0 / q;
        const capture = simulateCapture({
          distance: (time) =>
            0.1 + 1.5e-6 * Math.exp(-decay * time) *
              Math.cos(2 * Math.PI * f0 * Math.sqrt(1 - 0.25 / q / q) * time),
          samplingRate: 96e3,
          duration: 0.06,
          feedbackParameter,
          frontEnd: { couplingCorner: corner },
          noise: { signalToNoiseRatio: 25 + 15 * random.uniform() },
          drive: null,
          seed,
        });
        const found = qualityFactor(capture, told ? corner : null);
        if (found === null) outcomes.refused++;
        else if (Number.isNaN(found.standardUncertainty)) outcomes.open++;
        else if (Math.abs(found.value - q) <= 4 * found.standardUncertainty) {
          outcomes.held++;
        } else {
          confident.push(
            `seed ${seed}: ${corner.toFixed(1)} Hz, C ${
              feedbackParameter.toFixed(2)
            }, Q ${q.toFixed(2)}: ${found.value.toFixed(2)} ± ${
              found.standardUncertainty.toFixed(3)
            }`,
          );
        }
      }
      console.log(
        told ? "corner given" : "corner not given",
        JSON.stringify(outcomes),
        `more than 4 standard uncertainties off: ${confident.length} of ${count}`,
        confident,
      );
      expect(confident.length / count).toBeLessThan(mostConfident);
    }
  });
  it("is never a confident wrong number with flicker noise", () => {
    const frequency = 142.6;
    const decayTime = 0.118;
    const turns = 2 * Math.PI * frequency * decayTime;
    for (const feedbackParameter of [0.3, 0.7, 1.5, 3]) {
      const capture = simulateCapture({
        distance: (time) =>
          0.1 + 2.6e-6 * Math.exp(-time / decayTime) *
            Math.cos(2 * Math.PI * frequency * time),
        samplingRate: 96e3,
        duration: 0.26,
        feedbackParameter,
        noise: { signalToNoiseRatio: 30, flicker: 2e-3 },
        drive: null,
        seed: 3,
      });
      const q = qualityFactor(capture);
      console.log(
        `C ${feedbackParameter}: Q ${q?.value} ± ${q?.standardUncertainty}`,
      );
      expect(honest(q, Math.hypot(1, turns) / 2)).toBe(true);
    }
  });
});
