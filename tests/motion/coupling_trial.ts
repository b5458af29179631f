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

const wavelength = 650e-9;

/** The quality factor, or `null` where it was refused. */
function qualityFactor(
  capture: Parameters<typeof measureDisplacement>[0],
): Quantity | null {
  const displacement = measureDisplacement(capture, { wavelength });
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
