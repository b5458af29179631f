import { describe, expect, it } from "vitest";
import {
  calibrateTuning,
  createCalibrationRecord,
  datasetEntry,
  datasetTruth,
  measureDistance,
  motionFromScreen,
  printReport,
  readReferenceReadings,
  speedFromScreen,
  stepsFromScreen,
  tuningFromRecord,
} from "fringebook";
import { stepsOfReading } from "fringebook/record";
import { createRandom } from "fringebook/signal";

const drive = {
  shape: "triangle",
  frequency: 10,
  low: 0.039,
  high: 0.041,
} as const;

/** What a person sees of a ramp: places of the edges, in A. */
function edgesSeen(stepsPerCurrent: number, start: number): number[] {
  const edges: number[] = [];
  for (
    let at = drive.low + start / stepsPerCurrent;
    at < drive.high;
    at += 1 / stepsPerCurrent
  ) edges.push(at);
  return edges;
}

describe("stepsFromScreen()", () => {
  it("takes a whole count as triangular: u = 1/√6 (JCGM 100:2008, 4.3.9)", () => {
    const { steps, stepsPerCurrent } = stepsFromScreen({ drive, up: 7 });
    expect(steps.standardUncertainty).toBeCloseTo(0.408, 3);
    expect(stepsPerCurrent.value).toBeCloseTo(3500, 9);
    // And so counts scatter where ramps begin and end anywhere.
    const random = createRandom(23);
    let squares = 0;
    const trials = 4000;
    for (let i = 0; i < trials; i++) {
      const true_ = 3 + 5 * random.uniform();
      const start = random.uniform();
      squares += (Math.floor(true_ + start) - true_) ** 2;
    }
    // 4000 draws know the standard deviation to about 1 %.
    expect(Math.abs(Math.sqrt(squares / trials) / 0.408 - 1)).toBeLessThan(
      0.04,
    );
  });

  it("takes whole steps between two edges, as uncertain as the two currents", () => {
    // By hand: 6 steps in 8.8 mA, 0.6818 per mA; √2 × 0.06/8.8 = 0.964 %.
    const { steps, stepsPerCurrent, warnings } = stepsFromScreen({
      drive: { ...drive, low: "35mA", high: "45mA" },
      up: { edges: 7, first: "36.0mA", last: "44.8mA" },
      currentStandardUncertainty: "0.06mA",
    });
    expect(stepsPerCurrent.value).toBeCloseTo(681.818, 3);
    expect(stepsPerCurrent.standardUncertainty / stepsPerCurrent.value)
      .toBeCloseTo(0.00964, 5);
    expect(steps.value).toBeCloseTo(6.818, 3);
    expect(warnings).toEqual([]);
  });

  it("reads edges of a falling flank the other way round", () => {
    const count = (first: number, last: number) =>
      stepsFromScreen({
        drive,
        down: { edges: 5, first, last },
        currentStandardUncertainty: 1e-5,
      }).stepsPerCurrent.value;
    expect(count(0.0408, 0.0392)).toBe(count(0.0392, 0.0408));
  });

  it("says what a better reading would change", () => {
    const codes = (options: Parameters<typeof stepsFromScreen>[0]) =>
      stepsFromScreen(options).warnings.map(({ code }) => code);
    expect(codes({ drive, up: 4 })).toEqual(["whole-count"]);
    expect(codes({ drive, up: { edges: 5, first: 0.0392, last: 0.0408 } }))
      .toEqual(["reading-taken-as-exact"]);
  });

  it("refuses what cannot have been counted, in words", () => {
    const given = { drive, currentStandardUncertainty: 1e-5 };
    expect(() => stepsFromScreen(given)).toThrow("neither 'up' nor 'down'");
    expect(() =>
      stepsFromScreen({ ...given, up: { edges: 1, first: 0.039, last: 0.04 } })
    ).toThrow("from 2");
    expect(() =>
      stepsFromScreen({ ...given, up: { edges: 4, first: 0.03, last: 0.04 } })
    ).toThrow("outside of the ramp");
    expect(() =>
      stepsFromScreen({ ...given, up: { edges: 4, first: 0.04, last: 0.04 } })
    ).toThrow("same current");
    expect(() => stepsFromScreen({ drive: { ...drive, high: 0.03 }, up: 4 }))
      .toThrow("above 'drive.low'");
  });

  it("prints without what only a capture has", () => {
    const text = String(
      printReport(stepsFromScreen({ drive, up: 7, down: 7 })),
    );
    expect(text).toContain("Counted by hand");
    expect(text).not.toMatch(/NaN|not determined|signal-to-noise/);
  });
});

