import { surfaces } from "../bench/mod.ts";
import {
  benchOptions,
  type Option,
  optional,
  optionOf,
  readOptions,
} from "../options/mod.ts";
import type { LiveBlock, LiveSource } from "./live_source.ts";
import {
  type BenchKnobs,
  converter,
  SimulatedSignal,
  startKnobs,
} from "./simulated_signal.ts";

/** Options of {@linkcode createSimulatedBench}: knobs as one finds them. */
export interface SimulatedBenchOptions {
  /** Distance of the target, in m. @default {0.1} */
  distance?: number | string;
  /**
   * How far the lens stands from its best place, in m.
   *
   * @default {1.2e-3}
   */
  focus?: number | string;
  /** Surface of the target, as in `surfaces`. @default {"white card"} */
  surface?: string;
  /** Drive current, in A; with a ramp its middle. @default {0.04} */
  current?: number | string;
  /**
   * Half of what the current ramps up and down, in A; 0 for no ramp.
   *
   * @default {0}
   */
  rampAmplitude?: number | string;
  /** Ramps per second, in Hz. @default {20} */
  rampFrequency?: number | string;
  /** Amplitude of the target's motion, in m. @default {2.5e-6} */
  motionAmplitude?: number | string;
  /** Frequency of the target's motion, in Hz. @default {40} */
  motionFrequency?: number | string;
  /** Gain of the amplifier, relative to 10 kΩ (1). @default {1} */
  gain?: number;
  /** Amplitude of the mains hum, in V. @default {0} */
  hum?: number | string;
  /** Samples per second, in Hz. @default {48000} */
  samplingRate?: number | string;
  /** Times as fast as the clock (1): 10 gives ten seconds in one. @default {1} */
  pace?: number;
  /** Seed of the noise. @default {1} */
  seed?: number;
}

export const simulatedBenchSpec = {
  distance: optional(benchOptions.distance, startKnobs.distance),
  focus: optional(
    optionOf.between(
      "How far the lens stands from its best place, in m.",
      -0.01,
      0.01,
      "m",
      "1.2mm",
    ),
    startKnobs.focus,
  ),
  surface: optional(
    optionOf.choice(
      "Surface of the target.",
      surfaces.map(({ name }) => name),
    ),
    startKnobs.surface,
  ),
  current: optional(
    optionOf.between("Drive current, in A.", 0, 0.1, "A", "40mA"),
    startKnobs.current,
  ),
  rampAmplitude: optional(
    optionOf.between(
      "Half of what the current ramps up and down, in A.",
      0,
      0.05,
      "A",
      "2mA",
    ),
    startKnobs.rampAmplitude,
  ),
  rampFrequency: optional(
    optionOf.frequency("Ramps per second, in Hz.", "20Hz"),
    startKnobs.rampFrequency,
  ),
  motionAmplitude: optional(
    optionOf.between(
      "Amplitude of the target's motion, in m.",
      0,
      1e-3,
      "m",
      "2.5um",
    ),
    startKnobs.motionAmplitude,
  ),
  motionFrequency: optional(
    optionOf.frequency("Frequency of the target's motion, in Hz.", "40Hz"),
    startKnobs.motionFrequency,
  ),
  gain: optional(
    optionOf.positive("Gain of the amplifier, relative to 10 kΩ (1)."),
    startKnobs.gain,
  ),
  hum: optional(
    optionOf.notNegative("Amplitude of the mains hum, in V.", "V", "10mV"),
    startKnobs.hum,
  ),
  samplingRate: optional(benchOptions.samplingRate, 48000),
  pace: optional(
    optionOf.between("Times as fast as the clock (1).", 0.01, 1e4),
    1,
  ),
  seed: optional(
    optionOf.whole("Seed of the noise.", { least: 0, most: 2 ** 32 - 1 }),
    1,
  ),
} satisfies Record<keyof SimulatedBenchOptions, Option>;

