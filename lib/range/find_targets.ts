import { type Capture, requireChannel } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import { chiSquareQuantile } from "../fit/mod.ts";
import { orderOf } from "../order/mod.ts";
import {
  handedOption,
  type Option,
  optional,
  pickOptions,
  readOptions,
  requireCapture,
} from "../options/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import {
  createResult,
  inDigits,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import type { MeasureDistanceOptions } from "./distance.ts";
import { driveInputs } from "./drive.ts";
import {
  type FindRampsOptions,
  type Ramps,
  rampsOf,
  rampSpec,
} from "./ramps.ts";
import { fitTargets, type TargetFit, type TargetStroke } from "./target_fit.ts";
import { distanceOfSteps } from "./target_distance.ts";

/** Options of {@linkcode findTargets}. */
export interface FindTargetsOptions extends FindRampsOptions {
  /**
   * The calibration, or a tuning coefficient with its wavelength, for distances;
   * without it the steps alone are found.
   *
   * @default {null}
   */
  tuning?: MeasureDistanceOptions["tuning"] | null;
}

export const findTargetsSpec = {
  ...rampSpec,
  tuning: optional(
    handedOption<NonNullable<FindTargetsOptions["tuning"]>>(
      "Tuning of the diode, for distances; without it the steps are found.",
      'the result of calibrateTuning(…), or { tuning: "8.3pm/mA", wavelength: "650nm" }',
      (value) =>
        typeof value === "object" && value !== null && "tuning" in value &&
        "wavelength" in value,
    ),
    null,
  ),
} satisfies Record<keyof FindTargetsOptions, Option>;

/** One target on a ramp. */
export interface RampTarget {
  /** Steps per ramp (1). */
  readonly steps: Quantity;
  /** Steps per current, in 1/A. */
  readonly stepsPerCurrent: Quantity;
  /** Height of its fringes over that of the strongest target (1). */
  readonly strength: number;
  /** Distance, in m; `null` without a tuning. */
  readonly distance: Quantity | null;
}

/** The targets on a ramp. */
export interface RampTargets extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "range.targets";
  /** What was found. */
  readonly verdict:
    | "one target"
    | "two targets"
    | "target or harmonic"
    | "not resolved";
  /** The same in words, and what to do. */
  readonly finding: string;
  /** The targets, the nearest first. */
  readonly targets: readonly RampTarget[];
  /** Least difference of steps at which two targets can be told apart (1). */
  readonly resolution: number;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Steps per ramp of the spectrum (1). */
    readonly rates: Float64Array;
    /** Height of the fringes at these, over the highest (1). */
    readonly heights: Float64Array;
    /** What is left of it after the strongest target is taken off (1). */
    readonly left: Float64Array;
    /** Height above which noise comes once in 10 000 spectra (1). */
    readonly noiseLimit: number;
    /** Second harmonic over fundamental of each target (1). */
    readonly harmonics: readonly number[];
    /** Span of the ramp, in A. */
    readonly currentSpan: number;
    /** Strokes used (1). */
    readonly strokes: number;
  };
}

const task = "find targets";
/** Samples of a stroke that are kept. */
const mostSamples = 1024;
/** Strokes that are used. */
const mostStrokes = 8;
/** Below this the course of the power looks like a fringe (1). */
const fewestSteps = 2;
/** Width of the spectrum's lines: two bins of a Hann window (1). */
const resolution = 2;
/** Least part of the strongest that counts as a target (1). */
const leastStrength = 0.03;