describe("counts of a hand where a capture would go", () => {
  it("tell the velocity of a target where both flanks are counted", () => {
    // (12 − 8)/2 × 650 nm/(2 × 1.00027) in 50 ms: Doppler, Shinohara et al. 1986.
    const { velocity } = measureDistance(
      stepsFromScreen({ drive, up: 8, down: 12 }),
      { tuning: { tuning: "8pm/mA", wavelength: "650nm" } },
    );
    expect(velocity!.value).toBeCloseTo(12.997e-6, 8);
  });

  it("give the worked example of the guide", async () => {
    const count = (edges: number, first: string, last: string) =>
      stepsFromScreen({
        drive,
        up: { edges, first, last },
        currentStandardUncertainty: "0.012mA",
      });
    const standardUncertainty = 0.2e-3;
    const tuning = calibrateTuning([
      {
        steps: count(5, "39.21mA", "40.80mA"),
        distance: 0.06,
        standardUncertainty,
      },
      {
        steps: count(9, "39.15mA", "40.82mA"),
        distance: 0.12,
        standardUncertainty,
      },
      {
        steps: count(15, "39.11mA", "40.90mA"),
        distance: 0.2,
        standardUncertainty,
      },
    ], { wavelength: "650nm", wavelengthStandardUncertainty: "2nm" });
    // Slope through the outer two: 5.305 per mA over 140 mm.
    expect(tuning.tuning.value * 1e9).toBeCloseTo(8.0, 1);
    expect(tuning.zeroOffset.value * 1e3).toBeCloseTo(-6.4, 0);
    const { distance } = measureDistance(
      count(8, "39.18mA", "40.87mA"),
      { tuning },
    );
    expect(Math.abs(distance.value - 0.1029)).toBeLessThan(1e-4);

    // A record is made of it as of any calibration.
    const record = await createCalibrationRecord(tuning, {
      title: "Red diode, counted by hand",
      operator: "A. Hand",
      calibratedAt: "2026-11-30",
      validUntil: "2027-11-30",
    });
    expect(
      tuningFromRecord(record, { at: new Date("2026-12-01") }).tuning.value,
    ).toBeCloseTo(
      tuning.tuning.value,
      14,
    );
  });

  it("are read from a stranger's table, whole and from edge to edge", async () => {
    const path = await Deno.makeTempFile({ suffix: ".csv" });
    const readings = async (text: string) => {
      await Deno.writeTextFile(path, text);
      return await readReferenceReadings(path);
    };
    const ramp = { ...drive, low: "39mA", high: "41mA" };
    const head = "distance (cm)\tstandard uncertainty (mm)\t";
    const edges = await readings(
      `${head}edges\tfirst (mA)\tlast (mA)\tstandard uncertainty of current (µA)\r\n` +
        "6,0\t0,2\t5\t39,21\t40,80\t12\r\n12,0\t0,2\t9\t39,15\t40,82\t12\r\n20,0\t0,2\t15\t39,11\t40,90\t12\r\n",
    );
    const points = edges.map((reading) => ({
      distance: reading.distance,
      standardUncertainty: reading.standardUncertainty,
      steps: stepsOfReading(reading, ramp),
    }));
    const { tuning } = calibrateTuning(points, {
      wavelength: "650nm",
      wavelengthGets: "shorter",
    });
    // The guide's page by hand: 8.0 pm/mA.
    expect(tuning.value * 1e9).toBeCloseTo(-8, 1);

    const whole = await readings(
      `${head}steps\tstandard uncertainty of steps\n6\t0,2\t5,0\t0,1\n12\t0,2\t9,5\t\n`,
    );
    const counts = whole.map((reading) => stepsOfReading(reading, ramp).steps);
    expect(counts.map(({ value }) => value)).toEqual([5, 9.5]);
    expect(counts[0]!.standardUncertainty).toBeCloseTo(0.1, 9);
    // No uncertainty stated: that of a whole count, 1/√6.
    expect(counts[1]!.standardUncertainty).toBeCloseTo(0.408, 3);

    const refused: [string, RegExp][] = [
      [`${head}steps\n6\t0,2\t\n`, /line 2 names no file and no count/],
      [`${head}steps (mA)\n6\t0,2\t5\n`, /has a unit, while it is a number/],
      [`${head}edges\n6\t0,2\t5\n`, /no column 'first'/],
      [`${head}edges\tfirst\tlast\n6\t0,2\t5\t1\t2\n`, /no unit of current/],
      [`${head}steps\n6\t0,2\tfive\n`, /the steps in line 2 is no number/],
      [
        `${head}file\tsteps\n6\t0,2\ta.csv\t5\n`,
        /line 2 holds a file and a count/,
      ],
    ];
    for (const [text, words] of refused) {
      await expect(readings(text)).rejects.toThrow(words);
    }
    expect(() => stepsOfReading(whole[0]!, null)).toThrow(/is not stated/);
    await Deno.remove(path);
  });

  it("hold the truth in 95 % of calibrations, from edge to edge and whole", () => {
    const random = createRandom(2306);
    const perDistance = 2 * 1.00027 * 8e-9 / 650e-9 ** 2;
    const uCurrent = 1.2e-5;
    const uDistance = 2e-4;
    const inside = { tuning: [0, 0], distance: [0, 0] };
    const trials = 250;
    for (let trial = 0; trial < trials; trial++) {
      [true, false].forEach((byEdges, way) => {
        const count = (optical: number) => {
          const edges = edgesSeen(perDistance * optical, random.uniform());
          const read = (at: number) => at + uCurrent * random.normal();
          return stepsFromScreen({
            drive,
            up: byEdges
              ? {
                edges: edges.length,
                first: read(edges[0]!),
                last: read(edges.at(-1)!),
              }
              : edges.length,
            currentStandardUncertainty: byEdges ? uCurrent : 0,
          });
        };
        const references = [0.06, 0.1, 0.14, 0.18, 0.22, 0.26].map((place) => ({
          distance: place + uDistance * random.normal(),
          standardUncertainty: uDistance,
          steps: count(place + 0.0063),
        }));
        const tuning = calibrateTuning(references, { wavelength: 650e-9 });
        const { distance } = measureDistance(count(0.15 + 0.0063), { tuning });
        const holds = (
          { value, expandedUncertainty }: typeof distance,
          truth: number,
        ) => Math.abs(value - truth) <= expandedUncertainty ? 1 : 0;
        inside.tuning[way]! += holds(tuning.tuning, 8e-9);
        inside.distance[way]! += holds(distance, 0.15);
      });
    }
    console.log("inside U:", inside);
    // 250 trials: 95 ± 1.4 %, four standard deviations downward. A triangle is
    // inside 2 u more often than a normal distribution.
    for (const hits of [...inside.tuning, ...inside.distance]) {
      expect(hits / trials).toBeGreaterThan(0.895);
    }
    expect(inside.tuning[0]! / trials).toBeLessThan(0.995);
  });
});

