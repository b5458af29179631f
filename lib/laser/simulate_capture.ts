import { createCapture } from "../capture/mod.ts";
import { readOptions } from "../options/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { createResult, type Shown } from "../result/mod.ts";
import { createRandom } from "../signal/mod.ts";
import { countSamples, decimate, evaluate, requireFinite } from "./course.ts";
import { digitise, type DigitiserModel } from "./digitiser_model.ts";
import { defaultDiode, modelWavelengths, powerAt } from "./diode_model.ts";
import { feedbackPhase } from "./feedback_phase.ts";
import { applyFrontEnd, defaultFrontEnd } from "./front_end_model.ts";
import {
  addFlickerNoise,
  addHum,
  addShotNoise,
  addWhiteNoise,
  defaultNoise,
} from "./noise_model.ts";
import {
  type DriveChannelModel,
  type SimulateCaptureOptions,
  type SimulatedCapture,
  simulateSpec,
} from "./simulation.ts";
import { speckleField } from "./speckle.ts";

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
  const read = readOptions(simulateSpec, options, "simulate a capture");
  const {
    samplingRate,
    feedbackParameter,
    feedbackDistance,
    modulationIndex,
    refractiveIndex,
    speckle,
    digitiser,
    oversampling,
    seed,
  } = read;
  const diode = { ...defaultDiode, ...read.diode };
  const frontEnd = { ...defaultFrontEnd, ...read.frontEnd };
  const noise = { ...defaultNoise, ...read.noise };
  const sampleCount = countSamples(read);
  requireFigures(
    { modulationIndex, refractiveIndex },
    typeof seed === "object" ? {} : { seed },
    diode,
    frontEnd,
    noise,
  );
  const random = typeof seed === "object" ? seed : createRandom(seed);
  const rate = samplingRate * oversampling;
  const count = sampleCount * oversampling;
  const distance = evaluate(read.distance, count, rate, oversampling);
  const current = evaluate(read.current, count, rate, oversampling);
  requireFinite("distance", distance, rate);
  requireFinite("current", current, rate);
  const wavelength = modelWavelengths(diode, current, rate);

  const phase = new Float64Array(count);
  const parameter = new Float64Array(count);
  const visibility = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    if ((i & 0xffff) === 0) checkpoint(i / count, "phase of the light");
    phase[i] = 4 * Math.PI * refractiveIndex * distance[i]! / wavelength[i]!;
    parameter[i] = feedbackParameter;
    visibility[i] = modulationIndex;
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
      if ((i & 0x1ffff) === 0) checkpoint(i / count, "speckle");
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
    if ((i & 0xffff) === 0) checkpoint(i / count, "monitor current");
    const still = diode.monitorResponsivity * powerAt(diode, current[i]!);
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
        read.drive,
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

/** No figure of the model may be missing or negative, but for these. */
const signed = new Set(["tuning", "tuningCurvature", "offset"]);

function requireFigures(...models: object[]): void {
  for (const [name, value] of models.flatMap((each) => Object.entries(each))) {
    if (typeof value !== "number" && value !== undefined) continue;
    const fits = Number.isFinite(value) &&
      (value >= 0 || signed.has(name) || name === "signalToNoiseRatio");
    if (!fits) {
      throw new RangeError(
        `Cannot simulate a capture as '${name}' must be a number that is not negative: current value is ${value}`,
      );
    }
  }
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
