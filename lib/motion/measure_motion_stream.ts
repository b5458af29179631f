import {
  type BlockSource,
  requireChannel,
  runBlocks,
  type StreamRunOptions,
} from "../capture/mod.ts";
import type { FeedbackRegime } from "../laser/mod.ts";
import {
  benchOptions,
  inputsOf,
  type Option,
  optional,
  optionOf,
  pickOptions,
  readOptions,
  requireStream,
  streamRunOptions,
} from "../options/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import { motionSpec } from "./motion_options.ts";
import {
  meanGain,
  MotionStream,
  type MotionStreamFound,
  type MotionStreamState,
} from "./motion_stream.ts";

/** Options of {@linkcode measureMotionStream}. */
export interface MotionStreamOptions
  extends StreamRunOptions<MotionStreamState> {
  /** Vacuum wavelength of the diode, in m. */
  wavelength: number | string;
  /**
   * Standard uncertainty of the wavelength, in m.
   *
   * @default {0}
   */
  wavelengthStandardUncertainty?: number | string;
  /**
   * Phase index of the air (1).
   *
   * @default {1.00027, the air of a room}
   */
  refractiveIndex?: number | string;
  /**
   * Sign of the amplifier: -1 where more light gives less signal; "auto" takes
   * it from the form of the fringes where that tells it, else 1.
   *
   * @default {"auto"}
   */
  polarity?: 1 | -1 | "auto";
  /**
   * Samples from which feedback, levels and knots are learned (1).
   *
   * @default {65536}
   */
  trainingSamples?: number;
  /**
   * Values of the displacement per segment of its spectrum; there are eight
   * between two knots of the spline (1).
   *
   * @default {4096}
   */
  segmentLength?: number;
}

export const motionStreamSpec = {
  ...streamRunOptions,
  wavelength: benchOptions.wavelength,
  wavelengthStandardUncertainty: benchOptions.wavelengthStandardUncertainty,
  refractiveIndex: benchOptions.refractiveIndex,
  polarity: motionSpec.polarity,
  trainingSamples: optional(
    optionOf.whole(
      "Samples from which feedback, levels and knots are learned (1).",
      { least: 256 },
    ),
    1 << 16,
  ),
  segmentLength: optional(
    optionOf.whole(
      "Values of the displacement per segment of its spectrum (1).",
      { least: 256 },
    ),
    4096,
  ),
} satisfies Record<keyof MotionStreamOptions, Option>;

/** Motion of the target over a long capture. */
export interface LongMotion extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "motion.long-motion";
  /** Displacement of the last sample against the first, in m. */
  readonly netDisplacement: Quantity;
  /** Largest minus smallest displacement, in m. */
  readonly peakToPeak: Quantity;
  /** Way passed both ways together, in m. */
  readonly path: Quantity;
  /** Fringes passed both ways together, with the fraction (1). */
  readonly fringeCount: Quantity;
  /** Fringes receding minus approaching, with the fraction (1). */
  readonly netFringeCount: Quantity;
  /** Amplitude (peak) of the fundamental of a vibration, in m; `null` for none. */
  readonly amplitude: Quantity | null;
  /** Its frequency, in Hz; `null` for none. */
  readonly frequency: Quantity | null;
  /** Amplitudes of the harmonics, fundamental first, in m; empty for none. */
  readonly harmonics: readonly Quantity[];
  /** How often the target turned round. */
  readonly turningPoints: number;
  /** Root mean square of the samples' standard uncertainty, in m. */
  readonly rmsUncertainty: number;
  /** Whether the sense of motion follows from the form of the fringes. */
  readonly directionDetermined: boolean;
  /** Feedback parameter C, from the first samples (1). */
  readonly feedbackParameter: Quantity;
  /** Linewidth enhancement factor α, from the first samples (1). */
  readonly linewidthEnhancementFactor: Quantity;
  /** Feedback regime. */
  readonly regime: FeedbackRegime;
  /** Sign of the amplifier that was taken. */
  readonly polarity: 1 | -1;
  /** Samples per second, in Hz. */
  readonly samplingRate: number;
  /** Samples measured. */
  readonly sampleCount: number;
  /** Length of the capture, in s. */
  readonly duration: number;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Middle of each bin of the course, in s from the first sample. */
    readonly time: Float64Array;
    /** Mean displacement in the bin, in m. */
    readonly mean: Float64Array;
    /** Lowest displacement in the bin, in m. */
    readonly lowest: Float64Array;
    /** Highest displacement in the bin, in m. */
    readonly highest: Float64Array;
    /** Frequencies of the displacement's spectrum, in Hz; empty for none. */
    readonly spectrumFrequency: Float64Array;
    /** One-sided amplitude density of the displacement, in m/√Hz. */
    readonly spectrumDensity: Float64Array;
    /** Stretches fitted with a vibration. */
    readonly stretches: number;
    /** Places where the fit leaves more than the noise. */
    readonly doubtfulPlaces: number;
    /** Blocks that do not follow on from the one before. */
    readonly seams: number;
    /** Noise over the amplitude of the fringe (1). */
    readonly relativeNoise: number;
    /** Band that the displacement follows, in Hz. */
    readonly bandwidth: number;
  };
}

