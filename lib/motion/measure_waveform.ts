import { type Capture, type Channel, findChannel } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import {
  handedOption,
  isCaptureLike,
  type Option,
  optional,
  optionOf,
  quantityOption,
} from "../options/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
} from "../result/mod.ts";
import { type OfCapture, readDisplacement } from "./displacement_argument.ts";
import { responseAtHarmonics } from "./harmonic_response.ts";
import type { Displacement } from "./measure_displacement.ts";
import { fundamentalOf } from "./harmonic_search.ts";
import { alignedPeriods } from "./waveform_alignment.ts";
import type { WaveformAverage } from "./waveform_average.ts";
import {
  featuresOf,
  type Period,
  staysAtLevels,
  type WaveformFeatures,
} from "./waveform_features.ts";
import { harmonicsOfPeriod, jackknife } from "./waveform_harmonics.ts";
import { fewPeriods, waveformWarnings } from "./waveform_warnings.ts";

/**
 * Options of {@linkcode measureWaveform}; those of `measureDisplacement` with a
 * capture only.
 */
export interface WaveformOptions extends OfCapture {
  /**
   * Frequency to start from, in Hz; `null` looks for the strongest line.
   *
   * @default {null}
   */
  frequency?: number | string | null;
  /**
   * Harmonics reported, the fundamental included (1).
   *
   * @default {20}
   */
  harmonics?: number;
  /**
   * Part of the step at which rise and fall are timed (1): 0.1 times them from
   * 10 % to 90 %.
   *
   * @default {0.1}
   */
  transitionLevel?: number | string;
  /**
   * Channel that drives the target, for the response at its harmonics; `null`
   * takes the drive channel of the capture, where there is one.
   *
   * @default {null}
   */
  drive?: Channel | null;
}

export const waveformSpec = {
  frequency: optional(
    optionOf.frequency("Frequency to start from, in Hz."),
    null,
    "the strongest line",
  ),
  harmonics: optional(
    optionOf.whole("Harmonics reported, the fundamental included (1).", {
      least: 1,
      most: 200,
    }),
    20,
  ),
  transitionLevel: optional(
    quantityOption({
      doc: "Part of the step at which rise and fall are timed (1).",
      unit: "1",
      above: 0,
      most: 0.45,
      example: "10%",
    }),
    0.1,
  ),
  drive: optional(
    handedOption<Channel>(
      "Channel that drives the target, for the response at its harmonics.",
      'findChannel(capture, "drive voltage")',
      (value) =>
        typeof value === "object" && value !== null && "samples" in value,
    ),
    null,
    "the drive channel of the capture, where there is one",
  ),
} satisfies Record<Exclude<keyof WaveformOptions, keyof OfCapture>, Option>;

/** One harmonic of a periodic motion, A cos(2π h f t + φ). */
export interface WaveformHarmonic {
  /** Order h (1). */
  readonly order: number;
  /** Amplitude A (peak), in m. */
  readonly amplitude: Quantity;
  /** Phase φ at the first sample, in rad. */
  readonly phase: Quantity;
  /**
   * Displacement over drive at this harmonic, in m per unit of the drive; `null`
   * where there is no drive, or it has nothing of this harmonic.
   */
  readonly gain: Quantity | null;
  /** Phase of the displacement against the drive, in rad; `null` likewise. */
  readonly phaseToDrive: Quantity | null;
}

/** Ringing after the steps of a drive. */
export interface Ringing {
  /** Natural frequency without damping, in Hz. */
  readonly naturalFrequency: Quantity;
  /** Damping ratio ζ (1). */
  readonly dampingRatio: Quantity;
  /** Quality factor 1/(2ζ) (1). */
  readonly qualityFactor: Quantity;
}