describe("motionFromScreen()", () => {
  it("gives half a wavelength for each fringe, and what follows for a sine", () => {
    // By hand: 12 × 325 nm/1.00027 from end to end; 2π × 100 Hz × A.
    const { peakToPeak, amplitude, greatestSpeed, greatestFringeRate } =
      motionFromScreen({
        fringes: 12,
        wavelength: "650nm",
        turningPoints: ["1.2ms", "11.2ms"],
        strokes: 2,
      });
    expect(peakToPeak.value).toBeCloseTo(3.899e-6, 9);
    expect(amplitude.standardUncertainty).toBeCloseTo(66.3e-9, 10);
    expect(greatestSpeed!.value).toBeCloseTo(1.2249e-3, 7);
    // π N f: the fringe rate of a sine does not need the wavelength.
    expect(greatestFringeRate!.value).toBeCloseTo(Math.PI * 12 * 100, 6);
  });
  it("holds the truth of the loudspeaker of the sample captures", () => {
    const { amplitude, fringesPerStroke, frequency } = datasetTruth(
      "vibration",
    );
    const { wavelength } = datasetEntry("vibration").known;
    const period = 1 / frequency!.value;
    const found = motionFromScreen({
      fringes: Math.floor(fringesPerStroke!.value),
      wavelength: wavelength!.value,
      wavelengthStandardUncertainty: wavelength!.standardUncertainty,
      // Read to a tenth of 1 ms.
      turningPoints: [0.0013, Math.round((0.0013 + period / 2) * 1e4) / 1e4],
      cursorStandardUncertainty: 6e-5,
    });
    for (
      const [quantity, truth] of [
        [found.amplitude, amplitude],
        [found.frequency!, frequency],
      ] as const
    ) {
      expect(Math.abs(quantity.value - truth!.value))
        .toBeLessThan(quantity.expandedUncertainty);
    }
  });
});

describe("speedFromScreen()", () => {
  it("gives v = f λ/(2 n cos θ) with the share of the angle (Shinohara et al. 1986)", () => {
    const { speed, dopplerFrequency } = speedFromScreen({
      fringes: 8,
      cursors: ["180us", "20us"],
      cursorStandardUncertainty: "1.2us",
      ends: "on edges",
      wavelength: "650nm",
      angle: "80deg",
      angleStandardUncertainty: "1deg",
    });
    expect(dopplerFrequency.value).toBeCloseTo(50e3, 6);
    // 50 kHz × 325 nm/(1.00027 cos 80°) = 93.55 mm/s; tan 80° × π/180 = 9.9 %.
    expect(speed.value).toBeCloseTo(93.55e-3, 5);
    expect(speed.standardUncertainty / speed.value).toBeCloseTo(0.0995, 3);
  });
  it("adds the parts at both ends where the cursors stand anywhere", () => {
    const given = {
      fringes: 8,
      cursors: [0, 160e-6],
      cursorStandardUncertainty: 0,
      wavelength: 650e-9,
    } as const;
    const { dopplerFrequency } = speedFromScreen(given);
    expect(dopplerFrequency.standardUncertainty / dopplerFrequency.value)
      .toBeCloseTo(0.408 / 8, 4);
    expect(
      speedFromScreen({ ...given, fringes: 8.5, ends: "on edges" }).warnings
        .map(({ code }) => code),
    ).toEqual(["part-of-a-fringe"]);
  });
});
