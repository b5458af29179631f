import { type Capture, type ChannelRole, findChannel } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import {
  choiceOption,
  isCaptureLike,
  type Option,
  optional,
  optionOf,
  quantityOption,
  requireCapture,
} from "../options/mod.ts";
import { checkpoint } from "../progress/mod.ts";
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
import { realFourierTransform, windowValues } from "../signal/mod.ts";
import { type OfCapture, readDisplacement } from "./displacement_argument.ts";
import type { Displacement } from "./measure_displacement.ts";
import type { MotionOptions } from "./motion_options.ts";

/**
 * Options of {@linkcode measureResponse}; those of `measureDisplacement` with a
 * capture only.
 */
export interface ResponseOptions extends OfCapture {
  /**
   * Role of the channel that drives the target.
   *
   * @default {"drive voltage"}
   */
  driveRole?: ChannelRole;
  /**
   * Samples per segment; a power of two is fastest.
   *
   * @default {the power of two not above a quarter of the record}
   */
  segmentLength?: number;
  /**
   * Frequencies where the drive has less than this part of its largest density
   * (a square: 1e-4 is a hundredth of the amplitude) are left out: no gain is
   * claimed there (1).
   *
   * @default {1e-4}
   */
  leastDrive?: number;
}

export const responseSpec = {
  driveRole: optional(
    choiceOption("Role of the channel that drives the target.", [
      "drive voltage",
      "drive current",
      "monitor signal",
      "other",
    ]),
    "drive voltage",
  ),
  segmentLength: optional(
    optionOf.whole("Samples per segment; a power of two is fastest.", {
      least: 16,
    }),
    undefined,
    "the power of two not above a quarter of the record",
  ),
  leastDrive: optional(
    quantityOption({
      doc: "Frequencies where the drive has less than this part of its " +
        "largest density are left out (1).",
      unit: "1",
      above: 0,
      most: 1,
      example: "1e-4",
    }),
    1e-4,
  ),
} satisfies Record<Exclude<keyof ResponseOptions, keyof OfCapture>, Option>;

/** Response of the target to its drive. */
export interface Response extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "motion.response";
  /** Frequencies that the drive reaches, in Hz. */
  readonly frequency: Float64Array;
  /** Displacement per drive, in m per unit of the drive. */
  readonly gain: Float64Array;
  /** Standard uncertainty of `gain`, in the same unit. */
  readonly gainUncertainty: Float64Array;
  /** Phase of the displacement against the drive, in rad. */
  readonly phase: Float64Array;
  /** Standard uncertainty of `phase`, in rad. */
  readonly phaseUncertainty: Float64Array;
  /** Coherence γ² (1). */
  readonly coherence: Float64Array;
  /** Largest gain, in m per unit of the drive. */
  readonly peakGain: Quantity;
  /** Frequency of the largest gain, in Hz. */
  readonly peakFrequency: Quantity;
  /** SI unit of the drive. */
  readonly driveUnit: string;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Segments averaged (1). */
    readonly segments: number;
    /** Distance of the bins, in Hz. */
    readonly binWidth: number;
  };
}