/** A periodic motion of any waveform. */
export interface Waveform extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "motion.waveform";
  /** Frequency of the periods, in Hz. */
  readonly frequency: Quantity;
  /** Largest minus smallest displacement of the mean period, in m. */
  readonly peakToPeak: Quantity;
  /** Root mean square of the mean period about its mean, in m. */
  readonly rms: Quantity;
  /** Part of the motion's square that comes back with the period (1). */
  readonly periodicity: number;
  /** Whether it stays at a low and a high level, as under a square drive. */
  readonly staysAtLevels: boolean;
  /** Height of the step between the levels, or between the peaks, in m. */
  readonly step: Quantity;
  /** Time from the lower to the upper reference level, in s. */
  readonly riseTime: Quantity;
  /** Time from the upper to the lower reference level, in s. */
  readonly fallTime: Quantity;
  /** Mean speed between the reference levels while rising, in m/s. */
  readonly risingSlope: Quantity;
  /** The same while falling, in m/s; negative. */
  readonly fallingSlope: Quantity;
  /** Part of the period above the middle of the step (1). */
  readonly dutyCycle: Quantity;
  /**
   * How far it runs beyond the high level after a rise, over the step (1); `null`
   * where it stays at no level.
   */
  readonly overshoot: Quantity | null;
  /** How far it runs below the low level after a fall, over the step (1). */
  readonly undershoot: Quantity | null;
  /** Ringing after the steps; `null` where there is none. */
  readonly ringing: Ringing | null;
  /** The harmonics, fundamental first. */
  readonly harmonics: readonly WaveformHarmonic[];
  /** Root of the squares of harmonics 2, 3, … over the fundamental (1). */
  readonly totalHarmonicDistortion: Quantity;
  /** Time within the period, from the first sample on, in s. */
  readonly time: Float64Array;
  /** Mean displacement there, about the mean of the period, in m. */
  readonly displacement: Float64Array;
  /** Its standard uncertainty, in m. */
  readonly standardUncertainty: Float64Array;
  /** SI unit of the drive; `null` where there is none. */
  readonly driveUnit: string | null;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Whole periods of the record (1). */
    readonly periods: number;
    /** Periods left out (1). */
    readonly periodsLeftOut: number;
    /** Time of the middle of each whole period, in s. */
    readonly driftTime: Float64Array;
    /** Mean displacement of each whole period, in m. */
    readonly drift: Float64Array;
  };
}

/**
 * Measures a periodic motion of any waveform: the mean of its periods, free of a
 * slow drift, with its harmonics; rise and fall between reference levels, their
 * slopes, overshoot and ringing of a square drive; and the response at the
 * harmonics of the drive.
 *
 * The means of the whole periods are the drift, with parabolas through them.
 * Uncertainties come from groups of periods by the jackknife, so whatever
 * changes from period to period is in them; those of lengths hold the wavelength
 * and the form of the fringe too.
 *
 * @param measured Result of `measureDisplacement`, or a capture with the options
 * of that function.
 * @param options Frequency to start from, number of harmonics, reference levels,
 * drive channel.
 * @returns The mean period in m with its uncertainty, and what is read from it.
 * @throws {NotMeasurableError} If the record holds less than two periods.
 * @throws {RangeError} If an option is out of range.
 *
 * Source: IEEE Std 181-2011 (levels, transitions, overshoot), from memory;
 * Efron 1982 (jackknife), from memory.
 *
 * @example A motion that rises faster than it falls
 * ```ts
 * import { measureWaveform, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) =>
 *     0.1 + 0.8e-6 * Math.sin(2 * Math.PI * 100 * time) +
 *     0.3e-6 * Math.sin(2 * Math.PI * 200 * time),
 *   samplingRate: 60e3,
 *   duration: 0.1,
 *   noise: { signalToNoiseRatio: 30 },
 *   drive: null,
 * });
 * const { harmonics, riseTime, fallTime } = measureWaveform(capture, {
 *   wavelength: 650e-9,
 * });
 * expect(Math.abs(harmonics[1]!.amplitude.value - 0.3e-6)).toBeLessThan(2e-9);
 * expect(riseTime.value).toBeLessThan(fallTime.value);
 * ```
 */
