/**
 * What a user is told of clean benches, and of captures that do have a fault: false
 * alarms of the warnings of motion, speed and range, and hits of each finding of the
 * capture's check. `plain_bench.ts` shares no line with the library.
 * `npx -y deno@2.9.6 test -A tests/doors/false_alarms_trial.ts`
 */
import { describe, expect, it } from "vitest";
import {
  type Capture,
  checkCapture,
  createCapture,
  measureCapture,
  type Result,
} from "fringebook";
import { type MeasurementKind, recogniseMeasurement } from "fringebook/explore";
import {
  type PlainBench,
  plainCapture,
  plainRandom,
  plainWavelength,
  triangle,
} from "./plain_bench.ts";

const seeds = Array.from({ length: 24 }, (_, i) => i + 1);
const sine = (turns: number) => Math.sin(2 * Math.PI * turns);

/** Picks of a bench, the same for the same seed. */
function picks(seed: number) {
  const uniform = plainRandom(71 * seed + 13);
  for (let i = 0; i < 30; i++) uniform();
  return <T>(list: readonly T[]): T =>
    list[Math.floor(uniform() * list.length)]!;
}

/** Clean benches: at least 15 samples per fringe, a pole well above the fringes. */
const clean: Record<
  string,
  { kind: MeasurementKind; bench: (seed: number) => PlainBench }
> = {
  "vibration": {
    kind: "motion",
    bench: (seed) => {
      const pick = picks(seed);
      const amplitude = pick([1e-6, 2e-6, 3e-6]);
      const frequency = pick([47, 87, 120]);
      const start = pick([0, 0.1, 0.33, 0.6]);
      return {
        samplingRate: 100e3,
        duration: 0.05,
        way: (t) => amplitude * sine(frequency * t + start),
        feedback: pick([0.3, 0.7, 1.5, 2.5]),
        decibels: pick([20, 25, 30]),
      };
    },
  },
  "speed": {
    kind: "speed",
    bench: (seed) => {
      const pick = picks(seed);
      const speed = pick([0.3e-3, 0.7e-3, 2e-3]);
      return {
        samplingRate: 100e3,
        duration: 0.2,
        way: (t) => speed * t,
        feedback: pick([0.3, 0.7, 1.5, 2.5]),
        decibels: pick([15, 20, 30]),
      };
    },
  },
  "ramp": {
    kind: "distance",
    bench: (seed) => {
      const pick = picks(seed);
      const frequency = pick([20, 50, 100]);
      const start = pick([0, 0.13, 0.4, 0.77]);
      const current = (t: number) =>
        0.04 + 0.003 * triangle(frequency * t + start);
      return {
        samplingRate: 50e3,
        duration: 0.2,
        distance: pick([0.12, 0.17, 0.23, 0.31]),
        current,
        drive: { role: "drive current", unit: "A", value: current },
        feedback: pick([0.3, 0.7, 1.5, 2.5]),
        decibels: pick([20, 25, 30]),
      };
    },
  },
};

describe("what a user is told of a clean bench", () => {
  for (const [name, { kind, bench }] of Object.entries(clean)) {
    it(`is a number without doubt, or as few doubts as measured: ${name}`, () => {
      const counts: Record<string, number> = {};
      let numbers = 0;
      const note = (code: string) => counts[code] = (counts[code] ?? 0) + 1;
      for (const seed of seeds) {
        const capture = plainCapture({ ...bench(seed), seed });
        const { recognition, results } = measureCapture(capture, {
          wavelength: plainWavelength,
        });
        if (recognition.measurement === kind) numbers++;
        else note(`not recognised: ${recognition.reason.slice(0, 300)}`);
        doubtsOf(results).forEach(note);
      }
      console.log(name, numbers, "of", seeds.length, counts);
      expect(numbers).toBeGreaterThanOrEqual(leastNumbers[name]!);
      for (const [code, count] of Object.entries(counts)) {
        if (code.startsWith("not recognised")) continue;
        expect(`${code} ${count <= (measuredAlarms[name]?.[code] ?? 1)}`)
          .toBe(`${code} true`);
      }
    });
  }
});

/** Numbers of 24 clean benches, as measured. */
const leastNumbers: Record<string, number> = {
  vibration: 23,
  speed: 23,
  ramp: 24,
};