/** A simulated bench whose knobs are turned while it is watched. */
export interface SimulatedBench extends LiveSource, BenchKnobs {
  /** Samples per second, in Hz. */
  readonly samplingRate: number;
}

/** Time between two blocks, in s. */
const blockTime = 0.02;
/** Most samples that are made up for after a pause, in s of the clock. */
const mostBehind = 0.5;

/**
 * A bench to learn on, without hardware: an invented red diode with its monitor
 * photodiode and a 16-bit recorder of ±1 V, a lens to bring into its place, a
 * target that vibrates or rests, a current that ramps. Its knobs are fields of
 * the object and may be turned at any time, also while it is watched.
 *
 * The field that returns falls with the distance of the lens from its best place,
 * and goes with the root of the surface's reflectance; C goes with the field and
 * with the distance. The numbers are invented; no bench is meant.
 *
 * @param options Where the knobs stand, sampling rate in Hz, pace.
 * @returns The bench, a live source of "monitor" in V and "drive" in A.
 * @throws {RangeError} If a knob is set outside of its range.
 *
 * Source: excess-phase equation as for `simulateCapture`.
 *
 * @example
 * ```ts
 * import { createSimulatedBench } from "fringebook";
 * import { expect } from "vitest";
 *
 * const bench = createSimulatedBench({ pace: 1000 });
 * bench.focus = 0; // the lens in its place
 * const stream = await bench.open();
 * const { value } = await stream.blocks().next();
 * await stream.close();
 * expect(value.samples.length).toBe(2);
 * ```
 */
export function createSimulatedBench(
  options: SimulatedBenchOptions = {},
): SimulatedBench {
  const task = "make a simulated bench";
  const { samplingRate, pace, seed, ...set } = readOptions(
    simulatedBenchSpec,
    options,
    task,
  );
  const knobs: BenchKnobs = { ...set, blocked: false };
  const bench = {
    name: "simulated bench",
    samplingRate,
    open: () => Promise.resolve(opened(knobs, { samplingRate, pace, seed })),
  };
  for (const name of Object.keys(knobs) as (keyof BenchKnobs)[]) {
    Object.defineProperty(bench, name, {
      enumerable: true,
      get: () => knobs[name],
      set: (value) => {
        const read = name === "blocked"
          ? optionOf.flag("").read(value, name, task)
          : (simulatedBenchSpec[name] as Option).read(value, name, task);
        (knobs as unknown as Record<string, unknown>)[name] = read;
      },
    });
  }
  return bench as unknown as SimulatedBench;
}

function opened(
  knobs: Readonly<BenchKnobs>,
  { samplingRate, pace, seed }: {
    readonly samplingRate: number;
    readonly pace: number;
    readonly seed: number;
  },
) {
  const signal = new SimulatedSignal(samplingRate, seed);
  let isOpen = true;
  async function* blocks(): AsyncGenerator<LiveBlock> {
    const rate = samplingRate * pace;
    const now = () => performance.now() / 1000;
    const most = Math.ceil(samplingRate * Math.max(blockTime, 0.1));
    let next = now();
    while (isOpen) {
      await new Promise((resolve) =>
        setTimeout(resolve, Math.max(0, 1000 * (next - now())))
      );
      if (!isOpen) return;
      next = Math.max(next, now() - mostBehind);
      const count = Math.max(1, Math.min(most, Math.round(rate * blockTime)));
      next += count / rate;
      yield {
        samples: signal.next(count, knobs),
        joined: true,
        lost: 0,
        garbage: 0,
      };
    }
  }
  return {
    samplingRate,
    paced: pace === 1,
    channels: [
      {
        name: "monitor",
        role: "monitor signal" as const,
        unit: "V",
        fullScale: { low: converter.low, high: converter.high },
      },
      {
        name: "drive",
        role: "drive current" as const,
        unit: "A",
        fullScale: null,
      },
    ],
    settings: { "live source": "simulated bench", origin: "simulated" },
    blocks,
    close: () => {
      isOpen = false;
    },
  };
}