export function measureWaveform(
  measured: Displacement | Capture,
  options: WaveformOptions = {},
): Waveform & Shown {
  const task = "measure a waveform";
  const { displacement, options: read } = readDisplacement(
    measured,
    options,
    waveformSpec,
    task,
  );
  const { transitionLevel } = read;
  const n = displacement.displacement.length;
  const { samplingRate } = displacement;
  const start = fundamentalOf(
    displacement.displacement,
    samplingRate,
    read.frequency,
  );
  if (!(start * (n - 1) >= 2 * samplingRate)) {
    throw new NotMeasurableError(
      "few periods",
      `Cannot ${task} as the record holds only ${
        (start * n / samplingRate).toFixed(2)
      } periods of ${start.toPrecision(3)} Hz: record at least two, better ten`,
    );
  }
  const { average, frequency } = alignedPeriods(displacement, start);
  if (average.groups.length === 0) {
    throw new NotMeasurableError(
      "gaps",
      `Cannot ${task} as no period of ${
        frequency.value.toPrecision(3)
      } Hz is without a gap: record while the light is steady`,
    );
  }
  const duration = 1 / frequency.value;
  const { metresPerRadian, fringeForm, wavelength } = displacement.diagnostics;
  const relative = displacement.diagnostics.wavelengthStandardUncertainty /
    wavelength;
  const form = metresPerRadian * fringeForm.uncertainty;
  const rests = staysAtLevels({ values: average.mean, duration });
  const most = Math.min(
    read.harmonics,
    Math.floor(average.mean.length / 4),
  );
  const features = jackknife(average, (values) => {
    const period: Period = { values, duration };
    return { ...featuresOf(period, transitionLevel, rests) };
  });
  const length = (
    name: keyof WaveformFeatures,
    unit = "m",
    times = 1,
    common = 0,
  ) => {
    const { value, uncertainty } = features[name]!;
    return quantity(
      value,
      Math.hypot(uncertainty, value * relative, times * form, common),
      unit,
    );
  };
  const plain = (name: keyof WaveformFeatures, unit: string, common = 0) => {
    const { value, uncertainty } = features[name]!;
    return quantity(value, Math.hypot(uncertainty, common), unit);
  };
  // What the fit leaves at a place of a fringe, and what its knots round off, comes
  // back with each period, so that the scatter does not show it.
  const atTwoPlaces = Math.SQRT2 * displacement.rmsUncertainty;
  const edgeTime = (
    time: "riseTime" | "fallTime",
    name: "risingSlope" | "fallingSlope",
  ) => plain(time, "s", atTwoPlaces / Math.abs(features[name]!.value));
  const slope = (
    name: "risingSlope" | "fallingSlope",
    time: "riseTime" | "fallTime",
  ) => {
    const over = features[time]!.value;
    return length(
      name,
      "m/s",
      2 / Math.max(over, 1e-300),
      atTwoPlaces / over,
    );
  };
  const height = (name: "peakToPeak" | "step") =>
    length(name, "m", 2, atTwoPlaces);
  const step = features.step!.value;
  const part = (name: "overshoot" | "undershoot") => {
    const { value, uncertainty } = features[name]!;
    return Number.isNaN(value)
      ? null
      : quantity(value, Math.hypot(uncertainty, 2 * form / step), "1");
  };
  const drive = read.drive ??
    (isCaptureLike(measured) ? driveOf(measured as Capture) : null);
  const harmonics = harmonicsOfPeriod(average, most).map((own) => ({
    order: own.order,
    amplitude: quantity(
      own.amplitude.value,
      Math.hypot(
        own.amplitude.uncertainty,
        own.amplitude.value * relative,
        form,
      ),
      "m",
    ),
    phase: quantity(
      own.phase.value,
      Math.hypot(own.phase.uncertainty, form / own.amplitude.value),
      "rad",
    ),
  }));
  const responses = drive === null ? null : responseAtHarmonics(
    drive,
    harmonics,
    frequency.value / samplingRate,
    Math.floor(average.periods / frequency.value * samplingRate),
  );
  const distortion = distortionOf(harmonics.map(({ amplitude }) => amplitude));
  const places = average.mean.length;
  return createResult<Waveform>({
    kind: "motion.waveform",
    frequency,
    peakToPeak: height("peakToPeak"),
    rms: length("rms"),
    periodicity: average.periodicity,
    staysAtLevels: rests,
    step: height("step"),
    riseTime: edgeTime("riseTime", "risingSlope"),
    fallTime: edgeTime("fallTime", "fallingSlope"),
    risingSlope: slope("risingSlope", "riseTime"),
    fallingSlope: slope("fallingSlope", "fallTime"),
    dutyCycle: plain("dutyCycle", "1"),
    overshoot: part("overshoot"),
    undershoot: part("undershoot"),
    ringing: ringingOf(features),
    harmonics: harmonics.map((own, k) => ({
      ...own,
      gain: responses?.[k]?.gain ?? null,
      phaseToDrive: responses?.[k]?.phase ?? null,
    })),
    totalHarmonicDistortion: distortion,
    time: Float64Array.from(
      { length: places },
      (_, j) => j / places * duration,
    ),
    displacement: average.mean,
    standardUncertainty: uncertaintyOf(average, displacement, form),
    driveUnit: drive?.unit ?? null,
    warnings: waveformWarnings(displacement, average, features, rests),
    provenance: provenance({
      method: "measureWaveform",
      captures: displacement.provenance.captures,
      options: {
        frequency: read.frequency,
        harmonics: read.harmonics,
        transitionLevel,
        drive: drive?.name ?? null,
      },
      inputs: displacement.provenance.inputs,
      sources: [
        "IEEE Std 181-2011 (levels, transitions, overshoot), from memory",
      ],
    }),
    diagnostics: {
      periods: average.periods,
      periodsLeftOut: average.leftOut,
      driftTime: Float64Array.from(
        average.drift,
        (_, k) => (k + 0.5) * duration,
      ),
      drift: average.drift,
    },
  });
}

