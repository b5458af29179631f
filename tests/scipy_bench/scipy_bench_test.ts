import { describe, expect, it } from "vitest";
import {
  createCapture,
  measureDisplacement,
  measureDistance,
  measureRingDown,
  measureSpeed,
  measureSteps,
  measureVibration,
  type Quantity,
  readCapture,
} from "fringebook";

/** What `make_captures.py` says of a capture. */
interface Described {
  readonly samplingRate: number;
  readonly channels: readonly { step: number; offset: number }[];
  readonly truth: Readonly<Record<string, number>>;
}

const folder = new URL("./fixtures/", import.meta.url);
const described: Record<string, Described> = JSON.parse(
  await Deno.readTextFile(new URL("captures.json", folder)),
);

/** A capture in volts and amperes, and the truth about it. */
async function load(name: string) {
  const { samplingRate, channels, truth } = described[name]!;
  const numbers = await readCapture(new URL(`${name}.npy`, folder), {
    samplingRate,
  });
  const capture = createCapture(
    channels.map(({ step, offset }, k) => ({
      ...k === 0
        ? { name: "monitor", role: "monitor signal", unit: "V" }
        : { name: "drive", role: "drive current", unit: "A" },
      samples: numbers.channels[k]!.samples.map((n) => n * step + offset),
    })),
    { samplingRate },
  );
  return { capture, truth };
}

/** How many standard uncertainties a result is off. */
const off = ({ value, standardUncertainty }: Quantity, truth: number) =>
  Math.abs(value - truth) / standardUncertainty;

// Four standard uncertainties: of the some 30 values below, each from one seed, one
// would be further off in 500 runs of make_captures.py.
const most = 4;

describe("captures that SciPy made from the published equations", () => {
  for (const c of ["0.3", "0.8", "2.0", "3.5"]) {
    it(`a vibration at C = ${c}: displacement, direction, C, α, amplitude, frequency`, async () => {
      const { capture, truth } = await load(`vibration-c${c}`);
      const result = measureDisplacement(capture, {
        // The published equations are written for a vacuum.
        refractiveIndex: 1,
        wavelength: truth["wavelength"]!,
      });
      expect(result.warnings).toEqual([]);
      expect(result.directionDetermined).toBe(true);
      expect(off(result.feedbackParameter, truth["feedbackParameter"]!))
        .toBeLessThan(most);
      expect(
        off(
          result.linewidthEnhancementFactor,
          truth["linewidthEnhancementFactor"]!,
        ),
      ).toBeLessThan(most);
      expect(off(result.netDisplacement, truth["net"]!)).toBeLessThan(most);
      const way = result.displacement.map((_, n) => {
        const time = n / capture.samplingRate;
        return truth["drift"]! * time +
          truth["amplitude"]! *
            Math.sin(
              2 * Math.PI * truth["frequency"]! * time +
                truth["start"]!,
            );
      });
      // The rms of some hundred independent knots scatters by 5 %.
      expect(rmsOfDifference(result.displacement, way))
        .toBeLessThan(1.5 * result.rmsUncertainty);
      const { amplitude, frequency } = measureVibration(result);
      expect(off(amplitude, truth["amplitude"]!)).toBeLessThan(most);
      expect(off(frequency, truth["frequency"]!)).toBeLessThan(most);
    });
  }

  it("a ring-down: natural frequency and quality factor", async () => {
    const { capture, truth } = await load("ring-down");
    const { naturalFrequency, qualityFactor } = measureRingDown(
      measureDisplacement(capture, {
        wavelength: truth["wavelength"]!,
        refractiveIndex: 1,
      }),
    );
    expect(off(naturalFrequency, truth["naturalFrequency"]!))
      .toBeLessThan(most);
    expect(off(qualityFactor, truth["qualityFactor"]!)).toBeLessThan(most);
  });

  for (const name of ["ramp-weak", "ramp-moderate"]) {
    it(`a current ramp (${name}): steps per current, distance`, async () => {
      const { capture, truth } = await load(name);
      const { stepsPerCurrent, feedbackParameter } = measureSteps(capture);
      expect(off(stepsPerCurrent, truth["stepsPerCurrent"]!))
        .toBeLessThan(most);
      expect(off(feedbackParameter, truth["feedbackParameter"]!))
        .toBeLessThan(most);
      const exact = (value: number) => ({ value, standardUncertainty: 0 });
      const { distance } = measureDistance(capture, {
        tuning: {
          tuning: exact(truth["tuning"]!),
          wavelength: exact(truth["wavelength"]!),
        },
        refractiveIndex: 1,
      });
      expect(off(distance, truth["distance"]!)).toBeLessThan(most);
    });
  }

  it("the rough rim of a disc: speed from the Doppler line", async () => {
    const { capture, truth } = await load("disc");
    const { speed } = measureSpeed(capture, {
      refractiveIndex: 1,
      wavelength: truth["wavelength"]!,
      angle: truth["angle"]!,
    });
    expect(off(speed, truth["speed"]!)).toBeLessThan(most);
  });
});

function rmsOfDifference(a: Float64Array, b: Float64Array): number {
  const difference = a.map((value, n) => value - b[n]!);
  const mean = difference.reduce((sum, d) => sum + d, 0) / a.length;
  return Math.sqrt(
    difference.reduce((sum, d) => sum + (d - mean) ** 2, 0) / a.length,
  );
}