/**
 * Finds the targets on a current ramp: a glass plate and the card behind it, say,
 * make fringes of two rates on the same stroke. The rates are looked for in the
 * spectrum of the signal against the current and fitted together, with the bend
 * of the tuning, the harmonics of each and their sums and differences, which
 * feedback makes: s_k steps per ramp, L_k by the tuning. What cannot be told from
 * something else is named: rates closer than two steps, a second rate that is a
 * whole multiple of the first.
 *
 * @param capture The capture of a ramp.
 * @param options Tuning, conversion of the drive.
 * @returns One target or two, with steps and, by a tuning, distances.
 * @throws {NotMeasurableError} If there is no ramp, or no fringes on it.
 *
 * Source: Gouaux, Servagent & Bosch 1998 (from memory); variable projection,
 * Golub and Pereyra 1973 (from memory).
 *
 * @example
 * ```ts
 * import { rampCurrent, simulateCapture } from "fringebook";
 * import { findTargets } from "fringebook/range";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: 0.3,
 *   current: rampCurrent({ low: 0.036, high: 0.044, frequency: 10 }),
 *   samplingRate: 20e3,
 *   duration: 0.4,
 *   feedbackParameter: 0.2,
 *   noise: { signalToNoiseRatio: 30 },
 * });
 * const { verdict, targets } = findTargets(capture, {
 *   tuning: { tuning: 8e-9, wavelength: 650e-9 },
 * });
 * expect(verdict).toBe("one target");
 * expect(targets[0]!.distance?.value).toBeCloseTo(0.3, 2);
 * ```
 */
export function findTargets(
  capture: Capture,
  options: FindTargetsOptions = {},
): RampTargets & Shown {
  requireCapture(capture, task);
  const { tuning } = readOptions(findTargetsSpec, options, task);
  const settings = readOptions(rampSpec, pickOptions(rampSpec, options), task);
  const ramps = rampsOf(capture, settings);
  const strokes = thinStrokes(capture, ramps);
  const samples = strokes[0]!.place.length;
  const rates = Float64Array.from(
    { length: 4 * Math.min(200, Math.floor(samples / 5)) },
    (_, k) => k / 4,
  );
  const flat = fitTargets(
    strokes,
    { steps: [], bend: [0, 0], growth: 0 },
    true,
  );
  const power = spectrumOf(strokes, flat.residuals, rates);
  const first = peakOf(power, rates, () => true);
  const noiseFactor = thresholdFactor(strokes.length);
  if (first === null || power[first]! < noiseFactor * floorOf(power)) {
    throw new NotMeasurableError(
      "no fringes",
      "Cannot find targets as no rate of fringes stands out on the ramps: focus on a target, or ramp further",
    );
  }
  const one = fitTargets(strokes, {
    steps: [rates[first]!],
    bend: [0, 0],
    growth: 0,
  });
  const left = spectrumOf(strokes, one.residuals, rates);
  const limit = noiseFactor * floorOf(left);
  const found = decide({ strokes, rates, power, left, limit, one });
  const span = ramps.highCurrent.value - ramps.lowCurrent.value;
  const steps = stepsOf(strokes, found.fit);
  const strongest = Math.max(...found.fit.amplitudes);
  const targets = steps.map((each, k): RampTarget => {
    const perCurrent = quantity(
      each.value / span,
      each.standardUncertainty / span,
      "1/A",
      { degreesOfFreedom: each.degreesOfFreedom },
    );
    return {
      steps: each,
      stepsPerCurrent: perCurrent,
      strength: found.fit.amplitudes[k]! / strongest,
      distance: tuning === null ? null : distanceOfSteps(perCurrent, tuning),
    };
  }).sort((a, b) => a.steps.value - b.steps.value);
  const height = Math.sqrt(power[first]!);
  const inHeight = (values: Float64Array) =>
    values.map((value) => Math.sqrt(value) / height);
  return createResult<RampTargets>({
    kind: "range.targets",
    verdict: found.verdict,
    finding: found.finding,
    targets,
    resolution,
    warnings: [
      ...ramps.warnings,
      ...(found.verdict === "one target" || found.verdict === "two targets"
        ? []
        : [warn(found.verdict.replaceAll(" ", "-"), found.finding)]),
      ...harmonicNote(found),
    ],
    provenance: provenance({
      method: "findTargets",
      captures: [capture.source],
      options: { ...settings, tuning: tuning === null ? null : "given" },
      inputs: driveInputs(capture, settings),
      sources: [
        "Gouaux, Servagent & Bosch 1998 (from memory)",
        "Golub and Pereyra 1973 (from memory)",
      ],
    }),
    diagnostics: {
      rates,
      heights: inHeight(power),
      left: inHeight(left),
      noiseLimit: Math.sqrt(limit) / height,
      harmonics: found.fit.harmonics,
      currentSpan: span,
      strokes: strokes.length,
    },
  });
}