function driveOf(capture: Capture): Channel | null {
  return findChannel(capture, "drive voltage") ??
    findChannel(capture, "drive current");
}

type Features = ReturnType<typeof jackknife>;

function ringingOf(features: Features): Ringing | null {
  const frequency = features.ringingFrequency!;
  const damping = features.ringingDamping!;
  if (Number.isNaN(frequency.value)) return null;
  const { value: zeta, uncertainty } = damping;
  return {
    naturalFrequency: quantity(frequency.value, frequency.uncertainty, "Hz"),
    dampingRatio: quantity(zeta, uncertainty, "1"),
    qualityFactor: quantity(
      1 / (2 * zeta),
      uncertainty / (2 * zeta * zeta),
      "1",
    ),
  };
}

function distortionOf(amplitudes: readonly Quantity[]): Quantity {
  const [first, ...rest] = amplitudes;
  let squares = 0, variance = 0;
  for (const { value, standardUncertainty } of rest) {
    squares += value * value;
    variance += (value * standardUncertainty) ** 2;
  }
  const root = Math.sqrt(squares);
  const own = first!.value;
  return quantity(
    root / own,
    root > 0
      ? Math.hypot(
        Math.sqrt(variance) / root,
        root * first!.standardUncertainty / own,
      ) / own
      : first!.standardUncertainty / own,
    "1",
  );
}

/** Of the mean: from the scatter of the groups, else from that of the samples. */
function uncertaintyOf(
  { mean, groups, periodsInGroup }: WaveformAverage,
  { rmsUncertainty }: Displacement,
  form: number,
): Float64Array {
  const total = periodsInGroup.reduce((a, b) => a + b, 0);
  if (groups.length < fewPeriods) {
    return mean.map(() => Math.hypot(rmsUncertainty / Math.sqrt(total), form));
  }
  return mean.map((middle, j) => {
    let squares = 0;
    groups.forEach((group, g) =>
      squares += periodsInGroup[g]! * (group[j]! - middle) ** 2
    );
    return Math.hypot(
      Math.sqrt(squares / (groups.length - 1) / total),
      form,
    );
  });
}
