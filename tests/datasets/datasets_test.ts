import { describe, expect, it } from "vitest";
import {
  datasetEntry,
  datasetFolder,
  datasetNames,
  datasetTruth,
  findChannel,
  loadDataset,
  requireChannel,
} from "fringebook";
import { makeDatasets } from "fringebook/datasets";

function mean(values: ArrayLike<number>): number {
  let sum = 0;
  for (let i = 0; i < values.length; i++) sum += values[i]!;
  return sum / values.length;
}

describe("makeDatasets()", () => {
  const { files } = makeDatasets();

  it("makes the very bytes that lie in the folder, under 8 MB together", () => {
    let total = 0;
    for (const [name, bytes] of files) {
      const stored = Deno.readFileSync(new URL(name, datasetFolder));
      expect({ name, same: equal(stored, bytes) }).toEqual({
        name,
        same: true,
      });
      total += bytes.length;
    }
    expect(total).toBeLessThan(8e6);
  });

  it("leaves nothing else in the folder but the README, which names all", () => {
    const stored = [...Deno.readDirSync(datasetFolder)].map(({ name }) => name);
    expect(stored.sort()).toEqual([...files.keys(), "README.md"].sort());
    const text = Deno.readTextFileSync(new URL("README.md", datasetFolder));
    expect(text).toContain("simulated");
    for (const name of datasetNames()) {
      // "tuning-060mm" is named by its file pattern `tuning-*.csv`.
      const pattern = `${name.split("-")[0]}`;
      expect(text.includes(name) || text.includes(pattern)).toBe(true);
    }
  });
});

describe("loadDataset()", () => {
  it("reads every capture with rate, length, roles and units as stated", async () => {
    for (const name of datasetNames()) {
      const entry = datasetEntry(name);
      const capture = await loadDataset(name);
      expect(capture.samplingRate).toBeCloseTo(entry.samplingRate, 3);
      expect(capture.sampleCount).toBe(entry.sampleCount);
      const monitor = requireChannel(capture, "monitor signal");
      expect(monitor.unit).toBe("V");
      expect(monitor.samples.some(Number.isNaN)).toBe(false);
      // Volts, not the recorder's counts: fringes are 10 mV and more, and no
      // amplifier of a bench gives more than 20 V.
      let swing = 0;
      for (const value of monitor.samples) {
        swing = Math.max(swing, Math.abs(value));
      }
      expect(swing).toBeGreaterThan(0.01);
      expect(swing).toBeLessThan(20);
      if (["tuning", "distance", "light-current"].includes(entry.series)) {
        expect(findChannel(capture, "drive current")?.unit).toBe("A");
      }
    }
  });

  it("lists what there is for an unknown name", async () => {
    await expect(loadDataset("none")).rejects.toThrow("tuning-060mm");
  });
});