/**
 * Measures the response of the target to a stepped, swept or random drive:
 * H = S_dx / S_dd from averaged Hann segments with half overlap, with the
 * coherence γ² = |S_dx|² / (S_dd S_xx). Standard uncertainties:
 * u(|H|)/|H| = u(arg H) = sqrt((1 - γ²) / (2 γ² n)).
 *
 * @param capture A capture with a drive channel.
 * @param options Wavelength in m, drive channel, segments.
 * @returns Gain, phase and coherence over frequency.
 * @throws {NotMeasurableError} If there is no drive channel or it is constant.
 * @throws {RangeError} If an option is out of range.
 *
 * Source: Bendat, Piersol, Random Data (H1 estimate and its random error), from
 * memory.
 *
 * @example
 * ```ts
 * import { createCapture, measureResponse, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const drive = (time: number) => Math.sin(2 * Math.PI * 128 * time);
 * const made = simulateCapture({
 *   distance: (time) => 0.1 + 1e-6 * drive(time),
 *   samplingRate: 65536,
 *   duration: 0.25,
 *   drive: null,
 * });
 * const samples = Float64Array.from(
 *   { length: made.sampleCount },
 *   (_, i) => drive(i / 65536),
 * );
 * const capture = createCapture([
 *   ...made.channels,
 *   { name: "piezo", role: "drive voltage", unit: "V", samples },
 * ], { samplingRate: 65536 });
 * const { peakGain } = measureResponse(capture, { wavelength: 650e-9 });
 * expect(Math.abs(peakGain.value - 1e-6)).toBeLessThan(1e-8);
 * ```
 */
export function measureResponse(
  capture: Capture,
  options: ResponseOptions & MotionOptions,
): Response & Shown;
/**
 * The response from a displacement that was measured before.
 *
 * @param displacement Result of `measureDisplacement`.
 * @param capture The capture it comes from, with a drive channel.
 * @param options Drive channel, segments.
 * @returns Gain, phase and coherence over frequency.
 */