/**
 * False alarms of 24 clean benches, as measured; at most one of all others: one of
 * "model-misfit" and "height-changes" of vibrations, one of "estimators-disagree" of
 * ramps, none of speeds.
 */
const measuredAlarms: Record<string, Record<string, number>> = {
  vibration: { "misfit": 3 },
};

/** Codes of the doubts that results carry, each once. */
function doubtsOf(results: readonly Result[]): Set<string> {
  return new Set(
    results.flatMap(({ warnings }) =>
      warnings.filter(({ severity }) => severity === "doubtful")
        .map(({ code }) => code)
    ),
  );
}

/** A vibration with its samples changed. */
function changed(
  seed: number,
  change: (samples: Float64Array) => void,
  bench: Partial<PlainBench> = {},
): Capture {
  const pick = picks(seed);
  const amplitude = pick([1e-6, 2e-6, 3e-6]);
  const frequency = pick([47, 87, 120]);
  const capture = plainCapture({
    samplingRate: 100e3,
    duration: 0.1,
    way: (t) => amplitude * sine(frequency * t),
    feedback: pick([0.3, 0.7, 1.5, 2.5]),
    decibels: 30,
    seed,
    ...bench,
  });
  const [monitor] = capture.channels;
  const samples = Float64Array.from(monitor!.samples);
  change(samples);
  return createCapture([{ ...monitor!, samples }], {
    samplingRate: capture.samplingRate,
  });
}

function rangeOf(samples: Float64Array) {
  let [low, high] = [Infinity, -Infinity];
  for (const value of samples) {
    low = Math.min(low, value);
    high = Math.max(high, value);
  }
  return { low, high, span: high - low };
}

/** Captures with a fault, by the finding that must name it. */
const faults: Record<string, (seed: number) => Capture> = {
  "clipped": (seed) =>
    changed(seed, (samples) => {
      const { high, span } = rangeOf(samples);
      samples.forEach((value, i) =>
        samples[i] = Math.min(value, high - 0.15 * span)
      );
    }),
  "saturated": (seed) =>
    changed(seed, (samples) => {
      // Bends softly into its end and stays there, without a flat top.
      const { low, span } = rangeOf(samples);
      samples.forEach((value, i) =>
        samples[i] = low + span * Math.tanh(12 * (value - low) / span)
      );
    }),
  "dropout": (seed) =>
    changed(seed, (samples) => {
      // The last value is held, or nothing comes.
      const at = 1000 + 311 * seed;
      samples.fill(seed % 2 === 0 ? 0 : samples[at]!, at, at + 400);
    }),
  "missing-samples": (seed) =>
    changed(seed, (samples) => samples.fill(NaN, 300 * seed, 300 * seed + 20)),
  "near-nyquist": (seed) =>
    changed(seed, () => {}, {
      way: (t) => 330e-9 * 100e3 / (2.6 + 0.05 * seed) * t,
    }),
  "low-snr": (seed) => changed(seed, () => {}, { decibels: 2 + seed / 6 }),
  "flat": (seed) => changed(seed, (samples) => samples.fill(samples[0]!)),
  "few-samples": (seed) =>
    changed(seed, () => {}, { duration: (4 + seed % 10) / 100e3 }),
};

/** Hits of 24, as measured; at least 22 of all others. */
const measuredHits: Record<string, number> = {
  // A value held where the fringes are slow stands out little.
  "dropout": 21,
  // The jumps of C from 1.5 on look like noise to the check; the recognition names
  // all of them, see below.
  "near-nyquist": 16,
};

describe("the capture check's hits", () => {
  for (const [code, make] of Object.entries(faults)) {
    it(`${code} is found in nine of ten captures that have it`, () => {
      const found = seeds.filter((seed) =>
        checkCapture(make(seed)).warnings.some((one) =>
          one.code === code || code === "near-nyquist" && one.code === "aliased"
        )
      ).length;
      console.log(code, "found", found, "of", seeds.length);
      expect(found).toBeGreaterThanOrEqual(measuredHits[code] ?? 22);
    });
  }
  it("near-nyquist is said by the recognition in all of them", () => {
    for (const seed of seeds) {
      const { warnings, measurement } = recogniseMeasurement(
        faults["near-nyquist"]!(seed),
      );
      const said = warnings.some(({ code }) => code === "near-nyquist");
      expect(`${seed}: ${said || measurement === "none"}`).toBe(
        `${seed}: true`,
      );
    }
  });
});
