import type { Capture } from "../capture/mod.ts";
import type { Shown } from "../result/mod.ts";
import { type FringeCount, fringesOf } from "./count_fringes.ts";
import { type Displacement, displacementOf } from "./measure_displacement.ts";
import { readOptions, requireCapture } from "../options/mod.ts";
import { type MotionOptions, motionSpec } from "./motion_options.ts";
import { trackCapture } from "./tracked_capture.ts";

/** Fringes and displacement of one capture. */
export interface MotionMeasurement {
  /** As of `countFringes`. */
  readonly fringes: FringeCount & Shown;
  /** As of `measureDisplacement`. */
  readonly displacement: Displacement & Shown;
}

/**
 * Counts the fringes and measures the displacement in one go: what
 * `countFringes` and `measureDisplacement` give, in half their time.
 *
 * @param capture A capture with a monitor signal.
 * @param options Wavelength in m, polarity, conditioning.
 * @returns Both results.
 * @throws {NotMeasurableError} If there is no monitor signal or no fringe.
 * @throws {RangeError} If an option is out of range.
 *
 * @example
 * ```ts
 * import { measureMotion, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 1e-6 * Math.sin(300 * time),
 *   samplingRate: 100e3,
 *   duration: 0.05,
 *   feedbackParameter: 0.7,
 *   noise: { signalToNoiseRatio: 30 },
 *   drive: null,
 * });
 * const { fringes, displacement } = measureMotion(capture, {
 *   wavelength: 650e-9,
 * });
 * // Two microns to and fro are 2 × 2 µm / (650 nm / 2) fringes per period.
 * expect(fringes.path.value).toBeCloseTo(displacement.path.value, 9);
 * ```
 */
export function measureMotion(
  capture: Capture,
  options: MotionOptions,
): MotionMeasurement {
  requireCapture(capture, "measure a motion");
  const filled = readOptions(motionSpec, options, "measure a motion");
  const tracked = trackCapture(capture, filled, "measure a motion");
  // The displacement is written over the phase: it comes last.
  const fringes = fringesOf(capture, options, filled, tracked);
  return {
    fringes,
    displacement: displacementOf(capture, options, filled, tracked),
  };
}
