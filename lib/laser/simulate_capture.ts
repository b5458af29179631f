import { type Capture, createCapture } from "../capture/mod.ts";
import { createResult, type Shown } from "../result/mod.ts";
import { createRandom } from "../signal/mod.ts";
import {
  defaultDiode,
  type DiodeModel,
  modelPower,
  modelWavelengths,
} from "./diode_model.ts";
import { digitise, type DigitiserModel } from "./digitiser_model.ts";
import { feedbackPhase } from "./feedback_phase.ts";
import {
  applyFrontEnd,
  defaultFrontEnd,
  type FrontEndModel,
} from "./front_end_model.ts";
import {
  addFlickerNoise,
  addHum,
  addShotNoise,
  addWhiteNoise,
  defaultNoise,
  type NoiseModel,
} from "./noise_model.ts";
import { speckleField, type SpeckleModel } from "./speckle.ts";

/** A course over time: constant, a function of time in s, or samples. */
export type Course = number | ((time: number) => number) | Float64Array;

/** The recorded drive channel of a simulated capture. */
export interface DriveChannelModel {
  /** What is recorded. @default {"drive current"} */
  role: "drive current" | "drive voltage";
  /**
   * For a drive voltage: current per voltage, in A/V (the sense resistor's
   * 1/R, or the driver's modulation input).
   *
   * @default {1}
   */
  conversion: number;
  /** White noise of the channel, in its unit (rms). @default {0} */
  noise: number;
  /** Its converter; `null` for none. @default {null} */
  digitiser: DigitiserModel | null;
}

/** Options of {@linkcode simulateCapture}. */
export interface SimulateCaptureOptions {
  /**
   * One-way distance from diode to target, in m: constant, a function of time
   * in s, or one value per sample.
   */
  distance: Course;
  /** Samples per second of the capture, in Hz. */
  samplingRate: number;
  /**
   * Length of the capture, in s; taken from the samples of `distance` or
   * `current` where these are arrays.
   *
   * @default {the samples given}
   */
  duration?: number;
  /**
   * Drive current, in A, in the same forms.
   *
   * @default {0.04}
   */
  current?: Course;
  /** Feedback parameter C (1). @default {0.5} */
  feedbackParameter?: number;
  /**
   * Distance at which `feedbackParameter` holds, in m; C is proportional to the
   * distance then. `null` for the same C everywhere.
   *
   * @default {null}
   */
  feedbackDistance?: number | null;
  /** Modulation index m of the power, P = P0 (1 + m cos φF). @default {0.01} */
  modulationIndex?: number;
  /** Phase index of air (1). @default {1} */
  refractiveIndex?: number;
  /** The diode, where it differs from the invented red one. @default {{}} */
  diode?: Partial<DiodeModel>;
  /** Fading of the returning light; `null` for a mirror. @default {null} */
  speckle?: SpeckleModel | null;
  /** The amplifier. @default {{}} */
  frontEnd?: Partial<FrontEndModel>;
  /** The noise. @default {{}} */
  noise?: Partial<NoiseModel>;
  /** The monitor channel's converter; `null` for none. @default {null} */
  digitiser?: DigitiserModel | null;
  /** The drive channel; `null` to record none. @default {{}} */
  drive?: Partial<DriveChannelModel> | null;
  /**
   * Steps computed per sample (1): the analogue side runs so much faster than
   * the converter.
   *
   * @default {1}
   */
  oversampling?: number;
  /** Seed of all that is random. @default {1} */
  seed?: number;
}

/** What the simulator knows and the capture does not say. */
export interface SimulationTruth {
  /** Distance of each sample, in m. */
  readonly distance: Float64Array;
  /** Drive current of each sample, in A. */
  readonly current: Float64Array;
  /** Vacuum wavelength without feedback of each sample, in m. */
  readonly wavelength: Float64Array;
  /** φ0 = 4πnL/λ of each sample, with the speckle's phase, in rad. */
  readonly phase: Float64Array;
  /** φF of each sample, in rad. */
  readonly feedbackPhase: Float64Array;
  /** C of each sample (1). */
  readonly feedbackParameter: Float64Array;
  /** Samples that come after a jump of φF. */
  readonly jumpIndices: Int32Array;
  /** Branches jumped there (1): positive where φ0 rises. */
  readonly jumpBranches: Int32Array;
  /** White noise of the monitor channel, in V (rms). */
  readonly noise: number;
}