interface Found {
  readonly verdict: RampTargets["verdict"];
  readonly finding: string;
  readonly fit: TargetFit;
}

function decide({ strokes, rates, power, left, limit, one }: {
  strokes: readonly TargetStroke[];
  rates: Float64Array;
  power: Float64Array;
  left: Float64Array;
  limit: number;
  one: TargetFit;
}): Found {
  const [rate] = one.steps as [number];
  const own = Math.max(...power);
  const second = peakOf(left, rates, () => true);
  const stands = second !== null && left[second]! > limit &&
    left[second]! > leastStrength ** 2 * own;
  const steps = inDigits(rate, 4);
  if (!stands) {
    return {
      verdict: "one target",
      finding:
        `One target makes ${steps} steps per ramp, and nothing else stands out`,
      fit: one,
    };
  }
  const other = rates[second]!;
  if (Math.abs(other - rate) < resolution) {
    return {
      verdict: "not resolved",
      finding:
        `The line at ${steps} steps per ramp is wider than that of one target: a second one stands within ${resolution} steps of it, or the target moves. Ramp further to part them, or block one`,
      fit: one,
    };
  }
  const fit = fitTargets(strokes, {
    steps: [rate, other],
    bend: one.bend,
    growth: one.growth,
  });
  const [a, b] = [Math.min(...fit.steps), Math.max(...fit.steps)];
  if (b - a < resolution) {
    return {
      verdict: "not resolved",
      finding:
        `Two rates fit, and they lie within ${resolution} steps of each other near ${steps} steps per ramp: ramp further to part them, or block one`,
      fit: one,
    };
  }
  const times = Math.round(b / a);
  const weaker = fit.amplitudes[fit.steps.indexOf(b)]! <
    0.5 * fit.amplitudes[fit.steps.indexOf(a)]!;
  const words = `${inDigits(a, 4)} and ${inDigits(b, 4)} steps per ramp`;
  return times >= 2 && Math.abs(b - times * a) < 0.25 && weaker
    ? {
      verdict: "target or harmonic",
      finding:
        `There are fringes of ${words}: the second rate is ${times} times the first, as of a harmonic of saw-teeth, or of light that goes to the target ${times} times. Weaken the feedback with a filter: a harmonic gets weaker faster than the fringes, a target does not`,
      // What may be no target is no distance.
      fit: a === rate || Math.abs(a - rate) < 0.25 ? one : fit,
    }
    : {
      verdict: "two targets",
      finding: `Two targets make ${words}`,
      fit,
    };
}

/** Saw-teeth hide a target at twice the distance. */
function harmonicNote({ verdict, fit }: Found): Warning[] {
  const [harmonic = 0] = fit.harmonics;
  return verdict !== "two targets" && harmonic > 0.2
    ? [warn(
      "saw-teeth",
      `The fringes lean (their second harmonic is ${
        inDigits(100 * harmonic, 2)
      } % of them): a weak target at twice the distance would not show beside it`,
      "note",
    )]
    : [];
}

/** Strokes against the current, averaged to what is needed. */
function thinStrokes(capture: Capture, ramps: Ramps): TargetStroke[] {
  const { samples } = requireChannel(capture, "monitor signal");
  const low = ramps.lowCurrent.value;
  const high = ramps.highCurrent.value;
  const all = ramps.diagnostics.strokes;
  const stride = Math.max(1, Math.ceil(all.length / mostStrokes));
  // Rising and falling strokes alternate: pairs are kept.
  const used = all.filter((_, k) =>
    Math.floor(k / 2) % stride === 0 || stride === 1
  ).slice(0, mostStrokes);
  return used.map(({ start, end, current, direction }) => {
    const length = end - start;
    const block = Math.ceil(length / mostSamples);
    const count = Math.floor(length / block);
    const place = new Float64Array(count);
    const signal = new Float64Array(count);
    for (let k = 0; k < count; k++) {
      for (let i = k * block; i < (k + 1) * block; i++) {
        place[k]! += current[i]! / block;
        signal[k]! += samples[start + i]! / block;
      }
      place[k] = (place[k]! - (low + high) / 2) / (high - low);
      if (signal[k]! - signal[k]! !== 0) {
        throw new NotMeasurableError(
          "missing samples",
          `Cannot ${task} as samples of the monitor signal are missing: cut out a whole part`,
        );
      }
    }
    return { place, signal, rises: direction === "up" };
  });
}

