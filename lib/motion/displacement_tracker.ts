import { NotMeasurableError } from "../errors/mod.ts";
import {
  benchOptions,
  choiceOption,
  type Option,
  optional,
  optionOf,
  readOptions,
} from "../options/mod.ts";
import type { Quantity } from "../result/mod.ts";
import { feedbackQuantities } from "./feedback_quantities.ts";
import { PhaseStream } from "./phase_stream.ts";
import { trainOn } from "./training.ts";

/** Options of {@linkcode createDisplacementTracker}. */
export interface DisplacementTrackerOptions {
  /** Vacuum wavelength of the diode, in m. */
  wavelength: number | string;
  /**
   * Phase index of the air (1).
   *
   * @default {1.00027, the air of a room}
   */
  refractiveIndex?: number | string;
  /**
   * Sign of the amplifier: -1 where more light gives less signal.
   *
   * @default {1}
   */
  polarity?: 1 | -1;
  /**
   * Samples from which feedback, levels and knots are learned before the first
   * block comes out (1).
   *
   * @default {65536}
   */
  trainingSamples?: number;
  /**
   * Corner of a coupling capacitor in front of the recorder, in Hz: its
   * first-order high-pass is undone; needs `samplingRate`. `null` for a signal
   * that is coupled with DC.
   *
   * @default {null}
   */
  couplingCorner?: number | string | null;
  /**
   * Samples per second, in Hz; only used with `couplingCorner`.
   *
   * @default {null}
   */
  samplingRate?: number | string | null;
}

export const displacementTrackerSpec = {
  wavelength: benchOptions.wavelength,
  refractiveIndex: benchOptions.refractiveIndex,
  polarity: optional(
    choiceOption(
      "Sign of the amplifier: -1 where more light gives less signal.",
      [1, -1],
    ),
    1,
  ),
  trainingSamples: optional(
    optionOf.whole(
      "Samples from which feedback, levels and knots are learned (1).",
      { least: 256 },
    ),
    1 << 16,
  ),
  couplingCorner: benchOptions.couplingCorner,
  samplingRate: optional(benchOptions.samplingRate, null, "none needed"),
} satisfies Record<keyof DisplacementTrackerOptions, Option>;

/** Displacement of consecutive samples of a stream. */
export interface DisplacementBlock {
  /** Index of the first sample in the stream. */
  readonly first: number;
  /** Displacement against the first sample of the stream, in m. */
  readonly displacement: Float64Array;
  /** Standard uncertainty of each sample, in m. */
  readonly standardUncertainty: Float32Array;
  /** Places in the block where the fit leaves more than the noise. */
  readonly misfits: number;
  /** Whether the block follows on from the one before without doubt. */
  readonly joined: boolean;
}

/** A displacement measured while the samples come in. */
export interface DisplacementTracker {
  /** Takes samples in; gives out the blocks that became ready. */
  push(samples: ArrayLike<number>): DisplacementBlock[];
  /** Gives out the rest. */
  finish(): DisplacementBlock[];
  /** C and α once they are learned, else `null`. */
  readonly feedback: {
    /** Feedback parameter C (1). */
    readonly feedbackParameter: Quantity;
    /** Linewidth enhancement factor α (1). */
    readonly linewidthEnhancementFactor: Quantity;
    /** Whether the sense of motion follows from the fringes. */
    readonly directionDetermined: boolean;
  } | null;
}

/**
 * Measures displacement from a stream of any length in bounded memory: some
 * 10 MB, whatever the length. Feedback, levels and knots come from the first
 * samples; slow drifts of the levels are followed.
 *
 * @param options Wavelength in m, polarity, samples to learn from.
 * @returns The stream.
 * @throws {RangeError} If an option is out of range.
 *
 * @example
 * ```ts
 * import { createDisplacementTracker, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 2e-6 * Math.sin(300 * time),
 *   samplingRate: 100e3,
 *   duration: 0.2,
 *   drive: null,
 * });
 * const stream = createDisplacementTracker({
 *   wavelength: 650e-9,
 *   trainingSamples: 8192,
 * });
 * const samples = capture.channels[0]!.samples;
 * const blocks = [...stream.push(samples), ...stream.finish()];
 * const count = blocks.reduce((sum, { displacement }) =>
 *   sum + displacement.length, 0);
 * expect(count).toBe(20000);
 * ```
 */
export function createDisplacementTracker(
  options: DisplacementTrackerOptions,
): DisplacementTracker {
  const {
    wavelength,
    refractiveIndex,
    polarity,
    trainingSamples,
    couplingCorner,
    samplingRate,
  } = readOptions(displacementTrackerSpec, options, "stream a displacement");
  const uncouple = couplingCorner === null
    ? null
    : couplingUndone(couplingCorner, samplingRate);
  const scale = polarity * wavelength / refractiveIndex / (4 * Math.PI);
  const waiting = new Float64Array(trainingSamples);
  let count = 0;
  let stream: PhaseStream | null = null;
  let feedback: DisplacementTracker["feedback"] = null;
  let ready: DisplacementBlock[] = [];
  let origin = NaN;
  const learn = () => {
    const part = waiting.subarray(0, count);
    const training = trainOn(part);
    if (training === null) {
      throw new NotMeasurableError(
        "no fringes",
        `Cannot stream a displacement as the first ${count} samples have no fringes: start while the target moves, or raise 'trainingSamples'`,
      );
    }
    feedback = feedbackQuantities(training.fit);
    stream = new PhaseStream(training, (block) => {
      if (Number.isNaN(origin)) origin = block.phase[0]!;
      ready.push({
        first: block.first,
        displacement: block.phase.map((value) => (value - origin) * scale),
        standardUncertainty: block.uncertainty.map((u) => u * Math.abs(scale)),
        misfits: block.misfits,
        joined: block.joined,
      });
    });
    stream.push(part);
  };
  const taken = () => {
    const blocks = ready;
    ready = [];
    return blocks;
  };
  return {
    push(pushed) {
      const samples = uncouple === null ? pushed : uncouple(pushed);
      let from = 0;
      if (stream === null) {
        while (from < samples.length && count < trainingSamples) {
          waiting[count++] = samples[from++]!;
        }
        if (count === trainingSamples) learn();
      }
      stream?.push(samples, from);
      return taken();
    },
    finish() {
      if (stream === null && count > 0) learn();
      stream?.finish();
      return taken();
    },
    get feedback() {
      return feedback;
    },
  };
}

/** Undoes a coupling, block by block: V + 2π f_c ∫ V dt. */
function couplingUndone(
  corner: number,
  samplingRate: number | null,
): (samples: ArrayLike<number>) => Float64Array {
  if (samplingRate === null) {
    throw new RangeError(
      `Cannot stream a displacement as 'couplingCorner' needs 'samplingRate', a positive number of Hz: give it`,
    );
  }
  const step = Math.PI * corner / samplingRate;
  let charge = 0;
  let before = NaN;
  return (samples) =>
    Float64Array.from(samples, (value) => {
      if (!Number.isFinite(value)) return NaN;
      if (Number.isFinite(before)) charge += step * (before + value);
      before = value;
      return value + charge;
    });
}
