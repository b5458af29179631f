import { fitNonlinear, type NonlinearFit } from "../fit/mod.ts";
import { requireFields, requireRecords } from "../options/mod.ts";
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

/** Tuning at one modulation frequency, such as a tuning calibration. */
export interface RollOffPoint {
  /** Ramps per second, in Hz. */
  readonly modulationFrequency: number;
  /** dλ/dI, in m/A. */
  readonly tuning: Pick<Quantity, "value" | "standardUncertainty">;
}

/** How the tuning falls with the modulation frequency. */
export interface TuningRollOff extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "range.rollOff";
  /** Thermal part at low frequency, in m/A. */
  readonly thermalTuning: Quantity;
  /** Corner frequency of the thermal part, in Hz. */
  readonly cornerFrequency: Quantity;
  /** Carrier (plasma) part, in m/A; held at 0 with fewer than 4 points. */
  readonly carrierTuning: Quantity;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Modulation frequencies, in Hz. */
    readonly frequencies: readonly number[];
    /** Measured tuning, in m/A. */
    readonly tunings: readonly number[];
    /** Fitted tuning, in m/A. */
    readonly fitted: readonly number[];
    readonly fit: NonlinearFit;
  };
}

/**
 * Fits the size of the tuning against modulation frequency:
 * |β(f)| = |β_th / (1 + √(i f / f_c)) + β_pl|, the thermal part falling with the
 * root of the frequency and the carrier part, of opposite sign, staying.
 *
 * @param points Calibrations at 3 or more modulation frequencies.
 * @returns Thermal and carrier tuning and the corner frequency.
 * @throws {RangeError} If there are fewer than 3 frequencies, or a number is not
 * positive.
 *
 * Source: Hangauer et al., IEEE J. Sel. Top. Quantum Electron. 17, 1584 (2011)
 * for the root-of-frequency course; the closed form is common practice, no
 * source.
 *
 * @example
 * ```ts
 * import { fitTuningRollOff } from "fringebook";
 * import { expect } from "vitest";
 *
 * // √i = (1 + i)/√2; a corner at 1 kHz and no carrier part
 * const points = [10, 100, 1e3, 1e4, 1e5].map((f) => {
 *   const part = Math.sqrt(f / 1e3 / 2);
 *   const value = 8e-9 / Math.hypot(1 + part, part);
 *   return {
 *     modulationFrequency: f,
 *     tuning: { value, standardUncertainty: 1e-12 },
 *   };
 * });
 * expect(fitTuningRollOff(points).cornerFrequency.value).toBeCloseTo(1000, 0);
 * ```
 */
export function fitTuningRollOff(
  points: readonly RollOffPoint[],
): TuningRollOff & Shown {
  requireRecords(
    points,
    "points",
    ["modulationFrequency", "tuning"],
    "fit the roll-off of the tuning",
  );
  points.forEach(({ tuning }, index) =>
    requireFields(
      tuning,
      `points[${index}].tuning`,
      ["value", "standardUncertainty"],
      "fit the roll-off of the tuning",
    )
  );
  const frequencies = points.map((point) => point.modulationFrequency);
  const tunings = points.map(({ tuning }) => tuning.value);
  if (new Set(frequencies).size < 3) {
    throw new RangeError(
      `Cannot fit the roll-off of the tuning from ${
        new Set(frequencies).size
      } modulation frequencies: calibrate at 3 or more, decades apart`,
    );
  }
  for (
    const [name, values] of [
      ["modulationFrequency", frequencies],
      ["tuning", tunings],
    ] as const
  ) {
    const bad = values.find((value) => !(value > 0 && Number.isFinite(value)));
    if (bad !== undefined) {
      throw new RangeError(
        `Cannot fit the roll-off of the tuning as '${name}' must be positive: current value is ${bad}`,
      );
    }
  }
  const uncertainties = points.map(({ tuning }) => tuning.standardUncertainty);
  const known = uncertainties.every((u) => u > 0);
  const unit = Math.max(...tunings);
  const middle = Math.exp(
    frequencies.reduce((sum, f) => sum + Math.log(f), 0) / frequencies.length,
  );
  // In units of the largest tuning, and the logarithm of the corner.
  const model = (
    [thermal, logCorner, carrier]: readonly number[],
    f: ArrayLike<number>,
  ) =>
    Float64Array.from(f, (f) => {
      const part = Math.sqrt(f / Math.exp(logCorner!) / 2);
      const [real, imaginary] = [1 + part, part];
      const squared = real * real + imaginary * imaginary;
      return Math.hypot(
        thermal! * real / squared + carrier!,
        thermal! * imaginary / squared,
      );
    });
  const fixed = [false, false, new Set(frequencies).size < 4];
  let fit: NonlinearFit | null = null;
  for (const corner of [0.01, 1, 100]) {
    const next = fitNonlinear(
      model,
      frequencies,
      tunings.map((value) => value / unit),
      [1, Math.log(middle * corner), 0],
      {
        names: ["thermal tuning", "log corner", "carrier tuning"],
        standardUncertainties: known
          ? uncertainties.map((u) => u / unit)
          : null,
        lower: [0, Math.log(middle) - 20, -1],
        upper: [10, Math.log(middle) + 20, 0.5],
        fixed,
      },
    );
    if (fit === null || next.chiSquare < fit.chiSquare) fit = next;
  }
  const [thermal, logCorner, carrier] = fit!.parameters as [
    NonlinearFit["parameters"][number],
    NonlinearFit["parameters"][number],
    NonlinearFit["parameters"][number],
  ];
  const warnings: Warning[] = [...fit!.warnings];
  if (known && fit!.chiSquare > 9 * Math.max(1, fit!.degreesOfFreedom)) {
    warnings.push(warn(
      "model-does-not-fit",
      "The tuning does not follow the root of the frequency: use the calibration at the frequency you measure at",
    ));
  }
  const nu = { degreesOfFreedom: thermal.degreesOfFreedom };
  const corner = Math.exp(logCorner.value);
  return createResult({
    kind: "range.rollOff" as const,
    thermalTuning: quantity(
      thermal.value * unit,
      thermal.standardUncertainty * unit,
      "m/A",
      nu,
    ),
    cornerFrequency: quantity(
      corner,
      corner * logCorner.standardUncertainty,
      "Hz",
      nu,
    ),
    carrierTuning: quantity(
      carrier.value * unit,
      fixed[2] ? 0 : carrier.standardUncertainty * unit,
      "m/A",
      nu,
    ),
    warnings,
    provenance: provenance({
      method: "fitTuningRollOff",
      sources: ["Hangauer et al. 2011"],
    }),
    diagnostics: {
      frequencies,
      tunings,
      fitted: fit!.diagnostics.fitted.map((value) => value * unit),
      fit: fit!,
    },
  });
}