/**
 * Measures the motion of a target over a capture of any length, in bounded
 * memory (some 20 MB): fringes with their sense, displacement and its extremes,
 * its course in at most 2048 bins, its spectrum, and a vibration with harmonics
 * where there is one. Feedback and levels are learned from the first samples as
 * by {@linkcode createDisplacementTracker}; slow drifts of the levels are
 * followed. The signal is taken as it is: coupled with DC, without a ramp.
 *
 * A block that does not follow is read anew, which takes a second or more; where
 * that is in vain again and again, only one such block in 32. Fringes that the
 * excess-phase equation does not describe raise the warning "model-misfit".
 *
 * The vibration is fitted by least squares to the displacement in stretches of some
 * 64 periods. Its amplitude is that of their mean with its standard deviation, its
 * frequency follows from the advance of the phase from stretch to stretch. Unlike
 * {@linkcode measureVibration}, which fits the samples of the whole record together
 * with the form of the fringe, it keeps C, α and levels as the first samples have
 * them: what these leave open is part of the uncertainty, which is larger by that.
 * Where the record fits into memory, that function gives the better number.
 *
 * @param source The opened capture, or another source of blocks.
 * @param options Wavelength in m, polarity, and what to do on the way.
 * @returns Fringes, displacement, vibration, course and spectrum.
 * @throws {NotMeasurableError} If there is no monitor signal, or no fringe in the
 * first samples.
 * @throws {RangeError} If an option is out of range.
 *
 * @example
 * ```ts
 * import {
 *   measureMotionStream,
 *   simulateCapture,
 *   streamOfCapture,
 * } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 2e-6 * Math.sin(2 * Math.PI * 50 * time),
 *   samplingRate: 200e3,
 *   duration: 1,
 *   feedbackParameter: 0.7,
 *   noise: { signalToNoiseRatio: 30 },
 *   drive: null,
 * });
 * const { peakToPeak, frequency } = await measureMotionStream(
 *   streamOfCapture(capture),
 *   { wavelength: 650e-9 },
 * );
 * expect(Math.abs(peakToPeak.value - 4e-6)).toBeLessThan(5e-9);
 * expect(frequency!.value).toBeCloseTo(50, 2);
 * ```
 */