export function measureResponse(
  displacement: Displacement,
  capture: Capture,
  options?: ResponseOptions,
): Response & Shown;
export function measureResponse(
  measured: Displacement | Capture,
  ...others: [unknown?, unknown?]
): Response & Shown {
  const task = "measure a response";
  const alone = isCaptureLike(measured) && !isCaptureLike(others[0]);
  const given = alone ? others[0] : others[1];
  const { displacement, options } = readDisplacement(
    measured,
    given,
    responseSpec,
    task,
  );
  if (!alone) requireCapture(others[0], task);
  const capture = (alone ? measured : others[0]) as Capture;
  const n = displacement.displacement.length;
  const {
    driveRole,
    segmentLength = 2 ** Math.floor(Math.log2(Math.max(16, n / 4))),
    leastDrive,
  } = options;
  const channel = findChannel(capture, driveRole);
  if (channel === null) {
    throw new NotMeasurableError(
      "no drive",
      `Cannot measure a response as the capture has no ${driveRole} channel: record the drive beside the monitor signal`,
    );
  }
  if (channel.samples.length !== n || segmentLength > n) {
    throw new RangeError(
      `Cannot measure a response as the displacement (${n} samples), the drive (${channel.samples.length}) and the segment (${segmentLength}) do not fit`,
    );
  }
  const { samplingRate } = displacement;
  const window = windowValues("Hann", segmentLength);
  const bins = segmentLength / 2 + 1 | 0;
  const dd = new Float64Array(bins);
  const xx = new Float64Array(bins);
  const crossReal = new Float64Array(bins);
  const crossImaginary = new Float64Array(bins);
  // The memory of one segment is that of the next.
  const moved = new Float64Array(segmentLength);
  const driven = new Float64Array(segmentLength);
  let segments = 0;
  let skipped = 0;
  for (
    let first = 0;
    first + segmentLength <= n;
    first += segmentLength >> 1
  ) {
    const x = segmentOf(displacement.displacement, first, window, moved);
    const d = segmentOf(channel.samples, first, window, driven);
    if (x === null || d === null) {
      skipped++;
      continue;
    }
    const fx = realFourierTransform(x);
    checkpoint(NaN, task);
    const fd = realFourierTransform(d);
    segments++;
    checkpoint(NaN, task);
    for (let k = 0; k < bins; k++) {
      if ((k & stride) === stride) checkpoint(NaN, task);
      const a = fd.real[k]!, b = fd.imaginary[k]!;
      const c = fx.real[k]!, e = fx.imaginary[k]!;
      dd[k]! += a * a + b * b;
      xx[k]! += c * c + e * e;
      crossReal[k]! += a * c + b * e;
      crossImaginary[k]! += a * e - b * c;
    }
  }
  let largest = 0;
  checkpoint();
  for (let k = 1; k < bins; k++) largest = Math.max(largest, dd[k]!);
  if (!(largest > 0)) {
    throw new NotMeasurableError(
      "no drive",
      `Cannot measure a response as the ${driveRole} does not change${
        segments === 0 ? " in any segment without a gap" : ""
      }: drive the target while recording`,
    );
  }
  const kept: number[] = [];
  for (let k = 1; k < bins - 1; k++) {
    if ((k & stride) === stride) checkpoint(NaN, task);
    if (dd[k]! >= leastDrive * largest) kept.push(k);
  }
  const binWidth = samplingRate / segmentLength;
  // Half-overlapped Hann segments: eleven independent of eighteen (Welch 1967).
  const independent = Math.max(1, segments * 11 / 18);
  const of = (f: (k: number) => number) => {
    const values = new Float64Array(kept.length);
    for (let j = 0; j < kept.length; j++) {
      if ((j & stride) === stride) checkpoint(NaN, task);
      values[j] = f(kept[j]!);
    }
    return values;
  };
  const coherence = of((k) =>
    (crossReal[k]! ** 2 + crossImaginary[k]! ** 2) /
    Math.max(dd[k]! * xx[k]!, 1e-300)
  );
  const gain = of((k) =>
    Math.hypot(crossReal[k]!, crossImaginary[k]!) / dd[k]!
  );
  const relative = coherence.map((value) =>
    segments > 1
      ? Math.sqrt(Math.max(0, 1 - value) / (2 * value * independent))
      : NaN
  );
  checkpoint();
  let peak = 0;
  for (let j = 0; j < kept.length; j++) {
    if (coherence[j]! > 0.5 && gain[j]! > gain[peak]!) peak = j;
  }
  const warnings: Warning[] = [...displacement.warnings];
  if (segments < 2) {
    warnings.push(warn(
      "one-segment",
      "There is only one segment, so coherence and uncertainty are not determined: record longer or shorten 'segmentLength'",
    ));
  }
  if (skipped > 0) {
    warnings.push(warn(
      "gaps",
      `${skipped} segments with gaps were left out`,
      "note",
    ));
  }
  return createResult({
    kind: "motion.response" as const,
    frequency: of((k) => k * binWidth),
    gain,
    gainUncertainty: gain.map((value, j) => value * relative[j]!),
    phase: of((k) => Math.atan2(crossImaginary[k]!, crossReal[k]!)),
    phaseUncertainty: relative,
    coherence,
    peakGain: quantity(
      gain[peak]!,
      gain[peak]! * relative[peak]!,
      `m/${channel.unit}`,
    ),
    peakFrequency: quantity(
      kept[peak]! * binWidth,
      binWidth / Math.sqrt(12),
      "Hz",
    ),
    driveUnit: channel.unit,
    warnings,
    provenance: provenance({
      method: "measureResponse",
      captures: [capture.source],
      options: { driveRole, segmentLength, leastDrive },
      inputs: displacement.provenance.inputs,
      sources: ["Bendat, Piersol, Random Data", "Welch 1967"],
    }),
    diagnostics: { segments, binWidth },
  });
}

/** Mask of the values between two checkpoints. */
const stride = 0xffff;

function segmentOf(
  samples: ArrayLike<number>,
  first: number,
  window: Float64Array,
  segment: Float64Array,
): Float64Array | null {
  const n = window.length;
  let mean = 0;
  for (let i = 0; i < n; i++) {
    if ((i & stride) === stride) checkpoint();
    mean += samples[first + i]! / n;
  }
  if (!Number.isFinite(mean)) return null;
  for (let i = 0; i < n; i++) {
    if ((i & stride) === stride) checkpoint();
    segment[i] = window[i]! * (samples[first + i]! - mean);
  }
  return segment;
}
