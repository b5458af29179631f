import { fitLine, type LineFit, predictLine } from "../fit/mod.ts";
import {
  benchOptions,
  inputsOf,
  type Option,
  optional,
  optionOf,
  readOptions,
  requireFields,
  requireRecords,
  requireResult,
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
import { dopplerSensitivity } from "./doppler.ts";

/** One known speed and the Doppler frequency that was seen. */
export interface SpeedCalibrationPoint {
  /** Known speed of the surface, in m/s. */
  speed: number;
  /**
   * Its own standard uncertainty (steadiness of the turntable), in m/s.
   *
   * @default {0}
   */
  speedStandardUncertainty?: number;
  /** Doppler frequency, in Hz. */
  frequency: number;
  /** Its standard uncertainty, in Hz. */
  frequencyStandardUncertainty: number;
}

/** Options of {@linkcode calibrateSpeed}. */
export interface CalibrateSpeedOptions {
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
   * Relative standard uncertainty that all known speeds share, such as that of
   * the radius (1).
   *
   * @default {0}
   */
  speedScaleRelativeStandardUncertainty?: number | string;
}

export const calibrateSpec = {
  wavelength: benchOptions.wavelength,
  wavelengthStandardUncertainty: benchOptions.wavelengthStandardUncertainty,
  refractiveIndex: benchOptions.refractiveIndex,
  speedScaleRelativeStandardUncertainty: optional(
    optionOf.relative(
      "Relative standard uncertainty that all known speeds share (1).",
    ),
    0,
  ),
} satisfies Record<keyof CalibrateSpeedOptions, Option>;

/** Frequency against known speed: a straight line and the angle it means. */
export interface SpeedCalibration extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "speed.calibration";
  /** Frequency per speed, in 1/m (that is Hz per m/s), all parts included. */
  readonly sensitivity: Quantity;
  /** Frequency at speed zero, in Hz: 0 within its uncertainty if all is well. */
  readonly offset: Quantity;
  /**
   * Angle between beam and velocity that the slope means, in rad:
   * cos θ = slope λ / (2 n).
   */
  readonly angle: Quantity;
  /** cos θ (1). */
  readonly cosine: Quantity;
  /** Covariance of offset and sensitivity, in Hz/m, from the line alone. */
  readonly covariance: number;
  /** Relative standard uncertainty common to all known speeds (1). */
  readonly speedScaleRelativeStandardUncertainty: number;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** The fitted line: x in m/s, y in Hz. */
    readonly line: LineFit;
  };
}

/**
 * Calibrates a Doppler bench against known speeds, such as a turntable's:
 * straight line f = offset + sensitivity × v with uncertainties in both axes,
 * with the angle as what the slope means. Speeds measured with the calibration
 * need neither wavelength nor angle: both cancel.
 *
 * @param points At least three known speeds with their frequencies.
 * @param options Wavelength in m, index, shared uncertainty of the speeds.
 * @returns Sensitivity, offset, angle.
 * @throws {RangeError} If there are fewer than three points, all speeds are
 * equal, or a number is out of range.
 *
 * @example
 * ```ts
 * import { calibrateSpeed } from "fringebook";
 * import { expect } from "vitest";
 *
 * const points = [0.01, 0.02, 0.03].map((speed) => ({
 *   speed,
 *   frequency: 2 * 1.00027 * speed * Math.cos(1.2) / 650e-9,
 *   frequencyStandardUncertainty: 5,
 * }));
 * const { angle } = calibrateSpeed(points, { wavelength: 650e-9 });
 * expect(angle.value).toBeCloseTo(1.2, 6);
 * ```
 */