describe("The simulated bench", () => {
  it("shows 35 to 45 mA on the drive channel, 0.32 % too much", async () => {
    const capture = await loadDataset("tuning-200mm");
    const { samples } = requireChannel(capture, "drive current");
    const gain = datasetTruth("tuning-200mm").currentGain!.value;
    // Noise of 8 µA and steps of 24 µA, at the ends of four strokes.
    expect(Math.abs(Math.max(...samples) - 0.045 * gain)).toBeLessThan(5e-5);
    expect(Math.abs(Math.min(...samples) - 0.035 * gain)).toBeLessThan(5e-5);
  });

  it("has a phase ramp of N = 2nL Δλ/(λ1 λ2) steps", () => {
    // Beheim, Fritsch 1986. With 83.1 pm at 651.2 nm:
    const { stepsPerRamp, opticalDistance } = datasetTruth("tuning-200mm");
    const expected = 2 * 1.00027 * opticalDistance!.value * 83.1e-12 /
      651.2e-9 ** 2;
    // The middle wavelength stands for both ends: relative error 4e-9, and the
    // curvature shifts the middle by 0.4 pm.
    expect(stepsPerRamp!.value / expected).toBeCloseTo(1, 5);
  });

  it("tunes by -5.875 GHz/mA where λ tunes by 8.31 pm/mA", () => {
    // c/λ² at 651.2 nm = 0.70696 GHz/pm, worked out by hand.
    const { tuning, frequencyTuning } = datasetTruth("tuning-200mm");
    expect(tuning!.value).toBeCloseTo(8.31e-9, 14);
    expect(frequencyTuning!.value / 1e12).toBeCloseTo(-0.70696 * 8.31, 2);
  });

  it("knows its inputs within their uncertainties", () => {
    for (const name of datasetNames()) {
      const { known, truth } = datasetEntry(name);
      for (const [key, value] of Object.entries(known)) {
        const actual = truth[key];
        if (actual === undefined) continue;
        expect(actual.unit).toBe(value.unit);
        // Three standard uncertainties: an honest bench.
        expect(Math.abs(actual.value - value.value))
          .toBeLessThan(3 * value.standardUncertainty);
      }
    }
  });

  it("has Doppler lines at 2 n v cos θ/λ", async () => {
    for (const name of datasetNames("disc")) {
      const truth = datasetTruth(name);
      const expected = 2 * 1.00027 * truth.speed!.value *
        Math.cos(truth.angle!.value) / truth.wavelength!.value;
      expect(truth.dopplerFrequency!.value / expected).toBeCloseTo(1, 9);
      const capture = await loadDataset(name);
      const samples = requireChannel(capture, "monitor signal").samples;
      // Crossings of the middle count the frequency of a noisy tone to 10 %.
      const middle = mean(samples);
      const power = (frequency: number) => {
        let sum = 0;
        for (let start = 0; start + 256 <= samples.length; start += 256) {
          let real = 0;
          let imaginary = 0;
          for (let i = 0; i < 256; i++) {
            const angle = 2 * Math.PI * frequency * i / capture.samplingRate;
            const value = samples[start + i]! - middle;
            real += value * Math.cos(angle);
            imaginary += value * Math.sin(angle);
          }
          sum += real * real + imaginary * imaginary;
        }
        return sum;
      };
      expect(power(expected)).toBeGreaterThan(5 * power(expected * 0.8));
      expect(power(expected)).toBeGreaterThan(5 * power(expected * 1.2));
    }
  });

  it("has an afternoon whose truths follow from physics, worked out beside it", () => {
    // N = 2 n L Δλ/(λ1 λ2): 2 × 1.00027 × 73.7102 mm × 12.465 pm/(651.2 nm)²
    expect(datasetTruth("sine-far").stepsPerRamp!.value).toBeCloseTo(4.3345, 3);
    // 23.44 mm of light for 50 mm of ruler: less than a third of the far steps.
    expect(datasetTruth("sine-near").stepsPerRamp!.value).toBeCloseTo(
      1.3784,
      3,
    );
    // The overshoot of a second-order system at ζ = 0.25: 44.4 % (any textbook of
    // control, from memory).
    const { overshoot, height, peakToPeak } = datasetTruth("speaker-square");
    expect(overshoot!.value).toBeCloseTo(0.444, 3);
    expect(peakToPeak!.value / height!.value).toBeCloseTo(1 + 2 * 0.444, 2);
    // v cos θ at 78.2°: 0.2045.
    const away = datasetTruth("motor-away");
    expect(away.speedAlongBeam!.value / away.speed!.value).toBeCloseTo(
      0.2045,
      4,
    );
    expect(datasetTruth("motor-back").speedAlongBeam!.value).toBeLessThan(0);
    // From 18.3 to -13.8 mm/s in the 40 ms after 50 ms, 802.5 mm/s²: zero after
    // 18.3/802.5 s = 22.804 ms.
    expect(datasetTruth("motor-turns").turningTime!.value)
      .toBeCloseTo(0.072804, 6);
    // The finger rests for 34 ms.
    const { stopTime, startTime } = datasetTruth("motor-stops");
    expect(startTime!.value - stopTime!.value).toBeCloseTo(0.034, 9);
    // 2 × 1.00027 × 60.3 mm × 83.1 pm/(651.2 nm)², and so for 170.8 mm.
    const { plateSteps, cardSteps } = datasetTruth("two-targets");
    expect(plateSteps!.value).toBeCloseTo(23.6394, 3);
    expect(cardSteps!.value).toBeCloseTo(66.9588, 3);
    // Shockley's law with n = 2, 25 °C and 10⁻¹⁸ A, 4 Ω in series, by hand for
    // 40 mA: 2 × 25.69 mV × ln(4 × 10¹⁶) + 160 mV = 1.9639 V + 0.16 V.
    const curve = new TextDecoder().decode(
      Deno.readFileSync(new URL("voltage-drive-curve.csv", datasetFolder)),
    );
    expect(curve).toContain("\n2.1241,40.00\n");
    // The corner leaves 1/√(1 + (13.5/25)²) = 88 % of the drive's fundamental.
    expect(datasetTruth("capacitor-drive").couplingCorner!.value).toBe(13.5);
    // -0.3 % per kelvin, and 2 × 30 pm/651.2 nm for the square of the wavelength.
    expect(datasetTruth("warm-30c").relativeCoefficient!.value)
      .toBeCloseTo(-0.003 - 9.2138e-5, 8);
    // 8.31 pm/mA less 1.5 %.
    expect(datasetTruth("warm-30c").tuning!.value * 1e9).toBeCloseTo(
      8.18535,
      5,
    );
    // ζ = 1/√(1 + (2π f τ)²) with 52 Hz and 90 ms.
    expect(datasetTruth("tap").dampingRatio!.value).toBeCloseTo(0.03399, 5);
  });

  it("has one capture that is clipped and undersampled", async () => {
    const capture = await loadDataset("bad");
    const { samples, fullScale } = requireChannel(capture, "monitor signal");
    const held = samples.filter((value) =>
      value <= fullScale!.low + 1e-4 || value >= fullScale!.high - 1e-4
    );
    expect(held.length / samples.length).toBeGreaterThan(0.1);
    expect(datasetTruth("bad").greatestFringeRate!.value)
      .toBeGreaterThan(capture.samplingRate / 2);
  });
});

function equal(a: Uint8Array, b: Uint8Array): boolean {
  return a.length === b.length && a.every((value, i) => value === b[i]);
}
