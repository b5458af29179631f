import {
  type Capture,
  type CaptureStream,
  type CaptureStreamCheck,
  checkCaptureStream,
} from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import { measureMotionStream } from "../motion/mod.ts";
import {
  type Option,
  optional,
  optionOf,
  readOptions,
  requireStream,
  streamRunOptions,
} from "../options/mod.ts";
import { measureDistance, measureStepsStream } from "../range/mod.ts";
import type { Result, Shown } from "../result/mod.ts";
import { measureSpeedStream } from "../speed/mod.ts";
import {
  contradictionsOfLongMotion,
  contradictionsOfSpeed,
  contradictionsOfSteps,
} from "./contradictions.ts";
import {
  airOptions,
  angleOptions,
  driveOptions,
  lightOptions,
} from "./given_options.ts";
import {
  type MeasureCaptureOptions,
  measureCaptureSpec,
} from "./measure_capture.ts";
import {
  type MeasurementKind,
  recogniseMeasurement,
  type Recognition,
} from "./recognise_measurement.ts";
import { type Analysis, settled } from "./settled.ts";

/** Options of {@linkcode measureCaptureStream}. */
export interface MeasureCaptureStreamOptions extends MeasureCaptureOptions {
  /**
   * Samples at the start from which the kind of measurement is recognised.
   *
   * @default {1048576}
   */
  recognitionSamples?: number;
  /**
   * Stops the work when it is aborted.
   *
   * @default {none}
   */
  signal?: AbortSignal;
}

export const captureStreamSpec = {
  ...measureCaptureSpec,
  recognitionSamples: optional(
    optionOf.whole("Samples by which the measurement is recognised.", {
      least: 1,
    }),
    1 << 20,
  ),
  signal: streamRunOptions.signal,
} satisfies Record<keyof MeasureCaptureStreamOptions, Option>;

/** Everything that was found in a long capture. */
export interface CaptureStreamMeasurements {
  /** Quality of the capture, block by block. */
  readonly check: CaptureStreamCheck & Shown;
  /** What its start seems to be, and why. */
  readonly recognition: Recognition & Shown;
  /** The results, the main one first; empty where nothing can be measured. */
  readonly results: readonly (Result & Shown)[];
  /**
   * Results that the capture contradicts, as the recognition says: to look at, not
   * to quote.
   */
  readonly setAside: readonly (Result & Shown)[];
}

/**
 * Does for a capture of any length what `measureCapture` does for one in memory,
 * block by block: `checkCaptureStream`, then `measureMotionStream`,
 * `measureStepsStream` with `measureDistance`, or `measureSpeedStream`. What kind
 * of measurement it is follows from the first samples. The file is read once for
 * the check and once for the measurement. What was found is held against what was
 * seen in those samples, as by `measureCapture`.
 *
 * @param stream The opened capture.
 * @param options Wavelength in m, tuning where known.
 * @returns Check, recognition and results.
 * @throws {NotMeasurableError} If the capture does not hold what the measurement
 * needs.
 * @throws {RangeError} If this measurement cannot be made block by block.
 *
 * @example
 * ```ts
 * import {
 *   encodeCapture,
 *   measureCaptureStream,
 *   openCaptureStream,
 *   simulateCapture,
 * } from "fringebook";
 * import { expect } from "vitest";
 *
 * const bytes = encodeCapture(
 *   simulateCapture({
 *     distance: (time) => 0.1 + 2e-6 * Math.sin(2 * Math.PI * 20 * time),
 *     samplingRate: 50_000,
 *     duration: 0.5,
 *     drive: null,
 *   }),
 *   { format: "WAV" },
 * );
 * using stream = await openCaptureStream(bytes, {
 *   channels: { "0": "monitor signal" },
 * });
 * const { results } = await measureCaptureStream(stream, { wavelength: 650e-9 });
 * expect(results.map(({ kind }) => kind)).toEqual(["motion.long-motion"]);
 * ```
 */
export async function measureCaptureStream(
  stream: CaptureStream,
  options: MeasureCaptureStreamOptions,
): Promise<CaptureStreamMeasurements> {
  const task = "measure a capture";
  requireStream(stream, task);
  const { measurement, mainsFrequency, recognitionSamples, signal } =
    readOptions(captureStreamSpec, options, task);
  const running = signal === undefined ? {} : { signal };
  const start = await firstBlock(stream, recognitionSamples);
  const recognition = recogniseMeasurement(start, { mainsFrequency });
  const kind = measurement ?? recognition.measurement;
  requireStreamable(kind, options);
  const check = await checkCaptureStream(stream, running);
  const found = await analysed(stream, kind, options, running, recognition);
  return { check, ...settled(recognition, found, measurement !== null) };
}

async function firstBlock(
  stream: CaptureStream,
  blockLength: number,
): Promise<Capture> {
  for await (const { capture } of stream.blocks({ blockLength })) {
    return capture;
  }
  throw new NotMeasurableError(
    "no samples",
    "Cannot measure a capture as it has no sample: record again",
  );
}

function requireStreamable(
  kind: MeasurementKind,
  { couplingCorner = null }: MeasureCaptureStreamOptions,
): void {
  if (kind === "light-current curve") {
    throw new RangeError(
      "Cannot check a diode block by block: cut the capture to one sweep, or measure it in memory with checkDiode()",
    );
  }
  if (kind === "level") {
    throw new RangeError(
      "Cannot measure a level block by block: record it slower (500 samples per second will do), or cut the capture, and use measureLevel()",
    );
  }
  if (kind === "motion" && couplingCorner !== null) {
    throw new RangeError(
      "Cannot undo a coupling capacitor block by block: record coupled with DC, or cut the capture and measure it in memory",
    );
  }
}

async function analysed(
  stream: CaptureStream,
  kind: MeasurementKind,
  options: MeasureCaptureStreamOptions,
  running: { signal?: AbortSignal },
  { diagnostics: evidence }: Recognition,
): Promise<Analysis> {
  const light = lightOptions(options);
  switch (kind) {
    case "motion": {
      const motion = await measureMotionStream(stream, {
        ...light,
        ...running,
      });
      return {
        results: [motion],
        contradictions: contradictionsOfLongMotion(evidence, motion),
      };
    }
    case "speed": {
      const speed = await measureSpeedStream(stream, {
        ...light,
        ...running,
        ...angleOptions(options),
      });
      return {
        results: [speed],
        contradictions: contradictionsOfSpeed(evidence, speed),
      };
    }
    case "distance": {
      const { tuning = null, estimator = "model fit" } = options;
      const steps = await measureStepsStream(stream, {
        ...running,
        estimator,
        ...driveOptions(options),
      });
      return {
        results: tuning === null
          ? [steps]
          : [measureDistance(steps, { tuning, ...airOptions(options) }), steps],
        contradictions: contradictionsOfSteps(steps),
      };
    }
    default:
      return { results: [], contradictions: [] };
  }
}