/** A capture made by {@linkcode simulateCapture}. */
export interface SimulatedCapture extends Capture {
  /** What the simulator knows. */
  readonly truth: SimulationTruth;
}

/**
 * Makes the capture that a scope would have taken of a diode in front of a
 * target: distance and current → wavelength → φ0 → excess-phase equation → power
 * P0 (1 + m cos φF) → monitor current → amplifier → noise → converter.
 *
 * A receding target raises φ0. Channels: "monitor" (V) and "drive" (A or V).
 *
 * @param options Motion, current, diode, feedback, amplifier, noise, converter.
 * Without options there is no noise and no converter.
 * @returns The capture, with the truth beside it.
 * @throws {RangeError} If a value is outside of what the model knows.
 *
 * Source: Lang, Kobayashi 1980; Kliese et al. 2014 (synthesis at any C).
 *
 * @example A target that recedes by two wavelengths makes four fringes
 * ```ts
 * import { simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 1.3e-6 * time,
 *   samplingRate: 1000,
 *   duration: 1,
 *   feedbackParameter: 2,
 * });
 * expect(capture.sampleCount).toBe(1000);
 * const { phase } = capture.truth;
 * expect((phase[999]! - phase[0]!) / (2 * Math.PI)).toBeCloseTo(4, 1);
 * ```
 */
export function simulateCapture(
  options: SimulateCaptureOptions,
): SimulatedCapture & Shown {
  const {
    samplingRate,
    feedbackParameter = 0.5,
    feedbackDistance = null,
    modulationIndex = 0.01,
    refractiveIndex = 1,
    speckle = null,
    digitiser = null,
    oversampling = 1,
    seed = 1,
  } = options;
  const diode = { ...defaultDiode, ...options.diode };
  const frontEnd = { ...defaultFrontEnd, ...options.frontEnd };
  const noise = { ...defaultNoise, ...options.noise };
  const sampleCount = countSamples(options);
  if (!(Number.isInteger(oversampling) && oversampling >= 1)) {
    throw new RangeError(
      `Cannot simulate a capture as 'oversampling' must be a whole number above 0: current value is ${oversampling}`,
    );
  }
  const random = createRandom(seed);
  const rate = samplingRate * oversampling;
  const count = sampleCount * oversampling;
  const distance = evaluate(options.distance, count, rate, oversampling);
  const current = evaluate(options.current ?? 0.04, count, rate, oversampling);
  requireFinite("distance", distance, rate);
  requireFinite("current", current, rate);
  const wavelength = modelWavelengths(diode, current, rate);

  const phase = new Float64Array(count);
  const parameter = new Float64Array(count).fill(feedbackParameter);
  const visibility = new Float64Array(count).fill(modulationIndex);
  for (let i = 0; i < count; i++) {
    phase[i] = 4 * Math.PI * refractiveIndex * distance[i]! / wavelength[i]!;
    if (feedbackDistance !== null) {
      parameter[i]! *= distance[i]! / feedbackDistance;
    }
  }
  if (speckle !== null) {
    const { contrast, correlationLength, coordinate = "distance" } = speckle;
    const place = coordinate === "distance"
      ? distance
      : evaluate(coordinate, count, rate, oversampling);
    const field = speckleField(place, contrast, correlationLength, random);
    for (let i = 0; i < count; i++) {
      phase[i]! += field.phase[i]!;
      parameter[i]! *= field.amplitude[i]!;
      visibility[i]! *= field.amplitude[i]!;
    }
  }
  const solved = feedbackPhase(phase, {
    feedbackParameter: feedbackDistance === null && speckle === null
      ? feedbackParameter
      : parameter,
    linewidthEnhancementFactor: diode.linewidthEnhancementFactor,
  });

  const signal = new Float64Array(count);
  let meanCurrent = 0;
  for (let i = 0; i < count; i++) {
    const still = diode.monitorResponsivity * modelPower(diode, current[i]!);
    const lasing = current[i]! > diode.thresholdCurrent ? visibility[i]! : 0;
    signal[i] = still * (1 + lasing * Math.cos(solved.phase[i]!));
    meanCurrent += still / count;
  }
  if (noise.shot) addShotNoise(signal, rate, random);
  applyFrontEnd(signal, rate, frontEnd);
  const monitor = decimate(signal, oversampling);
  const fringe = meanCurrent * modulationIndex * frontEnd.transimpedance *
    frontEnd.voltageGain / Math.SQRT2;
  const white = Math.hypot(
    noise.white,
    noise.signalToNoiseRatio === null
      ? 0
      : fringe / 10 ** (noise.signalToNoiseRatio / 20),
  );
  addWhiteNoise(monitor, white, random);
  addFlickerNoise(monitor, samplingRate, noise.flicker, random);
  if (noise.hum !== null) addHum(monitor, samplingRate, noise.hum, random);
  if (digitiser !== null) digitise(monitor, digitiser);

  const channels = [{
    name: "monitor",
    role: "monitor signal" as const,
    unit: "V",
    samples: monitor,
    fullScale: fullScale(digitiser),
  }];
  const sampledCurrent = decimate(current, oversampling);
  const capture = createCapture(
    [
      ...channels,
      ...driveChannel(
        options.drive,
        sampledCurrent,
        (samples, rms) => addWhiteNoise(samples, rms, random),
      ),
    ],
    { samplingRate, metadata: { origin: "simulated" } },
  );
  return createResult<SimulatedCapture>({
    ...capture,
    truth: {
      distance: decimate(distance, oversampling),
      current: sampledCurrent,
      wavelength: decimate(wavelength, oversampling),
      phase: decimate(phase, oversampling),
      feedbackPhase: decimate(solved.phase, oversampling),
      feedbackParameter: decimate(parameter, oversampling),
      jumpIndices: solved.jumpIndices.map((i) => Math.ceil(i / oversampling)),
      jumpBranches: solved.jumpBranches,
      noise: white,
    },
  });
}

