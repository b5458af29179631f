import { createCapture, simulateCapture } from "fringebook";

/** Samples per second of these captures, in Hz. */
export const samplingRate = 100e3;
/** Their samples: three ramps of 25 Hz. */
export const count = 12_000;
/** Distance of their target, in m. */
export const distance = 0.2;

/** The quick count will do: what is tested is the current. */
export const counted = {
  tuning: { tuning: "8pm/mA", wavelength: "650nm" },
  estimator: "phase slope",
} as const;

/** Triangle between -1 and 1. */
export const triangle = (turns: number) =>
  1 - 4 * Math.abs(turns - Math.floor(turns) - 0.5);

/** A ramp as recorded: the current that ran, and the voltage on CH2. */
export function rampCapture(
  current: Float64Array,
  voltage: Float64Array,
  bench: { feedbackParameter?: number; noise?: number; seed?: number } = {},
) {
  const made = simulateCapture({
    distance,
    refractiveIndex: 1.00027,
    current,
    samplingRate,
    feedbackParameter: bench.feedbackParameter ?? 0.8,
    noise: { signalToNoiseRatio: bench.noise ?? 30 },
    drive: null,
    seed: bench.seed ?? 3,
  });
  return createCapture([
    { ...made.channels[0]!, name: "CH1" },
    { name: "CH2", role: "drive voltage", unit: "V", samples: voltage },
  ], { samplingRate });
}

/**
 * Voltage of a diode at a current: Shockley's law with a series resistance,
 * V = n kT/e ln(I/I_s + 1) + R I.
 */
export const voltageAt = (current: number) =>
  2 * 0.02569 * Math.log(current / 1e-18 + 1) + 4 * current;

/** Current at a voltage, by halving. */
export function currentAt(voltage: number): number {
  let [low, high] = [0, 0.2];
  for (let k = 0; k < 60; k++) {
    const middle = (low + high) / 2;
    if (voltageAt(middle) < voltage) low = middle;
    else high = middle;
  }
  return low;
}

/** A generator of 1 V with an offset of 0.7 V. */
export const generatorFrom = (start: number) =>
  Float64Array.from(
    { length: count },
    (_, i) => 0.7 + triangle(25 * i / samplingRate + start),
  );

/**
 * Current behind 200 Ω and a capacitor, about 40 mA, long since switched on: the
 * network by Euler's method at twenty steps a sample.
 */
export function throughCapacitor(generator: Float64Array, corner: number) {
  const current = new Float64Array(count);
  let charge = 0.7;
  const parts = 20;
  const rate = 2 * Math.PI * corner / samplingRate / parts;
  for (let round = 0; round < 2 + 25 / corner; round++) {
    for (let i = 0; i < count; i++) {
      current[i] = 0.04 + (generator[i]! - charge) / 200;
      const next = generator[(i + 1) % count]!;
      for (let k = 0; k < parts; k++) {
        const now = generator[i]! + (next - generator[i]!) * (k + 0.5) / parts;
        charge += rate * (now - charge);
      }
    }
  }
  return current;
}

/** Currents at which the curve of the diode is read off, in A. */
export const readAt = [20, 25, 30, 34, 37, 40, 43, 46, 50].map((mA) =>
  mA / 1000
);

/** A triangle on the voltage of the diode, from 36 mA to 44 mA, in V. */
export function voltageRamp(): Float64Array {
  const [low, high] = [voltageAt(0.036), voltageAt(0.044)];
  return Float64Array.from(
    { length: count },
    (_, i) =>
      (low + high) / 2 + (high - low) / 2 * triangle(25 * i / samplingRate),
  );
}