export function calibrateSpeed(
  points: readonly SpeedCalibrationPoint[],
  options: CalibrateSpeedOptions,
): SpeedCalibration & Shown {
  const task = "calibrate a speed";
  requireRecords(points, "points", [
    "speed",
    "frequency",
    "frequencyStandardUncertainty",
  ], task);
  const read = readOptions(calibrateSpec, options, task);
  const {
    wavelength,
    wavelengthStandardUncertainty,
    refractiveIndex,
    speedScaleRelativeStandardUncertainty,
  } = read;
  if (points.length < 3) {
    throw new RangeError(
      `Cannot ${task} from ${points.length} points: take at least three known speeds`,
    );
  }
  const full = dopplerSensitivity({ wavelength, angle: 0, refractiveIndex });
  const line = fitLine(
    points.map(({ speed }) => speed),
    points.map(({ frequency }) => frequency),
    {
      standardUncertaintiesX: points.map((point) =>
        point.speedStandardUncertainty ?? 0
      ),
      standardUncertaintiesY: points.map((point) =>
        point.frequencyStandardUncertainty
      ),
      unitX: "m/s",
      unitY: "Hz",
    },
  );
  const slope = line.slope.value;
  const scale = speedScaleRelativeStandardUncertainty;
  const slopeUncertainty = Math.hypot(
    line.slope.standardUncertainty,
    slope * scale,
  );
  const cosine = slope / full;
  const cosineUncertainty = Math.hypot(
    slopeUncertainty / full,
    cosine * wavelengthStandardUncertainty / wavelength,
  );
  const warnings = calibrationWarnings(line, cosine, cosineUncertainty);
  const angle = Math.acos(Math.max(-1, Math.min(1, cosine)));
  const sine = Math.sin(angle);
  return createResult<SpeedCalibration>({
    kind: "speed.calibration",
    sensitivity: quantity(slope, slopeUncertainty, "1/m"),
    offset: quantity(
      line.intercept.value,
      line.intercept.standardUncertainty,
      "Hz",
    ),
    angle: quantity(
      angle,
      // Near 0 the cosine hardly changes: u(cos θ) = θ u(θ) or u(θ)²/2.
      sine > Math.sqrt(cosineUncertainty)
        ? cosineUncertainty / sine
        : Math.sqrt(2 * cosineUncertainty),
      "rad",
    ),
    cosine: quantity(cosine, cosineUncertainty, "1"),
    covariance: line.covariance[0]![1]!,
    speedScaleRelativeStandardUncertainty: scale,
    warnings,
    provenance: provenance({
      method: "calibrateSpeed",
      options: { points: points.map((point) => ({ ...point })), ...read },
      inputs: inputsOf(calibrateSpec, options, read, [
        "wavelength",
        "refractiveIndex",
      ]),
      sources: [
        "Shinohara et al. 1986, Appl. Opt. 25, 1417",
        "York et al. 2004, Am. J. Phys. 72, 367",
      ],
    }),
    diagnostics: { line },
  });
}

/**
 * Speed from a Doppler frequency by a calibration, v = (f − offset) /
 * sensitivity, with the line's covariance and the shared uncertainty of the
 * known speeds.
 *
 * @param calibration From {@linkcode calibrateSpeed}.
 * @param frequency Doppler frequency with its uncertainty, in Hz.
 * @returns Speed in m/s.
 *
 * @example
 * ```ts
 * import { calibrateSpeed, quantity, speedFromCalibration } from "fringebook";
 * import { expect } from "vitest";
 *
 * const points = [0.01, 0.02, 0.03].map((speed) => ({
 *   speed,
 *   frequency: 1e6 * speed,
 *   frequencyStandardUncertainty: 5,
 * }));
 * const calibration = calibrateSpeed(points, { wavelength: 650e-9 });
 * const speed = speedFromCalibration(calibration, quantity(15_000, 5, "Hz"));
 * expect(speed.value).toBeCloseTo(0.015, 9);
 * ```
 */
export function speedFromCalibration(
  calibration: SpeedCalibration,
  frequency: Pick<Quantity, "value" | "standardUncertainty">,
): Quantity {
  const task = "give a calibrated speed";
  requireResult(
    calibration,
    "speed.calibration",
    "a speed calibration",
    "calibrateSpeed(points, …)",
    task,
  );
  requireFields(frequency, "frequency", ["value", "standardUncertainty"], task);
  const { line } = calibration.diagnostics;
  const slope = line.slope.value;
  const speed = (frequency.value - line.intercept.value) / slope;
  const ofLine = predictLine(line, speed).standardUncertainty / slope;
  return quantity(
    speed,
    Math.hypot(
      ofLine,
      frequency.standardUncertainty / slope,
      speed * calibration.speedScaleRelativeStandardUncertainty,
    ),
    "m/s",
  );
}

function calibrationWarnings(
  line: LineFit,
  cosine: number,
  cosineUncertainty: number,
): Warning[] {
  const warnings: Warning[] = [];
  if (Math.abs(cosine) > 1 + 2 * cosineUncertainty) {
    warnings.push(warn(
      "angle-impossible",
      `The slope means cos θ = ${
        cosine.toPrecision(5)
      }, beyond 1: check the wavelength and the known speeds`,
    ));
  }
  if (line.chiSquareProbability < 0.01) {
    warnings.push(warn(
      "not-straight",
      `The points scatter more about the line than their uncertainties allow (probability ${
        line.chiSquareProbability.toPrecision(2)
      }): check for a speed that was not steady`,
    ));
  }
  const { value, standardUncertainty } = line.intercept;
  if (Math.abs(value) > 3 * standardUncertainty) {
    warnings.push(warn(
      "offset",
      `The line misses zero by ${
        (Math.abs(value) / standardUncertainty).toFixed(1)
      } standard uncertainties: check the known speeds`,
    ));
  }
  return warnings;
}