export async function measureMotionStream(
  source: BlockSource,
  options: MotionStreamOptions,
): Promise<LongMotion & Shown> {
  const task = "measure a motion";
  requireStream(source, task);
  const read = readOptions(motionStreamSpec, options, task);
  const {
    wavelength,
    wavelengthStandardUncertainty,
    refractiveIndex,
    polarity,
    trainingSamples,
    segmentLength,
    resume,
  } = read;
  const { samplingRate } = source;
  const stream = new MotionStream(
    { samplingRate, trainingSamples, segmentLength },
    resume?.gathered ?? null,
  );
  let origin: { fileName: string | null; sha256: string | null } = {
    fileName: null,
    sha256: null,
  };
  await runBlocks(source, {
    name: "measureMotionStream",
    push: (capture) => {
      origin = capture.source;
      stream.push(requireChannel(capture, "monitor signal").samples);
    },
    state: () => stream.state(),
  }, pickOptions(streamRunOptions, options));
  const found = stream.finish();
  const { feedback, sums, counter, course } = found;
  const sign = polarity !== "auto"
    ? polarity
    : Math.abs(feedback.polaritySignificance) > 4
    ? feedback.polarity
    : 1;
  const perRadian = wavelength / refractiveIndex / (4 * Math.PI);
  const scale = sign * perRadian;
  const relative = wavelengthStandardUncertainty / wavelength;
  const length = (radians: number, u: number) =>
    quantity(
      radians * perRadian,
      perRadian * Math.hypot(u, radians * relative),
      "m",
    );
  const rms = Math.sqrt(sums.squares / sums.count);
  // Half a fringe for each place where the phase may be misread.
  const doubt = Math.PI * Math.sqrt(sums.doubts + sums.seams);
  const ends = Math.hypot(sums.firstUncertainty, sums.lastUncertainty, doubt);
  const way = Math.hypot(rms * Math.sqrt(2 + 4 * found.turningPoints), doubt);
  const turn = 2 * Math.PI;
  const bins = course.bins();
  const { spectrum, vibration, perValue } = found;
  const harmonics = vibration === null
    ? []
    : vibration.amplitudes.map((amplitude, k) => {
      const gain = meanGain((k + 1) * vibration.frequency, perValue);
      return length(
        amplitude / gain,
        // What the first samples leave open of the form comes back with every
        // fringe, and in every stretch.
        Math.hypot(vibration.standardUncertainties[k]!, found.formUncertainty) /
          gain,
      );
    });
  const perSecond = samplingRate / perValue;
  return createResult<LongMotion>({
    kind: "motion.long-motion",
    netDisplacement: length(sign * sums.last, ends),
    peakToPeak: length(
      sums.highest - sums.lowest,
      Math.hypot(sums.highestUncertainty, sums.lowestUncertainty, doubt),
    ),
    path: length(counter.path, way),
    fringeCount: quantity(counter.path / turn, way / turn, "1"),
    netFringeCount: quantity(
      sign * sums.last / turn,
      feedback.directionDetermined ? ends / turn : NaN,
      "1",
    ),
    amplitude: harmonics[0] ?? null,
    frequency: vibration === null ? null : quantity(
      vibration.frequency * perSecond,
      vibration.frequencyStandardUncertainty * perSecond,
      "Hz",
    ),
    harmonics,
    turningPoints: found.turningPoints,
    rmsUncertainty: rms * perRadian,
    directionDetermined: feedback.directionDetermined,
    feedbackParameter: feedback.feedbackParameter,
    linewidthEnhancementFactor: feedback.linewidthEnhancementFactor,
    regime: feedback.regime,
    polarity: sign,
    samplingRate,
    sampleCount: sums.count,
    duration: sums.count / samplingRate,
    warnings: [
      ...source.warnings.filter(({ severity }) => severity === "doubtful"),
      ...doubts(found, polarity === "auto"),
    ],
    provenance: provenance({
      method: "measureMotionStream",
      captures: [origin],
      options: {
        wavelength,
        wavelengthStandardUncertainty,
        refractiveIndex,
        polarity,
        trainingSamples,
        segmentLength,
      },
      inputs: inputsOf(motionStreamSpec, options, read, [
        "wavelength",
        "refractiveIndex",
      ]),
      sources: [
        "Lang, Kobayashi 1980, IEEE J. Quantum Electron. 16, 347",
        "Bes, Plantier, Bosch 2006, IEEE Trans. Instrum. Meas. 55, 1101 (from memory)",
      ],
    }),
    diagnostics: {
      time: Float64Array.from(
        bins.mean,
        (_, k) => (k + 0.5) * course.perBin / samplingRate,
      ),
      mean: bins.mean.map((value) => value * scale),
      lowest: (sign > 0 ? bins.lowest : bins.highest).map((y) => y * scale),
      highest: (sign > 0 ? bins.highest : bins.lowest).map((y) => y * scale),
      spectrumFrequency: spectrum?.frequency ?? new Float64Array(0),
      spectrumDensity: spectrum === null
        ? new Float64Array(0)
        : spectrum.density.map((density, k) =>
          perRadian * Math.sqrt(density) /
          meanGain(spectrum.frequency[k]! / perSecond, perValue)
        ),
      stretches: vibration?.stretches ?? 0,
      doubtfulPlaces: sums.doubts,
      seams: sums.seams,
      relativeNoise: found.relativeNoise,
      bandwidth: samplingRate / found.spacing / 2,
    },
  });
}

function doubts(found: MotionStreamFound, assumes: boolean): Warning[] {
  const warnings: Warning[] = [];
  const { feedback, sums } = found;
  if (!feedback.directionDetermined) {
    warnings.push(warn(
      "direction-not-determined",
      `The fringes are too symmetric to tell the way of the target (C sin ψ is ${
        feedback.directionSignificance.toPrecision(2)
      } times its standard uncertainty): the sign of the motion may be wrong. Raise the feedback`,
    ));
  }
  if (assumes && !(Math.abs(feedback.polaritySignificance) > 4)) {
    warnings.push(warn(
      "polarity-assumed",
      "The amplifier is taken as not inverting, as the form of the fringes does not tell: give 'polarity' if it inverts",
      "note",
    ));
  }
  if (sums.doubts + sums.seams > 0) {
    warnings.push(warn(
      "misfit",
      `At ${sums.doubts} places the signal does not follow the phase that was found, and ${sums.seams} blocks do not follow on from the one before: turning points or fringes may be misread there, and the uncertainty is widened by a half fringe for each. Where the recorder couples with AC, couple with DC`,
    ));
  }
  if (found.fastest < 5) {
    warnings.push(warn(
      "undersampled",
      `The fastest fringes have only ${
        (2 * found.fastest).toFixed(1)
      } samples each: raise the sampling rate to 20 per fringe`,
    ));
  }
  if (found.isForeign) {
    warnings.push(warn(
      "model-misfit",
      `The excess-phase equation does not describe these fringes: the fit has knots ${
        (found.spacing / found.fastest / 2).toFixed(1)
      } fringes apart and leaves ${
        found.excess.toFixed(1)
      } times the noise. What lies within a fringe, the sense of motion, C and α are not to be trusted, and places that do not fit were not read anew: look for a second reflection or an amplifier that bends the signal`,
    ));
  } else if (found.excess > 1.25 && found.relativeNoise > 0.01) {
    warnings.push(warn(
      "model-misfit",
      `The fit leaves ${
        found.excess.toFixed(1)
      } times the noise: the excess-phase model does not describe all of this signal`,
    ));
  }
  return warnings;
}