/** Mean power over the strokes of what is left of them, by rate. */
function spectrumOf(
  strokes: readonly TargetStroke[],
  residuals: readonly Float64Array[],
  rates: Float64Array,
): Float64Array {
  const power = new Float64Array(rates.length);
  strokes.forEach(({ place }, k) => {
    const values = residuals[k]!;
    const low = Math.min(place[0]!, place.at(-1)!);
    const high = Math.max(place[0]!, place.at(-1)!);
    const window = place.map((x) =>
      0.5 - 0.5 * Math.cos(2 * Math.PI * (x - low) / (high - low))
    );
    const total = window.reduce((sum, value) => sum + value, 0);
    // From one rate to the next each phase turns on by the same: no sine is taken.
    const turn = 2 * Math.PI * (rates[1]! - rates[0]!);
    const [stepReal, stepImaginary] = [
      place.map((x) => Math.cos(turn * x)),
      place.map((x) => Math.sin(turn * x)),
    ];
    const real = place.map((_, i) => window[i]! * values[i]!);
    const imaginary = new Float64Array(place.length);
    for (let j = 0; j < rates.length; j++) {
      if ((j & 63) === 0) {
        checkpoint((k + j / rates.length) / strokes.length, task);
      }
      let [re, im] = [0, 0];
      for (let i = 0; i < place.length; i++) {
        const [a, b] = [real[i]!, imaginary[i]!];
        re += a;
        im += b;
        real[i] = a * stepReal[i]! - b * stepImaginary[i]!;
        imaginary[i] = a * stepImaginary[i]! + b * stepReal[i]!;
      }
      power[j]! += (2 / total) ** 2 * (re ** 2 + im ** 2) / strokes.length;
    }
  });
  return power;
}

/** Place of the highest peak above the rates of the power's course. */
function peakOf(
  power: Float64Array,
  rates: Float64Array,
  counts: (rate: number) => boolean,
): number | null {
  let best: number | null = null;
  for (let k = 1; k < power.length - 1; k++) {
    if (rates[k]! < fewestSteps || !counts(rates[k]!)) continue;
    if (power[k]! < power[k - 1]! || power[k]! < power[k + 1]!) continue;
    if (best === null || power[k]! > power[best]!) best = k;
  }
  return best;
}

/** The middle power of the spectrum: that of the noise, as lines are few. */
function floorOf(power: Float64Array): number {
  return power[orderOf(power)[power.length >> 1]!]!;
}

/** Height of a peak that noise reaches once in 10 000 spectra, over the middle. */
function thresholdFactor(strokes: number): number {
  const freedom = 2 * strokes;
  return chiSquareQuantile(1 - 1e-6, freedom) / chiSquareQuantile(0.5, freedom);
}

/** Steps of each target from fits of the single strokes: mean and scatter. */
function stepsOf(
  strokes: readonly TargetStroke[],
  fit: TargetFit,
): Quantity[] {
  const each = strokes.map((stroke) => fitTargets([stroke], fit, true).steps);
  const count = strokes.length;
  return fit.steps.map((value, k) => {
    const mean = each.reduce((sum, steps) => sum + steps[k]!, 0) / count;
    const squares = each.reduce(
      (sum, steps) => sum + (steps[k]! - mean) ** 2,
      0,
    );
    const scatter = count > 1 ? Math.sqrt(squares / (count - 1) / count) : NaN;
    return quantity(
      value,
      Math.hypot(scatter, formUncertainty(fit, k)),
      "1",
      { degreesOfFreedom: Math.max(1, count - 1) },
    );
  });
}

/**
 * What the forms of the fringes that the model lacks may do: in units of steps a
 * fiftieth of their second harmonic, and of the other target's.
 */
function formUncertainty({ harmonics, amplitudes }: TargetFit, k: number) {
  const others = harmonics.map((harmonic, j) =>
    harmonic * amplitudes[j]! / amplitudes[k]!
  );
  return 0.02 * Math.hypot(...others);
}