function countSamples(options: SimulateCaptureOptions): number {
  const { distance, current, samplingRate, duration } = options;
  if (!(samplingRate > 0 && Number.isFinite(samplingRate))) {
    throw new RangeError(
      `Cannot simulate a capture as 'samplingRate' must be a positive number of Hz: current value is ${samplingRate}`,
    );
  }
  const lengths = [distance, current]
    .filter((course) => course instanceof Float64Array)
    .map(({ length }) => length);
  if (duration !== undefined) lengths.push(Math.round(duration * samplingRate));
  const [sampleCount] = lengths;
  if (sampleCount === undefined) {
    throw new RangeError(
      "Cannot simulate a capture as neither 'duration' nor samples of 'distance' or 'current' say how long it is",
    );
  }
  if (!(sampleCount >= 1 && lengths.every((n) => n === sampleCount))) {
    throw new RangeError(
      `Cannot simulate a capture as it must have at least one sample and all courses the same length: current lengths are ${
        lengths.join(", ")
      }`,
    );
  }
  return sampleCount;
}

function evaluate(
  course: Course,
  count: number,
  rate: number,
  oversampling: number,
): Float64Array {
  const values = new Float64Array(count);
  if (typeof course === "number") return values.fill(course);
  for (let i = 0; i < count; i++) {
    if (typeof course === "function") {
      values[i] = course(i / rate);
    } else {
      const place = i / oversampling;
      const first = Math.floor(place);
      const next = Math.min(first + 1, course.length - 1);
      const part = place - first;
      values[i] = course[first]! * (1 - part) + course[next]! * part;
    }
  }
  return values;
}

function requireFinite(name: string, values: Float64Array, rate: number) {
  const bad = values.findIndex((value) => !Number.isFinite(value));
  if (bad >= 0) {
    throw new RangeError(
      `Cannot simulate a capture as '${name}' must be a finite number at all times: at ${
        bad / rate
      } s it is ${values[bad]}`,
    );
  }
}

function decimate(samples: Float64Array, factor: number): Float64Array {
  if (factor === 1) return samples;
  const result = new Float64Array(samples.length / factor);
  for (let i = 0; i < result.length; i++) result[i] = samples[i * factor]!;
  return result;
}

function fullScale(model: DigitiserModel | null) {
  return model === null ? null : { low: model.low, high: model.high };
}

function driveChannel(
  drive: Partial<DriveChannelModel> | null | undefined,
  current: Float64Array,
  addNoise: (samples: Float64Array, rms: number) => void,
) {
  if (drive === null) return [];
  const {
    role = "drive current",
    conversion = 1,
    noise = 0,
    digitiser = null,
  } = drive ?? {};
  const samples = current.map((value) =>
    role === "drive voltage" ? value / conversion : value
  );
  addNoise(samples, noise);
  if (digitiser !== null) digitise(samples, digitiser);
  return [{
    name: "drive",
    role,
    unit: role === "drive voltage" ? "V" : "A",
    samples,
    fullScale: fullScale(digitiser),
  }];
}
